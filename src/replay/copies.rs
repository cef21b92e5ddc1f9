//! Copies of a piece: those whose cuts differ by no more than the rounding of coordinates share one proof.
//!
//! The cuts of such copies are gathered into one pattern, which lies midway between them. Where the head's way in
//! every copy stays within a slack *s* of the pattern's, and the pattern's within *s* of every copy's, a head of
//! radius *r* - *s* on the pattern's way sweeps nothing that a copy leaves, and one of *r* + *s* everything that a
//! copy sweeps. So what holds of both sweeps at the full tolerance holds of every copy, and no copy is taken on
//! trust: the slack is measured on each of them. Where the two sweeps do not pass, each copy is proven by itself.

use std::borrow::Cow;

use kurbo::Point;

use super::region::way_of_arc;
use super::slab::SweptMove;
use crate::geom::FLATTEN;
use crate::non_empty::NonEmpty;
use crate::path::Hold;

/// Cuts with a coordinate that differs by more are not the same cut in two copies, mm: rounding moves none by more
/// than a step, the coarsest of which is 0.0001 inch.
const SAME_CUT: f64 = 0.003;
/// Coordinates that differ by less are equal but for round-off, mm.
const EQUAL: f64 = 1e-7;

/// A cut, its plan and its heights apart.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cut {
    /// Start, end and, of an arc, its centre: x and y of each.
    plan: [f64; 6],
    /// Heights of start and end: equal to the last bit in cuts that are the same.
    z: [f64; 2],
    /// Sense of an arc.
    ccw: Option<bool>,
}

impl Cut {
    fn of(m: &SweptMove) -> Self {
        let (centre, ccw) = m
            .arc
            .map_or((Point::ORIGIN, None), |(c, ccw)| (c, Some(ccw)));
        Self {
            plan: [m.from[0], m.from[1], m.to[0], m.to[1], centre.x, centre.y],
            z: [m.from[2], m.to[2]],
            ccw,
        }
    }

    /// The same cut from its end to its start, which sweeps the same; an arc is not turned.
    fn turned(self) -> Self {
        let [x0, y0, x1, y1, cx, cy] = self.plan;
        Self {
            plan: [x1, y1, x0, y0, cx, cy],
            z: [self.z[1], self.z[0]],
            ..self
        }
    }

    fn as_move(&self) -> SweptMove {
        let [x0, y0, x1, y1, cx, cy] = self.plan;
        SweptMove {
            line: 0,
            from: [x0, y0, self.z[0]],
            to: [x1, y1, self.z[1]],
            arc: self.ccw.map(|ccw| (Point::new(cx, cy), ccw)),
        }
    }

    /// x of its middle, twice: the same whichever way it runs.
    fn middle(&self) -> f64 {
        self.plan[0] + self.plan[2]
    }

    /// Greatest difference in a coordinate; `None` where heights or kind differ.
    fn off(&self, other: &Self) -> Option<f64> {
        let same = self.z == other.z && self.ccw == other.ccw;
        let pairs = self.plan.iter().zip(&other.plan);
        same.then(|| pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max))
    }

    /// Turned as the other runs, where it is the same cut within this much, and how far off it is.
    fn like(self, other: &Self, within: f64) -> Option<(f64, Self)> {
        let turned = self.ccw.is_none().then(|| self.turned());
        let ways = [Some(self), turned].into_iter().flatten();
        ways.filter_map(|cut| Some((cut.off(other)?, cut)))
            .filter(|(off, _)| *off <= within)
            .min_by(|a, b| a.0.total_cmp(&b.0))
    }
}

/// Cuts in order of their middles, none twice.
#[derive(Debug)]
struct Sorted(Vec<Cut>);

impl Sorted {
    fn of(moves: &[SweptMove]) -> Self {
        let mut cuts: Vec<Cut> = moves.iter().map(Cut::of).collect();
        cuts.sort_by(|a, b| a.middle().total_cmp(&b.middle()));
        let mut single = Self(Vec::with_capacity(cuts.len()));
        for cut in cuts {
            if single.find(cut, EQUAL).is_none() {
                single.0.push(cut);
            }
        }
        single
    }

    /// The cut that is the nearest to this one, and this one turned as that runs.
    fn find(&self, cut: Cut, within: f64) -> Option<(usize, Cut)> {
        let reach = 2.0 * within + EQUAL;
        let first = self
            .0
            .partition_point(|c| c.middle() < cut.middle() - reach);
        let near = self.0.iter().enumerate().skip(first);
        near.take_while(|(_, c)| c.middle() <= cut.middle() + reach)
            .filter_map(|(i, c)| {
                let (off, cut) = cut.like(c, within)?;
                Some((off, i, cut))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, i, cut)| (i, cut))
    }
}

/// A copy: what it is for the caller, and its cuts as the caller gave them.
pub(super) type Copied<K> = (K, Vec<SweptMove>);

