//! What the operator of a flat program or drawing reads, and the words that all notes share.

use super::controller::besides_cutting;
use super::head::{CuttingHead, ProgramHead};
use super::program_head::{among_settings, made_by, settings};
use super::unmeasured::flat_settings;
use crate::document::Numbers;
use crate::geom::micron;
use crate::panel::{CutBy, CutWidth, HeadKind, JobFiles, Machine, OwnMachine};
use crate::path::{Note, NoteKind};
use crate::safety::{CAUTIONS, LASER_CAUTIONS};
use crate::setup::{FlatLayout, FlatSheet};

/// What the operator reads at the head of a program; `of_batch` is what every program of its batch tells after its
/// title.
pub(super) fn notes(
    files: &JobFiles,
    head: &CuttingHead,
    own: &ProgramHead<'_>,
    wood: usize,
    layout: &FlatLayout,
    sheet: &FlatSheet,
    of_batch: &[Note],
) -> Vec<Note> {
    let (material, _) = files.wood(wood);
    let mut notes = of_sheet(files, wood, layout, sheet, of_batch);
    let OwnMachine {
        machine: on, post, ..
    } = own.own();
    notes.push(made_by(files, post));
    let values = flat_settings(material, head, Numbers::of_dialect(post));
    notes.extend(settings(values));
    notes.extend(among_settings(besides_cutting(own)));
    notes.extend([
        machine(on),
        Note::new(
            NoteKind::Zero,
            "zero: x and y at the lower left corner of the stock",
        ),
        match own {
            ProgramHead::Laser(_) => Note::new(NoteKind::Focus, "z: focus on the top of the stock"),
            ProgramHead::Router(_) => Note::new(
                NoteKind::Zero,
                "zero: z at the bed under the stock, not on the stock",
            ),
        },
    ]);
    notes.extend(caution_notes(files));
    notes
}

/// What is told on the drawings of a sheet that is cut elsewhere.
pub(super) fn drawing_notes(
    files: &JobFiles,
    wood: usize,
    layout: &FlatLayout,
    sheet: &FlatSheet,
    of_batch: &[Note],
) -> Vec<Note> {
    let mut notes = of_sheet(files, wood, layout, sheet, of_batch);
    notes.push(Note::new(NoteKind::Machine, ELSEWHERE));
    notes.extend(caution_notes(files));
    notes
}

/// Who answers for what the drawings do not say.
pub(crate) const ELSEWHERE: &str =
    "cut on a machine elsewhere: its operator chooses feed, speed or power, and holds";

/// Title, what its batch tells, how often it is run, and stock of a sheet.
fn of_sheet(
    files: &JobFiles,
    wood: usize,
    layout: &FlatLayout,
    sheet: &FlatSheet,
    of_batch: &[Note],
) -> Vec<Note> {
    let (material, _) = files.wood(wood);
    let title = format!("{}: {}", files.panel.name, layout.title(sheet));
    let stock = format!(
        "stock: {}, {}, {} x {} x {} mm",
        material.name,
        sheet.stock,
        micron(sheet.length),
        micron(sheet.width),
        micron(sheet.thickness)
    );
    let mut notes = vec![Note::new(NoteKind::Title, title)];
    notes.extend(of_batch.iter().cloned());
    notes.extend(runs(sheet));
    notes.push(Note::new(NoteKind::Stock, stock));
    notes
}

/// How often a sheet is cut, and what its labels leave out; nothing where it is cut once.
fn runs(sheet: &FlatSheet) -> Vec<Note> {
    let loads = sheet.loads();
    if loads == 1 {
        return Vec::new();
    }
    let mut notes = vec![Note::new(
        NoteKind::Runs,
        format!("run {loads} times, a new sheet each"),
    )];
    if sheet.members_differ() {
        notes.push(Note::new(
            NoteKind::Labels,
            "some places hold one member on one sheet and another on the next: pieces of one letter are the same",
        ));
    }
    notes
}

/// The machine that it is for.
pub(super) fn machine(machine: &Machine) -> Note {
    let text = format!("machine: {}", machine.name);
    Note::new(NoteKind::Machine, text)
}

/// The cautions at the end of every program and drawing.
pub(super) fn caution_notes(files: &JobFiles) -> impl Iterator<Item = Note> {
    cautions(files).map(|text| Note::new(NoteKind::Caution, text))
}

/// The cautions of all that may cut a job: drawings of finished outlines may come under any head.
pub(crate) fn cautions(files: &JobFiles) -> impl Iterator<Item = String> {
    let beam = match &files.cut_by {
        CutBy::Own(own) => matches!(own.machine.head, HeadKind::Laser(_)),
        CutBy::Elsewhere(cut) => !matches!(cut.width, Some(CutWidth::Tool(_))),
    };
    let laser: &[_] = if beam { LASER_CAUTIONS } else { &[] };
    CAUTIONS.iter().chain(laser).map(|s| (*s).to_owned())
}
