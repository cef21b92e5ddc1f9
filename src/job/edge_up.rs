//! Edge-up cutting: sticks, the clampings of each class of sticks, and the programs that they run.

mod first_pieces;

use first_pieces::{back_edge, first_ends};

use super::error::{JobError, path_fault};
use super::flat::HeadSettings;
use super::steps::{fence_notes, slot_notes};
use crate::geom::SAME_PIECE;
use crate::lattice::Lattice;
use crate::panel::{HeadKind, JobFiles, Router};
use crate::path::{Program, RouterSettings, fence_program, slot_program};
use crate::safety::{Check, LEAST_SLIP, failed, gang_checks, router_checks};
use crate::setup::{Comb, Gang, GangRules, GangStick, Seat, gangs};
use crate::stock::{Nest, StickClass, StickPlan};

/// Edge-up cutting: what is cut in which clamping, and the program of each.
#[derive(Debug)]
pub struct EdgePlan {
    /// Sticks and what they are cross-cut into.
    pub sticks: StickPlan,
    /// Which stick comes from which strip.
    pub nest: Nest,
    /// One a class of sticks, in their order.
    pub benches: Vec<Bench>,
    /// The clampings in the order of work: (bench, clamping).
    pub order: Vec<(usize, usize)>,
    /// The programs: fences first, then slots, in the order of their first use.
    pub runs: Vec<Run>,
}

/// All clampings of a class of sticks.
#[derive(Debug)]
pub struct Bench {
    /// What the class brings.
    pub stick: GangStick,
    /// Its clampings, in order.
    pub gangs: Vec<Gang>,
    /// For each clamping, the index of its program of slots.
    pub slots: Vec<usize>,
    /// For each clamping, the index of its fence's program.
    pub fences: Vec<usize>,
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
    /// The clampings; of a fence, the widest gang comes first.
    pub uses: Vec<(usize, usize)>,
}

/// What a program of edge-up cutting cuts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// Slots and mark across a gang.
    Slots,
    /// The face of a fence.
    Fence,
}

impl EdgePlan {
    /// Plans the cutting of sticks that come from strips as `nest` tells: those of a ground's members, or of
    /// a coupon's comb. The checks of edge-up cutting are added to `checks`.
    ///
    /// # Errors
    /// Checks that fail.
    pub(super) fn of(
        files: &JobFiles,
        head: &HeadSettings,
        lattice: &Lattice,
        comb: Option<&Comb>,
        (sticks, nest): (StickPlan, Nest),
        checks: &mut Vec<Check>,
        progress: &mut dyn FnMut(&str),
    ) -> Result<Self, JobError> {
        let (HeadSettings::Router(set), HeadKind::Router(router)) = (head, &files.machine.head)
        else {
            return Err(no_router());
        };
        let rules = rules(files, router, set);
        let mut benches: Vec<Bench> = Vec::with_capacity(sticks.classes.len());
        for (c, class) in sticks.classes.iter().enumerate() {
            let stick = gang_stick(lattice, &sticks, c, class);
            let gangs = gangs(&stick, &rules);
            checks.extend(gang_checks(&stick, &gangs, router, rules.radius));
            let ids = gangs.first().map_or_else(Vec::new, |g| ids(&sticks, c, g));
            benches.push(Bench {
                stick,
                gangs,
                slots: Vec::new(),
                fences: Vec::new(),
                ids,
            });
        }
        checks.extend(tool_checks(files, router, set, lattice, &benches));
        if failed(checks) {
            return Err(JobError::Checks(std::mem::take(checks)));
        }
        progress("paths");
        let mut plan = Self {
            sticks,
            nest,
            order: order(&benches),
            benches,
            runs: Vec::new(),
        };
        plan.fences(set);
        plan.slots(files, set, comb.map_or("slots", |c| c.spec.kind.name()))?;
        plan.number();
        plan.tell(files, comb);
        Ok(plan)
    }

