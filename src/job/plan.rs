//! The plan: lattice, pieces, sheets and paths, with the checks that need no file.

use super::dialect::try_dialect;
use super::edge_up::EdgePlan;
use super::error::JobError;
use super::flat::{FlatPlan, HeadSettings};
use crate::geom::{FACE_OFF, SAME_PIECE};
use crate::infill::{Infill, PieceClass};
use crate::lattice::{DryFit, Lattice, dry_fit, intended_shapes};
use crate::panel::{self, HeadKind, InfillCut, JobFiles, Method};
use crate::safety::{Bites, CAUTIONS, Check, LASER_CAUTIONS, failed, fit_checks, joint_checks};
use crate::setup::FlatPiece;

/// What is made, how it is cut, and whether that is sound.
#[derive(Debug)]
pub struct Plan {
    /// The files that it was made from.
    pub files: JobFiles,
    /// The ground.
    pub lattice: Lattice,
    /// The pieces in its cells, if the panel has any.
    pub infill: Option<Infill>,
    /// How the intended shapes fit.
    pub meant: DryFit,
    /// How it is cut.
    pub cutting: Cutting,
    /// The checks so far; those of the files come when the bytes are there.
    pub checks: Vec<Check>,
    /// What the maker should know.
    pub warnings: Vec<String>,
}

/// How a panel is cut.
#[derive(Debug)]
pub enum Cutting {
    /// On its side.
    Flat(FlatPlan),
    /// Joint edge up, in gangs.
    EdgeUp(EdgePlan),
}

impl Plan {
    /// How it is cut flat; `None` for a panel that is cut edge up.
    #[must_use]
    pub fn flat(&self) -> Option<&FlatPlan> {
        match &self.cutting {
            Cutting::Flat(flat) => Some(flat),
            Cutting::EdgeUp(_) => None,
        }
    }

    /// How it is cut edge up; `None` for a panel that is cut flat.
    #[must_use]
    pub fn edge_up(&self) -> Option<&EdgePlan> {
        match &self.cutting {
            Cutting::Flat(_) => None,
            Cutting::EdgeUp(edge) => Some(edge),
        }
    }
}

