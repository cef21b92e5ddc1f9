//! What the summary tells of sticks: a row for each list of cross-cuts.

use serde::Serialize;

use super::ground::{EndOut, edge, end};
use crate::geom::micron;
use crate::lattice::Lattice;
use crate::stock::StickPlan;

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

#[derive(Debug, Clone, Serialize)]
struct PieceOut {
    class: String,
    first_joint: usize,
    joints: usize,
    turn: &'static str,
    cut: [f64; 2],
}

pub(super) fn sticks(lattice: &Lattice, plan: &StickPlan) -> Vec<StickOut> {
    let class_id = |c: usize| {
        lattice
            .classes
            .get(c)
            .map_or(String::new(), |c| c.id.clone())
    };
    let row = |stick: &crate::stock::Stick| {
        let class = plan.classes.get(stick.class)?;
        let notches = class.notches.iter().zip(&class.node_of);
        let family = |&f: &usize| lattice.families.get(f).map(|f| f.name.clone());
        Some(StickOut {
            id: stick.id.clone(),
            class: class.id.clone(),
            families: class.families.iter().filter_map(family).collect(),
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
                    edge: edge(n.edge),
                    angle: micron(n.angle_deg),
                    width: micron(n.width),
                    depth: micron(n.depth),
                    run: micron(n.run),
                })
                .collect(),
            pieces: stick
                .pieces
                .iter()
                .map(|p| PieceOut {
                    class: class_id(p.class),
                    first_joint: p.first_joint,
                    joints: p.joints,
                    turn: p.turn.word(),
                    cut: p.cut.map(micron),
                })
                .collect(),
        })
    };
    plan.sticks.iter().filter_map(row).collect()
}
