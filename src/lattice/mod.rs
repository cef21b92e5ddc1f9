//! The lattice: families of lines → nodes → members, joints, classes, order; and the dry fit.
//!
//! [`Lattice::build`] goes from the panel as asked for to every member with its joints. A new layout
//! is one arm in `layout.rs`; nothing after it knows which layout the families came from.

mod build;
mod class;
mod dry_fit;
mod error;
mod family;
mod joint;
mod layout;
mod model;
mod nodes;
mod order;
mod outline;
mod web;

pub use class::{Class, ClassNotch, Turn, turned_end, turned_void};
pub use dry_fit::{DryFit, FitShape, Void, dry_fit, intended_shapes};
pub use error::LatticeError;
pub use family::{Family, Spacing};
pub use joint::{interface_height, square_run, wedge};
pub use model::{End, EndShape, Joint, JointShape, Lattice, Member, Node};
pub use outline::{Outline, SideOf};

#[cfg(test)]
#[allow(clippy::panic, reason = "tests")]
mod tests;
