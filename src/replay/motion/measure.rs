//! How far the moves of a trace go, and how far they reach.

use crate::geom::Point;
use crate::path::{self, Lengths, arc_sweep};
use crate::replay::gcode_read::{ArcOf, EventKind, Trace};

/// Lengths of a trace's moves, mm, as [`crate::path::program_lengths`] has them for a plan.
#[must_use]
pub fn trace_lengths(trace: &Trace) -> Lengths {
    let mut sum = Lengths::default();
    for event in &trace.events {
        match &event.kind {
            EventKind::Travel { from, to } => sum.travel_mm += distance(*from, *to),
            EventKind::Cut { from, to, arc, .. } => {
                let length = cut_length(*from, *to, *arc);
                if in_plane(*from, *to) || arc.is_some() {
                    sum.cut_mm += length;
                } else {
                    sum.plunge_mm += length;
                }
                sum.cuts += 1;
            }
            _ => {}
        }
    }
    sum
}

pub(super) fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    libm::hypot(libm::hypot(b[0] - a[0], b[1] - a[1]), b[2] - a[2])
}

pub(super) fn cut_length(from: [f64; 3], to: [f64; 3], arc: Option<ArcOf>) -> f64 {
    let Some(ArcOf { centre, ccw }) = arc else {
        return distance(from, to);
    };
    let (a, b, c) = (flat(from), flat(to), Point::new(centre[0], centre[1]));
    (a - c).hypot() * arc_sweep(a, b, c, ccw)
}

pub(super) fn flat(p: [f64; 3]) -> Point {
    Point::new(p[0], p[1])
}

/// Whether a move changes x or y.
pub(super) fn in_plane(from: [f64; 3], to: [f64; 3]) -> bool {
    from[0] != to[0] || from[1] != to[1]
}

/// Least and greatest x and y of an arc.
pub(super) fn arc_extent(from: [f64; 3], to: [f64; 3], arc: ArcOf) -> [[f64; 2]; 2] {
    let centre = Point::new(arc.centre[0], arc.centre[1]);
    let ends = path::arc_extent(flat(from), flat(to), centre, arc.ccw);
    ends.map(|p| [p.x, p.y])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_arc_reaches_the_quarter_points_it_passes() {
        let r = std::f64::consts::FRAC_1_SQRT_2;
        // From 45 to 135 degrees about (1, 1), radius 1: over the top, y 2.
        let (from, to) = ([1.0 + r, 1.0 + r, 0.0], [1.0 - r, 1.0 + r, 0.0]);
        let centre = [1.0, 1.0];
        let [low, high] = arc_extent(from, to, ArcOf { centre, ccw: true });
        assert!(
            (high[1] - 2.0).abs() < 1e-12 && (low[1] - 1.0 - r).abs() < 1e-12,
            "{low:?} {high:?}"
        );
        // The other way: under the bottom, and past both sides.
        let [low, high] = arc_extent(from, to, ArcOf { centre, ccw: false });
        assert!((low[1]).abs() < 1e-12 && (low[0]).abs() < 1e-12, "{low:?}");
        assert!(
            (high[0] - 2.0).abs() < 1e-12 && (high[1] - 1.0 - r).abs() < 1e-12,
            "{high:?}"
        );
    }
}
