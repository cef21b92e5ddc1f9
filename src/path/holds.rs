//! A closed path round a piece, parted at its holds.

use kurbo::Vec2;

use super::hold_room::{HoldRules, Standing, stand};
use super::open::OpenPath;
use super::program::Hold;
use crate::geom::{Contour, Vertex};
use crate::non_empty::NonEmpty;
use crate::setup::{FlatPiece, PlacementId};

/// The path round a piece as it is cut, in the piece's frame.
pub(super) struct Parted {
    /// In order of travel.
    pub(super) holds: Vec<Standing>,
    /// What is cut, in order of travel: as many parts as holds, the first one past the first hold. Where no
    /// hold finds room it is the whole path, opened at its first corner: the checks refuse a piece that drops
    /// or comes loose.
    pub(super) parts: NonEmpty<Part>,
}

/// An open stretch of the path.
pub(super) struct Part {
    pub(super) path: OpenPath,
    /// Away from the piece where it starts, of length 1.
    pub(super) outward: Vec2,
}

impl Part {
    pub(super) fn moved(&self, by: Vec2) -> Self {
        Self {
            path: self.path.moved(by),
            outward: self.outward,
        }
    }
}

/// Finds the holds of a piece, and opens the counter-clockwise path round it there; `None` of a path without corners.
pub(super) fn parted(path: &Contour, piece: &FlatPiece, rules: &HoldRules) -> Option<Parted> {
    let mut whole = NonEmpty::of(path.vertices.iter().copied())?;
    whole.push(Vertex {
        bulge: 0.0,
        ..*whole.first()
    });
    let holds = stand(path, piece, rules);
    let nexts = holds.iter().cycle().skip(1);
    let parts = holds.iter().zip(nexts).map(|(hold, next)| Part {
        path: between(path, hold, next, rules.radius),
        outward: hold.outward(),
    });
    let parts = NonEmpty::of(parts).unwrap_or_else(|| {
        NonEmpty::one(Part {
            path: OpenPath::of(&whole),
            outward: Vec2::new(0.0, -1.0),
        })
    });
    Some(Parted { holds, parts })
}

/// The path from one hold to the next, once round where they are one.
fn between(path: &Contour, hold: &Standing, next: &Standing, radius: f64) -> OpenPath {
    let segments: Vec<_> = path.segments().collect();
    let n = segments.len();
    let ([_, from], [to, _]) = (hold.ends(radius), next.ends(radius));
    let ahead = (to - from).dot(hold.along) > 0.0;
    let corners = if hold.segment == next.segment && ahead && hold != next {
        0
    } else {
        (next.segment + n - hold.segment - 1) % n + 1
    };
    let straight = |at| Vertex { at, bulge: 0.0 };
    let mut vertices = NonEmpty::one(straight(from));
    for k in 1..=corners {
        // Holds stand on segments of this path, so that there is one at least.
        let (at, bulge, _) = segments[(hold.segment + k) % n];
        // The last one is left where the next hold stands, which is straight.
        let bulge = if k == corners { 0.0 } else { bulge };
        vertices.push(Vertex { at, bulge });
    }
    vertices.push(straight(to));
    OpenPath::of(&vertices)
}

impl Standing {
    /// The hold as planned: of a placement, in the sheet's frame, where the piece that the path goes round
    /// lies at `at`; `height` above the bed, mm.
    pub(super) fn hold(&self, placement: PlacementId, at: Vec2, height: f64) -> Hold {
        let [from, to] = self.ends(0.0).map(|p| p + at);
        Hold {
            placement,
            from,
            to,
            width: self.width,
            height,
        }
    }
}

#[cfg(test)]
mod tests {
    use kurbo::Point;

    use super::super::offset::grow;
    use super::*;

    /// Parts and what stands between them sum to the path; each part starts where the head may start again.
    #[test]
    fn parts_and_gaps_sum_to_the_path() {
        for (count, trimmed) in [(0, 0.0), (1, 0.0), (2, 3.0), (3, 3.0), (5, 0.0)] {
            let piece = FlatPiece::blank("A", 90.0, 12.0, String::new()).with_trimmed(trimmed);
            let rules = HoldRules {
                count,
                width: 4.0,
                least: 2.0,
                radius: 1.5,
            };
            let path = grow(&piece.body(), rules.radius).expect("one contour");
            let Parted { holds, parts } = parted(&path, &piece, &rules).expect("corners");
            assert_eq!(holds.len(), count as usize);
            assert_eq!(
                parts.len(),
                holds.len().max(1),
                "a path without holds is whole"
            );
            let sum: f64 = parts.iter().map(|part| part.path.contour().length()).sum();
            let stands = f64::from(count) * 7.0;
            assert!(
                (sum + stands - path.length()).abs() < 1e-9,
                "{count}: {sum}"
            );
            for (part, hold) in parts.iter().zip(&holds) {
                assert_eq!(part.path.start(), hold.ends(1.5)[1]);
                assert_eq!(part.outward, Vec2::new(0.0, -1.0));
            }
        }
    }

    #[test]
    fn a_part_runs_round_the_corner_to_a_hold_on_an_end() {
        let mut piece = FlatPiece::blank("A", 20.0, 12.0, String::new()).with_trimmed(2.0);
        piece.length = 9.0;
        let rules = HoldRules {
            count: 3,
            width: 4.0,
            least: 2.0,
            radius: 1.5,
        };
        let path = grow(&piece.body(), rules.radius).expect("one contour");
        let Parted { holds, parts } = parted(&path, &piece, &rules).expect("corners");
        let at: Vec<Point> = holds.iter().map(|h| h.at).collect();
        let want = [(4.5, -1.5), (10.5, 6.0), (-1.5, 6.0)].map(Point::from);
        assert_eq!(at, want, "one below, one on either end");
        let sum: f64 = parts.iter().map(|part| part.path.contour().length()).sum();
        assert!((sum + 21.0 - path.length()).abs() < 1e-9, "{sum}");
        let out: Vec<Vec2> = parts.iter().map(|part| part.outward).collect();
        assert_eq!(out[1..], [Vec2::new(1.0, 0.0), Vec2::new(-1.0, 0.0)]);
    }
}
