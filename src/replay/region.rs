//! Regions of the plane in whole nanometres: union, difference and intersection without round-off.

use geo::{Area, BoundingRect, Contains};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;
use i_overlay::i_shape::int::shape::{IntContour, IntShape, IntShapes};
use kurbo::{Point, Rect, Vec2};

use super::copies::FINE;
use crate::geom::{FLATTEN, chord_count};

/// Grid of the regions: one nanometre.
const PER_MM: f64 = 1e6;

/// A region: shapes that do not overlap, each an outline and its holes.
#[derive(Debug, Clone, Default)]
pub struct Region {
    shapes: IntShapes<i64>,
}

fn snap(p: Point) -> IntPoint<i64> {
    IntPoint::new((p.x * PER_MM).round() as i64, (p.y * PER_MM).round() as i64)
}

fn free(p: IntPoint<i64>) -> Point {
    Point::new(p.x as f64 / PER_MM, p.y as f64 / PER_MM)
}

impl Region {
    /// The region that any of the outlines covers; each runs counter-clockwise, and they may overlap.
    #[must_use]
    pub fn union_of<'a>(outlines: impl IntoIterator<Item = &'a [Point]>) -> Self {
        let mut overlay = Overlay::<i64>::new(64);
        for outline in outlines {
            overlay.add_path_iter(outline.iter().map(|&p| snap(p)), ShapeType::Subject);
        }
        Self {
            shapes: overlay.overlay(OverlayRule::Subject, FillRule::NonZero),
        }
    }

    /// A rectangle.
    #[must_use]
    pub fn rect(r: Rect) -> Self {
        let corners = [
            Point::new(r.x0, r.y0),
            Point::new(r.x1, r.y0),
            Point::new(r.x1, r.y1),
            Point::new(r.x0, r.y1),
        ];
        Self::union_of([&corners[..]])
    }

    fn with(&self, other: &Self, rule: OverlayRule) -> Self {
        let mut overlay = Overlay::<i64>::from_subj_and_clip(&self.shapes, &other.shapes);
        Self {
            shapes: overlay.overlay(rule, FillRule::NonZero),
        }
    }

    /// What this region has and the other has not.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Self {
        if self.is_empty() || other.is_empty() {
            return self.clone();
        }
        self.with(other, OverlayRule::Difference)
    }

    /// What either has.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        self.with(other, OverlayRule::Union)
    }

    /// What both have.
    #[must_use]
    pub fn both(&self, other: &Self) -> Self {
        self.with(other, OverlayRule::Intersect)
    }

    /// Whether it holds nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.shapes.is_empty()
    }

    /// The region moved by (dx, dy), in whole nanometres; `turned` mirrors it in the x axis first.
    #[must_use]
    pub fn moved(&self, by: Vec2, turned: bool) -> Self {
        let IntPoint { x, y } = snap(by.to_point());
        let sign = if turned { -1 } else { 1 };
        let point = |p: &IntPoint<i64>| IntPoint::new(p.x + x, sign * p.y + y);
        let contour = |c: &IntContour<i64>| {
            let mut c: IntContour<i64> = c.iter().map(point).collect();
            if turned {
                // Keeps outlines counter-clockwise.
                c.reverse();
            }
            c
        };
        let shape = |s: &IntShape<i64>| s.iter().map(contour).collect();
        Self {
            shapes: self.shapes.iter().map(shape).collect(),
        }
    }

    /// Area, mm².
    #[cfg(test)]
    fn area(&self) -> f64 {
        self.shapes.iter().map(|s| polygon(s).unsigned_area()).sum()
    }

    /// The connected part that holds a point; empty if there is none.
    #[must_use]
    pub fn part_at(&self, p: Point) -> Self {
        let at = geo::Point::new(p.x, p.y);
        let shapes = self
            .shapes
            .iter()
            .filter(|shape| polygon(shape).contains(&at));
        Self {
            shapes: shapes.cloned().collect(),
        }
    }

    /// Bounding boxes of its connected parts with their areas, mm².
    #[must_use]
    pub fn parts(&self) -> Vec<(Rect, f64)> {
        self.shapes
            .iter()
            .filter_map(|shape| {
                let polygon = polygon(shape);
                let bounds = polygon.bounding_rect()?;
                let (min, max) = (bounds.min(), bounds.max());
                Some((
                    Rect::new(min.x, min.y, max.x, max.y),
                    polygon.unsigned_area(),
                ))
            })
            .collect()
    }

    /// All edges, as (from, to), mm.
    pub fn edges(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        self.contours()
            .flat_map(|c| (0..c.len()).map(move |i| (free(c[i]), free(c[(i + 1) % c.len()]))))
    }

    fn contours(&self) -> impl Iterator<Item = &IntContour<i64>> + '_ {
        self.shapes.iter().flatten()
    }

    /// Everything within `width` mm of this region's edges.
    #[must_use]
    pub fn rim(&self, width: f64) -> Self {
        let stadiums: Vec<Vec<Point>> = self.edges().map(|(a, b)| stadium(a, b, width)).collect();
        Self::union_of(stadiums.iter().map(Vec::as_slice))
    }
}

