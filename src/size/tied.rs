//! One pitch for both ways: what closes, and what comes nearest, for a count of columns and rows.

use super::asked::Range;
use super::found::{Closes, Gives};
use super::round::roundest;

/// What is left for the surround on each side, across and up, as at - slope p for the pitch p, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Left {
    pub(super) at: [f64; 2],
    pub(super) slope: [f64; 2],
}

/// Within what a pitch and a width of the surround are sought. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Within {
    pub(super) pitch: Range,
    pub(super) surround: Range,
    /// How far width and height may be off for a size to count as exact.
    pub(super) tolerance: f64,
    /// The pitch to stay near.
    pub(super) near: f64,
}

/// A pitch and the widths of the surround that go with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Found {
    /// Across and up.
    pub(super) pitch: [f64; 2],
    /// Left and right, bottom and top.
    pub(super) surround: [f64; 2],
    pub(super) closes: Closes,
}

/// Widths of the surround that may differ by as much more than they must, for a rounder pitch, mm.
const ROUNDER: f64 = 0.1;

impl Left {
    /// What is left on each side at pitches across and up.
    pub(super) fn of(&self, pitch: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|i| self.at[i] - self.slope[i] * pitch[i])
    }

    fn both(&self, pitch: f64) -> [f64; 2] {
        self.of([pitch; 2])
    }

    /// What a range of pitches leaves, one way.
    pub(super) fn over(&self, i: usize, pitch: Range) -> Range {
        Range {
            least: self.at[i] - self.slope[i] * pitch.greatest,
            greatest: self.at[i] - self.slope[i] * pitch.least,
        }
    }

    /// Pitches at which what is left lies in `range`, one way.
    fn within(&self, i: usize, range: Range) -> Range {
        range.solved(self.at[i], -self.slope[i])
    }

    /// Pitches at which what is left differs by no more than this.
    fn alike(&self, most: f64) -> Range {
        let (at, slope) = (self.at[0] - self.at[1], self.slope[0] - self.slope[1]);
        Range::about(0.0, most).solved(at, -slope)
    }

    /// The pitch that leaves the same on all sides; `near` where that does not depend on the pitch.
    fn even(&self, near: f64) -> f64 {
        let slope = self.slope[0] - self.slope[1];
        if slope == 0.0 {
            return near;
        }
        (self.at[0] - self.at[1]) / slope
    }

    /// Pitches at which a surround of one width within `surround` leaves the panel off by at most `most`:
    /// what is left, both ways, lies within half of that of one width.
    fn closing(&self, pitch: Range, surround: Range, most: f64) -> Range {
        let room = surround.wider(0.5 * most);
        (pitch.and(self.within(0, room)))
            .and(self.within(1, room))
            .and(self.alike(most))
    }

    /// Widths of one surround that leave the panel off by at most `most` at a pitch.
    fn widths(&self, pitch: [f64; 2], surround: Range, most: f64) -> Range {
        let [across, up] = self.of(pitch).map(|l| Range::about(l, 0.5 * most));
        surround.and(across).and(up)
    }

    /// A surround of one width all round.
    pub(super) fn exact(
        &self,
        Within {
            pitch,
            surround,
            tolerance,
            near,
        }: Within,
    ) -> Option<Found> {
        let all = self.closing(pitch, surround, tolerance);
        if all.is_empty() {
            return None;
        }
        // Half the tolerance for the pitch leaves the other half for a round width.
        let half = self.closing(pitch, surround, 0.5 * tolerance);
        let found = if half.is_empty() { all } else { half };
        let pitch = roundest(found, found.nearest(self.even(near)));
        Some(self.found(pitch, surround, tolerance, Closes::Exact))
    }

    fn found(&self, pitch: f64, surround: Range, most: f64, closes: Closes) -> Found {
        let [across, up] = self.both(pitch);
        let middle = surround.nearest(0.5 * (across + up));
        let widths = self.widths([pitch; 2], surround, most);
        let width = if widths.is_empty() {
            middle
        } else {
            roundest(widths, middle)
        };
        Found {
            pitch: [pitch; 2],
            surround: [width; 2],
            closes,
        }
    }

    /// A surround of two widths, as like as can be.
    pub(super) fn by_surround(
        &self,
        Within {
            pitch,
            surround,
            tolerance,
            near,
        }: Within,
    ) -> Option<Found> {
        let room = (pitch.and(self.within(0, surround))).and(self.within(1, surround));
        if room.is_empty() {
            return None;
        }
        let best = room.nearest(self.even(near));
        let [across, up] = self.both(best);
        let round = room.and(self.alike((across - up).abs() + ROUNDER));
        let pitch = roundest(round, best);
        let width = |l: f64| {
            let widths = surround.and(Range::about(l, 0.5 * tolerance));
            if widths.is_empty() {
                surround.nearest(l)
            } else {
                roundest(widths, l)
            }
        };
        Some(Found {
            pitch: [pitch; 2],
            surround: self.both(pitch).map(width),
            closes: Closes::BySurround,
        })
    }

    /// The pitch and the one width that come nearest. How far the panel is off, as a function of the
    /// pitch, is convex and made of straight pieces: its least value lies where two of them meet.
    pub(super) fn nearest(
        &self,
        Within {
            pitch,
            surround,
            tolerance,
            near,
        }: Within,
    ) -> Found {
        let miss = |p: f64| {
            let [across, up] = self.both(p);
            let width = surround.nearest(0.5 * (across + up));
            2.0 * (across - width).abs().max((up - width).abs())
        };
        let mean = |width: f64| {
            let slope = self.slope[0] + self.slope[1];
            (self.at[0] + self.at[1] - 2.0 * width) / slope
        };
        let corners = [
            self.even(near),
            mean(surround.least),
            mean(surround.greatest),
            pitch.least,
            pitch.greatest,
        ];
        let less = |best: f64, other: f64| {
            if miss(other).total_cmp(&miss(best)).is_lt() {
                other
            } else {
                best
            }
        };
        let corners = corners.map(|p| pitch.nearest(p)).into_iter();
        let best = corners.fold(pitch.nearest(near), less);
        let most = miss(best) + 0.5 * tolerance;
        let pitch = roundest(self.closing(pitch, surround, most), best);
        self.found(pitch, surround, most + 0.5 * tolerance, Closes::Misses)
    }

    /// What gives with a surround of this width.
    pub(super) fn gives(&self, surround: f64) -> [Gives; 2] {
        [0, 1].map(|i| {
            let pitch = (self.at[i] - surround) / self.slope[i];
            Gives {
                surround,
                pitch,
                left: self.both(pitch)[1 - i],
            }
        })
    }
}
