//! Infill: the table for the shooting jig.

use super::sheet::{PanelSheet, Sheet, in_unit};
use crate::document::{Block, Column, Page, Section, Table};
use crate::geom::SAME_FIGURE;
use crate::infill::{Infill, PieceClass};
use crate::panel::{self, Filling, InfillCut};

pub(super) fn section(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let infill = of.panel.drawn.infill.as_ref()?;
    let asked = &infill.asked;
    let mut blocks = vec![how_made(asked)];
    blocks.extend(sizes(sheet, asked).map(Block::List));
    blocks.extend(ends(infill).map(Block::Text));
    blocks.push(Block::Table(jig(sheet, of, infill)));
    let folds = folds(sheet, infill);
    if !folds.rows.is_empty() {
        let how = match asked.perforation {
            Some(_) => {
                "The beam has perforated the blanks at the fold: fold them so that the cut opens on the side told."
            }
            None => "Saw nearly through at the fold, from the side told, and leave a thin skin.",
        };
        blocks.push(Block::Text(format!(
            "Hinged pieces are two in one. {how} The third piece of the cell locks the fold."
        )));
        blocks.push(Block::Table(folds));
    }
    let picture = sheet.picture(
        "pictures/cells.svg",
        "The cells of the panel by number".into(),
    );
    blocks.extend(picture.map(Block::Figure));
    Some(Section {
        title: "Infill".into(),
        page: Page::Upright,
        blocks,
    })
}

/// How the pieces are made: on a shooting jig, unless the machine cuts them whole.
fn how_made(asked: &panel::Infill) -> Block {
    let cut = match asked.cut {
        InfillCut::ByHand => "Saw the blanks by hand",
        InfillCut::Blanks => "The blanks are cut by the machine",
        InfillCut::Outlines => {
            return Block::Text(
                "The machine cuts the pieces as they are seen from the front, bevels and all; the table is for \
                 those that are made again by hand."
                    .into(),
            );
        }
    };
    Block::Steps(
        1,
        vec![
            format!("{cut}, square-ended, as long as the column \"Blank\" says."),
            "Set the jig to the bevel of an end: the angle between the piece's axis and the cut, on the left and \
             on the right as seen from the front, looking from the first end to the last. 90° is square."
                .to_owned(),
            "Shoot one end, then the other to the length from point to point. Try the first piece in its cell \
             before the jig's stop is fixed."
                .to_owned(),
        ],
    )
}

/// Which size of the pieces is that of the stock they are cut from, as it has measured; nothing by hand.
fn sizes(sheet: &Sheet<'_>, asked: &panel::Infill) -> Option<Vec<String>> {
    let (n, files) = (sheet.numbers, &sheet.plan.files);
    let drawn = files.panel.infill.as_ref()?;
    let all = |infill: &panel::Infill| {
        let features: Vec<Filling> = infill.features.iter().map(|f| f.filling).collect();
        [vec![infill.filling], features].concat()
    };
    let mut told = Vec::new();
    for (cut, drawn) in all(asked).into_iter().zip(all(drawn)) {
        let (what, own, said) = match asked.cut {
            InfillCut::ByHand => return None,
            InfillCut::Blanks => ("wide", cut.face, Some(drawn.face)),
            InfillCut::Outlines => ("deep", cut.depth, drawn.depth_said.then_some(drawn.depth)),
        };
        let (material, _) = files.wood(cut.wood);
        let said = match said {
            Some(said) if (said - own).abs() > SAME_FIGURE => {
                format!("; drawn {}", n.fine_with_unit(said))
            }
            _ => String::new(),
        };
        let line = format!(
            "Pieces of {} are {} {what}, as thick as their stock{said}.",
            material.name,
            n.fine_with_unit(own)
        );
        if !told.contains(&line) {
            told.push(line);
        }
    }
    Some(told)
}

fn jig(sheet: &Sheet<'_>, of: &PanelSheet<'_>, infill: &Infill) -> Table {
    let (n, files) = (sheet.numbers, &sheet.plan.files);
    let asked = &infill.asked;
    let size = Column::texts(in_unit("Face × depth", n));
    let [length, blank] = ["Length", "Blank"].map(|what| Column::numbers(in_unit(what, n)));
    let heads = [
        Column::texts("Piece"),
        Column::texts("Pattern"),
        Column::numbers("To make"),
        size,
        length,
        blank,
        Column::numbers("First left"),
        Column::numbers("First right"),
        Column::numbers("Last left"),
        Column::numbers("Last right"),
        Column::texts("Remark"),
    ];
    let mut table = Table::new("Table for the shooting jig", heads);
    for class in &infill.classes {
        let cut = class.cut_length(asked.allowance);
        let mut row = vec![
            class.id.clone(),
            files.patterns[class.filling.pattern].name.clone(),
            of.to_make(&class.id),
            sheet.section_of(class.face, class.filling.depth),
            n.len(cut),
            n.len(cut + asked.shooting),
        ];
        row.extend(class.ends.iter().flatten().map(|&deg| n.angle(deg)));
        let remark = match (class.trimmed, class.fold) {
            (true, _) => "cut by the outline",
            (false, Some(_)) => "hinged",
            (false, None) => "",
        };
        let ends = class.ends_told(asked.plain_ends, |mm| n.fine_with_unit(mm));
        let told = [remark, ends.as_str()]
            .into_iter()
            .filter(|told| !told.is_empty());
        row.push(told.collect::<Vec<_>>().join("; "));
        table.row(row);
    }
    table
}

/// What is told of pieces whose ends are re-entrant, or would be.
fn ends(infill: &Infill) -> Option<String> {
    let ids = |of: &dyn Fn(&PieceClass) -> bool| {
        let classes = infill.classes.iter().filter(|class| of(class));
        classes
            .map(|class| class.id.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let reentrant = ids(&|class| class.reentrant().contains(&true));
    if !reentrant.is_empty() {
        return Some(format!(
            "Re-entrant ends: {reentrant}. Both sides of the piece run out to a long point, and the points of its \
             neighbours lie in the notch between them. The length is from long point to long point. A shooting \
             jig cannot make such an end: cut such a piece on the machine again."
        ));
    }
    let open = ids(&|class| class.plain_opening > 0.0);
    (infill.asked.plain_ends && !open.is_empty()).then(|| {
        format!(
            "Plain ends: {open}. Their true ends would be re-entrant, with a notch for the points of their \
             neighbours. They are cut straight instead, and leave the seam open beside them, along the face by up \
             to as much as the remark says."
        )
    })
}

/// Where hinged pieces are folded, and by how much.
fn folds(sheet: &Sheet<'_>, infill: &Infill) -> Table {
    let n = sheet.numbers;
    let at = Column::numbers(in_unit("From the blank's first end", n));
    let heads = [
        Column::texts("Piece"),
        at,
        Column::numbers("Fold by"),
        Column::texts("Cut opens on the"),
        Column::numbers("First wall of the cut"),
        Column::numbers("Last wall of the cut"),
    ];
    let mut table = Table::new("Folds of hinged pieces", heads);
    for class in &infill.classes {
        let at = class.fold_in_blank(infill.asked.allowance, infill.asked.shooting);
        if let (Some(fold), Some(at)) = (class.fold, at) {
            let [first, last] = fold.walls.map(|deg| n.angle(deg));
            table.row([
                class.id.clone(),
                n.fine(at),
                n.angle(fold.deg),
                fold.side().to_owned(),
                first,
                last,
            ]);
        }
    }
    table
}
