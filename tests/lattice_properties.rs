//! What holds for every lattice, over odd panels: two layouts, unequal faces, all ranks, all rules for
//! sides, with overhang and without, with play and pressed.
//!
//! Formulas are those of the joint rule and of the two ways to cut as the design gives them; positions
//! are worked out again here from the members' own ends.
#![allow(clippy::panic, reason = "tests")]

#[path = "lattice_properties/panels.rs"]
pub mod panels;

use std::collections::BTreeSet;

use lapwright::geom::Point;
use lapwright::lattice::{
    End, Joint, JointShape, Lattice, Member, MemberId, Turn, dry_fit, intended_shapes, turned_end,
};
use lapwright::setup::Edge;
use panels::{COUNT, Case, cases, mirrored};

/// Round-off of a sum of lengths, mm.
const NEAR: f64 = 1e-6;

#[track_caller]
fn near(a: f64, b: f64, what: &str) {
    assert!((a - b).abs() < NEAR, "{what}: {a} and {b}");
}

/// The panels that make a lattice.
fn built() -> Vec<(Case, Lattice)> {
    let build = |case: Case| {
        let lattice = Lattice::build(&case.panel, case.measured).ok()?;
        Some((case, lattice))
    };
    cases().into_iter().filter_map(build).collect()
}

/// Length of the outline's stretch of a member.
fn span(member: &Member) -> f64 {
    (member.end - member.start).hypot()
}

/// A joint's place in the plane, from the member's own ends.
fn place(member: &Member, joint: &Joint) -> Point {
    member.start + (member.end - member.start) * (joint.at / span(member))
}

/// Angle of a member's axis, degrees.
fn direction(member: &Member) -> f64 {
    let d = member.end - member.start;
    d.y.atan2(d.x).to_degrees()
}

fn sine(joint: &Joint) -> f64 {
    joint.angle_deg.to_radians().sin()
}

/// Pairs of joints of one pair of members: member and joint of each.
fn pairs(lattice: &Lattice) -> Vec<[(MemberId, &Joint); 2]> {
    let mut found = Vec::new();
    for (a, member) in lattice.members.entries() {
        for joint in &member.joints {
            let Some(b) = joint.with.filter(|_| joint.filled) else {
                continue;
            };
            let back = lattice.members[b]
                .joints
                .iter()
                .filter(|j| j.filled && j.with == Some(a));
            let back: Vec<&Joint> = back.collect();
            let [mate] = back.as_slice() else {
                panic!("{} and {}: {back:?}", member.id, lattice.members[b].id)
            };
            found.push([(a, joint), (b, *mate)]);
        }
    }
    found
}

#[test]
fn most_odd_panels_make_a_lattice() {
    let mut refused = Vec::new();
    for case in cases() {
        if let Err(faults) = Lattice::build(&case.panel, case.measured) {
            for fault in &faults {
                assert!(
                    !fault.key().is_empty() && !fault.hint().is_empty(),
                    "{fault}"
                );
            }
            refused.push(format!("{}: {}", case.panel.name, faults[0]));
        }
    }
    assert!(refused.len() <= COUNT / 5, "{}", refused.join("\n"));
    // What is left is of every kind.
    let built = built();
    let kinds: BTreeSet<(&str, bool, bool)> = built
        .iter()
        .map(|(case, l)| {
            let mut joints = l.members.iter().flat_map(|m| &m.joints);
            let skew = joints.any(|j| j.shape == JointShape::Skew);
            let layout = case.panel.ground.layout.name();
            (layout, skew, case.panel.outline.overhang > 0.0)
        })
        .collect();
    assert_eq!(kinds.len(), 20, "layout, way to cut, overhang: {kinds:?}");
}

