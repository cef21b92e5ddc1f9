//! Centroids and distances, by `geo`.

use geo::line_measures::{Distance, Euclidean};
use geo::{Centroid, Coord, Line, LineString, Polygon};
use kurbo::Point;

fn coord(p: Point) -> Coord<f64> {
    Coord { x: p.x, y: p.y }
}

fn line([a, b]: [Point; 2]) -> Line<f64> {
    Line::new(coord(a), coord(b))
}

/// Centroid of a polygon with these corners; of one without area, that of its sides. `None` without corners.
#[must_use]
pub fn centroid(corners: &[Point]) -> Option<Point> {
    let ring: LineString<f64> = corners.iter().map(|&p| coord(p)).collect();
    let middle = Polygon::new(ring, Vec::new()).centroid()?;
    Some(Point::new(middle.x(), middle.y()))
}

/// Least distance between two segments, mm; 0 where they meet.
#[must_use]
pub fn between_segments(a: [Point; 2], b: [Point; 2]) -> f64 {
    Euclidean.distance(&line(a), &line(b))
}

/// Distance of a point from a segment, mm.
#[must_use]
pub fn to_segment(p: Point, segment: [Point; 2]) -> f64 {
    Euclidean.distance(&geo::Point(coord(p)), &line(segment))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn segments_that_cross_meet_and_others_are_as_far_apart_as_their_nearest_ends() {
        let p = Point::new;
        let level = [p(0.0, 0.0), p(10.0, 0.0)];
        assert_eq!(between_segments(level, [p(5.0, -1.0), p(5.0, 1.0)]), 0.0);
        assert_eq!(between_segments(level, [p(13.0, 4.0), p(20.0, 9.0)]), 5.0);
        assert_eq!(to_segment(p(4.0, 3.0), level), 3.0);
        assert_eq!(to_segment(p(-3.0, 4.0), level), 5.0);
    }

    /// Centroid of an L of two rectangles, from the handbook's sum of parts.
    #[test]
    fn the_centroid_of_an_l_is_that_of_its_parts() {
        let p = Point::new;
        let l = [
            p(0.0, 0.0),
            p(6.0, 0.0),
            p(6.0, 2.0),
            p(2.0, 2.0),
            p(2.0, 8.0),
            p(0.0, 8.0),
        ];
        // 12 mm2 at (3, 1) and 12 at (1, 5).
        let middle = centroid(&l).expect("corners");
        assert!((middle - p(2.0, 3.0)).hypot() < 1e-12, "{middle}");
        assert_eq!(centroid(&[]), None);
    }
}
