//! Pieces on sticks of so many joints: as few sticks as can be found, and how many are proven needed.

use super::exact::exact;
use super::needs::Ends;
use super::pattern::Pattern;
use crate::geom::SAME_FIGURE;
use crate::lattice::Turn;
use crate::stock::model::{Kind as Length, Model, Size};
use crate::stock::search::{quick, search};

/// Slack for sums of lengths that should be equal, mm.
pub(super) const ROUND_OFF: f64 = 1e-9;

/// One way for a piece to lie in a stick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Way {
    /// Which joint of the pattern's period its first joint is.
    pub(super) phase: usize,
    /// How it is turned.
    pub(super) turn: Turn,
    /// What it takes before its first and past its last joint.
    pub(super) ends: Ends,
}

impl Way {
    /// Whether a piece takes the same room, at the same joints of the pattern.
    pub(super) fn lies_like(&self, other: &Self) -> bool {
        self.phase == other.phase
            && (self.ends.before - other.ends.before).abs() <= 2.0 * SAME_FIGURE
            && (self.ends.after - other.ends.after).abs() <= 2.0 * SAME_FIGURE
    }
}

/// Pieces that are alike to the packing.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Kind {
    pub(super) joints: usize,
    pub(super) count: u64,
    /// At least one; the preferred first.
    pub(super) ways: Vec<Way>,
}

/// A piece in a stick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slot {
    pub(super) kind: usize,
    pub(super) way: usize,
    /// Its first joint on the stick, from 0.
    pub(super) first: usize,
}

/// Sticks that hold the same kinds of pieces.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Filled {
    pub(super) slots: Vec<Slot>,
    pub(super) times: u64,
}

/// Sticks that hold all pieces.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Packing {
    pub(super) sticks: Vec<Filled>,
    /// How many sticks.
    pub(super) used: u64,
    /// No fewer will do.
    pub(super) least: u64,
}

/// A stick of so many joints, empty.
#[derive(Debug, Clone, Copy)]
pub(super) struct Blank<'a> {
    pub(super) pattern: &'a Pattern,
    pub(super) saw_kerf: f64,
    /// How many joints it has.
    pub(super) joints: usize,
    /// Which joint of the period its first one is.
    pub(super) phase: usize,
}

/// Where the last piece so far ends: its last joint, and what it takes past it.
pub(super) type End = (usize, f64);

impl Blank<'_> {
    fn place(&self, joint: usize) -> f64 {
        self.pattern.place((self.phase + joint) as i64)
    }

    /// The earliest joint at which a piece can begin after what lies there already. A stick's own lead
    /// and tail are enough for every way.
    pub(super) fn earliest(&self, after: Option<End>, joints: usize, way: &Way) -> Option<usize> {
        let (from, need) = match after {
            None => (0, f64::NEG_INFINITY),
            Some((last, after)) => {
                let need = after + self.saw_kerf + way.ends.before;
                (last + 1, self.place(last) + need - ROUND_OFF)
            }
        };
        let latest = self.joints.checked_sub(joints)?;
        (from..=latest).find(|&s| {
            self.pattern.phase((self.phase + s) as i64) == way.phase && self.place(s) >= need
        })
    }

    /// The way that lets a piece end soonest, of equals with the least wood past it.
    pub(super) fn append(
        &self,
        after: Option<End>,
        index: usize,
        kind: &Kind,
    ) -> Option<(Slot, End)> {
        let ways = kind.ways.iter().enumerate().filter_map(|(way, w)| {
            let first = self.earliest(after, kind.joints, w)?;
            let slot = Slot {
                kind: index,
                way,
                first,
            };
            Some((slot, (first + kind.joints - 1, w.ends.after)))
        });
        ways.min_by(|(a, (_, x)), (b, (_, y))| a.first.cmp(&b.first).then(x.total_cmp(y)))
    }
}

/// Joints lost between neighbours: the fewest that any two lose, and the most that two in their first
/// ways lose; and joints lost before a first piece in its first way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lost {
    pub(super) least: u64,
    most: u64,
}

impl Lost {
    /// The most.
    pub(super) fn most(self) -> u64 {
        self.most
    }

