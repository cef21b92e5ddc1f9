//! A class of members as a piece of a stick: its joints, what it needs before and past them, and where
//! it fits the pattern of its line.

use super::error::SticksError;
use super::pattern::{Notch, Pattern, same_joint};
use crate::geom::{NODE_SNAP, cos_deg, sin_deg};
use crate::lattice::{ClassId, Edge, FamilyId, Lattice, Member, Turn};
use crate::non_empty::NonEmpty;
use crate::panel::Panel;
use kurbo::Vec2;

/// A joint of a piece.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct OwnJoint {
    /// Along the centre line from the member's start, mm.
    pub(super) at: f64,
    /// Its notches.
    pub(super) notches: Vec<Notch>,
}

/// A class of members as a piece of a stick. Places are mm from the start of its first member.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    /// The class of members.
    pub(super) class: ClassId,
    /// Families of its members, ascending.
    pub(super) families: Vec<FamilyId>,
    /// Least and greatest face.
    pub(super) face: [f64; 2],
    /// Least and greatest depth.
    pub(super) depth: [f64; 2],
    /// How many such members a panel has.
    pub(super) members: u64,
    /// Its joints.
    pub(super) joints: NonEmpty<OwnJoint>,
    /// Where it is cut.
    pub(super) cut: [f64; 2],
    /// How far its wood reaches: beyond the cuts where its ends are skew.
    pub(super) wood: [f64; 2],
    /// How far what the outline leaves of any of its members reaches before its first and past its last
    /// joint.
    pub(super) kept: [f64; 2],
    /// Least lead and tail of its families.
    pub(super) lead: f64,
    pub(super) tail: f64,
}

/// What a piece takes of a stick before its first and past its last joint, turned as it lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ends {
    pub(super) before: f64,
    pub(super) after: f64,
}

impl Piece {
    pub(super) fn of(
        lattice: &Lattice,
        panel: &Panel,
        class: ClassId,
    ) -> Result<Self, SticksError> {
        let none = |member: &Member| SticksError::NoJoint {
            member: member.id.clone(),
        };
        let of = &lattice.classes[class];
        let members = || of.members.iter().map(|&m| &lattice.members[m]);
        let first = &lattice.members[of.first];
        let mut families: Vec<FamilyId> = members().map(|m| m.family).collect();
        families.sort_unstable();
        families.dedup();
        let own_ends = |key: fn(&Panel) -> f64| {
            let of_family =
                |&f: &FamilyId| ends_of(lattice, panel, f).unwrap_or_else(|| key(panel));
            families.iter().map(of_family).fold(0.0, f64::max)
        };
        let axis = lattice.families[first.family].axis();
        let (lo, hi) = lattice.body(first).extent(axis);
        let start = axis.dot(first.start.to_vec2());
        let cut = lattice.as_cut(first);
        let joints = own_joints(&cut).ok_or_else(|| none(first))?;
        let mut kept = [0.0; 2];
        for member in members() {
            let beyond = kept_beyond(lattice, member).ok_or_else(|| none(member))?;
            kept = [0, 1].map(|side| f64::max(kept[side], beyond[side]));
        }
        Ok(Self {
            class,
            face: lattice.faces[first.family],
            depth: lattice.depths[first.family],
            members: of.members.len() as u64,
            joints,
            cut: [cut.from, cut.to],
            wood: [(lo - start).min(cut.from), (hi - start).max(cut.to)],
            kept,
            lead: own_ends(|p| p.sticks.lead),
            tail: own_ends(|p| p.sticks.tail),
            families,
        })
    }

    /// Place of its first and last joint.
    pub(super) fn span(&self) -> [f64; 2] {
        [self.joints.first().at, self.joints.last().at]
    }

    /// From its first joint as it lies back to its first cut, mm.
    pub(super) fn front(&self, turn: Turn) -> f64 {
        let [first, last] = self.span();
        if turn.swaps_ends() {
            self.cut[1] - last
        } else {
            first - self.cut[0]
        }
    }

    /// How far its wood reaches before its first and past its last joint as it lies, mm.
    pub(super) fn wood_beyond(&self, turn: Turn) -> [f64; 2] {
        let [first, last] = self.span();
        let mut beyond = [first - self.wood[0], self.wood[1] - last];
        if turn.swaps_ends() {
            beyond.reverse();
        }
        beyond
    }

    /// How far what is kept of it after trimming reaches before its first joint as it lies, mm.
    pub(super) fn kept_front(&self, turn: Turn) -> f64 {
        self.kept[usize::from(turn.swaps_ends())]
    }

    /// What it takes of a stick: the greater of lead or tail and how far its wood reaches.
    pub(super) fn ends(&self, turn: Turn) -> Ends {
        let [front, rear] = self.wood_beyond(turn);
        Ends {
            before: self.lead.max(front),
            after: self.tail.max(rear),
        }
    }

    /// How far the notches of its first and last joint reach out, as it lies unturned.
    pub(super) fn reach(&self) -> [f64; 2] {
        let out = |joint: &OwnJoint, side: usize| {
            let notches = joint.notches.iter();
            let reach = notches.map(|n| n.reach(self.face[1])[side]);
            reach.fold(0.0, f64::max)
        };
        [out(self.joints.first(), 0), out(self.joints.last(), 1)]
    }

