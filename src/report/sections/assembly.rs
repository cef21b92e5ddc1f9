//! How the panel is put together, step by step.

use super::sheet::{PanelSheet, Sheet};
use crate::assembly::Assembly;
use crate::document::{Block, Figure, Page, Section, Size};
use crate::report::step_pictures::{MEMBERS, members_text, without_words};

pub(super) fn section(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let plan = sheet.plan;
    // What the folder's pictures say stands beside them here.
    let mut pictures = without_words(plan, of.panel);
    let mut figure = |path: &str, alt: String| {
        let svg = pictures.remove(path)?;
        Some(Block::Figure(Figure {
            svg,
            alt,
            caption: format!("{path} in the job's folder, without its words."),
            size: Size::Fit,
        }))
    };
    let mut blocks = vec![Block::Text(members_text(plan))];
    blocks.extend(figure(
        MEMBERS,
        "Every bar of the panel by its id, the letter of its piece, and how that is turned".into(),
    ));
    for (number, step) in (1..).zip(&of.panel.assembly.steps) {
        blocks.push(Block::Heading(format!("Step {number}: {}", step.title)));
        let alt = format!(
            "Step {number}, {}: what is in already, and what goes in",
            step.title
        );
        blocks.extend(figure(&Assembly::picture(number), alt));
        blocks.push(Block::List(step.text.clone()));
    }
    Some(Section {
        title: "Assembly".into(),
        page: Page::Upright,
        blocks,
    })
}
