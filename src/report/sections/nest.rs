//! What comes from which strip or sheet, and what is left of it.

use std::collections::BTreeMap;

use super::sheet::{Sheet, in_unit};
use crate::document::{Block, Column, Page, Section, Table, capital};
use crate::stock::{NestCount, NestPlace, NestSheet};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let plan = sheet.plan;
    let mut blocks = Vec::new();
    if let Some(edge) = plan.edge_up() {
        let stick = |place: &NestPlace<_>| place.id.clone();
        let nest = (&edge.nest.count, edge.nest.sheets.as_slice());
        one(sheet, &mut blocks, (0, String::new()), nest, &stick);
    }
    for flat in plan.flats() {
        let class = |place: &NestPlace<_>| flat.layout.pieces[place.piece].class.clone();
        let nest = (&flat.nest, flat.layout.sheets.rows());
        let batch = flat.layout.kind.words();
        one(sheet, &mut blocks, (flat.wood, batch), nest, &class);
    }
    Some(Section {
        title: "Nest and offcuts".into(),
        page: Page::Upright,
        blocks,
    })
}

/// The strips or sheets of one wood, and of which batch in words; `name` tells what a placement is of.
fn one<S: Ord + Copy>(
    sheet: &Sheet<'_>,
    blocks: &mut Vec<Block>,
    (wood, batch): (usize, String),
    (nest, sheets): (&NestCount, &[NestSheet<S>]),
    name: &dyn Fn(&NestPlace<S>) -> String,
) {
    let n = sheet.numbers;
    let (material, _) = sheet.plan.files.wood(wood);
    let offcut = Column::numbers(in_unit("Offcut", n));
    let heads = [
        Column::texts("No."),
        Column::texts("Blank"),
        Column::texts("Pieces"),
        Column::numbers("Joined chains"),
        offcut,
    ];
    let caption = format!(
        "{batch}what comes from each strip or sheet of {}; the offcut goes back to the stock, square across",
        material.name
    );
    let caption = capital(&caption);
    let mut table = Table::new(caption, heads);
    for s in sheets {
        let mut counts: BTreeMap<(S, String), usize> = BTreeMap::new();
        for place in &s.placements {
            *counts.entry((place.piece, name(place))).or_default() += 1;
        }
        let told = counts
            .iter()
            .map(|((_, name), count)| format!("{count} × {name}"));
        let told = told.collect::<Vec<_>>().join(", ");
        table.row([
            s.numbers(),
            s.stock.clone(),
            match s.loads() {
                1 => told,
                _ => format!("each {told}"),
            },
            s.chains.len().to_string(),
            n.rough(s.offcut),
        ]);
    }
    let used = match nest.used {
        1 => format!("{batch}{}: one strip or sheet", material.name),
        used => format!("{batch}{}: {used} strips or sheets", material.name),
    };
    let used = capital(&used);
    let bound = if nest.optimal {
        "no fewer will do: proven".to_owned()
    } else {
        format!("at least {} are proven needed", nest.lower_bound)
    };
    blocks.push(Block::Text(format!("{used}; {bound}.")));
    blocks.push(Block::Table(table));
}
