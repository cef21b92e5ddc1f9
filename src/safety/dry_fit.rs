//! Checks of the dry fit.

use super::check::{Check, Unit};
use super::check_id::CheckId;
use crate::geom::{REPLAY, sin_deg};
use crate::lattice::{DryFit, Lattice};
use crate::panel::Relief;
use crate::setup::{FlatPiece, InsideCorner, Lies};

/// Volume that all pairs may share, mm³: the round-off of exact shapes.
const SHARED: f64 = 1e-6;

/// What a head without relief leaves in inside corners.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corners {
    /// Radius of beam or tool, mm.
    pub radius: f64,
    /// How corners are relieved.
    pub relief: Relief,
    /// How far a fillet may press into a bar, mm.
    pub crush: f64,
}

/// Checks of the dry fit: `cut` from the shapes that are cut, `meant` from those intended. `all` names the places where
/// bars meet, for a value that none of them stands out by.
#[must_use]
pub fn fit_checks(
    lattice: &Lattice,
    all: &str,
    cut: &DryFit,
    meant: &DryFit,
    corners: Option<Corners>,
) -> Vec<Check> {
    let node = cut.worst.map(|n| &lattice.nodes[n]);
    let place = node.map_or_else(
        || all.to_owned(),
        |n| format!("worst node at x {:.1} y {:.1}", n.at.x, n.at.y),
    );
    let mut checks = vec![Check::at_most(
        CheckId::Interference,
        cut.interference_mm3,
        SHARED,
        Unit::CubicMm,
        place,
    )];
    let loosest = cut.loosest.map(|m| &lattice.members[m]);
    let place = loosest.map_or_else(|| all.to_owned(), |m| format!("member {}", m.id));
    let relief = corners.map_or(0.0, |c| c.radius * c.relief.wall_bite());
    // Either wall may be off by the replay's tolerance, over the sine of the sharpest crossing.
    let sine = lattice
        .members
        .iter()
        .flat_map(|m| &m.joints)
        .map(|j| sin_deg(j.angle_deg))
        .fold(1.0, f64::min);
    let most = meant.largest_gap_mm + relief + 2.0 * REPLAY / sine;
    checks.push(Check::at_most(
        CheckId::Gap,
        cut.largest_gap_mm,
        most,
        Unit::Mm,
        place,
    ));
    checks.extend(corners.map(|c| fillet_check(c, lattice.clearance)));
    checks
}

/// Whether a bar's square corner can seat in the corner of a notch with this clearance, mm.
#[must_use]
pub fn fillet_check(corners: Corners, clearance: f64) -> Check {
    let pressed = if corners.relief != Relief::None {
        0.0
    } else {
        fillet_press(corners.radius, clearance)
    };
    Check::at_most(
        CheckId::CornerFillet,
        pressed,
        corners.crush,
        Unit::Mm,
        "every inside corner",
    )
}

/// Whether the points of neighbours can seat in the re-entrant ends of pieces that are cut on their backs; `None`
/// where there are none.
#[must_use]
pub fn end_fillet_check(pieces: &[FlatPiece], corners: Corners) -> Option<Check> {
    let pressed = |piece: &FlatPiece| {
        let of = |c: &InsideCorner| c.at.distance(c.centre(corners.radius)) - corners.radius;
        let inside = piece.inside_corners();
        inside.iter().map(of).max_by(f64::total_cmp)
    };
    let on_back = pieces.iter().filter(|p| p.lies == Lies::OnBack);
    let worst = on_back.filter_map(|p| Some((pressed(p)?, p)));
    let (pressed, piece) = worst.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let pressed = match corners.relief {
        Relief::None => pressed,
        _ => 0.0,
    };
    let place = format!("re-entrant ends of piece {}", piece.class);
    Some(Check::at_most(
        CheckId::CornerFillet,
        pressed,
        corners.crush,
        Unit::Mm,
        place,
    ))
}

/// Whether a cut file replays true: the number of faults that its replay found.
#[must_use]
pub fn replay_check(file: impl Into<String>, faults: usize) -> Check {
    Check::at_most(CheckId::Replay, faults as f64, 0.0, Unit::Faults, file)
}

/// How far the fillet of a round of radius `r` reaches into the corner of a bar that stands half the
/// clearance off the wall and on the floor, mm: the corner's distance from the round's centre less r.
fn fillet_press(r: f64, clearance: f64) -> f64 {
    let off = r - 0.5 * clearance;
    if off <= 0.0 {
        0.0
    } else {
        (libm::hypot(off, r) - r).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tight_corner_is_pressed_by_root_two_less_one() {
        // Right-angled geometry: centre to corner r √2, less r.
        assert!((fillet_press(1.0, 0.0) - (2f64.sqrt() - 1.0)).abs() < 1e-12);
        assert_eq!(fillet_press(0.05, 0.1), 0.0, "clear of the round");
        assert!(fillet_press(0.075, 0.05) < 0.05);
    }
}
