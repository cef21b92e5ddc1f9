//! Same piece or not: classes of members that a rotation of the bar carries into each other.
//!
//! Members that differ by round-off alone are one *kind*. Kinds within a tolerance of each other are linked into
//! classes (`link.rs`); a class of several kinds is cut to their mean, and `settle.rs` sees to it that means go
//! together.

use super::link::{APART, Nearness, link};
use super::model::{Class, ClassNotch, End, EndShape, Lattice, Member, Turn};
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

/// A notch of a piece, and where it comes from.
#[derive(Debug, Clone, Copy)]
struct Cut {
    /// Number of its node along the piece, from the first end.
    place: usize,
    /// Index in the member's joints.
    joint: usize,
    notch: ClassNotch,
}

/// The piece of one member, in its own frame.
#[derive(Debug, Clone)]
struct Piece {
    length: f64,
    ends: [End; 2],
    trimmed: [bool; 2],
    /// Place by place, then by edge and depth: an order that no turn and no round-off changes.
    cuts: Vec<Cut>,
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
        let mut cuts: Vec<Cut> = Vec::with_capacity(member.joints.len());
        for (joint, j) in member.joints.iter().enumerate() {
            let before = joint.checked_sub(1).and_then(|b| member.joints.get(b));
            let place = match (cuts.last(), before) {
                (Some(last), Some(before)) => last.place + usize::from(before.node != j.node),
                _ => 0,
            };
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

    fn sort(&mut self) {
        // In one edge of a joint no two notches are equally deep.
        self.cuts.sort_by(|a, b| {
            (a.place.cmp(&b.place))
                .then(a.notch.edge.cmp(&b.notch.edge))
                .then(a.notch.depth.total_cmp(&b.notch.depth))
        });
    }

    fn turned(&self, turn: Turn) -> Self {
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
    fn apart(&self, other: &Self, most: f64) -> f64 {
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
    fn sizes(&self) -> Vec<i64> {
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

/// Members that are the same but for round-off.
struct Kind {
    /// Its first member's piece in all turns, in the order of [`Turn::ALL`].
    turned: [Piece; 4],
    /// Members, each with the turn that carries the first one to it.
    members: Vec<(usize, Turn)>,
}

/// All kinds of members.
pub(super) struct Kinds(Vec<Kind>);

/// Kinds that make a class, each with the turn that carries it into the class's frame.
pub(super) type Linked = Vec<(usize, Turn)>;

impl Kinds {
    /// Sorts members into kinds. `sizes` tells what the stock of each family has measured: bars of different
    /// stock are different pieces, however alike their notches.
    pub(super) fn of(members: &[Member], sizes: &[BarSize]) -> Self {
        let mut kinds: Vec<Kind> = Vec::new();
        let mut by_count: std::collections::BTreeMap<usize, Vec<usize>> = Default::default();
        for (m, member) in members.iter().enumerate() {
            // Every member belongs to a family.
            let piece = Piece::of(member, sizes[member.family]);
            let alike = by_count.entry(piece.cuts.len()).or_default();
            let found = alike.iter().find_map(|&k| {
                let same = |t: &Piece| t.apart(&piece, SAME_PIECE) <= SAME_PIECE;
                let turn = kinds[k].turned.iter().position(same)?;
                Some((k, Turn::ALL[turn]))
            });
            match found {
                Some((k, turn)) => kinds[k].members.push((m, turn)),
                None => {
                    alike.push(kinds.len());
                    kinds.push(Kind {
                        turned: Turn::ALL.map(|t| piece.turned(t)),
                        members: vec![(m, Turn::None)],
                    });
                }
            }
        }
        Self(kinds)
    }

    /// Links kinds that are all within `within` of each other, mm or degrees: complete linkage, nearest first.
    pub(super) fn linked(&self, of: &[usize], within: f64) -> Vec<Linked> {
        let kind = |k: usize| -> &Kind { &self.0[k] };
        // Longest to shortest is the same whatever the turn.
        let mut sorted: Vec<(Vec<i64>, usize)> = of
            .iter()
            .map(|&k| {
                let least = kind(k).turned.iter().map(Piece::sizes).min();
                (least.unwrap_or_default(), k)
            })
            .collect();
        sorted.sort();
        let order: Vec<usize> = sorted.into_iter().map(|(_, k)| k).collect();
        let most = within + ROUND_OFF;
        let mut near = Vec::new();
        for (a, &k) in order.iter().enumerate() {
            let piece = &kind(k).turned[0];
            for (b, &other) in order.iter().enumerate().skip(a + 1) {
                let turned = &kind(other).turned;
                if turned[0].length - piece.length > most + SAME_PIECE {
                    break;
                }
                let steps = turned.each_ref().map(|t| {
                    let apart = piece.apart(t, most);
                    if apart > most {
                        APART
                    } else {
                        (apart / ROUND_OFF).round() as u64
                    }
                });
                if steps.iter().any(|&s| s < APART) {
                    near.push(Nearness {
                        pair: [a, b],
                        apart: steps,
                    });
                }
            }
        }
        let groups = link(order.len(), near);
        let named = |(i, turn): (usize, Turn)| (order[i], turn);
        groups
            .into_iter()
            .map(|group| group.into_iter().map(named).collect())
            .collect()
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    /// Groups in the order of their first members.
    pub(super) fn sort(&self, groups: &mut [Linked]) {
        let first = |k: usize| self.0.get(k).and_then(|k| k.members.first()).map(|m| m.0);
        groups.sort_by_key(|group| group.iter().filter_map(|&(k, _)| first(k)).min());
    }

    /// Makes a class of each group of kinds, in their order, and tells members their class, turn and place. A
    /// class lies as its first member does; one of several kinds is the mean of its members.
    pub(super) fn classes(&self, members: &mut [Member], groups: &[Linked]) -> Vec<Class> {
        let groups = groups.iter().enumerate();
        groups
            .map(|(c, group)| {
                let mut list: Vec<(usize, usize, Turn)> = Vec::new();
                for &(k, turn) in group {
                    // From a member to the first one of its kind, and on to the group's frame.
                    let of = self.0.get(k).map_or(&[][..], |k| k.members.as_slice());
                    list.extend(of.iter().map(|&(m, own)| (m, k, own.then(turn))));
                }
                list.sort_by_key(|l| l.0);
                let frame = list.first().map_or(Turn::None, |l| l.2);
                let pieces: Vec<(usize, Turn, Piece)> = list
                    .into_iter()
                    .map(|(m, k, turn)| {
                        let kind = &self.0[k];
                        let turn = kind.simplest(turn.then(frame));
                        let own = Piece::of(&members[m], kind.turned[0].size);
                        (m, turn, own.turned(turn))
                    })
                    .collect();
                let class = class_of(letters(c), &pieces, group.len() > 1);
                for (m, turn, piece) in &pieces {
                    members[*m].class = c;
                    members[*m].turn = *turn;
                    members[*m].shift = if group.len() > 1 {
                        shift(&class, piece, *turn)
                    } else {
                        0.0
                    };
                }
                class
            })
            .collect()
    }
}

impl Kind {
    /// Of the turns that come to the same as this one, the first of [`Turn::ALL`].
    fn simplest(&self, turn: Turn) -> Turn {
        let [as_it_is, ..] = &self.turned;
        let same = |t: &&Turn| {
            let turned = &self.turned[turn.then(**t) as usize];
            turned.apart(as_it_is, SAME_PIECE) <= SAME_PIECE
        };
        Turn::ALL.iter().find(same).copied().unwrap_or(turn)
    }
}

/// The class of members whose pieces lie in its frame: the first one's piece, or the mean of all.
fn class_of(id: String, pieces: &[(usize, Turn, Piece)], of_several: bool) -> Class {
    let of = if of_several {
        pieces
    } else {
        pieces.get(..1).unwrap_or_default()
    };
    let count = of.len().max(1) as f64;
    let mean =
        |size: &dyn Fn(&Piece) -> f64| of.iter().map(|(_, _, p)| size(p)).sum::<f64>() / count;
    let first = pieces.first().map(|p| &p.2);
    let cuts = first.map_or(&[][..], |p| p.cuts.as_slice());
    let notches = cuts.iter().enumerate().map(|(i, cut)| {
        let size =
            |part: fn(&ClassNotch) -> f64| mean(&|p| p.cuts.get(i).map_or(0.0, |c| part(&c.notch)));
        ClassNotch {
            at: size(|n| n.at),
            angle_deg: size(|n| n.angle_deg),
            width: size(|n| n.width),
            depth: size(|n| n.depth),
            run: size(|n| n.run),
            ..cut.notch
        }
    });
    let square = End {
        angle_deg: 90.0,
        shape: EndShape::Square,
    };
    let ends = first.map_or([square; 2], |p| p.ends);
    Class {
        id,
        members: pieces.iter().map(|p| p.0).collect(),
        mean: of_several,
        length: mean(&|p| p.length),
        ends: [0, 1].map(|end| End {
            angle_deg: mean(&|p| p.ends[end].angle_deg),
            ..ends[end]
        }),
        trimmed_by_hand: first.map_or([false; 2], |p| p.trimmed),
        notches: notches.collect(),
    }
}

/// How far past a member's own first end the class's piece lies along it, mm: so that the greatest distance
/// from one of its notches to the member's is as small as it can be. `piece` is the member's own in the class's
/// frame.
fn shift(class: &Class, piece: &Piece, turn: Turn) -> f64 {
    let off = |own: f64, cut: f64| {
        if turn.swaps_ends() {
            (piece.length - own) - (class.length - cut)
        } else {
            own - cut
        }
    };
    let notches = piece.cuts.iter().zip(&class.notches);
    let offs = notches.map(|(own, cut)| off(own.notch.at, cut.at));
    let (lo, hi) = offs.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), off| {
        (off.min(lo), off.max(hi))
    });
    if lo <= hi {
        0.5 * (lo + hi)
    } else {
        0.5 * (piece.length - class.length)
    }
}

impl Lattice {
    /// A member as it is cut: where its class is a mean, with that one's sizes, in its place.
    #[must_use]
    pub fn as_cut(&self, member: &Member) -> Member {
        let mut cut = member.clone();
        let Some(class) = self.classes.get(member.class).filter(|c| c.mean) else {
            return cut;
        };
        (cut.from, cut.to) = self.cut_span(member);
        cut.ends = turned_ends(class.ends, member.turn);
        let piece = Piece::of(member, NO_SIZE).turned(member.turn);
        for (own, notch) in piece.cuts.iter().zip(&class.notches) {
            let Some(joint) = cut.joints.get_mut(own.joint) else {
                continue;
            };
            let from_first = if member.turn.swaps_ends() {
                class.length - notch.at
            } else {
                notch.at
            };
            joint.at = cut.from + from_first;
            joint.angle_deg = notch.angle_deg;
            joint.width = notch.width;
            joint.depth = notch.depth;
            joint.run = notch.run;
        }
        cut
    }

    /// From where to where a member is cut, along its centre line from its start, mm.
    #[must_use]
    pub fn cut_span(&self, member: &Member) -> (f64, f64) {
        match self.classes.get(member.class).filter(|c| c.mean) {
            Some(class) => {
                let from = member.from + member.shift;
                (from, from + class.length)
            }
            None => (member.from, member.to),
        }
    }

    /// Length to which a member is cut, mm.
    #[must_use]
    pub fn cut_length(&self, member: &Member) -> f64 {
        let (from, to) = self.cut_span(member);
        to - from
    }
}

/// Where the size of the stock is not asked for.
const NO_SIZE: BarSize = BarSize {
    face: [0.0; 2],
    depth: [0.0; 2],
};

/// Steps in which differences are told apart, mm or degrees: round-off of the same difference stays within.
const ROUND_OFF: f64 = 1e-9;

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
