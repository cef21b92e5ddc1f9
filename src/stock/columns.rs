//! Column generation (Gilmore & Gomory 1961): the best mix of rows, were parts of a row allowed.
//!
//! Floating-point numbers only suggest here. The prices that come out are whole numbers, and what they
//! prove is worked out again in whole numbers ([`super::bound`]); the rows that come out are counted in
//! whole pieces.

use super::knapsack::{MOST, best_row};
use super::model::{Kind, Model, Plan, Size, SizeId, Take};
use crate::table;

/// A row: the size of blank it lies on, and the pieces.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Pattern {
    /// The size.
    pub size: SizeId,
    /// The pieces.
    pub take: Take,
}

/// The best mix of rows for some pieces.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Mix {
    /// Rows and how many of each, a real number above 0.
    pub rows: Vec<(Pattern, f64)>,
    /// How many blanks in all, parts of a blank counted as such.
    pub total: f64,
    /// Price of each length, in [`BLANK_PRICE`]ths of a blank.
    pub prices: table::Column<Kind, u64>,
}

/// What a blank is worth in whole-number prices.
const BLANK_PRICE: u64 = MOST / 32;
/// What a row costs, in blanks, that no blank is there for: more than any real row would.
const DEAR: f64 = 16.0;
/// A row must be worth this much more than it costs to come in.
const GAIN: f64 = 1e-7;
/// Smallest number that is not round-off in the tableau.
const PIVOT: f64 = 1e-9;
/// Steps that pricing one row may take.
const ROW_EFFORT: u64 = 100_000;

/// What a basic column of the tableau stands for.
#[derive(Debug, Clone, PartialEq)]
enum Column {
    /// A row that can be cut.
    Row(Pattern),
    /// A row that no blank is there for; every length starts with one.
    Dear,
    /// Pieces too many, or rows of a blank that stay empty.
    Slack,
}

/// The linear programme, one line for each length in play and for each size of blank of which there are
/// only so many: the revised simplex method with an explicit inverse.
struct Tableau {
    /// Lines in all.
    lines: usize,
    /// One column a line.
    basis: Vec<Column>,
    /// Inverse of the basis, one line after another.
    inverse: Vec<f64>,
    /// Values of the basic columns.
    value: Vec<f64>,
}

impl Tableau {
    /// Starts with a diagonal basis of (column, its entry, what is asked of the line).
    fn new(start: Vec<(Column, f64, f64)>) -> Self {
        let lines = start.len();
        let mut inverse = vec![0.0; lines * lines];
        for (k, (_, entry, _)) in start.iter().enumerate() {
            inverse[k * lines + k] = 1.0 / entry;
        }
        let value = start
            .iter()
            .map(|(_, entry, asked)| asked / entry)
            .collect();
        Self {
            lines,
            basis: start.into_iter().map(|s| s.0).collect(),
            inverse,
            value,
        }
    }

    /// What one more of each line would cost, in blanks.
    fn duals(&self, cost: impl Fn(&Column) -> f64) -> Vec<f64> {
        let mut duals = vec![0.0; self.lines];
        for (line, column) in self
            .inverse
            .chunks_exact(self.lines.max(1))
            .zip(&self.basis)
        {
            let cost = cost(column);
            if cost != 0.0 {
                duals.iter_mut().zip(line).for_each(|(d, v)| *d += cost * v);
            }
        }
        duals
    }

