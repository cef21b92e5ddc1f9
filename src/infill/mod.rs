//! Infill: cells of the ground, patterns laid in them, and the pieces that come of it.
//!
//! [`cells()`] finds the cells of any ground; [`Infill::build`] chooses a pattern for each, lays it, trims what
//! the outline cuts, and sorts the pieces into classes of pieces that a turn carries into each other.

mod build;
mod cells;
mod error;
mod fold;
mod lay;
mod net;
mod pieces;
mod region;
mod seam;
mod shape;

pub use build::Infill;
pub use cells::{Border, Cell, CellId, CellSide, cells};
pub use error::InfillError;
pub use pieces::{FoldAt, InfillClassId, InfillId, Piece, PieceClass};
pub use seam::seam_deg;