    pub(super) fn between(kinds: &[Kind], pattern: &Pattern, saw_kerf: f64) -> Self {
        let n = pattern.len();
        // For each joint of the period: the least and greatest wood past pieces that end there, and
        // before pieces that begin there.
        let mut past = vec![[f64::INFINITY, f64::NEG_INFINITY]; n];
        let mut before = past.clone();
        let put = |to: &mut [f64; 2], v: f64, first: bool| {
            to[0] = to[0].min(v);
            if first {
                to[1] = to[1].max(v);
            }
        };
        for kind in kinds {
            for (i, way) in kind.ways.iter().enumerate() {
                if let Some(to) = before.get_mut(way.phase) {
                    put(to, way.ends.before, i == 0);
                }
                let end = pattern.phase((way.phase + kind.joints - 1) as i64);
                if let Some(to) = past.get_mut(end) {
                    put(to, way.ends.after, i == 0);
                }
            }
        }
        let lost = |end: usize, begin: usize, wood: f64| -> Option<u64> {
            if !wood.is_finite() {
                return None;
            }
            let zero = pattern.place(end as i64);
            (0..u64::MAX).find(|m| {
                let next = end as i64 + *m as i64 + 1;
                pattern.phase(next) == begin && pattern.place(next) - zero >= wood - ROUND_OFF
            })
        };
        let (mut least, mut most) = (u64::MAX, 0);
        for (e, a) in past.iter().enumerate() {
            for (b, c) in before.iter().enumerate() {
                if let Some(m) = lost(e, b, a[0] + saw_kerf + c[0]) {
                    least = least.min(m);
                }
                if let Some(m) = lost(e, b, a[1] + saw_kerf + c[1]) {
                    most = most.max(m);
                }
            }
        }
        Self {
            least: least.min(most),
            most,
        }
    }
}

/// How hard to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Effort {
    /// Fill one stick after another.
    Quick,
    /// Until the count is proven, or the steps are used up.
    Full,
}

/// How many sticks are needed at least, by their joints alone.
pub(super) fn at_least(kinds: &[Kind], lost: Lost, joints: usize) -> u64 {
    let room = joints as u128 + u128::from(lost.least);
    let sum: u128 = kinds
        .iter()
        .map(|k| u128::from(k.count) * (k.joints as u128 + u128::from(lost.least)))
        .sum();
    u64::try_from(sum.div_ceil(room.max(1))).unwrap_or(u64::MAX)
}

/// Lays all pieces on sticks; `None` where some piece does not fit at all.
pub(super) fn pack(
    kinds: &[Kind],
    blank: Blank<'_>,
    lost: Lost,
    effort: Effort,
) -> Option<Packing> {
    let fits = |(i, k): (usize, &Kind)| blank.append(None, i, k).is_some();
    if !kinds.iter().enumerate().all(fits) {
        return None;
    }
    // Each piece with the joints lost past it; the last stick's loss lies past the end.
    let looked = |lost: u64, shift: u64| {
        let model = model(kinds, blank.joints, lost, shift)?;
        let found = match effort {
            Effort::Quick => quick(&model.0),
            Effort::Full => search(&model.0),
        };
        Some((model.1, found))
    };
    let mut best = greedy(kinds, blank);
    let mut least = at_least(kinds, lost, blank.joints);
    let first = |k: &Kind| {
        let one = Kind {
            ways: k.ways.iter().take(1).copied().collect(),
            ..k.clone()
        };
        blank.append(None, 0, &one).map(|(slot, _)| slot.first)
    };
    let shift = kinds.iter().map(first).collect::<Option<Vec<_>>>();
    let shift = shift.and_then(|s| s.into_iter().max());
    if let Some((of, (plan, proof))) = looked(lost.least, 0) {
        least = least.max(proof.least.unwrap_or(0));
        let alike = lost.least == lost.most && shift == Some(0);
        let other = (!alike).then(|| looked(lost.most, shift? as u64)).flatten();
        let (of, plan) = match other {
            Some((of, (plan, _))) => (of, plan),
            None => (of, plan),
        };
        if plan.missing() == 0
            && let Some(laid) = lay(kinds, blank, &of, &plan)
            && used(&laid) < used(&best)
        {
            best = laid;
        }
    }
    if effort == Effort::Full
        && used(&best) > least
        && let Some((found, proven)) = exact(kinds, blank, lost, least, used(&best))
    {
        least = least.max(proven);
        if let Some(found) = found {
            best = found;
        }
    }
    let used = used(&best);
    Some(Packing {
        sticks: best,
        used,
        least: least.min(used),
    })
}

pub(super) fn used(sticks: &[Filled]) -> u64 {
    sticks.iter().map(|s| s.times).sum()
}

