//! The plan of a coupon: a comb and bars, cut as the panel would be.

use super::error::JobError;
use super::plan::{Plan, flat_plan, head_checks, head_radius, lattice, sound_templates, strip};
use crate::lattice::{dry_fit, intended_shapes};
use crate::panel::{HeadKind, JobFiles, Method};
use crate::safety::{Check, failed, hold_checks, slot_check, strip_check};
use crate::setup::Comb;
use crate::stock::NestItem;

/// Plans a coupon for the machine, material, stock and post-processor of a panel. It is cut flat, as deep
/// as the panel. `progress` is told what is being done.
///
/// # Errors
/// Files that make no panel, and checks that fail: nothing can be written from either.
pub fn coupon_plan(mut files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, JobError> {
    sound_templates(&files)?;
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

    let cut = 2.0 * head_radius(&files);
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
    let pieces = comb.pieces(lattice.depth, least);
    let mut checks: Vec<Check> = slot_check(&pieces, cut).into_iter().collect();
    checks.extend(head_checks(&files, &pieces));
    checks.extend(strip(&files).map(strip_check));
    if failed(&checks) {
        return Err(JobError::Checks(checks));
    }
    let items: Vec<NestItem> = comb
        .copies()
        .into_iter()
        .filter_map(|(piece, id)| {
            let length = pieces.get(piece)?.length;
            Some(NestItem { piece, id, length })
        })
        .collect();
    progress("sheets");
    let mut flat = flat_plan(&files, lattice.depth, pieces, &items, "coupon", progress)?;
    for (sheet, program) in flat.layout.sheets.iter().zip(&mut flat.programs) {
        let after = program.notes.len().min(1);
        program.notes.splice(after..after, comb.notes());
        checks.extend(hold_checks(&flat.layout, sheet, program));
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
        flat: Some(flat),
        checks,
        warnings,
    })
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
