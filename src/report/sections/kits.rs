//! Kits: what each holds, and its labels.

use super::sheet::{PanelSheet, Sheet, in_unit};
use crate::document::{Block, Column, Page, Section, Table, counted};
use crate::write::labels::is_cut;

pub(super) fn section(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let panel = &plan.files.panel;
    panel.kits?;
    let kits = &of.kits;
    let spares = kits.rows.iter().any(|row| row.spares_in_all(kits.kits) > 0);
    let length = Column::numbers(in_unit("Length", n));
    let mut heads = vec![
        Column::texts("Piece"),
        Column::texts("What"),
        length,
        Column::numbers("Each kit"),
    ];
    if spares {
        heads.extend([
            Column::numbers("Spares, each kit"),
            Column::numbers("Spares kept"),
        ]);
    }
    heads.extend([Column::numbers("In all"), Column::texts("Made")]);
    let caption = format!("What a kit holds, and what all {} take", kits.kits);
    let mut table = Table::new(caption, heads);
    for row in &kits.rows {
        let mut cells = vec![
            row.id.clone(),
            row.kind.word().to_owned(),
            n.len(row.length),
            row.each.to_string(),
        ];
        if spares {
            cells.extend([row.spares, row.common_spares].map(|count| count.to_string()));
        }
        let all = row.in_all(kits.kits) + row.spares_in_all(kits.kits);
        let made = if is_cut(panel, row.kind) {
            "by the programs"
        } else {
            "by hand"
        };
        cells.extend([all.to_string(), made.to_owned()]);
        table.row(cells);
    }
    let mut text = format!(
        "{} of {}.",
        counted(kits.kits as usize, "kit"),
        counted(kits.panels as usize, "panel")
    );
    if spares {
        text += " Each kit has its own spares; those that are kept stay with the maker.";
    }
    let pages = |name: &str| {
        let own = (sheet.files.keys()).filter(|path| path.starts_with(&format!("labels/{name}-")));
        own.cloned().collect::<Vec<_>>().join(", ")
    };
    let steps = vec![
        format!(
            "Print {} at full size, and cut the labels apart: one for the bundle of each piece.",
            pages("bundles")
        ),
        "Count each piece off into its bundle, by the column \"In all\".".to_owned(),
        format!(
            "Print {} likewise: one label for each kit. Share the bundles out, kit by kit, and check each against \
             its label; labels.csv has the same lines.",
            pages("kits")
        ),
    ];
    Some(Section {
        title: "Kits".into(),
        page: Page::Upright,
        blocks: vec![
            Block::Text(text),
            Block::Table(table),
            Block::Steps(1, steps),
        ],
    })
}
