//! Checks of edge-up cutting: fence, datum ends, slots, rails and holds.

use super::check::Check;
use crate::geom::{cot_deg, tan_deg};
use crate::panel::{Machine, Router};
use crate::path::{fence_ends, fence_reach};
use crate::setup::{Gang, GangStick, ROOM, fence_drift, mark_room};

/// Most that the fence's error may add up to along a gang, and that a datum end may part two slots of a
/// joint, mm (design of the joints: a slip of a tenth ruins one).
pub const LEAST_SLIP: f64 = 0.03;
/// Most times that a gang may be longer than it is wide with its rails: a more slender one bows
/// (from memory).
const SLENDER: f64 = 20.0;

/// Checks of all clampings of a class of sticks; `radius` is the tool's, mm.
#[must_use]
pub fn gang_checks(
    stick: &GangStick,
    gangs: &[Gang],
    machine: &Machine,
    router: &Router,
    radius: f64,
) -> Vec<Check> {
    let place = |g: &Gang| {
        let edge = g.edge.word();
        format!("sticks {}, {edge} edge up, fence {:.2}", g.id, g.fence_deg)
    };
    let mut checks = Vec::new();
    let Some(first) = gangs.first() else {
        return checks;
    };
    for gang in gangs {
        let t = gang.fence_deg;
        let here = place(gang);
        checks.push(Check::within(
            "fence-angle",
            t,
            router.fence_deg,
            "degrees",
            here.clone(),
        ));
        let drift = fence_drift(gang.sticks(), gang.face, router.fence_error_deg, t);
        checks.push(Check::at_most(
            "fence",
            drift,
            LEAST_SLIP,
            "mm",
            here.clone(),
        ));
        let slip = if stick.pointed() {
            2.0 * router.apex_error * cot_deg(t).abs()
        } else {
            gang.face * tan_deg(router.square_error_deg)
        };
        checks.push(Check::at_most(
            "datum",
            slip,
            LEAST_SLIP,
            "mm",
            here.clone(),
        ));
        if let Some(narrow) = gang.slots.iter().map(|s| s.width).min_by(f64::total_cmp) {
            checks.push(Check::at_least(
                "slot-width",
                narrow,
                2.0 * radius,
                "mm",
                here.clone(),
            ));
        }
        let needed = gang.rail_needed(radius);
        checks.push(Check::at_least(
            "rail",
            gang.rail,
            needed,
            "mm",
            here.clone(),
        ));
        let [lead, tail] = gang.hold_room();
        checks.push(Check::at_least(
            "hold-room",
            lead.min(tail),
            gang.hold + 2.0 * ROOM,
            "mm",
            here.clone(),
        ));
        let [x, y] = extent(gang, radius);
        checks.push(Check::at_most(
            "bench-length",
            x,
            machine.travel[0],
            "mm",
            here.clone(),
        ));
        checks.push(Check::at_most(
            "bench-width",
            y,
            machine.travel[1],
            "mm",
            here,
        ));
    }
    let wide = first.width() + 2.0 * first.rail;
    checks.push(Check::at_most(
        "gang-width",
        wide,
        router.clamp_width,
        "mm",
        format!("sticks {}, with rails", first.id),
    ));
    checks.push(Check::at_most(
        "gang-slender",
        first.length / wide,
        SLENDER,
        "times its width",
        format!("sticks {}, with rails", first.id),
    ));
    if let Some(room) = mark_room(stick, gangs, radius) {
        let here = gangs.get(room.gang).map_or_else(String::new, place);
        checks.push(Check::at_least("mark-room", room.room(), 0.0, "mm", here));
    }
    checks
}

/// How far the machine must reach in x and y for a gang and its fence: sticks, rails and cuts, mm.
fn extent(gang: &Gang, radius: f64) -> [f64; 2] {
    let ends = [
        gang.datum(0).x,
        gang.datum(gang.sticks().saturating_sub(1)).x,
    ];
    let rails = gang.rail_ends(radius);
    let mut low: f64 = ends[0].min(ends[1]).min(0.0);
    let mut high: f64 = ends[0].max(ends[1]) + gang.length;
    high = high.max(rails[0][1]).max(rails[1][1]);
    let (mut below, mut above) = (-gang.rail, gang.width() + gang.rail);
    let (from, to) = fence_ends(gang, 2.0 * radius);
    for s in [from, to] {
        let reach = fence_reach(gang, radius, s);
        low = low.min(reach.x);
        high = high.max(reach.x);
        below = below.min(reach.y);
        above = above.max(reach.y);
    }
    [high - low, above - below]
}
