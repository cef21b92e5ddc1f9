//! What the maker does at the bench for each clamping of edge-up cutting, in words.

use super::edge_up::{Bench, EdgePlan, Run, short};
use super::plan::{ascii, cautions};
use super::room::air_run_step;
use crate::lattice::Edge;
use crate::panel::{HeadKind, JobFiles};
use crate::setup::{Comb, Gang, MarkOn, ROOM, Seat, mark_room};
use crate::sheet::Numbers;

/// Steps of one clamping, in order; lengths as `n` writes them.
pub(super) fn gang_steps(
    plan: &EdgePlan,
    (b, g): (usize, usize),
    files: &JobFiles,
    comb: Option<&Comb>,
    n: Numbers,
) -> Vec<String> {
    let Some(bench) = plan.benches.get(b) else {
        return Vec::new();
    };
    let Some(gang) = bench.gangs.get(g) else {
        return Vec::new();
    };
    let stem = |r: Option<&usize>| {
        r.and_then(|&r| plan.runs.get(r))
            .map_or("", |run| run.program.stem.as_str())
    };
    let (fence, slots) = (stem(bench.fences.get(g)), stem(bench.slots.get(g)));
    let radius = plan
        .runs
        .first()
        .map_or(0.0, |run| run.program.head.radius());
    let fence = if plan.fence_stands((b, g)) {
        format!(
            "Fence: the one at {} degrees stays as it is from the clamping before.",
            short(gang.fence_deg)
        )
    } else {
        format!(
            "Fence: clamp a batten {} high so that its edge stands {} past the line at {} degrees, \
             and mill its face with gcode/{fence}.nc. Do not move it until clamping {} is cut.",
            n.fine_with_unit(gang.depth),
            n.with_unit(ROOM),
            short(gang.fence_deg),
            plan.fence_until((b, g))
        )
    };
    let mut steps = vec![fence, placing(bench, gang, g)];
    steps.push(format!(
        "Rails: one on each side, {} thick, as high as the sticks, {}, fresh or shifted so that the cuts \
         meet whole wood. They begin {} and {} from the zero along x.",
        n.fine_with_unit(gang.rail),
        n.fine_with_unit(gang.depth),
        n.with_unit(gang.rail_ends(radius)[0][0]),
        n.with_unit(gang.rail_ends(radius)[1][0])
    ));
    let [lead, tail] = gang.holds();
    steps.push(format!(
        "Hold: a bar across the gang beside the fence, {} to {} from its face, and one {} to {} from it, \
         both along the slots. Clamps press the rails together. No clamp stands higher than {} over the \
         sticks.",
        n.with_unit(lead[0]),
        n.with_unit(lead[1]),
        n.with_unit(tail[0]),
        n.with_unit(tail[1]),
        n.fine_with_unit(clamp_height(files))
    ));
    steps.push(
        "Zero: x and y where the fence's face meets the first rail's inner side, z on the bed under \
         the sticks. Never zero on top of the sticks."
            .to_owned(),
    );
    if let (true, Some(room)) = (
        gang.mark.is_some(),
        mark_room(&bench.stick, &bench.gangs, radius),
    ) {
        let on = match room.on {
            _ if comb.is_some() => "Notch 1 is next to it.",
            MarkOn::Trimmed => {
                "It lies on the first piece of every stick, where it is trimmed away after glue-up. \
                 Pencil the same mark on the other pieces before cross-cutting."
            }
            MarkOn::CutOff => {
                "It lies where nothing is kept: pencil the same mark on every piece before cross-cutting."
            }
            MarkOn::BackEdge => {
                "It stays on the first piece of every stick, in the edge that goes to the back of the \
                 panel. Pencil the same mark on the other pieces before cross-cutting."
            }
        };
        let shows = if room.on != MarkOn::BackEdge && bench.stick.alike_over() {
            "the datum end; both edges are alike".to_owned()
        } else {
            format!("the {} edge and the datum end", gang.edge.word())
        };
        steps.push(format!(
            "The program first cuts a mark across all sticks: it shows {shows}. {on}"
        ));
    }
    let loads = match gang.loads.len() {
        1 => String::new(),
        loads => format!(" {loads} times, once for each load"),
    };
    steps.push(air_run_step(slots));
    let floors = gang.slots.iter().map(|s| s.floor);
    steps.push(format!(
        "Run gcode/{slots}.nc{loads}. {} slots, the deepest floor {} above the bed.",
        gang.slots.len(),
        n.fine_with_unit(floors.fold(gang.depth, f64::min))
    ));
    steps
}

