//! What a panel file says about its surround.

use super::reader::Table;
use super::values::{BAR, KERF, Limits};

/// A surround as asked for. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Surround {
    /// Face of its sides.
    pub width: f64,
    /// Size of its sides from front to back; the ground's where the file does not say.
    pub depth: f64,
    /// How its sides are made and joined.
    pub cut: SurroundCut,
}

/// How the sides of a surround are made and joined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SurroundCut {
    /// Mitred by hand from lengths of its own stock, with pins through the mitres.
    ByHand(Mitred),
    /// Cut flat among the bars, on edge, half-lapped at the corners.
    Laps {
        /// Wood past the notch at each end.
        ear: f64,
    },
}

/// What mitring by hand takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mitred {
    /// The pins through the mitres, if there are any.
    pub pins: Option<Pins>,
    /// Kerf of the saw that cuts the mitres.
    pub saw_kerf: f64,
    /// Cut off at both ends of a length of stock.
    pub trim: f64,
    /// Lengths that the stock comes in; `None` where only the total is asked for.
    pub stock_length: Option<f64>,
}

/// Pins through the mitres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pins {
    /// Of a pin.
    pub diameter: f64,
    /// Of the hole that is drilled for it.
    pub hole: f64,
}

/// Pin and pilot hole where the file does not say, mm (common practice, no source).
const PIN: Pins = Pins {
    diameter: 1.6,
    hole: 1.5,
};
/// Kerf of a fine mitre saw where the file does not say, mm (from memory).
const SAW_KERF: f64 = 1.5;
/// Cut off at the ends of a length where the file does not say, mm (common practice, no source).
const TRIM: f64 = 10.0;

const PIN_SIZE: Limits = Limits::size(10.0);

/// Which of the two ways, before its own keys are read.
#[derive(Clone, Copy)]
enum Way {
    ByHand,
    Laps,
}

/// Takes the keys of the surround.
pub(super) fn read_surround(t: &mut Table<'_>, ground_depth: f64) -> Surround {
    let width = t.number("width", &BAR);
    let depth = t.number_opt("depth", &BAR);
    let ways = [("by-hand", Way::ByHand), ("laps", Way::Laps)];
    let way = t.choice_opt("cut", &ways).unwrap_or(Way::ByHand);
    let cut = match way {
        Way::ByHand => {
            unfit(
                t,
                "ear",
                "only sides with cut = \"laps\" run past the corners",
            );
            SurroundCut::ByHand(read_mitred(t))
        }
        Way::Laps => {
            let why =
                "sides with cut = \"laps\" are cut flat among the bars, and hold without pins";
            for key in ["pins", "pin", "saw_kerf", "trim", "stock_length"] {
                unfit(t, key, why);
            }
            // Half as long as the side is deep: enough to hold by (common practice, no source).
            let ear = t.number_or("ear", 0.5 * ground_depth, &BAR);
            SurroundCut::Laps { ear }
        }
    };
    Surround {
        width,
        depth: depth.unwrap_or(ground_depth),
        cut,
    }
}

/// A key that means nothing for sides that are made the other way.
fn unfit(t: &mut Table<'_>, key: &'static str, why: &str) {
    t.known(key);
    if t.has(key) {
        t.fault(
            key,
            format!("`{key}` means nothing here: {why}"),
            "leave it out",
        );
    }
}

fn read_mitred(t: &mut Table<'_>) -> Mitred {
    let wanted = t.flag_or("pins", true);
    let pins = if wanted {
        Some(t.table_or_empty("pin", read_pins))
    } else {
        unfit(t, "pin", "with pins = false there are none");
        None
    };
    Mitred {
        pins,
        saw_kerf: t.number_or("saw_kerf", SAW_KERF, &KERF),
        trim: t.number_or("trim", TRIM, &Limits::size_or_none(1000.0)),
        stock_length: t.number_opt("stock_length", &Limits::size(100_000.0)),
    }
}

fn read_pins(t: &mut Table<'_>) -> Pins {
    let mark = t.mark();
    let diameter = t.number_or("diameter", PIN.diameter, &PIN_SIZE);
    // A pin presses a little in its hole, as the usual one does.
    let usual = PIN.hole / PIN.diameter * diameter;
    let hole = t.number_opt("hole", &PIN_SIZE);
    if let Some(hole) = hole.filter(|&hole| t.sound_since(mark) && hole > diameter) {
        let message = format!("a pin of {diameter} mm is loose in a hole of {hole}");
        t.fault("hole", message, format!("at most {diameter}"));
    }
    Pins {
        diameter,
        hole: hole.unwrap_or(usual),
    }
}
