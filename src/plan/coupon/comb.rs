//! The comb of a coupon, however it is cut.

use crate::panel::JobFiles;
use crate::plan::error::PlanError;
use crate::safety::{Check, CheckId, Unit};
use crate::setup::{Comb, CombSpec, CouponKind};

/// What a comb for bars of this thickness is made for; a `beam` or a cutter cuts it, `cut` mm wide.
pub(super) fn spec(
    files: &JobFiles,
    kind: CouponKind,
    bar: [f64; 2],
    cut: f64,
    beam: bool,
) -> CombSpec {
    let material = &files.material;
    CombSpec {
        kind,
        bar,
        cut,
        beam,
        crossing_deg: None,
        clearance: files.panel.cut.clearance,
        limits: [-material.press, material.play],
    }
}

/// The comb; a cutter that goes into too few of its notches fails a check.
pub(super) fn comb(spec: CombSpec) -> Result<Comb, PlanError> {
    let cut = spec.cut;
    Comb::new(spec).map_err(|widest| {
        let place = "the three widest notches of the coupon";
        let check = Check::at_least(CheckId::SlotWidth, widest, cut, Unit::Mm, place);
        PlanError::Checks(vec![check])
    })
}

/// Wood to keep between two notches, mm: `least` is what the material needs.
pub(super) fn land(bar: [f64; 2], least: f64) -> f64 {
    /// Narrowest land, mm, and in bars: what fingers can hold (common practice, no source).
    const LAND: f64 = 4.0;
    const LAND_BARS: f64 = 2.0;
    (LAND_BARS * bar[1]).max(LAND).max(least)
}
