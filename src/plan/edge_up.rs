//! Edge-up cutting: sticks, the clampings of each class of sticks, and the programs that they run.

mod first_pieces;
mod mark_lead;

use super::edge_plan::{Bench, EdgePlan, Run, Work};
use crate::document::{Numbers, degrees};
use first_pieces::{back_edge, first_ends};

use super::bench_notes::{bed_notes, datum_notes, slot_notes};
use super::error::{PlanError, path_fault};
use super::head::RouterHead;
use super::steps::BenchSteps;
use crate::lattice::Lattice;
use crate::panel::{JobFiles, Router};
use crate::path::{Bed, Note, RouterSettings, bed_program, datum_program, slot_program};
use crate::safety::{
    Check, batten_checks, bed_checks, failed, gang_checks, gang_force_check, router_checks,
};
use crate::setup::{
    BATTEN_BELOW, Causes, Comb, Corner, Gang, GangRules, GangStick, Marks, Seat, fresh_datums,
    gangs, mark, same_fence, side_of, work_order,
};
use crate::stock::{Nest, StickClass, StickPlan};

/// What sticks are notched for.
#[derive(Debug, Clone, Copy)]
pub(super) enum Notched<'a> {
    /// The members of a ground, which are cross-cut from them.
    Members(&'a Lattice),
    /// A coupon, as deep as this, mm: the sticks themselves.
    Comb {
        /// Its notches.
        comb: &'a Comb,
        /// From back to front, mm.
        depth: f64,
    },
}

impl<'a> Notched<'a> {
    /// From back to front, mm.
    fn depth(self) -> f64 {
        match self {
            Self::Members(lattice) => lattice.depth,
            Self::Comb { depth, .. } => depth,
        }
    }

