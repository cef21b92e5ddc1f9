//! Points found by where they lie, without a look at all of them.

use kurbo::Point;

/// Round-off that a search lets in, mm: far more than that of a coordinate, and the caller looks again.
const ROUND_OFF: f64 = 1e-9;

/// Points sorted by x.
#[derive(Debug, Clone)]
pub struct AlongX {
    /// x, mm, and the place in the list that the points came in.
    sorted: Vec<(f64, usize)>,
}

impl AlongX {
    /// Sorts points.
    #[must_use]
    pub fn of(points: impl IntoIterator<Item = Point>) -> Self {
        let places = points.into_iter().enumerate();
        let mut sorted: Vec<(f64, usize)> = places.map(|(i, p)| (p.x, i)).collect();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self { sorted }
    }

    /// The places of all points at most `off` mm from `at`, in rising order. Others of as near an x are among them:
    /// the caller measures the distance.
    #[must_use]
    pub fn near(&self, at: Point, off: f64) -> Vec<usize> {
        let (lo, hi) = (at.x - off - ROUND_OFF, at.x + off + ROUND_OFF);
        let from = self.sorted.partition_point(|&(x, _)| x < lo);
        let near = self.sorted[from..].iter().take_while(|&&(x, _)| x <= hi);
        let mut places: Vec<usize> = near.map(|&(_, i)| i).collect();
        places.sort_unstable();
        places
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against a look at every point.
    #[test]
    fn no_point_that_is_near_is_left_out() {
        let points: Vec<Point> = (0..200)
            .map(|i| Point::new(f64::from(i * 37 % 50) * 0.3, f64::from(i * 11 % 17)))
            .collect();
        let sorted = AlongX::of(points.iter().copied());
        let mut all = 0;
        for &at in &points {
            for off in [0.0, 0.3, 1.7] {
                let close = |i: &usize| points[*i].distance(at) <= off;
                let want: Vec<usize> = (0..points.len()).filter(close).collect();
                let found = sorted.near(at, off);
                assert!(found.len() < points.len(), "not all of them");
                let found: Vec<usize> = found.into_iter().filter(close).collect();
                assert_eq!(found, want, "{at:?} {off}");
                all += found.len();
            }
        }
        assert!(all > 600, "{all}");
        assert_eq!(
            sorted.near(Point::new(f64::NAN, 0.0), 1.0),
            [] as [usize; 0]
        );
    }
}