#[test]
fn mating_notches_fill_the_depth() {
    for (case, lattice) in built() {
        let what = &case.panel.name;
        let all = pairs(&lattice);
        assert!(!all.is_empty(), "{what}: joints");
        for [(a, joint), (b, mate)] in all {
            assert_eq!(joint.node, mate.node, "{what}: one node");
            assert_ne!(joint.edge, mate.edge, "{what}: opposite edges");
            near(joint.depth + mate.depth, lattice.depth, what);
            // Seen from its own notched edge, each sees the other at the same angle.
            near(joint.angle_deg, mate.angle_deg, what);
            let (m, other) = (&lattice.members[a], &lattice.members[b]);
            let apart = (place(m, joint) - place(other, mate)).hypot();
            assert!(apart < NEAR, "{what}: {} and {} by {apart}", m.id, other.id);
            assert_eq!((joint.line, mate.line), (other.line, m.line), "{what}");
            // The member of the lesser rank lies behind, and is notched in front.
            let rank = |m: &Member| lattice.families[m.family].rank;
            assert_eq!(joint.edge == Edge::Front, rank(m) < rank(other), "{what}");
        }
    }
}

#[test]
fn notches_have_the_sizes_of_the_formulas() {
    for (case, lattice) in built() {
        for member in &lattice.members {
            for joint in &member.joints {
                let what = format!("{} {}", case.panel.name, member.id);
                let other = lattice.faces[lattice.lines[joint.line].family][1];
                let own = lattice.faces[member.family][1];
                near(joint.width, other + case.panel.cut.clearance, &what);
                let cos = joint.angle_deg.to_radians().cos().abs();
                let run = match joint.shape {
                    JointShape::Skew => joint.width / sine(joint),
                    JointShape::Square => (joint.width + own * cos) / sine(joint),
                };
                near(joint.run, run, &what);
                let node = &lattice.nodes[joint.node];
                assert!(
                    (place(member, joint) - node.at).hypot() < 2e-3,
                    "{what}: {node:?}"
                );
                if let Some(with) = joint.with {
                    // From the axes themselves; a back notch is seen from behind.
                    let t = direction(&lattice.members[with]) - direction(member);
                    let t = t.rem_euclid(180.0);
                    let seen = if joint.edge == Edge::Front {
                        t
                    } else {
                        180.0 - t
                    };
                    near(joint.angle_deg, seen, &what);
                }
            }
        }
    }
}

#[test]
fn every_member_keeps_its_share_at_every_node() {
    let (mut whole, mut part) = (0, 0);
    for (case, lattice) in built() {
        for member in &lattice.members {
            for at_node in member.joints.chunk_by(|a, b| a.node == b.node) {
                let k = lattice.nodes[at_node[0].node].lines.len();
                let deepest = |edge: Edge| {
                    let cut = at_node.iter().filter(|j| j.edge == edge);
                    cut.map(|j| j.depth).fold(0.0, f64::max)
                };
                let kept = lattice.depth - deepest(Edge::Front) - deepest(Edge::Back);
                let share = lattice.depth / k as f64;
                let what = format!("{} {}", case.panel.name, member.id);
                if at_node.len() == k - 1 {
                    near(kept, share, &what);
                    whole += 1;
                } else {
                    // At an end that reaches only some of the bars of a node.
                    assert!(kept > share - NEAR, "{what}: {kept} of {share}");
                    part += 1;
                }
            }
        }
    }
    assert!(whole > 4 * part, "{whole} whole, {part} in part");
}