/// Copies that are cut alike but for rounding, each in its own frame.
#[derive(Debug)]
pub(super) struct Family<K> {
    first: Sorted,
    holds: Vec<Hold>,
    /// All of them: the first one, and those that are like it.
    pub(super) copies: NonEmpty<Copied<K>>,
}

/// A way that stands for all copies.
pub(super) struct Pattern<'a> {
    /// Midway between the cuts of the copies; those of the first one where all are the same.
    pub(super) cuts: Cow<'a, [SweptMove]>,
    /// How far the way of a head may be off in any copy, mm; 0 where all are the same.
    pub(super) slack: f64,
}

impl<K> Family<K> {
    /// The first copy of a family.
    pub(super) fn of(copy: K, cuts: Vec<SweptMove>, holds: Vec<Hold>) -> Self {
        Self {
            first: Sorted::of(&cuts),
            holds,
            copies: NonEmpty::one((copy, cuts)),
        }
    }

    /// The holds round each copy, in its own frame.
    pub(super) fn holds(&self) -> &[Hold] {
        &self.holds
    }

    /// Whether a copy belongs here: it has each cut of the first one, no other, and the same holds.
    pub(super) fn has_like(&self, cuts: &[SweptMove], holds: &[Hold]) -> bool {
        let held = self.holds.len() == holds.len()
            && (self.holds.iter().zip(holds)).all(|(a, b)| same_hold(a, b));
        held && self.matched(cuts).is_some()
    }

    /// Every cut of a copy with the one of the first copy that it is; `None` unless each has its like.
    fn matched(&self, cuts: &[SweptMove]) -> Option<Vec<(usize, Cut)>> {
        let mut met = vec![false; self.first.0.len()];
        let pairs = cuts.iter().map(|m| {
            let (i, cut) = self.first.find(Cut::of(m), SAME_CUT)?;
            // A place among the cuts of the first copy.
            met[i] = true;
            Some((i, cut))
        });
        let pairs: Vec<(usize, Cut)> = pairs.collect::<Option<_>>()?;
        met.iter().all(|m| *m).then_some(pairs)
    }

    /// What stands for all copies; `None` where one does not belong here.
    pub(super) fn pattern(&self) -> Option<Pattern<'_>> {
        let copies = self.copies.iter().map(|(_, cuts)| self.matched(cuts));
        let copies: Vec<Vec<(usize, Cut)>> = copies.collect::<Option<_>>()?;
        let mut low: Vec<[f64; 6]> = self.first.0.iter().map(|c| c.plan).collect();
        let mut high = low.clone();
        for (i, cut) in copies.iter().flatten() {
            for (k, v) in cut.plan.iter().enumerate() {
                low[*i][k] = low[*i][k].min(*v);
                high[*i][k] = high[*i][k].max(*v);
            }
        }
        let spread = (low.iter().flatten()).zip(high.iter().flatten());
        if spread.map(|(l, h)| h - l).fold(0.0, f64::max) <= EQUAL {
            let (_, cuts) = self.copies.first();
            return Some(Pattern {
                cuts: Cow::Borrowed(cuts),
                slack: 0.0,
            });
        }
        let middles: Vec<Cut> = (self.first.0.iter().zip(low.iter().zip(&high)))
            .map(|(first, (low, high))| Cut {
                plan: std::array::from_fn(|k| 0.5 * (low[k] + high[k])),
                ..*first
            })
            .collect();
        let off = copies
            .iter()
            .flatten()
            .map(|(i, cut)| way_off(&middles[*i], cut))
            .fold(0.0, f64::max);
        Some(Pattern {
            cuts: Cow::Owned(middles.iter().map(Cut::as_move).collect()),
            // Regions follow rounds, and ways along arcs, within so much each.
            slack: off + 2.0 * FLATTEN,
        })
    }
}

fn same_hold(a: &Hold, b: &Hold) -> bool {
    let figures = |h: &Hold| [h.from.x, h.from.y, h.to.x, h.to.y, h.width, h.height];
    (figures(a).iter().zip(figures(b))).all(|(a, b)| (a - b).abs() <= EQUAL)
}

/// How far the way of a head along one cut is from that along another of its kind, mm, place by place: no place of
/// either is further from the other.
fn way_off(a: &Cut, b: &Cut) -> f64 {
    let way = |cut: &Cut, like: &Cut| {
        let [x0, y0, x1, y1, cx, cy] = cut.plan;
        let (from, to) = (Point::new(x0, y0), Point::new(x1, y1));
        match cut.ccw {
            None => vec![from, to],
            Some(ccw) => {
                let [x, y, .., like_x, like_y] = like.plan;
                let radius = Point::new(x, y).distance(Point::new(like_x, like_y));
                way_of_arc(from, to, Point::new(cx, cy), ccw, radius)
            }
        }
    };
    let (way_a, way_b) = (way(a, a), way(b, a));
    let off = way_a.iter().zip(&way_b).map(|(a, b)| a.distance(*b));
    let chords = if a.ccw.is_some() { 2.0 * FINE } else { 0.0 };
    off.fold(0.0, f64::max) + chords
}

