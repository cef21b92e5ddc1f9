//! Same piece or not: classes of members that a rotation of the bar carries into each other.
//!
//! Members that differ by round-off alone are one *kind*. Kinds within a tolerance of each other are linked into
//! classes (`link.rs`); a class of several kinds is cut to their mean, and `settle.rs` sees to it that means go
//! together.

use super::family::Family;
use super::link::{APART, Group, Nearness, link};
use super::model::{Class, ClassId, ClassNotch, End, Member, MemberId, Turn};
use super::piece::{BarSize, Piece};
use crate::geom::SAME_FIGURE;
use crate::table::{Column, Id, Table};

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
pub(super) struct Kind {
    /// Its first member's piece in all turns, in the order of [`Turn::ALL`].
    turned: [Piece; 4],
    /// Its first member.
    first: MemberId,
    /// The others, each with the turn that carries the first one to it.
    others: Vec<(MemberId, Turn)>,
}

/// Which kind.
pub(super) type KindId = Id<Kind>;

/// All kinds of members.
pub(super) struct Kinds(Table<Kind>);

/// Kinds that make a class, each with the turn that carries it into the class's frame.
pub(super) type Linked = Group<KindId>;

impl Kinds {
    /// Sorts members into kinds. `sizes` tells what the stock of each family has measured: bars of different
    /// stock are different pieces, however alike their notches.
    pub(super) fn of<'m>(
        members: impl IntoIterator<Item = (MemberId, &'m Member)>,
        sizes: &Column<Family, BarSize>,
    ) -> Self {
        let mut kinds: Table<Kind> = Table::new();
        let mut by_count: std::collections::BTreeMap<usize, Vec<KindId>> = Default::default();
        for (m, member) in members {
            let piece = Piece::of(member, sizes[member.family]);
            let alike = by_count.entry(piece.cuts.len()).or_default();
            let found = alike.iter().find_map(|&k| {
                let same = |t: &Piece| t.apart(&piece, SAME_FIGURE) <= SAME_FIGURE;
                let turn = kinds[k].turned.iter().position(same)?;
                Some((k, Turn::ALL[turn]))
            });
            match found {
                Some((k, turn)) => kinds[k].others.push((m, turn)),
                None => alike.push(kinds.push(Kind {
                    turned: Turn::ALL.map(|t| piece.turned(t)),
                    first: m,
                    others: Vec::new(),
                })),
            }
        }
        Self(kinds)
    }

    /// All kinds, in the order of their first members.
    pub(super) fn ids(&self) -> Vec<KindId> {
        self.0.ids().collect()
    }

    /// A value for every kind.
    pub(super) fn column<V>(&self, mut value: impl FnMut(KindId) -> V) -> Column<Kind, V> {
        self.0.column(|k, _| value(k))
    }

