//! What edge-up cutting comes to: sticks, the clampings of each class of sticks, and the programs that they run.

use super::head::RouterHead;
use crate::non_empty::NonEmpty;
use crate::path::{Bed, PathBox, Program};
use crate::setup::{Corner, Gang, GangStick, Mark, Marks};
use crate::stock::{Nest, StickClass, StickClassId, StickPlan};
use crate::table::{Column, Id, Table};
use kurbo::Rect;

/// Edge-up cutting: what is cut in which clamping, and the program of each.
#[derive(Debug)]
pub struct EdgePlan {
    /// Sticks and what they are cross-cut into.
    pub sticks: StickPlan,
    /// Which stick comes from which strip; shapes are known by the index of their class.
    pub nest: Nest<usize>,
    /// What cuts.
    pub head: RouterHead,
    /// What each class of sticks brings to the bench.
    pub benches: Column<StickClass, Bench>,
    /// The clampings of all classes in the order of work.
    pub clampings: Table<Clamping>,
    /// Where every bar bears its orientation mark; of a coupon, the grooves alone.
    pub marks: Marks,
    /// The program that planes the board under everything else, if it is asked for. It is run first.
    pub bed: Option<BedRun>,
    /// The programs of the datums, in the order of their first use.
    pub datums: Table<DatumRun>,
    /// The programs of the slots, likewise.
    pub slots: Table<SlotRun>,
    /// Where the board under battens and sticks must lie, from above: under everything of every clamping, mm.
    pub board: Rect,
    /// The box of the paths of all programs, from their one zero.
    pub path: PathBox,
    /// The programs of each clamping.
    pub(super) runs_of: Column<Clamping, ClampingRuns>,
}

/// What a class of sticks brings to the bench.
#[derive(Debug)]
pub struct Bench {
    /// Its sticks.
    pub stick: GangStick,
    /// Its clampings, in the order of work.
    pub clampings: NonEmpty<ClampingId>,
    /// Its orientation mark.
    pub mark: Mark,
}

/// A gang in its place in the order of work.
#[derive(Debug)]
pub struct Clamping {
    /// The class of its sticks.
    pub class: StickClassId,
    /// Its number in the order of work, from 1.
    pub number: usize,
    /// How it lies.
    pub gang: Gang,
    /// Whether battens are put up and the datum is milled for it; else those of the one before it stand.
    pub fresh: bool,
}

/// A clamping of a plan.
pub type ClampingId = Id<Clamping>;

/// The programs of a clamping.
#[derive(Debug, Clone, Copy)]
pub(super) struct ClampingRuns {
    pub(super) datum: DatumRunId,
    pub(super) slots: SlotRunId,
}

/// The program that planes the board under the sticks.
#[derive(Debug)]
pub struct BedRun {
    /// The moves.
    pub program: Program,
    /// What is planed.
    pub bed: Bed,
}

/// A program that mills the faces of reference rail and fence.
#[derive(Debug)]
pub struct DatumRun {
    /// The moves.
    pub program: Program,
    /// Both faces.
    pub corner: Corner,
    /// The clampings against it.
    pub uses: NonEmpty<ClampingId>,
}

/// A datum's program of a plan.
pub type DatumRunId = Id<DatumRun>;

/// A program that cuts slots and mark across a gang.
#[derive(Debug)]
pub struct SlotRun {
    /// The moves.
    pub program: Program,
    /// The clampings that need these moves; the first stands for all.
    pub uses: NonEmpty<ClampingId>,
}

/// A program of slots of a plan.
pub type SlotRunId = Id<SlotRun>;

/// A program of edge-up cutting, whatever it cuts.
#[derive(Debug, Clone, Copy)]
pub struct Run<'a> {
    /// The moves.
    pub program: &'a Program,
    /// What it cuts.
    pub work: Work<'a>,
    /// How often it is run: of slots, once for every load; of a datum, whenever its battens are put up anew; the
    /// bed's once.
    pub times: usize,
}

/// What a program of edge-up cutting cuts.
#[derive(Debug, Clone, Copy)]
pub enum Work<'a> {
    /// The board under the sticks.
    Bed(&'a BedRun),
    /// The faces of reference rail and fence.
    Datum(&'a DatumRun),
    /// Slots and mark across a gang.
    Slots(SlotRunId, &'a SlotRun),
}

impl EdgePlan {
    /// All programs: the bed's, if there is one, then datums, then slots.
    pub fn runs(&self) -> impl Iterator<Item = Run<'_>> {
        let bed = self.bed.iter().map(|run| Run {
            program: &run.program,
            work: Work::Bed(run),
            times: 1,
        });
        let datums = self.datums.iter().map(|run| Run {
            program: &run.program,
            work: Work::Datum(run),
            times: self.times_milled(run),
        });
        let slots = self.slots.entries().map(|(id, run)| Run {
            program: &run.program,
            work: Work::Slots(id, run),
            times: self.gangs(&run.uses).map(|gang| gang.loads.len()).sum(),
        });
        bed.chain(datums).chain(slots)
    }

    /// How often the battens of a datum are put up and milled.
    #[must_use]
    pub fn times_milled(&self, run: &DatumRun) -> usize {
        self.milled_for(run).count()
    }

    /// The clampings that the battens of a datum are put up and milled for.
    pub fn milled_for<'a>(&'a self, run: &'a DatumRun) -> impl Iterator<Item = &'a Clamping> {
        let uses = run.uses.iter().map(|&id| &self.clampings[id]);
        uses.filter(|clamping| clamping.fresh)
    }

    /// These clampings.
    pub fn gangs<'a>(&'a self, ids: &'a NonEmpty<ClampingId>) -> impl Iterator<Item = &'a Gang> {
        ids.iter().map(|&id| &self.clampings[id].gang)
    }

    /// The program of the datum that a clamping lies against.
    #[must_use]
    pub fn datum_of(&self, clamping: ClampingId) -> &DatumRun {
        &self.datums[self.runs_of[clamping].datum]
    }

    /// The program of the slots of a clamping.
    #[must_use]
    pub fn slots_of(&self, clamping: ClampingId) -> &SlotRun {
        &self.slots[self.runs_of[clamping].slots]
    }

    /// Which program of slots a clamping runs.
    #[must_use]
    pub fn slots_id(&self, clamping: ClampingId) -> SlotRunId {
        self.runs_of[clamping].slots
    }

    /// The clamping before one in the order of work; `None` before the first.
    #[must_use]
    pub(crate) fn before(&self, clamping: &Clamping) -> Option<&Clamping> {
        let earlier = self.clampings.iter();
        earlier.take_while(|c| c.number < clamping.number).last()
    }

    /// The number of the last of the clampings, one after the other from this one on, that its datum stands for.
    #[must_use]
    pub(crate) fn datum_until(&self, clamping: &Clamping) -> usize {
        let later = self.clampings.iter().skip(clamping.number);
        clamping.number + later.take_while(|c| !c.fresh).count()
    }
}
