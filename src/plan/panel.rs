//! The plan: lattice, pieces, sheets and paths, with the checks that need no file.

use super::controller::rounded_corners;
use super::edge_plan::EdgePlan;
use super::edge_up::Notched;
use super::error::PlanError;
use super::flat::{Batch, FlatPlan};
use super::head::{CuttingHead, Way};
use super::hold_advice::plan_with_advice;
use super::infill::{infill, infill_batches, pieces_among};
use super::room::reach;
use super::stick_stock::stick_stock;
use super::surround::{surround, without_pins};
use super::whole::{Cuts, Cutting, Drawn, PanelPlan, Plan, Product};
use crate::assembly::Assembly;
use crate::document::Numbers;
use crate::geom::{CALIPER, FACE_OFF, SAME_FIGURE};
use crate::lattice::{Class, DryFit, FitShape, Lattice, dry_fit, intended_shapes};
use crate::limits::PIECES;
use crate::panel::{FamilySpec, JobFiles, Method, off_readings, readings_in_words};
use crate::path::THROUGH;
use crate::safety::{
    Bites, Check, CheckId, failed, infill_end_check, joint_checks, path_mode_check,
};
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
    let way = Way::of(&files)?;
    let meant = meant(&drawn.lattice, way.flare());
    let mut checks = check(&files, &drawn, &way);
    let mut warnings = drawn_warnings(&files, &drawn, &way)?;
    let cuts = cut(&files, &drawn, &way, &mut checks, progress)?;
    for flat in cuts.flats() {
        warnings.extend(flat.warnings.iter().cloned());
    }
    checks.extend(reach(&files, &cuts));
    let post = files.own().map(|own| &own.post);
    checks.extend(post.and_then(path_mode_check));
    warnings.extend(post.and_then(rounded_corners));
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
        Numbers::of(files.panel.workshop_sheet.units),
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
fn check(files: &JobFiles, drawn: &Drawn, way: &Way) -> Vec<Check> {
    let bites = way.bites(files);
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
    way: &Way,
    checks: &mut Vec<Check>,
    progress: &mut dyn FnMut(&str),
) -> Result<Cuts, PlanError> {
    let infill = drawn.infill.as_ref();
    let bars = match way {
        Way::Flat(_) => {
            let among = pieces_among(files, infill);
            let batch = Batch::of(&drawn.lattice, drawn.ring(), &among, &files.panel);
            let flat = FlatPlan::of(files, batch, None, checks, progress)?;
            Cutting::Flat(Box::new(flat))
        }
        Way::EdgeUp(head) => {
            progress("sticks");
            let sticks = stick_stock(files, &drawn.lattice, head)?;
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
fn drawn_warnings(files: &JobFiles, drawn: &Drawn, way: &Way) -> Result<Vec<String>, PlanError> {
    let mut warnings = Vec::new();
    warnings.extend(without_pins(files, drawn.surround.as_ref()));
    warnings.extend(shallow(way));
    warnings.extend(without_width(files));
    let materials = std::iter::once(&files.material).chain(files.woods.iter().map(|w| &w.material));
    for material in materials {
        let unknown = match CuttingHead::of(files, material)? {
            CuttingHead::Laser(head) => head.watts_unknown(),
            CuttingHead::Router(_) | CuttingHead::Elsewhere(_) => None,
        };
        warnings.extend(unknown.filter(|text| !warnings.contains(text)));
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
    warnings.extend(faces_in_inches(files, &drawn.lattice));
    Ok(warnings)
}

/// Faces that the file has in inches, as stock is sold, and that the stock has not: the bars are as thick as it is.
fn faces_in_inches(files: &JobFiles, lattice: &Lattice) -> Vec<String> {
    let (specs, text) = (&files.panel.ground.families, &files.panel_text);
    let told = |(number, spec): (usize, &FamilySpec)| {
        let own = [
            format!("ground.family[{number}].face"),
            format!("ground.faces.{}", spec.name),
        ];
        let own = own.iter().find_map(|key| text.inches(key));
        let (who, written) = match own {
            Some(own) => (format!("the {} bars", spec.name), own),
            None => ("the bars".to_owned(), text.inches("ground.face")?),
        };
        let mut families = lattice.families.entries();
        let (family, _) = families.find(|(_, family)| family.name == spec.name)?;
        let stock = lattice.faces[family];
        let off = off_readings(spec.face, stock);
        if !(CALIPER..=FACE_OFF + SAME_FIGURE).contains(&off) {
            return None;
        }
        let measured = readings_in_words(stock);
        let drawn = (spec.face * 1000.0).round() / 1000.0;
        Some(format!(
            "{who} are drawn {written} wide, which is {drawn} mm, and their stock is {measured}: bars and notches are cut \
             for the stock; write its own size as `face`, or measure it anew"
        ))
    };
    let mut warnings: Vec<String> = specs.iter().enumerate().filter_map(told).collect();
    warnings.dedup();
    warnings
}

/// How a lattice fits as it is drawn, every member with its own sizes, its walls leaning by `flare` mm.
pub(crate) fn meant(lattice: &Lattice, flare: f64) -> DryFit {
    let drawn = lattice.as_drawn();
    dry_fit(&drawn, &flared(intended_shapes(&drawn), flare), 0.0)
}

/// The checks of a lapped surround: its sides are bars like others. What is said of the clearance and of the
/// stock is said once.
fn ring_checks(ring: &Lattice, files: &JobFiles, bites: Bites) -> Vec<Check> {
    let mut checks = joint_checks(ring, &files.panel, &files.material, bites);
    checks.retain(|c| ![CheckId::Press, CheckId::Play, CheckId::Spread].contains(&c.id));
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

/// What drawings leave open of which nothing says how wide the cut is.
fn without_width(files: &JobFiles) -> Option<String> {
    let cut = files.elsewhere()?;
    cut.width.is_none().then(|| {
        format!(
            "[elsewhere] says neither kerf nor tool_diameter: there are drawings at finished size alone, their outlines \
             {} mm apart, their inside corners sharp; a round cutter leaves fillets there that keep bars from seating, \
             and a cut wider than that room cuts into the neighbour",
            cut.gap
        )
    })
}

/// Through cuts that end so little below the stock, for want of a board that may be cut into, that they need
/// not go through everywhere.
pub(super) fn shallow(way: &Way) -> Option<String> {
    let (head, what, stays) = match way {
        // A beam goes through; how deep a cutter goes elsewhere is for its operator.
        Way::Flat(CuttingHead::Laser(_) | CuttingHead::Elsewhere(_)) => return None,
        Way::Flat(CuttingHead::Router(head)) => (
            head,
            "cuts end",
            "a skin stays, which a knife must part before a piece is lifted",
        ),
        Way::EdgeUp(head) => (
            head,
            "the faces of fence and rail end",
            "a ridge stays at their foot, which must be pared off before sticks are laid in",
        ),
    };
    let spoil = head.router.spoil;
    if spoil >= THROUGH {
        return None;
    }
    Some(format!(
        "{what} only {spoil} mm below the stock, as `router.spoil` in the machine file says: where stock or board \
         are as uneven, {stays}; {THROUGH} mm or more goes through"
    ))
}

/// The shapes with walls that lean as the cut flares, mm.
pub(crate) fn flared(mut shapes: Column<Class, FitShape>, flare: f64) -> Column<Class, FitShape> {
    for shape in shapes.iter_mut() {
        shape.flare = flare;
    }
    shapes
}
