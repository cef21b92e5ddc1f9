//! How the panel is put together, step by step.

use super::Sheet;
use crate::assembly::Assembly;
use crate::sheet::{Block, Page, Section};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let assembly = sheet.plan.assembly.as_ref()?;
    let mut blocks = Vec::new();
    let members = sheet.picture(
        "pictures/members.svg",
        "Every bar of the panel by its id, the letter of its piece, and how that is turned".into(),
    );
    blocks.extend(members.map(Block::Figure));
    for (number, step) in (1..).zip(&assembly.steps) {
        blocks.push(Block::Heading(format!("Step {number}: {}", step.title)));
        blocks.push(Block::List(step.text.clone()));
        let alt = format!(
            "Step {number}, {}: what is in already, and what goes in",
            step.title
        );
        let picture = sheet.picture(&Assembly::picture(number), alt);
        blocks.extend(picture.map(Block::Figure));
    }
    Some(Section {
        title: "Assembly".into(),
        page: Page::Upright,
        blocks,
    })
}
