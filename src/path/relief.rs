//! Relief of inside corners, so that a square edge seats.

use kurbo::Point;

use crate::setup::FlatPiece;

/// Where the centre of a cut of radius `r` must reach so that its round passes through each inside
/// corner of the drawn outline: `r` from the corner along its bisector. In the piece's frame; with each
/// goes the path's own corner, r √2 from the drawn one.
#[must_use]
pub(super) fn corner_reliefs(piece: &FlatPiece, r: f64) -> Vec<CornerRelief> {
    piece
        .inside_corners()
        .into_iter()
        .map(|(corner, into)| CornerRelief {
            corner: corner + into * (r * std::f64::consts::SQRT_2),
            reach: corner + into * r,
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
