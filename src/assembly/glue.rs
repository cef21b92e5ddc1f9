//! Glue in the joints, and which joints the outline meets (common practice, no source). Every joint gets a dab as
//! its front bar goes in. Those on the outline are cut through, and those next to it hold until the surround is on:
//! they get more.

use std::collections::{BTreeMap, BTreeSet};

use kurbo::{Point, Vec2};

use crate::geom::SLIVER;
use crate::lattice::{Lattice, MemberId, Node, NodeId};
use crate::table::Column;

/// A joint that gets glue as a bar goes in.
#[derive(Debug, Clone, PartialEq)]
pub struct GlueJoint {
    /// Where, mm.
    pub at: Point,
    /// The bars that meet there by then, from the back to the front; the last goes in now.
    pub bars: Vec<MemberId>,
    /// Whether it gets more than a dab: it lies on the outline or next to it.
    pub more: bool,
}

/// Where the wood that bars share in a joint lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// Within the outline.
    Within,
    /// The outline cuts it or runs along it.
    On,
    /// It is trimmed away.
    Beyond,
}

/// The joints of a panel by how the outline meets them.
pub(super) struct Joints<'a> {
    lattice: &'a Lattice,
    /// The bars that meet in each.
    bars: Column<Node, BTreeSet<MemberId>>,
    places: Column<Node, Place>,
    /// On the outline or next to it.
    more: BTreeSet<NodeId>,
}

impl<'a> Joints<'a> {
    pub(super) fn of(lattice: &'a Lattice) -> Self {
        let mut bars = lattice.nodes.column(|_, _| BTreeSet::new());
        for (id, member) in lattice.members.entries() {
            for joint in member.joints.iter().filter(|j| j.filled) {
                bars[joint.node].extend([Some(id), joint.with].into_iter().flatten());
            }
        }
        let mut all = Self {
            lattice,
            places: lattice.nodes.column(|_, _| Place::Within),
            bars,
            more: BTreeSet::new(),
        };
        all.places = lattice.nodes.column(|id, _| all.place(id));
        let on = lattice
            .nodes
            .ids()
            .filter(|&id| all.places[id] == Place::On);
        let mut more: BTreeSet<NodeId> = on.collect();
        for member in &lattice.members {
            let filled = member.joints.iter().filter(|j| j.filled);
            let mut within = filled
                .map(|j| j.node)
                .filter(|&node| all.places[node] == Place::Within);
            more.extend(within.next());
            more.extend(within.next_back());
        }
        all.more = more;
        all
    }

    /// The joints that get glue as these members go in, each once.
    pub(super) fn glued(&self, members: &[MemberId]) -> Vec<GlueJoint> {
        let rank = |m: MemberId| {
            let member = &self.lattice.members[m];
            self.lattice.families[member.family].rank
        };
        let mut met: BTreeMap<NodeId, BTreeSet<(u32, MemberId)>> = BTreeMap::new();
        for &front in members {
            let joints = self.lattice.members[front].joints.iter();
            for joint in joints.filter(|j| j.filled) {
                if let Some(back) = joint.with.filter(|&back| rank(back) < rank(front)) {
                    let bars = met.entry(joint.node).or_default();
                    bars.extend([back, front].map(|m| (rank(m), m)));
                }
            }
        }
        let one = |(node, bars): (NodeId, BTreeSet<(u32, MemberId)>)| GlueJoint {
            at: self.lattice.nodes[node].at,
            bars: bars.into_iter().map(|(_, m)| m).collect(),
            more: self.more.contains(&node),
        };
        met.into_iter().map(one).collect()
    }

    /// Names of the sides along which bars are sawn where no joint holds them, counter-clockwise.
    pub(super) fn single_sides(&self) -> Vec<&'a str> {
        let lattice = self.lattice;
        let sides = lattice.outline.sides.iter();
        let single = sides.filter(|side| {
            let on = |p: Point| (side.normal.dot(p.to_vec2()) - side.offset).abs() <= SLIVER;
            lattice.members.iter().any(|member| {
                let ends = [member.start, member.end];
                // A bar that lies along the side is not sawn across.
                let end = ends.into_iter().filter(|&p| on(p)).count() == 1;
                let held = || {
                    let filled = member.joints.iter().filter(|j| j.filled);
                    filled.map(|j| j.node).any(|node| {
                        let reach = self.reach(node, side.normal);
                        let out = side.normal.dot(lattice.nodes[node].at.to_vec2()) - side.offset;
                        self.places[node] == Place::On && out.abs() <= reach + SLIVER
                    })
                };
                end && !held()
            })
        });
        single.map(|side| side.name.as_str()).collect()
    }

    /// How far the wood that bars share in a joint reaches from its middle in a direction, a unit vector, mm. Two bars
    /// of half faces *h*, *k* along unit vectors *u*, *v* share a rhomboid with its corners at (± *h* v ± *k* u) / sin
    /// of the angle between them.
    fn reach(&self, node: NodeId, way: Vec2) -> f64 {
        let lattice = self.lattice;
        let families = || {
            let bars = self.bars[node].iter();
            bars.map(|&m| &lattice.families[lattice.members[m].family])
        };
        let mut most = 0.0_f64;
        for (k, one) in families().enumerate() {
            for other in families().skip(k + 1) {
                let (u, v) = (one.axis(), other.axis());
                let sum = one.face * v.dot(way).abs() + other.face * u.dot(way).abs();
                most = most.max(0.5 * sum / u.cross(v).abs());
            }
        }
        most
    }

    fn place(&self, node: NodeId) -> Place {
        let at = self.lattice.nodes[node].at.to_vec2();
        let mut found = Place::Within;
        for side in &self.lattice.outline.sides {
            let out = side.normal.dot(at) - side.offset;
            let reach = self.reach(node, side.normal);
            if out > reach + SLIVER {
                return Place::Beyond;
            }
            if out >= -reach - SLIVER {
                found = Place::On;
            }
        }
        found
    }
}
