//! Which joints carry glue (common practice, no source): those next to the outline. The joints within hold each
//! other; glue in them would set before the last bar is in.

use std::collections::BTreeSet;

use kurbo::Point;

use crate::geom::SLIVER;
use crate::lattice::{Lattice, MemberId, NodeId};

/// A joint that carries glue: two members that meet in a node.
#[derive(Debug, Clone, PartialEq)]
pub struct GlueJoint {
    /// Where, mm.
    pub at: Point,
    /// The member behind.
    pub back: MemberId,
    /// The member in front.
    pub front: MemberId,
}

/// The joints that are the first or the last filled one along one of their members, in the order in which their
/// front members stand in the lattice. One whose middle is trimmed away does not count.
pub(super) fn glue_joints(lattice: &Lattice) -> Vec<GlueJoint> {
    let sides = &lattice.outline.sides;
    let kept = |node: NodeId| {
        let at = lattice.nodes[node].at.to_vec2();
        sides.iter().all(|s| s.normal.dot(at) <= s.offset + SLIVER)
    };
    // Nodes at which a member is filled for the first or the last time.
    let outer = lattice.members.column(|_, m| -> BTreeSet<NodeId> {
        let filled = m.joints.iter().filter(|j| j.filled);
        let mut filled = filled.map(|j| j.node).filter(|&n| kept(n));
        let first = filled.next();
        first.into_iter().chain(filled.next_back()).collect()
    });
    let rank = |m: MemberId| lattice.families[lattice.members[m].family].rank;
    let mut found = Vec::new();
    for (front, member) in lattice.members.entries() {
        for joint in &member.joints {
            let behind = |&back: &MemberId| joint.filled && rank(back) < rank(front);
            let Some(back) = joint.with.filter(behind) else {
                continue;
            };
            let is_outer = |m: MemberId| outer[m].contains(&joint.node);
            if is_outer(front) || is_outer(back) {
                found.push(GlueJoint {
                    at: lattice.nodes[joint.node].at,
                    back,
                    front,
                });
            }
        }
    }
    found
}