/// How far the places at which two arcs are compared leave these, mm.
pub(super) const FINE: f64 = 2e-5;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{FlatPiece, Placement};
    use crate::table::Table;

    fn line(from: [f64; 2], to: [f64; 2], z: f64) -> SweptMove {
        SweptMove {
            line: 0,
            from: [from[0], from[1], z],
            to: [to[0], to[1], z],
            arc: None,
        }
    }

    fn arc(from: [f64; 2], to: [f64; 2], centre: [f64; 2], ccw: bool) -> SweptMove {
        SweptMove {
            arc: Some((Point::from((centre[0], centre[1])), ccw)),
            ..line(from, to, 1.0)
        }
    }

    fn copy() -> Vec<SweptMove> {
        vec![
            line([0.0, 0.0], [10.0, 0.0], 2.0),
            line([10.0, 0.0], [0.0, 0.0], 1.0),
            arc([10.0, 0.0], [11.5, 1.5], [10.0, 1.5], true),
            line([11.5, 1.5], [11.5, 20.0], 1.0),
        ]
    }

    fn family(copies: &[Vec<SweptMove>]) -> Family<usize> {
        let mut family = Family::of(0, copies[0].clone(), Vec::new());
        for (i, cuts) in copies.iter().enumerate().skip(1) {
            assert!(family.has_like(cuts, &[]), "copy {i} belongs here");
            family.copies.push((i, cuts.clone()));
        }
        family
    }

    #[test]
    fn order_and_direction_do_not_matter() {
        let mut other = copy();
        other.rotate_left(2);
        other.push(line([10.0, 0.0], [0.0, 0.0], 2.0));
        let family = family(&[copy(), other]);
        let pattern = family.pattern().expect("alike");
        assert_eq!((pattern.cuts.len(), pattern.slack), (4, 0.0));
    }

    #[test]
    fn what_is_no_rounding_is_no_copy() {
        let family = family(&[copy()]);
        for (what, change) in [
            (
                "one depth",
                (|c| c[1].to[2] -= 1e-4) as fn(&mut Vec<SweptMove>),
            ),
            ("one point", |c| c[3].to[1] += 0.0031),
            ("one cut less", |c| {
                c.remove(0);
            }),
            ("one cut more", |c| {
                c.push(line([5.0, 5.0], [6.0, 5.0], 1.0))
            }),
            ("the other way round", |c| {
                c[2].arc = c[2].arc.map(|(at, ccw)| (at, !ccw));
            }),
            ("a line for an arc", |c| c[2].arc = None),
        ] {
            let mut cuts = copy();
            change(&mut cuts);
            assert!(!family.has_like(&cuts, &[]), "{what}");
        }
        let mut one = Table::new();
        let hold = Hold {
            placement: one.push(Placement {
                piece: Table::new().push(FlatPiece::blank("A", 10.0, 5.0, String::new())),
                id: "u1".into(),
                x: 0.0,
                y: 0.0,
            }),
            from: Point::new(3.0, 0.0),
            to: Point::new(6.0, 0.0),
            width: 3.0,
            height: 0.8,
        };
        assert!(!family.has_like(&copy(), &[hold]), "another hold");
    }

    /// A point moved by 0.001 in x and in y lies half of that from the middle, each way.
    #[test]
    fn the_slack_is_that_of_the_copy_that_is_furthest_off() {
        let mut other = copy();
        (other[3].to[0], other[3].to[1]) = (11.501, 20.001);
        let two = family(&[copy(), other.clone()]);
        let pattern = two.pattern().expect("alike");
        let want = 0.001 / 2f64.sqrt() + 2.0 * FLATTEN;
        assert!((pattern.slack - want).abs() < 1e-9, "{}", pattern.slack);
        // A third copy further off.
        other[3].to[1] = 20.002;
        let three = family(&[copy(), copy(), other]);
        let third = three.pattern().expect("alike");
        assert!(third.slack > pattern.slack + 1e-4, "{}", third.slack);
    }

    /// Both ends moved out by 0.001 along their radii: so is every place between them.
    #[test]
    fn the_slack_of_an_arc_is_that_of_its_way() {
        let mut other = copy();
        other[2] = arc([10.0, -0.001], [11.501, 1.5], [10.0, 1.5], true);
        let slack = family(&[copy(), other]).pattern().expect("alike").slack;
        let want = 0.0005 + 2.0 * FINE + 2.0 * FLATTEN;
        assert!((slack - want).abs() < 2e-6, "{slack} for {want}");
        // The centre alone moved along the chord's normal: ends stay, the middle does not.
        let mut bent = copy();
        bent[2] = arc([10.0, 0.0], [11.5, 1.5], [10.002, 1.498], true);
        let slack = family(&[copy(), bent]).pattern().expect("alike").slack;
        assert!(slack > 2.0 * FLATTEN + 2.0 * FINE, "{slack}");
    }
}
