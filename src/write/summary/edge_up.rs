//! What the summary tells of edge-up cutting: the clampings of each class of sticks, and their fences.

use super::setups::{BoxOut, KeepOutOut, PlacementOut, SetupOut, ZeroOut, rows};
use crate::geom::{Point, bounds, micron};
use crate::panel::Machine;
use crate::path::Program;
use crate::setup::Gang;

/// A clamping and the program that it runs.
#[derive(Debug, Clone, Copy)]
pub struct GangRun<'a> {
    /// The clamping.
    pub gang: &'a Gang,
    /// Its program.
    pub program: &'a Program,
    /// Height of clamps over the sticks, mm.
    pub clamp_height: f64,
    /// Id of the stick in each place of each load; empty for a dummy.
    pub ids: &'a [Vec<String>],
}

const ZERO: ZeroOut = ZeroOut {
    x: "where the fence's face meets the first rail's inner side",
    y: "the first rail's inner side",
    z: "the bed under the sticks",
};

/// A clamping of sticks.
pub(super) fn gang_setup(machine: &Machine, material: &str, run: &GangRun<'_>) -> SetupOut {
    let GangRun { gang, program, .. } = run;
    let radius = program.head.radius();
    let mut out = SetupOut::of(machine, program, "edge-up");
    out.material = Some(material.to_owned());
    out.loads = gang.loads.len();
    out.fence = Some(micron(gang.fence_deg));
    out.edge_up = Some(gang.edge.word());
    let last = gang.datum(gang.sticks().saturating_sub(1)).x;
    let first = gang.datum(0).x;
    out.stock = BoxOut {
        min: [micron(first.min(last)), 0.0, 0.0],
        max: [
            micron(first.max(last) + gang.length),
            micron(gang.width()),
            micron(gang.depth),
        ],
    };
    out.zero = ZERO;
    let sides = [(-gang.rail, 0.0), (gang.width(), gang.width() + gang.rail)];
    out.rails = gang
        .rail_ends(radius)
        .iter()
        .zip(sides)
        .map(|(x, y)| BoxOut {
            min: [micron(x[0]), micron(y.0), 0.0],
            max: [micron(x[1]), micron(y.1), micron(gang.depth)],
        })
        .collect();
    let top = micron(gang.depth + run.clamp_height);
    out.keep_out = vec![KeepOutOut {
        what: "fence",
        corners: corners(&gang.fence(gang.rail, radius)),
        top: micron(gang.depth),
    }];
    out.keep_out.extend(gang.holds().map(|hold| KeepOutOut {
        what: "hold",
        corners: corners(&gang.band(hold)),
        top,
    }));
    for (n, (load, ids)) in gang.loads.iter().zip(run.ids).enumerate() {
        for (seat, id) in (0..load.len()).zip(ids).filter(|(_, id)| !id.is_empty()) {
            out.placements.push(PlacementOut {
                id: id.clone(),
                load: Some(n + 1),
                to_setup: rows(&gang.to_setup(seat)),
            });
        }
    }
    out
}

/// The milling of a fence's face, so many times; `gang` is the widest gang that it serves.
pub(super) fn fence_setup(
    machine: &Machine,
    gang: &Gang,
    program: &Program,
    times: usize,
) -> SetupOut {
    let mut out = SetupOut::of(machine, program, "fence");
    out.loads = times;
    out.fence = Some(micron(gang.fence_deg));
    let shape = gang.band([-gang.rail, 2.0 * program.head.radius()]);
    let batten = bounds(&shape);
    out.stock = BoxOut {
        min: [micron(batten.x0), micron(batten.y0), 0.0],
        max: [micron(batten.x1), micron(batten.y1), micron(gang.depth)],
    };
    out.zero = ZERO;
    out
}

fn corners(shape: &[Point; 4]) -> Vec<[f64; 2]> {
    shape.iter().map(|p| [micron(p.x), micron(p.y)]).collect()
}
