//! Pieces on sticks of so many joints: as few sticks as can be found, and how many are proven needed.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use super::exact::exact;
use super::needs::Ends;
use super::pattern::Pattern;
use crate::geom::SAME_FIGURE;
use crate::lattice::Turn;
use crate::non_empty::NonEmpty;
use crate::stock::model::{Kind as Length, Model, Size};
use crate::stock::search::{quick, search};
use crate::table::{Column, Id, Table};

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
    /// The preferred one first.
    pub(super) ways: NonEmpty<Way>,
}

pub(super) type KindId = Id<Kind>;

/// A piece in a stick.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slot {
    pub(super) kind: KindId,
    pub(super) way: Way,
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
        (id, kind): (KindId, &Kind),
    ) -> Option<(Slot, End)> {
        let ways = kind.ways.iter();
        let ways = ways.filter_map(|way| self.lie(after, (id, kind), way));
        ways.min_by(|(a, (_, x)), (b, (_, y))| a.first.cmp(&b.first).then(x.total_cmp(y)))
    }

    /// A piece in a way of its own, as early as it can lie.
    fn lie(
        &self,
        after: Option<End>,
        (id, kind): (KindId, &Kind),
        way: &Way,
    ) -> Option<(Slot, End)> {
        let first = self.earliest(after, kind.joints, way)?;
        let slot = Slot {
            kind: id,
            way: *way,
            first,
        };
        Some((slot, (first + kind.joints - 1, way.ends.after)))
    }

    /// A piece in its first way, which the count of lost joints is for.
    fn lie_first(&self, after: Option<End>, (id, kind): (KindId, &Kind)) -> Option<(Slot, End)> {
        self.lie(after, (id, kind), kind.ways.first())
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

    pub(super) fn between(kinds: &Table<Kind>, pattern: &Pattern, saw_kerf: f64) -> Self {
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
                // Phases are places in the period.
                put(&mut before[way.phase], way.ends.before, i == 0);
                let end = pattern.phase((way.phase + kind.joints - 1) as i64);
                put(&mut past[end], way.ends.after, i == 0);
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

/// How many sticks are needed at least for so many pieces of each kind, by their joints alone.
pub(super) fn at_least(
    kinds: &Table<Kind>,
    left: &Column<Kind, u64>,
    lost: Lost,
    joints: usize,
) -> u64 {
    let room = joints as u128 + u128::from(lost.least);
    let of = |k: &Kind| k.joints as u128 + u128::from(lost.least);
    let sum: u128 = left
        .entries()
        .map(|(kind, n)| u128::from(*n) * of(&kinds[kind]))
        .sum();
    u64::try_from(sum.div_ceil(room.max(1))).unwrap_or(u64::MAX)
}

/// How many pieces there are of each kind.
pub(super) fn counts(kinds: &Table<Kind>) -> Column<Kind, u64> {
    kinds.column(|_, kind| kind.count)
}

/// Lays all pieces on sticks; `None` where some piece does not fit at all.
pub(super) fn pack(
    kinds: &Table<Kind>,
    blank: Blank<'_>,
    lost: Lost,
    effort: Effort,
) -> Option<Packing> {
    if !kinds
        .entries()
        .all(|kind| blank.append(None, kind).is_some())
    {
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
    let mut least = at_least(kinds, &counts(kinds), lost, blank.joints);
    let first = |kind| blank.lie_first(None, kind).map(|(slot, _)| slot.first);
    let shift = kinds.entries().map(first).collect::<Option<Vec<_>>>();
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

/// The pieces as lengths in joints, longest first, with for each length the kinds that have it. `None` where the
/// longest does not fit.
fn model(
    kinds: &Table<Kind>,
    joints: usize,
    lost: u64,
    shift: u64,
) -> Option<(Model, Column<Length, Vec<KindId>>)> {
    let mut by_length: BTreeMap<Reverse<usize>, (u64, Vec<KindId>)> = BTreeMap::new();
    for (id, kind) in kinds.entries() {
        let entry = by_length.entry(Reverse(kind.joints)).or_default();
        entry.0 += kind.count;
        entry.1.push(id);
    }
    let room = (joints as u64).checked_sub(shift)? + lost;
    let lengths = by_length.into_iter().map(|(joints, (count, of))| {
        let length = Length {
            size: joints.0 as u64 + lost,
            count,
        };
        (length, of)
    });
    let (kinds, of) = Table::with_column(lengths);
    let model = Model {
        kinds,
        sizes: vec![Size {
            room,
            rows: 1,
            count: None,
            area: 1,
        }]
        .into(),
    };
    let fits = model.kinds.rows().first().is_some_and(|k| k.size <= room);
    fits.then_some((model, of))
}

/// Puts the pieces of rows in their places; `None` where one finds none.
fn lay(
    kinds: &Table<Kind>,
    blank: Blank<'_>,
    of: &Column<Length, Vec<KindId>>,
    plan: &crate::stock::model::Plan,
) -> Option<Vec<Filled>> {
    let mut left = counts(kinds);
    let mut sticks = Vec::new();
    for row in &plan.rows {
        let mut times = row.times;
        while times > 0 {
            // As many pieces of the first kind of this length as are left, then of the next.
            let mut take: Vec<(KindId, u64)> = Vec::new();
            for &(length, n) in &row.take {
                let mut open = n;
                for &kind in &of[length] {
                    let n = open.min(left[kind]);
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
                    let (slot, after) = blank.lie_first(end, (kind, &kinds[kind]))?;
                    slots.push(slot);
                    end = Some(after);
                }
            }
            let again = take
                .iter()
                .map(|&(kind, n)| left[kind] / n)
                .min()?
                .clamp(1, times);
            for &(kind, n) in &take {
                left[kind] -= n * again;
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

/// One stick after another, longest pieces first.
fn greedy(kinds: &Table<Kind>, blank: Blank<'_>) -> Vec<Filled> {
    let mut order: Vec<KindId> = kinds.ids().collect();
    order.sort_by_key(|&kind| (Reverse(kinds[kind].joints), kind));
    let mut left = counts(kinds);
    let mut sticks = Vec::new();
    loop {
        let mut slots: Vec<Slot> = Vec::new();
        let mut take: Vec<(KindId, u64)> = Vec::new();
        let mut end = None;
        order.retain(|&kind| left[kind] > 0);
        for &kind in &order {
            let mut taken = 0;
            while taken < left[kind] {
                let Some((slot, after)) = blank.append(end, (kind, &kinds[kind])) else {
                    break;
                };
                slots.push(slot);
                end = Some(after);
                taken += 1;
            }
            if taken > 0 {
                take.push((kind, taken));
            }
        }
        let Some(times) = take.iter().map(|&(kind, n)| left[kind] / n).min() else {
            break;
        };
        for &(kind, n) in &take {
            left[kind] -= n * times;
        }
        sticks.push(Filled { slots, times });
    }
    sticks
}
