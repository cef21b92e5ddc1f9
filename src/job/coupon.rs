//! The plan of a coupon: a comb and bars, cut as the panel would be.

use super::dialect::try_dialect;
use super::error::JobError;
use super::flat::{Batch, FlatPlan, HeadSettings};
use super::plan::{Cutting, Plan, lattice};
use crate::lattice::{dry_fit, intended_shapes};
use crate::panel::{HeadKind, JobFiles, Method, Relief};
use crate::safety::{Check, failed};
use crate::setup::Comb;
use crate::stock::NestItem;

/// Plans a coupon for the machine, material, stock and post-processor of a panel. It is cut flat, as deep
/// as the panel. `progress` is told what is being done.
///
/// # Errors
/// Files that make no panel, and checks that fail: nothing can be written from either.
pub fn coupon_plan(mut files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, JobError> {
    try_dialect(&files)?;
    let mut lattice = lattice(&files)?;
    lattice.nodes.clear();
    lattice.members.clear();
    lattice.classes.clear();
    lattice.order.clear();
    lattice.least_web = None;
    let meant = dry_fit(&lattice, &intended_shapes(&lattice), 0.0);
    // What holds for the panel's own bars and not for these.
    files.panel.name.push_str(", coupon");
    files.panel.quantity = 1;
    files.panel.outline.overhang = 0.0;
    files.panel.cut.method = Method::Flat;
    // Other reliefs would leave narrow notches no floor to seat on.
    if files.panel.cut.relief != Relief::None {
        files.panel.cut.relief = Relief::Floor;
    }

    let head = HeadSettings::of(&files)?;
    let cut = 2.0 * head.radius();
    let (beam, least) = match &files.machine.head {
        HeadKind::Laser(_) => (true, 0.0),
        HeadKind::Router(router) => (false, router.hold_length),
    };
    let comb = Comb::new(files.material.thickness, cut, beam).map_err(|widest| {
        let place = "the three widest notches of the coupon";
        JobError::Checks(vec![Check::at_least(
            "slot-width",
            widest,
            cut,
            "mm",
            place,
        )])
    })?;
    let mut checks = Vec::new();
    let batch = batch(&comb, lattice.depth, least);
    let mut flat = FlatPlan::of(&files, &head, batch, &mut checks, progress)?;
    for program in &mut flat.programs {
        let after = program.notes.len().min(1);
        program.notes.splice(after..after, comb.notes());
    }
    if failed(&checks) {
        return Err(JobError::Checks(checks));
    }
    let mut warnings = Vec::new();
    if comb.shortened {
        let narrowest = comb.widths.first().copied().unwrap_or(0.0);
        warnings.push(format!(
            "narrower notches than {narrowest} mm are left out, the cut being {cut} mm wide: a bar that \
             is loose in notch 1 tells no more than that the cut is wider than written"
        ));
    }
    Ok(Plan {
        files,
        lattice,
        meant,
        coupon: Some(comb),
        cutting: Cutting::Flat(Box::new(flat)),
        checks,
        warnings,
    })
}

fn batch(comb: &Comb, depth: f64, least: f64) -> Batch {
    let pieces = comb.pieces(depth, least);
    let items = comb
        .copies()
        .into_iter()
        .filter_map(|(piece, id)| {
            let length = pieces.get(piece)?.length;
            Some(NestItem { piece, id, length })
        })
        .collect();
    Batch {
        name: "coupon",
        depth,
        pieces,
        items,
    }
}

/// Whether a `job.json` says that its setups cut a coupon.
pub(super) fn is_coupon(job: &[u8]) -> bool {
    let job: serde_json::Value = serde_json::from_slice(job).unwrap_or_default();
    let setups = job.get("setups").and_then(|s| s.as_array());
    setups.is_some_and(|list| {
        let says = |setup: &serde_json::Value| setup.get("coupon") == Some(&true.into());
        list.iter().any(says)
    })
}
