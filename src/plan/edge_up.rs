//! Edge-up cutting: sticks, the clampings of each class of sticks, and the programs that they run.

mod first_pieces;
mod gang_stick;
mod mark_lead;

use super::bench_notes::{bed_notes, datum_notes, slot_notes};
use super::bench_steps::BenchSteps;
use super::edge_plan::{
    BedRun, Bench, Clamping, ClampingId, ClampingRuns, DatumRun, DatumRunId, EdgePlan, SlotRun,
    SlotRunId,
};
use super::error::{PlanError, path_fault};
use super::head::RouterHead;
use super::program_head::put_time;
use crate::document::{Numbers, degrees};
use crate::non_empty::NonEmpty;
use crate::panel::JobFiles;
use crate::path::{Bed, PathBox, RouterSettings, bed_program, datum_program, slot_program};
use crate::safety::{
    Check, batten_checks, bed_checks, failed, gang_checks, gang_force_check, router_checks,
};
use crate::setup::{
    BATTEN_BELOW, Causes, Comb, Corner, GangRules, Groove, Mark, Marks, StandingDatum, gangs,
    same_fence, side_of, work_order,
};
use crate::stock::{Nest, StickClass, StickPlan};
use crate::table::{Column, Table};
use gang_stick::gang_stick;
use kurbo::Rect;

pub(super) use gang_stick::Notched;

impl EdgePlan {
    /// Plans the cutting of sticks that come from strips as `nest` tells: those of a ground's members, or of
    /// a coupon's comb. The checks of edge-up cutting are added to `checks`.
    ///
    /// # Errors
    /// Checks that fail.
    pub(super) fn of(
        files: &JobFiles,
        head: &RouterHead,
        notched: Notched<'_>,
        (sticks, nest): (StickPlan, Nest<usize>),
        checks: &mut Vec<Check>,
        progress: &mut dyn FnMut(&str),
    ) -> Result<Self, PlanError> {
        let set = &head.set;
        let job = &files.panel.short_name;
        let rules = rules(files, head, notched.depth(), &sticks);
        let (benches, clampings) = clamped(notched, &sticks, &rules)?;
        for (class, bench) in benches.entries() {
            let gangs = bench.clampings.map(|&id| &clampings[id].gang);
            let room = &bench.mark.room;
            let mut own = gang_checks(&bench.stick, &gangs, room, &head.router, &rules);
            if let Notched::Members(lattice) = notched {
                mark_lead::tell(files, lattice, &sticks.classes[class], &rules, &mut own);
            }
            checks.extend(own);
        }
        let heights = [rules.batten, notched.depth()];
        checks.extend(tool_checks(files, head, heights, &clampings));
        if failed(checks) {
            return Err(PlanError::Checks(std::mem::take(checks)));
        }
        progress("paths");
        let (datums, datum_of) = datums(job, &clampings, set);
        let (slots, slots_of) = slots(files, &clampings, set, notched.stem())?;
        let board = board(&clampings, &datums, rules.radius)?;
        let bed = bed(files, board, set);
        let grooves = benches.column(|_, bench| {
            let gangs = bench.clampings.map(|&id| &clampings[id].gang);
            Groove::of(&bench.mark, &gangs)
        });
        let mut plan = Self {
            marks: match notched {
                Notched::Members(lattice) => Marks::of(lattice, &sticks, grooves),
                Notched::Comb { .. } => Marks::of_comb(&sticks, grooves),
            },
            sticks,
            nest,
            benches,
            head: head.clone(),
            path: path(&bed, &datums, &slots)?,
            board,
            bed,
            runs_of: clampings.column(|id, _| ClampingRuns {
                datum: datum_of[id],
                slots: slots_of[id],
            }),
            clampings,
            datums,
            slots,
        };
        plan.tell(files, notched.comb());
        Ok(plan)
    }

