//! The shape of a cell, as the workshop names it.

use kurbo::{Point, Vec2};

use crate::panel::CellShape;

/// Sides that differ by less are equal, mm; bars listed by hand carry three decimals.
const EQUAL: f64 = 0.01;

/// The shape of a convex polygon.
pub(super) fn shape(corners: &[Point]) -> CellShape {
    let n = corners.len();
    let side = |i: usize| -> Vec2 { corners[(i + 1) % n] - corners[i % n] };
    match n {
        3 => CellShape::Triangle,
        4 => {
            let first = side(0).hypot();
            let equal = (1..4).all(|i| (side(i).hypot() - first).abs() <= EQUAL);
            // Off square by less than the tolerance at the end of the side.
            let right = (0..4).all(|i| {
                let (a, b) = (side(i), side(i + 1));
                a.dot(b).abs() <= EQUAL * a.hypot().max(b.hypot())
            });
            match (equal, right) {
                (true, true) => CellShape::Square,
                (false, true) => CellShape::Rectangle,
                (true, false) => CellShape::Rhombus,
                (false, false) => CellShape::Quadrilateral,
            }
        }
        5 => CellShape::Pentagon,
        6 => CellShape::Hexagon,
        n => CellShape::Corners(n),
    }
}
