//! Checks of edge-up cutting: fence, datum ends, slots, rails and holds.

use kurbo::Rect;

use super::check::Check;
use crate::geom::{cot_deg, tan_deg};
use crate::panel::Router;
use crate::setup::{Gang, GangStick, ROOM, fence_drift, mark_room};

/// Most that the fence's error may add up to along a gang, and that a datum end may part two slots of a
/// joint, mm (design of the joints: a slip of a tenth ruins one).
pub const LEAST_SLIP: f64 = 0.03;
/// Most times that a gang may be longer than it is wide with its rails: a more slender one bows
/// (from memory).
const SLENDER: f64 = 20.0;

/// Checks of all clampings of a class of sticks; `radius` is the tool's, mm.
#[must_use]
pub fn gang_checks(stick: &GangStick, gangs: &[Gang], router: &Router, radius: f64) -> Vec<Check> {
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

/// What of a gang lies on the bed: its sticks and rails, mm from the zero.
#[must_use]
pub fn on_bed(gang: &Gang, radius: f64) -> Rect {
    let ends = [0, gang.sticks().saturating_sub(1)].map(|i| gang.datum(i).x);
    let [near, far] = gang.rail_ends(radius);
    Rect::new(
        ends[0].min(ends[1]).min(near[0]).min(far[0]),
        -gang.rail,
        (ends[0].max(ends[1]) + gang.length)
            .max(near[1])
            .max(far[1]),
        gang.width() + gang.rail,
    )
}
