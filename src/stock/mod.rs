//! Pieces in rows on strips and sheets, with the least number of them that can be proven.
//!
//! All pieces that are cut flat have the depth of the bars for their width, so they lie in rows; a strip
//! is a sheet of one row. That makes nesting the one-dimensional cutting stock problem. [`nest`] works in
//! whole micrometres, so neither a gap nor the proof of the least number suffers from round-off.
//!
//! Bars that are cut edge up come from sticks, notched at every joint: [`plan_sticks`].

mod bound;
mod columns;
mod error;
mod fill;
mod knapsack;
mod lay;
mod loads;
mod model;
mod nest;
mod search;
mod share;
mod sheet;
mod sticks;

pub use error::NestError;
pub use loads::cut_alike;
pub use nest::{
    LEAST_GAP, Nest, NestCount, NestItem, NestProof, StockLimit, bound_of_both, longest_row, nest,
    nest_alike,
};
pub use sheet::{NestPlace, NestSheet};
pub use sticks::{
    LimitOf, Stick, StickClass, StickClassId, StickId, StickLimit, StickPiece, StickPlan,
    SticksError, plan_sticks,
};

#[cfg(test)]
pub(crate) use sticks::tests::some_sticks;
