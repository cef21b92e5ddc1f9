//! What the operator of edge-up cutting reads at the head of each program, in the program's own unit.

use super::bench_steps::{BenchSteps, Words, reading_steps, sides};
use super::edge_plan::{Clamping, DatumRun, EdgePlan, SlotRun};
use super::head::RouterHead;
use super::notes::{caution_notes, machine};
use super::program_head::{among_settings, made_by, settings};
use super::unmeasured::edge_settings;
use crate::document::{Numbers, degrees};
use crate::geom::micron;
use crate::lattice::Edge;
use crate::panel::JobFiles;
use crate::path::{Bed, Note, NoteKind};
use crate::setup::Comb;

/// What the operator reads at the head of a program of slots, the steps of its clampings among it.
pub(super) fn slot_notes(
    files: &JobFiles,
    plan: &EdgePlan,
    run: &SlotRun,
    comb: Option<&Comb>,
    steps: &BenchSteps,
) -> Vec<Note> {
    let mut notes = head(files, &plan.head);
    for &id in &run.uses {
        let Clamping {
            class,
            number,
            gang,
            ..
        } = &plan.clampings[id];
        let stick = &plan.benches[*class].stick;
        let up = match gang.edge {
            Edge::Front => "front edge up",
            Edge::Back => "back edge up",
        };
        let work = format!(
            "sticks {}, clamping {number}, {up}, fence at {} degrees, {} sticks of {} x {} x {} mm, loads: {}",
            gang.id,
            degrees(gang.fence_deg),
            gang.sticks(),
            micron(stick.length),
            micron(stick.face),
            micron(stick.depth),
            gang.loads.len()
        );
        let steps = steps.numbered(id).map(|text| (NoteKind::Step, text));
        let reading = reading_steps(comb, Numbers::of_dialect(&plan.head.own.post))
            .into_iter()
            .map(|text| (NoteKind::Coupon, text));
        notes.push(Note::new(NoteKind::Work, work));
        let told = steps.chain(reading);
        notes.extend(told.map(|(kind, text)| Note::new(kind, text)));
    }
    notes.extend(caution_notes(files));
    notes
}

/// What the operator reads at the head of a datum's program.
pub(super) fn datum_notes(files: &JobFiles, plan: &EdgePlan, run: &DatumRun) -> Vec<Note> {
    let corner = &run.corner;
    let mut notes = head(files, &plan.head);
    let (stands, _) = sides(corner.side());
    let work = format!(
        "datum: the faces of a fence at {} degrees and of the reference rail, which stands {stands} the zero",
        degrees(corner.fence_deg)
    );
    notes.push(Note::new(NoteKind::Work, work));
    let words = Words {
        plan,
        comb: None,
        n: Numbers::of_dialect(&plan.head.own.post),
    };
    notes.push(Note::new(NoteKind::Zero, words.zero()));
    let mut told: Vec<(Vec<String>, String)> = Vec::new();
    for clamping in plan.milled_for(run) {
        let number = clamping.number.to_string();
        let words = words.battens(corner, clamping);
        match told.iter_mut().find(|t| t.1 == words) {
            Some(same) => same.0.push(number),
            None => told.push((vec![number], words)),
        }
    }
    for (numbers, words) in told {
        let text = format!("before clamping {}: {words}", numbers.join(", "));
        notes.push(Note::new(NoteKind::Step, text));
    }
    notes.extend(caution_notes(files));
    notes
}

/// What the operator reads at the head of the bed's program.
pub(super) fn bed_notes(files: &JobFiles, cuts: &RouterHead, bed: &Bed) -> Vec<Note> {
    let mut notes = head(files, cuts);
    let work = format!(
        "bed: planes {} off the board under the sticks; z is 0 on its highest place, and is touched again \
         afterwards",
        Numbers::of_dialect(&cuts.own.post).fine_with_unit(bed.depth)
    );
    notes.push(Note::new(NoteKind::Work, work));
    notes.extend(caution_notes(files));
    notes
}

fn head(files: &JobFiles, cuts: &RouterHead) -> Vec<Note> {
    let stock = format!("stock: {}", files.material.name);
    let mut notes = vec![
        Note::new(NoteKind::Title, files.panel.name.as_str()),
        Note::new(NoteKind::Stock, stock),
        machine(&cuts.own.machine),
    ];
    let n = Numbers::of_dialect(&cuts.own.post);
    notes.push(made_by(files, &cuts.own.post));
    notes.extend(settings(edge_settings(files, cuts, n)));
    notes.extend(among_settings(cuts.besides_cutting()));
    notes
}
