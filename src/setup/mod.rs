//! What is cut where, in which clamping: pieces as shapes, and their places on strips and sheets.

mod flat;
mod profile;

pub use flat::*;
pub use profile::Step;
