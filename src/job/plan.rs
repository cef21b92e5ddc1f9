//! The plan: lattice, pieces, sheets and paths, with the checks that need no file.

use super::error::JobError;
use crate::geom::FACE_OFF;
use crate::lattice::{DryFit, Lattice, dry_fit, intended_shapes};
use crate::panel::{HeadKind, JobFiles, Method, Relief, Stock};
use crate::path::{
    CLEAR, LaserSettings, PathError, Program, RouterSettings, laser_program, router_program,
};
use crate::safety::{
    Check, bite, failed, fit_checks, hold_checks, joint_checks, laser_checks, router_checks,
    slot_check, strip_check,
};
use crate::setup::{Comb, FlatLayout, FlatPiece};
use crate::stock::{Nest, NestError, NestItem, StockLimit, nest};
use crate::write::gcode::check_templates;

/// What is made, how it is cut, and whether that is sound.
#[derive(Debug)]
pub struct Plan {
    /// The files that it was made from.
    pub files: JobFiles,
    /// The ground.
    pub lattice: Lattice,
    /// How the intended shapes fit.
    pub meant: DryFit,
    /// The notches, where a coupon is cut in place of the panel: the lattice then has no members.
    pub coupon: Option<Comb>,
    /// How it is cut flat; `None` for a panel that is cut edge up.
    pub flat: Option<FlatPlan>,
    /// The checks so far; those of the files come when the bytes are there.
    pub checks: Vec<Check>,
    /// What the maker should know.
    pub warnings: Vec<String>,
}

/// Flat cutting: pieces on sheets, and a program for each.
#[derive(Debug)]
pub struct FlatPlan {
    /// Shapes and sheets.
    pub layout: FlatLayout,
    /// How the sheets came about; its own list of sheets has moved into the layout.
    pub nest: Nest,
    /// One program a sheet, in the same order.
    pub programs: Vec<Program>,
}

