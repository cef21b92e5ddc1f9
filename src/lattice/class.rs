//! Same piece or not: classes of members that a rotation of the bar carries into each other.
//!
//! Members that differ by round-off alone are one *kind*. Kinds within a tolerance of each other are linked into
//! classes (`link.rs`); a class of several kinds is cut to their mean, and `settle.rs` sees to it that means go
//! together.

use super::link::{APART, Nearness, link};
use super::model::{Class, ClassNotch, End, EndShape, Member, Turn};
use super::piece::{BarSize, Piece};
use crate::geom::SAME_FIGURE;

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
                let same = |t: &Piece| t.apart(&piece, SAME_FIGURE) <= SAME_FIGURE;
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
        // By length, then by the least of its turned pieces: whichever member came first, and however it lies.
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
                if turned[0].length - piece.length > most + SAME_FIGURE {
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
            turned.apart(as_it_is, SAME_FIGURE) <= SAME_FIGURE
        };
        Turn::ALL.iter().find(same).copied().unwrap_or(turn)
    }
}

impl Class {
    /// Whether its piece is the same when it is turned.
    #[must_use]
    pub fn is_alike(&self, turn: Turn) -> bool {
        let piece = Piece::of_class(self);
        piece.turned(turn).apart(&piece, SAME_FIGURE) <= SAME_FIGURE
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
