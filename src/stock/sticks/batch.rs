//! A group of pieces as the packing sees them: pieces that are alike to it are one kind.

use std::collections::BTreeMap;

use super::group::Group;
use super::pack::{Kind, Way};
use crate::geom::SAME_FIGURE;

/// A group as the packing sees it. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Batch {
    pub(super) kinds: Vec<Kind>,
    /// For each kind the pieces of the group, with their counts.
    pub(super) pieces: Vec<Vec<(usize, u64)>>,
    /// Wood that every stick has before its first joint.
    pub(super) lead: f64,
    /// Wood that every stick has past its last joint.
    pub(super) tail: f64,
}

/// Beyond so many different lengths the greatest is taken.
const MOST_LEADS: usize = 400;

impl Batch {
    /// Sorts the pieces of a group into kinds, for so many panels. Lead and tail are the least, in sum,
    /// with which every piece can lie first and last on a stick.
    pub(super) fn of(group: &Group, quantity: u32) -> Option<Self> {
        let ways: Vec<&[Way]> = group.pieces.iter().map(|p| p.1.as_slice()).collect();
        let (lead, tail) = lead_and_tail(&ways)?;
        let mut batch = Self {
            kinds: Vec::new(),
            pieces: Vec::new(),
            lead,
            tail,
        };
        let mut found: BTreeMap<(usize, Vec<[i64; 3]>), usize> = BTreeMap::new();
        for (p, (piece, ways)) in group.pieces.iter().enumerate() {
            let may = |w: &&Way| {
                w.ends.before <= lead + SAME_FIGURE && w.ends.after <= tail + SAME_FIGURE
            };
            let ways: Vec<Way> = ways.iter().filter(may).copied().collect();
            for way in &ways {
                batch.lead = batch.lead.max(way.ends.before);
                batch.tail = batch.tail.max(way.ends.after);
            }
            let whole = |v: f64| (v / SAME_FIGURE).round() as i64;
            let key = ways
                .iter()
                .map(|w| [w.phase as i64, whole(w.ends.before), whole(w.ends.after)]);
            let key = (piece.joints.len(), key.collect());
            let count = piece.members * u64::from(quantity);
            let k = *found.entry(key).or_insert(batch.kinds.len());
            match (batch.kinds.get_mut(k), batch.pieces.get_mut(k)) {
                (Some(kind), Some(of)) => {
                    kind.count += count;
                    of.push((p, count));
                }
                _ => {
                    let joints = piece.joints.len();
                    batch.kinds.push(Kind {
                        joints,
                        count,
                        ways,
                    });
                    batch.pieces.push(vec![(p, count)]);
                }
            }
        }
        Some(batch)
    }
}

/// The least wood before and past, in sum, with which every piece can lie in some way.
fn lead_and_tail(pieces: &[&[Way]]) -> Option<(f64, f64)> {
    let mut leads: Vec<f64> = pieces
        .iter()
        .flat_map(|ways| ways.iter().map(|w| w.ends.before))
        .collect();
    leads.sort_by(f64::total_cmp);
    leads.dedup_by(|a, b| (*a - *b).abs() <= SAME_FIGURE);
    if leads.len() > MOST_LEADS {
        leads.drain(..leads.len() - 1);
    }
    let tail_for = |lead: f64| {
        pieces.iter().try_fold(0.0, |tail: f64, ways| {
            let fitting = ways
                .iter()
                .filter(|w| w.ends.before <= lead + SAME_FIGURE)
                .map(|w| w.ends.after);
            Some(tail.max(fitting.min_by(f64::total_cmp)?))
        })
    };
    let pairs = leads
        .iter()
        .filter_map(|&lead| Some((lead, tail_for(lead)?)));
    pairs.min_by(|a, b| (a.0 + a.1).total_cmp(&(b.0 + b.1)))
}
