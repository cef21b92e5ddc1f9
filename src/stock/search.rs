//! The search for the fewest blanks: quick fills, then mixes of rows rounded in several ways, until the
//! plan meets the bound or the effort is used up. Effort is counted in steps, never in time, so the same
//! pieces on the same stock always give the same plan.

use super::bound::{Proof, judge, simple};
use super::columns::{Mix, Pattern, best_mix};
use super::fill::{best_fill, longest_first};
use super::model::{Kind, Model, Plan, Take};
use crate::table::Column;

/// Steps for the quick fills.
const FILL_EFFORT: u64 = 12_000_000;
/// Steps for the quick fills where many are compared.
const QUICK_EFFORT: u64 = 200_000;
/// Steps for the mixes of rows.
const MIX_EFFORT: u64 = 40_000_000;
/// Beyond so many different lengths a mix of rows takes too long.
const MOST_LENGTHS: usize = 250;
/// A share this little below a whole row is round-off.
const HAIR: f64 = 1e-6;
/// Most ways of rounding that are tried.
const DIVES: u64 = 200;

/// A plan by the quick fills alone, and what plain prices prove.
pub(super) fn quick(model: &Model) -> (Plan, Proof) {
    let plan = best_fill(model, &Plan::new(model), &mut QUICK_EFFORT.clone());
    (plan, simple(model))
}

/// Finds a plan and what proves it good.
pub(super) fn search(model: &Model) -> (Plan, Proof) {
    let start = Plan::new(model);
    let mut plan = best_fill(model, &start, &mut FILL_EFFORT.clone());
    let mut proof = simple(model);
    let done = |plan: &Plan, proof: &Proof| {
        proof
            .least
            .is_none_or(|n| plan.missing() == 0 && plan.used(model) <= n)
    };
    if done(&plan, &proof) || model.kinds.len() > MOST_LENGTHS {
        return (plan, proof);
    }
    let mut effort = MIX_EFFORT;
    let begun = plan.rows.iter().map(|r| Pattern {
        size: r.size,
        take: r.take.clone(),
    });
    let mut pool: Vec<Pattern> = begun.collect();
    let mix = best_mix(model, &start, &mut pool, &mut effort);
    let better = judge(model, mix.prices.clone(), u64::MAX);
    if better.beats(&proof) {
        proof = better;
    }
    for round in 0..DIVES {
        if done(&plan, &proof) || effort == 0 {
            break;
        }
        let found = dive(model, round, &mix, &mut pool, &plan, &mut effort);
        if found.cost(model) < plan.cost(model) {
            plan = found;
        }
    }
    (plan, proof)
}

/// One way of rounding: whole rows are kept, one fractional row is rounded up, the rest is mixed anew.
/// Seed 0 rounds up the row that is nearest to a whole one, other seeds draw lots as well.
fn dive(
    model: &Model,
    seed: u64,
    mix: &Mix,
    pool: &mut Vec<Pattern>,
    rival: &Plan,
    effort: &mut u64,
) -> Plan {
    let mut plan = Plan::new(model);
    let mut best = plan.clone();
    let mut best_cost = best.cost(model);
    let mut mix = mix.clone();
    let mut noise = Noise(seed);
    loop {
        mix.rows
            .sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        for (pattern, share) in &mix.rows {
            let whole = (share + HAIR).floor() as u64;
            plan.add(model, pattern.size, pattern.take.clone(), whole);
        }
        // What the quick fills make of the rest.
        let filled = best_fill(model, &plan, effort);
        let cost = filled.cost(model);
        if cost < best_cost {
            (best, best_cost) = (filled, cost);
        }
        let mut weigh = |share: f64| {
            let part = (share + HAIR).fract();
            if seed == 0 {
                part
            } else {
                part + 0.6 * noise.next()
            }
        };
        let weighed = mix
            .rows
            .iter()
            .map(|(pattern, share)| (weigh(*share), pattern));
        let Some((_, up)) = weighed.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            break;
        };
        let row = topped_up(model, up, &plan.left);
        if plan.add(model, up.size, row, 1) == 0 || plan.missing() == 0 || *effort == 0 {
            break;
        }
        mix = best_mix(model, &plan, pool, effort);
        if rival.missing() == 0 {
            let sizes = model.sizes.entries();
            let taken: f64 = sizes
                .map(|(id, s)| plan.rows_of(id) as f64 / s.rows as f64)
                .sum();
            // No better than the rival: no use going on.
            if taken + mix.total - HAIR > rival.used(model).saturating_sub(1) as f64 {
                break;
            }
        }
    }
    best
}

/// What is left of a row's pieces, with the room filled up longest first.
fn topped_up(model: &Model, pattern: &Pattern, left: &Column<Kind, u64>) -> Take {
    let mut left = left.clone();
    let mut row = model.kinds.column(|_, _| 0);
    let mut room = model.sizes[pattern.size].room;
    for &(i, n) in &pattern.take {
        row[i] = n.min(left[i]);
        left[i] -= row[i];
        room -= row[i] * model.kinds[i].size;
    }
    for (i, n) in longest_first(model, &left, room) {
        row[i] += n;
    }
    let taken = row.entries().filter(|(_, n)| **n > 0);
    taken.map(|(id, n)| (id, *n)).collect()
}

/// Repeatable noise between 0 and 1: a linear congruential generator with Knuth's MMIX numbers.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}
