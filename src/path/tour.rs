//! Short travel between cuts: the order in which open or closed cuts are visited.

use kurbo::Point;

/// Where a cut is entered and where it is left; its direction is fixed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Visit {
    /// Where the head arrives.
    pub enter: Point,
    /// Where it is when the cut is done.
    pub leave: Point,
}

/// How many places ahead an exchange is looked for: keeps the work linear in the number of cuts.
const WINDOW: usize = 120;
/// Passes over the tour at most; each pass takes every exchange that shortens it.
const PASSES: usize = 40;
/// An exchange must save more than this, mm, so that round-off cannot go round in circles.
const LEAST_GAIN: f64 = 1e-7;
/// Up to this many cuts, the nearest neighbour is looked for among all of them.
const NEAREST_LIMIT: usize = 4000;

/// An order of visits with short travel, from `start`: the better of the given order and nearest
/// neighbour, then improved by moving short runs (Or's exchange) and by turning stretches round
/// (2-opt) until nothing within reach helps. Deterministic; never longer than nearest neighbour.
#[must_use]
pub fn short_tour(visits: &[Visit], start: Point) -> Vec<usize> {
    let given: Vec<usize> = (0..visits.len()).collect();
    let mut tour = given;
    if visits.len() <= NEAREST_LIMIT {
        let nearest = nearest_neighbour(visits, start);
        if travel(visits, &nearest, start) < travel(visits, &tour, start) {
            tour = nearest;
        }
    }
    for _ in 0..PASSES {
        let moved = move_runs(visits, &mut tour, start);
        let turned = turn_stretches(visits, &mut tour, start);
        if !moved && !turned {
            break;
        }
    }
    tour
}

/// Travel of an order, mm, from `start` to the last visit's entry.
#[must_use]
pub fn travel(visits: &[Visit], tour: &[usize], start: Point) -> f64 {
    let mut from = start;
    let mut sum = 0.0;
    for &v in tour {
        sum += from.distance(visits[v].enter);
        from = visits[v].leave;
    }
    sum
}

/// The order that always goes to the nearest cut next.
#[must_use]
pub fn nearest_neighbour(visits: &[Visit], start: Point) -> Vec<usize> {
    let mut left: Vec<usize> = (0..visits.len()).collect();
    let mut tour = Vec::with_capacity(visits.len());
    let mut from = start;
    while let Some((at, _)) = left
        .iter()
        .enumerate()
        .map(|(at, &v)| (at, from.distance_squared(visits[v].enter)))
        .min_by(|a, b| a.1.total_cmp(&b.1).then(left[a.0].cmp(&left[b.0])))
    {
        let v = left.swap_remove(at);
        from = visits[v].leave;
        tour.push(v);
    }
    tour
}

/// Way from the visit at place `i - 1` (or the start) to the one at place `j` (or nothing).
fn leg(visits: &[Visit], tour: &[usize], start: Point, i: usize, j: usize) -> f64 {
    let from = if i == 0 {
        start
    } else {
        visits[tour[i - 1]].leave
    };
    tour.get(j).map_or(0.0, |&v| from.distance(visits[v].enter))
}

/// Moves runs of one to three visits to a better place.
fn move_runs(visits: &[Visit], tour: &mut [usize], start: Point) -> bool {
    let n = tour.len();
    let mut any = false;
    for run in 1..=3usize.min(n.saturating_sub(1)) {
        for i in 0..=n - run {
            let cut = leg(visits, tour, start, i, i) + leg(visits, tour, start, i + run, i + run)
                - leg(visits, tour, start, i, i + run);
            if cut <= LEAST_GAIN {
                continue;
            }
            let (first, last) = (visits[tour[i]].enter, visits[tour[i + run - 1]].leave);
            let mut best = (LEAST_GAIN, None);
            let places = i.saturating_sub(WINDOW)..(i + run + WINDOW).min(n + 1);
            for to in places.filter(|&to| to < i || to > i + run) {
                let from = if to == 0 {
                    start
                } else {
                    visits[tour[to - 1]].leave
                };
                let onward = tour
                    .get(to)
                    .map_or(0.0, |&v| last.distance(visits[v].enter));
                let added = from.distance(first) + onward - leg(visits, tour, start, to, to);
                if cut - added > best.0 {
                    best = (cut - added, Some(to));
                }
            }
            if let Some(to) = best.1 {
                if to < i {
                    tour[to..i + run].rotate_right(run);
                } else {
                    tour[i..to].rotate_left(run);
                }
                any = true;
            }
        }
    }
    any
}

