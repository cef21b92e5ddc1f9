//! Short pieces that stay joined end to end: chains long enough to be held, and where a saw parts them.
//!
//! Between two pieces of a chain lies a parting place as wide as the gap between their ends. A groove half
//! as deep as the stock is cut there over the whole depth of the bars: its walls are the pieces' true
//! ends. The other half of the thickness joins the pieces until they are sawn apart in the groove, and what
//! the saw leaves of it is pared off flush with the walls.

use std::collections::VecDeque;

use kurbo::{Point, Rect};

use super::flat::{Edge, FlatPiece, FlatSheet, Lies, PieceId, PlacementId, SideNotch};
use crate::geom::{Contour, SAME_FIGURE};
use crate::non_empty::NonEmpty;
use crate::table::{Id, Table};

/// Room for the saw within a groove, both sides together, mm (from memory).
pub const SAW_ROOM: f64 = 0.5;

/// A parting place on a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parting {
    /// The placement on its left.
    pub left: PlacementId,
    /// The placement on its right.
    pub right: PlacementId,
    /// What the groove takes of the bar, in the sheet's frame, mm: from end to end, from back edge to front
    /// edge.
    pub groove: Rect,
    /// What joins the pieces below the groove, in the sheet's frame: less than the groove where a notch
    /// runs out of an end, or the relief of one does.
    pub bridge: Rect,
    /// Height of the groove's floor above the bed, mm: half the thickness of the stock, to a thousandth.
    pub floor: f64,
}

impl Parting {
    /// The groove's outline.
    #[must_use]
    pub fn outline(&self) -> Contour {
        let r = self.groove;
        let corners = [(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1)];
        Contour::polygon(corners.map(Point::from))
    }
}

/// Width of the gap between chained pieces, mm: the tool's, or more where the saw takes more.
#[must_use]
pub fn parting_gap(tool_diameter: f64, saw_kerf: f64) -> f64 {
    tool_diameter.max(saw_kerf + SAW_ROOM)
}

impl FlatSheet {
    /// What is cut round as one: every chain, and every other piece by itself, in the order in which their first
    /// placement is listed.
    #[must_use]
    pub fn runs(&self) -> Vec<NonEmpty<PlacementId>> {
        let mut runs = Vec::new();
        for placement in self.placements.ids() {
            match self.chain_of(placement) {
                None => runs.push(NonEmpty::one(placement)),
                Some(chain) if chain.iter().min() == Some(&placement) => runs.push(chain.clone()),
                // Told with its first placement.
                Some(_) => {}
            }
        }
        runs
    }

    fn chain_of(&self, placement: PlacementId) -> Option<&NonEmpty<PlacementId>> {
        let has = |chain: &&NonEmpty<PlacementId>| chain.contains(&placement);
        self.chains.iter().find(has)
    }

    /// Whether a piece is joined to another at its first end (on the left), and at its last.
    #[must_use]
    pub fn joined(&self, placement: PlacementId) -> [bool; 2] {
        let chain = self.chain_of(placement);
        // A piece in no chain is joined to none.
        chain.map_or([false; 2], |c| {
            [*c.first() != placement, *c.last() != placement]
        })
    }

    /// Distance between the ends of the pieces of a chain, mm; 0 of a piece by itself.
    #[must_use]
    pub fn gap_of(&self, run: &NonEmpty<PlacementId>, pieces: &Table<FlatPiece>) -> f64 {
        let gap = run.pairs().next().map(|[&left, &right]| {
            let (a, b) = (&self.placements[left], &self.placements[right]);
            b.x - a.x - pieces[a.piece].length
        });
        gap.unwrap_or(0.0)
    }

    /// All parting places, chain by chain from left to right.
    #[must_use]
    pub fn partings(&self, pieces: &Table<FlatPiece>) -> Vec<Parting> {
        let pairs = self.chains.iter().flat_map(NonEmpty::pairs);
        pairs
            .map(|[&left, &right]| {
                let (a, b) = (&self.placements[left], &self.placements[right]);
                let (first, second) = (&pieces[a.piece], &pieces[b.piece]);
                let (x0, x1) = (a.x + first.length, b.x);
                let [z0, z1] = bridge(first, second);
                Parting {
                    left,
                    right,
                    groove: Rect::new(x0, a.y, x1, a.y + first.depth),
                    bridge: Rect::new(x0, a.y + z0, x1, a.y + z1),
                    floor: groove_floor(self.thickness),
                }
            })
            .collect()
    }
}

