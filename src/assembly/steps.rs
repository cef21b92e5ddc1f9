//! The steps: what goes in at each, in which order, and what is done with it.

use kurbo::Point;

use super::glue::{GlueJoint, Joints};
use super::trim::{TrimLine, trim_lines};
use super::words;
use crate::document::Numbers;
use crate::geom::micron;
use crate::infill::{CellId, Infill, InfillId};
use crate::lattice::{BarMark, Lattice, Member, MemberId};
use crate::panel::{Panel, Pattern};
use crate::surround::{SideId, Surround};
use crate::table::Column;

/// How a panel is put together.
#[derive(Debug, Clone, PartialEq)]
pub struct Assembly {
    /// The steps in order; a step's number is its place, from 1.
    pub steps: Vec<Step>,
}

/// One step. Lengths are mm.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Step {
    /// What is done, in a few words.
    pub title: String,
    /// How, a sentence or two each.
    pub text: Vec<String>,
    /// Members that go in, from the middle outwards.
    pub members: Vec<MemberId>,
    /// Joints that get glue as these members go in.
    pub glue: Vec<GlueJoint>,
    /// Sides along which the panel is trimmed.
    pub trims: Vec<TrimLine>,
    /// Cells that are filled, from the middle outwards, and with what.
    pub cells: Vec<CellPieces>,
    /// Sides of the surround that go on.
    pub sides: Vec<SideId>,
}

/// What fills a cell.
#[derive(Debug, Clone, PartialEq)]
pub struct CellPieces {
    /// The cell.
    pub cell: CellId,
    /// Its pieces in the order of the pattern.
    pub pieces: Vec<InfillId>,
}

impl Step {
    /// Whether there is something to be seen on the panel.
    #[must_use]
    pub fn has_picture(&self) -> bool {
        let nothing = self.members.is_empty()
            && self.trims.is_empty()
            && self.cells.is_empty()
            && self.sides.is_empty();
        !nothing
    }
}

impl Assembly {
    /// Where the picture of a step lies in the job's folder.
    #[must_use]
    pub fn picture(number: usize) -> String {
        format!("pictures/step-{number:02}.svg")
    }

    /// The steps of a panel, lengths in their texts as `numbers` writes them. `marks` are the orientation
    /// marks of its members; `None` where they have none.
    #[must_use]
    pub fn of(
        panel: &Panel,
        lattice: &Lattice,
        infill: Option<(&Infill, &[Pattern])>,
        surround: Option<&Surround>,
        marks: Option<&Column<Member, BarMark>>,
        numbers: Numbers,
    ) -> Self {
        let mut steps = vec![words::prepare(panel, lattice), words::dry(lattice)];
        let joints = Joints::of(lattice);
        for (place, group) in lattice.order.iter().enumerate() {
            let members = middle_outward(lattice, group);
            let glue = joints.glued(&members);
            let (title, mut text) = words::group(panel, lattice, place, &members, &glue);
            text.extend(
                marks.map_or_else(Vec::new, |marks| words::marks(lattice, &members, marks)),
            );
            steps.push(Step {
                title,
                text,
                members,
                glue,
                ..Step::default()
            });
        }
        if panel.outline.overhang > 0.0 {
            let trims = trim_lines(lattice);
            let (title, text) = words::trim(panel, lattice, &joints.single_sides(), numbers);
            steps.push(Step {
                title,
                text,
                trims,
                ..Step::default()
            });
        }
        if let Some((infill, patterns)) = infill {
            steps.extend(infill_steps(lattice, infill, patterns));
        }
        if let Some(surround) = surround {
            let sides = surround.order();
            let (title, text) = words::surround(surround, numbers);
            steps.push(Step {
                title,
                text,
                sides,
                ..Step::default()
            });
        }
        Self { steps }
    }
}

/// The middle of the trimmed ground.
fn middle(lattice: &Lattice) -> Point {
    lattice.bounds().center()
}

/// Members by the distance of their centre line from the panel's middle; of two as far, the one listed first.
fn middle_outward(lattice: &Lattice, group: &[MemberId]) -> Vec<MemberId> {
    let middle = middle(lattice);
    let far = |m: MemberId| {
        let member = &lattice.members[m];
        let normal = lattice.families[member.family].normal();
        micron(normal.dot(middle - member.start).abs())
    };
    let mut sorted: Vec<(f64, MemberId)> = group.iter().map(|&m| (far(m), m)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    sorted.into_iter().map(|(_, m)| m).collect()
}

/// One step for each pattern, its cells from the middle outwards.
fn infill_steps(lattice: &Lattice, infill: &Infill, patterns: &[Pattern]) -> Vec<Step> {
    let middle = middle(lattice);
    let mut filled = infill.cells.column(|cell, _| CellPieces {
        cell,
        pieces: Vec::new(),
    });
    for (p, piece) in infill.pieces.entries() {
        filled[piece.cell].pieces.push(p);
    }
    let mut cells: Vec<CellPieces> = filled.into_iter().collect();
    cells.retain(|c| !c.pieces.is_empty());
    let far = |c: &CellPieces| micron((infill.cells[c.cell].opening_middle() - middle).hypot());
    cells.sort_by(|a, b| far(a).total_cmp(&far(b)).then(a.cell.cmp(&b.cell)));
    let of = |(index, pattern): (usize, &Pattern)| {
        let mine = cells
            .iter()
            .filter(|c| infill.patterns[c.cell] == Some(index));
        let cells: Vec<CellPieces> = mine.cloned().collect();
        let name = pattern.name.as_str();
        (!cells.is_empty()).then(|| {
            let (title, text) = words::infill(infill, name, &cells);
            Step {
                title,
                text,
                cells,
                ..Step::default()
            }
        })
    };
    patterns.iter().enumerate().filter_map(of).collect()
}
