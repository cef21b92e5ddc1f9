//! The order of work of all clampings: fewest fences, then fewest turnings of sticks, then shallow slots first;
//! against one fence, classes in the order in which its reference rail serves longest.

use super::gang::Gang;
use super::rail::RailFace;
use crate::geom::SAME_FIGURE;
use crate::non_empty::NonEmpty;
use crate::table::{Column, Id};

/// Most fences of which every order is tried; of more, the next one is the best for the rest as it stands.
const TRY_ALL: usize = 7;

/// A clamping of a class of sticks; classes are rows of type `C`.
type Of<'a, C> = (Id<C>, &'a Gang);

/// The clampings of all classes of sticks in the order of work, each with its class. Each fence is milled once;
/// of all orders of the fences the one that turns the fewest sticks over counts, then the one that cuts fewest
/// shallow slots after deep ones. `radius` is the cutter's, mm.
#[must_use]
pub fn work_order<C>(classes: &Column<C, NonEmpty<Gang>>, radius: f64) -> Vec<(Id<C>, &Gang)> {
    let list = by_fences(classes);
    list.chunk_by(|a, b| same_fence(a.1.fence_deg, b.1.fence_deg))
        .flat_map(|group| by_rail(group, radius))
        .collect()
}

/// The datum that stands from the clamping before.
#[derive(Debug, Clone, Default)]
pub struct StandingDatum {
    /// Direction of the fence, degrees, and the face of the reference rail; `None` before the first clamping.
    stands: Option<(f64, RailFace)>,
}

impl StandingDatum {
    /// Takes the next clamping in the order of work; says whether battens are put up and milled for it: where the
    /// fence before it stands another way, or its reference rail has too many slots in it. `radius` is the
    /// cutter's, mm.
    pub fn take(&mut self, gang: &Gang, radius: f64) -> bool {
        let stood = self
            .stands
            .take()
            .filter(|(deg, face)| same_fence(*deg, gang.fence_deg) && face.serves(gang, radius));
        let (fresh, mut face) = match stood {
            Some((_, face)) => (false, face),
            None => (true, RailFace::default()),
        };
        face.cut(gang);
        self.stands = Some((gang.fence_deg, face));
        fresh
    }
}

/// How many datums are milled for clampings in this order.
fn datums<C>(list: &[Of<'_, C>], radius: f64) -> usize {
    let mut datum = StandingDatum::default();
    list.iter().filter(|c| datum.take(c.1, radius)).count()
}

/// Most classes against one fence of which every order is tried.
const TRY_CLASSES: usize = 6;

/// The clampings against one fence, each class in its own order, class by class as its rail serves longest.
fn by_rail<'a, C>(group: &[Of<'a, C>], radius: f64) -> Vec<Of<'a, C>> {
    let mut order: Vec<Id<C>> = group.iter().map(|c| c.0).collect();
    order.dedup();
    let mut best = group.to_vec();
    if order.len() > TRY_CLASSES {
        return best;
    }
    let mut least = datums(&best, radius);
    each_order(&mut order, 0, &mut |order| {
        let of = |&class: &Id<C>| group.iter().filter(move |c| c.0 == class).copied();
        let list: Vec<Of<'a, C>> = order.iter().flat_map(of).collect();
        let cost = datums(&list, radius);
        if cost < least {
            (least, best) = (cost, list);
        }
    });
    best
}

/// The order by fences alone.
fn by_fences<C>(classes: &Column<C, NonEmpty<Gang>>) -> Vec<Of<'_, C>> {
    let mut fences = fences(classes.iter().flatten());
    fences.sort_by(f64::total_cmp);
    if fences.len() > TRY_ALL {
        return greedy(classes, fences);
    }
    let mut best = planned(classes, &fences);
    each_order(&mut fences.clone(), 0, &mut |order| {
        let found = planned(classes, order);
        if found.0 < best.0 {
            best = found;
        }
    });
    best.1
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
fn greedy<C>(classes: &Column<C, NonEmpty<Gang>>, mut left: Vec<f64>) -> Vec<Of<'_, C>> {
    let mut order: Vec<f64> = Vec::new();
    let cost = |order: &[f64], next: f64| {
        let mut tried = order.to_vec();
        tried.push(next);
        planned(classes, &tried).0
    };
    while let Some(next) = (0..left.len()).min_by_key(|&k| cost(&order, left[k])) {
        order.push(left.remove(next));
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
fn planned<'a, C>(
    classes: &'a Column<C, NonEmpty<Gang>>,
    fences: &[f64],
) -> (Cost, Vec<Of<'a, C>>) {
    let ways = classes.column(|_, gangs| Way::of(gangs, fences));
    let cost = ways
        .iter()
        .fold((0, 0), |sum, w| (sum.0 + w.cost.0, sum.1 + w.cost.1));
    let mut list = Vec::new();
    for &fence in fences {
        for (class, way) in ways.entries() {
            let here = way.order.iter().copied();
            let here = here.filter(|gang| same_fence(gang.fence_deg, fence));
            list.extend(here.map(|gang| (class, gang)));
        }
    }
    (cost, list)
}

/// The order of a class's own clampings.
#[derive(Debug, Clone, Default)]
struct Way<'a> {
    cost: Cost,
    order: Vec<&'a Gang>,
}

