//! Offsets that keep true arcs, with their direction in the name.

use cavalier_contours::polyline::{
    PlineCreation, PlineSource, PlineSourceMut, PlineVertex, Polyline,
};
use kurbo::Point;

use crate::geom::{Contour, Vertex};

/// The path of a beam or tool of radius `r` that runs round the outside of a counter-clockwise outline
/// and touches it: corners that stick out become arcs, inside corners stay sharp for the path.
///
/// `None` where the path would not be one closed contour: a notch narrower than the beam or tool closes.
#[must_use]
pub fn grow(outline: &Contour, r: f64) -> Option<Contour> {
    let mut line = Polyline::with_capacity(outline.vertices.len(), true);
    for v in &outline.vertices {
        line.add_vertex(PlineVertex::new(v.at.x, v.at.y, v.bulge));
    }
    // Positive is left of travel: outward of a counter-clockwise outline is negative.
    let mut made = line.parallel_offset(-r);
    if made.len() != 1 {
        return None;
    }
    let made = made.pop()?;
    let vertices = made
        .iter_vertexes()
        .map(|v| Vertex {
            at: Point::new(v.x, v.y),
            bulge: v.bulge,
        })
        .collect();
    Some(Contour {
        vertices,
        closed: true,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Area of an outward offset of a convex shape: A + P r + π r² (Steiner's formula).
    #[test]
    fn growing_a_rectangle_follows_steiner() {
        let p = |x, y| Point::new(x, y);
        let rect = Contour::polygon([p(0.0, 0.0), p(30.0, 0.0), p(30.0, 12.0), p(0.0, 12.0)]);
        for r in [0.025, 0.1, 1.5] {
            let grown = grow(&rect, r).expect("one contour");
            let want = 360.0 + 84.0 * r + std::f64::consts::PI * r * r;
            assert!(
                (grown.area() - want).abs() < 1e-9,
                "{} against {want}",
                grown.area()
            );
        }
    }
}
