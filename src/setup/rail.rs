//! How much of the reference rail's face is left by the slots that run into it, and whether it still serves.

use super::gang::Gang;
use crate::geom::sin_deg;

/// In every stretch of this length, mm, half of the face must stand.
const STRETCH: f64 = 100.0;
/// So much of the face must stand whole where a stick begins and where it ends, mm.
const WHOLE: f64 = 20.0;

/// The face of a reference rail: where slots have opened it, along x, mm.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RailFace {
    /// Openings, ascending, none of which touch.
    open: Vec<[f64; 2]>,
}

impl RailFace {
    /// Whether a gang may lie against it: of every 100 mm that its stick touches at least half stands, and the
    /// first and the last 20 mm of it.
    #[must_use]
    pub fn serves(&self, gang: &Gang, radius: f64) -> bool {
        let from = gang.rails(radius)[0].x0;
        let to = gang.datum(0).x + gang.length;
        let whole = |lo: f64, hi: f64| self.opened(lo, hi) <= 1e-9;
        let stretch = STRETCH.min(to - from);
        let half = |lo: f64| self.opened(lo, lo + stretch) <= 0.5 * stretch + 1e-9;
        // The most of a stretch is open where it begins or ends with an opening.
        let ends = self.open.iter().flat_map(|o| [o[0], o[1] - stretch]);
        whole(from, from + WHOLE)
            && whole(to - WHOLE, to)
            // Of a rail no longer than the stretch the end may lie before the start by round-off.
            && ends.map(|lo| lo.min(to - stretch).max(from)).all(half)
    }

    /// Opens it where the slots of a gang run into it. The mark is left out: rails are lower than sticks, so that
    /// it hardly reaches them.
    pub fn cut(&mut self, gang: &Gang) {
        let s = sin_deg(gang.fence_deg);
        let at = |d: f64| gang.at(d, 0.0).x;
        self.open.extend(gang.slots.iter().map(|slot| {
            let x = at(gang.from_fence(slot.at));
            let half = 0.5 * slot.width / s;
            [x - half, x + half]
        }));
        self.open.sort_by(|a, b| a[0].total_cmp(&b[0]));
        self.open.dedup_by(|next, one| {
            let touch = next[0] <= one[1];
            if touch {
                one[1] = one[1].max(next[1]);
            }
            touch
        });
    }

    /// How much is open between two places, mm.
    fn opened(&self, lo: f64, hi: f64) -> f64 {
        let within = |o: &[f64; 2]| (o[1].min(hi) - o[0].max(lo)).max(0.0);
        self.open.iter().map(within).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::clamping::tests::{RULES, slanting};
    use crate::setup::gangs;

    #[test]
    fn a_rail_serves_until_half_of_a_stretch_is_gone() {
        let list = gangs(&slanting(), &RULES);
        let gang = list.first();
        let mut face = RailFace::default();
        assert!(face.serves(gang, 1.5), "fresh");
        face.cut(gang);
        // Slots of 4.05 / sin 60 every 65 mm: far less than half.
        assert!(face.serves(gang, 1.5), "after its own slots");
        let rail = gang.rails(1.5)[0];
        let with = |open: [f64; 2]| RailFace { open: vec![open] };
        assert!(with([100.0, 150.0]).serves(gang, 1.5));
        assert!(!with([100.0, 150.1]).serves(gang, 1.5));
        assert!(!with([rail.x0 + 19.9, rail.x0 + 21.0]).serves(gang, 1.5));
        assert!(with([rail.x0 + 20.1, rail.x0 + 21.0]).serves(gang, 1.5));
        let end = gang.datum(0).x + gang.length;
        assert!(!with([end - 19.9, end - 19.0]).serves(gang, 1.5));
    }
}
