//! Checks of edge-up cutting: datum corner, slots, rails and holds.

use super::check::{Check, Status, Unit};
use super::check_id::CheckId;
use crate::geom::sin_deg;
use crate::lattice::Edge;
use crate::non_empty::NonEmpty;
use crate::panel::Router;
use crate::setup::{BATTEN_BELOW, Gang, GangRules, GangStick, HOLD_ROOM, MarkRoom, worst_parting};

/// Most times that a gang may be longer than it is wide with its rails: a more slender one bows
/// (from memory).
const SLENDER: f64 = 20.0;
/// What share of the sticks' depth fence and rails must reach, so that they do not tip over them (from memory).
const LEAST_BATTEN: f64 = 0.5;
/// What flutes must reach beyond what they cut, mm.
const FLUTE_SPARE: f64 = 1.0;

/// Checks of all clampings of a class of sticks; `room` is that for its orientation mark.
#[must_use]
pub fn gang_checks(
    stick: &GangStick,
    gangs: &NonEmpty<&Gang>,
    room: &MarkRoom,
    router: &Router,
    rules: &GangRules,
) -> Vec<Check> {
    let mut checks: Vec<Check> = gangs
        .iter()
        .flat_map(|gang| clamping_checks(gang, router, rules.radius))
        .collect();
    // All gangs of a class have as many sticks.
    let first = gangs.first();
    let [clearance, crush] = rules.close;
    if let Some(worst) = worst_parting(stick, first.sticks(), &rules.causes, rules.close) {
        let [a, b] = worst.between;
        checks.push(Check::at_most(
            CheckId::Parting,
            worst.sum(),
            worst.limit(clearance, crush),
            Unit::Mm,
            format!(
                "sticks {}, slots at {a:.2} and {b:.2} degrees {:.1} from the datum end: {}",
                stick.id,
                worst.at,
                worst.shares()
            ),
        ));
    }
    let wide = first.width() + 2.0 * first.rail;
    checks.push(Check::at_most(
        CheckId::GangWidth,
        wide,
        router.clamp_width,
        Unit::Mm,
        format!("sticks {}, with rails", first.id),
    ));
    checks.push(Check::at_most(
        CheckId::GangSlender,
        first.length / wide,
        SLENDER,
        Unit::TimesWidth,
        format!("sticks {}, with rails", first.id),
    ));
    let here = place(&stick.id, room.edge, room.fence_deg);
    checks.push(Check::at_least(
        CheckId::MarkRoom,
        room.room(),
        0.0,
        Unit::Mm,
        here,
    ));
    checks
}

/// A clamping in words.
fn place(sticks: &str, edge: Edge, fence_deg: f64) -> String {
    let edge = edge.word();
    format!("sticks {sticks}, {edge} edge up, fence {fence_deg:.2}")
}

/// Checks of one clamping.
fn clamping_checks(gang: &Gang, router: &Router, radius: f64) -> Vec<Check> {
    let here = place(&gang.id, gang.edge, gang.fence_deg);
    let widths = gang.slots.iter().map(|s| s.width);
    let mut checks = vec![
        Check::within(
            CheckId::FenceAngle,
            gang.fence_deg,
            router.fence_deg,
            Unit::Degrees,
            here.clone(),
        ),
        Check::at_least(
            CheckId::SlotWidth,
            widths.fold(f64::INFINITY, f64::min),
            2.0 * radius,
            Unit::Mm,
            here.clone(),
        ),
        Check::at_least(
            CheckId::Rail,
            gang.rail,
            gang.rail_needed(radius),
            Unit::Mm,
            here.clone(),
        ),
    ];
    if let Some(longest) = router.rail_length {
        let rails = gang.rails(radius).map(|rail| rail.width());
        checks.push(Check::at_least(
            CheckId::RailLength,
            longest,
            rails[0].max(rails[1]),
            Unit::Mm,
            here.clone(),
        ));
    }
    let [lead, tail] = gang.hold_room();
    let needed = gang.hold + HOLD_ROOM;
    let (room, key, place) = if lead < tail {
        (lead, "lead", "before the first cut")
    } else {
        (tail, "tail", "past the last slot")
    };
    let place = format!("{here}, {place}");
    let mut check = Check::at_least(CheckId::HoldRoom, room, needed, Unit::Mm, place);
    if check.status == Status::Fail {
        let more = ((needed - room) / sin_deg(gang.fence_deg) * 10.0).ceil() / 10.0;
        check.helps = Some(format!(
            "{more:.1} mm more of the stick there (`{key}` or `ends` in [sticks], or a longer overhang), or \
             narrower bars (hold_width in the machine file)"
        ));
    }
    checks.push(check);
    checks
}

/// Checks of fence and rails, `batten` mm high in every clamping, beside sticks of this depth, mm: `through` is how
/// far below the bed they are milled, mm.
#[must_use]
pub fn batten_checks(batten: f64, depth: f64, router: &Router, through: f64) -> Vec<Check> {
    let flutes = router.tool.flute_length;
    let passes = flutes - through - FLUTE_SPARE;
    vec![
        Check::within(
            CheckId::BattenHeight,
            batten,
            [LEAST_BATTEN * depth, depth - BATTEN_BELOW],
            Unit::Mm,
            format!("fence and rails beside sticks {depth:.2} deep"),
        ),
        Check::at_least(
            CheckId::FluteLength,
            flutes,
            batten + through + FLUTE_SPARE,
            Unit::Mm,
            format!(
                "fence and rails {batten:.2} high, milled {through:.2} below the bed, and 1 mm: with these flutes they \
                 may be {passes:.2} high (batten_height)"
            ),
        ),
    ]
}

/// Checks how much is planed off the board under the sticks: as deep as the tip may cut into it, and as flutes
/// reach.
#[must_use]
pub fn bed_checks(depth: f64, router: &Router) -> [Check; 2] {
    let place = "board under the sticks";
    [
        Check::at_most(CheckId::Bed, depth, router.spoil, Unit::Mm, place),
        Check::at_least(
            CheckId::FluteLength,
            router.tool.flute_length,
            depth + FLUTE_SPARE,
            Unit::Mm,
            format!("{place}, and 1 mm"),
        ),
    ]
}
