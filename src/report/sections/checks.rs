//! All checks with what they found and their limits.

use super::sheet::Sheet;
use crate::document::{Block, Column, Page, Section, Table};
use crate::geom::tidy;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let heads = [
        Column::texts("Check"),
        Column::texts("Came out"),
        Column::numbers("Value"),
        Column::texts("Limit"),
        Column::texts("Unit"),
        Column::texts("Where"),
    ];
    let mut table = Table::new("Checks", heads);
    let mut sorted: Vec<_> = sheet.checks.iter().collect();
    // Warnings first; else as they were made.
    sorted.sort_by_key(|check| std::cmp::Reverse(check.status));
    for check in sorted {
        let limit = if check.limit.is_finite() {
            format!("{} {}", check.bound.word(), number(check.limit))
        } else {
            "none".to_owned()
        };
        table.row([
            check.id.word().to_owned(),
            check.status.word().to_owned(),
            number(check.value),
            limit,
            check.unit.word().to_owned(),
            check.place.clone(),
        ]);
    }
    let mut blocks = vec![Block::Text(
        "Values are in the unit of their line, whatever the sheet's other lengths are in. \"lapwright prove\" \
         proves the folder again after it has been copied."
            .into(),
    )];
    if sheet.plan.panel().is_some() {
        blocks.push(Block::Text(format!(
            "Dry fit of the shapes as cut: {} mm³ in common, largest gap {} mm, press {} mm.",
            number(sheet.fit.interference_mm3),
            number(sheet.fit.largest_gap_mm),
            number(sheet.fit.press_mm)
        )));
    }
    blocks.push(Block::Table(table));
    Some(Section {
        title: "Checks".into(),
        page: Page::Upright,
        blocks,
    })
}

/// At most three decimals, no minus nought.
fn number(v: f64) -> String {
    let text = format!("{:.3}", tidy((v * 1e3).round() / 1e3));
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
