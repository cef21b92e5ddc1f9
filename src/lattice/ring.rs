//! A closed ring of bars round an outline, half-lapped at its corners: a lattice of its own.

use kurbo::{Point, Vec2};

use super::family::{Family, Spacing};
use super::joint::{interface_height, square_run};
use super::model::{Edge, End, EndShape, Joint, JointShape, Lattice, Member, Node, Turn};
use super::order::order;
use crate::geom::tidy;

/// What a ring is made of. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingBars {
    /// Least and greatest face: notches take the greatest.
    pub face: [f64; 2],
    /// Play across every notch.
    pub clearance: f64,
    /// Wood past the notch at each end.
    pub ear: f64,
}

/// Place of a side in the order in which a ring goes together, from 1 at the back. Neighbours differ, so that
/// every side can be lowered onto those before it: every other one lies at the back, and of an odd number
/// the last one on top.
fn rank(side: usize, sides: usize) -> u32 {
    match side {
        last if sides % 2 == 1 && last + 1 == sides => 3,
        even if even.is_multiple_of(2) => 1,
        _ => 2,
    }
}

impl Lattice {
    /// The ring round this ground's trimmed outline: one bar a side, as deep as the ground, its inner face on
    /// the outline. Each runs past its corners by a notch and an ear. Members are called `surround-` and the
    /// side's name, classes `s1` and on. All notches have walls square to their bar, for cutting on its side;
    /// a web of 0 or less tells of notches that meet.
    #[must_use]
    pub fn ring(&self, bars: RingBars) -> Self {
        let face = bars.face[1];
        let sides = &self.outline.sides;
        let n = sides.len();
        let corners = self.outline.corners_outside(0.5 * face);
        let families: Vec<Family> = sides
            .iter()
            .enumerate()
            .map(|(s, side)| {
                let direction = side.direction_deg.rem_euclid(180.0);
                let mut family = Family {
                    name: side.name.clone(),
                    letter: 'F',
                    direction_deg: if direction > 90.0 {
                        direction - 180.0
                    } else {
                        direction
                    },
                    face,
                    rank: rank(s, n),
                    spacing: Spacing::Listed(Vec::new()),
                };
                // The family's normal may point either way.
                let sign = family.normal().dot(side.normal).signum();
                family.spacing = Spacing::Listed(vec![sign * (side.offset + 0.5 * face)]);
                family
            })
            .collect();
        // Corner c lies between side c and the next.
        let nodes: Vec<Node> = (0..n)
            .map(|c| {
                let mut lines = vec![c, (c + 1) % n];
                lines.sort_by_key(|&s| families[s].rank);
                Node {
                    at: corners[c],
                    lines,
                }
            })
            .collect();
        let members: Vec<Member> = (0..n)
            .map(|s| {
                let ends = [((s + n - 1) % n, (s + n - 1) % n), (s, (s + 1) % n)];
                side_bar(&families, &nodes, s, ends, self.depth, bars)
            })
            .collect();
        let member_of_line: Vec<Option<usize>> = (0..n).map(Some).collect();
        let order = order(&members, &nodes, &member_of_line);
        let mut ring = Self {
            outline: self.outline.clone(),
            depth: self.depth,
            clearance: bars.clearance,
            faces: vec![bars.face; n],
            depths: vec![[self.depth; 2]; n],
            line_names: sides.iter().map(|s| s.name.clone()).collect(),
            line_families: (0..n).collect(),
            families,
            same_piece: self.same_piece,
            nodes,
            members,
            classes: Vec::new(),
            order,
            least_web: None,
            waste_web: None,
        };
        ring.settle_classes();
        for (c, class) in ring.classes.iter_mut().enumerate() {
            class.id = format!("s{}", c + 1);
        }
        [ring.least_web, ring.waste_web] = ring.find_least_webs(0.0);
        ring
    }
}

/// The bar of a side. `ends`: the corner and the neighbour at either end, counter-clockwise.
fn side_bar(
    families: &[Family],
    nodes: &[Node],
    side: usize,
    ends: [(usize, usize); 2],
    depth: f64,
    bars: RingBars,
) -> Member {
    let own = &families[side];
    let axis: Vec2 = own.axis();
    let along = |corner: usize| axis.dot(nodes[corner].at.to_vec2());
    // A bar starts at its lesser x, an upright one at its lesser y.
    let ends = if along(ends[0].0) <= along(ends[1].0) {
        ends
    } else {
        [ends[1], ends[0]]
    };
    let [start, end]: [Point; 2] = ends.map(|(corner, _)| nodes[corner].at);
    let length = (end - start).hypot();
    let joint = |(corner, other): (usize, usize), at: f64| {
        let theirs = &families[other];
        let t = own.angle_to(theirs);
        let z = interface_height(depth, 2, 1, 2);
        let (edge, notch) = if own.rank < theirs.rank {
            (Edge::Front, depth - z)
        } else {
            (Edge::Back, z)
        };
        let width = theirs.face + bars.clearance;
        Joint {
            at: tidy(at),
            node: corner,
            with: Some(other),
            filled: true,
            line: other,
            edge,
            angle_deg: if edge == Edge::Front { t } else { 180.0 - t },
            width,
            depth: notch,
            shape: JointShape::Square,
            run: square_run(width, own.face, t),
        }
    };
    let joints = vec![joint(ends[0], 0.0), joint(ends[1], length)];
    let square = End {
        angle_deg: 90.0,
        shape: EndShape::Square,
    };
    Member {
        id: format!("surround-{}", own.name.replace(' ', "-")),
        family: side,
        line: side,
        class: 0,
        turn: Turn::None,
        start,
        end,
        from: -(0.5 * joints[0].run + bars.ear),
        to: length + 0.5 * joints[1].run + bars.ear,
        shift: 0.0,
        ends: [square; 2],
        trimmed_by_hand: [false; 2],
        joints,
    }
}
