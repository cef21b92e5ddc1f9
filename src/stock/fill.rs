//! Filling rows one after another: the quick ways, which are often good enough to be proven.

use super::knapsack::best_row;
use super::model::{Kind, Model, Plan, SizeId, Take};
use crate::table::Column;

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
fn orders(model: &Model) -> Vec<Vec<SizeId>> {
    let holds = |&id: &SizeId| {
        let size = &model.sizes[id];
        u128::from(size.room) * u128::from(size.rows)
    };
    let mut by_content: Vec<SizeId> = model.sizes.ids().collect();
    by_content.sort_by_key(|i| std::cmp::Reverse(holds(i)));
    let mut by_room = by_content.clone();
    by_room.sort_by_key(|&id| std::cmp::Reverse(model.sizes[id].room));
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
fn fill(model: &Model, mut plan: Plan, order: &[SizeId], way: Way, effort: &mut u64) -> Plan {
    for &size in order {
        let room = model.sizes[size].room;
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
fn row(model: &Model, left: &Column<Kind, u64>, room: u64, way: Way, effort: &mut u64) -> Take {
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
    let mut left = left.clone();
    let mut room = room;
    let mut kinds = model.kinds.entries();
    let longest = (way == Way::LongestThenSnug)
        .then(|| kinds.find(|&(id, k)| left[id] > 0 && k.size <= room))
        .flatten();
    if let Some((id, kind)) = longest {
        left[id] -= 1;
        room -= kind.size;
    }
    let sizes = model.kinds.column(|_, k| k.size);
    let mut take = best_row(&model.goods(&left, &sizes), room, &mut allowed).take;
    *effort -= granted - allowed;
    if let Some((id, _)) = longest {
        match take.iter_mut().find(|t| t.0 == id) {
            Some(t) => t.1 += 1,
            None => take.insert(0, (id, 1)),
        }
    }
    take
}

/// As many of each length as still fit, longest first.
pub(super) fn longest_first(model: &Model, left: &Column<Kind, u64>, mut room: u64) -> Take {
    let mut take = Vec::new();
    for (id, kind) in model.kinds.entries() {
        let n = left[id].min(room / kind.size);
        if n > 0 {
            take.push((id, n));
            room -= n * kind.size;
        }
    }
    take
}
