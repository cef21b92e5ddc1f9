//! Two pieces of a pattern made as one hinged piece, which a third one locks.
//!
//! The strip is sawn nearly through and folded so that the kerf opens: the skin that is left lies where the
//! faces of the two pieces meet, and the point of the third piece fills what has opened (common practice, no
//! source). Each half ends in the plane from the skin to where its other face meets the third piece. Square
//! where the third piece makes the same angle with both: then a plain saw kerf will do. Where the plane leans
//! into its half, a V is cut; one that leans out of it would need wood in two places at once.

use kurbo::{Point, Vec2};

use super::lay::{Line, ONE_POINT, place};
use super::region::Region;
use super::seam::seam_deg;
use crate::geom::{atan2_deg, cos_deg, sin_deg};
use crate::panel::{EndRule, Hinge};

/// Round-off of an end that is square, mm.
const SQUARE: f64 = 1e-6;

/// A hinge as laid in a room.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fold {
    /// Index and end of the pieces: both halves, then the one that locks them.
    ends: [(usize, usize); 3],
    /// Where the skin lies.
    pub(super) at: Point,
    /// How far the halves are folded, degrees.
    pub(super) deg: f64,
    /// Of each half the outward unit normal of its end's plane, which runs through `at`.
    planes: [Vec2; 2],
}

/// An end of a line: which line, and which of its ends.
type LineEnd = (usize, usize);

/// Where a hinge is, and the ends that meet there: those of its two pieces, and that of the third.
fn three_ends(
    hinge: &Hinge,
    room: &[Point],
    lines: &[Line],
) -> Result<(Point, [LineEnd; 3]), String> {
    let (from, at, to) = (
        place(&hinge.from, room)?,
        place(&hinge.at, room)?,
        place(&hinge.to, room)?,
    );
    let near = |a: Point, b: Point| (a - b).hypot() <= ONE_POINT;
    let mut there: Vec<LineEnd> = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        for end in 0..2 {
            if line.rules[end] == EndRule::Seam && near(line.points[end], at) {
                there.push((i, end));
            }
        }
    }
    let other = |&(i, end): &LineEnd| lines[i].points[1 - end];
    let of = |p: Point| there.iter().copied().find(|e| near(other(e), p));
    let (Some(a), Some(b)) = (of(from), of(to)) else {
        return Err("a hinge names two pieces that do not meet in a seam there".into());
    };
    let third: Vec<LineEnd> = there
        .iter()
        .copied()
        .filter(|e| *e != a && *e != b)
        .collect();
    let &[c] = third.as_slice() else {
        return Err("a hinge is locked by a third piece, and no other may end there".into());
    };
    Ok((at, [a, b, c]))
}

impl Fold {
    /// Finds the pieces of a hinge in a room, and how they fold.
    ///
    /// # Errors
    /// Why they cannot be made as one, in words.
    pub(super) fn of(hinge: &Hinge, room: &[Point], lines: &[Line]) -> Result<Self, String> {
        let (at, [a, b, c]) = three_ends(hinge, room, lines)?;
        let [ua, ub, uc] = [a, b, c].map(|(i, end)| lines[i].inwards(end));
        let [wa, wb, wc] = [a, b, c].map(|(i, _)| lines[i].face);
        if (wa - wb).abs() > ONE_POINT {
            return Err("the two pieces of a hinge must have one face".into());
        }
        // Counter-clockwise from one direction to another.
        let round = |u: Vec2, v: Vec2| atan2_deg(u.cross(v), u.dot(v)).rem_euclid(360.0);
        // From the first half to the second, on the side where the third piece is not.
        let left = round(ua, uc) > round(ua, ub);
        let between = if left { round(ua, ub) } else { round(ub, ua) };
        if between >= 180.0 - ONE_POINT {
            return Err("the two pieces of a hinge must make less than 180 degrees".into());
        }
        let half = 0.5 * wa;
        let along = half * cos_deg(0.5 * between) / sin_deg(0.5 * between);
        let bisector = (ua + ub) / (ua + ub).hypot();
        let skin = at + bisector * (half / sin_deg(0.5 * between));
        // The other face of each half, where it meets the third piece's.
        let mut planes = [Vec2::ZERO; 2];
        for (plane, (u, on_left)) in planes.iter_mut().zip([(ua, !left), (ub, left)]) {
            let angle = if on_left { round(u, uc) } else { round(uc, u) };
            let seam = seam_deg(wa, wc, angle);
            let meets = half * cos_deg(seam) / sin_deg(seam);
            if meets < along - SQUARE {
                return Err(
                    "pieces of a hinge would have to be undercut: pair the two that make the widest angle"
                        .into(),
                );
            }
            let side = if on_left { half } else { -half };
            let corner = at + u * meets.max(along) + Vec2::new(-u.y, u.x) * side;
            let across = (corner - skin) / (corner - skin).hypot();
            let normal = Vec2::new(-across.y, across.x);
            *plane = if normal.dot(u) > 0.0 { -normal } else { normal };
            if plane.dot(uc) < 0.0 {
                return Err(
                    "the third piece does not lock the hinge: it leans too far to one half".into(),
                );
            }
        }
        let c_line = &lines[c.0];
        let off = uc.cross(skin - c_line.points[c.1]).abs();
        if off > 0.5 * wc {
            return Err(
                "the third piece does not lock the hinge: its point lies beside its face".into(),
            );
        }
        Ok(Self {
            ends: [a, b, c],
            at: skin,
            deg: 180.0 - between,
            planes,
        })
    }

    /// What the hinge leaves of a piece at an end, if that end is one of its three.
    pub(super) fn leaves(&self, region: &Region, end: (usize, usize)) -> Option<Region> {
        let at = self.at.to_vec2();
        let [first, second] = self.planes;
        match self.ends.iter().position(|e| *e == end)? {
            0 => Some(region.below(first, first.dot(at))),
            1 => Some(region.below(second, second.dot(at))),
            _ => Some(
                region
                    .above(first, first.dot(at))
                    .above(second, second.dot(at)),
            ),
        }
    }

    /// Whether a piece is the second half, and its end at the fold; `None` where it is neither.
    pub(super) fn half_of(&self, piece: usize) -> Option<(bool, usize)> {
        let half = self.ends[..2].iter().position(|e| e.0 == piece)?;
        Some((half == 1, self.ends[half].1))
    }
}