/// Plans a job. `progress` is told what is being done.
///
/// # Errors
/// Files that make no panel, and checks that fail: nothing can be written from either.
pub fn plan(files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, JobError> {
    sound_templates(&files)?;
    progress("joints");
    let lattice = lattice(&files)?;
    let meant = dry_fit(&lattice, &intended_shapes(&lattice), 0.0);

    let radius = head_radius(&files);
    let relieved = files.panel.cut.relief == Relief::Corner;
    let flat = files.panel.cut.method == Method::Flat;
    let relief = if flat && relieved {
        radius * bite()
    } else {
        0.0
    };
    let mut checks = joint_checks(&lattice, &files.panel, &files.material, relief);
    let mut warnings = Vec::new();
    let thick = files.material.thickness;
    for spec in &files.panel.ground.families {
        let off = (spec.face - thick[0])
            .abs()
            .max((spec.face - thick[1]).abs());
        if flat && files.panel.cut.scale_model && off > FACE_OFF {
            warnings.push(format!(
                "scale model: the {} bars are {} mm thick as the stock is, not {} as drawn",
                spec.name, thick[1], spec.face
            ));
        }
    }
    if !flat {
        checks.extend(fit_checks(&lattice, &meant, &meant, None));
        warnings.push(
            "edge-up cutting is not there yet: the dry fit uses the intended shapes, not files"
                .into(),
        );
    }
    let flat = if flat {
        let pieces: Vec<FlatPiece> = lattice
            .classes
            .iter()
            .map(|c| FlatPiece::of(&lattice, c))
            .collect();
        checks.extend(slot_check(&pieces, 2.0 * radius));
        checks.extend(head_checks(&files, &pieces));
        checks.extend(strip(&files).map(strip_check));
        if failed(&checks) {
            return Err(JobError::Checks(checks));
        }
        progress("sheets");
        let items = items(&lattice, files.panel.quantity);
        let flat = flat_plan(&files, lattice.depth, pieces, &items, "sheet", progress)?;
        for (sheet, program) in flat.layout.sheets.iter().zip(&flat.programs) {
            checks.extend(hold_checks(&flat.layout, sheet, program));
        }
        Some(flat)
    } else {
        None
    };
    if failed(&checks) {
        return Err(JobError::Checks(checks));
    }
    Ok(Plan {
        files,
        lattice,
        meant,
        coupon: None,
        flat,
        checks,
        warnings,
    })
}

/// Refuses a post-processor whose templates cannot be filled in.
pub(super) fn sound_templates(files: &JobFiles) -> Result<(), JobError> {
    check_templates(&files.post).map_err(|e| {
        let hint = "mend this template; the built-in files show one of each kind".to_owned();
        let fault = files.post_text.fault(&e.key, e.to_string(), Some(hint));
        JobError::from(fault)
    })
}

/// The ground of the panel file.
pub(super) fn lattice(files: &JobFiles) -> Result<Lattice, JobError> {
    Lattice::build(&files.panel, files.material.thickness).map_err(|faults| {
        let list = faults
            .iter()
            .map(|f| (f.key(), f.to_string(), Some(f.hint())));
        JobError::from(files.panel_text.faults(list))
    })
}

/// All members of all panels, to be nested.
fn items(lattice: &Lattice, quantity: u32) -> Vec<NestItem> {
    let one = || {
        lattice.members.iter().map(|member| NestItem {
            piece: member.class,
            id: member.id.clone(),
            length: member.length(),
        })
    };
    (0..quantity).flat_map(|_| one()).collect()
}

pub(super) fn head_radius(files: &JobFiles) -> f64 {
    match (&files.machine.head, &files.material.laser) {
        (HeadKind::Laser(_), Some(cut)) => 0.5 * cut.kerf,
        (HeadKind::Laser(_), None) => 0.0,
        (HeadKind::Router(router), _) => 0.5 * router.tool.diameter,
    }
}

fn thickness(files: &JobFiles) -> f64 {
    files.material.thickness[1]
}

pub(super) fn head_checks(files: &JobFiles, pieces: &[FlatPiece]) -> Vec<Check> {
    match &files.machine.head {
        HeadKind::Laser(laser) => {
            let cut = files.material.laser.as_ref();
            cut.map_or_else(Vec::new, |cut| laser_checks(&files.machine, laser, cut))
        }
        HeadKind::Router(router) => {
            let Some(cut) = &files.material.router else {
                return Vec::new();
            };
            let thickness = thickness(files);
            let passes = router_settings(files).map_or_else(Vec::new, |s| s.passes(thickness));
            let deepest = thickness - passes.last().copied().unwrap_or(0.0);
            router_checks(&files.machine, router, cut, thickness, deepest, pieces)
        }
    }
}

/// What is left between the cuts of neighbouring pieces: a beam's cuts lie within the gap, a tool's
/// beside it, but for the way that its notches reach into it.
pub(super) fn strip(files: &JobFiles) -> Option<f64> {
    match (
        &files.machine.head,
        &files.material.laser,
        &files.material.router,
    ) {
        (HeadKind::Laser(_), Some(cut), _) => Some(cut.gap - 2.0 * cut.kerf),
        (HeadKind::Router(_), _, Some(cut)) => Some(cut.gap - CLEAR),
        _ => None,
    }
}

fn laser_settings(files: &JobFiles) -> Option<LaserSettings> {
    let (HeadKind::Laser(laser), Some(cut)) = (&files.machine.head, &files.material.laser) else {
        return None;
    };
    Some(LaserSettings {
        kerf: cut.kerf,
        feed: cut.feed,
        power_percent: cut.power_percent,
        power_word: cut.power_percent / 100.0 * laser.full_power_word,
        bridges: cut.bridges,
        bridge_width: cut.bridge_width,
        gap: cut.gap,
        relief: files.panel.cut.relief == Relief::Corner,
        overhang: files.panel.outline.overhang,
    })
}

fn router_settings(files: &JobFiles) -> Option<RouterSettings> {
    let (HeadKind::Router(router), Some(cut)) = (&files.machine.head, &files.material.router)
    else {
        return None;
    };
    Some(RouterSettings {
        diameter: router.tool.diameter,
        feed: cut.feed,
        plunge_feed: cut.plunge_feed,
        speed_rpm: cut.speed_rpm,
        spin_up_s: router.spin_up_s,
        pass_depth: cut.pass_depth,
        spoil: router.spoil,
        safe_height: router.safe_height,
        tabs: cut.tabs,
        tab_width: cut.tab_width,
        tab_height: cut.tab_height,
        gap: cut.gap,
        relief: files.panel.cut.relief == Relief::Corner,
        overhang: files.panel.outline.overhang,
        tool_number: router.tool.number,
        tool_name: router.tool.name.clone(),
    })
}

/// Nests the items, pieces of one depth, and plans a program for each sheet, named after `stem`.
pub(super) fn flat_plan(
    files: &JobFiles,
    depth: f64,
    pieces: Vec<FlatPiece>,
    items: &[NestItem],
    stem: &str,
    progress: &mut dyn FnMut(&str),
) -> Result<FlatPlan, JobError> {
    let (laser, router) = (laser_settings(files), router_settings(files));
    let radius = head_radius(files);
    // Between two pieces lie their cuts: a beam's within the gap, a tool's on either side of it.
    let gap = match (&laser, &router) {
        (Some(set), _) => set.gap,
        (_, Some(set)) => set.gap + 2.0 * set.diameter,
        _ => return Err(JobError::Internal("no head for this material".into())),
    };
    // The head's centre runs this far outside a piece and must stay over the stock.
    let beyond = 2.0 * radius + 1.0;
    let stock = Stock {
        trim: files.stock.trim.max(beyond),
        ..files.stock.clone()
    };
    let limit = StockLimit {
        max_x: files.machine.travel[0] - beyond,
        max_y: files.machine.travel[1] - beyond,
    };
    let mut nest = nest(items, depth, &stock, gap, thickness(files), limit)
        .map_err(|e| nest_fault(files, &e))?;
    let layout = FlatLayout {
        pieces,
        sheets: std::mem::take(&mut nest.sheets),
    };
    let mut programs = Vec::with_capacity(layout.sheets.len());
    for sheet in &layout.sheets {
        progress("paths");
        let stem = format!("{stem}-{:02}", sheet.number);
        let notes = notes(files, sheet.number, layout.sheets.len(), &sheet.stock);
        let made = match (&laser, &router) {
            (Some(set), _) => laser_program(&layout.pieces, sheet, set, stem, notes),
            (_, Some(set)) => router_program(&layout.pieces, sheet, set, stem, notes),
            _ => return Err(JobError::Internal("no head for this material".into())),
        };
        programs.push(made.map_err(|e: PathError| {
            let key = "cut.clearance";
            JobError::from(files.panel_text.fault(
                key,
                e.to_string(),
                Some("a narrower tool".into()),
            ))
        })?);
    }
    Ok(FlatPlan {
        layout,
        nest,
        programs,
    })
}

fn nest_fault(files: &JobFiles, e: &NestError) -> JobError {
    let hint = match e {
        NestError::TooLong { longest, .. } => {
            format!("longer stock, or members of at most {longest:.1} mm")
        }
        NestError::TooDeep { .. } => "wider stock, or a smaller depth".into(),
        NestError::NotEnough { .. } => "more stock, or a smaller quantity".into(),
        _ => "mend the stock file".into(),
    };
    files
        .panel_text
        .fault("stock", e.to_string(), Some(hint))
        .into()
}

/// What the operator reads at the head of a program; plain ASCII.
fn notes(files: &JobFiles, number: usize, of: usize, stock: &str) -> Vec<String> {
    let ascii = |s: &str| -> String {
        s.chars()
            .map(|c| {
                if c.is_ascii() && !"();".contains(c) {
                    c
                } else {
                    '_'
                }
            })
            .collect()
    };
    let mut notes = vec![
        format!("{}: sheet {number} of {of}", ascii(&files.panel.name)),
        format!("stock: {}, {}", ascii(&files.material.name), ascii(stock)),
        format!("machine: {}", ascii(&files.machine.name)),
        "zero: x and y at the lower left corner of the stock".into(),
    ];
    notes.push(match &files.machine.head {
        HeadKind::Laser(_) => "z: focus on the stock's top".into(),
        HeadKind::Router(_) => "zero: z at the bed under the stock, not on the stock".into(),
    });
    notes.extend(crate::safety::CAUTIONS.iter().map(|s| (*s).to_owned()));
    if matches!(files.machine.head, HeadKind::Laser(_)) {
        notes.extend(
            crate::safety::LASER_CAUTIONS
                .iter()
                .map(|s| (*s).to_owned()),
        );
    }
    notes
}
