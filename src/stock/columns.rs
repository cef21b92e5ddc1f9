//! Column generation (Gilmore & Gomory 1961): the best mix of rows, were parts of a row allowed.
//!
//! Floating-point numbers only suggest here. The prices that come out are whole numbers, and what they
//! prove is worked out again in whole numbers ([`super::bound`]); the rows that come out are counted in
//! whole pieces.

use super::knapsack::{MOST, best_row};
use super::model::Model;

/// (index of the length, how many) of one row.
pub(super) type Pattern = Vec<(usize, u64)>;

/// The best mix of rows for some pieces.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Mix {
    /// Rows and how many of each, a real number above 0.
    pub rows: Vec<(Pattern, f64)>,
    /// How many rows in all.
    pub total: f64,
    /// Price of each length, in [`ROW_PRICE`]ths of a row.
    pub prices: Vec<u64>,
}

/// What a row is worth in whole-number prices.
const ROW_PRICE: u64 = MOST / 2;
/// A row must be worth this much more than a row to come in.
const GAIN: f64 = 1e-7;
/// Smallest number that is not round-off in the tableau.
const PIVOT: f64 = 1e-9;
/// Steps that pricing one row may take.
const ROW_EFFORT: u64 = 100_000;

/// Rows of one room as a linear programme: the revised simplex method with an explicit inverse.
struct Tableau {
    /// The lengths in play: index into the model.
    active: Vec<usize>,
    /// The basic columns: the row, or none for pieces too many of one length.
    basis: Vec<Option<Pattern>>,
    /// Inverse of the basis, one line after another.
    inverse: Vec<f64>,
    /// Values of the basic columns.
    value: Vec<f64>,
}

impl Tableau {
    /// Starts with rows of one length each.
    fn new(model: &Model, left: &[u64], room: u64) -> Self {
        let mut t = Self {
            active: Vec::new(),
            basis: Vec::new(),
            inverse: Vec::new(),
            value: Vec::new(),
        };
        let mut most = Vec::new();
        for (i, (kind, &count)) in model.kinds.iter().zip(left).enumerate() {
            let n = count.min(room / kind.size);
            if n > 0 {
                t.active.push(i);
                t.basis.push(Some(vec![(i, n)]));
                t.value.push(count as f64 / n as f64);
                most.push(n);
            }
        }
        let m = most.len();
        t.inverse = vec![0.0; m * m];
        for (k, &n) in most.iter().enumerate() {
            t.inverse[k * m + k] = 1.0 / n as f64;
        }
        t
    }

    /// Dual values: what one more piece of each active length would cost, in rows.
    fn duals(&self) -> Vec<f64> {
        let m = self.active.len();
        let mut duals = vec![0.0; m];
        for (line, column) in self.inverse.chunks_exact(m.max(1)).zip(&self.basis) {
            if column.is_some() {
                duals.iter_mut().zip(line).for_each(|(d, v)| *d += v);
            }
        }
        duals
    }

    /// Brings in a column, given as (place among the active lengths, how many). Whether it did.
    fn bring_in(&mut self, column: Option<Pattern>, entries: &[(usize, f64)]) -> bool {
        let m = self.active.len();
        let direction: Vec<f64> = self
            .inverse
            .chunks_exact(m.max(1))
            .map(|line| entries.iter().map(|&(k, n)| line[k] * n).sum())
            .collect();
        // The column that runs out first leaves; of equals the one with the greatest pivot.
        let mut leaves: Option<(f64, f64, usize)> = None;
        for (k, (&d, &v)) in direction.iter().zip(&self.value).enumerate() {
            if d > PIVOT {
                let ratio = v.max(0.0) / d;
                let better = leaves.is_none_or(|(r, pivot, _)| {
                    ratio < r - PIVOT || (ratio < r + PIVOT && d > pivot)
                });
                if better {
                    leaves = Some((ratio, d, k));
                }
            }
        }
        let Some((ratio, pivot, out)) = leaves else {
            return false;
        };
        let scaled: Vec<f64> = self.inverse[out * m..(out + 1) * m]
            .iter()
            .map(|v| v / pivot)
            .collect();
        for (k, &d) in direction.iter().enumerate() {
            if k != out && d != 0.0 {
                self.value[k] -= ratio * d;
                let line = &mut self.inverse[k * m..(k + 1) * m];
                line.iter_mut().zip(&scaled).for_each(|(v, s)| *v -= d * s);
            }
        }
        self.inverse[out * m..(out + 1) * m].copy_from_slice(&scaled);
        self.value[out] = ratio;
        self.basis[out] = column;
        true
    }
}

