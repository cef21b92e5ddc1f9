//! A closed path round a piece, parted at the holds along its back edge.

use kurbo::Point;

use super::program::Hold;
use crate::geom::{Contour, Vertex};
use crate::setup::Placement;

/// Opens a counter-clockwise path at each place `x` along its stretch `y = back_y` (travelled towards
/// +x), leaving out `half` mm on either side: open paths in order of travel, one for each place, the
/// first one starting past the first place. `None` where a place is not on such a stretch.
#[must_use]
pub(super) fn part_at(
    path: &Contour,
    back_y: f64,
    places: &[f64],
    half: f64,
) -> Option<Vec<Contour>> {
    /// Places along the path nearer than this are one place, mm.
    const ON: f64 = 1e-6;
    let segments: Vec<(Point, f64, Point)> = path.segments().collect();
    let segment_of = |x: f64| {
        segments.iter().position(|&(a, bulge, b)| {
            bulge == 0.0
                && (a.y - back_y).abs() < ON
                && (b.y - back_y).abs() < ON
                && a.x - ON <= x - half
                && x + half <= b.x + ON
        })
    };
    let at: Vec<usize> = places
        .iter()
        .map(|&x| segment_of(x))
        .collect::<Option<_>>()?;
    let n = segments.len();
    let count = places.len();
    let mut parts = Vec::with_capacity(count);
    for i in 0..count {
        let (from, to) = (places[i] + half, places[(i + 1) % count] - half);
        let (s, e) = (at[i], at[(i + 1) % count]);
        let mut vertices = vec![Vertex {
            at: Point::new(from, back_y),
            bulge: 0.0,
        }];
        // Once round where the next hold is the same one, or lies before this one.
        let steps = if s == e && to > from && count > 1 {
            0
        } else {
            (e + n - s - 1) % n + 1
        };
        for k in 1..=steps {
            let (a, bulge, _) = segments[(s + k) % n];
            vertices.push(Vertex { at: a, bulge });
        }
        if let Some(last) = vertices.last_mut() {
            last.bulge = 0.0;
        }
        vertices.push(Vertex {
            at: Point::new(to, back_y),
            bulge: 0.0,
        });
        parts.push(Contour {
            vertices,
            closed: false,
        });
    }
    Some(parts)
}

/// The path as open parts between its holds, and the holds' places. Where no hold finds room it is the
/// whole path, opened at its first corner: the checks refuse a piece that drops or comes loose.
pub(super) fn parted(
    path: &Contour,
    back_y: f64,
    places: Vec<f64>,
    half: f64,
) -> (Vec<f64>, Vec<Contour>) {
    match part_at(path, back_y, &places, half) {
        Some(parts) if !parts.is_empty() => (places, parts),
        _ => {
            let mut vertices = path.vertices.clone();
            let first = path.vertices.first().map(|v| Vertex { bulge: 0.0, ..*v });
            vertices.extend(first);
            let whole = Contour {
                vertices,
                closed: false,
            };
            (Vec::new(), vec![whole])
        }
    }
}

/// The holds of one piece: `width` left standing at each place along its back edge, `height` above the
/// bed; the path runs `r` outside that edge.
pub(super) fn back_edge_holds<'a>(
    placement: usize,
    piece: &'a Placement,
    places: &'a [f64],
    r: f64,
    [width, height]: [f64; 2],
) -> impl Iterator<Item = Hold> + 'a {
    places.iter().map(move |&x| {
        let at = |along: f64| Point::new(piece.x + x + along, piece.y - r);
        Hold {
            placement,
            from: at(-0.5 * width),
            to: at(0.5 * width),
            width,
            height,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_and_gaps_sum_to_the_path() {
        let p = |x, y| Point::new(x, y);
        let rect = Contour::polygon([p(0.0, 0.0), p(30.0, 0.0), p(30.0, 12.0), p(0.0, 12.0)]);
        for places in [vec![15.0], vec![5.0, 20.0], vec![5.0, 12.0, 20.0]] {
            let parts = part_at(&rect, 0.0, &places, 0.5).expect("on the back edge");
            let sum: f64 = parts.iter().map(Contour::length).sum();
            assert!(
                (sum + places.len() as f64 - 84.0).abs() < 1e-12,
                "{places:?}: {sum}"
            );
            for (part, x) in parts.iter().zip(&places) {
                assert_eq!(part.vertices[0].at, p(x + 0.5, 0.0), "starts past its hold");
            }
        }
        assert!(
            part_at(&rect, 0.0, &[29.8], 0.5).is_none(),
            "runs past the corner"
        );
    }
}
