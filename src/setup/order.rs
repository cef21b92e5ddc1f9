//! The order of work of all clampings: fewest fences, then fewest turnings of sticks, then shallow slots first;
//! against one fence, classes in the order in which its reference rail serves longest.

use super::gang::Gang;
use super::rail::RailFace;
use crate::geom::SAME_FIGURE;
use crate::lattice::Edge;

/// Most fences of which every order is tried; of more, the next one is the best for the rest as it stands.
const TRY_ALL: usize = 7;

/// The clampings of all classes of sticks in the order of work: (class, clamping). Each fence is milled once;
/// of all orders of the fences the one that turns the fewest sticks over counts, then the one that cuts fewest
/// shallow slots after deep ones. `radius` is the cutter's, mm.
#[must_use]
pub fn work_order(classes: &[Vec<Gang>], radius: f64) -> Vec<(usize, usize)> {
    let list = by_fences(classes);
    let fence = |&(b, g): &(usize, usize)| classes[b][g].fence_deg;
    list.chunk_by(|a, b| same_fence(fence(a), fence(b)))
        .flat_map(|group| by_rail(classes, group, radius))
        .collect()
}

/// For each clamping in the order of work, whether its battens are put up and milled for it: where the fence
/// before it stands another way, or its reference rail has too many slots in it. `radius` is the cutter's, mm.
#[must_use]
pub fn fresh_datums(classes: &[&[Gang]], order: &[(usize, usize)], radius: f64) -> Vec<bool> {
    let mut stands: Option<(f64, RailFace)> = None;
    let mut fresh = Vec::with_capacity(order.len());
    for &(b, g) in order {
        let gang = &classes[b][g];
        let mut face = match stands.take() {
            Some((deg, face)) if same_fence(deg, gang.fence_deg) && face.serves(gang, radius) => {
                fresh.push(false);
                face
            }
            _ => {
                fresh.push(true);
                RailFace::default()
            }
        };
        face.cut(gang);
        stands = Some((gang.fence_deg, face));
    }
    fresh
}

/// Most classes against one fence of which every order is tried.
const TRY_CLASSES: usize = 6;

/// The clampings against one fence, each class in its own order, class by class as its rail serves longest.
fn by_rail(classes: &[Vec<Gang>], group: &[(usize, usize)], radius: f64) -> Vec<(usize, usize)> {
    let mut order: Vec<usize> = group.iter().map(|c| c.0).collect();
    order.dedup();
    if order.len() > TRY_CLASSES {
        return group.to_vec();
    }
    let all: Vec<&[Gang]> = classes.iter().map(Vec::as_slice).collect();
    let mut best: Option<(usize, Vec<(usize, usize)>)> = None;
    each_order(&mut order, 0, &mut |order| {
        let of = |&b: &usize| group.iter().filter(move |c| c.0 == b).copied();
        let list: Vec<(usize, usize)> = order.iter().flat_map(of).collect();
        let cost = fresh_datums(&all, &list, radius)
            .iter()
            .filter(|f| **f)
            .count();
        if best.as_ref().is_none_or(|b| cost < b.0) {
            best = Some((cost, list));
        }
    });
    best.map_or_else(|| group.to_vec(), |b| b.1)
}

/// The order by fences alone.
fn by_fences(classes: &[Vec<Gang>]) -> Vec<(usize, usize)> {
    let mut fences = fences(classes.iter().flatten());
    fences.sort_by(f64::total_cmp);
    if fences.len() > TRY_ALL {
        return greedy(classes, fences);
    }
    let mut best: Option<(Cost, Vec<(usize, usize)>)> = None;
    each_order(&mut fences.clone(), 0, &mut |order| {
        let (cost, list) = planned(classes, order);
        if best.as_ref().is_none_or(|b| cost < b.0) {
            best = Some((cost, list));
        }
    });
    best.map_or_else(Vec::new, |b| b.1)
}

