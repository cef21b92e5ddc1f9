//! Which joints carry glue (common practice, no source): those next to the outline. The joints within hold each
//! other; glue in them would set before the last bar is in.

use std::collections::BTreeSet;

use kurbo::Point;

use crate::geom::SLIVER;
use crate::lattice::Lattice;

/// A joint that carries glue: two members that meet in a node.
#[derive(Debug, Clone, PartialEq)]
pub struct GlueJoint {
    /// Where, mm.
    pub at: Point,
    /// Index of the member behind.
    pub back: usize,
    /// Index of the member in front.
    pub front: usize,
}

/// The joints that are the first or the last filled one along one of their members, in the order in which their
/// front members stand in the lattice. One whose middle is trimmed away does not count.
pub(super) fn glue_joints(lattice: &Lattice) -> Vec<GlueJoint> {
    let sides = &lattice.outline.sides;
    let kept = |node: usize| {
        let at = lattice.nodes.get(node).map(|n| n.at.to_vec2());
        at.is_some_and(|at| sides.iter().all(|s| s.normal.dot(at) <= s.offset + SLIVER))
    };
    // Nodes at which a member is filled for the first or the last time.
    let outer: Vec<BTreeSet<usize>> = lattice
        .members
        .iter()
        .map(|m| {
            let filled = m.joints.iter().filter(|j| j.filled);
            let mut filled = filled.map(|j| j.node).filter(|&n| kept(n));
            let first = filled.next();
            first.into_iter().chain(filled.next_back()).collect()
        })
        .collect();
    let rank = |m: usize| {
        let family = lattice.members.get(m).map(|m| m.family);
        family
            .and_then(|f| lattice.families.get(f))
            .map_or(0, |f| f.rank)
    };
    let is_outer = |m: usize, node: usize| outer.get(m).is_some_and(|nodes| nodes.contains(&node));
    let mut found = Vec::new();
    for (front, member) in lattice.members.iter().enumerate() {
        for joint in &member.joints {
            let behind = |&back: &usize| joint.filled && rank(back) < rank(front);
            let Some(back) = joint.with.filter(behind) else {
                continue;
            };
            if !is_outer(front, joint.node) && !is_outer(back, joint.node) {
                continue;
            }
            found.extend(lattice.nodes.get(joint.node).map(|node| GlueJoint {
                at: node.at,
                back,
                front,
            }));
        }
    }
    found
}
