//! Depth of a pass, from the file alone: no cut takes more wood in height than the material allows, whatever
//! the plan says.
//!
//! A cut may lie at most one pass below the stock's top, or below the floor of an earlier cut along the same
//! line. What counts as the same line leaves room for the last, thin cut along a wall at full depth, which
//! takes its depth in height and next to nothing in width.

use std::collections::HashMap;

use kurbo::Point;

use super::measure::{flat, in_plane};
use super::{Check, FLOAT};
use crate::geom::measure::to_segment;
use crate::path::arc_sweep;
use crate::replay::gcode_read::ArcOf;
use crate::setup::ROUGH;

/// How far beside an earlier cut a deeper one may run, mm: the last wood that a datum's faces are cut from. They
/// meet at 90 degrees or more, so that their corner lies no farther from the rough one than a square's diagonal.
const ASIDE: f64 = std::f64::consts::SQRT_2 * ROUGH + 0.01;
/// Where a cut is not the same as an earlier one it is looked at every so often, mm.
const EVERY: f64 = 0.25;
/// Side of the squares that earlier cuts are looked up by, mm.
const SQUARE: f64 = 4.0;
/// Heights of passes are whole micrometres: the plan's greatest step may be longer by half of one at each end.
const WHOLE: f64 = 0.001;

/// What has been cut so far: the shapes of cuts in the plane, each with its lowest z.
#[derive(Default)]
pub(super) struct Floors {
    cuts: Vec<(Shape, f64)>,
    same: HashMap<[i64; 7], usize>,
    squares: HashMap<[i64; 2], Vec<usize>>,
}

#[derive(Clone, Copy)]
struct Shape {
    from: Point,
    to: Point,
    arc: Option<(Point, bool)>,
}

impl Check<'_> {
    /// Notes a cut and says so if it takes too much.
    pub(super) fn depth(&mut self, from: [f64; 3], to: [f64; 3], arc: Option<ArcOf>) {
        if self.laser() {
            return;
        }
        let most = self.limits.pass_depth;
        let room = most + WHOLE + 2.0 * self.rounding;
        // A cut at z is one pass below whatever lies no lower than this.
        let above = to[2] + room;
        let top = self.limits.stock[1][2];
        let shape = Shape {
            from: flat(from),
            to: flat(to),
            arc: arc.map(|a| (Point::new(a.centre[0], a.centre[1]), a.ccw)),
        };
        let level = in_plane(from, to) || arc.is_some();
        let deep = top > above
            && if level {
                !self.floors.along(&shape, above)
            } else {
                to[2] < from[2] && !self.floors.at(shape.to, above)
            };
        if deep {
            let what = format!(
                "a cut at z {:.3} takes more than {most:.3}, the depth of a pass",
                to[2]
            );
            self.say("pass-depth", what);
        }
        self.floors.note(shape, to[2]);
    }
}

impl Floors {
    /// Whether the wood beside a place has been cut down to `z` or lower.
    fn at(&self, p: Point, z: f64) -> bool {
        let near = |&index: &usize| {
            // Squares and shapes name cuts of this list alone, which only grows.
            let (shape, floor) = &self.cuts[index];
            *floor <= z && shape.distance(p) <= ASIDE
        };
        squares([p, p]).any(|s| self.squares.get(&s).is_some_and(|all| all.iter().any(near)))
    }

    /// Whether it has been along a whole cut.
    fn along(&self, shape: &Shape, z: f64) -> bool {
        let known = self.same.get(&shape.key());
        if known.is_some_and(|&k| self.cuts[k].1 <= z) {
            return true;
        }
        let parts = (shape.length() / EVERY).ceil().max(1.0) as u32;
        (0..=parts).all(|k| self.at(shape.point(f64::from(k) / f64::from(parts)), z))
    }

    fn note(&mut self, shape: Shape, z: f64) {
        let next = self.cuts.len();
        let index = *self.same.entry(shape.key()).or_insert(next);
        if let Some((_, floor)) = self.cuts.get_mut(index) {
            *floor = floor.min(z);
            return;
        }
        self.cuts.push((shape, z));
        // In steps of one square, so that a long cut is found where it runs and nowhere else.
        let parts = (shape.length() / SQUARE).ceil().max(1.0) as u32;
        for k in 0..parts {
            let ends = [k, k + 1].map(|k| shape.point(f64::from(k) / f64::from(parts)));
            let bulge = shape.arc.map_or(0.0, |_| 0.5 * SQUARE);
            for square in squares(grown(ends, bulge)) {
                let list = self.squares.entry(square).or_default();
                if list.last() != Some(&index) {
                    list.push(index);
                }
            }
        }
    }
}

