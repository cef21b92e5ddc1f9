//! Sizes for an opening: which columns, rows and pitch of a layout, with a surround of a width within a
//! range, make a panel of just the size asked for.
//!
//! With n spacings and a step k p of the layout at pitch p, a ground is n k p + m wide, m being what the
//! outline's rules add or take off at its two sides; so a panel W wide has (W - m - n k p) / 2 left for
//! the surround on each side. Where one pitch sets both steps (three-way: sin 60 to 1), a surround of one
//! width all round closes width and height at one pitch alone. [`find_sizes`] finds it for every count of
//! columns and rows, and takes the roundest pitch and surround that still close.

mod asked;
mod error;
mod found;
mod round;
mod search;
mod tied;
mod two;

pub use asked::{Asked, Range};
pub use error::SizeError;
pub use found::{Closes, FoundSize, Gives};
pub use search::{FoundSizes, find_sizes};
