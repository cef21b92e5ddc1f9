//! Reads what was written, from its bytes, and proves it against the plan.

pub mod air_run;
mod copies;
mod datum;
pub mod dialect;
mod drawn;
pub mod dxf;
mod intended;
mod near;
mod parting;
mod region;
mod rules;
mod slab;
mod sticks;
mod sweep;
mod voids;

pub use datum::{prove_bed, prove_datum};
pub use drawn::{drawn_shapes, prove_paths};
pub use rules::DialectRules;
pub use slab::SweptMove;
pub use sticks::{GangCuts, prove_gangs};
pub use sweep::{SheetProof, prove_pieces};
pub mod gcode_read;
pub mod motion;

use std::fmt;

/// Something in a file that must not be cut.
#[derive(Debug, Clone, PartialEq)]
pub struct ReplayFault {
    /// Which rule it breaks: a short name in kebab-case; `plan` where the plan itself is not whole, `compared` where
    /// something has not been compared with it.
    pub rule: &'static str,
    /// Line of the file, from 1, where there is one.
    pub line: Option<usize>,
    /// What was found and what would be right.
    pub what: String,
}

impl fmt::Display for ReplayFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "line {line}: {} ({})", self.what, self.rule),
            None => write!(f, "{} ({})", self.what, self.rule),
        }
    }
}

impl std::error::Error for ReplayFault {}
