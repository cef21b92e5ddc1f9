//! Contours of straight lines and true arcs, as DXF and G-code take them.

use kurbo::{Point, Rect};

/// A corner of a contour and the bend of the segment that leaves it.
///
/// `bulge` is tan(sweep / 4) of the arc to the next corner, positive counter-clockwise, 0 for a line
/// (DXF reference, LWPOLYLINE, group 42).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vertex {
    /// Where the segment starts, mm.
    pub at: Point,
    /// tan(sweep / 4); 0 is a line.
    pub bulge: f64,
}

/// A path of lines and arcs, open or closed.
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    /// The corners in order of travel; the last one of an open contour has no segment.
    pub vertices: Vec<Vertex>,
    /// Whether the last corner is joined to the first.
    pub closed: bool,
}

impl Contour {
    /// A closed contour of straight lines.
    #[must_use]
    pub fn polygon(points: impl IntoIterator<Item = Point>) -> Self {
        let vertices = points
            .into_iter()
            .map(|at| Vertex { at, bulge: 0.0 })
            .collect();
        Self {
            vertices,
            closed: true,
        }
    }

    /// An open path of straight lines.
    #[must_use]
    pub fn open(points: impl IntoIterator<Item = Point>) -> Self {
        Self {
            closed: false,
            ..Self::polygon(points)
        }
    }

    /// The segments as (start, bulge, end).
    pub fn segments(&self) -> impl Iterator<Item = (Point, f64, Point)> + '_ {
        let n = self.vertices.len();
        let count = if self.closed { n } else { n.saturating_sub(1) };
        (0..count).map(move |i| {
            let v = self.vertices[i];
            (v.at, v.bulge, self.vertices[(i + 1) % n].at)
        })
    }

    /// Signed area in mm², arcs included; positive counter-clockwise. An open contour has none.
    #[must_use]
    pub fn area(&self) -> f64 {
        if !self.closed {
            return 0.0;
        }
        let Some(first) = self.vertices.first().map(|v| v.at) else {
            return 0.0;
        };
        let mut sum = 0.0;
        for (a, bulge, b) in self.segments() {
            sum += 0.5 * (a - first).cross(b - first);
            if bulge != 0.0 {
                // Circular segment: r² / 2 (sweep - sin sweep), with its sign from the bulge.
                let sweep = 4.0 * libm::atan(bulge);
                let chord = (b - a).hypot();
                let r = chord * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
                sum += 0.5 * r * r * (sweep - libm::sin(sweep));
            }
        }
        sum
    }

    /// Length in mm, along the arcs.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.segments()
            .map(|(a, bulge, b)| {
                let chord = (b - a).hypot();
                if bulge == 0.0 {
                    chord
                } else {
                    let r = chord * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
                    r * 4.0 * libm::atan(bulge.abs())
                }
            })
            .sum()
    }

    /// The contour moved by (dx, dy).
    #[must_use]
    pub fn moved(&self, dx: f64, dy: f64) -> Self {
        let vertices = self
            .vertices
            .iter()
            .map(|&Vertex { at, bulge }| Vertex {
                at: Point::new(at.x + dx, at.y + dy),
                bulge,
            })
            .collect();
        Self {
            vertices,
            closed: self.closed,
        }
    }

    /// Corner points with every arc replaced by chords no further than `tolerance` mm from it, the
    /// chords' ends on the arc. A closed contour does not repeat its first point.
    #[must_use]
    pub fn flatten(&self, tolerance: f64) -> Vec<Point> {
        let mut points = Vec::with_capacity(self.vertices.len());
        for (a, bulge, b) in self.segments() {
            points.push(a);
            if bulge != 0.0 {
                let (centre, radius) = arc_of(a, bulge, b);
                let sweep = 4.0 * libm::atan(bulge);
                let start = libm::atan2(a.y - centre.y, a.x - centre.x);
                let steps = chord_count(radius, sweep.abs(), tolerance);
                for k in 1..steps {
                    let angle = start + sweep * k as f64 / steps as f64;
                    points.push(Point::new(
                        centre.x + radius * libm::cos(angle),
                        centre.y + radius * libm::sin(angle),
                    ));
                }
            }
        }
        if !self.closed
            && let Some(last) = self.vertices.last()
        {
            points.push(last.at);
        }
        points
    }

    /// Least rectangle round the contour, arcs included; nothing at the origin for one without corners.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let Some(first) = self.vertices.first() else {
            return Rect::ZERO;
        };
        let mut rect = Rect::from_points(first.at, first.at);
        for (a, bulge, b) in self.segments() {
            rect = rect.union_pt(b);
            if bulge == 0.0 {
                continue;
            }
            let (centre, radius) = arc_of(a, bulge, b);
            let chord = b - a;
            // The arc lies to the right of its chord where it turns left (bulge > 0), and the other way
            // round: a compass point of the circle belongs to it if it lies on that side.
            for (dx, dy) in [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)] {
                let p = centre + kurbo::Vec2::new(dx, dy) * radius;
                if chord.cross(p - a) * bulge < 0.0 {
                    rect = rect.union_pt(p);
                }
            }
        }
        rect
    }
}