    /// Writes into each program what its operator reads.
    fn tell(&mut self, files: &JobFiles, comb: Option<&Comb>) {
        let steps = BenchSteps::of(self, comb, Numbers::of_dialect(&self.head.own.post));
        let of_slots = |run: &SlotRun| slot_notes(files, self, run, comb, &steps);
        let slots = self.slots.column(|_, run| of_slots(run));
        let datums = self.datums.column(|_, run| datum_notes(files, self, run));
        for id in self.slots.ids() {
            self.slots[id].program.notes.clone_from(&slots[id]);
        }
        for id in self.datums.ids() {
            self.datums[id].program.notes.clone_from(&datums[id]);
        }
        let machine = &self.head.own.machine;
        if let Some(BedRun { program, bed }) = &mut self.bed {
            program.notes = bed_notes(files, &self.head, bed);
            put_time(machine, program, 1);
        }
        for run in &mut self.datums {
            put_time(machine, &mut run.program, 1);
        }
        for run in &mut self.slots {
            let loads = run
                .uses
                .iter()
                .map(|&id| self.clampings[id].gang.loads.len());
            put_time(machine, &mut run.program, loads.sum());
        }
    }
}

/// What each class of sticks brings to the bench, and the clampings of all in the order of work.
fn clamped(
    notched: Notched<'_>,
    sticks: &StickPlan,
    rules: &GangRules,
) -> Result<(Column<StickClass, Bench>, Table<Clamping>), PlanError> {
    let classes = &sticks.classes;
    let brought = classes.try_column(|class, _| gang_stick(notched, sticks, class))?;
    let unordered = brought.column(|_, stick| gangs(stick, rules));
    let mut datum = StandingDatum::default();
    let mut clampings = Table::new();
    for (class, gang) in work_order(&unordered, rules.radius) {
        clampings.push(Clamping {
            class,
            number: clampings.len() + 1,
            gang: gang.clone(),
            fresh: datum.take(gang, rules.radius),
        });
    }
    let benches = classes.try_column(|class, _| {
        let stick = brought[class].clone();
        let mine = clampings.entries().filter(|(_, c)| c.class == class);
        let mine = NonEmpty::of(mine.map(|(id, _)| id));
        let mine =
            mine.ok_or_else(|| PlanError::Internal(format!("no clamping of sticks {}", stick.id)))?;
        let gangs = mine.map(|&id| &clampings[id].gang);
        Ok::<_, PlanError>(Bench {
            mark: Mark::of(&stick, &gangs, rules.radius),
            stick,
            clampings: mine,
        })
    })?;
    for clamping in &mut clampings {
        benches[clamping.class].mark.put(&mut clamping.gang);
    }
    Ok((benches, clampings))
}

/// A datum for each direction of the fence, long enough for every gang against it, in the order of work; and which
/// one each clamping lies against.
fn datums(
    job: &str,
    clampings: &Table<Clamping>,
    set: &RouterSettings,
) -> (Table<DatumRun>, Column<Clamping, DatumRunId>) {
    let mut fences: Table<(f64, NonEmpty<ClampingId>)> = Table::new();
    let fence_of = clampings.column(|id, clamping| {
        let deg = clamping.gang.fence_deg;
        let standing = fences.ids().find(|fence| same_fence(fences[*fence].0, deg));
        match standing {
            Some(fence) => {
                fences[fence].1.push(id);
                fence
            }
            None => fences.push((deg, NonEmpty::one(id))),
        }
    });
    let mut datums: Table<DatumRun> = Table::new();
    let datum_of = fences.column(|_, (deg, uses)| {
        let gangs = uses.map(|&id| &clampings[id].gang);
        let corner = Corner::of(&gangs, 0.5 * set.diameter);
        let top = gangs.iter().map(|g| g.depth).fold(0.0, f64::max);
        let stem = free_stem(&datums, &format!("{job}-datum-{}", degrees(*deg)));
        datums.push(DatumRun {
            program: datum_program(&corner, top, set, stem, Vec::new()),
            corner,
            uses: uses.clone(),
        })
    });
    (datums, fence_of.map(|fence| datum_of[fence]))
}

fn free_stem(datums: &Table<DatumRun>, wanted: &str) -> String {
    let taken = |stem: &str| datums.iter().any(|r| r.program.stem == stem);
    let mut stem = wanted.to_owned();
    let mut n = 1;
    while taken(&stem) {
        n += 1;
        stem = format!("{wanted}-{n}");
    }
    stem
}

