//! Checks of the joints as planned.

use super::check::{Check, Unit};
use super::check_id::CheckId;
use super::measured::measured_checks;
use crate::geom::cot_deg;
use crate::lattice::{JointShape, Lattice, MemberId};
use crate::panel::{Material, Panel};
use crate::setup::Edge;

/// How far relieved corners bite beyond a notch's walls and floor, mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bites {
    /// Into each wall.
    pub wall: f64,
    /// Into the floor.
    pub floor: f64,
}

/// Wood left at and between the joints, and how they are meant to fit.
#[must_use]
pub fn joint_checks(
    lattice: &Lattice,
    panel: &Panel,
    material: &Material,
    bites: Bites,
) -> Vec<Check> {
    let name = |m: MemberId| format!("member {}", lattice.members[m].id);
    let mut checks = web_checks(lattice, material, bites);
    if let Some((section, at)) = least_section(lattice, bites.floor) {
        checks.push(Check::at_least(
            CheckId::Section,
            section,
            material.least_section,
            Unit::Mm,
            name(at),
        ));
    }
    if let Some((wedge, at)) = lattice.greatest_wedge() {
        checks.push(Check::at_most(
            CheckId::Wedge,
            wedge,
            0.0,
            Unit::Mm,
            name(at),
        ));
    }
    let place = "clearance of every notch";
    checks.extend(clearance_checks(panel.cut.clearance, material, place));
    checks.extend(measured_checks(lattice, material));
    if let Some((length, m)) = shortest(lattice) {
        // Common practice, no source: a bar shorter than it is deep is a chip, not a bar.
        checks.push(Check::at_least(
            CheckId::ShortMember,
            length,
            lattice.depth,
            Unit::Mm,
            name(m),
        ));
    }
    let held = lattice
        .members
        .entries()
        .map(|(m, member)| (member.joints.iter().filter(|j| j.filled).count(), m))
        .min();
    if let Some((joints, at)) = held {
        checks.push(Check::at_least(
            CheckId::MemberHeld,
            joints as f64,
            1.0,
            Unit::Joints,
            name(at),
        ));
    }
    if let Some((opening, at)) = greatest_opening(lattice) {
        let limit = if material.tight_joints { 0.0 } else { opening };
        let check = Check::at_most(CheckId::Opening, opening, limit, Unit::Mm, name(at));
        checks.push(if panel.cut.loose_joints {
            check.accepted()
        } else {
            check
        });
    }
    checks
}

/// Wood between the notches of a member.
fn web_checks(lattice: &Lattice, material: &Material, bites: Bites) -> Vec<Check> {
    let name = |m: MemberId| format!("member {}", lattice.members[m].id);
    let mut checks = Vec::new();
    let [kept, waste] = lattice.find_least_webs(bites.wall);
    if let Some((web, at)) = kept {
        let place = name(at);
        checks.push(Check::at_least(
            CheckId::Web,
            web,
            material.least_web,
            Unit::Mm,
            place,
        ));
    }
    // Wood that is trimmed away may break off: the maker should know.
    if let Some((web, at)) = waste.filter(|w| w.0 < material.least_web) {
        let place = format!("{}, in wood that is trimmed away", name(at));
        let check = Check::at_least(CheckId::Web, web, material.least_web, Unit::Mm, place);
        // Where nothing is left the cut breaks through, whatever becomes of the wood.
        checks.push(if web > 0.0 { check.accepted() } else { check });
    }
    checks
}

/// Whether a material bears a clearance, mm, neither too tight nor too loose for it.
#[must_use]
pub fn clearance_checks(clearance: f64, material: &Material, place: &str) -> [Check; 2] {
    [
        Check::at_least(CheckId::Press, clearance, -material.press, Unit::Mm, place),
        Check::at_most(CheckId::Play, clearance, material.play, Unit::Mm, place),
    ]
}

/// The shortest member, by its centre line: what is left of it once it is trimmed.
fn shortest(lattice: &Lattice) -> Option<(f64, MemberId)> {
    let lengths = lattice.members.entries();
    lengths
        .map(|(m, member)| (member.length().min((member.end - member.start).hypot()), m))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

/// Least height that a member keeps at a node, mm, and the member: the depth less the deepest notch of
/// either edge, each bitten deeper by its relief. Without relief this is depth / k.
///
/// Floors of sticks are cut at their height above the bed under the other edge. So what is kept above or
/// below a single notch is exact, and what is kept between two loses what a thick stick has too much.
fn least_section(lattice: &Lattice, relief: f64) -> Option<(f64, MemberId)> {
    let mut least: Option<(f64, MemberId)> = None;
    for (m, member) in lattice.members.entries() {
        for at_node in member.joints.chunk_by(|a, b| a.node == b.node) {
            let lost = |edge: Edge| {
                let cut = at_node.iter().filter(|j| j.edge == edge);
                cut.map(|j| j.depth + relief).fold(0.0, f64::max)
            };
            let (front, back) = (lost(Edge::Front), lost(Edge::Back));
            let mut kept = lattice.depth - front - back;
            if front > 0.0 && back > 0.0 {
                kept -= lattice.too_deep(member.family).max(0.0);
            }
            if least.is_none_or(|(l, _)| kept < l) {
                least = Some((kept, m));
            }
        }
    }
    least
}

/// Longest leg of the triangular openings that square walls leave beside a skew bar: own face times
/// |cot t|, mm, and the member.
fn greatest_opening(lattice: &Lattice) -> Option<(f64, MemberId)> {
    let mut greatest: Option<(f64, MemberId)> = None;
    for (m, member) in lattice.members.entries() {
        let [_, face] = lattice.faces[member.family];
        for joint in member
            .joints
            .iter()
            .filter(|j| j.shape == JointShape::Square)
        {
            let leg = face * cot_deg(joint.angle_deg).abs();
            if greatest.is_none_or(|(g, _)| leg > g) {
                greatest = Some((leg, m));
            }
        }
    }
    greatest
}
