//! What is cut where, in which clamping: pieces as shapes, and their places on strips and sheets.

mod flat;

pub use flat::*;
