//! How a coupon is read.

use super::Sheet;
use crate::document::{Block, Page, Section};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let comb = sheet.plan.coupon.as_ref()?;
    let steps = comb.how_to_read().into_iter().map(str::to_owned).collect();
    Some(Section {
        title: "How to read it".into(),
        page: Page::Upright,
        blocks: vec![Block::Text(comb.notches_in_words()), Block::List(steps)],
    })
}
