//! In which order the panel goes together.

use super::Sheet;
use crate::sheet::{Block, Page, Section};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let plan = sheet.plan;
    if plan.coupon.is_some() {
        return None;
    }
    let lattice = &plan.lattice;
    let mut steps =
        vec!["Put all bars together dry, without glue, before any joint is glued.".to_owned()];
    for (k, group) in lattice.order.iter().enumerate() {
        let ids: Vec<&str> = group
            .iter()
            .filter_map(|&m| lattice.members.get(m))
            .map(|m| m.id.as_str())
            .collect();
        let how = match k {
            0 => "Lay down, back edge down",
            _ => "Lower straight in from the front, the middle ones first",
        };
        steps.push(format!("{how}: {}.", ids.join(", ")));
    }
    if plan.files.panel.outline.overhang > 0.0 {
        steps.push(
            "When the glue is dry, trim the bars to the outline, with the waste held while the saw runs."
                .to_owned(),
        );
    }
    Some(Section {
        title: "Assembly, back to front".into(),
        page: Page::Upright,
        blocks: vec![
            Block::Text(
                "Bars by their ids, as in the cut list: a family's letter and a number.".into(),
            ),
            Block::Steps(steps),
        ],
    })
}
