//! The surround: a frame round the trimmed ground, mitred by hand or half-lapped from flat pieces.
//!
//! [`Surround::build`] goes from the ground and what the panel file says to every side with its long and
//! short points, mitres, pins and class; or, for laps, to a ring of bars that is a lattice of its own.

mod build;
mod buy;
mod error;
mod pins;

pub use build::{Ring, Side, SideClass, SideClassId, SideId, Surround};
pub use buy::{Length, Lengths, SurroundStock};
pub use error::SurroundError;
pub use pins::Pin;
