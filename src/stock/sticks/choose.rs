//! How many joints the sticks of a class have: the least total milled length, then the fewest sticks.

use super::pack::{Blank, Effort, Kind, Lost, Packing, ROUND_OFF, at_least, counts, pack};
use super::pattern::Pattern;
use crate::table::Table;

/// A class of sticks to be settled.
#[derive(Debug, Clone, Copy)]
pub(super) struct Task<'a> {
    pub(super) pattern: &'a Pattern,
    pub(super) kinds: &'a Table<Kind>,
    pub(super) saw_kerf: f64,
    /// Wood before the first and past the last joint of every stick, mm.
    pub(super) lead: f64,
    pub(super) tail: f64,
    /// The longest stick, mm.
    pub(super) limit: f64,
}

/// The sticks of a class.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Choice {
    /// How many joints each has.
    pub(super) joints: usize,
    /// Which joint of the pattern's period its first one is.
    pub(super) phase: usize,
    pub(super) packing: Packing,
    /// Whether no other choice is better; proven.
    pub(super) optimal: bool,
}

/// Most counts of joints that are looked at.
const MOST_CANDIDATES: usize = 100_000;
/// Most of them that are tried quickly.
const MOST_TRIED: usize = 300;
/// Most of them that are tried in full.
const MOST_IN_FULL: usize = 12;

/// A count of joints and a phase.
#[derive(Debug, Clone)]
struct Candidate {
    joints: usize,
    phase: usize,
    length: f64,
    least: u64,
    /// Whether all pieces are known to find room.
    fits: bool,
}

impl Candidate {
    /// Least total length, then least number of sticks, as far as is proven.
    fn floor(&self) -> (f64, u64) {
        (self.least as f64 * self.length, self.least)
    }
}

/// Sticks that hold all pieces.
struct Best {
    /// Total length and number.
    total: (f64, u64),
    joints: usize,
    phase: usize,
    packing: Packing,
}

/// Whether one total and count is better than another.
fn better(a: (f64, u64), b: (f64, u64)) -> bool {
    const SAME_TOTAL: f64 = 1e-6;
    if (a.0 - b.0).abs() <= SAME_TOTAL {
        a.1 < b.1
    } else {
        a.0 < b.0
    }
}

impl Task<'_> {
    fn blank(&self, joints: usize, phase: usize) -> Blank<'_> {
        Blank {
            pattern: self.pattern,
            saw_kerf: self.saw_kerf,
            joints,
            phase,
        }
    }

    /// Length of a stick, mm.
    pub(super) fn length(&self, joints: usize, phase: usize) -> f64 {
        let place = |j: usize| self.pattern.place((phase + j) as i64);
        self.lead + place(joints.saturating_sub(1)) - place(0) + self.tail
    }

    /// The best sticks; `None` where the longest piece fits none within the limit.
    pub(super) fn choose(&self) -> Option<Choice> {
        let lost = Lost::between(self.kinds, self.pattern, self.saw_kerf);
        let (mut candidates, all) = self.candidates(lost);
        let mut best: Option<Best> = None;
        let mut proven = all;
        for (tried, c) in candidates.iter_mut().enumerate() {
            if best.as_ref().is_some_and(|b| !better(c.floor(), b.total)) {
                // Those that follow promise no more.
                break;
            }
            if tried >= MOST_TRIED {
                proven = false;
                break;
            }
            let Some(found) = self.packed(c, lost, Effort::Quick) else {
                // Nothing fits: it promises nothing.
                c.least = u64::MAX;
                continue;
            };
            c.fits = true;
            if best.as_ref().is_none_or(|b| better(found.total, b.total)) {
                best = Some(found);
            }
        }
        let mut best = best?;
        let mut in_full = 0;
        for c in &mut candidates {
            if !c.fits || !better(c.floor(), best.total) {
                continue;
            }
            if in_full >= MOST_IN_FULL {
                proven = false;
                break;
            }
            in_full += 1;
            if let Some(found) = self.packed(c, lost, Effort::Full)
                && better(found.total, best.total)
            {
                best = found;
            }
        }
        let beaten = candidates.iter().any(|c| better(c.floor(), best.total));
        Some(Choice {
            joints: best.joints,
            phase: best.phase,
            packing: best.packing,
            optimal: proven && !beaten,
        })
    }

    /// All pieces on sticks of a candidate, which learns how many it takes at the least.
    fn packed(&self, c: &mut Candidate, lost: Lost, effort: Effort) -> Option<Best> {
        let packing = pack(self.kinds, self.blank(c.joints, c.phase), lost, effort)?;
        c.least = c.least.max(packing.least);
        Some(Best {
            total: (packing.used as f64 * c.length, packing.used),
            joints: c.joints,
            phase: c.phase,
            packing,
        })
    }

    /// All counts of joints within the limit, the most promising first; and whether these are all.
    fn candidates(&self, lost: Lost) -> (Vec<Candidate>, bool) {
        let longest = self.kinds.iter().map(|k| k.joints).fold(0, usize::max);
        // On a stick of so many joints everything fits; a longer one is only longer.
        let most = self.kinds.iter().fold(0_u64, |sum, k| {
            let one = k.joints as u64 + lost.most();
            sum.saturating_add(k.count.saturating_mul(one))
        });
        let most = most.saturating_add(self.pattern.len() as u64);
        let mut out = Vec::new();
        for joints in longest.. {
            if joints as u64 > most {
                break;
            }
            let mut any = false;
            for phase in 0..self.pattern.len() {
                let length = self.length(joints, phase);
                if length > self.limit + ROUND_OFF {
                    continue;
                }
                any = true;
                out.push(Candidate {
                    joints,
                    phase,
                    length,
                    least: at_least(self.kinds, &counts(self.kinds), lost, joints),
                    fits: false,
                });
            }
            if !any {
                break;
            }
            if out.len() > MOST_CANDIDATES {
                return (sorted(out), false);
            }
        }
        (sorted(out), true)
    }
}

fn sorted(mut candidates: Vec<Candidate>) -> Vec<Candidate> {
    candidates.sort_by(|a, b| {
        let (x, y) = (a.floor(), b.floor());
        (x.0.total_cmp(&y.0))
            .then(x.1.cmp(&y.1))
            .then(a.joints.cmp(&b.joints))
            .then(a.phase.cmp(&b.phase))
    });
    candidates
}
