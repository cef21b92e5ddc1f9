//! What edge-up cutting comes to: sticks, the clampings of each class of sticks, and the programs that they run.

use super::head::RouterHead;
use crate::path::{Bed, Program};
use crate::setup::{Corner, Gang, GangStick, Marks};
use crate::stock::{Nest, StickPlan};

/// Edge-up cutting: what is cut in which clamping, and the program of each.
#[derive(Debug)]
pub struct EdgePlan {
    /// Sticks and what they are cross-cut into.
    pub sticks: StickPlan,
    /// Which stick comes from which strip; shapes are known by the index of their class.
    pub nest: Nest<usize>,
    /// What cuts.
    pub head: RouterHead,
    /// One a class of sticks, in their order.
    pub benches: Vec<Bench>,
    /// The clampings in the order of work: (bench, clamping).
    pub order: Vec<(usize, usize)>,
    /// Whether battens are put up and the datum is milled for each clamping, in the order of work; else those
    /// of the one before it stand.
    pub fresh: Vec<bool>,
    /// Where every bar bears its orientation mark; empty for a coupon.
    pub marks: Marks,
    /// The programs: the bed's, if it is asked for, then datums, then slots, in the order of their first use.
    pub runs: Vec<Run>,
}

/// All clampings of a class of sticks.
#[derive(Debug)]
pub struct Bench {
    /// What the class brings.
    pub stick: GangStick,
    /// Its clampings, in the order of work.
    pub gangs: Vec<Gang>,
    /// For each clamping, the index of its program of slots.
    pub slots: Vec<usize>,
    /// For each clamping, the index of its datum's program.
    pub datums: Vec<usize>,
    /// The stick in each place of each load; empty for a dummy.
    pub ids: Vec<Vec<String>>,
}

/// A program and the clampings that use it: (bench, clamping).
#[derive(Debug)]
pub struct Run {
    /// The moves.
    pub program: Program,
    /// What it cuts.
    pub work: Work,
    /// The clampings; none of the bed's.
    pub uses: Vec<(usize, usize)>,
}

/// What a program of edge-up cutting cuts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Work {
    /// The board under the sticks.
    Bed(Bed),
    /// The faces of reference rail and fence.
    Datum(Corner),
    /// Slots and mark across a gang.
    Slots,
}

impl Work {
    /// The faces that it mills, if it mills any.
    #[must_use]
    pub fn corner(&self) -> Option<&Corner> {
        match self {
            Self::Datum(corner) => Some(corner),
            Self::Bed(_) | Self::Slots => None,
        }
    }
}

impl EdgePlan {
    /// Where the board under battens and sticks must lie, from above: under everything of every clamping, mm.
    #[must_use]
    pub fn board(&self) -> kurbo::Rect {
        let radius = self
            .runs
            .first()
            .map_or(0.0, |run| run.program.head.radius());
        let gangs = self.benches.iter().flat_map(|b| &b.gangs);
        let gangs = gangs.map(|g| g.extent(radius));
        let corners = self.runs.iter().filter_map(|run| run.work.corner());
        let all = gangs.chain(corners.map(Corner::extent));
        all.reduce(|a, b| a.union(b)).unwrap_or_default()
    }

    /// The number of a clamping in the order of work, from 1.
    #[must_use]
    pub fn number_of(&self, clamping: (usize, usize)) -> usize {
        let place = self.order.iter().position(|c| *c == clamping);
        place.map_or(0, |place| place + 1)
    }

    /// Whether battens are put up and the datum is milled for a clamping; else those of the one before stand.
    #[must_use]
    pub fn is_fresh(&self, clamping: (usize, usize)) -> bool {
        let place = self.number_of(clamping).checked_sub(1);
        place
            .and_then(|p| self.fresh.get(p))
            .copied()
            .unwrap_or(true)
    }

    /// The last of the clampings, one after the other from this one on, that its datum stands for.
    #[must_use]
    pub(crate) fn datum_until(&self, clamping: (usize, usize)) -> usize {
        let first = self.number_of(clamping);
        first + self.fresh.iter().skip(first).take_while(|f| !**f).count()
    }

    /// How often a program is run: of slots, once for every load; of a datum, whenever its battens are put up
    /// anew; the bed's once.
    #[must_use]
    pub fn times(&self, run: &Run) -> usize {
        let uses = run.uses.iter();
        match run.work {
            Work::Bed(_) => 1,
            Work::Datum(_) => uses.filter(|u| self.is_fresh(**u)).count(),
            Work::Slots => uses
                .filter_map(|&(b, g)| Some(self.benches.get(b)?.gangs.get(g)?.loads.len()))
                .sum(),
        }
    }

    /// The clamping that stands for a program of slots: its first.
    #[must_use]
    pub fn gang_of(&self, run: &Run) -> Option<&Gang> {
        let &(b, g) = run.uses.first()?;
        self.benches.get(b)?.gangs.get(g)
    }
}