/// Turns a stretch of the tour round where that is shorter; the cuts keep their own direction.
fn turn_stretches(visits: &[Visit], tour: &mut [usize], start: Point) -> bool {
    let n = tour.len();
    let mut any = false;
    for i in 0..n {
        let mut best = (LEAST_GAIN, None);
        // Ways inside the stretch i..=j, forwards and backwards.
        let (mut forwards, mut backwards) = (0.0, 0.0);
        let from = if i == 0 {
            start
        } else {
            visits[tour[i - 1]].leave
        };
        for j in i + 1..(i + WINDOW).min(n) {
            let (a, b) = (visits[tour[j - 1]], visits[tour[j]]);
            forwards += a.leave.distance(b.enter);
            backwards += b.leave.distance(a.enter);
            let onward = |leave: Point| {
                tour.get(j + 1)
                    .map_or(0.0, |&v| leave.distance(visits[v].enter))
            };
            let first = visits[tour[i]];
            let before = from.distance(first.enter) + forwards + onward(b.leave);
            let after = from.distance(b.enter) + backwards + onward(first.leave);
            if before - after > best.0 {
                best = (before - after, Some(j));
            }
        }
        if let Some(j) = best.1 {
            tour[i..=j].reverse();
            any = true;
        }
    }
    any
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(n: usize, seed: u64) -> Vec<Visit> {
        let mut state = seed;
        let mut next = || {
            state = state
                .wrapping_mul(6364136223846793005)
                .wrapping_add(1442695040888963407);
            (state >> 40) as f64 / f64::from(1 << 24)
        };
        (0..n)
            .map(|_| {
                let p = Point::new(600.0 * next(), 400.0 * next());
                Visit {
                    enter: p,
                    leave: Point::new(p.x + 5.0, p.y),
                }
            })
            .collect()
    }

    #[test]
    fn every_cut_once_and_never_longer_than_nearest_neighbour() {
        let mut gains = Vec::new();
        for seed in 1..12 {
            let visits = grid(60, seed);
            let tour = short_tour(&visits, Point::ORIGIN);
            let mut seen = tour.clone();
            seen.sort_unstable();
            assert_eq!(seen, (0..60).collect::<Vec<_>>(), "each cut once");
            let near = travel(
                &visits,
                &nearest_neighbour(&visits, Point::ORIGIN),
                Point::ORIGIN,
            );
            let mine = travel(&visits, &tour, Point::ORIGIN);
            assert!(mine <= near + 1e-6, "{mine} against {near}");
            gains.push(mine / near);
        }
        let mean = gains.iter().sum::<f64>() / gains.len() as f64;
        assert!(
            mean < 0.92,
            "shorter than nearest neighbour by a clear margin: {mean}"
        );
    }

    #[test]
    fn small_tours_reach_the_optimum() {
        // Exhaustive search over all orders of seven cuts.
        fn best(visits: &[Visit], tour: &mut Vec<usize>, left: &mut Vec<usize>, least: &mut f64) {
            if left.is_empty() {
                *least = least.min(travel(visits, tour, Point::ORIGIN));
            }
            for i in 0..left.len() {
                let v = left.remove(i);
                tour.push(v);
                best(visits, tour, left, least);
                tour.pop();
                left.insert(i, v);
            }
        }
        let mut reached = 0;
        for seed in 1..21 {
            let visits = grid(7, seed);
            let mut least = f64::INFINITY;
            best(&visits, &mut Vec::new(), &mut (0..7).collect(), &mut least);
            let mine = travel(&visits, &short_tour(&visits, Point::ORIGIN), Point::ORIGIN);
            assert!(mine <= 1.25 * least, "{mine} against {least}");
            reached += usize::from(mine <= least + 1e-6);
        }
        assert!(reached >= 14, "{reached} of 20 reach the optimum");
    }
}
