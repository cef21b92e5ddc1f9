//! Sticks of edge-up cutting, and where they are cross-cut.

use super::{Sheet, in_unit};
use crate::lattice::turned_ends;
use crate::sheet::{Block, Page, Section, Table};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let edge = sheet.plan.edge_up()?;
    if sheet.plan.coupon.is_some() {
        return None;
    }
    let n = sheet.numbers;
    let [length, lead, tail] =
        ["Length", "Lead", "Tail"].map(|what| format!("#{}", in_unit(what, n)));
    let heads = [
        "Stick class",
        "#To keep",
        "#Spares",
        "#Joints",
        &length,
        &lead,
        &tail,
        "Datum end",
    ];
    let mut classes = Table::new("Sticks", &heads);
    for class in &edge.sticks.classes {
        classes.row([
            class.id.clone(),
            class.count.to_string(),
            class.spares.to_string(),
            class.joints.to_string(),
            n.len(class.length),
            n.len(class.lead),
            n.len(class.tail),
            sheet.end(class.ends[0]),
        ]);
    }
    let [from, to] = ["From", "To"].map(|what| format!("#{}", in_unit(what, n)));
    let heads = [
        "Stick",
        "#How many",
        "#Piece",
        "Class",
        "Turned",
        "#First joint",
        "#Joints",
        &from,
        "Cut",
        &to,
        "Cut",
    ];
    let mut cuts = Table::new(
        "Cross-cuts, from the datum end along the centre line",
        &heads,
    );
    for stick in &edge.sticks.sticks {
        for (number, piece) in (1..).zip(&stick.pieces) {
            let Some(class) = sheet.plan.lattice.classes.get(piece.class) else {
                continue;
            };
            let [first, last] = turned_ends(class.ends, piece.turn).map(|e| sheet.end(e));
            let spares = match stick.spares {
                0 => String::new(),
                n => format!(" + {n}"),
            };
            cuts.row([
                stick.id.clone(),
                format!("{}{spares}", stick.count),
                format!("{number}"),
                class.id.clone(),
                piece.turn.word().to_owned(),
                piece.first_joint.to_string(),
                piece.joints.to_string(),
                n.len(piece.cut[0]),
                first,
                n.len(piece.cut[1]),
                last,
            ]);
        }
    }
    let steps = [
        "Finish-plane the sticks before they are notched.",
        "After the last clamping, and before any cross-cut, write its class on every piece, and pencil the \
         orientation mark on each piece that does not have it.",
        "Lay the stick front edge up with its datum end at the left, and cut at the lines of the table. Keep \
         the spares whole until a piece is called for.",
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
