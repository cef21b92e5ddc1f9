//! The plan of a coupon: a comb and bars, cut as the panel would be.

mod comb;
mod edge_up;

use comb::{comb, land, spec};

use super::controller::rounded_corners;
use super::error::PlanError;
use super::flat::{Batch, FlatPlan};
use super::head::{CuttingHead, Way};
use super::hold_advice::plan_with_advice;
use super::panel::{ground, shallow};
use super::room::reach;
use super::whole::{CouponPlan, Cuts, Cutting, Plan, Product};
use crate::document::Numbers;
use crate::panel::{JobFiles, Relief};
use crate::path::{Note, NoteKind};
use crate::safety::{
    Bites, Check, CheckId, Corners, Unit, clearance_checks, failed, fillet_check, path_mode_check,
};
use crate::setup::{BatchKind, Comb, CombSize, CouponKind, least_height, least_land};
use crate::stock::NestItem;
use crate::table::Table;

/// Plans a coupon for the machine, material, stock and post-processor of a panel. It is as deep as the panel,
/// and cut as the panel is: flat, or edge up in a small gang. `progress` is told what is being done.
///
/// # Errors
/// Files that make no panel, and checks that fail: nothing can be written from either.
pub fn coupon_plan(
    files: JobFiles,
    kind: CouponKind,
    progress: &mut dyn FnMut(&str),
) -> Result<Plan, PlanError> {
    plan_with_advice(files, |files| planned(files, kind, progress))
}

fn planned(
    mut files: JobFiles,
    kind: CouponKind,
    progress: &mut dyn FnMut(&str),
) -> Result<Plan, PlanError> {
    if files.elsewhere().is_some() {
        let message = "a coupon measures the machine that a job names, and the cut of this one is made elsewhere";
        let hint = "ask for its kerf or cutter and write it into [elsewhere]; or name a machine and a post-processor \
                    in place of it";
        let fault = files
            .panel_text
            .fault("elsewhere", message, Some(hint.to_owned()));
        return Err(fault.into());
    }
    let lattice = ground(&files)?;
    // What holds for the panel's own bars and not for these.
    files.panel.name = format!("{}, {} coupon", files.panel.name, kind.word());
    files.panel.quantity = 1;
    files.panel.kits = None;
    files.panel.outline.overhang = 0.0;
    let way = Way::of(&files)?;
    let mut checks = Vec::new();
    if kind == CouponKind::Fit {
        let clearance = files.panel.cut.clearance;
        let place = "clearance in the panel file";
        checks.extend(clearance_checks(clearance, &files.material, place));
    }
    let (comb, bars) = match &way {
        Way::Flat(head) => {
            let depth = lattice.depth;
            let (comb, flat) = flat(&mut files, kind, head, depth, &mut checks, progress)?;
            (comb, Cutting::Flat(Box::new(flat)))
        }
        Way::EdgeUp(head) => {
            let crossing = edge_up::Crossing::of(&files, &lattice, &head.router, kind)?;
            let depth = lattice.depth;
            let (comb, edge) = crossing.plan(&files, kind, head, depth, &mut checks, progress)?;
            (comb, Cutting::EdgeUp(Box::new(edge)))
        }
    };
    let cuts = Cuts {
        bars,
        beside: Vec::new(),
    };
    checks.extend(reach(&files, &cuts));
    let post = files.own().map(|own| &own.post);
    checks.extend(post.and_then(path_mode_check));
    if failed(&checks) {
        return Err(PlanError::Checks(checks));
    }
    let warnings = (shortened(&comb).into_iter())
        .chain(shallow(&way))
        .chain(post.and_then(rounded_corners))
        .collect();
    Ok(Plan {
        files,
        product: Product::Coupon(Box::new(CouponPlan { comb, lattice })),
        cuts,
        checks,
        warnings,
    })
}

