//! What the cut files leave to the hand.

use super::sheet::{PanelSheet, Sheet};
use crate::document::{Block, Page, Section};

pub(super) fn section(sheet: &Sheet<'_>, _: &PanelSheet<'_>) -> Option<Section> {
    let uncut = sheet.plan.not_cut();
    if uncut.is_empty() {
        return None;
    }
    let text = "This is made by hand; where a key of the panel file would have the files cut it, the key stands \
                beside it.";
    let list = uncut.iter().map(|part| part.in_words()).collect();
    Some(Section {
        title: "What the files do not cut".into(),
        page: Page::Upright,
        blocks: vec![Block::Text(text.into()), Block::List(list)],
    })
}
