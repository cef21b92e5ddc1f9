//! From a panel file to a folder: the stages in their order, and nothing else.
//!
//! [`plan`] works out what is cut and checks it; [`Made::of`] turns the plan into bytes and proves each
//! file from those bytes; [`deliver`] puts the folder in place as a whole; [`prove`] does it all again
//! from a folder's own sources and holds the folder against it.

mod bench_notes;
mod coupon;
mod cut_file;
mod datum_ends;
mod deliver;
mod dialect;
mod edge_up;
mod error;
mod fit;
mod flat;
mod hold_advice;
mod infill;
mod joined;
mod kits;
mod made;
mod pictures;
mod plan;
mod prove;
mod reading;
mod replay;
mod room;
mod sheet;
mod step_pictures;
mod steps;
mod stick_stock;
mod surround;
mod surround_picture;
mod unproven;
mod write_down;

pub use coupon::coupon_plan;
pub use cut_file::{CutFile, Holds, Proven};
pub use deliver::{DeliverError, deliver, may_replace, restore, within_own_limit};
pub use dialect::check_dialect;
pub use edge_up::{Bench, EdgePlan, Run, Work};
pub use error::JobError;
pub use fit::{Figures, Fitted, PlannedFit, Start, fit};
pub use flat::FlatPlan;
pub use made::Made;
pub use plan::{Cutting, Plan, plan};
pub use prove::prove;
pub use reading::{Reading, Tried};
pub use replay::Replayed;
pub use unproven::Unproven;
pub use write_down::Written;