/// A shape for area and containment.
fn polygon(shape: &IntShape<i64>) -> geo::Polygon<f64> {
    let ring = |c: &IntContour<i64>| -> geo::LineString<f64> {
        c.iter().map(|&p| free(p)).map(|p| (p.x, p.y)).collect()
    };
    let mut rings = shape.iter().map(ring);
    let outline = rings
        .next()
        .unwrap_or_else(|| geo::LineString::new(Vec::new()));
    geo::Polygon::new(outline, rings.collect())
}

/// What a disc of radius `r` sweeps on the way from `a` to `b`, counter-clockwise; corners on the
/// round, so that it is never larger than the true one.
#[must_use]
pub fn stadium(a: Point, b: Point, r: f64) -> Vec<Point> {
    let along = b - a;
    let length = along.hypot();
    let start = if length > 0.0 {
        libm::atan2(along.y, along.x)
    } else {
        0.0
    };
    let half = std::f64::consts::PI;
    let steps = chord_count(r, half, FLATTEN);
    let mut points = Vec::with_capacity(2 * steps + 2);
    for (centre, from) in [(b, start - 0.5 * half), (a, start + 0.5 * half)] {
        for k in 0..=steps {
            let angle = from + half * k as f64 / steps as f64;
            points.push(centre + Vec2::new(libm::cos(angle), libm::sin(angle)) * r);
        }
    }
    points
}

/// A disc with its corners on the round.
#[must_use]
pub fn disc(centre: Point, r: f64) -> Vec<Point> {
    stadium(centre, centre, r)
}

/// Where an arc begins and by how much it turns, both in the sense in which it runs, radians.
fn turn_of(a: Point, b: Point, centre: Point, ccw: bool) -> (f64, f64) {
    let angle = |p: Point| libm::atan2(p.y - centre.y, p.x - centre.x);
    let turn = std::f64::consts::TAU;
    if ccw {
        (angle(a), (angle(b) - angle(a)).rem_euclid(turn))
    } else {
        (angle(b), (angle(a) - angle(b)).rem_euclid(turn))
    }
}

fn on_round(centre: Point, radius: f64, angle: f64) -> Point {
    centre + Vec2::new(libm::cos(angle), libm::sin(angle)) * radius
}

/// Places along an arc from end to end, evenly spread over its turn and as many as [`FINE`] asks for on a quarter of
/// a round of radius `like`: arcs that are compared place by place have as many.
#[must_use]
pub(super) fn way_of_arc(a: Point, b: Point, centre: Point, ccw: bool, like: f64) -> Vec<Point> {
    let radius = a.distance(centre);
    let (from, sweep) = turn_of(a, b, centre, ccw);
    let quarters = 4;
    let n = quarters * chord_count(like, std::f64::consts::FRAC_PI_2, FINE).max(1);
    (0..=n)
        .map(|k| on_round(centre, radius, from + sweep * k as f64 / n as f64))
        .collect()
}