    /// A fence for each direction, long enough for the widest gang against it.
    fn fences(&mut self, set: &RouterSettings) {
        let mut ways: Vec<(f64, Vec<(usize, usize)>)> = Vec::new();
        for (b, bench) in self.benches.iter().enumerate() {
            for (g, gang) in bench.gangs.iter().enumerate() {
                let same = |w: &&mut (f64, Vec<_>)| same_fence(w.0, gang.fence_deg);
                match ways.iter_mut().find(same) {
                    Some(way) => way.1.push((b, g)),
                    None => ways.push((gang.fence_deg, vec![(b, g)])),
                }
            }
        }
        ways.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (deg, mut uses) in ways {
            let width = |u: &(usize, usize)| self.benches[u.0].gangs[u.1].width();
            // Widest first; the others keep their order.
            uses.sort_by(|a, b| width(b).total_cmp(&width(a)));
            let Some(&(b, g)) = uses.first() else {
                continue;
            };
            let gang = &self.benches[b].gangs[g];
            let stem = self.free_stem(&format!("fence-{}", short(deg)));
            self.runs.push(Run {
                program: fence_program(gang, set, stem, Vec::new()),
                work: Work::Fence,
                uses,
            });
        }
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
    ) -> Result<(), JobError> {
        let mut count = 0;
        for &(b, g) in &self.order {
            let Some(gang) = self.benches.get(b).and_then(|b| b.gangs.get(g)) else {
                continue;
            };
            let stem = format!("{name}-{:02}", count + 1);
            let program =
                slot_program(gang, set, stem, Vec::new()).map_err(|e| path_fault(files, &e))?;
            let same = self.runs.iter_mut().find(|r| {
                r.work == Work::Slots
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
            bench.fences = vec![0; bench.gangs.len()];
        }
        for (r, run) in self.runs.iter().enumerate() {
            for &(b, g) in &run.uses {
                let list = match run.work {
                    Work::Slots => &mut self.benches[b].slots,
                    Work::Fence => &mut self.benches[b].fences,
                };
                list[g] = r;
            }
        }
    }

    /// Writes into each program what its operator reads.
    fn tell(&mut self, files: &JobFiles, comb: Option<&Comb>) {
        let notes: Vec<Vec<String>> = self
            .runs
            .iter()
            .map(|run| match run.work {
                Work::Slots => slot_notes(files, self, run, comb),
                Work::Fence => fence_notes(files, self, run),
            })
            .collect();
        for (run, notes) in self.runs.iter_mut().zip(notes) {
            run.program.notes = notes;
        }
    }

    /// The number of a clamping in the order of work, from 1.
    #[must_use]
    pub fn number_of(&self, clamping: (usize, usize)) -> usize {
        let place = self.order.iter().position(|c| *c == clamping);
        place.map_or(0, |place| place + 1)
    }

    /// Whether the fence of a clamping stands already, from the one before it in the order of work.
    #[must_use]
    pub fn fence_stands(&self, (b, g): (usize, usize)) -> bool {
        let fence = |&(b, g): &(usize, usize)| self.benches.get(b)?.fences.get(g);
        let before = self.number_of((b, g)).checked_sub(2);
        let before = before.and_then(|place| self.order.get(place));
        before.is_some_and(|before| fence(before) == fence(&(b, g)))
    }

    /// The last of the clampings, one after the other from this one on, that its fence stands for.
    #[must_use]
    pub(super) fn fence_until(&self, clamping: (usize, usize)) -> usize {
        let first = self.number_of(clamping);
        let stands = |c: &&(usize, usize)| self.fence_stands(**c);
        first + self.order.iter().skip(first).take_while(stands).count()
    }

    /// How often a program is run: of slots, once for every load; of a fence, whenever its batten is put up
    /// anew.
    #[must_use]
    pub fn times(&self, run: &Run) -> usize {
        let uses = run.uses.iter();
        match run.work {
            Work::Fence => uses.filter(|u| !self.fence_stands(**u)).count(),
            Work::Slots => uses
                .filter_map(|&(b, g)| Some(self.benches.get(b)?.gangs.get(g)?.loads.len()))
                .sum(),
        }
    }

    /// The clamping that stands for a program: its first, which of a fence is the widest gang.
    #[must_use]
    pub fn gang_of(&self, run: &Run) -> Option<&Gang> {
        let &(b, g) = run.uses.first()?;
        self.benches.get(b)?.gangs.get(g)
    }
}

/// The order of work. Each class keeps the order of its clampings. All that can be cut against a fence is cut
/// before another is milled: one that no class comes back to, where there is one, so that each is milled once
/// where the classes allow it; then one that most classes wait for.
fn order(benches: &[Bench]) -> Vec<(usize, usize)> {
    let mut next = vec![0; benches.len()];
    let mut order = Vec::new();
    loop {
        let left: Vec<&[Gang]> = benches
            .iter()
            .zip(&next)
            .filter_map(|(bench, &g)| bench.gangs.get(g..).filter(|left| !left.is_empty()))
            .collect();
        let rank = |deg: f64| {
            let against = |gang: &&Gang| same_fence(gang.fence_deg, deg);
            let comes_back = |left: &&&[Gang]| left.iter().skip_while(against).any(|g| against(&g));
            let waits = |left: &&&[Gang]| left.first().filter(against).is_some();
            (
                !left.iter().any(|left| comes_back(&left)),
                left.iter().filter(waits).count(),
            )
        };
        let mut best: Option<f64> = None;
        for deg in left.iter().filter_map(|left| Some(left.first()?.fence_deg)) {
            if best.is_none_or(|best| rank(deg) > rank(best)) {
                best = Some(deg);
            }
        }
        let Some(fence) = best else {
            return order;
        };
        for (b, (bench, g)) in benches.iter().zip(&mut next).enumerate() {
            let against = |gang: &&Gang| same_fence(gang.fence_deg, fence);
            while bench.gangs.get(*g).filter(against).is_some() {
                order.push((b, *g));
                *g += 1;
            }
        }
    }
}

fn same_fence(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME_PIECE
}

/// What only a fault of this program brings about: files for edge-up cutting name a router.
pub(super) fn no_router() -> JobError {
    JobError::Internal("edge-up cutting without a router".into())
}

/// An angle with at most two decimals.
pub(super) fn short(deg: f64) -> String {
    let text = format!("{deg:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn rules(files: &JobFiles, router: &Router, set: &RouterSettings) -> GangRules {
    GangRules {
        most: files.panel.sticks.gang.unwrap_or(200),
        rail: router.rail,
        hold: router.hold_width,
        radius: 0.5 * set.diameter,
        fence_error_deg: router.fence_error_deg,
        fence_limit: LEAST_SLIP,
        travel: files.machine.room(),
        clamp: router.clamp_width,
    }
}

fn gang_stick(lattice: &Lattice, sticks: &StickPlan, c: usize, class: &StickClass) -> GangStick {
    let point = class.ends[0].angle_deg;
    let [begun, hidden_to] = first_ends(lattice, sticks, c);
    GangStick {
        id: class.id.clone(),
        face: class.face[1],
        depth: lattice.depth,
        length: class.length,
        point_deg: point.min(180.0 - point),
        notches: class.notches.clone(),
        kept: class.count,
        spares: class.spares,
        begun,
        hidden_to,
        back: back_edge(lattice, sticks, c),
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

fn tool_checks(
    files: &JobFiles,
    router: &Router,
    set: &RouterSettings,
    lattice: &Lattice,
    benches: &[Bench],
) -> Vec<Check> {
    let Some(cut) = &files.material.router else {
        return Vec::new();
    };
    let slots = benches.iter().flat_map(|b| &b.gangs).flat_map(|g| &g.slots);
    let floor = slots.map(|s| s.floor).fold(lattice.depth, f64::min);
    // The fence is milled through its batten.
    let floor = if benches.iter().any(|b| !b.gangs.is_empty()) {
        floor.min(-set.through())
    } else {
        floor
    };
    router_checks(
        &files.machine,
        router,
        cut,
        lattice.depth,
        lattice.depth - floor,
        None,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lattice::{ClassNotch, Edge, JointShape};

    /// A class of sticks with a clamping for each direction, in this order.
    fn bench(ways: &[f64]) -> Bench {
        let notch = |(k, &angle_deg): (usize, &f64)| ClassNotch {
            at: 60.0 + 40.0 * k as f64,
            edge: Edge::Front,
            angle_deg,
            width: 4.0,
            depth: 3.0 + k as f64,
            shape: JointShape::Skew,
            run: 4.0,
        };
        let stick = GangStick {
            id: "stick".into(),
            face: 4.0,
            depth: 12.0,
            length: 300.0,
            point_deg: 45.0,
            notches: ways.iter().enumerate().map(notch).collect(),
            kept: 3,
            spares: 0,
            begun: 0.0,
            hidden_to: 36.0,
            back: None,
        };
        let rules = GangRules {
            most: 10,
            rail: 12.0,
            hold: 12.0,
            radius: 1.5,
            fence_error_deg: 0.0,
            fence_limit: 0.03,
            travel: [600.0, 400.0],
            clamp: 150.0,
        };
        let gangs = gangs(&stick, &rules);
        let found: Vec<f64> = gangs.iter().map(|g| g.fence_deg).collect();
        assert_eq!(found, ways, "shallow slots first");
        Bench {
            stick,
            gangs,
            slots: Vec::new(),
            fences: Vec::new(),
            ids: Vec::new(),
        }
    }

    #[test]
    fn all_that_a_fence_serves_is_cut_before_another_is_milled() {
        // By hand: 45 for the first and third, 90 for the first, then 135 for all: three fences.
        let benches = [
            bench(&[45.0, 90.0, 135.0]),
            bench(&[135.0]),
            bench(&[45.0, 135.0]),
        ];
        let found = order(&benches);
        assert_eq!(found, [(0, 0), (2, 0), (0, 1), (0, 2), (1, 0), (2, 1)]);
    }

    #[test]
    fn every_clamping_comes_once_and_a_class_keeps_its_order() {
        let benches = [
            bench(&[60.0, 120.0, 90.0]),
            bench(&[120.0, 60.0]),
            bench(&[]),
            bench(&[90.0, 60.0, 120.0]),
        ];
        let found = order(&benches);
        for (b, bench) in benches.iter().enumerate() {
            let mine = found.iter().filter(|c| c.0 == b).map(|c| c.1);
            assert!(mine.eq(0..bench.gangs.len()), "{found:?}");
        }
    }
}
