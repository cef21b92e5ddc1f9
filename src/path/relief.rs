//! Relief of inside corners, so that a square edge seats.

use kurbo::{Point, Vec2};

use crate::geom::{Contour, Vertex};
use crate::panel::Relief;
use crate::setup::{FlatPiece, Lies};

/// The detours of a cut of radius `r` whose rounds pass through each inside corner of the drawn outline,
/// in the piece's frame: along the bisector, along the floor, or along the wall. Without relief each
/// reaches no further than the path's own corner. A re-entrant end has neither floor nor wall: any relief runs
/// along the bisector.
#[must_use]
pub(super) fn corner_reliefs(piece: &FlatPiece, r: f64, relief: Relief) -> Vec<CornerRelief> {
    piece
        .inside_corners()
        .into_iter()
        .map(|drawn| {
            // The path's own corner lies r from both walls; in a side view walls are upright.
            let corner = drawn.centre(r);
            let away = corner - drawn.at;
            let reach = match relief {
                Relief::None => corner,
                _ if piece.lies == Lies::OnBack => drawn.at + drawn.into * r,
                Relief::Corner => drawn.at + drawn.into * r,
                Relief::Floor => drawn.at + Vec2::new(0.0, away.y),
                Relief::Wall => drawn.at + Vec2::new(away.x, 0.0),
            };
            CornerRelief { corner, reach }
        })
        .collect()
}

/// A detour of the path into an inside corner.
#[derive(Debug, Clone, Copy)]
pub(super) struct CornerRelief {
    /// The path's corner.
    pub(super) corner: Point,
    /// How far the centre goes.
    pub(super) reach: Point,
}

/// A path round a piece with its detours, if `relief` asks for them, and how far each goes. `None` where one of
/// the corners is missing from the path: beam or tool does not fit into what runs in to it.
pub(super) fn relieved(
    mut path: Contour,
    corners: &[CornerRelief],
    relief: Relief,
) -> Option<(Contour, Vec<Point>)> {
    let mut reliefs = Vec::new();
    let mut vertices = Vec::with_capacity(path.vertices.len());
    let mut found = 0;
    for v in &path.vertices {
        let detour = corners.iter().find(|c| c.corner.distance(v.at) < 1e-6);
        found += usize::from(detour.is_some());
        if let Some(detour) = detour.filter(|_| relief != Relief::None) {
            let at = |at: Point| Vertex { at, bulge: 0.0 };
            vertices.extend([at(v.at), at(detour.reach)]);
            reliefs.push(detour.reach);
        }
        vertices.push(*v);
    }
    path.vertices = vertices;
    (found == corners.len()).then_some((path, reliefs))
}
