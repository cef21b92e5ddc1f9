//! Machine-neutral paths: offsets, relief, tabs, depth passes, and the order of cuts.

mod air_run;
mod flat_laser;
mod flat_router;
mod gang;
mod holds;
mod lengths;
mod offset;
mod program;
mod relief;
mod room;
mod router;
mod run;
mod tour;

pub use air_run::{AirRun, air_run_stem, stops};
pub use flat_laser::{LaserSettings, laser_program};
pub(crate) use flat_router::CLEAR;
pub use flat_router::router_program;
pub use gang::{fence_ends, fence_program, fence_reach, slot_program};
pub use lengths::*;
pub use offset::grow;
pub use program::*;
pub use room::PathBox;
pub use router::RouterSettings;
pub use tour::{Visit, nearest_neighbour, short_tour, travel};

use std::fmt;

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
}

impl fmt::Display for PathError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NarrowNotch { class, run, width } => write!(
                f,
                "piece {class}: a notch {run:.3} mm long does not take a cut {width:.3} mm wide"
            ),
        }
    }
}

impl std::error::Error for PathError {}
