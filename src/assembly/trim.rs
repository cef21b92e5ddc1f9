//! Where the glued panel is trimmed, and at which angle an end is trimmed by hand.

use kurbo::Point;

use crate::geom::{SLIVER, atan2_deg};
use crate::lattice::{Lattice, Member};

/// A side of the outline along which the glued panel is trimmed.
#[derive(Debug, Clone, PartialEq)]
pub struct TrimLine {
    /// Name of the side.
    pub side: String,
    /// From corner, mm.
    pub from: Point,
    /// To corner, mm.
    pub to: Point,
}

/// The sides along which members with an overhang are trimmed, counter-clockwise.
pub(super) fn trim_lines(lattice: &Lattice) -> Vec<TrimLine> {
    let corners = lattice.outline.corners_outside(0.0);
    let n = corners.len();
    let sides = lattice.outline.sides.iter().enumerate();
    sides
        .map(|(s, side)| TrimLine {
            side: side.name.clone(),
            from: corners[(s + n - 1) % n],
            to: corners[s],
        })
        .collect()
}

/// The angles at which the outline cuts a member at its start and at its end: from the member's axis to the
/// cut, counter-clockwise seen from the front, degrees above 0 and below 180; 90 is square. An end in a corner
/// of the outline has two, the one on the right of the axis first.
#[must_use]
pub fn end_angles(lattice: &Lattice, member: &Member) -> [Vec<f64>; 2] {
    let family = &lattice.families[member.family];
    let (axis, normal, half) = (family.axis(), family.normal(), 0.5 * family.face);
    let offset = normal.dot(member.start.to_vec2());
    let kept = lattice
        .outline
        .region
        .within(normal, offset - half, offset + half);
    let corners = kept.corners();
    let ends = corners.iter().zip(corners.iter().cycle().skip(1));
    let mut found: [Vec<(f64, f64)>; 2] = Default::default();
    for (a, b) in ends {
        let edge = *b - *a;
        // Along the bar's own edges, or no edge at all.
        if edge.dot(normal).abs() <= SLIVER {
            continue;
        }
        let angle = atan2_deg(axis.cross(edge), axis.dot(edge)).rem_euclid(180.0);
        // Counter-clockwise, an edge that climbs to the left of the axis closes the bar's last end.
        let end = usize::from(edge.dot(normal) > 0.0);
        found[end].push((normal.dot(a.midpoint(*b).to_vec2()), angle));
    }
    found.map(|mut angles| {
        angles.sort_by(|a, b| a.0.total_cmp(&b.0));
        angles.into_iter().map(|(_, angle)| angle).collect()
    })
}