/// Plans a job. `progress` is told what is being done.
///
/// # Errors
/// Files that make no panel, and checks that fail: nothing can be written from either.
pub fn plan(files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, JobError> {
    try_dialect(&files)?;
    progress("joints");
    let lattice = Lattice::build(&files.panel, files.material.thickness).map_err(|faults| {
        let list = faults
            .iter()
            .map(|f| (f.key(), f.to_string(), Some(f.hint())));
        JobError::from(files.panel_text.faults(list))
    })?;
    progress("infill");
    let infill = infill(&files, &lattice)?;
    let meant = dry_fit(&lattice, &intended_shapes(&lattice), 0.0);

    let cut = &files.panel.cut;
    let flat = cut.method == Method::Flat;
    let head = HeadSettings::of(&files)?;
    let bites = if flat {
        head.bites(&files)
    } else {
        Bites::default()
    };
    let mut checks = joint_checks(&lattice, &files.panel, &files.material, bites);
    let mut warnings = Vec::new();
    let thick = files.material.thickness;
    for spec in &files.panel.ground.families {
        let off = (spec.face - thick[0])
            .abs()
            .max((spec.face - thick[1]).abs());
        if flat && cut.scale_model && off > FACE_OFF {
            warnings.push(format!(
                "scale model: the {} bars are {} mm thick as the stock is, not {} as drawn",
                spec.name, thick[1], spec.face
            ));
        }
    }
    let cutting = match cut.method {
        Method::Flat => Cutting::Flat(FlatPlan::of(
            &files,
            &head,
            &lattice,
            &blanks(&files, infill.as_ref()),
            &mut checks,
            progress,
        )?),
        Method::EdgeUp => {
            checks.extend(fit_checks(&lattice, &meant, &meant, None));
            warnings.push(
                "edge-up cutting is not there yet: the dry fit uses the intended shapes, not files"
                    .into(),
            );
            if failed(&checks) {
                return Err(JobError::Checks(checks));
            }
            progress("sticks");
            Cutting::EdgeUp(EdgePlan::of(&files, &lattice)?)
        }
    };
    if failed(&checks) {
        return Err(JobError::Checks(checks));
    }
    Ok(Plan {
        files,
        lattice,
        infill,
        meant,
        cutting,
        checks,
        warnings,
    })
}

/// The infill that the panel asks for.
fn infill(files: &JobFiles, lattice: &Lattice) -> Result<Option<Infill>, JobError> {
    let Some(asked) = &files.panel.infill else {
        return Ok(None);
    };
    let asked = &as_cut(files, asked)?;
    let built = Infill::build(lattice, asked, &files.patterns).map_err(|faults| {
        let list = faults
            .iter()
            .map(|f| (f.key(), f.to_string(), Some(f.hint())));
        JobError::from(files.panel_text.faults(list))
    })?;
    Ok(Some(built))
}

/// The infill with the face that it really gets: blanks are as thick as the stock, like the bars that they
/// are cut with.
fn as_cut(files: &JobFiles, asked: &panel::Infill) -> Result<panel::Infill, JobError> {
    let mut asked = asked.clone();
    if asked.cut == InfillCut::ByHand {
        return Ok(asked);
    }
    let cut = &files.panel.cut;
    let ground = files.panel.ground.depth;
    let thick = files.material.thickness;
    let fault = |key: &str, message: String, hint: &str| {
        let hint = Some(format!("{hint}; or cut = \"by-hand\""));
        Err(JobError::from(files.panel_text.fault(key, message, hint)))
    };
    if cut.method == Method::EdgeUp {
        let message = "blanks lie among bars that are cut flat, but these are cut edge up";
        return fault("infill.cut", message.into(), "method = \"flat\"");
    }
    if asked.depth != ground {
        let message = format!("blanks lie in rows with the bars, which are {ground} mm deep");
        return fault("infill.depth", message, "leave `depth` out");
    }
    let off = (asked.face - thick[0]).max(thick[1] - asked.face);
    if off > FACE_OFF && !cut.scale_model {
        let message = format!(
            "blanks are as thick as the stock, {} mm, which is more than {FACE_OFF} off the drawn {}",
            thick[1], asked.face
        );
        return fault(
            "infill.face",
            message,
            "draw the face that the stock has measured",
        );
    }
    asked.face = thick[1];
    Ok(asked)
}

/// The blanks of a panel's infill: each with how many a panel takes.
fn blanks(files: &JobFiles, infill: Option<&Infill>) -> Vec<(FlatPiece, usize)> {
    let (Some(infill), Some(asked)) = (infill, &files.panel.infill) else {
        return Vec::new();
    };
    if asked.cut == InfillCut::ByHand {
        return Vec::new();
    }
    let face = files.material.thickness[1];
    let one = |c: &PieceClass| {
        let remark = if c.face < face - SAME_PIECE {
            format!("plane to {:.2} wide", c.face)
        } else {
            String::new()
        };
        let length = c.cut_length(asked.allowance) + asked.shooting;
        let blank = FlatPiece::blank(&c.id, length, infill.depth, remark);
        (blank, c.pieces.len())
    };
    infill.classes.iter().map(one).collect()
}

/// What the operator reads at the head of a program; plain ASCII.
pub(super) fn notes(files: &JobFiles, number: usize, of: usize, stock: &str) -> Vec<String> {
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
    notes.extend(cautions(files));
    notes
}

/// What the operator reads in the drawing of one piece; plain ASCII.
pub(super) fn piece_notes(files: &JobFiles) -> Vec<String> {
    let mut notes = vec![
        format!(
            "{}: {} to make",
            ascii(&files.panel.name),
            files.panel.quantity
        ),
        format!("stock: {}", ascii(&files.material.name)),
        format!("machine: {}", ascii(&files.machine.name)),
    ];
    notes.extend(cautions(files));
    notes
}

fn ascii(s: &str) -> String {
    s.chars()
        .map(|c| {
            if c.is_ascii() && !"();".contains(c) {
                c
            } else {
                '_'
            }
        })
        .collect()
}

fn cautions(files: &JobFiles) -> impl Iterator<Item = String> {
    let laser = match files.machine.head {
        HeadKind::Laser(_) => LASER_CAUTIONS,
        HeadKind::Router(_) => &[],
    };
    CAUTIONS.iter().chain(laser).map(|s| (*s).to_owned())
}
