//! Same piece or not: classes of members that a rotation of the bar carries into each other.

use super::model::{Class, ClassNotch, End, Member, Turn};
use crate::geom::SAME_PIECE;

/// An end after its bar is turned: over and both turn the angle into 180 - angle, end keeps it.
#[must_use]
pub fn turned_end(end: End, turn: Turn) -> End {
    let End { angle_deg, shape } = end;
    let angle_deg = if turn.swaps_edges() {
        180.0 - angle_deg
    } else {
        angle_deg
    };
    End { angle_deg, shape }
}

/// Both ends after their bar is turned, in their new order.
#[must_use]
pub fn turned_ends(ends: [End; 2], turn: Turn) -> [End; 2] {
    let mut ends = ends.map(|e| turned_end(e, turn));
    if turn.swaps_ends() {
        ends.reverse();
    }
    ends
}

/// The piece of one member, in its own frame.
#[derive(Debug, Clone)]
struct Piece {
    length: f64,
    ends: [End; 2],
    trimmed: [bool; 2],
    notches: Vec<ClassNotch>,
    /// What its stock has measured.
    size: BarSize,
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
        pairs.all(|(a, b)| (a - b).abs() <= SAME_PIECE)
    }
}

impl Piece {
    fn of(member: &Member, size: BarSize) -> Self {
        let notches = member
            .joints
            .iter()
            .map(|j| ClassNotch {
                at: j.at - member.from,
                edge: j.edge,
                angle_deg: j.angle_deg,
                width: j.width,
                depth: j.depth,
                shape: j.shape,
                run: j.run,
            })
            .collect();
        let mut piece = Self {
            length: member.length(),
            ends: member.ends,
            trimmed: member.trimmed_by_hand,
            notches,
            size,
        };
        piece.sort();
        piece
    }

    /// Order of notches that round-off cannot change: place by place, then edge and depth.
    fn sort(&mut self) {
        self.notches.sort_by(|a, b| a.at.total_cmp(&b.at));
        let mut place = 0;
        let mut places = Vec::with_capacity(self.notches.len());
        for i in 0..self.notches.len() {
            if i > 0 && self.notches[i].at - self.notches[i - 1].at > SAME_PIECE {
                place += 1;
            }
            places.push(place);
        }
        let mut keyed: Vec<(usize, ClassNotch)> =
            places.into_iter().zip(self.notches.drain(..)).collect();
        keyed.sort_by(|(p, a), (q, b)| {
            p.cmp(q)
                .then(a.edge.cmp(&b.edge))
                .then(a.depth.total_cmp(&b.depth))
        });
        self.notches = keyed.into_iter().map(|(_, n)| n).collect();
    }

    fn turned(&self, turn: Turn) -> Self {
        let mut piece = self.clone();
        if turn.swaps_edges() {
            for n in &mut piece.notches {
                n.edge = n.edge.other();
            }
        }
        if turn.swaps_ends() {
            for n in &mut piece.notches {
                n.at = piece.length - n.at;
            }
            piece.ends.reverse();
            piece.trimmed.reverse();
        }
        piece.ends = piece.ends.map(|e| turned_end(e, turn));
        piece.sort();
        piece
    }

    fn same(&self, other: &Self) -> bool {
        let close = |a: f64, b: f64| (a - b).abs() <= SAME_PIECE;
        close(self.length, other.length)
            && self.size.same(&other.size)
            && self.notches.len() == other.notches.len()
            && self.trimmed == other.trimmed
            && self
                .ends
                .iter()
                .zip(&other.ends)
                .all(|(a, b)| a.shape == b.shape && close(a.angle_deg, b.angle_deg))
            && self.notches.iter().zip(&other.notches).all(|(a, b)| {
                close(a.at, b.at)
                    && a.edge == b.edge
                    && a.shape == b.shape
                    && close(a.angle_deg, b.angle_deg)
                    && close(a.width, b.width)
                    && close(a.depth, b.depth)
            })
    }
}

impl Class {
    /// Whether its piece is the same when it is turned.
    #[must_use]
    pub fn is_alike(&self, turn: Turn) -> bool {
        let none = [0.0; 2];
        let piece = Piece {
            length: self.length,
            ends: self.ends,
            trimmed: self.trimmed_by_hand,
            notches: self.notches.clone(),
            // Turning changes nothing of its stock.
            size: BarSize {
                face: none,
                depth: none,
            },
        };
        piece.turned(turn).same(&piece)
    }
}

/// Sorts members into classes; each member is told its class and turn. `sizes` tells what the stock of
/// each family has measured: bars of different stock are different pieces, however alike their notches.
pub(super) fn classify(members: &mut [Member], sizes: &[BarSize]) -> Vec<Class> {
    let mut classes: Vec<Class> = Vec::new();
    let mut turns: Vec<[Piece; 4]> = Vec::new();
    let mut by_count: std::collections::BTreeMap<usize, Vec<usize>> = Default::default();
    for (m, member) in members.iter_mut().enumerate() {
        // Every member belongs to a family.
        let piece = Piece::of(member, sizes[member.family]);
        let alike = by_count.entry(piece.notches.len()).or_default();
        let found = alike.iter().find_map(|&c| {
            let turn = (0..4).find(|&t| turns[c][t].same(&piece))?;
            Some((c, Turn::ALL[turn]))
        });
        let (class, turn) = found.unwrap_or_else(|| {
            alike.push(classes.len());
            turns.push(Turn::ALL.map(|t| piece.turned(t)));
            let Piece {
                length,
                ends,
                trimmed,
                notches,
                ..
            } = piece;
            classes.push(Class {
                id: letters(classes.len()),
                members: Vec::new(),
                length,
                ends,
                trimmed_by_hand: trimmed,
                notches,
            });
            (classes.len() - 1, Turn::None)
        });
        member.class = class;
        member.turn = turn;
        classes[class].members.push(m);
    }
    classes
}

/// A, B, ... Z, AA, AB, ...
fn letters(index: usize) -> String {
    let mut n = index + 1;
    let mut out = Vec::new();
    while n > 0 {
        n -= 1;
        out.push(char::from(b'A' + (n % 26) as u8));
        n /= 26;
    }
    out.iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_go_on_after_z() {
        assert_eq!(
            [0, 25, 26, 51, 52, 701, 702].map(letters).join(" "),
            "A Z AA AZ BA ZZ AAA"
        );
    }
}
