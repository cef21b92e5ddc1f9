//! From a panel file to a folder: the stages in their order, and nothing else.
//!
//! [`plan`] tries the dialect and works out what is cut; [`Made::of`] turns the plan into bytes and proves each
//! file from those bytes, [`Checked::of`] does so without the papers; [`deliver`] puts the folder in place as a whole; [`prove`] does it all again
//! from a folder's own sources and holds the folder against it.

mod cut_file;
mod cut_list;
mod deliver;
mod error;
mod failure;
mod made;
mod prove;
mod reading;
mod replay;
mod sizes;
mod stages;
mod unproven;
mod write_down;

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic, reason = "tests")]
mod tests;

pub use cut_file::{CutFile, Holds, Proven};
pub use deliver::{DeliverError, Edited, deliver, may_replace, restore, within_own_limit};
pub use error::JobError;
pub use failure::Failure;
pub use made::{Checked, Made};
pub use prove::prove;
pub use reading::{Reading, Tried};
pub use replay::Replayed;
pub use sizes::{Figures, PlannedSize, PlannedSizes, Start, plan_sizes};
pub use stages::{coupon_plan, plan};
pub use unproven::Unproven;
pub use write_down::Written;
