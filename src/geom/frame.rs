//! Frames: how a piece lies in space, as a rotation and a shift. They compose by `*` and turn back by `inverse`.
//! Half turns are whole numbers and other rotations come from the shared trigonometry, so that a frame is the same on every
//! machine.

use kurbo::{Point, Vec2};
use nalgebra::{IsometryMatrix3, Matrix3, Point3, Rotation3, Translation3, Vector3};

/// Carries points of a piece's own frame to another one; lengths in mm, determinant +1.
pub type Frame = IsometryMatrix3<f64>;

/// A half turn about the x axis: over about the long axis.
#[must_use]
pub fn half_turn_about_x() -> Rotation3<f64> {
    diagonal([1.0, -1.0, -1.0])
}

/// A half turn about the z axis: end for end, the same edge up.
#[must_use]
pub fn half_turn_about_z() -> Rotation3<f64> {
    diagonal([-1.0, -1.0, 1.0])
}

/// A quarter turn about the x axis that lays a bar on its right side: y goes down, z to the left.
#[must_use]
pub fn on_its_side() -> Rotation3<f64> {
    // Columns are where x, y and z go.
    let columns = [Vector3::x(), -Vector3::z(), Vector3::y()];
    Rotation3::from_matrix_unchecked(Matrix3::from_columns(&columns))
}

/// A turn about the z axis that takes x to `along`, a unit vector of the plane.
#[must_use]
pub fn along(along: Vec2) -> Rotation3<f64> {
    let columns = [
        Vector3::new(along.x, along.y, 0.0),
        Vector3::new(-along.y, along.x, 0.0),
        Vector3::z(),
    ];
    Rotation3::from_matrix_unchecked(Matrix3::from_columns(&columns))
}

fn diagonal(axes: [f64; 3]) -> Rotation3<f64> {
    Rotation3::from_matrix_unchecked(Matrix3::from_diagonal(&Vector3::from(axes)))
}

/// A rotation, then a shift to `to`, mm.
#[must_use]
pub fn frame(rotation: Rotation3<f64>, to: [f64; 3]) -> Frame {
    Frame::from_parts(Translation3::from(Vector3::from(to)), rotation)
}

/// A point of the plane z = 0, carried, as a point of the plane.
#[must_use]
pub fn carried(frame: &Frame, p: Point) -> Point {
    let p = frame * Point3::new(p.x, p.y, 0.0);
    Point::new(p.x, p.y)
}

/// The first three rows of a frame as a matrix of four columns, the last of which is the shift.
#[must_use]
pub fn rows(frame: &Frame) -> [[f64; 4]; 3] {
    let matrix = frame.to_homogeneous();
    std::array::from_fn(|row| std::array::from_fn(|column| matrix[(row, column)]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{cos_deg, sin_deg};

    #[test]
    fn rotations_are_proper_and_half_turns_undo_themselves() {
        let skew = along(Vec2::new(cos_deg(37.3), sin_deg(37.3)));
        for turn in [
            half_turn_about_x(),
            half_turn_about_z(),
            on_its_side(),
            skew,
        ] {
            let off = turn.matrix() * turn.matrix().transpose() - Matrix3::identity();
            assert!(off.amax() < 1e-15, "{turn}");
            assert!((turn.matrix().determinant() - 1.0).abs() < 1e-15, "{turn}");
        }
        for half in [half_turn_about_x(), half_turn_about_z()] {
            assert_eq!((half * half).matrix(), &Matrix3::identity());
        }
    }

    #[test]
    fn a_bar_on_its_side_has_its_back_edge_in_front() {
        let lies = frame(on_its_side(), [10.0, 20.0, 2.0]);
        // The middle of the left side of a bar 4 thick, 12 up from its back edge, 100 along.
        let p = lies * Point3::new(100.0, 2.0, 12.0);
        assert_eq!(p, Point3::new(110.0, 32.0, 0.0));
        assert_eq!(lies.inverse() * p, Point3::new(100.0, 2.0, 12.0));
    }
}
