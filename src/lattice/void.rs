//! Missing wood of a piece, and what becomes of it when the piece is turned.

use super::model::Turn;

/// Missing wood of a piece: a band across it, between two heights. In the piece's frame, x from its
/// first end; the walls cross the centre line at `lo` and `hi`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Void {
    /// Least height above the back edge, mm.
    pub z0: f64,
    /// Greatest height, mm.
    pub z1: f64,
    /// From the axis to the walls, counter-clockwise seen from the front, degrees.
    pub angle_deg: f64,
    /// First wall along the centre line, mm.
    pub lo: f64,
    /// Last wall along the centre line, mm.
    pub hi: f64,
}

/// A void of a class's piece (x from its first end) after the piece is turned.
#[must_use]
pub fn turned_void(void: &Void, turn: Turn, length: f64, depth: f64) -> Void {
    let Void {
        mut z0,
        mut z1,
        mut angle_deg,
        mut lo,
        mut hi,
    } = *void;
    if turn.swaps_edges() {
        (z0, z1) = (depth - z1, depth - z0);
        angle_deg = 180.0 - angle_deg;
    }
    if turn.swaps_ends() {
        (lo, hi) = (length - hi, length - lo);
    }
    Void {
        z0,
        z1,
        angle_deg,
        lo,
        hi,
    }
}
