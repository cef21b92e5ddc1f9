//! Convex plan regions, cut by half-planes: exact to the last bits of a float, without a grid.

use kurbo::{Point, Rect, Vec2};

use super::tol::SLIVER;

/// A convex polygon with counter-clockwise corners; possibly empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Convex {
    corners: Vec<Point>,
}

impl Convex {
    /// Takes corners that are known to be convex and counter-clockwise.
    #[must_use]
    pub fn from_corners(corners: Vec<Point>) -> Self {
        Self { corners }
    }

    /// The corners, counter-clockwise.
    #[must_use]
    pub fn corners(&self) -> &[Point] {
        &self.corners
    }

    /// Whether nothing is left.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.corners.len() < 3
    }

    /// Area in mm² (shoelace formula).
    #[must_use]
    pub fn area(&self) -> f64 {
        let Some(&first) = self.corners.first() else {
            return 0.0;
        };
        let mut twice = 0.0;
        for pair in self.corners.windows(2) {
            twice += (pair[0] - first).cross(pair[1] - first);
        }
        0.5 * twice
    }

    /// Keeps the part where `normal · p <= offset`; `normal` is a unit vector.
    #[must_use]
    pub fn below(&self, normal: Vec2, offset: f64) -> Self {
        let n = self.corners.len();
        let mut kept = Vec::with_capacity(n + 1);
        for i in 0..n {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % n]);
            let (da, db) = (
                normal.dot(a.to_vec2()) - offset,
                normal.dot(b.to_vec2()) - offset,
            );
            if da <= 0.0 {
                kept.push(a);
            }
            if (da < 0.0 && db > 0.0) || (da > 0.0 && db < 0.0) {
                kept.push(a + (b - a) * (da / (da - db)));
            }
        }
        if kept.len() < 3 {
            Self::default()
        } else {
            Self { corners: kept }
        }
    }

    /// Keeps the part where `normal · p >= offset`; `normal` is a unit vector.
    #[must_use]
    pub fn above(&self, normal: Vec2, offset: f64) -> Self {
        self.below(-normal, -offset)
    }

    /// Keeps the part within the band `lo <= normal · p <= hi`.
    #[must_use]
    pub fn within(&self, normal: Vec2, lo: f64, hi: f64) -> Self {
        self.below(normal, hi).above(normal, lo)
    }

    /// Splits off the band `lo < normal · p < hi`: what is left on either side of it.
    #[must_use]
    pub fn without(&self, normal: Vec2, lo: f64, hi: f64) -> [Self; 2] {
        [self.below(normal, lo), self.above(normal, hi)]
    }

    /// What both regions have.
    #[must_use]
    pub fn both(&self, other: &Self) -> Self {
        let corners = &other.corners;
        let mut left = self.clone();
        for (i, &p) in corners.iter().enumerate() {
            let side = corners[(i + 1) % corners.len()] - p;
            let outward = Vec2::new(side.y, -side.x) / side.hypot();
            left = left.below(outward, outward.dot(p.to_vec2()));
        }
        left
    }

    /// Least and greatest `normal · p` over the corners.
    #[must_use]
    pub fn extent(&self, normal: Vec2) -> (f64, f64) {
        self.corners
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), p| {
                let d = normal.dot(p.to_vec2());
                (lo.min(d), hi.max(d))
            })
    }

    /// Whether the region is wider than a sliver: its area over its perimeter tells.
    #[must_use]
    pub fn is_solid(&self) -> bool {
        if self.is_empty() {
            return false;
        }
        let n = self.corners.len();
        let perimeter: f64 = (0..n)
            .map(|i| (self.corners[(i + 1) % n] - self.corners[i]).hypot())
            .sum();
        self.area() > 0.5 * SLIVER * perimeter
    }
}

/// Bounding box of some points; nothing at the origin if there is none.
#[must_use]
pub fn bounds(points: &[Point]) -> Rect {
    points.split_first().map_or(Rect::ZERO, |(&first, rest)| {
        let one = Rect::from_points(first, first);
        rest.iter().fold(one, |all, &p| all.union_pt(p))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Convex {
        Convex::from_corners(vec![
            Point::new(0.0, 0.0),
            Point::new(4.0, 0.0),
            Point::new(4.0, 4.0),
            Point::new(0.0, 4.0),
        ])
    }

    #[test]
    fn a_band_splits_a_square_into_two_and_itself() {
        let n = Vec2::new(0.6, 0.8);
        let [low, high] = square().without(n, 2.0, 3.0);
        let mid = square().within(n, 2.0, 3.0);
        let sum = low.area() + mid.area() + high.area();
        assert!((sum - 16.0).abs() < 1e-12, "parts sum to {sum}");
    }

    #[test]
    fn two_squares_share_their_overlap() {
        let moved = |d: f64| {
            Convex::from_corners(
                square()
                    .corners()
                    .iter()
                    .map(|&p| p + Vec2::new(d, d))
                    .collect(),
            )
        };
        assert!(
            (square().both(&moved(1.0)).area() - 9.0).abs() < 1e-12,
            "3 by 3"
        );
        assert!(
            !square().both(&moved(4.0)).is_solid(),
            "they touch in a corner"
        );
        assert!(square().both(&moved(9.0)).is_empty(), "apart");
    }

    #[test]
    fn an_edge_is_no_region() {
        let edge = square().below(Vec2::new(1.0, 0.0), 1e-9);
        assert!(
            !edge.is_solid(),
            "1e-9 mm is the round-off of a shared edge"
        );
        assert!(
            square().below(Vec2::new(1.0, 0.0), 1e-3).is_solid(),
            "a micron is a region"
        );
    }
}
