//! Assembly: numbered steps from loose pieces to the finished panel, as data.
//!
//! [`Assembly::of`] goes from the order in which members go together to steps that a maker follows: groups and
//! not bars, so that a large panel has no more of them than a small one; in a group from the middle outwards.
//! Which joints are glued, where the panel is trimmed and which piece fills which cell are data of a step;
//! drawings and sheets take them from there.

mod glue;
mod steps;
mod trim;
mod words;

pub use glue::GlueJoint;
pub use steps::{Assembly, CellPieces, Step};
pub use trim::{TrimLine, end_angles};