/// The comb on its side, cut out of the stock.
fn flat(
    files: &mut JobFiles,
    kind: CouponKind,
    head: &CuttingHead,
    depth: f64,
    checks: &mut Vec<Check>,
    progress: &mut dyn FnMut(&str),
) -> Result<(Comb, FlatPlan), PlanError> {
    // Other reliefs would leave narrow notches no floor to seat on.
    if files.panel.cut.relief != Relief::None {
        files.panel.cut.relief = Relief::Floor;
    }
    let (cut, beam) = (2.0 * head.radius(), head.is_beam());
    let spec = spec(files, kind, files.material.thickness, cut, beam);
    let comb = comb(spec)?;
    let bites = head.bites(files);
    let numbers = Numbers::of_notes(files);
    let batch = batch(&comb, size(files, head, depth, bites), numbers);
    checks.extend(wood_checks(files, &batch, bites));
    if kind == CouponKind::Fit {
        let corners = Corners {
            radius: head.radius(),
            relief: files.panel.cut.relief,
            crush: files.material.crush,
        };
        checks.push(fillet_check(corners, files.panel.cut.clearance));
    }
    let flat = FlatPlan::of(files, batch, None, checks, progress)?;
    Ok((comb, flat))
}

/// Sizes that leave the material the wood that it needs, where the depth has it.
fn size(files: &JobFiles, head: &CuttingHead, depth: f64, bites: Bites) -> CombSize {
    /// Depth of a mark, mm, and of the depth: seen and felt, and no deeper (common practice, no source).
    const MARKS: [f64; 2] = [0.5, 2.0];
    const MARK_PART: f64 = 6.0;
    let material = &files.material;
    let spare = 0.5 * depth - 2.0 * bites.floor - material.least_section;
    let mark = (depth / MARK_PART).min(MARKS[1]);
    CombSize {
        depth,
        shortest: head.shortest(),
        land: land(material.thickness, material.least_web + 2.0 * bites.wall),
        mark: mark.min(spare.max(MARKS[0])),
    }
}

fn batch(comb: &Comb, size: CombSize, n: Numbers) -> Batch {
    let mut pieces = Table::new();
    let mut items = Vec::new();
    for (shape, ids) in comb.pieces(size).into_iter().zip(comb.copies()) {
        let length = shape.length;
        let piece = pieces.push(shape);
        let item = |id| NestItem { piece, id, length };
        items.extend(ids.into_iter().map(item));
    }
    Batch {
        kind: BatchKind::Coupon(comb.spec.kind),
        wood: 0,
        pieces,
        items,
        longest: "stock that varies less in thickness, which makes a shorter comb,",
        notes: std::iter::once(comb.notches_in_words(n))
            .chain(comb.how_to_read().into_iter().map(str::to_owned))
            .map(|text| Note::new(NoteKind::Coupon, text))
            .collect(),
    }
}

/// Wood left between the notches of the comb, and over its marks.
fn wood_checks(files: &JobFiles, batch: &Batch, bites: Bites) -> Vec<Check> {
    let material = &files.material;
    let mut checks = Vec::new();
    for piece in &batch.pieces {
        let Some(land) = least_land(piece) else {
            continue;
        };
        let place = format!("piece {}", piece.class);
        let web = land - 2.0 * bites.wall;
        let web = Check::at_least(
            CheckId::Web,
            web,
            material.least_web,
            Unit::Mm,
            place.as_str(),
        );
        let height = least_height(piece) - 2.0 * bites.floor;
        let section = Check::at_least(
            CheckId::Section,
            height,
            material.least_section,
            Unit::Mm,
            place,
        );
        checks.extend([web, section]);
    }
    checks
}

/// What a comb without its narrower notches cannot tell.
fn shortened(comb: &Comb) -> Option<String> {
    let [narrowest, _] = comb.range();
    let cut = comb.spec.cut;
    let lost = match comb.spec.kind {
        CouponKind::Kerf => {
            "a bar that is loose in notch 1 tells no more than that the cut is wider than written"
        }
        CouponKind::Fit => "a bar that slides in notch 1 tells no clearance",
    };
    comb.shortened.then(|| {
        format!(
            "narrower notches than {narrowest} mm are left out, the cut being {cut} mm wide: {lost}"
        )
    })
}