/// Height of a groove's floor above the bed, mm.
#[must_use]
pub fn groove_floor(thickness: f64) -> f64 {
    (0.5 * thickness * 1e3).round() / 1e3
}

/// How far the notches of an edge that run out of an end (the last one, else the first) reach in from that
/// edge.
fn run_out(piece: &FlatPiece, edge: Edge, last: bool) -> f64 {
    let out = |n: &&SideNotch| {
        n.edge == edge
            && if last {
                n.x1 >= piece.length - SAME_FIGURE
            } else {
                n.x0 <= SAME_FIGURE
            }
    };
    let notches = piece.notches.iter().filter(out);
    notches.map(|n| n.depth).fold(0.0, f64::max)
}

/// From where to where above the back edge wood joins two pieces end to end: notches that run out of
/// either end are cut on to the other piece's end, and reliefs near it reach into what lies between.
#[must_use]
pub fn bridge(left: &FlatPiece, right: &FlatPiece) -> [f64; 2] {
    let taken = |edge, side: usize| {
        let notches = run_out(left, edge, true).max(run_out(right, edge, false));
        notches.max(left.bitten[1][side]).max(right.bitten[0][side])
    };
    [taken(Edge::Back, 0), left.depth - taken(Edge::Front, 1)]
}

impl FlatPiece {
    /// Pieces joined end to end, `gap` mm apart, as one: what is cut round in one go. Notches that run out
    /// of an end within the chain go on to the next piece's end.
    #[must_use]
    pub fn chained(parts: &NonEmpty<&Self>, gap: f64) -> Self {
        let mut notches = Vec::new();
        let mut from = 0.0;
        let last = parts.gaps();
        for (k, part) in parts.iter().enumerate() {
            for n in &part.notches {
                let (mut x0, mut x1) = (n.x0, n.x1);
                if k > 0 && x0 <= SAME_FIGURE {
                    x0 = -gap;
                }
                if k < last && x1 >= part.length - SAME_FIGURE {
                    x1 = part.length + gap;
                }
                notches.push(SideNotch {
                    x0: from + x0,
                    x1: from + x1,
                    ..*n
                });
            }
            from += part.length + gap;
        }
        notches.sort_by(|a, b| a.x0.total_cmp(&b.x0));
        let names: Vec<&str> = parts.iter().map(|p| p.class.as_str()).collect();
        let (first, last) = (parts.first(), parts.last());
        let size = [(from - gap).max(0.0), first.depth];
        // Waste at both ends of the chain, as far as both its outermost pieces have it.
        Self::on_its_side(names.join("+"), size, notches, String::new())
            .with_trimmed(first.trimmed.min(last.trimmed))
    }
}

/// What makes a chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChainRules {
    /// Shorter pieces cannot be held one by one, mm.
    pub hold: f64,
    /// Between the ends of neighbours, mm.
    pub gap: f64,
    /// Longest chain that a row of the stock takes, mm.
    pub longest: f64,
    /// Least height of the wood that joins two pieces, mm.
    pub least_bridge: f64,
}

