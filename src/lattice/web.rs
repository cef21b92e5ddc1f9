//! Wood left between notches, and at the nodes.

use kurbo::Point;

use super::joint::wedge;
use super::model::{Joint, JointShape, Lattice, Member, MemberId};
use crate::geom::measure::between_segments;
use crate::geom::{SAME_FIGURE, cot_deg};

impl Joint {
    /// Angle from the bar's axis to the notch's walls as seen from the front, degrees.
    #[must_use]
    pub fn wall_angle_deg(&self) -> f64 {
        self.shape.wall_angle_deg(self.edge, self.angle_deg)
    }
}

impl Lattice {
    /// Least clear distance in plan between notches of different nodes of one member, over both edges,
    /// and the member; negative where two notches overlap. First of joints that something is kept of, then of
    /// those that lie wholly in wood that is trimmed away. Reliefs take `bite` mm beyond every wall: both walls
    /// between two notches, one at an end.
    #[must_use]
    pub fn find_least_webs(&self, bite: f64) -> [Option<(f64, MemberId)>; 2] {
        let mut least: [Option<(f64, MemberId)>; 2] = [None; 2];
        for (m, member) in self.members.entries() {
            let half = 0.5 * self.faces[member.family][1];
            let (lo, hi) = self.kept_span(member);
            let waste = |j: &Joint| {
                let reach = 0.5 * j.run + half * cot_deg(j.wall_angle_deg()).abs();
                j.at + reach <= lo || j.at - reach >= hi
            };
            let mut wood = |web: f64, waste: bool| {
                let least = &mut least[usize::from(waste)];
                if least.is_none_or(|(w, _)| web < w) {
                    *least = Some((web, m));
                }
            };
            for (i, a) in member.joints.iter().enumerate() {
                // Wood between a notch and an end breaks off like wood between two notches.
                for end in ends(a, member, half) {
                    wood(end - bite, waste(a));
                }
                // The joints of the next node; those of one node stand side by side.
                let mut next = None;
                for b in member.joints[i + 1..].iter().filter(|b| b.node != a.node) {
                    if *next.get_or_insert(b.node) != b.node {
                        break;
                    }
                    wood(between(a, b, half) - 2.0 * bite, waste(a) || waste(b));
                }
            }
        }
        least
    }

    /// Least height that a member keeps at a node, mm: depth / k.
    #[must_use]
    pub fn least_section(&self) -> f64 {
        let k = self.nodes.iter().map(|n| n.lines.len()).max().unwrap_or(1);
        self.depth / k as f64
    }

    /// Greatest wedge between two skew notches of one node in one edge, mm, and the member; above 0
    /// a sliver stands.
    #[must_use]
    pub fn greatest_wedge(&self) -> Option<(f64, MemberId)> {
        let mut greatest: Option<(f64, MemberId)> = None;
        for (m, member) in self.members.entries() {
            for (a, b) in same_edge_pairs(member) {
                let value = wedge(
                    self.faces[member.family][1],
                    (a.wall_angle_deg(), a.width),
                    (b.wall_angle_deg(), b.width),
                );
                if greatest.is_none_or(|(w, _)| value > w) {
                    greatest = Some((value, m));
                }
            }
        }
        greatest
    }
}

/// Pairs of skew notches of one node in one edge.
fn same_edge_pairs(member: &Member) -> impl Iterator<Item = (&Joint, &Joint)> {
    let skew = |j: &&Joint| j.shape == JointShape::Skew;
    member
        .joints
        .iter()
        .enumerate()
        .filter(move |(_, j)| skew(j))
        .flat_map(move |(i, a)| {
            member.joints[i + 1..]
                .iter()
                .filter(skew)
                .take_while(move |b| b.node == a.node)
                .filter(move |b| b.edge == a.edge)
                .map(move |b| (a, b))
        })
}

/// Wood between a notch and the ends of its member along the bar, where the notch does not run out.
fn ends(joint: &Joint, member: &Member, half_face: f64) -> impl Iterator<Item = f64> {
    let lean = half_face * cot_deg(joint.wall_angle_deg()).abs();
    let skew = |end: usize| half_face * cot_deg(member.ends[end].angle_deg).abs();
    let half = 0.5 * joint.run;
    [
        (joint.at - half - member.from, lean + skew(0)),
        (member.to - joint.at - half, lean + skew(1)),
    ]
    .into_iter()
    // At the centre line; a skew end or wall that meets the other takes from it towards a face.
    .filter(|(wood, _)| *wood > SAME_FIGURE)
    .map(|(wood, slant)| if wood > slant { wood - slant } else { wood })
}

/// Clear distance between the facing walls of two notches, the first one nearer the start.
fn between(a: &Joint, b: &Joint, half_face: f64) -> f64 {
    let wall = |j: &Joint, side: f64| {
        [-half_face, half_face].map(|y| {
            Point::new(
                j.at + side * 0.5 * j.run + y * cot_deg(j.wall_angle_deg()),
                y,
            )
        })
    };
    let (left, right) = (wall(a, 1.0), wall(b, -1.0));
    let along = (right[0].x - left[0].x).min(right[1].x - left[1].x);
    if along <= 0.0 {
        along
    } else {
        between_segments(left, right)
    }
}
