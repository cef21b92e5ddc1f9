//! The coupon that is cut flat: a comb and bars, as side views of pieces.

use super::{BARS, Comb, SHORTEST_BAR, is_marked};
use crate::geom::micron;
use crate::setup::{Edge, FlatPiece, SideNotch};

/// Sizes of the pieces of a coupon, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CombSize {
    /// From back edge to front edge; the notches reach half of it.
    pub depth: f64,
    /// No piece is shorter.
    pub shortest: f64,
    /// Between two notches, at least.
    pub land: f64,
    /// Depth of the marks in the back edge.
    pub mark: f64,
}

impl Comb {
    /// The comb, then the bar, as side views.
    #[must_use]
    pub fn pieces(&self, size: CombSize) -> [FlatPiece; 2] {
        let CombSize { depth, .. } = size;
        let [narrowest, widest] = self.range();
        let pitch = micron(widest + size.land);
        let count = self.widths.len() as f64;
        let length = (count * pitch + 2.0 * size.land).max(size.shortest);
        let first = 0.5 * (length - (count - 1.0) * pitch);
        let mut notches = Vec::new();
        for (i, w) in self.widths.iter().enumerate() {
            let at = micron(first + i as f64 * pitch);
            let mut cut = |w: f64, edge: Edge, depth: f64| {
                notches.push(SideNotch {
                    x0: at - 0.5 * w,
                    x1: at + 0.5 * w,
                    edge,
                    depth,
                });
            };
            cut(*w, Edge::Front, 0.5 * depth);
            if is_marked(i + 1) {
                cut(widest, Edge::Back, size.mark);
            }
        }
        let piece = |class: &str, length: f64, notches, remark: String| {
            FlatPiece::on_its_side(class.into(), [length, depth], notches, remark)
        };
        let remark = format!("notches 1 to {count}: {narrowest} to {widest} mm");
        let bar = SHORTEST_BAR.max(size.shortest);
        [
            piece("comb", length, notches, remark),
            piece("bar", bar, Vec::new(), String::new()),
        ]
    }

    /// Where each notch lies along the comb, from its first end, mm.
    #[must_use]
    pub fn middles(&self, comb: &FlatPiece) -> Vec<f64> {
        let front = comb.notches.iter().filter(|n| n.edge == Edge::Front);
        front.map(|n| 0.5 * (n.x0 + n.x1)).collect()
    }

    /// The ids of all copies of each of [`Self::pieces`].
    #[must_use]
    pub fn copies(&self) -> [Vec<String>; 2] {
        let bars = (1..=BARS).map(|i| format!("bar-{i}"));
        [vec!["comb-1".to_owned()], bars.collect()]
    }
}

/// Least wood that a piece keeps along its length between notches, over both edges; `None` without two
/// that stand apart. Lengths are mm.
#[must_use]
pub fn least_land(piece: &FlatPiece) -> Option<f64> {
    let mut cuts: Vec<(f64, f64)> = piece.notches.iter().map(|n| (n.x0, n.x1)).collect();
    cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut least: Option<f64> = None;
    let mut reached = cuts.first()?.1;
    for (x0, x1) in cuts {
        if x0 > reached {
            let land = x0 - reached;
            least = Some(least.map_or(land, |l| l.min(land)));
        }
        reached = reached.max(x1);
    }
    least
}

/// Least height that a piece keeps over its length, mm.
#[must_use]
pub fn least_height(piece: &FlatPiece) -> f64 {
    let lost = |a: &SideNotch| {
        let meets = |b: &&SideNotch| b.edge != a.edge && b.x0 < a.x1 && a.x0 < b.x1;
        let other = piece.notches.iter().filter(meets);
        a.depth + other.map(|b| b.depth).fold(0.0, f64::max)
    };
    piece.depth - piece.notches.iter().map(lost).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::super::tests::kerf;
    use super::*;

    const SIZE: CombSize = CombSize {
        depth: 12.0,
        shortest: 0.0,
        land: 4.0,
        mark: 2.0,
    };

    #[test]
    fn marks_tell_one_end_from_the_other() {
        let comb = kerf([1.5; 2], 0.15, true);
        let pieces = comb.pieces(SIZE);
        let at = |edge: Edge| -> Vec<f64> {
            let on = pieces[0].notches.iter().filter(|n| n.edge == edge);
            on.map(|n| 0.5 * (n.x0 + n.x1)).collect()
        };
        let (front, back) = (at(Edge::Front), at(Edge::Back));
        assert_eq!((front.len(), back.len()), (21, 5));
        for (mark, number) in back.iter().zip([1, 5, 10, 15, 20]) {
            assert!(
                (mark - front[number - 1]).abs() < 1e-9,
                "under notch {number}"
            );
        }
        assert!(pieces[1].notches.is_empty());
        let long = CombSize {
            shortest: 500.0,
            ..SIZE
        };
        assert_eq!(comb.pieces(long)[0].length, 500.0);
    }

    #[test]
    fn wood_left_is_what_lies_between_notches_of_either_edge() {
        let comb = kerf([1.5; 2], 0.15, true);
        let pieces = comb.pieces(SIZE);
        // Between the marked notches 20 and 21, both as wide as the mark or nearly: 1.7 and a land of 4.
        let land = least_land(&pieces[0]).expect("notches");
        assert!((land - 4.0).abs() < 1e-9, "{land}");
        // Half of 12 less a mark of 2.
        assert!((least_height(&pieces[0]) - 4.0).abs() < 1e-9);
        assert_eq!(least_land(&pieces[1]), None);
        assert_eq!(least_height(&pieces[1]), 12.0);
    }
}
