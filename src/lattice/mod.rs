//! The lattice: families of lines → nodes → members, joints, classes, order; and the dry fit.
//!
//! [`Lattice::build`] goes from the panel as asked for to every member with its joints. A new layout
//! is one arm in `layout.rs`; nothing after it knows which layout the families came from.
//! [`Lattice::ring`] is a surround that holds by itself, as a lattice of its own.

mod as_cut;
mod bars;
mod build;
mod class;
mod crossings;
mod dry_fit;
mod error;
mod family;
mod gap;
mod joint;
mod layout;
mod link;
mod mark;
mod model;
mod nodes;
mod order;
mod outline;
mod piece;
mod ring;
mod settle;
mod void;
mod web;

pub use build::GroundSize;
pub use class::{turned_end, turned_ends};
pub use dry_fit::{DryFit, FitShape, dry_fit, intended_shapes};
pub use error::LatticeError;
pub use family::{Family, FamilyId, Spacing};
pub use joint::{interface_height, square_run, wedge};
pub use mark::{BarEnd, BarMark, MarkEdges};
pub use model::{
    Class, ClassId, ClassNotch, Edge, End, EndShape, Joint, JointShape, Lattice, Line, LineId,
    Member, MemberId, Node, NodeId, Turn, trim_remark,
};
pub(crate) use nodes::{Crossing, Lines, cluster, cross};
pub use outline::{Outline, SideOf};
pub use ring::RingBars;
pub use void::{Void, turned_void};

#[cfg(test)]
#[allow(clippy::panic, reason = "tests")]
mod tests;
