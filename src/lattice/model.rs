//! Members, joints and nodes: the lattice as later stages see it.

use kurbo::{Point, Rect};

use super::family::{Family, FamilyId};
use super::outline::Outline;
use crate::geom::{Frame, frame};
use crate::table::{Column, Id, Table};

/// Which line.
pub type LineId = Id<Line>;
/// Which node.
pub type NodeId = Id<Node>;
/// Which member.
pub type MemberId = Id<Member>;
/// Which class of members.
pub type ClassId = Id<Class>;

/// The edge of a bar that a notch is cut in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Edge {
    /// z = depth, towards the viewer.
    Front,
    /// z = 0.
    Back,
}

impl Edge {
    /// The opposite edge.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Front => Self::Back,
            Self::Back => Self::Front,
        }
    }

    /// Word in `job.json`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Back => "back",
        }
    }

    /// Least and greatest height of a notch in this edge above the back edge, mm.
    #[must_use]
    pub(super) fn heights(self, notch: f64, bar: f64) -> (f64, f64) {
        match self {
            Self::Front => (bar - notch, bar),
            Self::Back => (0.0, notch),
        }
    }
}

/// A centre line on which a bar may lie: a member's, or one that crosses a member.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its family's letter and its number among the family's lines; of a ring, the side's name.
    pub name: String,
    /// Its family.
    pub family: FamilyId,
    /// Where it lies along the family's normal, mm from the origin.
    pub offset: f64,
}

/// A place where two or more lines cross.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Where, mm.
    pub at: Point,
    /// The lines that meet there, back one first.
    pub lines: Vec<LineId>,
}

/// How a bar's end is cut, seen from the front.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EndShape {
    /// Square to the bar.
    Square,
    /// One plane at an angle.
    Skew,
    /// Two planes that meet within the face.
    Point,
}

/// An end of a bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct End {
    /// From the axis to the cut's plane, counter-clockwise seen from the front, degrees; 90 is square.
    pub angle_deg: f64,
    /// Its shape.
    pub shape: EndShape,
}

/// Whether a notch has walls at the crossing angle or square to the bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JointShape {
    /// Walls along the bar that fills it: cut edge up.
    Skew,
    /// Walls square to the bar: cut flat.
    Square,
}

impl JointShape {
    /// Angle from the bar's axis to the walls as seen from the front, degrees; `angle_deg` is the
    /// crossing angle seen from the notched edge.
    pub(super) fn wall_angle_deg(self, edge: Edge, angle_deg: f64) -> f64 {
        match (self, edge) {
            (Self::Square, _) => 90.0,
            (Self::Skew, Edge::Front) => angle_deg,
            (Self::Skew, Edge::Back) => 180.0 - angle_deg,
        }
    }
}

/// A notch in a member, and what fills it.
#[derive(Debug, Clone, PartialEq)]
pub struct Joint {
    /// Along the centre line from the member's start, mm.
    pub at: f64,
    /// The node.
    pub node: NodeId,
    /// The member of the line that crosses here; `None` for a line that is no member.
    pub with: Option<MemberId>,
    /// Whether that member reaches into the notch; else it stays empty.
    pub filled: bool,
    /// The line that crosses here.
    pub line: LineId,
    /// Which edge the notch is cut in.
    pub edge: Edge,
    /// Counter-clockwise from the bar's axis to the other's, seen from the notched edge, degrees.
    pub angle_deg: f64,
    /// Other face + clearance, across the notch, mm.
    pub width: f64,
    /// From the notched edge to the floor, mm.
    pub depth: f64,
    /// Shape of the walls.
    pub shape: JointShape,
    /// Length of the notch along the bar as cut, mm.
    pub run: f64,
}

/// One bar of the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Member {
    /// Family letter and number.
    pub id: String,
    /// Its family.
    pub family: FamilyId,
    /// Its line.
    pub line: LineId,
    /// Its class.
    pub class: ClassId,
    /// How the class's piece is turned to become this member.
    pub turn: Turn,
    /// Where the outline cuts its centre line first.
    pub start: Point,
    /// Where the outline cuts its centre line last.
    pub end: Point,
    /// First end, along the centre line from `start`, mm; 0 or less.
    pub from: f64,
    /// Last end, mm.
    pub to: f64,
    /// How far past `from` its class's piece begins as it lies here, mm: not 0 where the class is the mean of
    /// several members.
    pub shift: f64,
    /// First and last end as cut.
    pub ends: [End; 2],
    /// Whether the ends are trimmed by hand: cut flat, at a skew side, without overhang.
    pub trimmed_by_hand: [bool; 2],
    /// Its notches in order of `at`; at one node, back bar first.
    pub joints: Vec<Joint>,
}

/// What is trimmed by hand, in words: first and last end; empty for neither.
#[must_use]
pub fn trim_remark(trimmed_by_hand: [bool; 2]) -> &'static str {
    match trimmed_by_hand {
        [false, false] => "",
        [true, true] => "trim both ends by hand",
        [true, false] => "trim first end by hand",
        [false, true] => "trim last end by hand",
    }
}

impl Member {
    /// Its own length, mm; its class's is cut.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.to - self.from
    }
}

/// How a class's piece is turned to become a member.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Turn {
    /// As it is.
    None,
    /// Over, about its long axis: front and back edges swap.
    Over,
    /// End for end.
    End,
    /// Over and end for end.
    Both,
}

