//! One sheet's files, proven from their bytes: knows the plan, and no digest.

use crate::panel::{HeadKind, JobFiles};
use crate::path::{Head, Program};
use crate::replay::dxf::prove_dxf;
use crate::replay::gcode_read::{EventKind, Trace, read};
use crate::replay::motion::{MotionLimits, check_motion};
use crate::replay::{DialectRules, ReplayFault, SheetProof, SweptMove, prove_pieces};
use crate::setup::{FlatLayout, FlatSheet};
use crate::write::dxf::DxfContent;

/// The bytes of a sheet's files.
#[derive(Debug, Clone, Copy)]
pub struct SheetFiles<'a> {
    /// The G-code program.
    pub gcode: &'a [u8],
    /// DXF at drawn size.
    pub drawn: Option<&'a [u8]>,
    /// DXF of the path, kerf or tool taken in.
    pub compensated: Option<&'a [u8]>,
}

/// Proves a sheet: the program is read back, its state run, every motion rule held, its sweep compared
/// with the pieces; each DXF file is read back and compared.
///
/// # Errors
/// All faults found, each with the file it is in: `gcode`, `drawn` or `compensated`.
pub fn prove_sheet(
    files: &JobFiles,
    layout: &FlatLayout,
    sheet: &FlatSheet,
    program: &Program,
    bytes: SheetFiles<'_>,
) -> Result<SheetProof, Vec<(&'static str, ReplayFault)>> {
    let mut faults = Vec::new();
    let SheetFiles {
        gcode,
        drawn,
        compensated,
    } = bytes;
    let proof = prove_program(files, layout, sheet, program, gcode)
        .map_err(|list| faults.extend(list.into_iter().map(|f| ("gcode", f))));
    let sets = [
        ("drawn", drawn, DxfContent::Drawn),
        ("compensated", compensated, DxfContent::Compensated(program)),
    ];
    for (name, bytes, content) in sets {
        if let Some(bytes) = bytes
            && let Err(list) = prove_dxf(bytes, layout, sheet, content, &files.post.dxf)
        {
            faults.extend(list.into_iter().map(|f| (name, f)));
        }
    }
    match proof {
        Ok(proof) if faults.is_empty() => Ok(proof),
        _ => Err(faults),
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
