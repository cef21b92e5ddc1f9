//! What is cut where, in which clamping: pieces as shapes, and their places on strips and sheets.

mod coupon;
mod flat;
mod profile;

pub use coupon::Comb;
pub use flat::*;
pub use profile::Step;