    /// Links kinds that are all within `within` of each other, mm or degrees: complete linkage, nearest first.
    pub(super) fn linked(&self, of: &[KindId], within: f64) -> Vec<Linked> {
        // By length, then by the least of its turned pieces: whichever member came first, and however it lies.
        let mut order = of.to_vec();
        order.sort_by_cached_key(|&k| (self.0[k].least_sizes(), k));
        let most = within + ROUND_OFF;
        let mut near = Vec::new();
        for (a, &k) in order.iter().enumerate() {
            let piece = &self.0[k].turned[0];
            for (b, &other) in order.iter().enumerate().skip(a + 1) {
                let turned = &self.0[other].turned;
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
        link(&order, near)
    }

    /// Each kind by itself.
    pub(super) fn apart(&self) -> Vec<Linked> {
        self.0.ids().map(Group::of_one).collect()
    }

    /// The first member of a group, its kind, and the turn that carries its kind into the group's frame.
    fn first_of(&self, group: &Linked) -> (MemberId, KindId, Turn) {
        let own = |(k, turn): (KindId, Turn)| (self.0[k].first, k, turn);
        let first = own((group.first, Turn::None));
        let sooner = |a: (MemberId, KindId, Turn), b: (MemberId, KindId, Turn)| {
            if b.0 < a.0 { b } else { a }
        };
        group.entries().map(own).fold(first, sooner)
    }

    /// Groups in the order of their first members.
    pub(super) fn sort(&self, groups: &mut [Linked]) {
        groups.sort_by_key(|group| self.first_of(group).0);
    }

    /// Makes a class of each group of kinds, in their order, and tells members their class, turn and place. A
    /// class lies as its first member does; one of several kinds is the mean of its members.
    pub(super) fn classes(&self, members: &mut Table<Member>, groups: &[Linked]) -> Table<Class> {
        let mut classes = Table::new();
        for group in groups {
            let mut list: Vec<(MemberId, KindId, Turn)> = Vec::new();
            for (k, turn) in group.entries() {
                // From a member to the first one of its kind, and on to the group's frame.
                let kind = &self.0[k];
                list.push((kind.first, k, turn));
                let others = kind.others.iter();
                list.extend(others.map(|&(m, own)| (m, k, own.then(turn))));
            }
            list.sort_by_key(|l| l.0);
            let (first, of, frame) = self.first_of(group);
            let pieces: Vec<InFrame> = list
                .into_iter()
                .map(|(member, k, turn)| {
                    let kind = &self.0[k];
                    let turn = kind.simplest(turn.then(frame));
                    let own = Piece::of(&members[member], kind.turned[0].size);
                    InFrame {
                        member,
                        turn,
                        piece: own.turned(turn),
                    }
                })
                .collect();
            let own = Piece::of(&members[first], self.0[of].turned[0].size);
            let several = !group.others.is_empty();
            let class = class_of(letters(classes.len()), (first, &own), &pieces, several);
            let c: ClassId = classes.next_id();
            for of in &pieces {
                let member = &mut members[of.member];
                member.class = c;
                member.turn = of.turn;
                member.shift = if several {
                    shift(&class, &of.piece, of.turn)
                } else {
                    0.0
                };
            }
            classes.push(class);
        }
        classes
    }
}

/// A member's piece turned into the frame of its class.
struct InFrame {
    member: MemberId,
    turn: Turn,
    piece: Piece,
}

impl Kind {
    /// The sizes of the least of its turned pieces.
    fn least_sizes(&self) -> Vec<i64> {
        let [a, b, c, d] = self.turned.each_ref().map(Piece::sizes);
        a.min(b).min(c).min(d)
    }

    /// Of the turns that come to the same as this one, the first of [`Turn::ALL`]: itself, if none before it does.
    fn simplest(&self, turn: Turn) -> Turn {
        let [as_it_is, ..] = &self.turned;
        let same = |t: &Turn| {
            let turned = &self.turned[turn.then(*t) as usize];
            turned.apart(as_it_is, SAME_FIGURE) <= SAME_FIGURE
        };
        let mut before = Turn::ALL.into_iter().take_while(|t| *t != turn);
        before.find(same).unwrap_or(turn)
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
fn class_of(id: String, first: (MemberId, &Piece), pieces: &[InFrame], mean: bool) -> Class {
    let (first, piece) = first;
    let of = |size: &dyn Fn(&Piece) -> f64| {
        if mean {
            pieces.iter().map(|p| size(&p.piece)).sum::<f64>() / pieces.len() as f64
        } else {
            size(piece)
        }
    };
    let notches = piece.cuts.iter().enumerate().map(|(i, cut)| {
        // Pieces of a class have the same notches in the same order.
        let size = |part: fn(&ClassNotch) -> f64| of(&|p| part(&p.cuts[i].notch));
        ClassNotch {
            at: size(|n| n.at),
            angle_deg: size(|n| n.angle_deg),
            width: size(|n| n.width),
            depth: size(|n| n.depth),
            run: size(|n| n.run),
            ..cut.notch
        }
    });
    Class {
        id,
        first,
        members: pieces.iter().map(|p| p.member).collect(),
        mean,
        length: of(&|p| p.length),
        ends: [0, 1].map(|end| End {
            angle_deg: of(&|p| p.ends[end].angle_deg),
            ..piece.ends[end]
        }),
        trimmed_by_hand: piece.trimmed,
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
