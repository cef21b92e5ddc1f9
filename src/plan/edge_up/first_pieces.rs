//! What the first pieces of the sticks of a class become: where the orientation mark may stand, and which edge
//! ends at the back.

use crate::lattice::{Edge, Lattice, Member};
use crate::stock::{StickClassId, StickPiece, StickPlan};

/// Every member that the first piece of a stick of a class becomes, with that piece.
fn first_members<'a>(
    lattice: &'a Lattice,
    sticks: &'a StickPlan,
    class: StickClassId,
) -> impl Iterator<Item = (&'a StickPiece, &'a Member)> {
    sticks
        .of_class(class)
        .filter_map(|(_, stick)| stick.pieces.first())
        .flat_map(move |piece| {
            let members = lattice.classes[piece.class].members.iter();
            members.map(move |&m| (piece, &lattice.members[m]))
        })
}

/// Where the first pieces of all sticks of a class have begun, and up to where nothing of any is kept when
/// the panel is trimmed, along the centre line from the datum end, mm.
pub(super) fn first_ends(lattice: &Lattice, sticks: &StickPlan, class: StickClassId) -> [f64; 2] {
    let mut found = [0.0, f64::INFINITY];
    for (piece, member) in first_members(lattice, sticks, class) {
        let (lo, hi) = lattice.kept_span(member);
        let (from, to) = lattice.cut_span(member);
        // From the member to the class's piece and on to the stick.
        let beyond = if member.turn.swaps_ends() == piece.turn.swaps_ends() {
            lo - from
        } else {
            to - hi
        };
        found = [
            f64::max(found[0], piece.cut[0]),
            f64::min(found[1], piece.cut[0] + beyond),
        ];
    }
    found
}

/// The edge of the sticks of a class that ends at the back of the panel in every first piece; `None` where
/// it is not the same in all.
pub(super) fn back_edge(
    lattice: &Lattice,
    sticks: &StickPlan,
    class: StickClassId,
) -> Option<Edge> {
    let mut edges = first_members(lattice, sticks, class).map(|(piece, member)| {
        if member.turn.swaps_edges() == piece.turn.swaps_edges() {
            Edge::Back
        } else {
            Edge::Front
        }
    });
    let first = edges.next()?;
    edges.all(|e| e == first).then_some(first)
}
