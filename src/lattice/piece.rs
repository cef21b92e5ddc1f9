//! The piece of a member: what is compared to tell whether two members are the same.

use super::class::turned_ends;
use super::model::{Class, ClassNotch, End, Member, Turn};
use crate::geom::{NODE_SNAP, SAME_FIGURE};

/// A notch of a piece, and where it comes from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cut {
    /// Number of its node along the piece, from the first end.
    pub(super) place: usize,
    /// Index in the member's joints.
    pub(super) joint: usize,
    /// Its sizes; `at` from the piece's first end.
    pub(super) notch: ClassNotch,
}

/// The piece of one member, in its own frame.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub(super) length: f64,
    pub(super) ends: [End; 2],
    pub(super) trimmed: [bool; 2],
    /// Place by place, then by edge and depth: an order that no turn and no round-off changes.
    pub(super) cuts: Vec<Cut>,
    /// What its stock has measured.
    pub(super) size: BarSize,
}

/// Least and greatest face and depth of a bar's stock, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct BarSize {
    pub(super) face: [f64; 2],
    pub(super) depth: [f64; 2],
}

impl BarSize {
    fn same(&self, other: &Self) -> bool {
        let all = |s: &Self| [s.face[0], s.face[1], s.depth[0], s.depth[1]];
        let mut pairs = all(self).into_iter().zip(all(other));
        pairs.all(|(a, b)| (a - b).abs() <= SAME_FIGURE)
    }
}

impl Piece {
    pub(super) fn of(member: &Member, size: BarSize) -> Self {
        let mut cuts: Vec<Cut> = Vec::with_capacity(member.joints.len());
        let nodes = member.joints.chunk_by(|a, b| a.node == b.node);
        let placed = nodes
            .enumerate()
            .flat_map(|(place, here)| here.iter().map(move |j| (place, j)));
        for (joint, (place, j)) in placed.enumerate() {
            let notch = ClassNotch {
                at: j.at - member.from,
                edge: j.edge,
                angle_deg: j.angle_deg,
                width: j.width,
                depth: j.depth,
                shape: j.shape,
                run: j.run,
            };
            cuts.push(Cut {
                place,
                joint,
                notch,
            });
        }
        let mut piece = Self {
            length: member.length(),
            ends: member.ends,
            trimmed: member.trimmed_by_hand,
            cuts,
            size,
        };
        piece.sort();
        piece
    }

    /// The piece of a class. What its stock has measured is left out: turning changes nothing of it.
    pub(super) fn of_class(class: &Class) -> Self {
        let mut cuts: Vec<Cut> = Vec::with_capacity(class.notches.len());
        for &notch in &class.notches {
            let place = cuts.last().map_or(0, |last| {
                last.place + usize::from((notch.at - last.notch.at).abs() > NODE_SNAP)
            });
            cuts.push(Cut {
                place,
                joint: 0,
                notch,
            });
        }
        let mut piece = Self {
            length: class.length,
            ends: class.ends,
            trimmed: class.trimmed_by_hand,
            cuts,
            size: NO_SIZE,
        };
        piece.sort();
        piece
    }

    fn sort(&mut self) {
        // In one edge of a joint no two notches are equally deep.
        self.cuts.sort_by(|a, b| {
            (a.place.cmp(&b.place))
                .then(a.notch.edge.cmp(&b.notch.edge))
                .then(a.notch.depth.total_cmp(&b.notch.depth))
        });
    }

    pub(super) fn turned(&self, turn: Turn) -> Self {
        let mut piece = self.clone();
        if turn.swaps_edges() {
            for cut in &mut piece.cuts {
                cut.notch.edge = cut.notch.edge.other();
            }
        }
        if turn.swaps_ends() {
            let last = piece.cuts.iter().map(|c| c.place).max().unwrap_or(0);
            for cut in &mut piece.cuts {
                cut.notch.at = piece.length - cut.notch.at;
                cut.place = last - cut.place;
            }
            piece.trimmed.reverse();
        }
        piece.ends = turned_ends(piece.ends, turn);
        piece.sort();
        piece
    }

    /// Whether both have the same notches in the same edges, the same kinds of ends, and come from the same
    /// stock, whatever their sizes.
    fn is_built_like(&self, other: &Self) -> bool {
        self.size.same(&other.size)
            && self.trimmed == other.trimmed
            && self.cuts.len() == other.cuts.len()
            && (self.ends.iter().zip(&other.ends)).all(|(a, b)| a.shape == b.shape)
            && self.cuts.iter().zip(&other.cuts).all(|(a, b)| {
                a.place == b.place && a.notch.edge == b.notch.edge && a.notch.shape == b.notch.shape
            })
    }

    /// The greatest difference of two pieces as they lie, mm or degrees: of lengths, ends, and notches, whose
    /// places count from either end. [`f64::INFINITY`] where they are not built alike, or where it is more
    /// than `most`.
    pub(super) fn apart(&self, other: &Self, most: f64) -> f64 {
        let mut greatest: f64 = (self.length - other.length).abs();
        if greatest > most || !self.is_built_like(other) {
            return f64::INFINITY;
        }
        for (a, b) in self.ends.iter().zip(&other.ends) {
            greatest = greatest.max((a.angle_deg - b.angle_deg).abs());
        }
        for (a, b) in self.cuts.iter().zip(&other.cuts) {
            let (a, b) = (&a.notch, &b.notch);
            for (x, y) in [
                (a.at, b.at),
                (self.length - a.at, other.length - b.at),
                (a.angle_deg, b.angle_deg),
                (a.width, b.width),
                (a.depth, b.depth),
            ] {
                greatest = greatest.max((x - y).abs());
            }
            if greatest > most {
                return f64::INFINITY;
            }
        }
        greatest
    }

    /// All its sizes, in whole nanometres: what sorts pieces without regard to the order of members.
    pub(super) fn sizes(&self) -> Vec<i64> {
        let fix = |v: f64| (v * 1e6).round() as i64;
        let ends = self.ends.iter().map(|e| fix(e.angle_deg));
        let cuts = self.cuts.iter().flat_map(|c| {
            let n = &c.notch;
            [c.place as i64, n.edge as i64]
                .into_iter()
                .chain([n.at, n.angle_deg, n.width, n.depth].map(fix))
        });
        let size = [self.size.face, self.size.depth].concat();
        std::iter::once(fix(self.length))
            .chain(ends)
            .chain(cuts)
            .chain(size.into_iter().map(fix))
            .collect()
    }
}

/// Where the size of the stock is not asked for.
pub(super) const NO_SIZE: BarSize = BarSize {
    face: [0.0; 2],
    depth: [0.0; 2],
};
