//! Seams between pieces that end in one point.
//!
//! At a point where pieces meet each takes the sector between the seams on its left and on its right. Sectors
//! lie round the point without gap or overlap. One of more than half a turn, which a piece much wider than its
//! neighbours has, is the union of the half-planes of its two seams and not what they have in common: the end is
//! re-entrant. Each side of the piece runs out to its own long point, and the neighbours' points lie in the
//! notch between the two.

use kurbo::{Point, Vec2};

use super::lay::{Line, ONE_POINT};
use super::region::Region;
use crate::geom::{SAME_FIGURE, atan2_deg, cos_deg, sin_deg};
use crate::panel::EndRule;

/// A seam nearer to its piece's axis than this tapers the piece to a feather, degrees (common practice, no
/// source).
const LEAST_SEAM_DEG: f64 = 5.0;

/// Angle from the axis of a piece of face `w1` to the seam with a piece of face `w2`, where the axes part at
/// `p` degrees, 0 < p < 360, on the side of the seam: tan a = w1 sin p / (w2 + w1 cos p). The bisector for
/// equal faces. It is the line through the point in which the faces meet and the one in which the axes do.
#[must_use]
pub fn seam_deg(w1: f64, w2: f64, p: f64) -> f64 {
    if (p - 180.0).abs() < 1e-9 {
        // In one line, the faces never meet: the ends are square.
        return 90.0;
    }
    let a = atan2_deg(w1 * sin_deg(p), w2 + w1 * cos_deg(p));
    // Past half a turn the seam goes on beyond the point in which the axes meet.
    if p > 180.0 { a + 180.0 } else { a }
}

/// The seams of a piece at an end.
pub(super) struct Seams {
    end: usize,
    at: Point,
    /// Degrees from the axis into the piece to the seams on the left and on the right of it.
    deg: [f64; 2],
}

/// The seams of a piece at an end with the nearest pieces on both sides.
pub(super) fn seams(lines: &[Line], i: usize, end: usize) -> Result<Seams, String> {
    let (own, at) = (&lines[i], lines[i].points[end]);
    let inwards = own.inwards(end);
    // How far round to the left each other piece lies.
    let mut others: Vec<(f64, f64)> = Vec::new();
    for (j, line) in lines.iter().enumerate() {
        for e in 0..2 {
            let other = line.inwards(e);
            let meets = line.rules[e] == EndRule::Seam
                && (j, e) != (i, end)
                && (line.points[e] - at).hypot() <= ONE_POINT;
            if meets {
                let round = atan2_deg(inwards.cross(other), inwards.dot(other)).rem_euclid(360.0);
                others.push((round, line.face));
            }
        }
    }
    let nearest = others.iter().min_by(|a, b| a.0.total_cmp(&b.0));
    let furthest = others.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    let (Some(&left), Some(&right)) = (nearest, furthest) else {
        return Err("a piece ends in a seam where no other does".into());
    };
    let deg = [
        seam_deg(own.face, left.1, left.0),
        seam_deg(own.face, right.1, 360.0 - right.0),
    ];
    if deg
        .iter()
        .any(|&s| !(LEAST_SEAM_DEG..=180.0 - LEAST_SEAM_DEG).contains(&s))
    {
        return Err(format!(
            "pieces meet in a seam of less than {LEAST_SEAM_DEG} degrees from an axis"
        ));
    }
    Ok(Seams { end, at, deg })
}

/// A re-entrant end.
///
/// A plain end in its place is one straight cut through the point in which the axes meet, as square as the two
/// seams let it be: anything between them lies in the piece's own sector, and so in no neighbour. However it
/// leans, it leaves the same area open.
#[derive(Debug, Clone, Copy)]
pub(super) struct Notch {
    /// Where the axes meet.
    pub(super) at: Point,
    /// Unit vector square to the plain cut, out of the piece.
    pub(super) cut: Vec2,
}

impl Seams {
    /// What they leave of a piece, and the notch where that is re-entrant.
    pub(super) fn leave(&self, region: Region, line: &Line) -> (Region, Option<Notch>) {
        let inwards = line.inwards(self.end);
        let at = self.at.to_vec2();
        // Unit vector square to the ray that lies so far to the left of the axis, to the left of the ray.
        let left_of = |deg: f64| {
            let (s, c) = (sin_deg(deg), cos_deg(deg));
            Vec2::new(
                -(s * inwards.x + c * inwards.y),
                c * inwards.x - s * inwards.y,
            )
        };
        let [left, right] = self.deg;
        // To the right of the left seam, to the left of the right one.
        let (nl, nr) = (left_of(left), -left_of(-right));
        if left + right <= 180.0 + SAME_FIGURE {
            return (region.below(nl, nl.dot(at)).below(nr, nr.dot(at)), None);
        }
        let normal = line.normal();
        // Of the halves by the piece's own axis the first lies on the left as seen from its start.
        let seams = if self.end == 0 { [nl, nr] } else { [nr, nl] };
        let both = region.halved(normal, normal.dot(at)).cut_each(seams, at);
        let notch = Notch {
            at: self.at,
            cut: left_of(90.0_f64.clamp(180.0 - right, left)),
        };
        (both, Some(notch))
    }
}
