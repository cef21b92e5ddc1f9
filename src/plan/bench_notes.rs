//! What the operator of edge-up cutting reads at the head of each program, in the program's own unit.

use super::edge_plan::{EdgePlan, Run};
use super::notes::{ascii, cautions};
use super::steps::{BenchSteps, Words, reading_steps, sides};
use crate::document::Numbers;
use crate::document::degrees;
use crate::lattice::Edge;
use crate::panel::JobFiles;
use crate::path::Bed;
use crate::setup::{Comb, Corner};

/// What the operator reads at the head of a program of slots, the steps of its clampings among it; plain ASCII.
pub(super) fn slot_notes(
    files: &JobFiles,
    plan: &EdgePlan,
    run: &Run,
    comb: Option<&Comb>,
    steps: &BenchSteps,
) -> Vec<String> {
    let mut notes = head(files);
    for &(b, g) in &run.uses {
        let Some(gang) = plan.benches.get(b).and_then(|b| b.gangs.get(g)) else {
            continue;
        };
        let up = match gang.edge {
            Edge::Front => "front edge up",
            Edge::Back => "back edge up",
        };
        let number = plan.number_of((b, g));
        notes.push(format!(
            "sticks {}, clamping {number}, {up}, fence at {} degrees, {} sticks, loads: {}",
            gang.id,
            degrees(gang.fence_deg),
            gang.sticks(),
            gang.loads.len()
        ));
        notes.extend(steps.numbered(number).map(|s| ascii(&s)));
        notes.extend(reading_steps(comb).iter().map(|s| ascii(s)));
    }
    notes.extend(cautions(files));
    notes
}

/// What the operator reads at the head of a datum's program; plain ASCII.
pub(super) fn datum_notes(
    files: &JobFiles,
    plan: &EdgePlan,
    run: &Run,
    corner: &Corner,
) -> Vec<String> {
    let mut notes = head(files);
    let (stands, _) = sides(corner.side());
    notes.push(format!(
        "datum: the faces of a fence at {} degrees and of the reference rail, which stands {stands} the zero",
        degrees(corner.fence_deg)
    ));
    let words = Words {
        plan,
        files,
        comb: None,
        n: Numbers::of_dialect(&files.post),
    };
    notes.push(ascii(&words.zero()));
    let mut told: Vec<(Vec<String>, String)> = Vec::new();
    for &clamping in run.uses.iter().filter(|&&c| plan.is_fresh(c)) {
        let number = plan.number_of(clamping).to_string();
        let words = ascii(&words.battens(corner, clamping));
        match told.iter_mut().find(|t| t.1 == words) {
            Some(same) => same.0.push(number),
            None => told.push((vec![number], words)),
        }
    }
    for (numbers, words) in told {
        notes.push(format!("before clamping {}: {words}", numbers.join(", ")));
    }
    notes.extend(cautions(files));
    notes
}

/// What the operator reads at the head of the bed's program; plain ASCII.
pub(super) fn bed_notes(files: &JobFiles, bed: &Bed) -> Vec<String> {
    let mut notes = head(files);
    notes.push(format!(
        "bed: planes {} off the board under the sticks; z is 0 on its highest place, and is touched again \
         afterwards",
        Numbers::of_dialect(&files.post).fine_with_unit(bed.depth)
    ));
    notes.extend(cautions(files));
    notes
}

fn head(files: &JobFiles) -> Vec<String> {
    vec![
        ascii(&files.panel.name),
        format!("stock: {}", ascii(&files.material.name)),
        format!("machine: {}", ascii(&files.machine.name)),
    ]
}
