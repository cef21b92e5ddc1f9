//! A file that a machine reads: written, proven, and proven again from a folder. The proof is a function of bytes and plan,
//! and knows no digest.

use super::error::JobError;
use crate::geom::bounds;
use crate::panel::{JobFiles, Material, OwnMachine};
use crate::path::{AirRun, Bed, Head, Note, NoteKind, Program};
use crate::plan::{CuttingHead, FlatPlan, RouterHead, SlotRunId};
use crate::replay::air_run::{AirLimits, check_air_run};
use crate::replay::dxf::{DxfProof, prove_dxf};
use crate::replay::gcode_read::{Event, EventKind, Frame, Trace, read};
use crate::replay::motion::{MotionLimits, check_motion};
use crate::replay::{
    DialectRules, ReplayFault, SheetProof, SweptMove, prove_bed, prove_datum, prove_pieces,
};
use crate::setup::{Corner, FlatSheet, Gang, ROUGH, SheetId};
use crate::write::dxf::{DxfFile, DxfSubject, write_dxf};
use crate::write::gcode::{PostError, render, render_air_run};
use kurbo::Rect;

/// A file that a machine reads.
#[derive(Debug, Clone)]
pub struct CutFile<'a> {
    /// Where it lies in the folder, with `/` between parts.
    pub path: String,
    /// What it holds.
    pub holds: Holds<'a>,
    /// Whether it is for infill that is cut by itself, and has no part in the dry fit.
    pub beside: bool,
    /// The wood that it is for.
    pub(super) wood: usize,
    pub(super) files: &'a JobFiles,
}

/// What a cut file holds.
#[derive(Debug, Clone)]
pub enum Holds<'a> {
    /// The G-code program of a sheet.
    Program {
        /// The machine that it is for.
        own: &'a OwnMachine,
        /// The cutting of its wood.
        flat: &'a FlatPlan,
        /// The sheet.
        sheet: SheetId,
        /// Its moves.
        program: &'a Program,
    },
    /// A DXF file, and what is told of the sheet that it shows or that its piece lies on.
    Drawing(DxfFile<'a>, &'a [Note]),
    /// The G-code program of one or more clampings.
    Slots {
        /// What cuts.
        head: &'a RouterHead,
        /// The program in its plan.
        run: SlotRunId,
        /// The clamping that stands for all that use it.
        gang: &'a Gang,
        /// Its moves.
        program: &'a Program,
    },
    /// The G-code program of a datum: the faces of reference rail and fence.
    Datum {
        /// What cuts.
        head: &'a RouterHead,
        /// Both faces.
        corner: &'a Corner,
        /// Its moves.
        program: &'a Program,
    },
    /// The G-code program that planes the board under the sticks.
    Bed {
        /// What cuts.
        head: &'a RouterHead,
        /// What is planed.
        bed: &'a Bed,
        /// Its moves.
        program: &'a Program,
    },
    /// The air run of the program before it in the list, on the same machine.
    AirRun(&'a OwnMachine, Box<AirRun>),
}

impl<'a> Holds<'a> {
    /// A program, and the machine that it is for; `None` for drawings and air runs.
    pub(super) fn program(&self) -> Option<(&'a OwnMachine, &'a Program)> {
        match self {
            Self::Program { own, program, .. } => Some((own, program)),
            Self::Slots { head, program, .. }
            | Self::Datum { head, program, .. }
            | Self::Bed { head, program, .. } => Some((&head.own, program)),
            Self::Drawing(..) | Self::AirRun(..) => None,
        }
    }
}

/// What the proof of a cut file found in it.
#[derive(Debug)]
pub enum Proven {
    /// Of a sheet's program: the shapes that it cuts.
    Program(SheetProof),
    /// Of a DXF file: its contours.
    Drawing(DxfProof),
    /// Of a program of slots: its cuts, to be proven together with those of the other clampings.
    Slots {
        /// The program in its plan.
        run: SlotRunId,
        /// The cuts.
        cuts: Vec<SweptMove>,
    },
    /// Of a datum's or the bed's program: nothing further.
    Bench,
    /// Of an air run: nothing further.
    AirRun,
}