/// The directions of the fences of some gangs, each once, in their order, degrees.
pub fn fences<'a>(gangs: impl IntoIterator<Item = &'a Gang>) -> Vec<f64> {
    let mut fences: Vec<f64> = Vec::new();
    for gang in gangs {
        if !fences.iter().any(|&f| same_fence(f, gang.fence_deg)) {
            fences.push(gang.fence_deg);
        }
    }
    fences
}

/// Whether two fences stand in one direction.
#[must_use]
pub fn same_fence(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME_FIGURE
}

/// Sticks turned over, and pairs of clampings of a class in which deep slots come before shallow ones.
type Cost = (usize, usize);

/// Fence by fence, each time the one that costs least of those left.
fn greedy(classes: &[Vec<Gang>], mut left: Vec<f64>) -> Vec<(usize, usize)> {
    let mut order: Vec<f64> = Vec::new();
    while !left.is_empty() {
        let cost = |&fence: &f64| {
            let mut tried = order.clone();
            tried.push(fence);
            planned(classes, &tried).0
        };
        let costs: Vec<Cost> = left.iter().map(cost).collect();
        let least = costs.iter().enumerate().min_by_key(|c| *c.1);
        order.push(left.remove(least.map_or(0, |c| c.0)));
    }
    planned(classes, &order).1
}

/// Calls `f` with every order of the list from `k` on.
fn each_order<T>(list: &mut [T], k: usize, f: &mut impl FnMut(&[T])) {
    if k + 1 >= list.len() {
        return f(list);
    }
    for i in k..list.len() {
        list[k..=i].rotate_right(1);
        each_order(list, k + 1, f);
        list[k..=i].rotate_left(1);
    }
}

/// The order of work against these fences, one after the other, and what it costs.
fn planned(classes: &[Vec<Gang>], fences: &[f64]) -> (Cost, Vec<(usize, usize)>) {
    let ways: Vec<Way> = classes.iter().map(|gangs| Way::of(gangs, fences)).collect();
    let cost = ways
        .iter()
        .fold((0, 0), |sum, w| (sum.0 + w.cost.0, sum.1 + w.cost.1));
    let mut list = Vec::new();
    for &fence in fences {
        for (b, (gangs, way)) in classes.iter().zip(&ways).enumerate() {
            let here = |&&g: &&usize| same_fence(gangs[g].fence_deg, fence);
            list.extend(way.order.iter().filter(here).map(|&g| (b, g)));
        }
    }
    (cost, list)
}

/// The order of a class's own clampings.
#[derive(Debug, Clone)]
struct Way {
    cost: Cost,
    order: Vec<usize>,
}

impl Way {
    /// The best order against these fences: against each, front and back edge may come either way round.
    fn of(gangs: &[Gang], fences: &[f64]) -> Self {
        let sticks: usize = gangs
            .first()
            .map_or(0, |g| g.loads.iter().map(Vec::len).sum());
        let mut ways = vec![Self {
            cost: (0, 0),
            order: Vec::new(),
        }];
        for &fence in fences {
            let mut here: Vec<usize> = (0..gangs.len())
                .filter(|&g| same_fence(gangs[g].fence_deg, fence))
                .collect();
            if here.is_empty() {
                continue;
            }
            here.sort_by(|&a, &b| gangs[b].deepest().total_cmp(&gangs[a].deepest()));
            let mut other = here.clone();
            other.reverse();
            let mut next: Vec<Self> = Vec::new();
            for way in &ways {
                for group in [&here, &other] {
                    let way = way.with(gangs, group, sticks);
                    let last = |w: &Self| w.order.last().map(|&g| gangs[g].edge);
                    match next.iter_mut().find(|w| last(w) == last(&way)) {
                        Some(same) if way.cost < same.cost => *same = way,
                        Some(_) => {}
                        None => next.push(way),
                    }
                }
            }
            ways = next;
        }
        let best = ways
            .into_iter()
            .reduce(|a, b| if b.cost < a.cost { b } else { a });
        best.unwrap_or(Self {
            cost: (0, 0),
            order: Vec::new(),
        })
    }

