//! What comes from which strip or sheet, and what is left of it.

use std::collections::BTreeMap;

use super::{Sheet, in_unit};
use crate::setup::FlatSheet;
use crate::sheet::{Block, Page, Section, Table};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let plan = sheet.plan;
    let n = sheet.numbers;
    let (nest, sheets) = match (plan.flat(), plan.edge_up()) {
        (Some(flat), _) => (&flat.nest, &flat.layout.sheets),
        (_, Some(edge)) => (&edge.nest, &edge.nest.sheets),
        _ => return None,
    };
    let offcut = format!("#{}", in_unit("Offcut", n));
    let heads = ["No.", "Blank", "Pieces", "#Joined chains", &offcut];
    let caption =
        "What comes from each strip or sheet; the offcut goes back to the stock, square across";
    let mut table = Table::new(caption, &heads);
    for (s, offcut) in sheets.iter().zip(&nest.offcuts) {
        table.row([
            s.number.to_string(),
            s.stock.clone(),
            pieces(sheet, s),
            s.chains.len().to_string(),
            n.len(*offcut),
        ]);
    }
    let used = match nest.used {
        1 => "One strip or sheet".to_owned(),
        n => format!("{n} strips or sheets"),
    };
    let bound = if nest.optimal {
        "no fewer will do: proven".to_owned()
    } else {
        format!("at least {} are proven needed", nest.lower_bound)
    };
    Some(Section {
        title: "Nest and offcuts".into(),
        page: Page::Upright,
        blocks: vec![
            Block::Text(format!("{used}; {bound}.")),
            Block::Table(table),
        ],
    })
}

/// How many pieces of which class or stick lie on it.
fn pieces(sheet: &Sheet<'_>, s: &FlatSheet) -> String {
    let plan = sheet.plan;
    let mut counts: BTreeMap<(usize, &str), usize> = BTreeMap::new();
    for place in &s.placements {
        let name = match plan.flat() {
            Some(flat) => flat
                .layout
                .pieces
                .get(place.piece)
                .map(|p| p.class.as_str()),
            None => Some(place.id.as_str()),
        };
        *counts.entry((place.piece, name.unwrap_or(""))).or_default() += 1;
    }
    let told = counts
        .iter()
        .map(|((_, name), count)| format!("{count} × {name}"));
    told.collect::<Vec<_>>().join(", ")
}
