//! The usual cautions, and what the program warns of.

use std::collections::BTreeSet;

use super::sheet::Sheet;
use crate::document::{Block, Page, Section};
use crate::panel::Material;
use crate::plan::cautions;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let plan = sheet.plan;
    let mut blocks: Vec<Block> = cautions(&plan.files).map(Block::Caution).collect();
    // Drawings of what is cut flat may come under any head.
    let woods: BTreeSet<usize> = plan.flats().map(|flat| flat.wood).collect();
    let beam = woods.into_iter().map(|wood| plan.files.wood(wood).0);
    let beam = beam.filter_map(Material::not_for_a_beam);
    blocks.extend(beam.map(Block::Caution));
    if !plan.warnings.is_empty() {
        blocks.push(Block::Heading("Warnings of this job".into()));
        blocks.push(Block::List(plan.warnings.clone()));
    }
    Some(Section {
        title: "Before you cut".into(),
        page: Page::Upright,
        blocks,
    })
}
