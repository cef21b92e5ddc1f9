//! The surround: lengths, mitres and pins of its sides, or how its bars lap.

use super::{Sheet, counted, in_unit};
use crate::sheet::{Block, Page, Section, Table};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let n = sheet.numbers;
    let surround = sheet.plan.surround.as_ref()?;
    let [long, short] =
        ["Outside, point to point", "Inside"].map(|what| format!("#{}", in_unit(what, n)));
    let size = in_unit("Face × depth", n);
    let heads = [
        "Side",
        "Class",
        "#To make",
        &long,
        &short,
        &size,
        "#Mitre at the start",
        "#Mitre at the end",
        "#Pins",
    ];
    let mut table = Table::new("Sides of the surround", &heads);
    for side in &surround.sides {
        let mitre = |end: usize| match &surround.ring {
            Some(_) => "lapped".to_owned(),
            None => n.angle(side.mitres[end]),
        };
        table.row([
            side.id.clone(),
            surround.class_id(side).to_owned(),
            sheet.quantity().to_string(),
            n.len(side.long),
            n.len(side.short),
            sheet.section_of(surround.face, surround.depth),
            mitre(0),
            mitre(1),
            side.pins.len().to_string(),
        ]);
    }
    let mut text = "Measure the glued and trimmed ground first: it is the ground that the sides must fit. Mitres \
                    are angles between the side and its cut."
        .to_owned();
    let lengths = surround.stock.as_ref().and_then(|s| s.lengths.as_ref());
    if let Some(lengths) = lengths {
        text += &format!(
            " They come from {} of {}.",
            counted(lengths.cut.len(), "length"),
            n.with_unit(lengths.length)
        );
    }
    let mut blocks = vec![Block::Text(text), Block::Table(table)];
    let alt = "The sides of the surround with their mitres and pins";
    let picture = sheet.picture("pictures/surround.svg", alt.into());
    blocks.extend(picture.map(Block::Figure));
    Some(Section {
        title: "Surround".into(),
        page: Page::Upright,
        blocks,
    })
}
