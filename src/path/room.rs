//! The room that a program needs: the box of its tool's centre, and what that asks of the zero.

use super::lengths::arc_extent;
use super::{Head, Move, Program};
use crate::document::Numbers;
use crate::geom::{Point, micron, tidy};
use crate::panel::Units;

/// Least and greatest place of the centre of beam or tool over all moves of a program, travel included,
/// mm from the zero; z is the tip's, and 0 for a beam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathBox {
    /// Least x, y and z.
    pub min: [f64; 3],
    /// Greatest x, y and z.
    pub max: [f64; 3],
}

impl PathBox {
    /// The box of a program. Where the head stands before the first move is no part of it; a program
    /// without moves stands over the zero.
    #[must_use]
    pub fn of(program: &Program) -> Self {
        let safe = match program.head {
            Head::Beam { .. } => 0.0,
            Head::Cutter { safe_z, .. } => safe_z,
        };
        // Every dialect rises to the safe height first.
        let mut z = [safe; 2];
        let (mut at, mut plane) = (Point::ORIGIN, None);
        let mut grow = |p: Point| {
            let [low, high] = plane.unwrap_or([p; 2]);
            plane = Some([
                Point::new(p.x.min(low.x), p.y.min(low.y)),
                Point::new(p.x.max(high.x), p.y.max(high.y)),
            ]);
        };
        for step in &program.moves {
            match *step {
                Move::Travel(to) | Move::Line(to) => {
                    grow(to);
                    at = to;
                }
                Move::Arc { to, centre, ccw } => {
                    arc_extent(at, to, centre, ccw)
                        .into_iter()
                        .for_each(&mut grow);
                    at = to;
                }
                Move::Plunge(to) => z = [z[0].min(to), z[1].max(to)],
                Move::Remark(_) | Move::BeamOn | Move::BeamOff | Move::Raise => {}
            }
        }
        let [low, high] = plane.unwrap_or([Point::ORIGIN; 2]);
        Self {
            min: [low.x, low.y, z[0]],
            max: [high.x, high.y, z[1]],
        }
    }

    /// The least box that holds this one and another.
    #[must_use]
    pub fn union(self, other: Self) -> Self {
        Self {
            min: std::array::from_fn(|a| self.min[a].min(other.min[a])),
            max: std::array::from_fn(|a| self.max[a].max(other.max[a])),
        }
    }

    /// What the zero needs along an axis, mm: before it (to the left, in front, below) and past it. The
    /// head starts over the zero, so neither is below 0.
    #[must_use]
    pub fn needs(&self, axis: usize) -> [f64; 2] {
        let [low, high] = [self.min[axis], self.max[axis]];
        [tidy((-low).max(0.0)), high.max(0.0)]
    }

    /// Corners in x and y, from the least of both, counter-clockwise.
    #[must_use]
    pub fn corners(&self) -> [Point; 4] {
        let ([x0, y0, _], [x1, y1, _]) = (self.min, self.max);
        [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Point::new(x, y))
    }

    /// The box in words, and what zero needs on each side, in plain ASCII; both are rounded away from the
    /// path, to 0.01 mm or 0.001 inch. z is left out where it never changes.
    #[must_use]
    pub fn words(&self, n: Numbers) -> [String; 2] {
        let with_z = self.max[2] > self.min[2];
        let out = outward(self, n.units);
        let axes = ["x", "y", "z"].into_iter().zip(0..3);
        let axes = axes.filter(|(_, axis)| *axis < 2 || with_z);
        let spans: Vec<String> = axes
            .clone()
            .map(|(name, axis)| {
                let [low, high] = [out.min[axis], out.max[axis]].map(|v| n.fine(v));
                format!("{name} {low} to {high}")
            })
            .collect();
        let sides = [
            ["to its left", "to its right"],
            ["in front", "behind"],
            ["below", "above"],
        ];
        let needs: Vec<String> = axes
            .map(|(_, axis)| {
                let ([low, high], [before, past]) = (out.needs(axis), sides[axis]);
                format!("{} {before}, {} {past}", n.fine(low), n.fine(high))
            })
            .collect();
        // Only a beam stays at its height.
        let head = if with_z { "tool centre" } else { "beam" };
        let unit = n.unit();
        [
            format!("path of the {head}, {unit}: {}", spans.join(", ")),
            format!("zero needs, {unit}: {}", needs.join(", ")),
        ]
    }
}

/// A box rounded outward to what [`Numbers::fine`] shows.
fn outward(path: &PathBox, units: Units) -> PathBox {
    /// What is nearer than this to a step is on it: round-off.
    const ON_STEP: f64 = 1e-4;
    let step = match units {
        Units::Mm => 0.01,
        Units::Inch => 0.0254,
    };
    let down = |v: f64| tidy((micron(v) / step + ON_STEP).floor() * step);
    let up = |v: f64| tidy((micron(v) / step - ON_STEP).ceil() * step);
    PathBox {
        min: path.min.map(down),
        max: path.max.map(up),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::path::lengths::tests::cutting;

    /// By hand: travel, a plunge, and a half circle about (13, 6) of radius 2 that bulges to x 15.
    #[test]
    fn a_box_holds_travel_and_the_bulge_of_an_arc() {
        let of = |moves| PathBox::of(&cutting(moves));
        let path = of(vec![
            Move::Raise,
            Move::Travel(Point::new(-3.0, 4.0)),
            Move::Plunge(-0.2),
            Move::Line(Point::new(13.0, 4.0)),
            Move::Arc {
                to: Point::new(13.0, 8.0),
                centre: Point::new(13.0, 6.0),
                ccw: true,
            },
            Move::Raise,
        ]);
        assert_eq!((path.min, path.max), ([-3.0, 4.0, -0.2], [15.0, 8.0, 15.0]));
        assert_eq!(path.needs(0), [3.0, 15.0]);
        assert_eq!(
            path.needs(1),
            [0.0, 8.0],
            "the zero lies in front of the path"
        );
        let still = of(vec![]);
        assert_eq!((still.min, still.max), ([0.0, 0.0, 15.0], [0.0, 0.0, 15.0]));
    }

    #[test]
    fn words_never_promise_less_room_than_the_path_needs() {
        let path = PathBox {
            min: [-3.001, 2.0, 0.0],
            max: [452.101, 9.999, 0.0],
        };
        let [spans, needs] = path.words(Numbers::MM);
        assert_eq!(
            spans,
            "path of the beam, mm: x -3.01 to 452.11, y 2.00 to 10.00"
        );
        assert_eq!(
            needs,
            "zero needs, mm: 3.01 to its left, 452.11 to its right, 0.00 in front, 10.00 behind"
        );
        // 452.101 / 25.4 is 17.79925, 3.001 / 25.4 is 0.11815.
        let inch = Numbers::of(Units::Inch);
        let [spans, _] = path.words(inch);
        assert_eq!(
            spans,
            "path of the beam, in: x -0.119 to 17.800, y 0.078 to 0.394"
        );
    }
}
