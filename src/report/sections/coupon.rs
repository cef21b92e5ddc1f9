//! How a coupon is read.

use super::sheet::Sheet;
use crate::document::{Block, Page, Section};
use crate::setup::Comb;

pub(super) fn section(sheet: &Sheet<'_>, comb: &Comb) -> Option<Section> {
    let steps = comb.how_to_read().into_iter().map(str::to_owned).collect();
    Some(Section {
        title: "How to read it".into(),
        page: Page::Upright,
        blocks: vec![
            Block::Text(comb.notches_in_words(sheet.numbers)),
            Block::List(steps),
        ],
    })
}
