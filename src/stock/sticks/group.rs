//! Members gathered by the pattern of their notches.

use std::collections::BTreeMap;

use super::needs::Piece;
use super::pack::Way;
use super::pattern::{Pattern, PatternJoint};
use crate::geom::{SAME_FIGURE, cot_deg};
use crate::lattice::{End, EndShape, Lattice, Turn};
use crate::non_empty::NonEmpty;
use crate::panel::DatumEnd;
use crate::table::{Id, Table};

/// Pieces of one pattern.
#[derive(Debug)]
pub(super) struct Group {
    pub(super) pattern: Pattern,
    /// Whether the pattern goes on; else it is the one piece's own notches.
    pub(super) regular: bool,
    pub(super) pieces: NonEmpty<GroupPiece>,
}

/// A piece and the ways it lies in the pattern of its group.
#[derive(Debug)]
pub(super) struct GroupPiece {
    pub(super) piece: Piece,
    pub(super) ways: NonEmpty<Way>,
}

/// A square end.
pub(super) const SQUARE: End = End {
    angle_deg: 90.0,
    shape: EndShape::Square,
};

/// Signatures closer than this may belong to one pattern.
const SIGNATURE_STEP: f64 = 1e-3;

/// Gathers pieces by their patterns, in the order of the classes of members.
pub(super) fn groups(lattice: &Lattice, pieces: Vec<Piece>) -> Table<Group> {
    let mut groups: Table<Group> = Table::new();
    let mut alike: BTreeMap<i64, Vec<Id<Group>>> = BTreeMap::new();
    for mut piece in pieces {
        let Some((pattern, first)) = own_pattern(lattice, &mut piece) else {
            groups.push(Group::of_one(piece));
            continue;
        };
        let key = (pattern.signature() / SIGNATURE_STEP).round() as i64;
        let near = (key - 1..=key + 1).filter_map(|k| alike.get(&k));
        let home = near.flatten().find_map(|&g| {
            let ways = ways(&piece, &pattern, first, &groups[g].pattern);
            let ways = ways.filter(|_| groups[g].is_of_stock(&piece))?;
            Some((g, ways))
        });
        if let Some((g, ways)) = home {
            groups[g].pieces.push(GroupPiece { piece, ways });
        } else if let Some(ways) = ways(&piece, &pattern, first, &pattern) {
            let group = groups.push(Group {
                pattern,
                regular: true,
                pieces: NonEmpty::one(GroupPiece { piece, ways }),
            });
            alike.entry(key).or_default().push(group);
        } else {
            groups.push(Group::of_one(piece));
        }
    }
    groups
}

/// The pattern that a piece is a window of, and which joint of it is its first.
fn own_pattern(lattice: &Lattice, piece: &mut Piece) -> Option<(Pattern, i64)> {
    let member = &lattice.members[lattice.classes[piece.class].first];
    let (pattern, zero) = Pattern::along(lattice, member)?;
    let first = piece.window(lattice, &pattern, zero)?;
    Some((pattern, first))
}

/// All ways for a piece to lie in a group's pattern: each turn that carries its own pattern there. `None`
/// where none does.
fn ways(piece: &Piece, own: &Pattern, first: i64, to: &Pattern) -> Option<NonEmpty<Way>> {
    let mut ways: Vec<Way> = Vec::new();
    for turn in Turn::ALL {
        let begins = if turn.swaps_ends() {
            own.len() as i64 - (first + piece.joints.len() as i64)
        } else {
            first
        };
        for shift in own.turned(turn).shifts_to(to) {
            let way = Way {
                phase: to.phase(begins + shift as i64),
                turn,
                ends: piece.ends(turn),
            };
            let same = |w: &Way| {
                w.phase == way.phase
                    && (w.ends.before - way.ends.before).abs() <= SAME_FIGURE
                    && (w.ends.after - way.ends.after).abs() <= SAME_FIGURE
            };
            if !ways.iter().any(same) {
                ways.push(way);
            }
        }
    }
    NonEmpty::of(ways)
}

impl Group {
    /// A piece by itself: its own notches are the pattern.
    pub(super) fn of_one(piece: Piece) -> Self {
        let [first, last] = piece.span();
        let pattern = Pattern {
            joints: piece.joints.map(|j| PatternJoint {
                at: j.at - first,
                notches: j.notches.clone(),
            }),
            // Never used: sticks have as many joints as the piece.
            period: last - first + 1.0,
        };
        let way = Way {
            phase: 0,
            turn: Turn::None,
            ends: piece.ends(Turn::None),
        };
        Self {
            pattern,
            regular: false,
            pieces: NonEmpty::one(GroupPiece {
                piece,
                ways: NonEmpty::one(way),
            }),
        }
    }

    /// Least and greatest face of its bars.
    pub(super) fn face(&self) -> [f64; 2] {
        self.pieces.first().piece.face
    }

    /// Whether a piece is milled to the same face and depth as those of the group.
    fn is_of_stock(&self, piece: &Piece) -> bool {
        let same =
            |a: [f64; 2], b: [f64; 2]| a.iter().zip(&b).all(|(a, b)| (a - b).abs() <= SAME_FIGURE);
        let own = &self.pieces.first().piece;
        same(own.face, piece.face) && same(own.depth, piece.depth)
    }

    /// The datum end: where the panel asks for points, pointed at the least skew angle, if any notch is skew.
    pub(super) fn datum_end(&self, datum: DatumEnd) -> End {
        let angles = self.pattern.joints.iter().flat_map(|j| &j.notches);
        let angles = angles.map(|n| n.angle_deg.min(180.0 - n.angle_deg));
        let least = angles.fold(90.0, f64::min);
        if datum == DatumEnd::Point && least < 90.0 - SAME_FIGURE {
            End {
                angle_deg: least,
                shape: EndShape::Point,
            }
        } else {
            SQUARE
        }
    }

    /// From the point of the datum end to where the stick has its full face, mm.
    pub(super) fn point_length(&self, datum: DatumEnd) -> f64 {
        let end = self.datum_end(datum);
        match end.shape {
            EndShape::Point => 0.5 * self.face()[1] * cot_deg(end.angle_deg),
            _ => 0.0,
        }
    }

    /// How far what is kept of any piece reaches before its first joint, in any way that it may lie after
    /// so much wood, mm.
    pub(super) fn farthest_front(&self, lead: f64) -> f64 {
        let fronts = self.pieces.iter().flat_map(|GroupPiece { piece, ways }| {
            let may = ways.iter().filter(|w| w.ends.before <= lead + SAME_FIGURE);
            may.map(|w| piece.kept_front(w.turn)).collect::<Vec<f64>>()
        });
        fronts.fold(0.0, f64::max)
    }
}
