//! Sticks of edge-up cutting, and where they are cross-cut.

use super::sheet::{PanelSheet, Sheet, in_unit};
use crate::document::{Block, Column, Page, Section, Table};
use crate::lattice::{BarEnd, Edge, MarkEdges, turned_ends};
use crate::setup::{Groove, MarkMade, PieceMark};

pub(super) fn section(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let edge = sheet.plan.edge_up()?;
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
    let mut classes = Table::new("Sticks", heads);
    for (c, class) in edge.sticks.classes.iter().enumerate() {
        let groove = edge.marks.grooves.get(c).and_then(Option::as_ref);
        classes.row([
            class.id.clone(),
            class.count.to_string(),
            class.spares.to_string(),
            class.joints.to_string(),
            n.len(class.length),
            n.len(class.lead),
            n.len(class.tail),
            sheet.end(class.ends[0]),
            groove.map_or_else(String::new, |g| in_stick(g, sheet)),
        ]);
    }
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
    let mut cuts = Table::new(
        "Cross-cuts, from the datum end along the centre line",
        heads,
    );
    for (s, stick) in edge.sticks.sticks.iter().enumerate() {
        for (p, piece) in stick.pieces.iter().enumerate() {
            let mark = edge.marks.pieces.get(s).and_then(|marks| marks.get(p));
            let class = &of.panel.drawn.lattice.classes[piece.class];
            let [first, last] = turned_ends(class.ends, piece.turn).map(|e| sheet.end(e));
            let spares = match stick.spares {
                0 => String::new(),
                n => format!(" + {n}"),
            };
            cuts.row([
                stick.id.clone(),
                format!("{}{spares}", stick.count),
                format!("{}", p + 1),
                class.id.clone(),
                piece.turn.word().to_owned(),
                piece.first_joint.to_string(),
                piece.joints.to_string(),
                n.len(piece.cut[0]),
                first,
                n.len(piece.cut[1]),
                last,
                mark.map_or_else(String::new, |mark| on_piece(*mark)),
            ]);
        }
    }
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
            Block::Table(classes),
            Block::Steps(1, steps.map(str::to_owned).to_vec()),
            Block::Table(cuts),
        ],
    })
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
