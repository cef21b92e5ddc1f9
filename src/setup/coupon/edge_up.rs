//! The coupon that is cut edge up: slots across a few sticks in a gang, and bars to lay into them.
//!
//! The slots of a **kerf coupon** cross the gang square, where no error of fence or datum end reaches the
//! width that a bar feels. They are cut as joints are, wall by wall: a single stroke would tell the cutter's
//! width only where it bends to both sides alike. Those of a **fit coupon** lie at an angle of the panel's
//! own. While the gang stays clamped they are straight whatever the fence's error; so two of the sticks
//! change places before a bar is tried.

use super::{Comb, MARKED, SHORTEST_BAR};
use crate::geom::{micron, sin_deg};
use crate::lattice::{ClassNotch, JointShape};
use crate::non_empty::NonEmpty;
use crate::setup::mark::{half_run, past_hold};
use crate::setup::{Edge, FlatPiece, GangStick, ROOM, SideNotch, Slot};

/// Sticks of a comb: one that stays, and two that change places.
pub const COMB_STICKS: u32 = 3;
/// What fingers hold of a bar beyond the gang, at each end, mm (common practice, no source).
const GRIP: f64 = 20.0;

/// Sizes of a comb's stick, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StickSize {
    /// Angle from it to the bar that crosses, degrees.
    pub crossing_deg: f64,
    /// Measured face, the greatest reading.
    pub face: f64,
    /// From the upper edge to the floors of the notches.
    pub notch_depth: f64,
    /// Between two notches, across them, at least.
    pub land: f64,
    /// Width of the bars that hold the gang down.
    pub hold: f64,
    /// Width of the orientation mark.
    pub mark: f64,
}

/// A stick of a comb. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct CombStick {
    /// From the datum end to the other.
    pub length: f64,
    /// Its notches, narrowest first; `at` from the datum end.
    pub notches: NonEmpty<ClassNotch>,
    /// Least wood between two notches, across them.
    pub land: f64,
}

impl Comb {
    /// The stick that its notches are cut in. Before the first there is room for the hold beside the fence
    /// and for the orientation mark, past the last for the other hold.
    #[must_use]
    pub fn stick(&self, size: StickSize) -> CombStick {
        let deg = size.crossing_deg;
        let s = sin_deg(deg);
        let run = |width: f64| half_run(width, size.face, deg);
        let [narrowest, widest] = self.range();
        let mark = past_hold(size.hold, size.mark, deg);
        let mut at = mark + run(size.mark) + size.land + run(narrowest);
        let mut number = 0_usize;
        let notches = self.widths.map(|&width| {
            if number > 0 {
                let lands = if number.is_multiple_of(MARKED) {
                    2.0
                } else {
                    1.0
                };
                at += (widest + lands * size.land) / s;
            }
            number += 1;
            ClassNotch {
                at: micron(at),
                edge: Edge::Front,
                angle_deg: deg,
                width,
                depth: size.notch_depth,
                shape: JointShape::Skew,
                run: width / s,
            }
        });
        let land = notches
            .windows(2)
            .map(|pair| (pair[1].at - pair[0].at) * s - 0.5 * (pair[0].width + pair[1].width));
        CombStick {
            length: micron(at + run(widest) + past_hold(size.hold, 0.0, deg) + ROOM),
            land: land.fold(f64::INFINITY, f64::min),
            notches,
        }
    }
}

/// Length of a bar that reaches across the gang, its outermost sticks included, with a grip at both ends, mm.
#[must_use]
pub fn bar_length(face: f64, crossing_deg: f64) -> f64 {
    let across = f64::from(COMB_STICKS + 2) * face / sin_deg(crossing_deg);
    micron(SHORTEST_BAR.max(across + 2.0 * GRIP))
}

/// A comb's stick and a bar from the side: for the picture.
#[must_use]
pub fn comb_views(stick: &GangStick, mark: &Slot) -> Vec<FlatPiece> {
    let view = |class: &str, length: f64, notches| {
        FlatPiece::on_its_side(class.into(), [length, stick.depth], notches, String::new())
    };
    let notch = |at: f64, width: f64, angle_deg: f64, depth: f64| {
        let half = 0.5 * width / sin_deg(angle_deg);
        SideNotch {
            x0: at - half,
            x1: at + half,
            edge: Edge::Front,
            depth,
        }
    };
    let angle = stick.notches.first().angle_deg;
    let mark = notch(mark.at, mark.width, angle, stick.depth - mark.floor);
    let notches = stick.notches.iter();
    let notches = notches.map(|n| notch(n.at, n.width, n.angle_deg, n.depth));
    vec![
        view(
            "comb",
            stick.length,
            std::iter::once(mark).chain(notches).collect(),
        ),
        view("bar", bar_length(stick.face, angle), Vec::new()),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::tests::kerf;
    use super::*;

    #[test]
    fn a_stick_has_room_for_holds_and_mark_and_more_wood_past_every_fifth_notch() {
        let comb = kerf([4.0; 2], 3.0, false);
        let mut size = StickSize {
            crossing_deg: 90.0,
            face: 4.0,
            notch_depth: 6.0,
            land: 8.0,
            hold: 12.0,
            mark: 3.0,
        };
        // By hand, square: 1 + 12 + 5 clear of the fence, the mark's middle 1.5 further; its half, a land and half
        // of 3.7 to notch 1; then 4.3 + 8 from notch to notch, and 8 more past the fifth and the tenth.
        let stick = comb.stick(size);
        let at = |k: usize| stick.notches[k].at;
        assert!(
            (at(0) - (18.0 + 1.5 + 1.5 + 8.0 + 1.85)).abs() < 1e-9,
            "{}",
            at(0)
        );
        assert!((at(4) - at(0) - 4.0 * 12.3).abs() < 1e-9);
        assert!((at(5) - at(4) - 20.3).abs() < 1e-9);
        assert!((at(10) - at(9) - 20.3).abs() < 1e-9);
        assert!((stick.length - at(12) - (2.15 + 18.0 + 1.0)).abs() < 1e-9);
        assert!((stick.land - 8.025).abs() < 1e-9, "{}", stick.land);
        // At 60 degrees distances along the stick grow, those across the notches stay.
        size.crossing_deg = 60.0;
        let skew = comb.stick(size);
        assert!((skew.notches[1].at - skew.notches[0].at - 12.3 / 0.75f64.sqrt()).abs() < 1e-6);
        assert!((skew.land - 8.025).abs() < 1e-6, "{}", skew.land);
        // Five sticks and two grips: 20 / sin 60 + 40.
        assert!((bar_length(4.0, 60.0) - 63.094).abs() < 1e-3);
        assert_eq!(bar_length(4.0, 90.0), 60.0);
    }
}
