//! The plan of a job: what is made, how it is cut, and the checks that need no file.

use super::edge_plan::EdgePlan;
use super::flat::FlatPlan;
use crate::assembly::Assembly;
use crate::infill::Infill;
use crate::lattice::{BarMark, DryFit, Lattice};
use crate::panel::JobFiles;
use crate::safety::Check;
use crate::setup::Comb;
use crate::surround::Surround;

/// What is made, how it is cut, and whether that is sound.
#[derive(Debug)]
pub struct Plan {
    /// The files that it was made from.
    pub files: JobFiles,
    /// The ground.
    pub lattice: Lattice,
    /// The pieces in its cells, if the panel has any.
    pub infill: Option<Infill>,
    /// The frame round it, if the panel has one.
    pub surround: Option<Surround>,
    /// How it is put together; `None` for a coupon.
    pub assembly: Option<Assembly>,
    /// How the intended shapes fit.
    pub meant: DryFit,
    /// The notches, where a coupon is cut in place of the panel: the lattice then has no members.
    pub coupon: Option<Comb>,
    /// How the members are cut, and what infill lies among them.
    pub cutting: Cutting,
    /// Infill that is cut flat by itself: of another wood, of another depth, or beside bars cut edge up.
    pub beside: Vec<FlatPlan>,
    /// The checks so far; those of the files come when the bytes are there.
    pub checks: Vec<Check>,
    /// What the maker should know.
    pub warnings: Vec<String>,
}

/// How the members of a panel are cut.
#[derive(Debug)]
pub enum Cutting {
    /// On its side.
    Flat(Box<FlatPlan>),
    /// Joint edge up, in gangs.
    EdgeUp(Box<EdgePlan>),
}

impl Plan {
    /// All that is cut flat: the members, unless they are cut edge up, then infill.
    pub fn flats(&self) -> impl Iterator<Item = &FlatPlan> {
        self.flat().into_iter().chain(&self.beside)
    }

    /// How the members are cut flat; `None` for a panel that is cut edge up.
    #[must_use]
    pub fn flat(&self) -> Option<&FlatPlan> {
        match &self.cutting {
            Cutting::Flat(flat) => Some(flat),
            Cutting::EdgeUp(_) => None,
        }
    }

    /// Where the members bear their orientation marks; empty where they are cut flat.
    #[must_use]
    pub fn member_marks(&self) -> &[BarMark] {
        self.edge_up().map_or(&[], |edge| &edge.marks.members)
    }

    /// How it is cut edge up; `None` for a panel that is cut flat.
    #[must_use]
    pub fn edge_up(&self) -> Option<&EdgePlan> {
        match &self.cutting {
            Cutting::Flat(_) => None,
            Cutting::EdgeUp(edge) => Some(edge),
        }
    }
}
