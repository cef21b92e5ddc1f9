//! Filling rows one after another: the quick ways, which are often good enough to be proven.

use super::knapsack::best_row;
use super::model::{Model, Plan};

/// How one row is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    /// Always the longest piece that still fits: first fit decreasing.
    LongestFirst,
    /// The longest piece, then what fills the rest of the row best.
    LongestThenSnug,
    /// What fills the row best.
    Snug,
}

/// Steps that filling one row snugly may take.
const ROW_EFFORT: u64 = 3_000;

/// Places what `start` has left in every way and order of blanks, as far as `effort` goes, and returns
/// the best plan; one plan is always made.
pub(super) fn best_fill(model: &Model, start: &Plan, effort: &mut u64) -> Plan {
    let mut best: Option<Plan> = None;
    for order in orders(model) {
        for way in [Way::LongestFirst, Way::LongestThenSnug, Way::Snug] {
            if best.is_some() && *effort == 0 {
                break;
            }
            let plan = fill(model, start.clone(), &order, way, effort);
            if best
                .as_ref()
                .is_none_or(|b| plan.cost(model) < b.cost(model))
            {
                best = Some(plan);
            }
        }
    }
    best.unwrap_or_else(|| start.clone())
}

/// Most orders of blanks that are tried.
const ORDERS: usize = 12;

/// Orders in which sizes of blanks are used up: the one that holds most first, the one with the longest
/// rows first, and each size first in turn.
fn orders(model: &Model) -> Vec<Vec<usize>> {
    let holds = |&i: &usize| {
        model
            .sizes
            .get(i)
            .map_or(0, |s| u128::from(s.room) * u128::from(s.rows))
    };
    let mut by_content: Vec<usize> = (0..model.sizes.len()).collect();
    by_content.sort_by_key(|i| std::cmp::Reverse(holds(i)));
    let mut by_room = by_content.clone();
    by_room.sort_by_key(|&i| std::cmp::Reverse(model.sizes.get(i).map_or(0, |s| s.room)));
    let mut orders = vec![by_content.clone()];
    if by_room != by_content {
        orders.push(by_room);
    }
    for &first in by_content.iter().skip(1) {
        let mut order = vec![first];
        order.extend(by_content.iter().copied().filter(|&i| i != first));
        if !orders.contains(&order) {
            orders.push(order);
        }
    }
    orders.truncate(ORDERS);
    orders
}

/// Places what is left, one size of blank after another.
fn fill(model: &Model, mut plan: Plan, order: &[usize], way: Way, effort: &mut u64) -> Plan {
    for &size in order {
        let Some(room) = model.sizes.get(size).map(|s| s.room) else {
            continue;
        };
        loop {
            let take = row(model, &plan.left, room, way, effort);
            if plan.add(model, size, take, u64::MAX) == 0 {
                break;
            }
        }
    }
    plan
}

/// One row of what is left.
fn row(model: &Model, left: &[u64], room: u64, way: Way, effort: &mut u64) -> Vec<(usize, u64)> {
    // Looking at every length once costs a little; setting up a search over them costs more.
    let lengths = model.kinds.len() as u64;
    let price = if way == Way::LongestFirst {
        lengths / 8 + 1
    } else {
        lengths
    };
    let before = *effort;
    *effort = before.saturating_sub(price);
    if way == Way::LongestFirst || before < price {
        return longest_first(model, left, room);
    }
    let mut allowed = ROW_EFFORT.min(*effort);
    let granted = allowed;
    // `left` has one entry for each length of the model, so the index found below is good for both.
    let mut left = left.to_vec();
    let mut room = room;
    let longest = (way == Way::LongestThenSnug)
        .then(|| (0..left.len()).find(|&i| left[i] > 0 && model.kinds[i].size <= room))
        .flatten();
    if let Some(i) = longest {
        left[i] -= 1;
        room -= model.kinds[i].size;
    }
    let sizes: Vec<u64> = model.kinds.iter().map(|k| k.size).collect();
    let mut take = best_row(&model.goods(&left, &sizes), room, &mut allowed).take;
    *effort -= granted - allowed;
    if let Some(i) = longest {
        match take.iter_mut().find(|t| t.0 == i) {
            Some(t) => t.1 += 1,
            None => take.insert(0, (i, 1)),
        }
    }
    take
}

/// As many of each length as still fit, longest first.
pub(super) fn longest_first(model: &Model, left: &[u64], mut room: u64) -> Vec<(usize, u64)> {
    let mut take = Vec::new();
    for (i, (kind, &count)) in model.kinds.iter().zip(left).enumerate() {
        let n = count.min(room / kind.size);
        if n > 0 {
            take.push((i, n));
            room -= n * kind.size;
        }
    }
    take
}
