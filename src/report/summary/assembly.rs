//! What the summary tells of the assembly.

use serde::Serialize;

use super::ground::point;
use crate::assembly::{Assembly, Step};
use crate::infill::InfillId;
use crate::lattice::MemberId;
use crate::plan::Drawn;

/// A step. `ids`: what goes in, in this order, each once in all steps; of infill the classes.
#[derive(Debug, Clone, Serialize)]
pub(super) struct StepOut {
    step: usize,
    title: String,
    text: Vec<String>,
    ids: Vec<String>,
    glue: Vec<GlueOut>,
    trim: Vec<TrimOut>,
    cells: Vec<FilledOut>,
    picture: Option<String>,
}

/// A joint that gets glue: the bars that meet there by then, from the back to the front, and whether it gets more than
/// a dab.
#[derive(Debug, Clone, Serialize)]
struct GlueOut {
    node: [f64; 2],
    bars: Vec<String>,
    more: bool,
}

#[derive(Debug, Clone, Serialize)]
struct TrimOut {
    side: String,
    from: [f64; 2],
    to: [f64; 2],
}

/// A cell, and the classes of its pieces in the order in which they go in.
#[derive(Debug, Clone, Serialize)]
struct FilledOut {
    id: String,
    pieces: Vec<String>,
}

/// The steps as data.
pub(super) fn steps(assembly: &Assembly, drawn: &Drawn) -> Vec<StepOut> {
    let Drawn {
        lattice,
        infill,
        surround,
    } = drawn;
    let member = |m: MemberId| lattice.members[m].id.clone();
    let cells = |step: &Step| -> Vec<FilledOut> {
        let Some(infill) = infill else {
            return Vec::new();
        };
        let class = |&p: &InfillId| infill.classes[infill.pieces[p].class].id.clone();
        let filled = step.cells.iter().map(|cell| FilledOut {
            id: infill.cells[cell.cell].id.clone(),
            pieces: cell.pieces.iter().map(class).collect(),
        });
        filled.collect()
    };
    let one = |(number, step): (usize, &Step)| {
        let cells = cells(step);
        let mut ids: Vec<String> = step.members.iter().map(|&m| member(m)).collect();
        for class in cells.iter().flat_map(|c| &c.pieces) {
            if !ids.contains(class) {
                ids.push(class.clone());
            }
        }
        if let Some(surround) = surround {
            ids.extend(step.sides.iter().map(|&s| surround.sides[s].id.clone()));
        }
        StepOut {
            step: number,
            title: step.title.clone(),
            text: step.text.clone(),
            ids,
            glue: (step.glue.iter())
                .map(|joint| GlueOut {
                    node: point(joint.at),
                    bars: joint.bars.iter().map(|&m| member(m)).collect(),
                    more: joint.more,
                })
                .collect(),
            trim: (step.trims.iter())
                .map(|line| TrimOut {
                    side: line.side.clone(),
                    from: point(line.from),
                    to: point(line.to),
                })
                .collect(),
            cells,
            picture: step.has_picture().then(|| Assembly::picture(number)),
        }
    };
    (1..).zip(&assembly.steps).map(one).collect()
}
