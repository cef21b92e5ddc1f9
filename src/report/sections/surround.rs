//! The surround: lengths, mitres and pins of its sides, or the bars that lap.

use super::sheet::{PanelSheet, Sheet, in_unit};
use crate::document::{Block, Column, Page, Section, Table, counted};
use crate::surround::{Ring, Surround};

pub(super) fn section(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let surround = of.panel.drawn.surround.as_ref()?;
    let (mut blocks, alt) = match &surround.ring {
        Some(ring) => (
            lapped(sheet, of, surround, ring),
            "The bars of the surround",
        ),
        None => (
            mitred(sheet, surround),
            "The sides of the surround with their mitres and pins",
        ),
    };
    let picture = sheet.picture("pictures/surround.svg", alt.into());
    blocks.extend(picture.map(Block::Figure));
    Some(Section {
        title: "Surround".into(),
        page: Page::Upright,
        blocks,
    })
}

fn mitred(sheet: &Sheet<'_>, surround: &Surround) -> Vec<Block> {
    let n = sheet.numbers;
    let [long, short] =
        ["Outside, point to point", "Inside"].map(|what| Column::numbers(in_unit(what, n)));
    let size = Column::texts(in_unit("Face × depth", n));
    let heads = [
        Column::texts("Side"),
        Column::texts("Class"),
        Column::numbers("To make"),
        long,
        short,
        size,
        Column::numbers("Mitre at the start"),
        Column::numbers("Mitre at the end"),
        Column::numbers("Pins"),
    ];
    let mut table = Table::new("Sides of the surround", heads);
    for side in &surround.sides {
        let [start, end] = side.mitres.map(|deg| n.angle(deg));
        table.row([
            side.id.clone(),
            surround.class_id(side).to_owned(),
            sheet.quantity().to_string(),
            n.len(side.long),
            n.len(side.short),
            sheet.section_of(surround.face, surround.depth),
            start,
            end,
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
    vec![Block::Text(text), Block::Table(table)]
}

fn lapped(sheet: &Sheet<'_>, of: &PanelSheet<'_>, surround: &Surround, ring: &Ring) -> Vec<Block> {
    let n = sheet.numbers;
    let [length, at, along, deep] = ["Length", "Laps at", "Along the bar", "Depth of the laps"]
        .map(|what| Column::numbers(in_unit(what, n)));
    let size = Column::texts(in_unit("Face × depth", n));
    let heads = [
        Column::texts("Class"),
        Column::numbers("To make"),
        length,
        size,
        at,
        along,
        deep,
        Column::texts("Sides"),
    ];
    let mut table = Table::new("Bars of the surround", heads);
    for own in &surround.classes {
        let class = &ring.lattice.classes[ring.bar(own.first).class];
        let of_each = |told: fn(&crate::lattice::ClassNotch) -> f64| class.notches.iter().map(told);
        let ats: Vec<String> = of_each(|notch| notch.at).map(|at| n.len(at)).collect();
        let alike = |values: &mut dyn Iterator<Item = f64>| {
            let mut told: Vec<String> = values.map(|v| n.fine(v)).collect();
            told.dedup();
            told.join(", ")
        };
        let sides: Vec<&str> = (own.sides.iter())
            .map(|&s| surround.sides[s].id.as_str())
            .collect();
        table.row([
            own.id.clone(),
            of.to_make(&own.id),
            n.len(class.length),
            sheet.section_of(surround.face, surround.depth),
            ats.join(", "),
            alike(&mut of_each(|notch| notch.run)),
            alike(&mut of_each(|notch| notch.depth)),
            sides.join(", "),
        ]);
    }
    let text = "The programs cut these bars with those of the ground. They lap over each other at the corners; laps \
                are told by their middles from the first end.";
    vec![Block::Text(text.into()), Block::Table(table)]
}
