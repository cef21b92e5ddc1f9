//! The cut list: members by class, and every notch.

use super::sheet::{PanelSheet, Sheet, in_unit};
use crate::document::{Block, Column, Page, Section, Table};
use crate::lattice::{Class, Lattice, Turn, trim_remark};

pub(super) fn section(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let mut text = "Bars of one class are the same piece. \"Turned over\" is about the long axis: the back edge \
                    then is the front one; \"turned end\" is end for end."
        .to_owned();
    if sheet.plan.files.panel.spares_of_each() > 0 {
        text += " Spares stand after the plus sign.";
    }
    Some(Section {
        title: "Cut list".into(),
        page: Page::Upright,
        blocks: vec![
            Block::Text(text),
            Block::Table(classes(sheet, of)),
            Block::Text(
                "Every notch by its middle along the centre line from the first end. The angle is that from \
                 the bar to the one that crosses it, counter-clockwise, seen from the notched edge."
                    .into(),
            ),
            Block::Table(notches(sheet, of)),
        ],
    })
}

fn classes(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Table {
    let (n, lattice) = (sheet.numbers, &of.panel.drawn.lattice);
    let length = Column::numbers(in_unit("Length", n));
    let size = Column::texts(in_unit("Face × depth", n));
    let heads = [
        Column::texts("Class"),
        Column::numbers("To make"),
        length,
        size,
        Column::texts("First end"),
        Column::texts("Last end"),
        Column::numbers("Notches"),
        Column::texts("Members"),
    ];
    let mut table = Table::new("Bars by class", heads);
    for class in &lattice.classes {
        let face = lattice.families[lattice.members[class.first].family].face;
        let [first, last] = class.ends.map(|e| sheet.end(e));
        table.row([
            class.id.clone(),
            of.to_make(&class.id),
            n.len(class.length),
            sheet.section_of(face, lattice.depth),
            first,
            last,
            class.notches.len().to_string(),
            members(lattice, class),
        ]);
    }
    table
}

/// Ids of the members of a class, those that are turned apart.
fn members(lattice: &Lattice, class: &Class) -> String {
    let mut told: Vec<String> = Vec::new();
    for turn in Turn::ALL {
        let own = class.members.iter().map(|&m| &lattice.members[m]);
        let ids: Vec<&str> = own
            .filter(|m| m.turn == turn)
            .map(|m| m.id.as_str())
            .collect();
        if ids.is_empty() {
            continue;
        }
        let ids = ids.join(", ");
        told.push(match turn {
            Turn::None => ids,
            Turn::Over => format!("turned over: {ids}"),
            Turn::End => format!("turned end: {ids}"),
            Turn::Both => format!("turned both ways: {ids}"),
        });
    }
    let trim = trim_remark(class.trimmed_by_hand);
    if !trim.is_empty() {
        told.push(trim.to_owned());
    }
    told.join("; ")
}

fn notches(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Table {
    let n = sheet.numbers;
    let [at, across, along, deep] =
        ["At", "Across", "Along the bar", "Depth"].map(|what| Column::numbers(in_unit(what, n)));
    let heads = [
        Column::texts("Class"),
        Column::numbers("Notch"),
        at,
        Column::texts("Edge"),
        Column::numbers("Angle"),
        across,
        along,
        deep,
    ];
    let mut table = Table::new("Notches", heads);
    let drawn = &of.panel.drawn;
    let sides = drawn.ring().into_iter().flat_map(|ring| &ring.classes);
    for class in drawn.lattice.classes.iter().chain(sides) {
        for (k, notch) in (1..).zip(&class.notches) {
            table.row([
                class.id.clone(),
                format!("{k}"),
                n.len(notch.at),
                notch.edge.word().to_owned(),
                n.angle(notch.angle_deg),
                n.fine(notch.width),
                n.fine(notch.run),
                n.fine(notch.depth),
            ]);
        }
    }
    table
}