    fn comb(self) -> Option<&'a Comb> {
        match self {
            Self::Members(_) => None,
            Self::Comb { comb, .. } => Some(comb),
        }
    }

    /// How the names of the programs of slots begin.
    fn stem(self) -> &'static str {
        match self {
            Self::Members(_) => "slots",
            Self::Comb { comb, .. } => comb.spec.kind.name(),
        }
    }
}

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
        let RouterHead { router, set, .. } = head;
        let angles = sticks.classes.iter().flat_map(|c| &c.notches);
        let sides: Vec<f64> = angles.map(|n| side_of(n.angle_deg)).collect();
        let both_hands = sides.contains(&1.0) && sides.contains(&-1.0);
        let depth = notched.depth();
        let rules = rules(files, router, set, depth, both_hands);
        let mut benches: Vec<Bench> = Vec::with_capacity(sticks.classes.len());
        for (c, class) in sticks.classes.iter().enumerate() {
            let stick = gang_stick(notched, &sticks, c, class);
            let gangs = gangs(&stick, &rules);
            let ids = gangs.first().map_or_else(Vec::new, |g| ids(&sticks, c, g));
            benches.push(Bench {
                stick,
                gangs,
                slots: Vec::new(),
                datums: Vec::new(),
                ids,
            });
        }
        let order = arranged(&mut benches, rules.radius);
        for bench in &mut benches {
            mark(&bench.stick, &mut bench.gangs, rules.radius);
            checks.extend(gang_checks(&bench.stick, &bench.gangs, router, &rules));
        }
        if let Notched::Members(lattice) = notched {
            mark_lead::tell(files, lattice, &sticks, &benches, &rules, checks);
        }
        checks.extend(tool_checks(files, head, depth, &benches));
        if failed(checks) {
            return Err(PlanError::Checks(std::mem::take(checks)));
        }
        progress("paths");
        let gangs: Vec<&[Gang]> = benches.iter().map(|b| b.gangs.as_slice()).collect();
        let mut plan = Self {
            marks: match notched {
                Notched::Members(lattice) => Marks::of(lattice, &sticks, &gangs),
                Notched::Comb { .. } => Marks::grooves(&gangs),
            },
            sticks,
            nest,
            fresh: fresh_datums(&gangs, &order, rules.radius),
            order,
            benches,
            head: head.clone(),
            runs: Vec::new(),
        };
        plan.datums(set);
        plan.slots(files, set, notched.stem())?;
        plan.bed(files, set);
        plan.number();
        plan.tell(files, notched.comb());
        Ok(plan)
    }

    /// A datum for each direction of the fence, long enough for every gang against it, in the order of work.
    fn datums(&mut self, set: &RouterSettings) {
        let mut ways: Vec<(f64, Vec<(usize, usize)>)> = Vec::new();
        for &(b, g) in &self.order {
            let deg = self.benches[b].gangs[g].fence_deg;
            match ways.iter_mut().find(|w| same_fence(w.0, deg)) {
                Some(way) => way.1.push((b, g)),
                None => ways.push((deg, vec![(b, g)])),
            }
        }
        for (deg, uses) in ways {
            let gangs = || uses.iter().map(|&(b, g)| &self.benches[b].gangs[g]);
            let Some(corner) = Corner::of(gangs(), 0.5 * set.diameter) else {
                continue;
            };
            let top = gangs().map(|g| g.depth).fold(0.0, f64::max);
            let stem = self.free_stem(&format!("datum-{}", degrees(deg)));
            self.runs.push(Run {
                program: datum_program(&corner, top, set, stem, Vec::new()),
                work: Work::Datum(corner),
                uses,
            });
        }
    }

    /// The program that planes the board under everything else, if the panel asks for it. It comes first.
    fn bed(&mut self, files: &JobFiles, set: &RouterSettings) {
        let Some(depth) = files.panel.sticks.bed else {
            return;
        };
        let rect = self.board();
        let bed = Bed { rect, depth };
        let run = Run {
            program: bed_program(&bed, set, "bed".into(), Vec::new()),
            work: Work::Bed(bed),
            uses: Vec::new(),
        };
        self.runs.insert(0, run);
    }

    fn free_stem(&self, wanted: &str) -> String {
        let taken = |stem: &str| self.runs.iter().any(|r| r.program.stem == stem);
        let mut stem = wanted.to_owned();
        let mut n = 1;
        while taken(&stem) {
            n += 1;
            stem = format!("{wanted}-{n}");
        }
        stem
    }

    /// The programs of the slots; clampings that need the same moves share one.
    fn slots(
        &mut self,
        files: &JobFiles,
        set: &RouterSettings,
        name: &str,
    ) -> Result<(), PlanError> {
        let mut count = 0;
        for &(b, g) in &self.order {
            let Some(gang) = self.benches.get(b).and_then(|b| b.gangs.get(g)) else {
                continue;
            };
            let stem = format!("{name}-{:02}", count + 1);
            let program =
                slot_program(gang, set, stem, Vec::new()).map_err(|e| path_fault(files, &e))?;
            let same = self.runs.iter_mut().find(|r| {
                matches!(r.work, Work::Slots)
                    && r.program.moves == program.moves
                    && r.program.head == program.head
            });
            if let Some(run) = same {
                run.uses.push((b, g));
            } else {
                count += 1;
                self.runs.push(Run {
                    program,
                    work: Work::Slots,
                    uses: vec![(b, g)],
                });
            }
        }
        Ok(())
    }

    /// Tells each clamping its programs.
    fn number(&mut self) {
        for bench in &mut self.benches {
            bench.slots = vec![0; bench.gangs.len()];
            bench.datums = vec![0; bench.gangs.len()];
        }
        for (r, run) in self.runs.iter().enumerate() {
            for &(b, g) in &run.uses {
                let list = match run.work {
                    Work::Slots => &mut self.benches[b].slots,
                    Work::Datum(_) => &mut self.benches[b].datums,
                    Work::Bed(_) => continue,
                };
                list[g] = r;
            }
        }
    }

    /// Writes into each program what its operator reads.
    fn tell(&mut self, files: &JobFiles, comb: Option<&Comb>) {
        let steps = BenchSteps::of(self, comb, Numbers::of_dialect(&files.post));
        let notes: Vec<Vec<Note>> = self
            .runs
            .iter()
            .map(|run| match &run.work {
                Work::Slots => slot_notes(files, self, run, comb, &steps),
                Work::Datum(corner) => datum_notes(files, self, run, corner),
                Work::Bed(bed) => bed_notes(files, bed),
            })
            .collect();
        for (run, notes) in self.runs.iter_mut().zip(notes) {
            run.program.notes = notes;
        }
    }
}

