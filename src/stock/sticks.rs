//! Sticks: blanks that are notched at every joint position, cut in gangs, and later cross-cut into
//! members.
//!
//! Members whose notches are windows of one periodic pattern along the bar (`pattern.rs`) are cut from
//! identical sticks: a *stick class* (`group.rs`). How many joints the sticks of a class have, and how
//! the members lie on them, is settled by the least total milled length within the limit, then the fewest
//! sticks (`choose.rs`, `pack.rs`). Members without a pattern get a stick each.

mod batch;
mod choose;
mod error;
mod exact;
mod group;
mod lay_out;
mod needs;
mod pack;
mod pattern;
mod plan;

pub use error::{LimitOf, SticksError};
pub use plan::plan_sticks;

use crate::lattice::{ClassId, ClassNotch, End, FamilyId, Turn};
use crate::table::{Id, Table};

#[cfg(test)]
#[allow(clippy::panic, reason = "tests")]
pub(crate) mod tests;

/// All sticks of a job, spares included.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StickPlan {
    /// The kinds of sticks; all sticks of a class are notched alike.
    pub classes: Table<StickClass>,
    /// What the sticks are cross-cut into, class by class.
    pub sticks: Table<Stick>,
}

/// A class of sticks of a plan.
pub type StickClassId = Id<StickClass>;
/// A stick of a plan, with all that are cross-cut like it.
pub type StickId = Id<Stick>;

impl StickPlan {
    /// The sticks of a class.
    pub fn of_class(&self, class: StickClassId) -> impl Iterator<Item = (StickId, &Stick)> {
        let all = self.sticks.entries();
        all.filter(move |(_, stick)| stick.class == class)
    }
}

/// Sticks that are notched alike. Lengths are mm; `at` is along the centre line from the datum end, the
/// end that lies against the fence.
#[derive(Debug, Clone, PartialEq)]
pub struct StickClass {
    /// `stick-1`, `stick-2`, ...
    pub id: String,
    /// The families whose members are cut from it, ascending.
    pub families: Vec<FamilyId>,
    /// Least and greatest face.
    pub face: [f64; 2],
    /// How many joint positions are notched.
    pub joints: usize,
    /// From the datum end (its point, if it is pointed) to the other end.
    pub length: f64,
    /// From the datum end to the first joint.
    pub lead: f64,
    /// From the last joint to the other end.
    pub tail: f64,
    /// The datum end and the other, which is square. So is the datum end, unless the panel asks for points: then
    /// it is pointed at the least skew angle of the notches, of t and 180 - t, where any notch is skew.
    pub ends: [End; 2],
    /// The notches in order of joints; at one joint in the order of front and back, then depth.
    pub notches: Vec<ClassNotch>,
    /// For each notch the index of its joint, from 0.
    pub node_of: Vec<usize>,
    /// For each joint its place.
    pub joint_at: Vec<f64>,
    /// How many sticks are needed, for the whole quantity of panels, without spares.
    pub count: u32,
    /// How many more are cut.
    pub spares: u32,
    /// Whether the notches follow a pattern; else each stick is for one member.
    pub regular: bool,
    /// Whether no other count of joints, and no other way to lie on them, needs less milled length within
    /// the limit, or as much with fewer sticks; proven.
    pub optimal: bool,
}

/// Sticks of one class that are cross-cut alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Stick {
    /// Class id and a number: `stick-1-1`.
    pub id: String,
    /// Its class.
    pub class: StickClassId,
    /// What is cut from it, from the datum end on.
    pub pieces: Vec<StickPiece>,
    /// How many such sticks, for the whole quantity of panels, without spares.
    pub count: u32,
    /// How many spares, which are cross-cut when one of them is called for: all of a class stand with its
    /// first sticks.
    pub spares: u32,
}

/// A piece of a stick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StickPiece {
    /// The class of members that it becomes.
    pub class: ClassId,
    /// Its first joint on the stick, from 1.
    pub first_joint: usize,
    /// How many joints it has.
    pub joints: usize,
    /// How the class's piece is turned to lie in the stick.
    pub turn: Turn,
    /// Where it is cut, along the centre line from the datum end, mm.
    pub cut: [f64; 2],
}

/// How long a stick may be, beside the panel's own limit. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StickLimit {
    /// What the machine reaches.
    pub travel: f64,
    /// How much of that the fence and the stagger of the least gang take beside the stick.
    pub beside: f64,
    /// The longest strip on hand that is wide enough, trimmed.
    pub stock: f64,
}