impl CutFile<'_> {
    /// The material of what it cuts.
    #[must_use]
    pub fn material(&self) -> &Material {
        self.files.wood(self.wood).0
    }

    /// The bytes of the file.
    ///
    /// # Errors
    /// A template that makes no sound block, and what only a fault of this program brings about.
    pub fn write(&self) -> Result<Vec<u8>, JobError> {
        let unwritten = |own: &OwnMachine, e: PostError| self.unwritten(own, &e);
        match &self.holds {
            Holds::Drawing(file, notes) => write_dxf(file, &self.notes(file, notes))
                .map_err(|e| JobError::Internal(format!("{}: {e}", self.path))),
            Holds::AirRun(own, air) => {
                render_air_run(air, &own.post).map_err(|e| unwritten(own, e))
            }
            Holds::Program { own, program, .. } => {
                render(program, &own.post).map_err(|e| unwritten(own, e))
            }
            Holds::Slots { head, program, .. }
            | Holds::Datum { head, program, .. }
            | Holds::Bed { head, program, .. } => {
                let own = &head.own;
                render(program, &own.post).map_err(|e| unwritten(own, e))
            }
        }
    }

    /// What a drawing tells besides what it says by itself; it may come under any head.
    pub(super) fn notes(&self, file: &DxfFile<'_>, of_sheet: &[Note]) -> Vec<Note> {
        match file.subject {
            DxfSubject::Sheet(_) => {
                let own = of_sheet.iter().filter(|note| note.kind.is_for_drawings());
                let beam = self.material().not_for_a_beam();
                let beam = beam.map(|text| Note::new(NoteKind::NoBeam, text));
                own.cloned().chain(beam).collect()
            }
            // One piece has no room for notes.
            DxfSubject::Piece { .. } => Vec::new(),
        }
    }

    /// A program that the dialect cannot write, told at the key of the post-processor file.
    fn unwritten(&self, own: &OwnMachine, e: &PostError) -> JobError {
        let text = format!("this program cannot be written: {e}");
        own.post_text.fault(&e.key, text, None).into()
    }

    /// Proves bytes to be this file. A program is read back, its state run, every motion rule held, its
    /// sweep compared with the pieces; a DXF file is read back and compared.
    ///
    /// # Errors
    /// All faults found.
    pub fn prove(&self, bytes: &[u8]) -> Result<Proven, Vec<ReplayFault>> {
        match &self.holds {
            Holds::Program {
                own,
                flat,
                sheet,
                program,
            } => {
                let sheet = &flat.layout.sheets[*sheet];
                let limits = sheet_limits(own, &flat.head, sheet, program)?;
                let cuts = proven_moves(own, program, &limits, bytes)?;
                let proof = prove_pieces(&cuts, &flat.layout, sheet, program)?;
                Ok(Proven::Program(proof))
            }
            Holds::Drawing(file, notes) => {
                let notes = self.notes(file, notes);
                Ok(Proven::Drawing(prove_dxf(bytes, file, &notes)?))
            }
            Holds::AirRun(own, air) => {
                prove_air_run(own, air, bytes)?;
                Ok(Proven::AirRun)
            }
            Holds::Slots {
                head,
                run,
                gang,
                program,
            } => {
                let limits = bench_limits(head, program, slots_box(gang), 0.0)?;
                let cuts = proven_moves(&head.own, program, &limits, bytes)?;
                Ok(Proven::Slots { run: *run, cuts })
            }
            Holds::Datum {
                head,
                corner,
                program,
            } => {
                let radius = program.head.radius();
                let spoil = head.router.spoil;
                let limits = bench_limits(head, program, datum_box(corner), spoil)?;
                let cuts = proven_moves(&head.own, program, &limits, bytes)?;
                prove_datum(corner, -head.set.through(), &cuts, radius)?;
                Ok(Proven::Bench)
            }
            Holds::Bed { head, bed, program } => {
                let radius = program.head.radius();
                let top = (bed.rect, 0.0);
                let limits = bench_limits(head, program, top, head.router.spoil)?;
                let cuts = proven_moves(&head.own, program, &limits, bytes)?;
                prove_bed(bed.rect, -bed.depth, &cuts, radius)?;
                Ok(Proven::Bench)
            }
        }
    }
}

