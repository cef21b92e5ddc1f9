//! The choice of sticks against a search that tries everything, and the sticks of odd panels against
//! what a maker would lay out by hand.

use std::collections::BTreeMap;

use super::choose::Task;
use super::group::SQUARE;
use super::needs::Ends;
use super::pack::{Kind, Way};
use super::pattern::{Notch, Pattern, PatternJoint};
use super::{Stick, StickClass, StickId, StickPlan};
use crate::lattice::{Edge, Turn};
use crate::non_empty::NonEmpty;
use crate::table::Table;

/// Ids of so many sticks that have nothing to them.
pub(crate) fn some_sticks(count: u32) -> Vec<StickId> {
    let mut plan = StickPlan::default();
    let class = plan.classes.push(StickClass {
        id: String::new(),
        families: Vec::new(),
        face: [0.0; 2],
        joints: 0,
        length: 0.0,
        lead: 0.0,
        tail: 0.0,
        ends: [SQUARE; 2],
        notches: Vec::new(),
        node_of: Vec::new(),
        joint_at: Vec::new(),
        count,
        spares: 0,
        regular: false,
        optimal: false,
    });
    let stick = |_| {
        plan.sticks.push(Stick {
            id: String::new(),
            class,
            pieces: Vec::new(),
            count: 1,
            spares: 0,
        })
    };
    (0..count).map(stick).collect()
}

/// Repeatable noise: a linear congruential generator with Knuth's MMIX numbers.
struct Noise(u64);

impl Noise {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }

    fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len() as u64) as usize]
    }
}

fn pattern(gaps: &[f64]) -> Pattern {
    let mut sum = 0.0;
    let joints = gaps.iter().enumerate().map(|(i, gap)| {
        let at = sum;
        sum += gap;
        let notch = Notch {
            off: 0.0,
            edge: Edge::Front,
            angle_deg: 60.0,
            width: 4.0,
            depth: 2.0 + i as f64,
        };
        PatternJoint {
            at,
            notches: vec![notch],
        }
    });
    Pattern {
        joints: NonEmpty::of(joints).expect("a gap"),
        period: sum,
    }
}

/// The fewest sticks of `joints` joints from `phase` on that hold all pieces, by trying every piece in
/// every way at every joint; `None` where it cannot be.
fn fewest(task: &Task<'_>, joints: usize, phase: usize) -> Option<u64> {
    let left: Vec<u64> = task.kinds.iter().map(|k| k.count).collect();
    let mut known = BTreeMap::new();
    go(task, joints, phase, left, None, &mut known).map(|n| n + 1)
}

type State = (Vec<u64>, Option<(usize, u64)>);

/// Sticks to be opened yet, the open one ending at joint `end.0` with `end.1` of wood to keep past it.
fn go(
    task: &Task<'_>,
    joints: usize,
    phase: usize,
    left: Vec<u64>,
    end: Option<(usize, f64)>,
    known: &mut BTreeMap<State, Option<u64>>,
) -> Option<u64> {
    if left.iter().all(|n| *n == 0) {
        return Some(0);
    }
    let state = (left.clone(), end.map(|(j, wood)| (j, wood.to_bits())));
    if let Some(found) = known.get(&state) {
        return *found;
    }
    let p = task.pattern.len();
    let place = |j: usize| {
        let j = phase + j;
        (j / p) as f64 * task.pattern.period + task.pattern.joints[j % p].at
    };
    let mut best: Option<u64> = None;
    let mut keep = |found: Option<u64>| {
        best = match (best, found) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
    };
    for (k, kind) in task.kinds.iter().enumerate() {
        if left[k] == 0 {
            continue;
        }
        for way in &kind.ways {
            for first in 0..joints {
                let last = first + kind.joints - 1;
                let room = match end {
                    None => task.lead + place(first) - place(0) >= way.ends.before - 1e-7,
                    Some((e, wood)) => {
                        first > e
                            && place(first) - place(e)
                                >= wood + task.saw_kerf + way.ends.before - 1e-7
                    }
                };
                if last < joints
                    && room
                    && (phase + first) % p == way.phase
                    && place(joints - 1) - place(last) + task.tail >= way.ends.after - 1e-7
                {
                    let mut after = left.clone();
                    after[k] -= 1;
                    keep(go(
                        task,
                        joints,
                        phase,
                        after,
                        Some((last, way.ends.after)),
                        known,
                    ));
                }
            }
        }
    }
    if end.is_some() {
        let fresh = go(task, joints, phase, left, None, known);
        keep(fresh.map(|n| n + 1));
    }
    known.insert(state, best);
    best
}

