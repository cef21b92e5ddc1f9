//! Writes a settled class down: its notches, and its sticks with every piece in its place.

use std::collections::BTreeMap;

use super::batch::Batch;
use super::choose::Choice;
use super::group::{Group, SQUARE};
use super::pack::Slot;
use super::{Stick, StickClass, StickPiece, StickPlan};
use crate::lattice::{ClassNotch, FamilyId, JointShape};
use crate::panel::DatumEnd;

/// What every stick of a class has, beside its notches. Lengths are mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sizes {
    pub(super) lead: f64,
    pub(super) tail: f64,
    pub(super) length: f64,
    pub(super) spares: u32,
    pub(super) datum: DatumEnd,
}

/// Adds a class and its sticks to the plan.
pub(super) fn lay_out(
    plan: &mut StickPlan,
    group: &Group,
    batch: Batch,
    choice: &Choice,
    sizes: Sizes,
) {
    let index = plan.classes.len();
    let id = format!("stick-{}", index + 1);
    let place = |joint: usize| {
        let at = |j: usize| group.pattern.place((choice.phase + j) as i64);
        sizes.lead + at(joint) - at(0)
    };
    let (mut notches, mut node_of) = (Vec::new(), Vec::new());
    for joint in 0..choice.joints {
        for n in group.pattern.notches((choice.phase + joint) as i64) {
            node_of.push(joint);
            notches.push(ClassNotch {
                at: place(joint) + n.off,
                edge: n.edge,
                angle_deg: n.angle_deg,
                width: n.width,
                depth: n.depth,
                shape: JointShape::Skew,
                run: n.run(),
            });
        }
    }
    let of_group = group.pieces.iter();
    let mut families: Vec<FamilyId> = of_group.flat_map(|(p, _)| p.families.clone()).collect();
    families.sort_unstable();
    families.dedup();

    let Batch {
        kinds,
        pieces: mut left,
        ..
    } = batch;
    // Pieces are taken from the end of the list.
    left.iter_mut().for_each(|of| of.reverse());
    let mut sticks: Vec<Stick> = Vec::new();
    for filled in &choice.packing.sticks {
        let mut times = filled.times;
        while times > 0 {
            let (taken, again) = take(&mut left, &filled.slots, times);
            times -= again;
            let slots = filled.slots.iter().zip(&taken);
            let pieces = slots.filter_map(|(slot, p)| {
                let (piece, ways) = group.pieces.get(*p)?;
                let place_of = kinds.get(slot.kind)?.ways.get(slot.way)?;
                // Pieces of a kind need the same room, but may be turned differently to lie there.
                let way = ways.iter().find(|w| w.lies_like(place_of))?;
                let from = place(slot.first) - piece.front(way.turn);
                Some(StickPiece {
                    class: piece.class,
                    first_joint: slot.first + 1,
                    joints: piece.joints.len(),
                    turn: way.turn,
                    cut: [from, from + (piece.cut[1] - piece.cut[0])],
                })
            });
            let pieces: Vec<StickPiece> = pieces.collect();
            let again = u32::try_from(again).unwrap_or(u32::MAX);
            match sticks.iter_mut().find(|s| s.pieces == pieces) {
                Some(same) => same.count = same.count.saturating_add(again),
                None => sticks.push(Stick {
                    id: format!("{id}-{}", sticks.len() + 1),
                    class: index,
                    pieces,
                    count: again,
                    spares: if sticks.is_empty() { sizes.spares } else { 0 },
                }),
            }
        }
    }
    plan.classes.push(StickClass {
        id,
        families,
        face: group.face(),
        joints: choice.joints,
        length: sizes.length,
        lead: sizes.lead,
        tail: sizes.tail,
        ends: [group.datum_end(sizes.datum), SQUARE],
        notches,
        node_of,
        joint_at: (0..choice.joints).map(place).collect(),
        count: u32::try_from(choice.packing.used).unwrap_or(u32::MAX),
        spares: sizes.spares,
        regular: group.regular,
        optimal: choice.optimal,
    });
    plan.sticks.append(&mut sticks);
}

/// Takes a piece for each slot, of the first class of its kind that has any left; and as many times as
/// the same can be taken again. What is used up is dropped.
fn take(left: &mut [Vec<(usize, u64)>], slots: &[Slot], times: u64) -> (Vec<usize>, u64) {
    let mut pieces = Vec::with_capacity(slots.len());
    let mut taken: BTreeMap<(usize, usize), u64> = BTreeMap::new();
    for slot in slots {
        let of = left.get(slot.kind).map_or(&[][..], Vec::as_slice);
        let used = |p: usize| taken.get(&(slot.kind, p)).copied().unwrap_or(0);
        // The last of the list, which is dropped at no cost.
        let open = of.iter().rev().find(|&&(p, n)| n > used(p));
        let p = open.map_or(usize::MAX, |o| o.0);
        *taken.entry((slot.kind, p)).or_default() += 1;
        pieces.push(p);
    }
    let near_end = |of: &[(usize, u64)], p: usize| of.iter().rposition(|o| o.0 == p);
    let mut again = times;
    for (&(kind, p), &n) in &taken {
        let of = left.get(kind).map_or(&[][..], Vec::as_slice);
        let there = near_end(of, p).and_then(|i| of.get(i)).map_or(0, |o| o.1);
        again = again.min((there / n).max(1));
    }
    for (&(kind, p), &n) in &taken {
        let Some(of) = left.get_mut(kind) else {
            continue;
        };
        if let Some(i) = near_end(of, p)
            && let Some(entry) = of.get_mut(i)
        {
            entry.1 = entry.1.saturating_sub(n * again);
        }
        while of.last().is_some_and(|o| o.1 == 0) {
            of.pop();
        }
    }
    (pieces, again)
}