/// Centre and radius of the arc from `a` to `b` with a bulge other than 0.
#[must_use]
pub(crate) fn arc_of(a: Point, bulge: f64, b: Point) -> (Point, f64) {
    let chord = b - a;
    let half = 0.5 * chord.hypot();
    let radius = half * (1.0 + bulge * bulge) / (2.0 * bulge.abs());
    // Distance from the chord's middle to the centre, towards the left of travel.
    let lift = half * (1.0 - bulge * bulge) / (2.0 * bulge);
    let left = kurbo::Vec2::new(-chord.y, chord.x) / chord.hypot();
    (a.midpoint(b) + left * lift, radius)
}

/// How many chords keep an arc of `sweep` radians within `tolerance` of itself: sagitta
/// r (1 - cos(sweep / 2n)).
#[must_use]
pub(crate) fn chord_count(radius: f64, sweep: f64, tolerance: f64) -> usize {
    if radius <= tolerance {
        return 4;
    }
    let half_step = libm::acos(1.0 - tolerance / radius);
    // At least two chords, so that a half circle never collapses onto its diameter.
    ((sweep / (2.0 * half_step)).ceil() as usize).max(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-9, "{a} against {b}");
    }

    #[test]
    fn two_half_circles_make_a_disc() {
        let r = 3.0;
        let disc = Contour {
            vertices: vec![
                Vertex {
                    at: Point::new(r, 0.0),
                    bulge: 1.0,
                },
                Vertex {
                    at: Point::new(-r, 0.0),
                    bulge: 1.0,
                },
            ],
            closed: true,
        };
        near(disc.area(), std::f64::consts::PI * r * r);
        near(disc.length(), std::f64::consts::TAU * r);
        let (c, radius) = arc_of(Point::new(r, 0.0), 1.0, Point::new(-r, 0.0));
        near(c.x, 0.0);
        near(radius, r);
        for p in disc.flatten(1e-3) {
            near(p.to_vec2().hypot(), r);
        }
    }

    #[test]
    fn a_quarter_bulge_turns_left_when_positive() {
        // From (1, 0) to (0, 1) about the origin, counter-clockwise.
        let bulge = libm::tan(std::f64::consts::FRAC_PI_8);
        let (c, r) = arc_of(Point::new(1.0, 0.0), bulge, Point::new(0.0, 1.0));
        near(c.x, 0.0);
        near(c.y, 0.0);
        near(r, 1.0);
    }

    #[test]
    fn an_arc_reaches_past_its_ends() {
        // Circle of radius 5 about the origin, by its parametric form.
        let at = |deg: f64| Point::new(5.0 * deg.to_radians().cos(), 5.0 * deg.to_radians().sin());
        for (from, to) in [
            (10.0, 170.0),
            (200.0, 440.0),
            (350.0, 20.0),
            (80.0, -80.0),
            (45.0, 46.0),
        ] {
            let bulge = libm::tan((to - from_near(from, to)).to_radians() / 4.0);
            let c = Contour {
                vertices: vec![
                    Vertex {
                        at: at(from),
                        bulge,
                    },
                    Vertex {
                        at: at(to),
                        bulge: 0.0,
                    },
                ],
                closed: false,
            };
            let mut want = Rect::from_points(at(from), at(from));
            let sweep = to - from_near(from, to);
            for k in 0..=36_000 {
                want = want.union_pt(at(from + sweep * f64::from(k) / 36_000.0));
            }
            let got = c.bounds();
            for (g, w) in [
                (got.x0, want.x0),
                (got.y0, want.y0),
                (got.x1, want.x1),
                (got.y1, want.y1),
            ] {
                assert!(
                    (g - w).abs() < 1e-6,
                    "from {from} to {to}: {got:?} against {want:?}"
                );
            }
        }
    }

    /// `from` brought to where the sweep to `to` is less than a full turn, for the list above.
    fn from_near(from: f64, to: f64) -> f64 {
        if to - from < -180.0 {
            from - 360.0
        } else {
            from
        }
    }
}
