//! A group of pieces as the packing sees them: pieces that are alike to it are one kind.

use std::collections::BTreeMap;

use super::group::{Group, GroupPiece};
use super::pack::{Kind, Way};
use crate::geom::SAME_FIGURE;
use crate::non_empty::NonEmpty;
use crate::table::{Column, Table};

/// Pieces of a group that are one to the packing, and how many there are of each.
pub(super) type Counted<'a> = Vec<(&'a GroupPiece, u64)>;

/// A group as the packing sees it. Lengths are mm.
#[derive(Debug)]
pub(super) struct Batch<'a> {
    pub(super) kinds: Table<Kind>,
    /// The pieces of each kind.
    pub(super) pieces: Column<Kind, Counted<'a>>,
    /// Wood that every stick has before its first joint.
    pub(super) lead: f64,
    /// Wood that every stick has past its last joint.
    pub(super) tail: f64,
}

/// Beyond so many different lengths the greatest is taken.
const MOST_LEADS: usize = 400;

impl<'a> Batch<'a> {
    /// Sorts the pieces of a group into kinds, for so many panels. Lead and tail are the least, in sum,
    /// with which every piece can lie first and last on a stick.
    pub(super) fn of(group: &'a Group, quantity: u32) -> Self {
        let [least_lead, least_tail] = lead_and_tail(&group.pieces);
        let (mut lead, mut tail) = (least_lead, least_tail);
        let mut found: BTreeMap<(usize, Vec<[i64; 3]>), usize> = BTreeMap::new();
        let mut rows: Vec<(Kind, Counted<'a>)> = Vec::new();
        for of in &group.pieces {
            let may = |w: &&Way| {
                w.ends.before <= least_lead + SAME_FIGURE
                    && w.ends.after <= least_tail + SAME_FIGURE
            };
            let ways = NonEmpty::of(of.ways.iter().filter(may).copied());
            // Lead and tail are such that each piece has one.
            let ways = ways.expect("a way for every piece");
            for way in &ways {
                lead = lead.max(way.ends.before);
                tail = tail.max(way.ends.after);
            }
            let whole = |v: f64| (v / SAME_FIGURE).round() as i64;
            let key = ways
                .iter()
                .map(|w| [w.phase as i64, whole(w.ends.before), whole(w.ends.after)]);
            let joints = of.piece.joints.len();
            let key = (joints, key.collect());
            let count = of.piece.members * u64::from(quantity);
            let row = *found.entry(key).or_insert(rows.len());
            match rows.get_mut(row) {
                Some((kind, pieces)) => {
                    kind.count += count;
                    pieces.push((of, count));
                }
                None => {
                    let kind = Kind {
                        joints,
                        count,
                        ways,
                    };
                    rows.push((kind, vec![(of, count)]));
                }
            }
        }
        let (kinds, pieces) = Table::with_column(rows);
        Self {
            kinds,
            pieces,
            lead,
            tail,
        }
    }
}

/// The least wood before and past, in sum, with which every piece can lie in some way.
fn lead_and_tail(pieces: &NonEmpty<GroupPiece>) -> [f64; 2] {
    let ways = || pieces.iter().flat_map(|p| &p.ways);
    let mut leads: Vec<f64> = ways().map(|w| w.ends.before).collect();
    leads.sort_by(f64::total_cmp);
    leads.dedup_by(|a, b| (*a - *b).abs() <= SAME_FIGURE);
    if leads.len() > MOST_LEADS {
        leads.drain(..leads.len() - 1);
    }
    let tail_for = |lead: f64| {
        pieces.iter().try_fold(0.0, |tail: f64, of| {
            let fitting = of
                .ways
                .iter()
                .filter(|w| w.ends.before <= lead + SAME_FIGURE)
                .map(|w| w.ends.after);
            Some(tail.max(fitting.min_by(f64::total_cmp)?))
        })
    };
    let pairs = leads
        .iter()
        .filter_map(|&lead| Some([lead, tail_for(lead)?]));
    let least = pairs.min_by(|a, b| (a[0] + a[1]).total_cmp(&(b[0] + b[1])));
    // Every way fits the greatest lead.
    least.expect("the greatest lead is enough for every piece")
}