    /// Which joint of the pattern along its first member's line its own first joint is, if the piece is
    /// a window of it: every notch of its own is there, none other reaches its wood. Places of joints
    /// are then those of the pattern.
    pub(super) fn window(
        &mut self,
        lattice: &Lattice,
        pattern: &Pattern,
        zero: f64,
    ) -> Option<i64> {
        let member = &lattice.members[lattice.classes[self.class].first];
        let first = pattern.nearest(self.joints.first().at - zero);
        let count = self.joints.len() as i64;
        let mut places = Vec::with_capacity(self.joints.len());
        for (joint, own) in (first..).zip(&self.joints) {
            let place = zero + pattern.place(joint);
            let whole: Vec<Notch> = pattern.notches(joint).to_vec();
            // Towards the pattern's place of the joint, from which its notches are measured.
            let own: Vec<Notch> = own
                .notches
                .iter()
                .map(|n| Notch {
                    off: own.at + n.off - place,
                    ..*n
                })
                .collect();
            let inner = joint > first && joint < first + count - 1;
            let missing = missing(&own, &whole)?;
            if (inner && !missing.is_empty())
                || missing
                    .iter()
                    .any(|n| reaches(lattice, member, place + n.off, n))
            {
                return None;
            }
            places.push(place);
        }
        for (from, step) in [(first - 1, -1), (first + count, 1)] {
            let mut joint = from;
            // All joints whose notches could reach in.
            loop {
                let place = zero + pattern.place(joint);
                let far = |n: &Notch| {
                    let [back, on] = n.reach(self.face[1]);
                    place + on < self.wood[0] || place - back > self.wood[1]
                };
                let notches = pattern.notches(joint);
                let outside = if step < 0 {
                    place < self.wood[0]
                } else {
                    place > self.wood[1]
                };
                if notches
                    .iter()
                    .any(|n| reaches(lattice, member, place + n.off, n))
                {
                    return None;
                }
                if outside && notches.iter().all(far) {
                    break;
                }
                joint += step;
            }
        }
        for (joint, place) in self.joints.iter_mut().zip(places) {
            joint.at = place;
        }
        Some(first)
    }
}

/// How far what the outline leaves of a member reaches before its first joint and past its last, in the
/// order of its class's ends, mm; `None` without joints.
fn kept_beyond(lattice: &Lattice, member: &Member) -> Option<[f64; 2]> {
    let (lo, hi) = lattice.kept_span(member);
    let (first, last) = (member.joints.first()?, member.joints.last()?);
    let mut beyond = [first.at - lo, hi - last.at];
    if member.turn.swaps_ends() {
        beyond.reverse();
    }
    Some(beyond)
}

/// Lead and tail that the panel sets for a family alone.
pub(super) fn ends_of(lattice: &Lattice, panel: &Panel, family: FamilyId) -> Option<f64> {
    let name = &lattice.families[family].name;
    let own = panel.sticks.ends.iter().find(|(n, _)| n == name)?;
    Some(own.1)
}

/// The joints of a member, its notches gathered by node; `None` without any.
fn own_joints(member: &Member) -> Option<NonEmpty<OwnJoint>> {
    let mut out: Vec<OwnJoint> = Vec::new();
    for at_node in member.joints.chunk_by(|a, b| a.at + NODE_SNAP >= b.at) {
        let ats = at_node.iter().map(|j| j.at);
        let (lo, hi) = ats.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), at| {
            (lo.min(at), hi.max(at))
        });
        let at = 0.5 * (lo + hi);
        let notches = at_node.iter().map(|j| Notch {
            off: j.at - at,
            edge: j.edge,
            angle_deg: j.angle_deg,
            width: j.width,
            depth: j.depth,
        });
        out.push(OwnJoint {
            at,
            notches: notches.collect(),
        });
    }
    NonEmpty::of(out)
}

/// Notches that the whole joint has and the piece's own does not; `None` where the piece has one that
/// is not there.
fn missing(own: &[Notch], whole: &[Notch]) -> Option<Vec<Notch>> {
    let mut left = whole.to_vec();
    for notch in own {
        let at = left
            .iter()
            .position(|n| same_joint(std::slice::from_ref(n), std::slice::from_ref(notch)))?;
        left.swap_remove(at);
    }
    Some(left)
}

/// Whether a notch at this place of a member's line takes wood of the member.
fn reaches(lattice: &Lattice, member: &Member, at: f64, notch: &Notch) -> bool {
    let own = &lattice.families[member.family];
    let t = match notch.edge {
        Edge::Front => notch.angle_deg,
        Edge::Back => 180.0 - notch.angle_deg,
    };
    let direction = own.direction_deg + t;
    let normal = Vec2::new(-sin_deg(direction), cos_deg(direction));
    let centre = member.start.to_vec2() + own.axis() * at;
    let (offset, half) = (normal.dot(centre), 0.5 * notch.width);
    lattice
        .body(member)
        .within(normal, offset - half, offset + half)
        .is_solid()
}
