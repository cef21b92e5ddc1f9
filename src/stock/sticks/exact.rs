//! The fewest sticks for a few pieces: all ways to fill one stick, then all ways to choose sticks.

use std::collections::{BTreeMap, BTreeSet};

use super::pack::{Blank, End, Filled, Kind, Lost, Slot, at_least};

/// Most steps of looking for fillings.
const FILL_STEPS: u64 = 200_000;
/// Most fillings.
const MOST_FILLINGS: usize = 4_000;
/// Most sticks.
const MOST_STICKS: u64 = 500;
/// Most steps of looking for a choice of sticks.
const CHOICE_STEPS: u64 = 400_000;

/// Looks for fewer than `beat` sticks, `least` at least. Gives what was found, if anything, and how many
/// sticks are then proven needed; `None` where it would take too long.
pub(super) fn exact(
    kinds: &[Kind],
    blank: Blank<'_>,
    lost: Lost,
    least: u64,
    beat: u64,
) -> Option<(Option<Vec<Filled>>, u64)> {
    if beat > MOST_STICKS {
        return None;
    }
    let mut fill = Fillings {
        kinds,
        blank,
        left: kinds.iter().map(|k| k.count).collect(),
        slots: Vec::new(),
        found: BTreeMap::new(),
        steps: FILL_STEPS,
    };
    fill.go(None)?;
    // What holds fewer than another of every kind is of no use.
    let all: Vec<(Vec<u64>, Vec<Slot>)> = fill.found.into_iter().collect();
    let covers = |a: &[u64], b: &[u64]| a != b && a.iter().zip(b).all(|(x, y)| x >= y);
    let fillings: Vec<&(Vec<u64>, Vec<Slot>)> = all
        .iter()
        .filter(|f| !all.iter().any(|g| covers(&g.0, &f.0)))
        .collect();
    let mut choice = Choice {
        kinds,
        blank,
        lost,
        fillings: fillings.iter().map(|f| f.0.as_slice()).collect(),
        chosen: Vec::new(),
        dead: BTreeSet::new(),
        steps: CHOICE_STEPS,
    };
    for sticks in least..beat {
        choice.dead.clear();
        let left: Vec<u64> = kinds.iter().map(|k| k.count).collect();
        if choice.go(left, sticks)? {
            return Some((choice.laid(&fillings), sticks));
        }
    }
    Some((None, beat))
}

/// All fillings of one stick.
struct Fillings<'a> {
    kinds: &'a [Kind],
    blank: Blank<'a>,
    left: Vec<u64>,
    slots: Vec<Slot>,
    found: BTreeMap<Vec<u64>, Vec<Slot>>,
    steps: u64,
}

impl Fillings<'_> {
    fn go(&mut self, end: Option<End>) -> Option<()> {
        self.steps = self.steps.checked_sub(1)?;
        let mut full = true;
        for (i, kind) in self.kinds.iter().enumerate() {
            if self.left.get(i).is_none_or(|n| *n == 0) {
                continue;
            }
            for (way, w) in kind.ways.iter().enumerate() {
                let Some(first) = self.blank.earliest(end, kind.joints, w) else {
                    continue;
                };
                full = false;
                *self.left.get_mut(i)? -= 1;
                self.slots.push(Slot {
                    kind: i,
                    way,
                    first,
                });
                self.go(Some((first + kind.joints - 1, w.ends.after)))?;
                self.slots.pop();
                *self.left.get_mut(i)? += 1;
            }
        }
        if full {
            let counts = self.kinds.iter().zip(&self.left).map(|(k, n)| k.count - n);
            self.found
                .entry(counts.collect())
                .or_insert_with(|| self.slots.clone());
            if self.found.len() > MOST_FILLINGS {
                return None;
            }
        }
        Some(())
    }
}

/// A choice of sticks that hold all pieces.
struct Choice<'a> {
    kinds: &'a [Kind],
    blank: Blank<'a>,
    lost: Lost,
    fillings: Vec<&'a [u64]>,
    chosen: Vec<usize>,
    dead: BTreeSet<(u64, Vec<u64>)>,
    steps: u64,
}

impl Choice<'_> {
    /// Whether so many sticks hold what is left.
    fn go(&mut self, left: Vec<u64>, sticks: u64) -> Option<bool> {
        self.steps = self.steps.checked_sub(1)?;
        // The longest piece left goes into the next stick.
        let open = self
            .kinds
            .iter()
            .enumerate()
            .filter(|(i, _)| left.get(*i) > Some(&0));
        let Some((longest, _)) = open.max_by_key(|(i, k)| (k.joints, std::cmp::Reverse(*i))) else {
            return Some(true);
        };
        let rest: Vec<Kind> = self
            .kinds
            .iter()
            .zip(&left)
            .map(|(k, &count)| Kind {
                count,
                ways: Vec::new(),
                ..*k
            })
            .collect();
        if at_least(&rest, self.lost, self.blank.joints) > sticks {
            return Some(false);
        }
        let state = (sticks, left);
        if self.dead.contains(&state) {
            return Some(false);
        }
        for f in 0..self.fillings.len() {
            let filling = *self.fillings.get(f)?;
            if filling.get(longest).is_none_or(|n| *n == 0) {
                continue;
            }
            let after = state
                .1
                .iter()
                .zip(filling)
                .map(|(l, n)| l.saturating_sub(*n));
            self.chosen.push(f);
            if self.go(after.collect(), sticks - 1)? {
                return Some(true);
            }
            self.chosen.pop();
        }
        self.dead.insert(state);
        Some(false)
    }

    /// The chosen sticks, with no more pieces than there are.
    fn laid(&self, fillings: &[&(Vec<u64>, Vec<Slot>)]) -> Option<Vec<Filled>> {
        let mut left: Vec<u64> = self.kinds.iter().map(|k| k.count).collect();
        let mut sticks: Vec<Filled> = Vec::new();
        for &f in &self.chosen {
            let mut slots = fillings.get(f)?.1.clone();
            slots.retain(|slot| {
                let n = left.get_mut(slot.kind);
                n.is_some_and(|n| {
                    let some = *n > 0;
                    *n = n.saturating_sub(1);
                    some
                })
            });
            match sticks.iter_mut().find(|s| s.slots == slots) {
                Some(same) => same.times += 1,
                None => sticks.push(Filled { slots, times: 1 }),
            }
        }
        Some(sticks)
    }
}
