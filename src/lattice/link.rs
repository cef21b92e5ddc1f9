//! Complete linkage: things that are near each other become groups, none of which holds two that are not.

use std::collections::{BTreeMap, BTreeSet};

use super::model::Turn;

/// How far two things are apart, in whole steps, with the second one turned in each way of [`Turn::ALL`].
/// Turns keep distances: turned both, two things are as far apart as before.
pub(super) struct Nearness {
    /// The two, the lesser first.
    pub(super) pair: [usize; 2],
    /// Steps, or [`APART`].
    pub(super) apart: [u64; 4],
}

/// Too far apart to be in one group.
pub(super) const APART: u64 = u64::MAX;

/// Things that belong together, at least one. The first one's frame is the group's.
pub(super) struct Group<T> {
    pub(super) first: T,
    /// The others, each with the turn that carries it into the group's frame.
    pub(super) others: Vec<(T, Turn)>,
}

impl<T: Copy> Group<T> {
    /// A thing by itself.
    pub(super) fn of_one(first: T) -> Self {
        let others = Vec::new();
        Self { first, others }
    }

    /// All its things, each with the turn that carries it into the group's frame.
    pub(super) fn entries(&self) -> impl Iterator<Item = (T, Turn)> {
        std::iter::once((self.first, Turn::None)).chain(self.others.iter().copied())
    }
}

/// Groups of things: again and again the two nearest groups become one, as far apart as the two of their things
/// that are farthest apart; of equally near ones those with the least first things. Each thing has the turn that
/// carries it into the group's frame, which is that of its first thing.
pub(super) fn link<T: Copy>(things: &[T], near: Vec<Nearness>) -> Vec<Group<T>> {
    let count = things.len();
    let mut groups: Vec<Vec<(T, Turn)>> = things.iter().map(|&t| vec![(t, Turn::None)]).collect();
    let mut apart: Vec<BTreeMap<usize, [u64; 4]>> = vec![BTreeMap::new(); count];
    let mut waiting: BTreeSet<(u64, usize, usize)> = BTreeSet::new();
    for Nearness {
        pair: [a, b],
        apart: steps,
    } in near
    {
        apart[a].insert(b, steps);
        apart[b].insert(a, steps);
        waiting.insert((least(&steps), a, b));
    }
    while let Some((_, a, b)) = waiting.pop_first() {
        let between = apart[a][&b];
        let by = (1..4).fold(0, |by, turn| {
            if between[turn] < between[by] {
                turn
            } else {
                by
            }
        });
        let joined = std::mem::take(&mut groups[b]);
        let turned = joined
            .into_iter()
            .map(|(i, turn)| (i, turn.then(Turn::ALL[by])));
        groups[a].extend(turned);
        let (of_a, of_b) = (std::mem::take(&mut apart[a]), std::mem::take(&mut apart[b]));
        for (gone, of) in [(a, &of_a), (b, &of_b)] {
            for (&other, steps) in of {
                apart[other].remove(&gone);
                waiting.remove(&(least(steps), gone.min(other), gone.max(other)));
            }
        }
        for (other, steps) in of_a {
            let Some(more) = of_b.get(&other) else {
                continue;
            };
            // A thing of b lies turned in a's frame: it is as far from the other as the other, turned back.
            let both: [u64; 4] = std::array::from_fn(|u| steps[u].max(more[u ^ by]));
            if least(&both) < APART {
                waiting.insert((least(&both), a.min(other), a.max(other)));
                apart[other].insert(a, both);
                apart[a].insert(other, both);
            }
        }
    }
    // Those that have become part of another are empty.
    let left = groups.iter().filter_map(|group| group.split_first());
    left.map(|(&(first, _), others)| Group {
        first,
        others: others.to_vec(),
    })
    .collect()
}

fn least(steps: &[u64; 4]) -> u64 {
    steps.iter().copied().fold(APART, u64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers on a line, none of which a turn changes.
    fn groups(numbers: &[u64], most: u64) -> Vec<Vec<usize>> {
        let mut near = Vec::new();
        for (a, x) in numbers.iter().enumerate() {
            for (b, y) in numbers.iter().enumerate().skip(a + 1) {
                let apart = x.abs_diff(*y);
                if apart <= most {
                    near.push(Nearness {
                        pair: [a, b],
                        apart: [apart; 4],
                    });
                }
            }
        }
        let things: Vec<usize> = (0..numbers.len()).collect();
        let groups = link(&things, near);
        let bare = groups.iter().map(|g| g.entries().map(|i| i.0).collect());
        bare.collect()
    }

    #[test]
    fn groups_never_chain() {
        // Each is 4 from the next: all would be one group by single linkage. By hand: the first two, then the
        // next two, and the last finds no group that is within 10 but the second.
        assert_eq!(groups(&[0, 4, 8, 12, 16], 10), [vec![0, 1], vec![2, 3, 4]]);
        assert_eq!(groups(&[0, 10, 20], 10), [vec![0, 1], vec![2]]);
        assert_eq!(groups(&[0, 11, 22], 10), [vec![0], vec![1], vec![2]]);
    }

    #[test]
    fn a_thing_comes_in_by_its_nearest_turn() {
        // The second lies over; the third end for end to the second, which is both to the first.
        let near = vec![
            Nearness {
                pair: [0, 1],
                apart: [9, 2, APART, APART],
            },
            Nearness {
                pair: [1, 2],
                apart: [APART, APART, 3, 8],
            },
            Nearness {
                pair: [0, 2],
                apart: [APART, APART, APART, 4],
            },
        ];
        let groups = link(&[0, 1, 2], near);
        let groups: Vec<Vec<_>> = groups.iter().map(|g| g.entries().collect()).collect();
        assert_eq!(
            groups,
            [[(0, Turn::None), (1, Turn::Over), (2, Turn::Both)]]
        );
        // All near each other, but by turns that do not go together.
        let near = vec![
            Nearness {
                pair: [0, 1],
                apart: [APART, 2, APART, APART],
            },
            Nearness {
                pair: [1, 2],
                apart: [APART, APART, 3, APART],
            },
            Nearness {
                pair: [0, 2],
                apart: [4, APART, APART, APART],
            },
        ];
        assert_eq!(link(&[0, 1, 2], near).len(), 2);
    }
}
