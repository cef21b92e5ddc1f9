//! What the summary tells of sticks: a row for each list of cross-cuts.

use serde::Serialize;

use super::ground::{EndOut, end};
use crate::geom::micron;
use crate::lattice::{BarEnd, FamilyId, Lattice};
use crate::setup::{Marks, PieceMark};
use crate::stock::{Stick, StickId, StickPiece, StickPlan};

#[derive(Debug, Clone, Serialize)]
pub(super) struct StickOut {
    id: String,
    class: String,
    families: Vec<String>,
    face: f64,
    joints: usize,
    length: f64,
    lead: f64,
    tail: f64,
    count: u32,
    spares: u32,
    optimal: bool,
    ends: [EndOut; 2],
    notches: Vec<NotchOut>,
    mark: GrooveOut,
    pieces: Vec<PieceOut>,
}

#[derive(Debug, Clone, Serialize)]
struct NotchOut {
    at: f64,
    joint: usize,
    edge: &'static str,
    angle: f64,
    width: f64,
    depth: f64,
    run: f64,
}

/// The groove that is cut for a mark; `at` from the datum end.
#[derive(Debug, Clone, Serialize)]
struct GrooveOut {
    at: f64,
    edge: &'static str,
    angle: f64,
    width: f64,
}

/// The mark of a piece. `end`: from or to, the cut that it lies near; `edge`: of the stick; `made`: cut,
/// pencil, or pencil-instead where the piece has a groove too that does not count.
#[derive(Debug, Clone, Serialize)]
struct PieceMarkOut {
    end: &'static str,
    edge: &'static str,
    made: &'static str,
}

#[derive(Debug, Clone, Serialize)]
struct PieceOut {
    class: String,
    first_joint: usize,
    joints: usize,
    turn: &'static str,
    cut: [f64; 2],
    mark: PieceMarkOut,
}

pub(super) fn sticks(lattice: &Lattice, plan: &StickPlan, marks: &Marks) -> Vec<StickOut> {
    let all = plan.sticks.entries();
    all.map(|(id, stick)| stick_out(lattice, plan, marks, (id, stick)))
        .collect()
}

fn stick_out(
    lattice: &Lattice,
    plan: &StickPlan,
    marks: &Marks,
    (id, stick): (StickId, &Stick),
) -> StickOut {
    let class = &plan.classes[stick.class];
    let groove = &marks.grooves[stick.class];
    let notches = class.notches.iter().zip(&class.node_of);
    let family = |&f: &FamilyId| lattice.families[f].name.clone();
    StickOut {
        id: stick.id.clone(),
        class: class.id.clone(),
        families: class.families.iter().map(family).collect(),
        face: micron(class.face[1]),
        joints: class.joints,
        length: micron(class.length),
        lead: micron(class.lead),
        tail: micron(class.tail),
        count: stick.count,
        spares: stick.spares,
        optimal: class.optimal,
        ends: class.ends.map(end),
        notches: notches
            .map(|(n, node)| NotchOut {
                at: micron(n.at),
                joint: node + 1,
                edge: n.edge.word(),
                angle: micron(n.angle_deg),
                width: micron(n.width),
                depth: micron(n.depth),
                run: micron(n.run),
            })
            .collect(),
        mark: GrooveOut {
            at: micron(groove.at),
            edge: groove.edges.word(),
            angle: micron(groove.angle_deg),
            width: micron(groove.width),
        },
        pieces: marks
            .of_stick(plan, id)
            .map(|(piece, mark)| piece_out(lattice, piece, mark))
            .collect(),
    }
}

fn piece_out(lattice: &Lattice, p: &StickPiece, mark: &PieceMark) -> PieceOut {
    PieceOut {
        class: lattice.classes[p.class].id.clone(),
        first_joint: p.first_joint,
        joints: p.joints,
        turn: p.turn.word(),
        cut: p.cut.map(micron),
        mark: PieceMarkOut {
            end: match mark.mark.end {
                BarEnd::First => "from",
                BarEnd::Last => "to",
            },
            edge: mark.mark.edges.word(),
            made: mark.made.word(),
        },
    }
}
