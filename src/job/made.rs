//! The bytes of every file of a job, each proven before any is put in place.

use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use super::error::JobError;
use super::plan::Plan;
use super::replay_sheet::{SheetFiles, prove_sheet};
use crate::geom::REPLAY;
use crate::lattice::{DryFit, FitShape, dry_fit};
use crate::panel::{DxfSize, Relief};
use crate::path::{Head, Program};
use crate::safety::{Check, Corners, failed, fit_checks, replay_check};
use crate::write::csv::members_csv;
use crate::write::dxf::{DxfContent, sheet_dxf};
use crate::write::gcode::render;
use crate::write::summary::{Summary, Told};

/// A job as bytes.
#[derive(Debug)]
pub struct Made {
    /// All files by path in the folder, `job.json` among them.
    pub files: BTreeMap<String, Vec<u8>>,
    /// The dry fit of the shapes as cut; as intended for a panel cut edge up.
    pub fit: DryFit,
    /// All checks, the passed ones too.
    pub checks: Vec<Check>,
    /// Bytes of `job.json`.
    pub summary: Vec<u8>,
}

impl Made {
    /// Writes every file to memory, reads each cut file back and proves it, and puts all members
    /// together from the shapes that the files cut.
    ///
    /// # Errors
    /// Checks or proofs that fail.
    pub fn of(plan: &Plan, progress: &mut dyn FnMut(&str)) -> Result<Self, JobError> {
        let mut files = BTreeMap::new();
        for source in &plan.files.sources {
            files.insert(format!("source/{}", source.name), source.bytes.clone());
        }
        match &plan.coupon {
            Some(comb) => files.insert("coupon.csv".to_owned(), comb.csv()),
            None => files.insert("members.csv".to_owned(), members_csv(&plan.lattice)),
        };
        let mut checks = plan.checks.clone();
        let mut fit = plan.meant.clone();
        if let Some(flat) = &plan.flat {
            let mut shapes: BTreeMap<usize, FitShape> = BTreeMap::new();
            let mut faults = Vec::new();
            for (sheet, program) in flat.layout.sheets.iter().zip(&flat.programs) {
                progress("files and their replay");
                let made = sheet_files(plan, sheet, program)?;
                let get = |kind: SheetFile| made.iter().find(|f| f.0 == kind);
                let bytes = |kind| get(kind).map(|f| f.2.as_slice());
                let Some(gcode) = bytes(SheetFile::Gcode) else {
                    return Err(JobError::Internal("a sheet without a program".into()));
                };
                let set = SheetFiles {
                    gcode,
                    drawn: bytes(SheetFile::Drawn),
                    compensated: bytes(SheetFile::Compensated),
                };
                let mut found = Vec::new();
                match prove_sheet(&plan.files, &flat.layout, sheet, program, set) {
                    Ok(proof) => {
                        for (piece, shape) in proof.shapes {
                            shapes.entry(piece).or_insert(shape);
                        }
                    }
                    Err(list) => found = list,
                }
                for (file, path, bytes) in made {
                    let count = found.iter().filter(|(kind, _)| *kind == file.word());
                    checks.push(replay_check(path.clone(), count.count()));
                    files.insert(path, bytes);
                }
                faults.extend(
                    found
                        .into_iter()
                        .map(|(kind, f)| format!("{} ({kind}): {f}", program.stem)),
                );
            }
            if !faults.is_empty() {
                return Err(JobError::Proof(faults));
            }
            // A coupon's pieces make no lattice.
            if plan.coupon.is_none() {
                progress("dry fit");
                let shapes: Vec<FitShape> = (0..flat.layout.pieces.len())
                    .map(|p| shapes.remove(&p).unwrap_or_default())
                    .collect();
                fit = dry_fit(&plan.lattice, &shapes, REPLAY);
                let corners = corners(plan);
                checks.extend(fit_checks(&plan.lattice, &fit, &plan.meant, corners));
            }
            if failed(&checks) {
                return Err(JobError::Checks(checks));
            }
            super::pictures::add(plan, &mut files);
        }
        let digests: Vec<(String, String)> = files
            .iter()
            .map(|(path, bytes)| (path.clone(), digest(bytes)))
            .collect();
        let told = Told {
            files: &plan.files,
            lattice: &plan.lattice,
            coupon: plan.coupon.as_ref(),
            fit: &fit,
            flat: plan
                .flat
                .as_ref()
                .map(|f| (&f.layout, &f.nest, f.programs.as_slice())),
            checks: &checks,
            warnings: &plan.warnings,
        };
        let summary = Summary::of(told, &digests)
            .to_json()
            .map_err(|e| JobError::Internal(format!("job.json: {e}")))?;
        files.insert("job.json".to_owned(), summary.clone());
        Ok(Self {
            files,
            fit,
            checks,
            summary,
        })
    }
}

