//! Cuts read back from a program, and what they sweep in a slab between two heights.

use kurbo::Point;

use super::region::{Region, stadium, swept_arc};

/// A cut read back from a program: beam on, or the cutter at this height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweptMove {
    /// Line of the program.
    pub line: usize,
    /// Start, mm; z above the bed.
    pub from: [f64; 3],
    /// End, mm.
    pub to: [f64; 3],
    /// Centre and sense (counter-clockwise) of an arc.
    pub arc: Option<(Point, bool)>,
}

impl SweptMove {
    /// Whether it changes height on its way, which no cut may.
    pub(super) fn is_sloped(&self) -> bool {
        let level = (self.from[2] - self.to[2]).abs() <= SAME_HEIGHT;
        let straight_down = self.from[0] == self.to[0] && self.from[1] == self.to[1];
        !level && !straight_down
    }
}

/// Area below which a region is the round-off of the nanometre grid, mm².
pub(super) const NOTHING: f64 = 1e-6;
/// Two heights nearer than this are one, mm.
pub(super) const SAME_HEIGHT: f64 = 1e-6;

/// Slabs (bottom, top) between 0 and `depth`, from the top down, parted at these heights.
pub(super) fn slabs(heights: impl IntoIterator<Item = f64>, depth: f64) -> Vec<(f64, f64)> {
    let within = |z: &f64| *z > SAME_HEIGHT && *z < depth - SAME_HEIGHT;
    let mut levels: Vec<f64> = heights.into_iter().filter(within).collect();
    levels.extend([0.0, depth]);
    levels.sort_by(|a, b| b.total_cmp(a));
    levels.dedup_by(|b, a| *a - *b <= SAME_HEIGHT);
    levels.windows(2).map(|w| (w[1], w[0])).collect()
}

/// Heights at which cuts run.
pub(super) fn heights(cuts: &[SweptMove]) -> impl Iterator<Item = f64> + '_ {
    cuts.iter().flat_map(|m| [m.from[2], m.to[2]])
}

/// What is swept in the slab above `bottom`.
pub(super) fn swept(near: &[SweptMove], r: f64, bottom: f64) -> Region {
    let mut outlines: Vec<Vec<Point>> = Vec::new();
    let mut seen = std::collections::BTreeSet::new();
    for m in near
        .iter()
        .filter(|m| m.from[2].min(m.to[2]) <= bottom + SAME_HEIGHT)
    {
        // Passes repeat their path, there and back: once is enough.
        let bits = |v: f64| (v * 1e6).round() as i64;
        let arc = m.arc.map(|(c, ccw)| (bits(c.x), bits(c.y), ccw));
        let (mut from, mut to) = (m.from, m.to);
        if arc.is_none() && (to[0], to[1]) < (from[0], from[1]) {
            (from, to) = (to, from);
        }
        if !seen.insert((bits(from[0]), bits(from[1]), bits(to[0]), bits(to[1]), arc)) {
            continue;
        }
        let (a, b) = (
            Point::new(m.from[0], m.from[1]),
            Point::new(m.to[0], m.to[1]),
        );
        match m.arc {
            None => outlines.push(stadium(a, b, r)),
            Some((c, ccw)) => outlines.extend(swept_arc(a, b, c, ccw, r)),
        }
    }
    Region::union_of(outlines.iter().map(Vec::as_slice))
}

/// The largest part of a region that is more than round-off: its middle and area.
pub(super) fn largest(region: &Region) -> Option<(Point, f64)> {
    region
        .parts()
        .into_iter()
        .filter(|(_, area)| *area > NOTHING)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(bounds, area)| (bounds.center(), area))
}
