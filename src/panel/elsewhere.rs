//! What a panel file says where its cut is made on a machine elsewhere: the drawings are sent away, and nothing of that
//! machine is known here but how wide it cuts, if that.

use super::reader::Table;
use super::values::Limits;

/// A cut that is made elsewhere. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elsewhere {
    /// How wide it is, where the file says.
    pub width: Option<CutWidth>,
    /// Material left between the cuts of neighbouring pieces; where their width is not said, between their outlines.
    pub gap: f64,
}

/// How wide a cut is, mm, and what makes it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CutWidth {
    /// The kerf of a beam.
    Kerf(f64),
    /// The diameter of a round cutter.
    Tool(f64),
}

impl CutWidth {
    /// Half of it, mm: how far the path lies outside the piece.
    #[must_use]
    pub fn radius(self) -> f64 {
        match self {
            Self::Kerf(width) | Self::Tool(width) => 0.5 * width,
        }
    }
}

impl Elsewhere {
    /// How far the path lies outside a piece, mm; 0 where the outlines are all that is drawn.
    #[must_use]
    pub fn radius(&self) -> f64 {
        self.width.map_or(0.0, CutWidth::radius)
    }

    /// Between the outlines of neighbouring pieces, mm.
    #[must_use]
    pub fn spacing(&self) -> f64 {
        self.gap + 4.0 * self.radius()
    }

    /// How far all pieces stay away from an edge of the stock, mm: the cut is over the stock. Of a cut of unknown width as
    /// far as from each other.
    #[must_use]
    pub fn margin(&self) -> f64 {
        match self.width {
            Some(width) => 2.0 * width.radius() + 1.0,
            None => self.gap,
        }
    }
}

/// Beams cut as wide as that, and cutters are as wide, at the least and the most (from memory).
const KERF: Limits = Limits::within(0.02, 5.0, "mm");
const DIAMETER: Limits = Limits::within(0.1, 100.0, "mm");
const GAP: Limits = Limits::within(0.5, 1000.0, "mm");
/// Between cuts, mm, where the file does not say (from memory, as in the material files that are built in).
const BETWEEN_CUTS: f64 = 2.0;
/// Between outlines, mm, where neither gap nor width is said: room for a cutter of 6 mm and 4 mm of wood beside it
/// (common practice, no source).
const BETWEEN_OUTLINES: f64 = 10.0;

/// Takes the keys of a cut that is made elsewhere.
pub(super) fn read_elsewhere(t: &mut Table<'_>) -> Elsewhere {
    let kerf = t.number_opt("kerf", &KERF);
    let tool = t.number_opt("tool_diameter", &DIAMETER);
    if t.has("kerf") && t.has("tool_diameter") {
        let message = "a cut is as wide as a beam's kerf or as a cutter, not both";
        let hint = "leave out the one that the machine does not have";
        t.fault("tool_diameter", message, hint);
    }
    let width = kerf.map(CutWidth::Kerf).or(tool.map(CutWidth::Tool));
    let usual = match width {
        Some(_) => BETWEEN_CUTS,
        None => BETWEEN_OUTLINES,
    };
    Elsewhere {
        width,
        gap: t.number_or("gap", usual, &GAP),
    }
}