impl Turn {
    /// All four, in order of preference.
    pub const ALL: [Self; 4] = [Self::None, Self::Over, Self::End, Self::Both];

    /// This turn and then another.
    #[must_use]
    pub fn then(self, other: Self) -> Self {
        // Two half turns about the same axis are none, and half turns about two axes one about the third.
        Self::ALL[self as usize ^ other as usize]
    }

    /// Carries a piece of this length and depth, mm, from its own frame to where the turned piece has its own.
    #[must_use]
    pub fn frame(self, length: f64, depth: f64) -> Frame {
        let over = frame::frame(frame::half_turn_about_x(), [0.0, 0.0, depth]);
        let end = frame::frame(frame::half_turn_about_z(), [length, 0.0, 0.0]);
        match self {
            Self::None => Frame::identity(),
            Self::Over => over,
            Self::End => end,
            Self::Both => end * over,
        }
    }

    /// Whether front and back edges swap.
    #[must_use]
    pub fn swaps_edges(self) -> bool {
        matches!(self, Self::Over | Self::Both)
    }

    /// Whether first and last end swap.
    #[must_use]
    pub fn swaps_ends(self) -> bool {
        matches!(self, Self::End | Self::Both)
    }

    /// Word in `job.json`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Over => "over",
            Self::End => "end",
            Self::Both => "both",
        }
    }
}

/// A notch of a class's piece; `at` is from its first end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassNotch {
    /// Along the centre line from the first end, mm.
    pub at: f64,
    /// Notched edge.
    pub edge: Edge,
    /// Crossing angle seen from that edge, degrees.
    pub angle_deg: f64,
    /// Across the notch, mm.
    pub width: f64,
    /// From the edge to the floor, mm.
    pub depth: f64,
    /// Shape of the walls.
    pub shape: JointShape,
    /// Along the bar, mm.
    pub run: f64,
}

/// Members that are the same piece: the first one's, or the mean of them where more than round-off tells them
/// apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    /// A letter or two.
    pub id: String,
    /// The first of its members.
    pub first: MemberId,
    /// All of them, in the order of the lattice's.
    pub members: Vec<MemberId>,
    /// Whether it is the mean of members that more than round-off tells apart.
    pub mean: bool,
    /// Length as cut, mm.
    pub length: f64,
    /// First and last end.
    pub ends: [End; 2],
    /// Whether the ends are trimmed by hand.
    pub trimmed_by_hand: [bool; 2],
    /// Its notches in order of `at`.
    pub notches: Vec<ClassNotch>,
}

/// A whole ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Lattice {
    /// The families, moved so that the trimmed ground's lower left corner is the origin.
    pub families: Table<Family>,
    /// The trimmed outline.
    pub outline: Outline,
    /// From back to front, mm.
    pub depth: f64,
    /// Play across every notch, mm.
    pub clearance: f64,
    /// Least and greatest face of each family, mm: notches take the greatest, the gap the least.
    pub faces: Column<Family, [f64; 2]>,
    /// Least and greatest depth of each family's sticks, mm; the drawn depth where it is cut.
    pub depths: Column<Family, [f64; 2]>,
    /// All lines that members lie on or that cross one.
    pub lines: Table<Line>,
    /// Members that differ by no more are the same piece, mm and degrees.
    pub same_piece: f64,
    /// All nodes.
    pub nodes: Table<Node>,
    /// All members.
    pub members: Table<Member>,
    /// Same pieces.
    pub classes: Table<Class>,
    /// Members that go in together, back ones first.
    pub order: Vec<Vec<MemberId>>,
    /// Least clear distance between notches of different nodes, and the member it is at; without those of joints
    /// that lie wholly in wood that is trimmed away.
    pub least_web: Option<(f64, MemberId)>,
    /// The same of joints that lie wholly in wood that is trimmed away.
    pub waste_web: Option<(f64, MemberId)>,
}

impl Lattice {
    /// Size of the trimmed ground.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        self.outline.bounds()
    }

    /// How much deeper than drawn the thickest stick of a family is, mm; below 0 where all are thinner.
    #[must_use]
    pub fn too_deep(&self, family: FamilyId) -> f64 {
        self.depths[family][1] - self.depth
    }

    /// How much shallower than drawn the thinnest stick of a family is, mm; below 0 where all are thicker.
    #[must_use]
    pub fn too_thin(&self, family: FamilyId) -> f64 {
        self.depth - self.depths[family][0]
    }

    /// Whether any bar of a family is notched from both edges in one joint: a middle member.
    #[must_use]
    pub fn floored_twice(&self, family: FamilyId) -> bool {
        let own = self.members.iter().filter(|m| m.family == family);
        own.flat_map(|m| m.joints.chunk_by(|a, b| a.node == b.node))
            .any(|here| {
                let has = |edge: Edge| here.iter().any(|j| j.edge == edge);
                has(Edge::Front) && has(Edge::Back)
            })
    }

    /// The member that lies on each line; `None` where there is no wood.
    #[must_use]
    pub(super) fn members_of_lines(
        lines: &Table<Line>,
        members: &Table<Member>,
    ) -> Column<Line, Option<MemberId>> {
        let mut of = lines.column(|_, _| None);
        for (m, member) in members.entries() {
            of[member.line] = Some(m);
        }
        of
    }

    /// Number of notches over all members.
    #[must_use]
    pub fn joint_count(&self) -> usize {
        self.members.iter().map(|m| m.joints.len()).sum()
    }
}