/// Puts the clampings of every class in the order of work, and gives it.
fn arranged(benches: &mut [Bench], radius: f64) -> Vec<(usize, usize)> {
    let classes: Vec<Vec<Gang>> = benches.iter().map(|b| b.gangs.clone()).collect();
    let mut next = vec![0; benches.len()];
    let mut order = Vec::new();
    for (b, g) in work_order(&classes, radius) {
        benches[b].gangs[next[b]] = classes[b][g].clone();
        order.push((b, next[b]));
        next[b] += 1;
    }
    order
}

fn rules(
    files: &JobFiles,
    router: &Router,
    set: &RouterSettings,
    depth: f64,
    both_hands: bool,
) -> GangRules {
    GangRules {
        most: files.panel.sticks.gang.unwrap_or(200),
        rail: router.rail,
        batten: router.batten_height.unwrap_or(depth - BATTEN_BELOW),
        hold: router.hold_width,
        radius: 0.5 * set.diameter,
        causes: Causes {
            taper: files.material.taper,
            rail_bow: router.rail_bow,
            fence_error_deg: router.fence_error_deg,
            square_error_deg: router.square_error_deg,
            apex_error: router.apex_error,
            seating: router.seating,
        },
        close: [files.panel.cut.clearance, files.material.crush],
        travel: files.machine.room(),
        both_hands,
        clamp: router.clamp_width,
    }
}

fn gang_stick(notched: Notched<'_>, sticks: &StickPlan, c: usize, class: &StickClass) -> GangStick {
    let point = class.ends[0].angle_deg;
    let ([begun, hidden_to], back) = match notched {
        Notched::Members(lattice) => (
            first_ends(lattice, sticks, c),
            back_edge(lattice, sticks, c),
        ),
        Notched::Comb { .. } => ([0.0, f64::INFINITY], None),
    };
    GangStick {
        id: class.id.clone(),
        face: class.face[1],
        spread: class.face[1] - class.face[0],
        depth: notched.depth(),
        length: class.length,
        point_deg: point.min(180.0 - point),
        notches: class.notches.clone(),
        kept: class.count,
        spares: class.spares,
        begun,
        hidden_to,
        back,
    }
}

/// The stick in each place of each load: those that are kept in the order of the plan, then spares.
fn ids(sticks: &StickPlan, class: usize, gang: &Gang) -> Vec<Vec<String>> {
    let mine = || sticks.sticks.iter().filter(|s| s.class == class);
    let mut kept = mine().flat_map(|s| std::iter::repeat_n(&s.id, s.count as usize));
    let mut spares = mine().flat_map(|s| std::iter::repeat_n(&s.id, s.spares as usize));
    let mut next = |seat: &Seat| match seat {
        Seat::Kept => kept.next().cloned().unwrap_or_default(),
        Seat::Spare => spares.next().cloned().unwrap_or_default(),
        Seat::Dummy => String::new(),
    };
    gang.loads
        .iter()
        .map(|load| load.iter().map(&mut next).collect())
        .collect()
}

fn tool_checks(files: &JobFiles, head: &RouterHead, depth: f64, benches: &[Bench]) -> Vec<Check> {
    let RouterHead { router, cut, set } = head;
    let gangs = || benches.iter().flat_map(|b| &b.gangs);
    let floor = gangs().map(Gang::deepest).fold(depth, f64::min);
    let mut checks = router_checks(&files.machine, router, cut, depth, depth - floor, None);
    checks.push(gang_force_check(cut, &router.tool, depth - floor));
    if let Some(gang) = gangs().next() {
        checks.extend(batten_checks(gang, router, set.through()));
    }
    let bed = files.panel.sticks.bed;
    checks.extend(bed.into_iter().flat_map(|depth| bed_checks(depth, router)));
    checks
}
