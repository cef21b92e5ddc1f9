//! Relief of inside corners, so that a square edge seats.

use kurbo::{Point, Vec2};

use crate::panel::Relief;
use crate::setup::FlatPiece;

/// The detours of a cut of radius `r` whose rounds pass through each inside corner of the drawn outline,
/// in the piece's frame: along the bisector, along the floor, or along the wall. Without relief each
/// reaches no further than the path's own corner.
#[must_use]
pub(super) fn corner_reliefs(piece: &FlatPiece, r: f64, relief: Relief) -> Vec<CornerRelief> {
    piece
        .inside_corners()
        .into_iter()
        .map(|(drawn, into)| {
            // The path's own corner lies r from wall and floor; in a side view walls are upright.
            let away = into * std::f64::consts::SQRT_2;
            let corner = drawn + away * r;
            let reach = match relief {
                Relief::Corner => drawn + into * r,
                Relief::Floor => drawn + Vec2::new(0.0, away.y) * r,
                Relief::Wall => drawn + Vec2::new(away.x, 0.0) * r,
                Relief::None => corner,
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
