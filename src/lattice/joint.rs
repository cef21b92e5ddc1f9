//! The joint rule, and the sizes of a notch.

use crate::geom::{cos_deg, cot_deg, sin_deg};

/// Height above the back face at which member `i` and member `j` of a node part, mm.
///
/// `k` members meet, ranked 1 (back) to k (front), with `i < j`: z(i,j) = depth (i + j - 1) / 2k.
/// Member `i` loses all above it where it overlaps `j`, member `j` all below it. Each keeps depth / k
/// at the node, no two share space, nothing stays empty, and all can be lowered in by rank.
#[must_use]
pub fn interface_height(depth: f64, k: usize, i: usize, j: usize) -> f64 {
    depth * (i + j - 1) as f64 / (2 * k) as f64
}

/// Length along the bar of a square-walled notch that clears a bar crossing at `angle_deg`:
/// (other face + clearance + own face |cos t|) / sin t, mm.
#[must_use]
pub fn square_run(width: f64, own_face: f64, angle_deg: f64) -> f64 {
    (width + own_face * cos_deg(angle_deg).abs()) / sin_deg(angle_deg)
}

/// How far wood stands between two notches of one node in one edge, along the bar at its faces, mm:
/// positive is a wedge that breaks off, 0 or less is none. For one skew notch crossing another at the
/// mirrored angle this is positive where face |cos t| exceeds the other face.
#[must_use]
pub fn wedge(own_face: f64, first: (f64, f64), second: (f64, f64)) -> f64 {
    let ((t1, w1), (t2, w2)) = (first, second);
    let apart = 0.5 * own_face * (cot_deg(t1) - cot_deg(t2)).abs();
    apart - 0.5 * (w1 / sin_deg(t1) + w2 / sin_deg(t2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_way_heights_are_thirds_and_a_half() {
        // Back bar: 2/3 deep for the middle one, 1/2 for the front one; middle bar 1/3 from both edges.
        let z = |i, j| interface_height(12.0, 3, i, j);
        assert_eq!((z(1, 2), z(1, 3), z(2, 3)), (4.0, 6.0, 8.0));
        assert_eq!(interface_height(12.0, 2, 1, 2), 6.0, "half-lap");
    }

    #[test]
    fn square_wall_at_sixty_degrees() {
        // Worked example of the trade: face 4, 60 degrees, no clearance: 12 / sqrt 3.
        let run = square_run(4.0, 4.0, 60.0);
        assert!((run - 12.0 / 3f64.sqrt()).abs() < 1e-12, "{run}");
        assert_eq!(
            square_run(4.0, 4.0, 90.0),
            4.0,
            "nothing to clear when square"
        );
    }

    #[test]
    fn wedge_turns_positive_where_the_rule_says() {
        // Mirrored notches at 30 and 150 degrees: face |cos t| against the other face.
        let face = 4.0;
        let border = face * 30f64.to_radians().cos();
        assert!(wedge(face, (30.0, border - 0.01), (150.0, border - 0.01)) > 0.0);
        assert!(wedge(face, (30.0, border + 0.01), (150.0, border + 0.01)) < 0.0);
    }
}
