//! The files that a machine reads: one list, from which they are written, proven, and proven again from
//! a folder. The proof is a function of bytes and plan, and knows no digest.

use super::error::JobError;
use super::plan::{Plan, piece_notes};
use crate::panel::{DxfScope, DxfSize, HeadKind, JobFiles};
use crate::path::{Head, Program};
use crate::replay::dxf::{DxfProof, prove_dxf};
use crate::replay::gcode_read::{EventKind, Trace, read};
use crate::replay::motion::{MotionLimits, check_motion};
use crate::replay::{DialectRules, ReplayFault, SheetProof, SweptMove, prove_pieces};
use crate::setup::{FlatLayout, FlatSheet};
use crate::write::dxf::{DxfContent, DxfFile, DxfSubject, write_dxf};
use crate::write::gcode::render;

/// A file that a machine reads.
#[derive(Debug, Clone)]
pub struct CutFile<'a> {
    /// Where it lies in the folder, with `/` between parts.
    pub path: String,
    /// What it holds.
    pub holds: Holds<'a>,
    files: &'a JobFiles,
    layout: &'a FlatLayout,
}

/// What a cut file holds.
#[derive(Debug, Clone)]
pub enum Holds<'a> {
    /// The G-code program of a sheet.
    Program {
        /// The sheet.
        sheet: &'a FlatSheet,
        /// Its moves.
        program: &'a Program,
    },
    /// A DXF file, and the program of the sheet that it shows or that its piece lies on.
    Drawing(DxfFile<'a>, &'a Program),
}

/// What the proof of a cut file found in it.
#[derive(Debug)]
pub enum Proven {
    /// Of a program: the shapes that it cuts.
    Program(SheetProof),
    /// Of a DXF file: its contours.
    Drawing(DxfProof),
}

impl Plan {
    /// All files that a machine reads, in the order in which they are proven: program and drawings of
    /// each sheet, then the drawings of the pieces. None for a panel that is cut edge up.
    #[must_use]
    pub fn cut_files(&self) -> Vec<CutFile<'_>> {
        let Some(flat) = self.flat() else {
            return Vec::new();
        };
        let (layout, files) = (&flat.layout, &self.files);
        let cut = &files.panel.cut;
        let mut list = Vec::new();
        let mut add = |path, holds| {
            list.push(CutFile {
                path,
                holds,
                files,
                layout,
            });
        };
        let drawings = |subject, program| {
            cut.dxf.iter().flat_map(move |size| {
                let content = match size {
                    DxfSize::Drawn => DxfContent::Drawn,
                    DxfSize::Compensated => DxfContent::Compensated(program),
                };
                cut.dxf_version.iter().map(move |&version| DxfFile {
                    layout,
                    subject,
                    content,
                    version,
                    style: &files.post.dxf,
                })
            })
        };
        for (sheet, program) in layout.sheets.iter().zip(&flat.programs) {
            let path = format!("gcode/{}.nc", program.stem);
            add(path, Holds::Program { sheet, program });
            if cut.dxf_files.contains(&DxfScope::Sheet) {
                for file in drawings(DxfSubject::Sheet(sheet), program) {
                    add(dxf_path(&file), Holds::Drawing(file, program));
                }
            }
        }
        if cut.dxf_files.contains(&DxfScope::Piece) {
            for piece in 0..layout.pieces.len() {
                // All copies of a piece are cut alike: the first one stands for them.
                let first = layout.sheets.iter().zip(&flat.programs).find_map(|(s, p)| {
                    let placement = s.placements.iter().position(|at| at.piece == piece)?;
                    Some((s, placement, p))
                });
                let Some((sheet, placement, program)) = first else {
                    continue;
                };
                for file in drawings(DxfSubject::Piece { sheet, placement }, program) {
                    add(dxf_path(&file), Holds::Drawing(file, program));
                }
            }
        }
        list
    }
}

fn dxf_path(file: &DxfFile<'_>) -> String {
    format!("dxf/{}", file.name())
}

impl CutFile<'_> {
    /// The bytes of the file.
    ///
    /// # Errors
    /// A template that makes no sound block, and what only a fault of this program brings about.
    pub fn write(&self) -> Result<Vec<u8>, JobError> {
        match &self.holds {
            Holds::Program { program, .. } => render(program, &self.files.post).map_err(|e| {
                let text = format!("this program cannot be written: {e}");
                JobError::from(self.files.post_text.fault(&e.key, text, None))
            }),
            Holds::Drawing(file, program) => {
                let notes = match file.subject {
                    DxfSubject::Sheet(_) => {
                        let zero = |note: &&String| !note.starts_with("zero");
                        program.notes.iter().filter(zero).cloned().collect()
                    }
                    DxfSubject::Piece { .. } => piece_notes(self.files),
                };
                write_dxf(file, &notes)
                    .map_err(|e| JobError::Internal(format!("{}: {e}", self.path)))
            }
        }
    }

    /// Proves bytes to be this file. A program is read back, its state run, every motion rule held, its
    /// sweep compared with the pieces; a DXF file is read back and compared.
    ///
    /// # Errors
    /// All faults found.
    pub fn prove(&self, bytes: &[u8]) -> Result<Proven, Vec<ReplayFault>> {
        match &self.holds {
            Holds::Program { sheet, program } => {
                let proof = prove_program(self.files, self.layout, sheet, program, bytes)?;
                Ok(Proven::Program(proof))
            }
            Holds::Drawing(file, _) => Ok(Proven::Drawing(prove_dxf(bytes, file)?)),
        }
    }
}

fn prove_program(
    files: &JobFiles,
    layout: &FlatLayout,
    sheet: &FlatSheet,
    program: &Program,
    gcode: &[u8],
) -> Result<SheetProof, Vec<ReplayFault>> {
    let rules = DialectRules::of(&files.post.gcode);
    let trace = read(gcode, &rules)?;
    let faults = check_motion(&trace, program, &limits(files, sheet, program), &rules);
    if !faults.is_empty() {
        return Err(faults);
    }
    prove_pieces(&cuts(&trace), layout, sheet, program)
}

fn limits(files: &JobFiles, sheet: &FlatSheet, program: &Program) -> MotionLimits {
    let (bed_lowest_z, safe_z) = match (&files.machine.head, &program.head) {
        (HeadKind::Router(router), Head::Cutter { safe_z, .. }) => (-router.spoil, *safe_z),
        _ => (0.0, 0.0),
    };
    MotionLimits {
        stock: [[0.0; 3], [sheet.length, sheet.width, sheet.thickness]],
        travel: files.machine.travel,
        bed_lowest_z,
        safe_z,
        feed: files.machine.feed,
    }
}

/// The cuts of a trace: moves at feed with the head on.
fn cuts(trace: &Trace) -> Vec<SweptMove> {
    let cut = |event: &crate::replay::gcode_read::Event| match &event.kind {
        EventKind::Cut {
            from,
            to,
            arc,
            head_on: true,
            ..
        } => Some(SweptMove {
            line: event.line,
            from: *from,
            to: *to,
            arc: arc.map(|a| (kurbo::Point::new(a.centre[0], a.centre[1]), a.ccw)),
        }),
        _ => None,
    };
    trace.events.iter().filter_map(cut).collect()
}
