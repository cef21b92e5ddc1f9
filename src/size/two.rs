//! Two steps that may be chosen freely: own pitches across and up, or pitch and angle of a diamond.

use kurbo::Vec2;

use super::asked::Range;
use super::found::Closes;
use super::round::roundest;
use super::tied::{Found, Left, Within};
use crate::geom::{atan2_deg, cos_deg, sin_deg};

/// A surround may be this far from the width that keeps the cells' proportions, for a rounder one, mm.
const ROUNDER: f64 = 0.05;

/// Pitches across and up that close with one surround, the cells as near as can be to the proportion
/// `ratio` (up to across). `left` counts each pitch by itself.
pub(super) fn exact(
    left: &Left,
    pitch: [Range; 2],
    surround: Range,
    tolerance: f64,
    ratio: f64,
) -> Option<Found> {
    // One pitch for both, if it does: one story stick marks both ways.
    let tied = Left {
        slope: [left.slope[0], left.slope[1] * ratio],
        ..*left
    };
    let up = Range {
        least: pitch[1].least / ratio,
        greatest: pitch[1].greatest / ratio,
    };
    let common = pitch[0].and(up);
    let within = Within {
        pitch: common,
        surround,
        tolerance,
        near: common.least,
    };
    if let Some(found) = tied.exact(within) {
        let pitch = [found.pitch[0], found.pitch[1] * ratio];
        let pitch = [pitch[0], roundest(Range::about(pitch[1], 1e-9), pitch[1])];
        return Some(Found { pitch, ..found });
    }
    let half = 0.5 * tolerance;
    let leaves = |i: usize| left.over(i, pitch[i]).wider(half);
    let room = surround.and(leaves(0)).and(leaves(1));
    if room.is_empty() {
        return None;
    }
    let steps = |width: f64| [0, 1].map(|i| (left.at[i] - width) / left.slope[i]);
    let off = |width: f64| {
        let [across, up] = steps(width);
        libm::log(up / (across * ratio)).abs()
    };
    // Proportions change one way with the width: the best is where they are right, or an end.
    let right = (ratio * left.at[0] / left.slope[0] - left.at[1] / left.slope[1])
        / (ratio / left.slope[0] - 1.0 / left.slope[1]);
    let best = [room.nearest(right), room.least, room.greatest]
        .into_iter()
        .filter(|w| !w.is_nan())
        .min_by(|a, b| off(*a).total_cmp(&off(*b)))?;
    let width = roundest(room.and(Range::about(best, ROUNDER)), best);
    let one = |i: usize| {
        let middle = steps(width)[i];
        let by = half / left.slope[i];
        roundest(pitch[i].and(Range::about(middle, by)), middle)
    };
    Some(Found {
        pitch: [one(0), one(1)],
        surround: [width; 2],
        closes: Closes::Exact,
    })
}

/// Pitches and one surround that come nearest where none close.
pub(super) fn nearest(left: &Left, pitch: [Range; 2], surround: Range, ratio: f64) -> Found {
    // What each way leaves over its pitches; a width in both would close.
    let leaves = [0, 1].map(|i| left.over(i, pitch[i]));
    let both = leaves[0].and(leaves[1]);
    let middle = 0.5 * (both.least + both.greatest);
    let wanted = if both.is_empty() {
        middle
    } else {
        both.nearest(surround.nearest(middle))
    };
    let width = surround.nearest(wanted);
    let one = |i: usize| pitch[i].nearest((left.at[i] - width) / left.slope[i]);
    let mut pitch = [one(0), one(1)].map(|p| roundest(Range::about(p, 1e-3), p));
    if (pitch[1] - pitch[0] * ratio).abs() < 1e-6 {
        pitch[1] = pitch[0] * ratio;
    }
    Found {
        pitch,
        surround: [roundest(Range::about(width, 1e-3).and(surround), width); 2],
        closes: Closes::Misses,
    }
}

/// A diamond whose angle may vary.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turned {
    /// Half cells across and up.
    pub(super) counts: [f64; 2],
    /// What no half cell at all would leave on each side, mm.
    pub(super) at: [f64; 2],
    /// Angles allowed, degrees.
    pub(super) angle: Range,
    /// The angle to stay near.
    pub(super) own: f64,
}

impl Turned {
    /// What a pitch leaves at an angle.
    pub(super) fn left(&self, angle: f64) -> Left {
        let k = [cos_deg(angle), sin_deg(angle)];
        Left {
            at: self.at,
            slope: [0, 1].map(|i| 0.5 * self.counts[i] * k[i]),
        }
    }

    /// The half cell that closes with a surround of this width.
    fn step(&self, width: f64) -> [f64; 2] {
        [0, 1].map(|i| 2.0 * (self.at[i] - width) / self.counts[i])
    }

    /// Pitch and angle that close with one surround, the angle as near to the panel's own as can be.
    pub(super) fn exact(&self, within: Within) -> Option<(Found, f64)> {
        let Within {
            pitch, surround, ..
        } = within;
        let at = |angle: f64| {
            let found = self.left(angle).exact(within).map(|f| (f, angle));
            found.filter(|_| self.angle.least <= angle && angle <= self.angle.greatest)
        };
        if let Some(found) = at(self.own) {
            return Some(found);
        }
        // A wider surround asks for a smaller pitch.
        let along = |width: f64| {
            let [across, up] = self.step(width);
            Vec2::new(across, up).hypot()
        };
        let widest = self.at[0].min(self.at[1]);
        let room = Range {
            least: surround.least,
            greatest: surround.greatest.min(widest),
        };
        let room = Range {
            least: falls_to(along, room, pitch.greatest)?,
            greatest: -falls_to(|w| -along(-w), turned(room), -pitch.least)?,
        };
        if room.is_empty() {
            return None;
        }
        let ends = [room.least, room.greatest].map(|w| {
            let [across, up] = self.step(w);
            atan2_deg(up, across)
        });
        let angles = Range {
            least: ends[0].min(ends[1]),
            greatest: ends[0].max(ends[1]),
        };
        let angles = angles.and(self.angle);
        if angles.is_empty() {
            return None;
        }
        at(roundest(angles, self.own))
    }
}

fn turned(range: Range) -> Range {
    Range {
        least: -range.greatest,
        greatest: -range.least,
    }
}

/// The least x of a range at which a falling function has come down to `value`; `None` where it does not.
fn falls_to(f: impl Fn(f64) -> f64, range: Range, value: f64) -> Option<f64> {
    if range.is_empty() || f(range.greatest) > value {
        return None;
    }
    let (mut above, mut below) = (range.least, range.greatest);
    if f(above) <= value {
        return Some(above);
    }
    // Sixty halvings leave less than round-off of any length here.
    for _ in 0..60 {
        let middle = 0.5 * (above + below);
        if f(middle) <= value {
            below = middle;
        } else {
            above = middle;
        }
    }
    Some(below)
}
