//! Machine-neutral paths: offsets, relief, tabs, depth passes, and the order of cuts.

mod lengths;
mod program;

pub use lengths::*;
pub use program::*;