/// How a coupon is read, after its clamping; nothing for a panel.
pub(super) fn reading_steps(comb: Option<&Comb>) -> Vec<String> {
    let Some(comb) = comb else {
        return Vec::new();
    };
    let lines = comb.how_to_read().into_iter();
    std::iter::once(format!("Read {}.", comb.notches_in_words()))
        .chain(lines.map(|line| format!("Read: {line}.")))
        .collect()
}

/// How the sticks lie.
fn placing(bench: &Bench, gang: &Gang, g: usize) -> String {
    let edge = gang.edge.word();
    let before = g.checked_sub(1).and_then(|k| bench.gangs.get(k));
    let turned = match before {
        None => String::new(),
        Some(b) if b.edge == gang.edge => " Keep the edge that was up.".to_owned(),
        Some(_) => {
            " Turn each stick over by itself about its long axis, in its place, the datum end \
                    back to the fence: never the gang as a block."
                .to_owned()
        }
    };
    let count = |seat: Seat| gang.loads.iter().flatten().filter(|&&s| s == seat).count();
    let loads = match gang.loads.len() {
        1 => String::new(),
        n => format!(
            " In {n} loads of {}; dummies serve again, and are counted in each.",
            gang.sticks()
        ),
    };
    let dummies = match count(Seat::Dummy) {
        0 => String::new(),
        1 => " and a dummy of the same face and depth".to_owned(),
        n => format!(" and {n} dummies of the same face and depth"),
    };
    let (spares, outermost) = match count(Seat::Spare) {
        0 => (String::new(), "these outermost"),
        n => (
            format!(", {n} spare"),
            "the outermost two spares or dummies",
        ),
    };
    format!(
        "Sticks {}: {} to keep{spares}{dummies}, {outermost}. Lay them side by \
         side, {edge} edge up, each datum end against the fence.{turned}{loads}",
        gang.id,
        count(Seat::Kept),
    )
}

/// What the operator reads at the head of a program of slots; plain ASCII.
pub(super) fn slot_notes(
    files: &JobFiles,
    plan: &EdgePlan,
    run: &Run,
    comb: Option<&Comb>,
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
        notes.push(format!(
            "sticks {}, clamping {}, {up}, fence at {} degrees, {} sticks, loads: {}",
            gang.id,
            plan.number_of((b, g)),
            short(gang.fence_deg),
            gang.sticks(),
            gang.loads.len()
        ));
        let mut steps = gang_steps(plan, (b, g), files, comb, Numbers::MM);
        steps.extend(reading_steps(comb));
        notes.extend(steps.iter().map(|s| ascii(s)));
    }
    notes.extend(cautions(files));
    notes
}

/// What the operator reads at the head of a fence's program; plain ASCII.
pub(super) fn fence_notes(files: &JobFiles, plan: &EdgePlan, run: &Run) -> Vec<String> {
    let mut notes = head(files);
    if let Some(gang) = plan.gang_of(run) {
        let reach = 2.0 * run.program.head.radius() - ROOM;
        notes.push(format!(
            "fence at {} degrees for up to {} sticks",
            short(gang.fence_deg),
            gang.sticks()
        ));
        notes.push(format!(
            "a batten {} high, clamped outside of the path, its edge no more than {} past the line",
            Numbers::MM.fine_with_unit(gang.depth),
            Numbers::MM.fine_with_unit(reach)
        ));
        notes.push(
            "zero: x and y where the fence's face will meet the first rail's inner side, z on the bed"
                .to_owned(),
        );
    }
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

pub(super) fn clamp_height(files: &JobFiles) -> f64 {
    match &files.machine.head {
        HeadKind::Router(router) => router.clamp_height,
        HeadKind::Laser(_) => 0.0,
    }
}
