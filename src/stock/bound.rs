//! The least number of blanks, proven by prices.
//!
//! Give every length a price. If no row can hold more than V worth of pieces, and all pieces together
//! are worth T, then no fewer than T / V rows will do (linear programming duality; Gilmore & Gomory
//! 1961). Everything here is whole numbers, so a bound is a proof that can be redone by hand.
//!
//! Prices come from the length itself, from the dual-feasible functions of Fekete & Schepers ("New
//! classes of fast lower bounds for bin packing problems", 2001), and from column generation
//! ([`super::columns`]). The bound L2 of Martello & Toth (Knapsack Problems, 1990, section 8.3) is the
//! best of [`cut_off`] over all thresholds and of [`halves`].

use std::collections::BTreeMap;

use super::knapsack::{MOST, best_row};
use super::model::{Kind, Model, Size};
use crate::table::Column;

/// Prices, and what they prove.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Proof {
    /// Price of one piece of each length.
    pub prices: Column<Kind, u64>,
    /// What no row of each size of blank can exceed.
    pub row_value: Column<Size, u64>,
    /// The least number of blanks; `None` if all blanks together cannot hold the pieces.
    pub least: Option<u64>,
}

impl Proof {
    /// Whether this proves more than the other.
    pub fn beats(&self, other: &Self) -> bool {
        match (self.least, other.least) {
            (_, None) => false,
            (None, Some(_)) => true,
            (Some(a), Some(b)) => a > b,
        }
    }
}

/// Steps that one row's greatest value may take; beyond them its ceiling stands in.
const ROW_EFFORT: u64 = 20_000;
/// How many of the best-looking prices have their rows' greatest value worked out.
const JUDGED: usize = 6;
/// How many thresholds of [`cut_off`] are tried.
const THRESHOLDS: usize = 64;

/// The best proof from length and dual-feasible functions.
pub(super) fn simple(model: &Model) -> Proof {
    let room = model.longest_room();
    // Prices with what no row can exceed by the nature of the function.
    let mut candidates = vec![
        (model.kinds.column(|_, k| k.size), room),
        (halves(model, room), 1),
    ];
    let short = model
        .kinds
        .iter()
        .map(|k| k.size)
        .filter(|&s| 2 * s <= room);
    let stride = short.clone().count().div_ceil(THRESHOLDS).max(1);
    candidates.extend(
        short
            .step_by(stride)
            .map(|at| (cut_off(model, room, at), room)),
    );
    candidates.extend((2..=MOST_PARTS).map(|n| (in_parts(model, room, n), n * room)));

    // The best-looking first; of equals the plainest.
    candidates.sort_by_key(|(prices, ceiling)| {
        std::cmp::Reverse(worth(model, prices).div_ceil(u128::from(*ceiling).max(1)))
    });
    let judged = candidates.into_iter().take(JUDGED);
    judged
        .map(|(prices, ceiling)| judge(model, prices, ceiling))
        .reduce(|best, proof| if proof.beats(&best) { proof } else { best })
        // The list begins with two candidates, and one at least is judged.
        .expect("a candidate")
}

/// Works out what `prices` prove. `ceiling` is what no row of any size can exceed, as far as known.
pub(super) fn judge(model: &Model, prices: Column<Kind, u64>, ceiling: u64) -> Proof {
    let goods = model.goods(&model.demand(), &prices);
    // Rows of one room are looked at once.
    let mut known: BTreeMap<u64, u64> = BTreeMap::new();
    let row_value = model.sizes.column(|_, size| {
        *known.entry(size.room).or_insert_with(|| {
            best_row(&goods, size.room, &mut ROW_EFFORT.clone())
                .ceiling
                .min(ceiling)
        })
    });
    let least = least_blanks(model, worth(model, &prices), &row_value);
    Proof {
        prices,
        row_value,
        least,
    }
}

/// What all pieces together are worth.
fn worth(model: &Model, prices: &Column<Kind, u64>) -> u128 {
    let pieces = model.kinds.iter().zip(prices);
    pieces
        .map(|(k, &p)| u128::from(k.count) * u128::from(p))
        .sum()
}

/// The fewest blanks that can be worth `total`, the most valuable first; `None` if all are worth less.
fn least_blanks(model: &Model, total: u128, row_value: &Column<Size, u64>) -> Option<u64> {
    let mut blanks: Vec<(u128, Option<u64>)> = model
        .sizes
        .iter()
        .zip(row_value)
        .map(|(s, &v)| (u128::from(v) * u128::from(s.rows), s.count))
        .filter(|&(value, _)| value > 0)
        .collect();
    blanks.sort_by_key(|b| std::cmp::Reverse(b.0));
    let (mut left, mut used) = (total, 0_u64);
    for (value, count) in blanks {
        let wanted = u64::try_from(left.div_ceil(value)).unwrap_or(u64::MAX);
        let taken = count.map_or(wanted, |n| n.min(wanted));
        used = used.saturating_add(taken);
        left = left.saturating_sub(value * u128::from(taken));
        if left == 0 {
            break;
        }
    }
    (left == 0).then_some(used)
}

