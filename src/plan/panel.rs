//! The plan: lattice, pieces, sheets and paths, with the checks that need no file.

use super::edge_plan::EdgePlan;
use super::error::PlanError;
use super::flat::{Batch, FlatPlan};
use super::head::{HeadSettings, flare};
use super::hold_advice::plan_with_advice;
use super::infill::{infill, infill_batches, pieces_among};
use super::room::reach;
use super::stick_stock::stick_stock;
use super::surround::{surround, without_pins};
use super::whole::{Cutting, Plan};
use crate::assembly::Assembly;
use crate::document::Numbers;
use crate::geom::{FACE_OFF, SAME_FIGURE};
use crate::infill::Infill;
use crate::lattice::{DryFit, FitShape, Lattice, dry_fit, intended_shapes};
use crate::limits::PIECES;
use crate::panel::{HeadKind, JobFiles, Machine, Material, Method, off_readings};
use crate::path::THROUGH;
use crate::safety::{Bites, Check, failed, infill_end_check, joint_checks};

/// Plans a job. `progress` is told what is being done.
///
/// # Errors
/// Files that make no panel, and checks that fail: nothing can be written from either.
pub fn plan(files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, PlanError> {
    plan_with_advice(files, |files| planned(files, progress))
}

/// [`plan`] without a search for what helps where a piece cannot be held.
pub(crate) fn planned(files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, PlanError> {
    progress("joints");
    let lattice = lattice(&files)?;
    progress("infill");
    let infill = infill(&files, &lattice)?;
    let surround = surround(&files, &lattice)?;
    let ring = surround.as_ref().and_then(|s| s.ring.as_ref());
    within_pieces(&files, &lattice, ring, infill.as_ref())?;
    let meant = meant(&files, &lattice);

    let cut = &files.panel.cut;
    let flat = cut.method == Method::Flat;
    let head = HeadSettings::of(&files, &files.material)?;
    let bites = if flat {
        head.bites(&files)
    } else {
        Bites::default()
    };
    let mut checks = joint_checks(&lattice, &files.panel, &files.material, bites);
    checks.extend(ring.map_or_else(Vec::new, |ring| ring_checks(ring, &files, bites)));
    let infill_asked = infill.as_ref().zip(files.panel.infill.as_ref());
    checks.extend(infill_asked.and_then(|(infill, asked)| infill_end_check(infill, asked)));
    let mut warnings = Vec::new();
    warnings.extend(without_pins(&files, surround.as_ref()));
    warnings.extend(shallow(&files));
    let materials = std::iter::once(&files.material).chain(files.woods.iter().map(|w| &w.material));
    for text in materials.filter_map(|material| watts_unknown(&files.machine, material)) {
        if !warnings.contains(&text) {
            warnings.push(text);
        }
    }
    let thick = files.material.thickness;
    for spec in &files.panel.ground.families {
        let off = off_readings(spec.face, thick);
        if flat && cut.scale_model && off > FACE_OFF + SAME_FIGURE {
            warnings.push(format!(
                "scale model: the {} bars are {} mm thick as the stock is, not {} as drawn",
                spec.name, thick[1], spec.face
            ));
        }
    }
    let cutting = match cut.method {
        Method::Flat => {
            let among = pieces_among(&files, infill.as_ref());
            let batch = Batch::of(&lattice, ring, &among, &files.panel);
            let flat = FlatPlan::of(&files, batch, None, &mut checks, progress)?;
            warnings.extend(flat.warnings.iter().cloned());
            Cutting::Flat(Box::new(flat))
        }
        Method::EdgeUp => {
            progress("sticks");
            let sticks = stick_stock(&files, &lattice)?;
            let edge = EdgePlan::of(&files, &head, &lattice, None, sticks, &mut checks, progress)?;
            Cutting::EdgeUp(Box::new(edge))
        }
    };
    let earlier = match &cutting {
        Cutting::Flat(flat) => Some(flat.as_ref()),
        Cutting::EdgeUp(_) => None,
    };
    let mut beside = Vec::new();
    for batch in infill_batches(&files, infill.as_ref()) {
        let flat = FlatPlan::of(&files, batch, earlier, &mut checks, progress)?;
        warnings.extend(flat.warnings.iter().cloned());
        beside.push(flat);
    }
    checks.extend(reach(&files, &cutting, &beside));
    if failed(&checks) {
        return Err(PlanError::Checks(checks));
    }
    let filled = infill.as_ref().map(|i| (i, files.patterns.as_slice()));
    let surrounded = surround.as_ref();
    let marks = match &cutting {
        Cutting::Flat(_) => &[][..],
        Cutting::EdgeUp(edge) => &edge.marks.members,
    };
    let assembly = Assembly::of(
        &files.panel,
        &lattice,
        filled,
        surrounded,
        marks,
        Numbers::MM,
    );
    Ok(Plan {
        files,
        lattice,
        infill,
        surround,
        assembly: Some(assembly),
        meant,
        coupon: None,
        cutting,
        beside,
        checks,
        warnings,
    })
}

/// How a lattice fits as it is drawn, every member with its own sizes.
pub(crate) fn meant(files: &JobFiles, lattice: &Lattice) -> DryFit {
    let drawn = lattice.as_drawn();
    dry_fit(&drawn, &flared(files, intended_shapes(&drawn)), 0.0)
}

/// The checks of a lapped surround: its sides are bars like others. What is said of the clearance and of the
/// stock is said once.
fn ring_checks(ring: &Lattice, files: &JobFiles, bites: Bites) -> Vec<Check> {
    let mut checks = joint_checks(ring, &files.panel, &files.material, bites);
    checks.retain(|c| !["press", "play", "spread"].contains(&c.id));
    checks
}

/// Refuses more pieces than a job may have: bars, sides of a lapped surround, infill and spares.
fn within_pieces(
    files: &JobFiles,
    lattice: &Lattice,
    ring: Option<&Lattice>,
    infill: Option<&Infill>,
) -> Result<(), PlanError> {
    let grounds = std::iter::once(lattice).chain(ring);
    let (mut one, mut classes) = grounds.fold((0, 0), |(n, k), ground| {
        (n + ground.members.len(), k + ground.classes.len())
    });
    if let Some(infill) = infill {
        one += infill.pieces.len();
        classes += infill.classes.len();
    }
    let panels = u64::from(files.panel.quantity).saturating_mul(one as u64);
    let spares = files.panel.spares_of_each().saturating_mul(classes as u64);
    let all = panels.saturating_add(spares);
    if all <= PIECES {
        return Ok(());
    }
    let message = format!("the job has {all} pieces, spares with them; {PIECES} are the most");
    let hint = "fewer panels or spares at a time".to_owned();
    Err(files
        .panel_text
        .fault("quantity", message, Some(hint))
        .into())
}

/// Through cuts that end so little below the stock, for want of a board that may be cut into, that they need
/// not go through everywhere.
pub(crate) fn shallow(files: &JobFiles) -> Option<String> {
    let HeadKind::Router(router) = &files.machine.head else {
        return None;
    };
    let spoil = router.spoil;
    if spoil >= THROUGH {
        return None;
    }
    let (what, stays) = match files.panel.cut.method {
        Method::Flat => (
            "cuts end",
            "a skin stays, which a knife must part before a piece is lifted",
        ),
        Method::EdgeUp => (
            "the faces of fence and rail end",
            "a ridge stays at their foot, which must be pared off before sticks are laid in",
        ),
    };
    Some(format!(
        "{what} only {spoil} mm below the stock, as `router.spoil` in the machine file says: where stock or board \
         are as uneven, {stays}; {THROUGH} mm or more goes through"
    ))
}

/// A percentage of a laser's power says nothing for another laser: both files must tell their watts.
fn watts_unknown(machine: &Machine, material: &Material) -> Option<String> {
    let (HeadKind::Laser(laser), Some(cut)) = (&machine.head, &material.laser) else {
        return None;
    };
    let silent = match (laser.watts, cut.watts) {
        (None, Some(_)) => "machine",
        (Some(_), None) => "material",
        _ => return None,
    };
    Some(format!(
        "the {silent} file does not say its watts: {} percent of this laser's power is taken as it stands",
        cut.power_percent
    ))
}

/// The shapes with walls that lean as the cut flares.
pub(crate) fn flared(files: &JobFiles, mut shapes: Vec<FitShape>) -> Vec<FitShape> {
    for shape in &mut shapes {
        shape.flare = flare(&files.machine, &files.material);
    }
    shapes
}

/// The ground of the panel file.
pub(crate) fn lattice(files: &JobFiles) -> Result<Lattice, PlanError> {
    Lattice::build(&files.panel, files.material.measured()).map_err(|faults| {
        let list = faults
            .iter()
            .map(|f| (f.key(), f.to_string(), Some(f.hint())));
        PlanError::from(files.panel_text.faults(list))
    })
}