/// Members whose centre lines cross well inside both have a joint there, with each other.
#[test]
fn no_crossing_is_forgotten() {
    for (case, lattice) in built() {
        let widest = lattice.faces.iter().map(|f| f[1]).fold(0.0, f64::max);
        for (a, m) in lattice.members.entries() {
            for (b, other) in lattice.members.entries().skip(a.index() + 1) {
                let (d, e) = (m.end - m.start, other.end - other.start);
                let cross = d.cross(e);
                if m.family == other.family {
                    assert!(cross.abs() < NEAR * d.hypot() * e.hypot(), "parallel");
                    continue;
                }
                let t = (other.start - m.start).cross(e) / cross;
                let s = (other.start - m.start).cross(d) / cross;
                let inside = |t: f64, l: f64| t * l > 2.0 * widest && t * l < l - 2.0 * widest;
                if inside(t, d.hypot()) && inside(s, e.hypot()) {
                    let found = |m: &Member, other| m.joints.iter().any(|j| j.with == Some(other));
                    assert!(
                        found(m, b) && found(other, a),
                        "{}: {} and {}",
                        case.panel.name,
                        m.id,
                        other.id
                    );
                }
            }
        }
    }
}

/// No two members share space, and walls stand off by half the play over the sine; square walls by the
/// opening of face × |cot t| besides, and by what the stock is thinner than its greatest reading.
#[test]
fn intended_shapes_fit() {
    for (case, lattice) in built() {
        let what = &case.panel.name;
        let fit = dry_fit(&lattice, &intended_shapes(&lattice), 0.0);
        assert!(fit.interference_mm3 < NEAR, "{what}: {fit:?}");
        assert_eq!(fit.crush_mm3, 0.0, "{what}: {fit:?}");
        let c = case.panel.cut.clearance;
        near(fit.press_mm, (-c).max(0.0), what);
        let gap = |member: &Member, joint: &Joint| {
            let [least, _] = lattice.faces[lattice.lines[joint.line].family];
            let own = lattice.faces[member.family][0];
            let lean = own * (joint.angle_deg.to_radians().cos() / sine(joint)).abs();
            let lean = if joint.shape == JointShape::Square {
                lean
            } else {
                0.0
            };
            0.5 * (joint.run - least / sine(joint) + lean)
        };
        let mut most: f64 = 0.0;
        for member in &lattice.members {
            for joint in member.joints.iter().filter(|j| j.filled) {
                most = most.max(gap(member, joint));
                if joint.shape == JointShape::Skew {
                    near(gap(member, joint), 0.5 * c / sine(joint), what);
                }
            }
        }
        near(fit.largest_gap_mm, most, &format!("{what}: gap of {fit:?}"));
    }
}

/// Each member's notches and ends are those of its class's piece, turned as the member says.
#[test]
fn turned_pieces_are_the_members() {
    let mut turns = BTreeSet::new();
    for (case, lattice) in built() {
        for (m, member) in lattice.members.entries() {
            let what = format!("{} {} {:?}", case.panel.name, member.id, member.turn);
            turns.insert(member.turn);
            let class = &lattice.classes[member.class];
            assert!(class.members.contains(&m), "{what}: its class has it");
            near(class.length, member.length(), &what);
            let end_for_end = matches!(member.turn, Turn::End | Turn::Both);
            let over = matches!(member.turn, Turn::Over | Turn::Both);
            let mut want: Vec<(f64, Edge, f64, f64, f64)> = class
                .notches
                .iter()
                .map(|n| {
                    let at = if end_for_end {
                        class.length - n.at
                    } else {
                        n.at
                    };
                    let edge = if over { n.edge.other() } else { n.edge };
                    (at + member.from, edge, n.angle_deg, n.depth, n.run)
                })
                .collect();
            assert_eq!(want.len(), member.joints.len(), "{what}");
            for j in &member.joints {
                let found = want.iter().position(|w| {
                    w.1 == j.edge
                        && [
                            (w.0, j.at),
                            (w.2, j.angle_deg),
                            (w.3, j.depth),
                            (w.4, j.run),
                        ]
                        .iter()
                        .all(|(a, b)| (a - b).abs() < 1e-5)
                });
                let found = found.unwrap_or_else(|| panic!("{what}: {j:?} not in {want:?}"));
                want.swap_remove(found);
            }
            let mut ends: [End; 2] = class.ends.map(|e| turned_end(e, member.turn));
            if end_for_end {
                ends.reverse();
            }
            for (a, b) in ends.iter().zip(&member.ends) {
                assert_eq!(a.shape, b.shape, "{what}");
                near(a.angle_deg, b.angle_deg, &what);
            }
        }
        let of_classes: usize = lattice.classes.iter().map(|c| c.members.len()).sum();
        assert_eq!(
            of_classes,
            lattice.members.len(),
            "every member has one class"
        );
    }
    assert_eq!(turns.len(), 4, "every turn was seen: {turns:?}");
}