/// 1 for every piece longer than half a row, else 0: no row is worth more than 1.
fn halves(model: &Model, room: u64) -> Column<Kind, u64> {
    model.kinds.column(|_, k| u64::from(2 * k.size > room))
}

/// The function U of Fekete & Schepers: a piece that leaves less than `threshold` of a row takes all of
/// it, a piece shorter than `threshold` (at most half a row) counts for nothing. No row is worth more
/// than `room`.
fn cut_off(model: &Model, room: u64, threshold: u64) -> Column<Kind, u64> {
    let price = |size: u64| {
        if size + threshold > room {
            room
        } else if size >= threshold {
            size
        } else {
            0
        }
    };
    model.kinds.column(|_, k| price(k.size))
}

/// The most parts of [`in_parts`]: prices stay below [`MOST`].
const MOST_PARTS: u64 = 9;

/// The function u of Fekete & Schepers, times `parts` rooms: a length counts for whole (parts + 1)-ths
/// of a row, each worth one room; a length of exactly so many keeps its size. No row is worth more than
/// `parts` rooms.
fn in_parts(model: &Model, room: u64, parts: u64) -> Column<Kind, u64> {
    let price = |size: u64| {
        let size = size * (parts + 1);
        let price = if size.is_multiple_of(room.max(1)) {
            size / (parts + 1) * parts
        } else {
            size / room * room
        };
        price.min(MOST)
    };
    model.kinds.column(|_, k| price(k.size))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model(room: u64, lengths: &[u64]) -> Model {
        let mut lengths = lengths.to_vec();
        lengths.sort_unstable_by(|a, b| b.cmp(a));
        let mut kinds: Vec<Kind> = Vec::new();
        for size in lengths {
            match kinds.last_mut() {
                Some(last) if last.size == size => last.count += 1,
                _ => kinds.push(Kind { size, count: 1 }),
            }
        }
        Model {
            kinds: kinds.into(),
            sizes: vec![Size {
                room,
                rows: 1,
                count: None,
                area: room,
            }]
            .into(),
        }
    }

    /// L2 by its definition, Martello & Toth 1990, section 8.3 (from memory): for a threshold a, J1 are
    /// the pieces over c - a, J2 those over c / 2 up to c - a, J3 those from a to c / 2.
    fn l2(room: u64, lengths: &[u64]) -> u64 {
        let sum = |f: &dyn Fn(u64) -> bool| -> u64 { lengths.iter().filter(|&&w| f(w)).sum() };
        let count = |f: &dyn Fn(u64) -> bool| lengths.iter().filter(|&&w| f(w)).count() as u64;
        (0..=room / 2)
            .map(|a| {
                let j1 = count(&|w| w > room - a);
                let j2 = count(&|w| w <= room - a && 2 * w > room);
                let free = j2 * room - sum(&|w| w <= room - a && 2 * w > room);
                let j3 = sum(&|w| 2 * w <= room && w >= a);
                j1 + j2 + j3.saturating_sub(free).div_ceil(room)
            })
            .max()
            .unwrap_or(0)
    }

    #[test]
    fn the_worked_example_of_martello_and_toth() {
        // Knapsack Problems (1990), section 8.3, example (from memory): c = 100, L1 = 3, L2 = 4.
        let lengths = [70, 60, 50, 33, 33, 33, 11, 7, 3];
        assert_eq!(lengths.iter().sum::<u64>().div_ceil(100), 3, "L1");
        assert_eq!(l2(100, &lengths), 4, "L2 of the book");
        assert_eq!(
            simple(&model(100, &lengths)).least,
            Some(4),
            "the bound is as good"
        );
    }

    #[test]
    fn never_weaker_than_l2() {
        let mut seed = 11_u64;
        let mut draw = |n: u64| {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) % n
        };
        for round in 0..500 {
            let room = 60 + draw(100);
            let lengths: Vec<u64> = (0..5 + draw(30)).map(|_| 1 + draw(room)).collect();
            let got = simple(&model(room, &lengths)).least;
            let want = l2(room, &lengths);
            assert!(
                got >= Some(want),
                "round {round}: {got:?} against L2 {want}: {lengths:?} in {room}"
            );
        }
    }

    #[test]
    fn the_prices_prove_what_they_say() {
        // Seven pieces just over a third: three never share a row, so 4 rows, where length says 3.
        let proof = simple(&model(100, &[34; 7]));
        assert_eq!(proof.least, Some(4));
        let price = proof.prices.values()[0];
        let total = 7 * price;
        assert_eq!(total.div_ceil(2 * price), 4, "two to a row");
        assert_eq!(
            proof.row_value.values(),
            [2 * price],
            "no row is worth more than two of them"
        );
    }

    #[test]
    fn too_few_blanks_are_found_out() {
        let mut m = model(100, &[60; 5]);
        for size in m.sizes.iter_mut() {
            size.count = Some(4);
        }
        assert_eq!(
            simple(&m).least,
            None,
            "five pieces over half a row need five rows"
        );
        m.sizes.push(Size {
            room: 70,
            rows: 1,
            count: Some(1),
            area: 70,
        });
        assert_eq!(simple(&m).least, Some(5));
    }
}