/// A task with lead and tail as the pieces ask for them.
fn random_kinds(noise: &mut Noise, period: usize) -> (Table<Kind>, f64, f64) {
    let leads: &[f64] = noise.pick(&[&[40.0][..], &[25.0, 40.0], &[12.0, 26.5, 47.0]]);
    let tails: &[f64] = noise.pick(&[&[25.0][..], &[25.0, 33.0], &[9.0, 30.0]]);
    let mut kinds = Table::new();
    for _ in 0..=noise.below(3) {
        let mut ways = Vec::new();
        for turn in [Turn::None, Turn::End] {
            if ways.is_empty() || noise.below(2) == 0 {
                ways.push(Way {
                    phase: noise.below(period as u64) as usize,
                    turn,
                    ends: Ends {
                        before: noise.pick(leads),
                        after: noise.pick(tails),
                    },
                });
            }
        }
        kinds.push(Kind {
            joints: 1 + noise.below(5) as usize,
            count: 1 + noise.below(3),
            ways: NonEmpty::of(ways).expect("a way"),
        });
    }
    let ends = |of: fn(&Ends) -> f64| {
        let all = kinds.iter().flat_map(|k| &k.ways).map(move |w| of(&w.ends));
        all.fold(0.0, f64::max)
    };
    let (lead, tail) = (ends(|e| e.before), ends(|e| e.after));
    (kinds, lead, tail)
}

#[test]
fn no_search_finds_less_milled_length() {
    let mut noise = Noise(7);
    let (mut fitting, mut refused, mut of_more) = (0, 0, 0);
    for round in 0..400 {
        let gaps = noise.pick(&[
            &[65.0][..],
            &[21.5],
            &[30.0, 30.0],
            &[18.4, 41.6],
            &[20.0, 35.0, 28.5],
        ]);
        let pattern = pattern(gaps);
        let (kinds, lead, tail) = random_kinds(&mut noise, gaps.len());
        let pitch = pattern.period / gaps.len() as f64;
        let limit = lead + tail + pitch * (3.0 + noise.below(9) as f64) + 0.5;
        let task = Task {
            pattern: &pattern,
            kinds: &kinds,
            saw_kerf: 1.5,
            lead,
            tail,
            limit,
        };
        let mut best: Option<(f64, u64)> = None;
        for joints in 1..=40 {
            for phase in 0..gaps.len() {
                let span: f64 = (0..joints - 1)
                    .map(|j| gaps[(phase + j) % gaps.len()])
                    .sum();
                let length = lead + span + tail;
                if length > limit {
                    continue;
                }
                if let Some(n) = fewest(&task, joints, phase) {
                    let total = (n as f64 * length, n);
                    let better = best.is_none_or(|b| {
                        total.0 < b.0 - 1e-6 || (total.0 < b.0 + 1e-6 && total.1 < b.1)
                    });
                    if better {
                        best = Some(total);
                    }
                }
            }
        }
        let found = task.choose();
        match (best, found) {
            (None, None) => refused += 1,
            (Some((total, sticks)), Some(choice)) => {
                fitting += 1;
                of_more += usize::from(sticks > 2);
                let length = task.length(choice.joints, choice.phase);
                let got = (choice.packing.used as f64 * length, choice.packing.used);
                assert!(
                    (got.0 - total).abs() < 1e-6 && got.1 == sticks,
                    "round {round}: {got:?} in place of {:?}: {task:#?}",
                    (total, sticks)
                );
                assert!(choice.optimal, "round {round}: not seen to be the least");
            }
            (best, found) => panic!("round {round}: {best:?} but {found:?}"),
        }
    }
    assert!(
        fitting > 200 && refused > 10 && of_more > 50,
        "{fitting} {refused} {of_more}"
    );
}
