//! What the summary tells of the ground: members and classes.

use serde::Serialize;

use crate::geom::micron;
use crate::lattice::{BarEnd, ClassId, End, EndShape, JointShape, Lattice, Member, MemberId};
use crate::panel::Panel;
use crate::setup::Marks;
use crate::table::Column;

#[derive(Debug, Clone, Serialize)]
pub(super) struct EndOut {
    angle: f64,
    shape: &'static str,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct MemberOut {
    id: String,
    class: String,
    turn: &'static str,
    family: String,
    rank: u32,
    face: f64,
    start: [f64; 2],
    end: [f64; 2],
    from: f64,
    to: f64,
    length: f64,
    ends: [EndOut; 2],
    mark: Option<MemberMarkOut>,
    joints: Vec<JointOut>,
}

/// Where a member bears its orientation mark in the panel, null where it is cut flat. `end`: start or end;
/// `side`: the same end as it lies, left, right, lower or upper; `edge`: front, back or both.
#[derive(Debug, Clone, Serialize)]
struct MemberMarkOut {
    end: &'static str,
    side: &'static str,
    edge: &'static str,
}

/// Where a class bears it as its piece lies unturned. `end`: first or last; `at`: from the first end, mm.
#[derive(Debug, Clone, Serialize)]
struct ClassMarkOut {
    end: &'static str,
    edge: &'static str,
    at: f64,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct JointOut {
    at: f64,
    node: [f64; 2],
    with: Option<String>,
    filled: bool,
    line: String,
    edge: &'static str,
    angle: f64,
    width: f64,
    depth: f64,
    shape: &'static str,
    run: f64,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct ClassOut {
    id: String,
    count: u64,
    spares: u64,
    length: f64,
    ends: [EndOut; 2],
    mark: Option<ClassMarkOut>,
    joints: Vec<ClassJointOut>,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct ClassJointOut {
    at: f64,
    edge: &'static str,
    angle: f64,
    width: f64,
    depth: f64,
    shape: &'static str,
    run: f64,
}

fn shape(s: JointShape) -> &'static str {
    match s {
        JointShape::Skew => "skew",
        JointShape::Square => "square",
    }
}

pub(super) fn end(e: End) -> EndOut {
    let shape = match e.shape {
        EndShape::Square => "square",
        EndShape::Skew => "skew",
        EndShape::Point => "point",
    };
    EndOut {
        angle: micron(e.angle_deg),
        shape,
    }
}

pub(super) fn members(lattice: &Lattice, marks: Option<&Marks>) -> Column<Member, MemberOut> {
    let id = |m: MemberId| lattice.members[m].id.clone();
    lattice.members.column(|index, m| {
        let family = &lattice.families[m.family];
        let joints = m.joints.iter().map(|j| JointOut {
            at: micron(j.at),
            node: point(lattice.nodes[j.node].at),
            with: j.with.map(id),
            filled: j.filled,
            line: lattice.lines[j.line].name.clone(),
            edge: j.edge.word(),
            angle: micron(j.angle_deg),
            width: micron(j.width),
            depth: micron(j.depth),
            shape: shape(j.shape),
            run: micron(j.run),
        });
        MemberOut {
            id: m.id.clone(),
            class: lattice.classes[m.class].id.clone(),
            turn: m.turn.word(),
            family: family.name.clone(),
            rank: family.rank,
            face: micron(family.face),
            start: point(m.start),
            end: point(m.end),
            from: micron(m.from),
            to: micron(m.to),
            length: micron(m.length()),
            ends: m.ends.map(end),
            mark: marks
                .map(|marks| marks.members[index])
                .map(|mark| MemberMarkOut {
                    end: match mark.end {
                        BarEnd::First => "start",
                        BarEnd::Last => "end",
                    },
                    side: family.end_word(mark.end),
                    edge: mark.edges.word(),
                }),
            joints: joints.collect(),
        }
    })
}

pub(super) fn point(p: kurbo::Point) -> [f64; 2] {
    [micron(p.x), micron(p.y)]
}

pub(super) fn classes(lattice: &Lattice, panel: &Panel, marks: Option<&Marks>) -> Vec<ClassOut> {
    let mark = |c: ClassId, length: f64| {
        let marks = marks?;
        let (mark, near) = (marks.classes[c], marks.places[c]);
        let (end, at) = match mark.end {
            BarEnd::First => ("first", near),
            BarEnd::Last => ("last", length - near),
        };
        Some(ClassMarkOut {
            end,
            edge: mark.edges.word(),
            at: micron(at),
        })
    };
    lattice
        .classes
        .entries()
        .map(|(index, c)| ClassOut {
            id: c.id.clone(),
            count: c.members.len() as u64 * u64::from(panel.quantity),
            spares: panel.spares_of_each(),
            length: micron(c.length),
            ends: c.ends.map(end),
            mark: mark(index, c.length),
            joints: c
                .notches
                .iter()
                .map(|n| ClassJointOut {
                    at: micron(n.at),
                    edge: n.edge.word(),
                    angle: micron(n.angle_deg),
                    width: micron(n.width),
                    depth: micron(n.depth),
                    shape: shape(n.shape),
                    run: micron(n.run),
                })
                .collect(),
        })
        .collect()
}
