//! What is asked of a size.

/// From the least to the greatest value, both allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// The least, mm or degrees.
    pub least: f64,
    /// The greatest, not below `least`.
    pub greatest: f64,
}

impl Range {
    /// One value.
    #[must_use]
    pub fn only(value: f64) -> Self {
        Self {
            least: value,
            greatest: value,
        }
    }

    /// What both ranges hold; empty where `least` lies above `greatest`.
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            least: self.least.max(other.least),
            greatest: self.greatest.min(other.greatest),
        }
    }

    /// The values within `by` of `value`.
    pub(super) fn about(value: f64, by: f64) -> Self {
        Self {
            least: value - by,
            greatest: value + by,
        }
    }

    /// Widened by this much on both sides.
    pub(super) fn wider(self, by: f64) -> Self {
        Self {
            least: self.least - by,
            greatest: self.greatest + by,
        }
    }

    /// The values of p with `self` around at + slope p.
    pub(super) fn solved(self, at: f64, slope: f64) -> Self {
        if slope == 0.0 {
            let inside = self.least <= at && at <= self.greatest;
            let far = if inside {
                f64::INFINITY
            } else {
                f64::NEG_INFINITY
            };
            return Self {
                least: -far,
                greatest: far,
            };
        }
        let ends = [(self.least - at) / slope, (self.greatest - at) / slope];
        Self {
            least: ends[0].min(ends[1]),
            greatest: ends[0].max(ends[1]),
        }
    }

    pub(super) fn is_empty(self) -> bool {
        // What is no number is empty too.
        self.least.is_nan() || self.greatest.is_nan() || self.least > self.greatest
    }

    /// The value of the range nearest to `value`.
    pub(super) fn nearest(self, value: f64) -> f64 {
        value.max(self.least).min(self.greatest)
    }
}

/// What is asked: the size of the whole panel, and what may vary to come to it. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Width and height of the panel, surround included.
    pub outer: [f64; 2],
    /// Pitch; of a square layout the distance between uprights.
    pub pitch: Range,
    /// Square layout: the distance between level bars.
    pub pitch_up: Range,
    /// Diamond layout: the angle of the rising bars, degrees, where it may vary.
    pub angle: Option<Range>,
    /// Width of the surround; from 0 to 0 for none.
    pub surround: Range,
    /// How far width and height may be off for the size to count as exact.
    pub tolerance: f64,
}