fn corners(plan: &Plan) -> Option<Corners> {
    let relieved = plan.files.panel.cut.relief == Relief::Corner;
    let radius = plan.flat.as_ref()?.programs.first()?.head.radius();
    Some(Corners {
        radius,
        relieved,
        crush: plan.files.material.crush,
    })
}

/// The files of a sheet that are proven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum SheetFile {
    Gcode,
    Drawn,
    Compensated,
}

impl SheetFile {
    /// What the proof of a sheet calls it.
    fn word(self) -> &'static str {
        match self {
            Self::Gcode => "gcode",
            Self::Drawn => "drawn",
            Self::Compensated => "compensated",
        }
    }
}

fn sheet_files(
    plan: &Plan,
    sheet: &crate::setup::FlatSheet,
    program: &Program,
) -> Result<Vec<(SheetFile, String, Vec<u8>)>, JobError> {
    let flat = plan.flat.as_ref().map(|f| &f.layout);
    let Some(layout) = flat else {
        return Ok(Vec::new());
    };
    let internal = |what: String| JobError::Internal(format!("{}: {what}", program.stem));
    let gcode = render(program, &plan.files.post).map_err(|e| {
        let text = format!("this program cannot be written: {e}");
        JobError::from(plan.files.post_text.fault(&e.key, text, None))
    })?;
    let mut out = vec![(SheetFile::Gcode, gcode_path(program), gcode)];
    let sizes = match plan.files.panel.cut.dxf {
        DxfSize::Drawn => &[SheetFile::Drawn][..],
        DxfSize::Compensated => &[SheetFile::Compensated],
        DxfSize::Both => &[SheetFile::Drawn, SheetFile::Compensated],
    };
    for &size in sizes {
        let content = match size {
            SheetFile::Compensated => DxfContent::Compensated(program),
            _ => DxfContent::Drawn,
        };
        let notes: Vec<String> = program
            .notes
            .iter()
            .filter(|n| !n.starts_with("zero"))
            .cloned()
            .collect();
        let bytes = sheet_dxf(layout, sheet, content, &plan.files.post.dxf, &notes)
            .map_err(|e| internal(e.to_string()))?;
        out.push((size, dxf_path(program, size), bytes));
    }
    Ok(out)
}

fn gcode_path(program: &Program) -> String {
    format!("gcode/{}.nc", program.stem)
}

/// The file's name says which size it holds.
fn dxf_path(program: &Program, size: SheetFile) -> String {
    let what = match (size, &program.head) {
        (SheetFile::Compensated, Head::Beam { .. }) => "kerf-compensated",
        (SheetFile::Compensated, Head::Cutter { .. }) => "tool-compensated",
        _ => "drawn-size",
    };
    format!("dxf/{}-{what}.dxf", program.stem)
}

impl Plan {
    /// Where the files of a sheet lie in the folder: program, drawn and compensated DXF, whether or not
    /// the panel asks for them.
    pub(super) fn sheet_paths(program: &Program) -> [String; 3] {
        [
            gcode_path(program),
            dxf_path(program, SheetFile::Drawn),
            dxf_path(program, SheetFile::Compensated),
        ]
    }
}

/// SHA-256 of bytes, in hexadecimal.
pub(super) fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}