/// The pieces as lengths in joints, longest first, with for each length the kinds that have it.
fn model(kinds: &[Kind], joints: usize, lost: u64, shift: u64) -> Option<(Model, Vec<Vec<usize>>)> {
    let mut by_length: std::collections::BTreeMap<std::cmp::Reverse<usize>, (u64, Vec<usize>)> =
        Default::default();
    for (i, kind) in kinds.iter().enumerate() {
        let entry = by_length.entry(std::cmp::Reverse(kind.joints)).or_default();
        entry.0 += kind.count;
        entry.1.push(i);
    }
    let room = (joints as u64).checked_sub(shift)? + lost;
    let size = |joints: usize| joints as u64 + lost;
    let kinds = by_length.iter().map(|(joints, (count, _))| Length {
        size: size(joints.0),
        count: *count,
    });
    let model = Model {
        kinds: kinds.collect(),
        sizes: vec![Size {
            room,
            rows: 1,
            count: None,
            area: 1,
        }]
        .into(),
    };
    let fits = model.kinds.rows().first().is_some_and(|k| k.size <= room);
    fits.then(|| (model, by_length.into_values().map(|(_, of)| of).collect()))
}

/// Puts the pieces of rows in their places; `None` where one finds none.
fn lay(
    kinds: &[Kind],
    blank: Blank<'_>,
    of: &[Vec<usize>],
    plan: &crate::stock::model::Plan,
) -> Option<Vec<Filled>> {
    let mut left: Vec<u64> = kinds.iter().map(|k| k.count).collect();
    let mut sticks = Vec::new();
    for row in &plan.rows {
        let mut times = row.times;
        while times > 0 {
            // As many pieces of the first kind of this length as are left, then of the next.
            let mut take: Vec<(usize, u64)> = Vec::new();
            for &(length, n) in &row.take {
                let mut open = n;
                for &kind in of.get(length.index())? {
                    let n = open.min(*left.get(kind)?);
                    if n > 0 {
                        take.push((kind, n));
                        open -= n;
                    }
                }
                if open > 0 {
                    return None;
                }
            }
            let mut slots = Vec::new();
            let mut end = None;
            for &(kind, n) in &take {
                for _ in 0..n {
                    let (slot, after) = first_way(blank, end, kind, kinds.get(kind)?)?;
                    slots.push(slot);
                    end = Some(after);
                }
            }
            let again = take
                .iter()
                .filter_map(|&(kind, n)| Some(left.get(kind)? / n))
                .min()?
                .clamp(1, times);
            for &(kind, n) in &take {
                *left.get_mut(kind)? -= n * again;
            }
            times -= again;
            sticks.push(Filled {
                slots,
                times: again,
            });
        }
    }
    Some(sticks)
}

/// A piece in its first way, which the count of lost joints is for; in any other where it fits sooner.
fn first_way(blank: Blank<'_>, end: Option<End>, index: usize, kind: &Kind) -> Option<(Slot, End)> {
    let way = kind.ways.first()?;
    let first = blank.earliest(end, kind.joints, way)?;
    let slot = Slot {
        kind: index,
        way: 0,
        first,
    };
    Some((slot, (first + kind.joints - 1, way.ends.after)))
}

/// One stick after another, longest pieces first.
fn greedy(kinds: &[Kind], blank: Blank<'_>) -> Vec<Filled> {
    let mut order: Vec<usize> = (0..kinds.len()).collect();
    order.sort_by_key(|&i| (std::cmp::Reverse(kinds.get(i).map_or(0, |k| k.joints)), i));
    let mut left: Vec<u64> = kinds.iter().map(|k| k.count).collect();
    let mut sticks = Vec::new();
    loop {
        let mut slots: Vec<Slot> = Vec::new();
        let mut take: Vec<(usize, u64)> = Vec::new();
        let mut end = None;
        order.retain(|&i| left.get(i).is_some_and(|n| *n > 0));
        for &i in &order {
            let (Some(kind), Some(&n)) = (kinds.get(i), left.get(i)) else {
                continue;
            };
            let mut taken = 0;
            while taken < n {
                let Some((slot, after)) = blank.append(end, i, kind) else {
                    break;
                };
                slots.push(slot);
                end = Some(after);
                taken += 1;
            }
            if taken > 0 {
                take.push((i, taken));
            }
        }
        let fewest = take
            .iter()
            .filter_map(|&(i, n)| Some(left.get(i)? / n))
            .min();
        let Some(times) = fewest else {
            break;
        };
        for &(i, n) in &take {
            if let Some(left) = left.get_mut(i) {
                *left -= n * times;
            }
        }
        sticks.push(Filled { slots, times });
    }
    sticks
}