/// Reads an air run back and holds it to its own rules.
fn prove_air_run(own: &OwnMachine, air: &AirRun, bytes: &[u8]) -> Result<(), Vec<ReplayFault>> {
    let rules = DialectRules::of(&own.post.gcode).for_air_run();
    let frame = Frame::of_air_run(air, &own.post).map_err(unwritten)?;
    let trace = read(bytes, &rules, &frame)?;
    let limits = AirLimits {
        travel: own.machine.travel,
        greatest_feed: own.machine.feed[1],
    };
    let faults = check_air_run(&trace, air, &limits, &rules, &frame);
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// Reads a program back and holds it to every motion rule: its cuts.
fn proven_moves(
    own: &OwnMachine,
    program: &Program,
    limits: &MotionLimits,
    gcode: &[u8],
) -> Result<Vec<SweptMove>, Vec<ReplayFault>> {
    let rules = DialectRules::of(&own.post.gcode);
    let frame = Frame::of(program, &own.post).map_err(unwritten)?;
    let trace = read(gcode, &rules, &frame)?;
    let faults = check_motion(&trace, program, limits, &rules, &frame);
    if faults.is_empty() {
        Ok(cuts(trace))
    } else {
        Err(faults)
    }
}

/// A program whose dialect cannot write it cannot be proven.
fn unwritten(e: PostError) -> Vec<ReplayFault> {
    vec![ReplayFault {
        rule: "frame",
        line: None,
        what: e.to_string(),
    }]
}

fn sheet_limits(
    own: &OwnMachine,
    head: &CuttingHead,
    sheet: &FlatSheet,
    program: &Program,
) -> Result<MotionLimits, Vec<ReplayFault>> {
    let [bed_lowest_z, pass_depth, safe_z] = match (head, &program.head) {
        // A beam knows neither heights nor passes.
        (CuttingHead::Laser(_), Head::Beam { .. }) => [0.0; 3],
        (CuttingHead::Router(head), Head::Cutter { safe_z, .. }) => {
            [-head.router.spoil, head.cut.pass_depth, *safe_z]
        }
        (CuttingHead::Laser(_), Head::Cutter { .. })
        | (CuttingHead::Router(_), Head::Beam { .. })
        | (CuttingHead::Elsewhere(_), _) => return Err(other_head(program)),
    };
    Ok(MotionLimits {
        stock: [[0.0; 3], [sheet.length, sheet.width, sheet.thickness]],
        travel: own.machine.travel,
        bed_lowest_z,
        pass_depth,
        safe_z,
        feed: own.machine.feed,
    })
}

/// A program that is not for the head that is to run it.
fn other_head(program: &Program) -> Vec<ReplayFault> {
    let what = match &program.head {
        Head::Beam { .. } => "the plan has a beam's program for another head",
        Head::Cutter { .. } => "the plan has a cutter's program for another head",
    };
    vec![ReplayFault {
        rule: "off-plan",
        line: None,
        what: what.to_owned(),
    }]
}

/// What slots are cut in, from above and up to which height: sticks and rails.
fn slots_box(gang: &Gang) -> (Rect, f64) {
    let [near, far] = gang.reach();
    (bounds(&gang.band([near, far])), gang.depth)
}

/// What a datum is milled in: both battens, and the cutter's way before their faces.
fn datum_box(corner: &Corner) -> (Rect, f64) {
    let way = bounds(&corner.path(ROUGH));
    (corner.extent().union(way), corner.height)
}

fn bench_limits(
    head: &RouterHead,
    program: &Program,
    (over, top): (Rect, f64),
    spoil: f64,
) -> Result<MotionLimits, Vec<ReplayFault>> {
    let Head::Cutter { safe_z, .. } = program.head else {
        return Err(other_head(program));
    };
    let own = &head.own;
    Ok(MotionLimits {
        stock: [[over.x0, over.y0, 0.0], [over.x1, over.y1, top]],
        travel: own.machine.travel,
        bed_lowest_z: -spoil,
        pass_depth: head.cut.pass_depth,
        safe_z,
        feed: own.machine.feed,
    })
}

/// The cuts of a trace: moves at feed with the head on.
fn cuts(trace: Trace) -> Vec<SweptMove> {
    let cut = |event: Event| match event.kind {
        EventKind::Cut {
            from,
            to,
            arc,
            head_on: true,
            ..
        } => Some(SweptMove {
            line: event.line,
            from,
            to,
            arc: arc.map(|a| (kurbo::Point::new(a.centre[0], a.centre[1]), a.ccw)),
        }),
        _ => None,
    };
    trace.events.into_iter().filter_map(cut).collect()
}