impl Shape {
    /// The same for a cut there and back, to a micrometre.
    fn key(&self) -> [i64; 7] {
        let whole = |v: f64| (v * 1e3).round() as i64;
        let ends = [self.from, self.to].map(|p| [whole(p.x), whole(p.y)]);
        let turned = ends[0] > ends[1];
        let [a, b] = if turned { [ends[1], ends[0]] } else { ends };
        let (centre, side) = self.arc.map_or((Point::ORIGIN, 0), |(c, ccw)| {
            (c, if ccw == turned { 1 } else { 2 })
        });
        [
            a[0],
            a[1],
            b[0],
            b[1],
            whole(centre.x),
            whole(centre.y),
            side,
        ]
    }

    fn sweep(&self) -> f64 {
        self.arc
            .map_or(0.0, |(c, ccw)| arc_sweep(self.from, self.to, c, ccw))
    }

    fn length(&self) -> f64 {
        match self.arc {
            Some((c, _)) => (self.from - c).hypot() * self.sweep(),
            None => (self.to - self.from).hypot(),
        }
    }

    /// The place a part of the way along.
    fn point(&self, part: f64) -> Point {
        match self.arc {
            None => self.from.lerp(self.to, part),
            Some((c, ccw)) => {
                let angle = self.sweep() * part * if ccw { 1.0 } else { -1.0 };
                let (s, k) = (libm::sin(angle), libm::cos(angle));
                let r = self.from - c;
                Point::new(c.x + r.x * k - r.y * s, c.y + r.x * s + r.y * k)
            }
        }
    }

    fn distance(&self, p: Point) -> f64 {
        match self.arc {
            None => to_segment(p, [self.from, self.to]),
            Some((c, ccw)) => {
                let ends = (p - self.from).hypot().min((p - self.to).hypot());
                let (r, out) = ((self.from - c).hypot(), (p - c).hypot());
                if out <= FLOAT {
                    return r.min(ends);
                }
                let foot = c + (p - c) * (r / out);
                // The foot lies on the arc if it is reached before the end.
                if arc_sweep(self.from, foot, c, ccw) <= self.sweep() {
                    (out - r).abs()
                } else {
                    ends
                }
            }
        }
    }
}

/// Two places, farther apart by `by` each way.
fn grown([a, b]: [Point; 2], by: f64) -> [Point; 2] {
    [
        Point::new(a.x.min(b.x) - by, a.y.min(b.y) - by),
        Point::new(a.x.max(b.x) + by, a.y.max(b.y) + by),
    ]
}

/// The squares that the box of two places meets, and a rim of [`ASIDE`] round it.
fn squares(ends: [Point; 2]) -> impl Iterator<Item = [i64; 2]> {
    let [low, high] = grown(ends, ASIDE);
    let cell = |v: f64| (v / SQUARE).floor() as i64;
    (cell(low.x)..=cell(high.x))
        .flat_map(move |x| (cell(low.y)..=cell(high.y)).map(move |y| [x, y]))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(x0: f64, y0: f64, x1: f64, y1: f64) -> Shape {
        Shape {
            from: Point::new(x0, y0),
            to: Point::new(x1, y1),
            arc: None,
        }
    }

    #[test]
    fn wood_is_gone_along_an_earlier_cut_and_not_beside_it() {
        let mut floors = Floors::default();
        floors.note(line(0.0, 0.0, 50.0, 0.0), 5.0);
        assert!(
            floors.along(&line(50.0, 0.0, 0.0, 0.0), 5.0),
            "there and back"
        );
        assert!(
            !floors.along(&line(0.0, 0.0, 50.0, 0.0), 4.9),
            "not so deep"
        );
        assert!(floors.along(&line(10.0, 0.15, 40.0, 0.15), 5.0), "a skim");
        assert!(
            !floors.along(&line(10.0, 0.4, 40.0, 0.4), 5.0),
            "half a millimetre"
        );
        assert!(
            !floors.along(&line(40.0, 0.0, 51.0, 0.0), 5.0),
            "past its end"
        );
        assert!(floors.at(Point::new(25.0, 0.0), 5.0));
        assert!(!floors.at(Point::new(25.0, 1.0), 5.0));
    }

    #[test]
    fn arcs_are_cuts_like_others() {
        let mut floors = Floors::default();
        let arc = Shape {
            from: Point::new(10.0, 0.0),
            to: Point::new(0.0, 10.0),
            arc: Some((Point::ORIGIN, true)),
        };
        floors.note(arc, 2.0);
        let back = Shape {
            from: arc.to,
            to: arc.from,
            arc: Some((Point::ORIGIN, false)),
        };
        assert!(floors.along(&back, 2.0), "the same arc, the other way");
        let other = Shape {
            arc: Some((Point::ORIGIN, true)),
            ..back
        };
        assert!(!floors.along(&other, 2.0), "the long way round");
        let half = Shape {
            to: arc.point(0.5),
            ..arc
        };
        assert!(floors.along(&half, 2.0), "half of it");
        assert!(!floors.along(&line(10.0, 0.0, 0.0, 10.0), 2.0), "its chord");
    }
}
