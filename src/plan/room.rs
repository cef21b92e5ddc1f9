//! The room that programs need: told, checked, and shown by an air run.

use super::controller::work_zero;
use super::edge_plan::{BedRun, DatumRun, EdgePlan, Run, Work};
use super::flat::FlatPlan;
use super::notes::{caution_notes, machine};
use super::program_head::made_by;
use super::whole::{Cuts, Cutting};
use crate::document::Numbers;
use crate::panel::{JobFiles, OwnMachine};
use crate::path::{AirRun, Head, Note, NoteKind, PathBox, Program, air_run_stem};
use crate::safety::{Check, Job, Part, reach_checks};
use crate::setup::{FlatSheet, Gang};
use kurbo::Rect;

/// The air run of a program, with what its operator reads.
pub(crate) fn air_run(files: &JobFiles, own: &OwnMachine, program: &Program) -> AirRun {
    let n = Numbers::of_dialect(&own.post);
    let stem = &program.stem;
    let title = format!("{}: air run of gcode/{stem}.nc", files.panel.name);
    let mut notes = vec![
        Note::new(NoteKind::Title, title),
        made_by(files, &own.post),
        machine(&own.machine),
    ];
    notes.extend(work_zero(&own.post).map(|text| Note::new(NoteKind::Zero, text)));
    match &program.head {
        Head::Beam { .. } => notes.push(Note::new(
            NoteKind::Work,
            "once round the box of the path of that program, beam off, then over x = y = 0; z is not moved: \
             the head must be clear at the height where it stands",
        )),
        Head::Cutter {
            safe_z,
            tool_number,
            tool_name,
            ..
        } => notes.extend([
            Note::new(
                NoteKind::Work,
                format!(
                    "up to the safe height {}, once round the box of the path of that program, spindle off, then \
                     over x = y = 0; nothing is cut",
                    n.fine_with_unit(*safe_z)
                ),
            ),
            Note::new(
                NoteKind::Zero,
                format!(
                    "first set x, y and z as for that program, z with tool {tool_number} in the spindle: {}",
                    tool_name
                ),
            ),
            Note::new(
                NoteKind::Zero,
                "no tool is called for here, for a change would move the head by itself: a tool that stands out \
                 further than the one z was set with runs too low",
            ),
        ]),
    }
    notes.push(Note::new(
        NoteKind::Step,
        "watch the tip: clear of stock, clamps and all else on every side; stop where it is not",
    ));
    notes.extend(caution_notes(files));
    AirRun::of(program, own.machine.air_feed(), notes)
}

/// The step that comes before a program is run, in words.
pub(crate) fn air_run_step(stem: &str) -> String {
    format!(
        "Air run: gcode/{}.nc, with the head off. It goes once round the box of the path and ends above the \
         zero: see that all of it is clear.",
        air_run_stem(stem)
    )
}

/// The box of a path and what zero needs for it, in words.
pub(crate) fn room(path: PathBox, n: Numbers) -> String {
    let [path, needs] = path.words(n);
    format!("{path}; {needs}.")
}

/// What all programs of edge-up cutting need from their one zero, in words.
pub(crate) fn whole_room(plan: &EdgePlan, n: Numbers) -> String {
    format!(
        "Room for all programs from one zero: {}",
        room(plan.path, n)
    )
}

/// Whether the machine reaches all that is cut: each sheet from a zero of its own, all that is cut edge up
/// from one.
pub(crate) fn reach(files: &JobFiles, cuts: &Cuts) -> Vec<Check> {
    let mut jobs = Vec::new();
    match &cuts.bars {
        Cutting::Flat(flat) => jobs.extend(sheets(flat)),
        Cutting::EdgeUp(plan) => jobs.push(Job {
            place: "all clampings".into(),
            parts: plan.runs().flat_map(|run| clamped(plan, run)).collect(),
        }),
    }
    jobs.extend(cuts.beside.iter().flat_map(sheets));
    let machine = files.own().map(|own| &own.machine);
    machine.map_or_else(Vec::new, |machine| reach_checks(machine, &jobs))
}

fn path_of(program: &Program) -> Part {
    let name = format!("gcode/{}.nc", program.stem);
    Part::Path(name, PathBox::of(program))
}

fn sheets(flat: &FlatPlan) -> impl Iterator<Item = Job> + '_ {
    let job = |(sheet, program): (&FlatSheet, &Program)| {
        let blank = Rect::new(0.0, 0.0, sheet.length, sheet.width);
        Job {
            place: flat.layout.title(sheet),
            parts: vec![path_of(program), Part::Blank(sheet.stock.clone(), blank)],
        }
    };
    flat.cuts().map(job)
}

/// The path of a program of edge-up cutting, and the wood that it works on: sticks and rails, or both battens.
fn clamped(plan: &EdgePlan, run: Run<'_>) -> impl Iterator<Item = Part> {
    let radius = run.program.head.radius();
    let wood = match run.work {
        Work::Bed(BedRun { bed, .. }) => {
            vec![Part::Blank("the board that is planed".into(), bed.rect)]
        }
        Work::Datum(DatumRun { corner, .. }) => {
            let name = format!("fence and reference rail of gcode/{}.nc", run.program.stem);
            vec![Part::Blank(name, corner.extent())]
        }
        Work::Slots(_, slots) => {
            let wood = |gang: &Gang| {
                let name = format!("sticks {} with rails", gang.id);
                Part::Blank(name, gang.extent(radius))
            };
            plan.gangs(&slots.uses).map(wood).collect()
        }
    };
    std::iter::once(path_of(run.program)).chain(wood)
}
