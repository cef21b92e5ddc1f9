//! The plan: lattice, pieces, sheets and paths, with the checks that need no file.

use super::edge_plan::EdgePlan;
use super::edge_up::Notched;
use super::error::PlanError;
use super::flat::{Batch, FlatPlan};
use super::head::{HeadSettings, flare};
use super::hold_advice::plan_with_advice;
use super::infill::{infill, infill_batches, pieces_among};
use super::room::reach;
use super::stick_stock::stick_stock;
use super::surround::{surround, without_pins};
use super::whole::{Cuts, Cutting, Drawn, PanelPlan, Plan, Product};
use crate::assembly::Assembly;
use crate::document::Numbers;
use crate::geom::{FACE_OFF, SAME_FIGURE};
use crate::lattice::{Class, DryFit, FitShape, Lattice, dry_fit, intended_shapes};
use crate::limits::PIECES;
use crate::panel::{HeadKind, JobFiles, Machine, Material, Method, off_readings};
use crate::path::THROUGH;
use crate::safety::{Bites, Check, failed, infill_end_check, joint_checks};
use crate::table::Column;

/// Plans a job. `progress` is told what is being done.
///
/// # Errors
/// Files that make no panel, and checks that fail: nothing can be written from either.
pub fn plan(files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, PlanError> {
    plan_with_advice(files, |files| planned(files, progress))
}

/// [`plan`] without a search for what helps where a piece cannot be held.
pub(crate) fn planned(files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, PlanError> {
    let drawn = draw(&files, progress)?;
    let meant = meant(&files, &drawn.lattice);
    let head = HeadSettings::of(&files, &files.material)?;
    let mut checks = check(&files, &drawn, &head);
    let mut warnings = drawn_warnings(&files, &drawn);
    let cuts = cut(&files, &drawn, &head, &mut checks, progress)?;
    for flat in cuts.flats() {
        warnings.extend(flat.warnings.iter().cloned());
    }
    checks.extend(reach(&files, &cuts));
    if failed(&checks) {
        return Err(PlanError::Checks(checks));
    }
    let filled = drawn.infill.as_ref();
    let assembly = Assembly::of(
        &files.panel,
        &drawn.lattice,
        filled.map(|infill| (infill, files.patterns.as_slice())),
        drawn.surround.as_ref(),
        cuts.member_marks(),
        Numbers::MM,
    );
    let panel = PanelPlan {
        drawn,
        meant,
        assembly,
    };
    Ok(Plan {
        files,
        product: Product::Panel(Box::new(panel)),
        cuts,
        checks,
        warnings,
    })
}

/// The ground of a panel file, by itself the quickest of all stages.
///
/// # Errors
/// Keys that make no ground, each told at its place.
pub fn ground(files: &JobFiles) -> Result<Lattice, PlanError> {
    Lattice::build(&files.panel, files.material.measured()).map_err(|faults| {
        let list = faults
            .iter()
            .map(|f| (f.key(), f.to_string(), Some(f.hint())));
        PlanError::from(files.panel_text.faults(list))
    })
}

/// The panel as it is drawn: ground, infill and surround. `progress` is told what is being done.
///
/// # Errors
/// Keys that make no such panel, or one of too many pieces, each told at its place.
pub fn draw(files: &JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Drawn, PlanError> {
    progress("joints");
    let lattice = ground(files)?;
    progress("infill");
    let drawn = Drawn {
        infill: infill(files, &lattice)?,
        surround: surround(files, &lattice)?,
        lattice,
    };
    within_pieces(files, &drawn)?;
    Ok(drawn)
}

/// The checks of joints and ends, whatever lies where on the stock.
fn check(files: &JobFiles, drawn: &Drawn, head: &HeadSettings) -> Vec<Check> {
    let bites = match files.panel.cut.method {
        Method::Flat => head.bites(files),
        Method::EdgeUp => Bites::default(),
    };
    let mut checks = joint_checks(&drawn.lattice, &files.panel, &files.material, bites);
    if let Some(ring) = drawn.ring() {
        checks.extend(ring_checks(ring, files, bites));
    }
    checks.extend(drawn.infill.as_ref().and_then(infill_end_check));
    checks
}

/// How the bars of a drawn panel are cut, and the infill that is cut beside them. The checks so far, and those of
/// cutting, are in `checks`.
///
/// # Errors
/// Checks that fail, and stock that does not do.
fn cut(
    files: &JobFiles,
    drawn: &Drawn,
    head: &HeadSettings,
    checks: &mut Vec<Check>,
    progress: &mut dyn FnMut(&str),
) -> Result<Cuts, PlanError> {
    let infill = drawn.infill.as_ref();
    let bars = match files.panel.cut.method {
        Method::Flat => {
            let among = pieces_among(files, infill);
            let batch = Batch::of(&drawn.lattice, drawn.ring(), &among, &files.panel);
            let flat = FlatPlan::of(files, batch, None, checks, progress)?;
            Cutting::Flat(Box::new(flat))
        }
        Method::EdgeUp => {
            progress("sticks");
            let sticks = stick_stock(files, &drawn.lattice)?;
            let members = Notched::Members(&drawn.lattice);
            let edge = EdgePlan::of(files, head, members, sticks, checks, progress)?;
            Cutting::EdgeUp(Box::new(edge))
        }
    };
    let mut cuts = Cuts {
        bars,
        beside: Vec::new(),
    };
    for batch in infill_batches(files, infill) {
        let flat = FlatPlan::of(files, batch, cuts.flat(), checks, progress)?;
        cuts.beside.push(flat);
    }
    Ok(cuts)
}

/// What the maker should know of a drawn panel.
fn drawn_warnings(files: &JobFiles, drawn: &Drawn) -> Vec<String> {
    let mut warnings = Vec::new();
    warnings.extend(without_pins(files, drawn.surround.as_ref()));
    warnings.extend(shallow(files));
    let materials = std::iter::once(&files.material).chain(files.woods.iter().map(|w| &w.material));
    for text in materials.filter_map(|material| watts_unknown(&files.machine, material)) {
        if !warnings.contains(&text) {
            warnings.push(text);
        }
    }
    let cut = &files.panel.cut;
    if cut.method == Method::Flat && cut.scale_model {
        let thick = files.material.thickness;
        let families = files.panel.ground.families.iter();
        let off = families.filter(|spec| off_readings(spec.face, thick) > FACE_OFF + SAME_FIGURE);
        warnings.extend(off.map(|spec| {
            format!(
                "scale model: the {} bars are {} mm thick as the stock is, not {} as drawn",
                spec.name, thick[1], spec.face
            )
        }));
    }
    warnings
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
fn within_pieces(files: &JobFiles, drawn: &Drawn) -> Result<(), PlanError> {
    let grounds = std::iter::once(&drawn.lattice).chain(drawn.ring());
    let (mut one, mut classes) = grounds.fold((0, 0), |(n, k), ground| {
        (n + ground.members.len(), k + ground.classes.len())
    });
    if let Some(infill) = &drawn.infill {
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
pub(crate) fn flared(
    files: &JobFiles,
    mut shapes: Column<Class, FitShape>,
) -> Column<Class, FitShape> {
    for shape in shapes.iter_mut() {
        shape.flare = flare(&files.machine, &files.material);
    }
    shapes
}
