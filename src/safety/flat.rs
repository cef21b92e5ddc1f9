//! Checks of flat cutting: head and feeds.

use super::check::{Check, Unit};
use super::check_id::CheckId;
use super::holding::pass_step;
use crate::panel::{Laser, LaserCut, Machine, Router, RouterCut};
use crate::setup::{FlatPiece, groove_floor};

/// Flutes reach this much further than the deepest cut, mm.
const FLUTE_SPARE: f64 = 1.0;
/// Collet and travel stay this much clear of clamps, mm.
const CLAMP_SPARE: f64 = 1.0;
/// A spindle takes at least this long to come to speed, s.
const LEAST_SPIN_UP: f64 = 2.0;

/// Least material between the cuts of neighbouring pieces, mm: less would break and fly
/// (from memory).
const LEAST_STRIP: f64 = 0.5;

/// Whether enough is left between the cuts of neighbouring pieces: `left` mm.
#[must_use]
pub fn strip_check(left: f64) -> Check {
    Check::at_least(
        CheckId::Strip,
        left,
        LEAST_STRIP,
        Unit::Mm,
        "between the cuts of neighbouring pieces",
    )
}

/// Whether beam or tool fits into the shortest notch: its length along the bar less the cut's width.
#[must_use]
pub fn slot_check(pieces: &[FlatPiece], width: f64) -> Option<Check> {
    pieces
        .iter()
        .flat_map(|p| p.notches.iter().map(move |n| (n.x1 - n.x0, &p.class)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(run, class)| {
            Check::at_least(
                CheckId::SlotWidth,
                run,
                width,
                Unit::Mm,
                format!("notches of piece {class}"),
            )
        })
}

/// Least stretch of a notch's floor that reliefs leave whole, mm: where the bar seats at its depth
/// (from memory).
const LEAST_SEAT: f64 = 0.5;

/// Whether the shortest notch keeps floor enough to seat a bar, where reliefs take `lost` mm of it.
#[must_use]
pub fn seat_check(pieces: &[FlatPiece], lost: f64) -> Option<Check> {
    if lost <= 0.0 {
        return None;
    }
    let notches = pieces
        .iter()
        .flat_map(|p| p.notches.iter().map(move |n| (n.x1 - n.x0, &p.class)));
    let (run, class) = notches.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let place = format!("floors of piece {class}");
    Some(Check::at_least(
        CheckId::Seat,
        run - lost,
        LEAST_SEAT,
        Unit::Mm,
        place,
    ))
}

/// A laser's power and feed.
#[must_use]
pub fn laser_checks(machine: &Machine, laser: &Laser, cut: &LaserCut) -> Vec<Check> {
    vec![
        Check::within(
            CheckId::LaserPower,
            laser.percent_for(cut),
            laser.power_percent,
            Unit::Percent,
            "material file",
        ),
        Check::within(
            CheckId::CutFeed,
            cut.feed,
            machine.feed,
            Unit::MmPerMin,
            "material file",
        ),
    ]
}

/// Least thickness below a groove that joins two pieces, mm: less breaks while they are cut out (from
/// memory).
const LEAST_PARTING: f64 = 1.0;

/// Whether grooves half as deep as the stock leave enough to join pieces end to end.
#[must_use]
pub fn groove_check(thickness: f64) -> Check {
    let left = groove_floor(thickness);
    Check::at_least(
        CheckId::GrooveWood,
        left,
        LEAST_PARTING,
        Unit::Mm,
        "wood below every groove",
    )
}

/// A router's tool, speeds and feeds. `deepest` is the tip's way from the stock's top down; `shortest` is
/// the shortest of what must be held, pieces that stay joined as one: its length and its name.
#[must_use]
pub fn router_checks(
    machine: &Machine,
    router: &Router,
    cut: &RouterCut,
    thickness: f64,
    deepest: f64,
    shortest: Option<(f64, String)>,
) -> Vec<Check> {
    let mut checks = feed_checks(machine, router, cut);
    checks.extend(tool_checks(router, cut, thickness, deepest));
    if let Some((length, place)) = shortest {
        checks.push(Check::at_least(
            CheckId::HoldLength,
            length,
            router.hold_length,
            Unit::Mm,
            place,
        ));
    }
    checks
}

/// Speed and feeds of a material on this machine.
fn feed_checks(machine: &Machine, router: &Router, cut: &RouterCut) -> Vec<Check> {
    let chip_load = cut.feed / (cut.speed_rpm * f64::from(router.tool.flutes));
    vec![
        Check::within(
            CheckId::SpindleSpeed,
            cut.speed_rpm,
            router.speed_rpm,
            Unit::RevPerMin,
            "material file",
        ),
        Check::at_least(
            CheckId::SpinUp,
            router.spin_up_s,
            LEAST_SPIN_UP,
            Unit::Seconds,
            "machine file",
        ),
        Check::within(
            CheckId::CutFeed,
            cut.feed,
            machine.feed,
            Unit::MmPerMin,
            "material file",
        ),
        Check::at_most(
            CheckId::PlungeFeed,
            cut.plunge_feed,
            router.plunge_feed,
            Unit::MmPerMin,
            "material file",
        ),
        Check::within(
            CheckId::ChipLoad,
            chip_load,
            cut.chip_load,
            Unit::Mm,
            "feed / (speed * flutes)",
        ),
    ]
}

/// What the tool must reach, and what it must clear. Lengths are mm.
fn tool_checks(router: &Router, cut: &RouterCut, thickness: f64, deepest: f64) -> Vec<Check> {
    let tool = &router.tool;
    let clamps = router.clamp_height + CLAMP_SPARE;
    vec![
        // Common practice, no source: a pass no deeper than the tool is wide.
        Check::at_most(
            CheckId::PassDepth,
            pass_step(cut, deepest),
            tool.diameter,
            Unit::Mm,
            "every pass",
        ),
        Check::at_least(
            CheckId::FluteLength,
            tool.flute_length,
            deepest + FLUTE_SPARE,
            Unit::Mm,
            "deepest cut and 1 mm",
        ),
        Check::at_least(
            CheckId::StickOut,
            tool.stick_out,
            thickness.max(deepest) + clamps,
            Unit::Mm,
            "collet over clamps",
        ),
        Check::at_least(
            CheckId::SafeHeight,
            router.safe_height,
            clamps,
            Unit::Mm,
            "travel over clamps",
        ),
    ]
}
