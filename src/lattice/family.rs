//! Families of parallel lines.

use kurbo::{Point, Vec2};

use crate::geom::{cos_deg, sin_deg};
use crate::table::Id;

/// Which family.
pub type FamilyId = Id<Family>;

/// Where the lines of a family lie.
#[derive(Debug, Clone, PartialEq)]
pub enum Spacing {
    /// Line `i` at `first + i * step`, for every whole number `i`; `step` is positive.
    Even {
        /// Offset of line 0.
        first: f64,
        /// Distance between neighbouring lines.
        step: f64,
    },
    /// Line `i` at `offsets[i]`, ascending.
    Listed(Vec<f64>),
}

/// A family of parallel bars.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Name as in the panel file.
    pub name: String,
    /// First letter of its members' ids.
    pub letter: char,
    /// Direction of travel from start to end, degrees: above -90, at most 90. A bar starts at its lesser
    /// x, an upright one at its lesser y.
    pub direction_deg: f64,
    /// Width as seen from the front, mm.
    pub face: f64,
    /// Order in the joints: 1 lies at the back.
    pub rank: u32,
    /// Offsets of the lines along [`Family::normal`].
    pub spacing: Spacing,
}

impl Family {
    /// Unit vector along the bars.
    #[must_use]
    pub fn axis(&self) -> Vec2 {
        Vec2::new(cos_deg(self.direction_deg), sin_deg(self.direction_deg))
    }

    /// Unit vector across the bars, to the left of the axis.
    #[must_use]
    pub fn normal(&self) -> Vec2 {
        Vec2::new(-sin_deg(self.direction_deg), cos_deg(self.direction_deg))
    }

    /// Whether the bars stand upright by construction.
    #[must_use]
    pub fn is_upright(&self) -> bool {
        self.direction_deg == 90.0
    }

    /// The lines with offsets from `lo` to `hi`, both included, ascending: number and offset along the normal,
    /// mm.
    #[must_use]
    pub fn lines_between(&self, lo: f64, hi: f64) -> Vec<(i64, f64)> {
        match &self.spacing {
            Spacing::Even { first, step } => {
                let from = ((lo - first) / step).ceil() as i64;
                let to = ((hi - first) / step).floor() as i64;
                let line = |index: i64| (index, first + index as f64 * step);
                (from..=to).map(line).collect()
            }
            Spacing::Listed(offsets) => {
                let numbered = (0..).zip(offsets.iter().copied());
                numbered
                    .filter(|(_, offset)| (lo..=hi).contains(offset))
                    .collect()
            }
        }
    }

    /// The family moved by `shift`.
    #[must_use]
    pub fn moved(mut self, shift: Vec2) -> Self {
        let by = self.normal().dot(shift);
        match &mut self.spacing {
            Spacing::Even { first, .. } => *first += by,
            Spacing::Listed(offsets) => offsets.iter_mut().for_each(|o| *o += by),
        }
        self
    }

    /// Angle from this family's axis to the other's as seen from the front, degrees, 0 < t < 180 for
    /// families that are not parallel.
    #[must_use]
    pub fn angle_to(&self, other: &Self) -> f64 {
        (other.direction_deg - self.direction_deg).rem_euclid(180.0)
    }

    /// The point of a line at distance `along` from the foot of the origin's perpendicular.
    #[must_use]
    pub fn point(&self, offset: f64, along: f64) -> Point {
        (self.normal() * offset + self.axis() * along).to_point()
    }
}
