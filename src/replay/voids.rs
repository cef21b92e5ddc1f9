//! What is missing from a piece, as bands between heights: the form that the dry fit takes.

use super::region::Region;
use crate::lattice::Void;

/// Heights nearer than this are one, mm.
const SAME: f64 = 1e-5;
/// A void shorter along the bar than this is the rounding of a wall, mm.
const SHORT: f64 = 1e-4;

/// Cuts a missing region (x along the piece, y its height) into slabs between the heights of its
/// corners; in each, every stretch that is missing halfway up becomes a void with square walls.
pub(super) fn voids_of(missing: &Region) -> Vec<Void> {
    let edges: Vec<_> = missing
        .edges()
        .filter(|(a, b)| (a.y - b.y).abs() > SAME)
        .map(|(a, b)| if a.y < b.y { (a, b) } else { (b, a) })
        .collect();
    let mut heights: Vec<f64> = missing.edges().flat_map(|(a, b)| [a.y, b.y]).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup_by(|b, a| *b - *a <= SAME);
    let mut voids: Vec<Void> = Vec::new();
    for slab in heights.windows(2) {
        let (z0, z1) = (slab[0], slab[1]);
        let z = 0.5 * (z0 + z1);
        let mut walls: Vec<f64> = edges
            .iter()
            .filter(|(a, b)| a.y <= z && z < b.y)
            .map(|(a, b)| a.x + (z - a.y) / (b.y - a.y) * (b.x - a.x))
            .collect();
        walls.sort_by(f64::total_cmp);
        for pair in walls.chunks_exact(2) {
            if pair[1] - pair[0] > SHORT {
                voids.push(Void {
                    z0,
                    z1,
                    angle_deg: 90.0,
                    lo: pair[0],
                    hi: pair[1],
                });
            }
        }
    }
    voids
}
