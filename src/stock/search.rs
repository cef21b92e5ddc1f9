//! The search for the fewest blanks: quick fills, then mixes of rows rounded in several ways, until the
//! plan meets the bound or the effort is used up. Effort is counted in steps, never in time, so the same
//! pieces on the same stock always give the same plan.

use super::bound::{Proof, judge, simple};
use super::columns::{Mix, Pattern, best_mix};
use super::fill::{best_fill, longest_first};
use super::model::{Model, Plan};

/// Steps for the quick fills.
const FILL_EFFORT: u64 = 4_000_000;
/// Steps for the mixes of rows.
const MIX_EFFORT: u64 = 40_000_000;
/// Beyond so many different lengths a mix of rows takes too long.
const MOST_LENGTHS: usize = 250;
/// How many ways of rounding are tried.
const DIVES: u64 = 12;

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
    let Some(size) = model.roomiest() else {
        return (plan, proof);
    };
    let mut effort = MIX_EFFORT;
    let mut pool: Vec<Pattern> = plan.rows.iter().map(|r| r.take.clone()).collect();
    let room = model.sizes.get(size).map_or(0, |s| s.room);
    pool.retain(|p| p.iter().map(|&(i, n)| model.kinds[i].size * n).sum::<u64>() <= room);
    let mix = best_mix(model, &start.left, room, &mut pool, &mut effort);
    let better = judge(model, mix.prices.clone(), u64::MAX);
    if better.beats(&proof) {
        proof = better;
    }
    for round in 0..DIVES {
        if done(&plan, &proof) || effort == 0 {
            break;
        }
        let dive = Dive {
            model,
            size,
            room,
            seed: round,
        };
        let found = dive.run(&mix, &mut pool, &plan, &mut effort);
        if found.cost(model) < plan.cost(model) {
            plan = found;
        }
    }
    (plan, proof)
}

/// One way of rounding: whole rows are kept, one fractional row is rounded up, the rest is mixed anew.
struct Dive<'a> {
    model: &'a Model,
    size: usize,
    room: u64,
    seed: u64,
}

impl Dive<'_> {
    fn run(&self, mix: &Mix, pool: &mut Vec<Pattern>, rival: &Plan, effort: &mut u64) -> Plan {
        let model = self.model;
        let mut plan = Plan::new(model);
        let mut best = plan.clone();
        let mut best_cost = (u64::MAX, 0, 0, 0);
        let mut mix = mix.clone();
        let mut noise = Noise(self.seed);
        loop {
            mix.rows
                .sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
            for (pattern, share) in &mix.rows {
                // A hair above keeps 2.999999999 from counting as 2.
                let whole = (share + 1e-6).floor() as u64;
                plan.add(model, self.size, pattern.clone(), whole);
            }
            // What the quick fills make of the rest.
            let filled = best_fill(model, &plan, effort);
            let cost = filled.cost(model);
            if cost < best_cost {
                (best, best_cost) = (filled, cost);
            }
            let part = |share: f64| (share + 1e-6).fract();
            let weigh = |share: f64, noise: &mut Noise| {
                if self.seed == 0 {
                    part(share)
                } else {
                    part(share) + 0.6 * noise.next()
                }
            };
            let up = mix
                .rows
                .iter()
                .map(|(pattern, share)| (weigh(*share, &mut noise), pattern))
                .max_by(|a, b| a.0.total_cmp(&b.0));
            let Some((_, pattern)) = up else { break };
            let row = self.topped_up(pattern, &plan.left);
            if plan.add(model, self.size, row, 1) == 0 || plan.missing() == 0 || *effort == 0 {
                break;
            }
            mix = best_mix(model, &plan.left, self.room, pool, effort);
            // Rows on one size of blank alone: no better than the rival means no use going on.
            let rows = plan.rows_of(self.size) as f64 + (mix.total - 1e-6).ceil();
            let side_by_side = model.sizes.get(self.size).map_or(1, |s| s.rows);
            if rival.missing() == 0
                && rows > (rival.used(model).saturating_sub(1) * side_by_side) as f64
            {
                break;
            }
        }
        best
    }

    /// What is left of a row's pieces, with the room filled up longest first.
    fn topped_up(&self, pattern: &Pattern, left: &[u64]) -> Pattern {
        let mut left = left.to_vec();
        let mut room = self.room;
        let mut row = vec![0; left.len()];
        let mut take = |i: usize, n: u64, left: &mut Vec<u64>| {
            row[i] += n;
            left[i] -= n;
            room -= n * self.model.kinds[i].size;
            room
        };
        let mut free = self.room;
        for &(i, n) in pattern {
            free = take(i, n.min(left[i]), &mut left);
        }
        for (i, n) in longest_first(self.model, &left, free) {
            take(i, n, &mut left);
        }
        row.into_iter().enumerate().filter(|t| t.1 > 0).collect()
    }
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