/// Joins short pieces to chains that are long enough to be held. `copies` are all that are to be cut, `piece_of` tells
/// the piece of each.
///
/// Only pieces on their side are joined, to others of their depth. Copies of one piece lie together, longest
/// first. A chain is closed as soon as it can be held, and what is
/// left over at the end goes to the chains that have room. Short pieces that find no place are in no chain:
/// the check of the length to hold refuses them.
#[must_use]
pub fn chains<T>(
    pieces: &Table<FlatPiece>,
    copies: &Table<T>,
    piece_of: impl Fn(&T) -> PieceId,
    rules: ChainRules,
) -> Vec<NonEmpty<Id<T>>> {
    let piece_of = |copy: Id<T>| piece_of(&copies[copy]);
    let piece = |copy: Id<T>| &pieces[piece_of(copy)];
    let joins = |a: Id<T>, b: Id<T>| {
        let (a, b) = (piece(a), piece(b));
        if [a, b].iter().any(|p| p.lies == Lies::OnBack) || a.depth != b.depth {
            return false;
        }
        let [z0, z1] = bridge(a, b);
        z1 - z0 >= rules.least_bridge - SAME_FIGURE
    };
    let sum = |chain: &NonEmpty<Id<T>>| {
        let wood: f64 = chain.iter().map(|&c| piece(c).length).sum();
        wood + rules.gap * chain.gaps() as f64
    };
    let held = |chain: &NonEmpty<Id<T>>| sum(chain) >= rules.hold - SAME_FIGURE;
    let fits = |chain: &NonEmpty<Id<T>>, more: Id<T>| {
        sum(chain) + rules.gap + piece(more).length <= rules.longest + SAME_FIGURE
    };

    let mut short: Vec<Id<T>> = copies.ids().filter(|&c| !held(&NonEmpty::one(c))).collect();
    short.sort_by(|&a, &b| {
        (piece(b).length.total_cmp(&piece(a).length))
            .then(piece_of(a).cmp(&piece_of(b)))
            .then(a.cmp(&b))
    });
    // Copies of one piece are alike: the next one of each is all that is looked at.
    let alike = short.chunk_by(|&a, &b| piece_of(a) == piece_of(b));
    let mut left: Vec<VecDeque<Id<T>>> = alike.map(|own| own.iter().copied().collect()).collect();
    let mut chains: Vec<NonEmpty<Id<T>>> = Vec::new();
    let mut over: Vec<Id<T>> = Vec::new();
    while let Some(first) = left.iter_mut().find_map(VecDeque::pop_front) {
        let mut chain = NonEmpty::one(first);
        while !held(&chain) {
            let end = *chain.last();
            let next = left.iter_mut().find_map(|own| {
                let next = own.front().copied();
                next.filter(|&c| joins(end, c) && fits(&chain, c))
                    .and_then(|_| own.pop_front())
            });
            let Some(next) = next else { break };
            chain.push(next);
        }
        if held(&chain) {
            chains.push(chain);
        } else {
            over.extend(chain.iter());
        }
    }
    for copy in over {
        for chain in chains.iter_mut().filter(|chain| fits(chain, copy)) {
            if joins(*chain.last(), copy) {
                chain.push(copy);
                break;
            }
            if joins(copy, *chain.first()) {
                chain.push_front(copy);
                break;
            }
        }
    }
    chains
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(class: &str, length: f64, notches: Vec<SideNotch>) -> FlatPiece {
        FlatPiece::on_its_side(class.into(), [length, 12.0], notches, String::new())
    }

    fn notch(x0: f64, x1: f64, edge: Edge, depth: f64) -> SideNotch {
        SideNotch {
            x0,
            x1,
            edge,
            depth,
        }
    }

    const RULES: ChainRules = ChainRules {
        hold: 80.0,
        gap: 3.0,
        longest: 150.0,
        least_bridge: 3.0,
    };

    /// The places of copies in chains, where each copy tells the place of its piece.
    fn chains(pieces: &[FlatPiece], copies: &[usize], rules: ChainRules) -> Vec<Vec<usize>> {
        let pieces: Table<FlatPiece> = pieces.iter().cloned().collect();
        let copies: Table<usize> = copies.iter().copied().collect();
        let piece_of = |&piece: &usize| pieces.id(piece).expect("a piece");
        let chains = super::chains(&pieces, &copies, piece_of, rules);
        let places = |chain: &NonEmpty<Id<usize>>| chain.iter().map(|id| id.index()).collect();
        chains.iter().map(places).collect()
    }

    fn lengths(pieces: &[FlatPiece], copies: &[usize], chains: &[Vec<usize>]) -> Vec<f64> {
        let of = |chain: &Vec<usize>| {
            let wood: f64 = chain.iter().map(|&c| pieces[copies[c]].length).sum();
            wood + 3.0 * (chain.len() - 1) as f64
        };
        chains.iter().map(of).collect()
    }

    #[test]
    fn chains_are_long_enough_to_hold_and_short_enough_for_the_stock() {
        let pieces = [
            piece("A", 50.0, vec![]),
            piece("B", 30.0, vec![]),
            piece("C", 80.0, vec![]),
        ];
        let copies = [1, 0, 2, 1, 0, 1, 2, 1];
        let found = chains(&pieces, &copies, RULES);
        let sizes = lengths(&pieces, &copies, &found);
        assert!(
            sizes.iter().all(|l| (80.0..=150.0).contains(l)),
            "{found:?}: {sizes:?}"
        );
        let mut all: Vec<usize> = found.concat();
        all.sort_unstable();
        assert_eq!(
            all,
            [0, 1, 3, 4, 5, 7],
            "every short piece once, no long one"
        );
        // 50 + 3 + 30 is 83; of 80.001 two of 38.5 fall short by a thousandth.
        let tight = [piece("D", 38.5, vec![])];
        let of = |hold| chains(&tight, &[0, 0], ChainRules { hold, ..RULES });
        assert_eq!(of(80.0), [vec![0, 1]]);
        assert!(of(80.001).is_empty(), "not to be held");
        let long = |longest| chains(&tight, &[0, 0], ChainRules { longest, ..RULES });
        assert_eq!(long(80.0), [vec![0, 1]]);
        assert!(long(79.999).is_empty(), "no row takes it");
    }

    #[test]
    fn what_is_left_over_goes_to_a_chain() {
        let pieces = [piece("A", 50.0, vec![])];
        for (copies, want) in [(1, 0), (2, 1), (3, 1), (4, 2), (5, 2)] {
            let list = vec![0; copies];
            let longest = 3.0 * 50.0 + 6.0;
            let found = chains(&pieces, &list, ChainRules { longest, ..RULES });
            assert_eq!(found.len(), want, "{copies} copies: {found:?}");
            let placed: usize = found.iter().map(Vec::len).sum();
            assert_eq!(placed, if copies == 1 { 0 } else { copies });
        }
        let found = chains(
            &pieces,
            &[0; 3],
            ChainRules {
                longest: 155.9,
                ..RULES
            },
        );
        assert_eq!(found.concat().len(), 2, "no room for the third");
    }

    #[test]
    fn notches_that_run_out_of_ends_thin_the_bridge() {
        let back = piece("A", 50.0, vec![notch(-2.0, 2.0, Edge::Back, 6.0)]);
        let front = piece("B", 50.0, vec![notch(48.0, 52.0, Edge::Front, 5.0)]);
        assert_eq!(
            bridge(&back, &back),
            [6.0, 12.0],
            "the right one's first end"
        );
        assert_eq!(bridge(&back, &front), [0.0, 12.0], "no notch at these ends");
        assert_eq!(bridge(&front, &back), [6.0, 7.0], "one from either edge");
        let pieces = [back, front];
        // Front before back leaves 1: too thin, so the other way round.
        let found = chains(&pieces, &[1, 0], RULES);
        assert_eq!(
            found,
            [vec![1, 0]],
            "the piece without a notch there comes first"
        );
        let both = piece(
            "C",
            50.0,
            vec![
                notch(-2.0, 2.0, Edge::Back, 6.0),
                notch(48.0, 52.0, Edge::Front, 6.0),
            ],
        );
        assert!(
            chains(&[both], &[0, 0], RULES).is_empty(),
            "nothing joins them"
        );
    }

    #[test]
    fn reliefs_past_an_end_thin_the_bridge() {
        let mut left = piece("A", 50.0, vec![notch(45.0, 49.0, Edge::Front, 5.0)]);
        let right = piece("B", 50.0, vec![notch(-2.0, 2.0, Edge::Back, 6.0)]);
        assert_eq!(bridge(&left, &right), [6.0, 12.0], "none");
        left.bitten = [[9.0, 9.0], [0.0, 2.5]];
        assert_eq!(bridge(&left, &right), [6.0, 9.5], "its last end's alone");
        let mut bitten = right.clone();
        bitten.bitten = [[7.25, 0.0], [9.0, 9.0]];
        assert_eq!(bridge(&left, &bitten), [7.25, 9.5], "deeper than the notch");
    }

    #[test]
    fn joined_pieces_are_one_outline() {
        let a = piece("A", 50.0, vec![notch(48.0, 52.0, Edge::Front, 5.0)]);
        let b = piece("B", 40.0, vec![notch(18.0, 22.0, Edge::Back, 6.0)]);
        let chain = FlatPiece::chained(&NonEmpty::of([&a, &b]).expect("two"), 3.0);
        assert_eq!((chain.length, chain.class.as_str()), (93.0, "A+B"));
        // The rectangle, less the end notch carried on over the gap, less the other notch.
        let area = 93.0 * 12.0 - 5.0 * 5.0 - 4.0 * 6.0;
        assert!(
            (chain.drawn.area() - area).abs() < 1e-9,
            "{:?}",
            chain.drawn
        );
    }
}
