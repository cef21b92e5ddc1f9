//! Tolerances, in millimetres unless the name says otherwise: each has one job, and is set here alone.

/// Two crossings on one line closer than this are one node (offsets that a maker lists by hand carry
/// three decimals, so a cluster written down at three decimals still meets).
pub const NODE_SNAP: f64 = 2e-3;

/// Two lengths or angles (degrees) that differ by less are one, worked out in two ways.
pub const SAME_FIGURE: f64 = 1e-6;

/// A plan region narrower than this is no region: it is the round-off of a shared edge.
pub const SLIVER: f64 = 1e-6;

/// What the replay may find removed from a piece, or left standing, beyond the intended shape.
pub const REPLAY: f64 = 0.005;

/// Greatest distance between an arc and the chords that stand for it in the replay's regions.
pub const FLATTEN: f64 = 2e-4;

/// Agreement of an arc's two radii after rounding (0.002 mm; NISTIR 6556, 3.5.3).
pub const ARC_RADII: f64 = 0.002;

/// The same in a program of inches (0.0002 inch; NISTIR 6556, 3.5.3).
pub const ARC_RADII_INCH: f64 = 0.0002 * 25.4;

/// Greatest difference between a measured face and the drawn one; of a depth too, where only faces show it.
pub const FACE_OFF: f64 = 0.3;

/// What a caliper tells apart.
pub const CALIPER: f64 = 0.01;

/// Greatest difference between a measured depth and the drawn one of a stick that is floored from both
/// edges: its seats would stay open, or lose wood.
pub const DEPTH_OFF: f64 = 0.05;
