//! What the sticks of a class bring to the bench.

use super::first_pieces::{back_edge, first_ends};
use crate::lattice::Lattice;
use crate::non_empty::NonEmpty;
use crate::plan::error::PlanError;
use crate::setup::{Comb, GangStick};
use crate::stock::{Stick, StickClassId, StickId, StickPlan};

/// What sticks are notched for.
#[derive(Debug, Clone, Copy)]
pub(in crate::plan) enum Notched<'a> {
    /// The members of a ground, which are cross-cut from them.
    Members(&'a Lattice),
    /// A coupon, as deep as this, mm: the sticks themselves.
    Comb {
        /// Its notches.
        comb: &'a Comb,
        /// From back to front, mm.
        depth: f64,
    },
}

impl<'a> Notched<'a> {
    /// From back to front, mm.
    pub(super) fn depth(self) -> f64 {
        match self {
            Self::Members(lattice) => lattice.depth,
            Self::Comb { depth, .. } => depth,
        }
    }

    pub(super) fn comb(self) -> Option<&'a Comb> {
        match self {
            Self::Members(_) => None,
            Self::Comb { comb, .. } => Some(comb),
        }
    }

    /// How the names of the programs of slots begin.
    pub(super) fn stem(self) -> &'static str {
        match self {
            Self::Members(_) => "slots",
            Self::Comb { comb, .. } => comb.spec.kind.name(),
        }
    }
}

/// What a class of sticks brings to the bench.
///
/// # Errors
/// A class without notches, which is none to be clamped.
pub(super) fn gang_stick(
    notched: Notched<'_>,
    sticks: &StickPlan,
    id: StickClassId,
) -> Result<GangStick, PlanError> {
    let class = &sticks.classes[id];
    let notches = NonEmpty::of(class.notches.iter().cloned());
    let point = class.ends[0].angle_deg;
    let ([begun, hidden_to], back) = match notched {
        Notched::Members(lattice) => (
            first_ends(lattice, sticks, id),
            back_edge(lattice, sticks, id),
        ),
        Notched::Comb { .. } => ([0.0, f64::INFINITY], None),
    };
    // Each stick as often as there are of it.
    let each = |count: fn(&Stick) -> u32| -> Vec<StickId> {
        let of = sticks.of_class(id);
        of.flat_map(|(id, stick)| std::iter::repeat_n(id, count(stick) as usize))
            .collect()
    };
    Ok(GangStick {
        id: class.id.clone(),
        face: class.face[1],
        spread: class.face[1] - class.face[0],
        depth: notched.depth(),
        length: class.length,
        point_deg: point.min(180.0 - point),
        notches: notches
            .ok_or_else(|| PlanError::Internal(format!("sticks {} have no notch", class.id)))?,
        kept: each(|stick| stick.count),
        spares: each(|stick| stick.spares),
        begun,
        hidden_to,
        back,
    })
}
