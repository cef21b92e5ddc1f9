//! Pins through the mitres (common practice, no source).
//!
//! A pin is driven square to the outer edge of a side, where it crosses the mitre in the middle of the face,
//! and ends in the neighbour: half its length in either. Each corner has two, one from each side, that would
//! meet in plan; they lie at a third and at two thirds of the depth.

use crate::geom::{SAME_FIGURE, cot_deg};
use crate::panel::Pins;

/// A pin of a side. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pin {
    /// Which end of the side it is at: 0 its start, 1 its end.
    pub end: usize,
    /// From the long point of that end, along the outer edge.
    pub at: f64,
    /// Height of its axis above the back of the surround.
    pub height: f64,
    /// Its length: as much as the side is wide, half of it in either side.
    pub length: f64,
    /// Of the pin.
    pub diameter: f64,
    /// Of the hole.
    pub hole: f64,
}

impl Pin {
    /// Which end of the side it is at, in a word.
    #[must_use]
    pub fn end_word(&self) -> &'static str {
        if self.end == 0 { "start" } else { "end" }
    }
}

/// A pin stands at least so many diameters from an edge, from a face and from the other pin.
const CLEAR: f64 = 2.0;

/// The pin at one end of a side `face` wide and `depth` deep; `None` where there is no room for it.
pub(super) fn pin(mitre_deg: f64, end: usize, face: f64, depth: f64, pins: Pins) -> Option<Pin> {
    let at = 0.5 * face * cot_deg(mitre_deg);
    let third = depth / 3.0;
    let room = CLEAR * pins.diameter;
    // At the next side's start lies the other pin of this side's end.
    let height = if end == 1 { third } else { 2.0 * third };
    let fits = |v: f64| v >= room - SAME_FIGURE;
    (fits(at) && fits(third)).then_some(Pin {
        end,
        at,
        height,
        length: face,
        diameter: pins.diameter,
        hole: pins.hole,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const PINS: Pins = Pins {
        diameter: 1.6,
        hole: 1.5,
    };

    #[test]
    fn the_two_pins_of_a_corner_pass_each_other() {
        let [first, second] = [1, 0].map(|end| pin(45.0, end, 8.0, 12.0, PINS));
        let (first, second) = (first.map(|p| p.height), second.map(|p| p.height));
        assert_eq!((first, second), (Some(4.0), Some(8.0)));
    }

    #[test]
    fn a_pin_keeps_two_diameters_from_edges() {
        // At 45 degrees the middle of the mitre lies half a face from the long point.
        assert!(pin(45.0, 0, 6.4, 9.6, PINS).is_some(), "3.2 either way");
        assert!(pin(45.0, 0, 6.39, 9.6, PINS).is_none(), "too narrow");
        assert!(pin(45.0, 0, 6.4, 9.59, PINS).is_none(), "too shallow");
        // At a hexagon's corner it lies nearer: face / 2 / tan 60.
        assert!(pin(60.0, 0, 8.0, 12.0, PINS).is_none(), "2.31 from the tip");
    }
}