#[test]
fn ids_are_unique_and_every_member_goes_in_once() {
    for (case, lattice) in built() {
        let what = &case.panel.name;
        let ids = lattice.members.iter().map(|m| &m.id);
        let ids: BTreeSet<&String> = ids.chain(lattice.classes.iter().map(|c| &c.id)).collect();
        assert_eq!(
            ids.len(),
            lattice.members.len() + lattice.classes.len(),
            "{what}"
        );
        let names: BTreeSet<&String> = lattice.lines.iter().map(|l| &l.name).collect();
        assert_eq!(names.len(), lattice.lines.len(), "{what}: lines");
        let mut order: Vec<MemberId> = lattice.order.iter().flatten().copied().collect();
        order.sort_unstable();
        assert!(order.into_iter().eq(lattice.members.ids()), "{what}: order");
    }
}

/// A mirrored panel has mirrored nodes and members: what lay at `at` from one end lies there from the
/// other, and every angle becomes 180 degrees less it.
#[test]
fn mirroring_a_panel_mirrors_its_lattice() {
    for (case, lattice) in built() {
        let what = &case.panel.name;
        let other = Lattice::build(&mirrored(&case.panel), case.measured)
            .unwrap_or_else(|e| panic!("{what}: the mirror image: {e:?}"));
        let width = lattice.bounds().width();
        near(width, other.bounds().width(), what);
        assert_eq!(lattice.nodes.len(), other.nodes.len(), "{what}: nodes");
        let flip = |p: Point| Point::new(width - p.x, p.y);
        for node in &lattice.nodes {
            let mirror = other
                .nodes
                .iter()
                .find(|n| n.at.distance(flip(node.at)) < NEAR);
            let mirror = mirror.unwrap_or_else(|| panic!("{what}: {node:?} has no image"));
            assert_eq!(mirror.lines.len(), node.lines.len(), "{what}: {node:?}");
        }
        assert_eq!(
            lattice.members.len(),
            other.members.len(),
            "{what}: members"
        );
        for member in &lattice.members {
            let upright = lattice.families[member.family].is_upright();
            let [start, end] = if upright {
                [flip(member.start), flip(member.end)]
            } else {
                [flip(member.end), flip(member.start)]
            };
            let same = |m: &&Member| m.start.distance(start) < NEAR && m.end.distance(end) < NEAR;
            let image = other.members.iter().find(same);
            let image = image.unwrap_or_else(|| panic!("{what}: {} has no image", member.id));
            assert_eq!(
                image.joints.len(),
                member.joints.len(),
                "{what}: {}",
                member.id
            );
            let length = span(member);
            let from = if upright {
                member.from
            } else {
                length - member.to
            };
            near(image.from, from, what);
            near(image.length(), member.length(), what);
            for j in &member.joints {
                let at = if upright { j.at } else { length - j.at };
                let found = image.joints.iter().any(|i| {
                    i.edge == j.edge
                        && i.with.is_some() == j.with.is_some()
                        && i.filled == j.filled
                        && [(i.at, at), (i.angle_deg, 180.0 - j.angle_deg)]
                            .iter()
                            .chain(&[(i.depth, j.depth), (i.run, j.run)])
                            .all(|(a, b)| (a - b).abs() < NEAR)
                });
                assert!(found, "{what}: {} {j:?} has no image", member.id);
            }
        }
    }
}
