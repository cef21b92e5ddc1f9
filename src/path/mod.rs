//! Machine-neutral paths: offsets, relief, tabs, depth passes, and the order of cuts.

mod program;

pub use program::*;
