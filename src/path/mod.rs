//! Machine-neutral paths: offsets, relief, tabs, depth passes, and the order of cuts.

mod air_run;
mod bed;
mod datum;
mod drawing;
mod flat_laser;
mod flat_router;
mod hold_room;
mod holds;
mod lengths;
mod note;
mod offset;
mod open;
mod program;
mod relief;
mod room;
mod router;
mod run;
mod slots;
mod tour;

pub use air_run::{AirRun, air_run_stem, stops};
pub use bed::{Bed, bed_program};
pub use datum::datum_program;
pub use drawing::{CutPaths, DrawnPaths, SheetDrawing};
pub use flat_laser::{LaserSettings, laser_program};
pub(crate) use flat_router::CLEAR;
pub use flat_router::router_program;
pub use hold_room::LEAST_HOLDS;
pub use lengths::*;
pub use note::{Note, NoteKind};
pub use offset::grow;
pub use program::{CutContour, CutKind, Head, Hold, Move, Program};
pub use relief::end_bites;
pub use room::PathBox;
pub use router::{RouterSettings, THROUGH, through};
pub use slots::slot_program;
pub use tour::{Visit, nearest_neighbour, short_tour, travel};

use std::fmt;

use crate::setup::{FlatPiece, Lies};

/// Why no path can be planned for a piece.
#[derive(Debug, Clone, PartialEq)]
pub enum PathError {
    /// A notch is narrower than the beam or the tool.
    NarrowNotch {
        /// Class of the piece.
        class: String,
        /// Length of the notch along the bar, mm.
        run: f64,
        /// Kerf or tool diameter, mm.
        width: f64,
    },
    /// The notch of a re-entrant end is narrower than the beam or the tool.
    NarrowEnd {
        /// Class of the piece.
        class: String,
        /// Kerf or tool diameter, mm.
        width: f64,
    },
}

impl PathError {
    /// What a cut of this width finds no room in: a notch `run` mm long of a piece on its side, a re-entrant end
    /// of one on its back.
    fn narrow(piece: &FlatPiece, run: f64, width: f64) -> Self {
        let class = piece.class.clone();
        match piece.lies {
            Lies::OnSide => Self::NarrowNotch { class, run, width },
            Lies::OnBack => Self::NarrowEnd { class, width },
        }
    }
}

impl fmt::Display for PathError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NarrowNotch { class, run, width } => write!(
                f,
                "piece {class}: a notch {run:.3} mm long does not take a cut {width:.3} mm wide"
            ),
            Self::NarrowEnd { class, width } => write!(
                f,
                "piece {class}: the notch of a re-entrant end does not take a cut {width:.3} mm wide"
            ),
        }
    }
}

impl std::error::Error for PathError {}
