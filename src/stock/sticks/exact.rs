//! The fewest sticks for a few pieces: all ways to fill one stick, then all ways to choose sticks.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::pack::{Blank, End, Filled, Kind, Lost, Slot, at_least, counts};
use crate::table::{Column, Table};

/// Most steps of looking for fillings.
const FILL_STEPS: u64 = 200_000;
/// Most fillings.
const MOST_FILLINGS: usize = 4_000;
/// Most sticks.
const MOST_STICKS: u64 = 500;
/// Most steps of looking for a choice of sticks.
const CHOICE_STEPS: u64 = 400_000;

/// How many pieces of each kind.
type Counts = Column<Kind, u64>;

/// Looks for fewer than `beat` sticks, `least` at least. Gives what was found, if anything, and how many
/// sticks are then proven needed; `None` where it would take too long.
pub(super) fn exact(
    kinds: &Table<Kind>,
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
        left: counts(kinds),
        slots: Vec::new(),
        found: BTreeMap::new(),
        steps: FILL_STEPS,
    };
    fill.go(None)?;
    // What holds fewer than another of every kind is of no use.
    let all: Vec<Filling> = fill.found.into_iter().collect();
    let covers = |a: &Counts, b: &Counts| a != b && a.iter().zip(b.iter()).all(|(x, y)| x >= y);
    let fillings: Vec<&Filling> = all
        .iter()
        .filter(|f| !all.iter().any(|g| covers(&g.0, &f.0)))
        .collect();
    let mut choice = Choice {
        kinds,
        blank,
        lost,
        fillings: &fillings,
        chosen: Vec::new(),
        dead: BTreeSet::new(),
        steps: CHOICE_STEPS,
    };
    for sticks in least..beat {
        choice.dead.clear();
        if choice.go(counts(kinds), sticks)? {
            return Some((Some(choice.laid()), sticks));
        }
    }
    Some((None, beat))
}

/// How many pieces of each kind a stick holds, and where they lie on it.
type Filling = (Counts, Vec<Slot>);

/// All fillings of one stick.
struct Fillings<'a> {
    kinds: &'a Table<Kind>,
    blank: Blank<'a>,
    left: Counts,
    slots: Vec<Slot>,
    found: BTreeMap<Counts, Vec<Slot>>,
    steps: u64,
}

impl Fillings<'_> {
    fn go(&mut self, end: Option<End>) -> Option<()> {
        self.steps = self.steps.checked_sub(1)?;
        let mut full = true;
        for (id, kind) in self.kinds.entries() {
            if self.left[id] == 0 {
                continue;
            }
            for way in &kind.ways {
                let Some(first) = self.blank.earliest(end, kind.joints, way) else {
                    continue;
                };
                full = false;
                self.left[id] -= 1;
                self.slots.push(Slot {
                    kind: id,
                    way: *way,
                    first,
                });
                self.go(Some((first + kind.joints - 1, way.ends.after)))?;
                self.slots.pop();
                self.left[id] += 1;
            }
        }
        if full {
            let counts = self.left.column(|id, left| self.kinds[id].count - left);
            self.found
                .entry(counts)
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
    kinds: &'a Table<Kind>,
    blank: Blank<'a>,
    lost: Lost,
    fillings: &'a [&'a Filling],
    chosen: Vec<&'a Filling>,
    dead: BTreeSet<(u64, Counts)>,
    steps: u64,
}

impl Choice<'_> {
    /// Whether so many sticks hold what is left.
    fn go(&mut self, left: Counts, sticks: u64) -> Option<bool> {
        self.steps = self.steps.checked_sub(1)?;
        // The longest piece left goes into the next stick.
        let open = left.entries().filter(|(_, n)| **n > 0);
        let open = open.map(|(kind, _)| kind);
        let Some(longest) = open.max_by_key(|&kind| (self.kinds[kind].joints, Reverse(kind)))
        else {
            return Some(true);
        };
        if at_least(self.kinds, &left, self.lost, self.blank.joints) > sticks {
            return Some(false);
        }
        let state = (sticks, left);
        if self.dead.contains(&state) {
            return Some(false);
        }
        for &filling in self.fillings {
            if filling.0[longest] == 0 {
                continue;
            }
            let after = state
                .1
                .column(|kind, left| left.saturating_sub(filling.0[kind]));
            self.chosen.push(filling);
            if self.go(after, sticks - 1)? {
                return Some(true);
            }
            self.chosen.pop();
        }
        self.dead.insert(state);
        Some(false)
    }

    /// The chosen sticks, with no more pieces than there are.
    fn laid(&self) -> Vec<Filled> {
        let mut left = counts(self.kinds);
        let mut sticks: Vec<Filled> = Vec::new();
        for (_, slots) in &self.chosen {
            let mut slots = slots.clone();
            slots.retain(|slot| {
                let n = &mut left[slot.kind];
                let some = *n > 0;
                *n = n.saturating_sub(1);
                some
            });
            match sticks.iter_mut().find(|s| s.slots == slots) {
                Some(same) => same.times += 1,
                None => sticks.push(Filled { slots, times: 1 }),
            }
        }
        sticks
    }
}
