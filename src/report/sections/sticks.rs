//! Sticks of edge-up cutting, and where they are cross-cut.

use super::sheet::{PanelSheet, Sheet, in_unit};
use crate::document::{Block, Column, Page, Section, Table};
use crate::lattice::{BarEnd, Edge, Lattice, MarkEdges, turned_ends};
use crate::plan::EdgePlan;
use crate::setup::{Groove, MarkMade, PieceMark};

pub(super) fn section(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let edge = sheet.plan.edge_up()?;
    let steps = [
        "Finish-plane the sticks before they are notched.",
        "After the last clamping, lay each stick front edge up with its datum end at the left. Its groove shows \
         how: it lies near the datum end, in the edge that the table tells.",
        "Before any cross-cut, write its class on every piece. Where the table says \"cross\", pencil a cross \
         over the edge that is told, close to the cut that is told: \"from\" is the left one, and the front edge \
         is the upper one now. A piece that says \"groove\" has its mark.",
        "Once it is cut, a bar is told from a turned one by its mark alone. All pieces of a class bear it at one \
         place, from whichever stick they come; so where a piece has a groove and a cross, the cross counts. A \
         cross that has rubbed off is made again before the piece goes to the others.",
        "Cut at the lines of the table. Keep the spares whole until a piece is called for.",
    ];
    Some(Section {
        title: "Sticks and cross-cuts".into(),
        page: Page::Upright,
        blocks: vec![
            Block::Table(classes(sheet, edge)),
            Block::Steps(1, steps.map(str::to_owned).to_vec()),
            Block::Table(cross_cuts(sheet, edge, &of.panel.drawn.lattice)),
        ],
    })
}

/// The classes of sticks.
fn classes(sheet: &Sheet<'_>, edge: &EdgePlan) -> Table {
    let n = sheet.numbers;
    let [length, lead, tail] =
        ["Length", "Lead", "Tail"].map(|what| Column::numbers(in_unit(what, n)));
    let heads = [
        Column::texts("Stick class"),
        Column::numbers("To keep"),
        Column::numbers("Spares"),
        Column::numbers("Joints"),
        length,
        lead,
        tail,
        Column::texts("Datum end"),
        Column::texts("Groove"),
    ];
    let mut table = Table::new("Sticks", heads);
    for (id, class) in edge.sticks.classes.entries() {
        table.row([
            class.id.clone(),
            class.count.to_string(),
            class.spares.to_string(),
            class.joints.to_string(),
            n.len(class.length),
            n.len(class.lead),
            n.len(class.tail),
            sheet.end(class.ends[0]),
            in_stick(&edge.marks.grooves[id], sheet),
        ]);
    }
    table
}

/// Every piece of every stick, and the cuts that part it from the others.
fn cross_cuts(sheet: &Sheet<'_>, edge: &EdgePlan, lattice: &Lattice) -> Table {
    let n = sheet.numbers;
    let [from, to] = ["From", "To"].map(|what| Column::numbers(in_unit(what, n)));
    let heads = [
        Column::texts("Stick"),
        Column::numbers("How many"),
        Column::numbers("Piece"),
        Column::texts("Class"),
        Column::texts("Turned"),
        Column::numbers("First joint"),
        Column::numbers("Joints"),
        from,
        Column::texts("Cut"),
        to,
        Column::texts("Cut"),
        Column::texts("Mark"),
    ];
    let title = "Cross-cuts, from the datum end along the centre line";
    let mut table = Table::new(title, heads);
    for (id, stick) in edge.sticks.sticks.entries() {
        let spares = match stick.spares {
            0 => String::new(),
            n => format!(" + {n}"),
        };
        for (number, (piece, mark)) in (1..).zip(edge.marks.of_stick(&edge.sticks, id)) {
            let class = &lattice.classes[piece.class];
            let [first, last] = turned_ends(class.ends, piece.turn).map(|e| sheet.end(e));
            table.row([
                stick.id.clone(),
                format!("{}{spares}", stick.count),
                number.to_string(),
                class.id.clone(),
                piece.turn.word().to_owned(),
                piece.first_joint.to_string(),
                piece.joints.to_string(),
                n.len(piece.cut[0]),
                first,
                n.len(piece.cut[1]),
                last,
                on_piece(*mark),
            ]);
        }
    }
    table
}

/// Where the groove of a class of sticks lies.
fn in_stick(groove: &Groove, sheet: &Sheet<'_>) -> String {
    format!(
        "{} at {}",
        edges(groove.edges),
        sheet.numbers.len(groove.at)
    )
}

/// The mark of a piece as it lies in its stick.
fn on_piece(PieceMark { mark, made }: PieceMark) -> String {
    let end = match mark.end {
        BarEnd::First => "from",
        BarEnd::Last => "to",
    };
    let made = match made {
        MarkMade::Cut => "groove",
        MarkMade::Pencil | MarkMade::PencilInstead => "cross",
    };
    format!("{made}: {end}, {}", edges(mark.edges))
}

fn edges(edges: MarkEdges) -> &'static str {
    match edges {
        MarkEdges::One(Edge::Front) => "front",
        MarkEdges::One(Edge::Back) => "back",
        MarkEdges::Both => "both edges",
    }
}