/// Solves the mix of rows of `room` for the pieces in `left`. `pool` holds rows that are worth trying
/// before a new one is searched for, and takes up the new ones. Ends early when `effort` is used up or
/// when the prices already prove the total rounded up.
pub(super) fn best_mix(
    model: &Model,
    left: &[u64],
    room: u64,
    pool: &mut Vec<Pattern>,
    effort: &mut u64,
) -> Mix {
    let mut t = Tableau::new(model, left, room);
    let m = t.active.len();
    let mut place = vec![usize::MAX; model.kinds.len()];
    for (k, &i) in t.active.iter().enumerate() {
        place[i] = k;
    }
    let mut best_prices = vec![0; model.kinds.len()];
    let mut best_bound = 0.0;
    let pivot_effort = (m * m) as u64 / 4 + 1;
    while *effort > 0 {
        *effort = effort.saturating_sub(pivot_effort + pool.len() as u64);
        let duals = t.duals();
        // A length with a price below nought: too many of it cost nothing.
        let least = (0..m).min_by(|&a, &b| duals[a].total_cmp(&duals[b]));
        if let Some(k) = least.filter(|&k| duals[k] < -PIVOT) {
            if !t.bring_in(None, &[(k, -1.0)]) {
                break;
            }
            continue;
        }
        let mut prices = vec![0; model.kinds.len()];
        for (&i, &d) in t.active.iter().zip(&duals) {
            // Rounded down, so that a true row's worth is never overstated by much.
            prices[i] = ((d.max(0.0) * ROW_PRICE as f64) as u64).min(MOST);
        }
        let fits = |p: &Pattern| p.iter().all(|&(i, n)| n <= left[i]);
        let worth = |p: &Pattern| p.iter().map(|&(i, n)| n * prices[i]).sum::<u64>();
        let enough = (ROW_PRICE as f64 * (1.0 + GAIN)) as u64;
        let known = pool.iter().filter(|p| fits(p)).max_by_key(|p| worth(p));
        let pattern = if let Some(p) = known.filter(|p| worth(p) > enough) {
            p.clone()
        } else {
            let mut allowed = ROW_EFFORT.min(*effort);
            let before = allowed;
            let row = best_row(&model.goods(left, &prices), room, &mut allowed);
            *effort -= before - allowed;
            let total: f64 = left
                .iter()
                .zip(&prices)
                .map(|(&n, &p)| n as f64 * p as f64)
                .sum();
            let bound = total / row.ceiling.max(1) as f64;
            if bound > best_bound {
                best_bound = bound;
                best_prices.clone_from(&prices);
            }
            let so_far: f64 = t
                .value
                .iter()
                .zip(&t.basis)
                .filter(|b| b.1.is_some())
                .map(|b| b.0)
                .sum();
            if row.value <= enough || (best_bound - GAIN).ceil() >= (so_far - GAIN).ceil() {
                break;
            }
            pool.push(row.take.clone());
            row.take
        };
        let entries: Vec<(usize, f64)> =
            pattern.iter().map(|&(i, n)| (place[i], n as f64)).collect();
        if !t.bring_in(Some(pattern), &entries) {
            break;
        }
    }
    let rows: Vec<(Pattern, f64)> = t
        .basis
        .into_iter()
        .zip(t.value)
        .filter_map(|(p, v)| p.filter(|_| v > PIVOT).map(|p| (p, v)))
        .collect();
    let total = rows.iter().map(|r| r.1).sum();
    Mix {
        rows,
        total,
        prices: best_prices,
    }
}