    /// Brings in a column, given with its entries (line, value). Whether it did.
    fn bring_in(&mut self, column: Column, entries: &[(usize, f64)]) -> bool {
        let m = self.lines;
        // Entries name lines that `start` made; `basis`, `value` and the lines of `inverse` are all `m`
        // long, so no index below can fail.
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

/// Which line of the tableau stands for which length and which size; `None` where there is none.
struct Lines {
    of_kind: table::Column<Kind, Option<usize>>,
    of_size: table::Column<Size, Option<usize>>,
    /// Rows that are left of each size.
    free: table::Column<Size, u64>,
}

/// Lays out the lines for what `plan` has left over.
fn start(model: &Model, plan: &Plan) -> (Tableau, Lines) {
    let room = model.longest_room();
    let mut columns = Vec::new();
    let of_kind = model.kinds.column(|id, kind| {
        let count = plan.left[id];
        let n = count.min(room / kind.size);
        (n > 0).then(|| {
            columns.push((Column::Dear, n as f64, count as f64));
            columns.len() - 1
        })
    });
    // With one size only there is no choice, and too few blanks show in the end.
    let choice = model.sizes.len() > 1;
    let rows = |id, size: &Size| size.all_rows().saturating_sub(plan.rows_of(id));
    let of_size = model.sizes.column(|id, size| {
        (choice && size.count.is_some()).then(|| {
            columns.push((Column::Slack, 1.0, rows(id, size) as f64));
            columns.len() - 1
        })
    });
    let free = model
        .sizes
        .column(|id, size| if choice { rows(id, size) } else { u64::MAX });
    (
        Tableau::new(columns),
        Lines {
            of_kind,
            of_size,
            free,
        },
    )
}

/// What a row of a size costs, in blanks.
fn per_row(model: &Model, size: SizeId) -> f64 {
    1.0 / model.sizes[size].rows as f64
}

/// What pieces and rows are worth by the duals of a tableau.
struct Priced<'a> {
    model: &'a Model,
    /// How many pieces of each length are left.
    left: &'a table::Column<Kind, u64>,
    lines: &'a Lines,
    /// One for each line of the tableau.
    duals: Vec<f64>,
    /// Of a piece of each length, in parts of a blank; rounded down, so that no row seems worth more than it is.
    prices: table::Column<Kind, u64>,
}

impl<'a> Priced<'a> {
    fn of(
        model: &'a Model,
        left: &'a table::Column<Kind, u64>,
        lines: &'a Lines,
        duals: Vec<f64>,
    ) -> Self {
        // What has no line of its own costs nothing more.
        let dual = |line: Option<usize>| line.map_or(0.0, |k| duals[k]);
        let price = |line| ((dual(line).max(0.0) * BLANK_PRICE as f64) as u64).min(MOST);
        Self {
            prices: model.kinds.column(|id, _| price(lines.of_kind[id])),
            model,
            left,
            lines,
            duals,
        }
    }

    /// A piece too many, or an empty row, that would save something: its line, and its sign there.
    fn slack(&self) -> Option<(usize, f64)> {
        let of_kind = self.lines.of_kind.iter().flatten().map(|&k| (k, -1.0));
        let of_size = self.lines.of_size.iter().flatten().map(|&k| (k, 1.0));
        let best = of_kind
            .chain(of_size)
            .map(|(k, sign)| (sign * self.duals[k], k, sign))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        best.filter(|s| s.0 > PIVOT).map(|(_, k, sign)| (k, sign))
    }

    /// What a row saves, as a part of what it costs.
    fn saves(&self, size: SizeId, worth: u64) -> f64 {
        let dual = self.lines.of_size[size].map_or(0.0, |k| self.duals[k]);
        (worth as f64 / BLANK_PRICE as f64 + dual) / per_row(self.model, size) - 1.0
    }

    /// The row of the pool that saves most, if any does that can be cut.
    fn known(&self, pool: &[Pattern]) -> Option<Pattern> {
        let there = |p: &&Pattern| {
            self.lines.free[p.size] > 0 && p.take.iter().all(|&(kind, n)| n <= self.left[kind])
        };
        let worth = |p: &Pattern| p.take.iter().map(|&(kind, n)| n * self.prices[kind]).sum();
        let best = pool
            .iter()
            .filter(there)
            .map(|p| (self.saves(p.size, worth(p)), p))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        best.filter(|best| best.0 > GAIN).map(|(_, p)| p.clone())
    }