/// The programs of the slots, and which one each clamping runs; clampings that need the same moves share one.
fn slots(
    files: &JobFiles,
    clampings: &Table<Clamping>,
    set: &RouterSettings,
    name: &str,
) -> Result<(Table<SlotRun>, Column<Clamping, SlotRunId>), PlanError> {
    let mut slots: Table<SlotRun> = Table::new();
    let slots_of = clampings.try_column(|id, clamping| {
        let stem = format!("{}-{name}-{:02}", files.panel.short_name, slots.len() + 1);
        let program = slot_program(&clamping.gang, set, stem, Vec::new())
            .map_err(|e| path_fault(files, &e))?;
        let shared = slots.ids().find(|run| {
            let run = &slots[*run].program;
            run.moves == program.moves && run.head == program.head
        });
        Ok::<_, PlanError>(match shared {
            Some(shared) => {
                slots[shared].uses.push(id);
                shared
            }
            None => slots.push(SlotRun {
                program,
                uses: NonEmpty::one(id),
            }),
        })
    })?;
    Ok((slots, slots_of))
}

/// The program that planes the board under everything else, if the panel asks for it.
fn bed(files: &JobFiles, board: Rect, set: &RouterSettings) -> Option<BedRun> {
    let depth = files.panel.sticks.bed?;
    let bed = Bed { rect: board, depth };
    let stem = format!("{}-bed", files.panel.short_name);
    Some(BedRun {
        program: bed_program(&bed, set, stem, Vec::new()),
        bed,
    })
}

/// Where the board under battens and sticks must lie, from above: under everything of every clamping.
fn board(
    clampings: &Table<Clamping>,
    datums: &Table<DatumRun>,
    radius: f64,
) -> Result<Rect, PlanError> {
    let gangs = clampings.iter().map(|c| c.gang.extent(radius));
    let corners = datums.iter().map(|run| run.corner.extent());
    let all = gangs.chain(corners).reduce(|a, b| a.union(b));
    all.ok_or_else(nothing_clamped)
}

/// The box of the paths of all programs.
fn path(
    bed: &Option<BedRun>,
    datums: &Table<DatumRun>,
    slots: &Table<SlotRun>,
) -> Result<PathBox, PlanError> {
    let bed = bed.iter().map(|run| &run.program);
    let bench = datums.iter().map(|run| &run.program);
    let all = bed.chain(bench).chain(slots.iter().map(|run| &run.program));
    all.map(PathBox::of)
        .reduce(PathBox::union)
        .ok_or_else(nothing_clamped)
}

fn nothing_clamped() -> PlanError {
    PlanError::Internal("no sticks to be clamped".into())
}

fn rules(files: &JobFiles, head: &RouterHead, depth: f64, sticks: &StickPlan) -> GangRules {
    let router = &head.router;
    let angles = sticks.classes.iter().flat_map(|c| &c.notches);
    let sides: Vec<f64> = angles.map(|n| side_of(n.angle_deg)).collect();
    GangRules {
        most: files.panel.sticks.gang.unwrap_or(200),
        rail: router.rail,
        batten: router.batten_height.unwrap_or(depth - BATTEN_BELOW),
        hold: router.hold_width,
        radius: head.radius(),
        causes: Causes {
            taper: files.material.taper,
            rail_bow: router.rail_bow,
            fence_error_deg: router.fence_error_deg,
            square_error_deg: router.square_error_deg,
            apex_error: router.apex_error,
            seating: router.seating,
        },
        close: [files.panel.cut.clearance, files.material.crush],
        travel: head.own.machine.room(),
        both_hands: sides.contains(&1.0) && sides.contains(&-1.0),
        clamp: router.clamp_width,
    }
}

fn tool_checks(
    files: &JobFiles,
    head: &RouterHead,
    [batten, depth]: [f64; 2],
    clampings: &Table<Clamping>,
) -> Vec<Check> {
    let RouterHead {
        own,
        router,
        cut,
        set,
    } = head;
    let floors = clampings.iter().map(|c| c.gang.deepest());
    let floor = floors.fold(depth, f64::min);
    let mut checks = router_checks(&own.machine, router, cut, depth, depth - floor, None);
    checks.push(gang_force_check(cut, &router.tool, depth - floor));
    checks.extend(batten_checks(batten, depth, router, set.through()));
    let bed = files.panel.sticks.bed;
    checks.extend(bed.into_iter().flat_map(|depth| bed_checks(depth, router)));
    checks
}
