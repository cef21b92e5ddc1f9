//! Writes a settled class down: its notches, and its sticks with every piece in its place.

use std::collections::BTreeMap;

use super::batch::Counted;
use super::choose::Choice;
use super::group::{Group, GroupPiece, SQUARE};
use super::pack::{Kind, KindId, Slot};
use super::{Stick, StickClass, StickClassId, StickPiece, StickPlan};
use crate::lattice::{ClassNotch, FamilyId, JointShape};
use crate::panel::DatumEnd;
use crate::table::Column;

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
    pieces: Column<Kind, Counted<'_>>,
    choice: &Choice,
    sizes: Sizes,
) {
    let id = format!("stick-{}", plan.classes.len() + 1);
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
    let mut families: Vec<FamilyId> = of_group.flat_map(|p| p.piece.families.clone()).collect();
    families.sort_unstable();
    families.dedup();
    let class = plan.classes.push(StickClass {
        id: id.clone(),
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
        count: whole(choice.packing.used),
        spares: sizes.spares,
        regular: group.regular,
        optimal: choice.optimal,
    });
    for stick in sticks((class, &id), pieces, choice, sizes.spares, place) {
        plan.sticks.push(stick);
    }
}

/// The sticks of a class, with every piece in its place.
fn sticks(
    (class, id): (StickClassId, &str),
    mut left: Column<Kind, Counted<'_>>,
    choice: &Choice,
    spares: u32,
    place: impl Fn(usize) -> f64,
) -> Vec<Stick> {
    // Pieces are taken from the end of the list.
    left.iter_mut().for_each(|of| of.reverse());
    let mut sticks: Vec<Stick> = Vec::new();
    for filled in &choice.packing.sticks {
        let mut times = filled.times;
        while times > 0 {
            let (taken, again) = take(&mut left, &filled.slots, times);
            times -= again;
            let slots = filled.slots.iter().zip(taken);
            let pieces: Vec<StickPiece> = slots.map(|(slot, of)| laid(slot, of, &place)).collect();
            match sticks.iter_mut().find(|s| s.pieces == pieces) {
                Some(same) => same.count = whole(u64::from(same.count) + again),
                None => sticks.push(Stick {
                    id: format!("{id}-{}", sticks.len() + 1),
                    class,
                    pieces,
                    count: whole(again),
                    spares: if sticks.is_empty() { spares } else { 0 },
                }),
            }
        }
    }
    sticks
}

/// A piece in its place.
fn laid(slot: &Slot, of: &GroupPiece, place: impl Fn(usize) -> f64) -> StickPiece {
    let GroupPiece { piece, ways } = of;
    // Pieces of a kind need the same room, but may be turned differently to lie there: to a way of one belongs one
    // of every other, for that is what makes them a kind.
    let way = ways.iter().find(|w| w.lies_like(&slot.way));
    let way = way.expect("pieces of a kind lie alike");
    let from = place(slot.first) - piece.front(way.turn);
    StickPiece {
        class: piece.class,
        first_joint: slot.first + 1,
        joints: piece.joints.len(),
        turn: way.turn,
        cut: [from, from + (piece.cut[1] - piece.cut[0])],
    }
}

/// A number of sticks.
fn whole(sticks: u64) -> u32 {
    // A job of more pieces than that is refused before its sticks are planned.
    u32::try_from(sticks).expect("no more sticks than a job may have pieces")
}

/// Takes a piece for each slot, of the first class of its kind that has any left; and as many times as
/// the same can be taken again. What is used up is dropped.
fn take<'a>(
    left: &mut Column<Kind, Counted<'a>>,
    slots: &[Slot],
    times: u64,
) -> (Vec<&'a GroupPiece>, u64) {
    let mut pieces = Vec::with_capacity(slots.len());
    // How many are taken, by kind and place in its list.
    let mut taken: BTreeMap<(KindId, usize), u64> = BTreeMap::new();
    for slot in slots {
        let used = |place: usize| taken.get(&(slot.kind, place)).copied().unwrap_or(0);
        // The last of the list, which is dropped at no cost.
        let mut open = left[slot.kind].iter().enumerate().rev();
        let open = open.find(|(place, (_, n))| *n > used(*place));
        // A packing has each kind as often as there are pieces of it.
        let (place, (piece, _)) = open.expect("a piece for every slot");
        *taken.entry((slot.kind, place)).or_default() += 1;
        pieces.push(*piece);
    }
    let often = taken
        .iter()
        .map(|(&(kind, place), n)| left[kind][place].1 / n);
    let again = often.fold(times, |again, often| again.min(often.max(1)));
    for (&(kind, place), n) in &taken {
        let of = &mut left[kind][place].1;
        *of = of.saturating_sub(n * again);
    }
    for &(kind, _) in taken.keys() {
        let of = &mut left[kind];
        while of.last().is_some_and(|o| o.1 == 0) {
            of.pop();
        }
    }
    (pieces, again)
}
