//! The usual cautions, and what the program warns of.

use super::sheet::Sheet;
use crate::document::{Block, Page, Section};
use crate::plan::cautions;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let mut blocks: Vec<Block> = cautions(&sheet.plan.files).map(Block::Caution).collect();
    if !sheet.plan.warnings.is_empty() {
        blocks.push(Block::Heading("Warnings of this job".into()));
        blocks.push(Block::List(sheet.plan.warnings.clone()));
    }
    Some(Section {
        title: "Before you cut".into(),
        page: Page::Upright,
        blocks,
    })
}