impl<'a> Way<'a> {
    /// The best order against these fences: against each, front and back edge may come either way round.
    fn of(gangs: &'a NonEmpty<Gang>, fences: &[f64]) -> Self {
        let mut ways = NonEmpty::one(Self::default());
        for &fence in fences {
            let here = gangs.iter().filter(|g| same_fence(g.fence_deg, fence));
            let mut here: Vec<&Gang> = here.collect();
            if here.is_empty() {
                continue;
            }
            here.sort_by(|a, b| b.deepest().total_cmp(&a.deepest()));
            let mut other = here.clone();
            other.reverse();
            let first = ways.first().with(&here);
            let mut next = NonEmpty::one(first);
            for way in &ways {
                for group in [&here, &other] {
                    let way = way.with(group);
                    let last = |w: &Self| w.order.last().map(|gang| gang.edge);
                    match next.iter_mut().find(|w| last(w) == last(&way)) {
                        Some(same) if way.cost < same.cost => *same = way,
                        Some(_) => {}
                        None => next.push(way),
                    }
                }
            }
            ways = next;
        }
        let best = ways.iter().fold(
            ways.first(),
            |best, way| {
                if way.cost < best.cost { way } else { best }
            },
        );
        best.clone()
    }

    /// The same, with these clampings after it.
    fn with(&self, group: &[&'a Gang]) -> Self {
        let mut way = self.clone();
        for &gang in group {
            if way.order.last().is_some_and(|last| last.edge != gang.edge) {
                way.cost.0 += gang.loads.iter().map(|load| load.len()).sum::<usize>();
            }
            let floor = gang.deepest();
            let deeper = |b: &&&Gang| b.deepest() < floor - SAME_FIGURE;
            way.cost.1 += way.order.iter().filter(deeper).count();
            way.order.push(gang);
        }
        way
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lattice::{ClassNotch, Edge, JointShape};
    use crate::setup::clamping::tests::{RULES, slanting};
    use crate::setup::gangs;
    use crate::table::Table;

    /// A class of sticks with a clamping for each edge and direction, ever deeper.
    fn class(ways: &[(Edge, f64)]) -> NonEmpty<Gang> {
        let notch = |(k, &(edge, angle_deg)): (usize, &(Edge, f64))| ClassNotch {
            at: 60.0 + 40.0 * k as f64,
            edge,
            angle_deg,
            width: 4.0,
            depth: 3.0 + k as f64,
            shape: JointShape::Skew,
            run: 4.0,
        };
        let notches = ways.iter().enumerate().map(notch);
        let stick = crate::setup::GangStick {
            notches: NonEmpty::of(notches).expect("a way"),
            ..slanting()
        };
        let gangs = gangs(&stick, &RULES);
        assert_eq!(gangs.len(), ways.len());
        gangs
    }

    /// Class and clamping in the order of work.
    fn ordered(classes: &[NonEmpty<Gang>]) -> Vec<(usize, Gang)> {
        let table: Table<NonEmpty<Gang>> = classes.to_vec().into();
        let column = table.column(|_, gangs| gangs.clone());
        let order = work_order(&column, 1.5).into_iter();
        order
            .map(|(class, gang)| (class.index(), gang.clone()))
            .collect()
    }

    fn fences(order: &[(usize, Gang)]) -> Vec<f64> {
        let mut list: Vec<f64> = order.iter().map(|(_, gang)| gang.fence_deg).collect();
        list.dedup();
        list
    }

    #[test]
    fn every_fence_is_milled_once_and_every_clamping_comes_once() {
        use Edge::{Back, Front};
        let classes = [
            class(&[(Front, 45.0), (Front, 90.0), (Front, 135.0)]),
            class(&[(Front, 135.0), (Back, 90.0), (Back, 45.0)]),
            class(&[(Back, 90.0), (Front, 90.0), (Front, 45.0)]),
        ];
        let order = ordered(&classes);
        assert_eq!(fences(&order).len(), 3);
        for (class, gangs) in classes.iter().enumerate() {
            let mine = || order.iter().filter(|c| c.0 == class).map(|c| &c.1);
            assert_eq!(mine().count(), gangs.len());
            for gang in gangs {
                assert_eq!(mine().filter(|own| *own == gang).count(), 1, "{gang:?}");
            }
        }
    }

    #[test]
    fn sticks_are_turned_as_seldom_as_the_fences_allow() {
        use Edge::{Back, Front};
        // Front at 120, back at 60 and 120: one turn at the least, which 60, then 120 (back, front), or 120
        // (front, back), then 60, do; front at 120 is the shallowest.
        let order = ordered(&[class(&[(Front, 120.0), (Back, 60.0), (Back, 120.0)])]);
        let edges: Vec<Edge> = order.iter().map(|(_, gang)| gang.edge).collect();
        assert_eq!(edges, [Front, Back, Back]);
        assert_eq!(fences(&order), [120.0, 60.0]);
    }

    #[test]
    fn shallow_slots_come_first_where_nothing_else_decides() {
        use Edge::Front;
        for ways in [[120.0, 60.0], [60.0, 120.0]] {
            assert_eq!(fences(&ordered(&[class(&ways.map(|t| (Front, t)))])), ways);
        }
    }

    #[test]
    fn many_fences_are_put_in_an_order_without_trying_all() {
        let ways: Vec<(Edge, f64)> = (0..9)
            .map(|k| (Edge::Front, 50.0 + 9.0 * f64::from(k)))
            .collect();
        let order = ordered(&[class(&ways)]);
        let angles: Vec<f64> = ways.iter().map(|w| w.1).collect();
        assert_eq!(fences(&order), angles, "shallow first");
    }
}