    /// The same, with these clampings after it.
    fn with(&self, gangs: &[Gang], group: &[usize], sticks: usize) -> Self {
        let mut way = self.clone();
        for &g in group {
            let edge = |g: &usize| -> Edge { gangs[*g].edge };
            if way.order.last().is_some_and(|last| edge(last) != edge(&g)) {
                way.cost.0 += sticks;
            }
            let floor = gangs[g].deepest();
            let deeper = |&&b: &&usize| gangs[b].deepest() < floor - SAME_FIGURE;
            way.cost.1 += way.order.iter().filter(deeper).count();
            way.order.push(g);
        }
        way
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lattice::{ClassNotch, JointShape};
    use crate::setup::clamping::tests::{RULES, slanting};
    use crate::setup::gangs;

    /// A class of sticks with a clamping for each edge and direction, ever deeper.
    fn class(ways: &[(Edge, f64)]) -> Vec<Gang> {
        let notch = |(k, &(edge, angle_deg)): (usize, &(Edge, f64))| ClassNotch {
            at: 60.0 + 40.0 * k as f64,
            edge,
            angle_deg,
            width: 4.0,
            depth: 3.0 + k as f64,
            shape: JointShape::Skew,
            run: 4.0,
        };
        let stick = crate::setup::GangStick {
            notches: ways.iter().enumerate().map(notch).collect(),
            ..slanting()
        };
        let gangs = gangs(&stick, &RULES);
        assert_eq!(gangs.len(), ways.len());
        gangs
    }

    fn fences(classes: &[Vec<Gang>], order: &[(usize, usize)]) -> Vec<f64> {
        let mut list: Vec<f64> = order
            .iter()
            .map(|&(b, g)| classes[b][g].fence_deg)
            .collect();
        list.dedup();
        list
    }

    #[test]
    fn every_fence_is_milled_once_and_every_clamping_comes_once() {
        use Edge::{Back, Front};
        let classes = [
            class(&[(Front, 45.0), (Front, 90.0), (Front, 135.0)]),
            class(&[(Front, 135.0), (Back, 90.0), (Back, 45.0)]),
            Vec::new(),
            class(&[(Back, 90.0), (Front, 90.0), (Front, 45.0)]),
        ];
        let order = work_order(&classes, 1.5);
        assert_eq!(fences(&classes, &order).len(), 3);
        for (b, gangs) in classes.iter().enumerate() {
            let mut mine: Vec<usize> = order.iter().filter(|c| c.0 == b).map(|c| c.1).collect();
            mine.sort_unstable();
            assert!(mine.iter().copied().eq(0..gangs.len()), "{order:?}");
        }
    }

    #[test]
    fn sticks_are_turned_as_seldom_as_the_fences_allow() {
        use Edge::{Back, Front};
        // Front at 120, back at 60 and 120: one turn at the least, which 60, then 120 (back, front), or 120
        // (front, back), then 60, do; front at 120 is the shallowest.
        let classes = [class(&[(Front, 120.0), (Back, 60.0), (Back, 120.0)])];
        let order = work_order(&classes, 1.5);
        let edges: Vec<Edge> = order.iter().map(|&(_, g)| classes[0][g].edge).collect();
        assert_eq!(edges, [Front, Back, Back]);
        assert_eq!(fences(&classes, &order), [120.0, 60.0]);
    }

    #[test]
    fn shallow_slots_come_first_where_nothing_else_decides() {
        use Edge::Front;
        for ways in [[120.0, 60.0], [60.0, 120.0]] {
            let classes = [class(&ways.map(|t| (Front, t)))];
            assert_eq!(fences(&classes, &work_order(&classes, 1.5)), ways);
        }
    }

    #[test]
    fn many_fences_are_put_in_an_order_without_trying_all() {
        let ways: Vec<(Edge, f64)> = (0..9)
            .map(|k| (Edge::Front, 50.0 + 9.0 * f64::from(k)))
            .collect();
        let classes = [class(&ways)];
        let order = work_order(&classes, 1.5);
        let angles: Vec<f64> = ways.iter().map(|w| w.1).collect();
        assert_eq!(fences(&classes, &order), angles, "shallow first");
    }
}
