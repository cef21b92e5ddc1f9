//! What the summary tells of edge-up cutting: the clampings of each class of sticks, and their datums.

use serde::Serialize;

use super::setups::{BoxOut, KeepOutOut, PlacementOut, SetupOut, ZeroOut, rows};
use crate::geom::{Point, micron};
use crate::panel::{JobFiles, Machine};
use crate::path::{Program, air_run_stem};
use crate::plan::{ClampingId, DatumRun, EdgePlan};
use kurbo::Rect;

const ZERO: ZeroOut = ZeroOut {
    x: "anywhere with room for all programs of the job, once: the fence's face will pass through it",
    y: "likewise, once: the reference rail's face will be there",
    z: "the board under the sticks, touched with a gauge",
};

/// The milling of all datums, then all clampings in the order of work.
pub(super) fn edge_setups(files: &JobFiles, edge: &EdgePlan) -> Vec<SetupOut> {
    let datums = edge.datums.iter();
    let datums = datums.map(|run| datum_setup(&edge.head.own.machine, run, edge.times_milled(run)));
    let clampings = edge.clampings.ids().map(|id| gang_setup(files, edge, id));
    datums.chain(clampings).collect()
}

/// A clamping of sticks.
fn gang_setup(files: &JobFiles, edge: &EdgePlan, id: ClampingId) -> SetupOut {
    let gang = &edge.clampings[id].gang;
    let program = &edge.slots_of(id).program;
    let radius = program.head.radius();
    let mut out = SetupOut::of(&edge.head.own.machine, program, "edge-up");
    out.material = Some(files.material.name.clone());
    out.loads = gang.loads.len();
    out.fence = Some(micron(gang.fence_deg));
    out.edge_up = Some(gang.edge.word());
    let last = gang.datum(gang.sticks() - 1).x;
    let first = gang.datum(0).x;
    let [low, high] = gang.span();
    let sticks = Rect::new(first.min(last), low, first.max(last) + gang.length, high);
    out.stock = tall(sticks, gang.depth);
    out.zero = ZERO;
    let rails = gang.rails(radius);
    out.rails = rails.iter().map(|&rail| tall(rail, gang.batten)).collect();
    let top = micron(gang.depth + edge.head.router.clamp_height);
    out.keep_out = vec![KeepOutOut {
        what: "fence",
        corners: corners(&edge.datum_of(id).corner.fence_band()),
        top: micron(gang.batten),
    }];
    out.keep_out
        .extend(gang.holds().into_iter().map(|hold| KeepOutOut {
            what: "hold",
            corners: corners(&gang.band(hold)),
            top,
        }));
    for (number, load) in (1..).zip(&gang.loads) {
        for (place, seat) in load.iter().enumerate() {
            // Dummies are no pieces of the job.
            let Some(stick) = seat.stick() else { continue };
            out.placements.push(PlacementOut {
                id: edge.sticks.sticks[stick].id.clone(),
                load: Some(number),
                to_setup: rows(&gang.to_setup(place)),
            });
        }
    }
    out
}

/// The program that planes the board under the sticks.
#[derive(Debug, Clone, Serialize)]
pub(super) struct BedOut {
    file: String,
    air_run: String,
}

impl BedOut {
    pub(super) fn of(program: &Program) -> Self {
        Self {
            file: format!("gcode/{}.nc", program.stem),
            air_run: format!("gcode/{}.nc", air_run_stem(&program.stem)),
        }
    }
}

/// The milling of both faces of a datum corner, so many times.
fn datum_setup(machine: &Machine, run: &DatumRun, times: usize) -> SetupOut {
    let corner = &run.corner;
    let mut out = SetupOut::of(machine, &run.program, "datum");
    out.loads = times;
    out.fence = Some(micron(corner.fence_deg));
    out.stock = tall(corner.extent(), corner.height);
    out.zero = ZERO;
    out.rails = vec![tall(corner.rail_rect(), corner.height)];
    out
}

/// A box from the bed to this height.
fn tall(over: Rect, top: f64) -> BoxOut {
    BoxOut {
        min: [micron(over.x0), micron(over.y0), 0.0],
        max: [micron(over.x1), micron(over.y1), micron(top)],
    }
}

fn corners(shape: &[Point; 4]) -> Vec<[f64; 2]> {
    shape.iter().map(|p| [micron(p.x), micron(p.y)]).collect()
}