/// What a disc of radius `r` sweeps along an arc, as outlines that together cover it.
#[must_use]
pub fn swept_arc(a: Point, b: Point, centre: Point, ccw: bool, r: f64) -> Vec<Vec<Point>> {
    let radius = a.distance(centre);
    let (from, sweep) = turn_of(a, b, centre, ccw);
    let on =
        |rad: f64, k: usize, n: usize| on_round(centre, rad, from + sweep * k as f64 / n as f64);
    let n = chord_count(radius + r, sweep, FLATTEN);
    let mut band: Vec<Point> = (0..=n).map(|k| on(radius + r, k, n)).collect();
    let inner = (radius - r).max(0.0);
    if inner > FLATTEN {
        // Corners of the inner round a chord's sagitta further out, so that chords stay inside the band.
        let n = chord_count(inner, sweep, FLATTEN);
        band.extend((0..=n).rev().map(|k| on(inner + FLATTEN, k, n)));
        return vec![band, disc(a, r), disc(b, r)];
    }
    // The disc reaches the centre from all of the arc, and as far past it as it is wider than the arc: from there out,
    // what lies at the arc's own angles is a sector, and of all else an end of the arc is the nearest place.
    band.push(centre);
    let past = (r - radius).max(0.0);
    let mut parts = vec![band, disc(a, r), disc(b, r)];
    if past > 0.0 {
        parts.push(disc(centre, past));
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_of_swept_shapes() {
        let p = Point::new;
        let pi = std::f64::consts::PI;
        let s = Region::union_of([&stadium(p(0.0, 0.0), p(10.0, 0.0), 1.5)[..]]);
        assert!(
            (s.area() - (30.0 + pi * 2.25)).abs() < 3e-3,
            "stadium {}",
            s.area()
        );
        for (radius, r) in [
            (5.0, 1.5),
            (1.5, 1.5),
            (1.499, 1.5),
            (0.5, 1.5),
            (0.075, 0.075),
        ] {
            // A quarter arc: band 1/4 π ((R + r)² - (R - r)²) and two half discs, while r <= R.
            let parts = swept_arc(p(radius, 0.0), p(0.0, radius), Point::ORIGIN, true, r);
            let got = Region::union_of(parts.iter().map(Vec::as_slice)).area();
            if r <= radius {
                let want = 0.25 * pi * 4.0 * radius * r + pi * r * r;
                assert!(
                    (got - want).abs() < 5e-3 * want,
                    "arc {radius}, {r}: {got} for {want}"
                );
            } else {
                // The union of the discs along the way, which is what a sweep is.
                let place = |k: usize| 0.5 * pi * k as f64 / 400.0;
                let at = |k: usize| p(radius * place(k).cos(), radius * place(k).sin());
                let discs: Vec<Vec<Point>> = (0..=400).map(|k| disc(at(k), r)).collect();
                let want = Region::union_of(discs.iter().map(Vec::as_slice)).area();
                assert!(
                    (got - want).abs() < 2e-3,
                    "arc {radius}, {r}: {got} for {want}"
                );
            }
        }
    }

    #[test]
    fn parts_are_told_apart() {
        let a = Region::rect(Rect::new(0.0, 0.0, 10.0, 10.0));
        let cut = Region::rect(Rect::new(4.0, -1.0, 5.0, 11.0));
        let left = a.minus(&cut);
        assert_eq!(left.parts().len(), 2, "cut in two");
        assert!(
            (left.part_at(Point::new(1.0, 1.0)).area() - 40.0).abs() < 1e-9,
            "left part"
        );
        assert!(
            left.part_at(Point::new(4.5, 1.0)).is_empty(),
            "nothing in the cut"
        );
        assert!(
            (a.rim(0.5).both(&a).area() - (100.0 - 81.0)).abs() < 1e-9,
            "inner rim"
        );
    }
}
