//! The surround: lengths and mitres of its pieces.

use super::{Sheet, in_unit};
use crate::sheet::{Block, Page, Section, Table};
use crate::write::summary::surround;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let face = plan
        .files
        .panel
        .surround
        .filter(|_| plan.coupon.is_none())?;
    let [long, short, width] =
        ["Outside, point to point", "Inside", "Face"].map(|what| format!("#{}", in_unit(what, n)));
    let heads = [
        "Piece",
        "#To make",
        &long,
        &short,
        &width,
        "#Mitre at the start",
        "#Mitre at the end",
    ];
    let mut table = Table::new("Pieces of the surround", &heads);
    for piece in surround(&plan.lattice, Some(face)) {
        table.row([
            piece.id,
            sheet.quantity().to_string(),
            n.len(piece.long),
            n.len(piece.short),
            n.fine(piece.face),
            n.angle(piece.mitres[0]),
            n.angle(piece.mitres[1]),
        ]);
    }
    let text = "Cut them after the ground is glued and trimmed, and measure the ground first: it is the ground \
                that they must fit. Mitres are angles between the piece and its cut.";
    Some(Section {
        title: "Surround".into(),
        page: Page::Upright,
        blocks: vec![Block::Text(text.into()), Block::Table(table)],
    })
}