    /// Searches for the row that saves most; what it finds goes into the pool. Beside it a bound on the blanks that all
    /// pieces need.
    fn searched(&self, pool: &mut Vec<Pattern>, effort: &mut u64) -> (Option<Pattern>, f64) {
        let goods = self.model.goods(self.left, &self.prices);
        let mut best: Option<(f64, Pattern)> = None;
        let mut ceiling = 0;
        for (size, s) in self.model.sizes.entries() {
            if self.lines.free[size] == 0 {
                continue;
            }
            let mut allowed = ROW_EFFORT.min(*effort);
            let before = allowed;
            let row = best_row(&goods, s.room, &mut allowed);
            *effort -= before - allowed;
            ceiling = ceiling.max(row.ceiling * s.rows);
            let saved = self.saves(size, row.value);
            if saved > GAIN {
                let pattern = Pattern {
                    size,
                    take: row.take,
                };
                pool.push(pattern.clone());
                if best.as_ref().is_none_or(|b| saved > b.0) {
                    best = Some((saved, pattern));
                }
            }
        }
        let pieces = self.left.iter().zip(&self.prices);
        let worth: f64 = pieces.map(|(&n, &p)| n as f64 * p as f64).sum();
        let bound = worth / ceiling.max(1) as f64;
        (best.map(|(_, pattern)| pattern), bound)
    }
}

/// Solves the mix of rows for the pieces that `plan` has left over, on the blanks that it has not taken.
/// `pool` holds rows that are worth trying before a new one is searched for, and takes up the new ones.
/// Ends early when `effort` is used up or when the prices already prove the total rounded up.
pub(super) fn best_mix(
    model: &Model,
    plan: &Plan,
    pool: &mut Vec<Pattern>,
    effort: &mut u64,
) -> Mix {
    let (mut t, lines) = start(model, plan);
    let cost = |c: &Column| match c {
        Column::Row(p) => per_row(model, p.size),
        Column::Dear => DEAR,
        Column::Slack => 0.0,
    };
    let alone = model.sizes.len() == 1;
    let mut best_prices = model.kinds.column(|_, _| 0);
    let mut best_bound = 0.0;
    let pivot_effort = (t.lines * t.lines) as u64 / 4 + 1;
    while *effort > 0 {
        *effort = effort.saturating_sub(pivot_effort + pool.len() as u64);
        let priced = Priced::of(model, &plan.left, &lines, t.duals(cost));
        if let Some((line, sign)) = priced.slack() {
            if !t.bring_in(Column::Slack, &[(line, sign)]) {
                break;
            }
            continue;
        }
        let pattern = if let Some(known) = priced.known(pool) {
            known
        } else {
            let (best, bound) = priced.searched(pool, effort);
            if bound > best_bound || !alone {
                best_bound = bound;
                best_prices = priced.prices;
            }
            let so_far: f64 = t.value.iter().zip(&t.basis).map(|(v, c)| v * cost(c)).sum();
            let proven = alone && (best_bound - GAIN).ceil() >= (so_far - GAIN).ceil();
            match best.filter(|_| !proven) {
                Some(pattern) => pattern,
                None => break,
            }
        };
        // A length that no row takes has no line: it asks for nothing.
        let of_kind = |&(kind, n): &(_, u64)| Some((lines.of_kind[kind]?, n as f64));
        let mut entries: Vec<(usize, f64)> = pattern.take.iter().filter_map(of_kind).collect();
        entries.extend(lines.of_size[pattern.size].map(|k| (k, 1.0)));
        if !t.bring_in(Column::Row(pattern), &entries) {
            break;
        }
    }
    let total = t.value.iter().zip(&t.basis).map(|(v, c)| v * cost(c)).sum();
    let rows = t
        .basis
        .into_iter()
        .zip(t.value)
        .filter_map(|(c, v)| match c {
            Column::Row(p) if v > PIVOT => Some((p, v)),
            _ => None,
        });
    Mix {
        rows: rows.collect(),
        total,
        prices: best_prices,
    }
}
