//! The files that a machine reads: one list, from which they are written, proven, and proven again from a folder.

use super::cut_file::{CutFile, Holds};
use crate::panel::{DxfScope, DxfSize, JobFiles};
use crate::plan::{
    BedRun, Cutting, DatumRun, DrawnSheet, EdgePlan, FlatPlan, Plan, Run, Work, air_run,
};
use crate::write::dxf::{DxfContent, DxfFile, DxfParts, DxfSubject};

impl Plan {
    /// All files that a machine reads, in the order in which they are proven: those of the members, then
    /// of infill that is cut by itself. Cut flat, program and drawings of each sheet, then the drawings of
    /// the pieces; cut edge up, the bed, datums, then slots. After each program comes its air run.
    #[must_use]
    pub fn cut_files(&self) -> Vec<CutFile<'_>> {
        let files = &self.files;
        let mut list = match &self.cuts.bars {
            Cutting::Flat(flat) => flat_files(files, flat, false),
            Cutting::EdgeUp(plan) => edge_files(files, plan),
        };
        let beside = self.cuts.beside.iter();
        list.extend(beside.flat_map(|flat| flat_files(files, flat, true)));
        list.into_iter().flat_map(with_air_run).collect()
    }
}

/// A file and, where it is a program, its air run.
fn with_air_run(file: CutFile<'_>) -> impl Iterator<Item = CutFile<'_>> {
    let air = file.holds.program().map(|(own, program)| {
        let air = air_run(file.files, own, program);
        CutFile {
            path: format!("gcode/{}.nc", air.program.stem),
            holds: Holds::AirRun(own, Box::new(air)),
            ..file.clone()
        }
    });
    std::iter::once(file).chain(air)
}

fn edge_files<'a>(files: &'a JobFiles, plan: &'a EdgePlan) -> Vec<CutFile<'a>> {
    let file = |run: Run<'a>| {
        let (head, program) = (&plan.head, run.program);
        let holds = match run.work {
            Work::Slots(id, slots) => Holds::Slots {
                head,
                run: id,
                gang: &plan.clampings[*slots.uses.first()].gang,
                program,
            },
            Work::Datum(DatumRun { corner, .. }) => Holds::Datum {
                head,
                corner,
                program,
            },
            Work::Bed(BedRun { bed, .. }) => Holds::Bed { head, bed, program },
        };
        CutFile {
            path: format!("gcode/{}.nc", program.stem),
            holds,
            beside: false,
            wood: 0,
            files,
        }
    };
    plan.runs().map(file).collect()
}

/// Program and drawings of each sheet, then the drawings of the pieces; `beside` of what has no part in the dry fit.
fn flat_files<'a>(files: &'a JobFiles, flat: &'a FlatPlan, beside: bool) -> Vec<CutFile<'a>> {
    let layout = &flat.layout;
    let cut = &files.panel.cut;
    let mut list = Vec::new();
    let mut add = |path, holds| {
        list.push(CutFile {
            path,
            holds,
            beside,
            wood: flat.wood,
            files,
        });
    };
    let drawings = |subject, drawn: DrawnSheet<'a>| {
        let sizes = cut.dxf.iter().filter_map(move |size| match size {
            DxfSize::Drawn => Some(DxfContent::Drawn),
            DxfSize::Compensated => drawn.paths.map(DxfContent::Compensated),
        });
        sizes.flat_map(move |content| {
            cut.dxf_version.iter().flat_map(move |&version| {
                let parts = DxfParts::files(cut.dxf_layers, version);
                parts.into_iter().map(move |parts| DxfFile {
                    layout,
                    subject,
                    content,
                    parts,
                    version,
                    style: files.dxf_style(),
                })
            })
        })
    };
    for (id, sheet) in layout.sheets.entries() {
        let drawn = flat.drawn(id);
        if let (Some(own), Some(program)) = (files.own(), flat.program(id)) {
            let path = format!("gcode/{}.nc", program.stem);
            let holds = Holds::Program {
                own,
                flat,
                sheet: id,
                program,
            };
            add(path, holds);
        }
        if cut.dxf_files.contains(&DxfScope::Sheet) {
            for file in drawings(DxfSubject::Sheet(sheet), drawn) {
                add(dxf_path(&file), Holds::Drawing(file, drawn.notes));
            }
        }
    }
    if cut.dxf_files.contains(&DxfScope::Piece) {
        // All copies of a piece are cut alike: the first one stands for them.
        let mut firsts = layout.pieces.column(|_, _| None);
        for drawn in layout.sheets.ids().map(|id| flat.drawn(id)) {
            for (placement, place) in drawn.sheet.placements.entries() {
                firsts[place.piece].get_or_insert((placement, drawn));
            }
        }
        // One that lies nowhere is drawn nowhere; the replay tells it as one that no file cuts.
        for &(placement, drawn) in firsts.iter().flatten() {
            let sheet = drawn.sheet;
            // A piece that is too short to be held has no file of its own.
            if sheet.joined(placement).contains(&true) {
                continue;
            }
            for file in drawings(DxfSubject::Piece { sheet, placement }, drawn) {
                add(dxf_path(&file), Holds::Drawing(file, drawn.notes));
            }
        }
    }
    list
}

fn dxf_path(file: &DxfFile<'_>) -> String {
    format!("dxf/{}", file.name())
}
