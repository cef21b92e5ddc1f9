//! What to buy and to mill.

use std::collections::{BTreeMap, BTreeSet};

use super::sheet::{Sheet, in_unit};
use crate::document::{Block, Column, Numbers, Page, Section, Table, counted};
use crate::geom::DEPTH_OFF;
use crate::panel::InfillCut;
use crate::plan::EdgePlan;
use crate::setup::{Gang, Seat};
use crate::stock::NestSheet;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let mut blocks = vec![Block::Table(blanks(sheet))];
    let by_hand = by_hand(sheet);
    if !by_hand.rows.is_empty() {
        blocks.push(Block::Table(by_hand));
    }
    if let Some(edge) = sheet.plan.edge_up() {
        blocks.push(Block::Table(milled(sheet, edge)));
        blocks.push(Block::Text(
            "Mill to the middle of what is allowed. The notches are cut for the thickest face allowed; a stick thinner \
             than the least is looser in them than the material file has it. A dummy is any stick of this face and \
             depth, and is not in the nest: it fills an outermost place of a gang, and serves again."
                .into(),
        ));
    }
    Some(Section {
        title: "Stock to buy".into(),
        page: Page::Upright,
        blocks,
    })
}

/// Sticks, and what they are milled to.
fn milled(sheet: &Sheet<'_>, edge: &EdgePlan) -> Table {
    let (n, lattice) = (sheet.numbers, sheet.plan.lattice());
    let [face, depth] =
        ["Mill face to", "Mill depth to"].map(|what| Column::texts(in_unit(what, n)));
    let heads = [
        Column::texts("Sticks"),
        Column::numbers("To keep"),
        Column::numbers("Spares"),
        Column::numbers("Dummies"),
        Column::numbers(in_unit("Length", n)),
        face,
        depth,
        Column::numbers("Together"),
    ];
    let mut table = Table::new("Milled to size, all sides, before notching", heads);
    let (clearance, play) = (lattice.clearance, sheet.plan.files.material.play);
    for (id, class) in edge.sticks.classes.entries() {
        let dummies = dummies(edge.gangs(&edge.benches[id].clampings));
        let all = (class.count + class.spares) as usize + dummies;
        let depths = [lattice.depth - DEPTH_OFF, lattice.depth + DEPTH_OFF];
        table.row([
            class.id.clone(),
            class.count.to_string(),
            class.spares.to_string(),
            dummies.to_string(),
            n.len(class.length),
            mill_to(faces_allowed(class.face, clearance, play), n),
            mill_to(depths, n),
            n.bought(class.length * all as f64),
        ]);
    }
    table
}

/// Least and greatest face that a stick may have, mm, of its readings. Notches take the greatest; where but one is
/// known, the least is the one that has all of the material's play in a notch.
fn faces_allowed([least, greatest]: [f64; 2], clearance: f64, play: f64) -> [f64; 2] {
    let least = if least < greatest {
        least
    } else {
        greatest + clearance - play
    };
    [least, greatest]
}

/// What to aim at, and between which sizes it may come out.
fn mill_to([least, greatest]: [f64; 2], n: Numbers) -> String {
    let target = n.fine(0.5 * (least + greatest));
    let [least, greatest] = [least, greatest].map(|mm| n.fine(mm));
    if least == greatest {
        target
    } else {
        format!("{target} ({least} to {greatest})")
    }
}

/// How many dummies lie in a gang at one time.
fn dummies<'a>(gangs: impl Iterator<Item = &'a Gang>) -> usize {
    let loads = gangs.flat_map(|gang| &gang.loads);
    let dummies = loads.map(|load| load.iter().filter(|&&s| s == Seat::Dummy).count());
    dummies.fold(0, usize::max)
}

/// What is bought alike: wood, section and length as they are told.
type Bought<'a> = (&'a str, String, String);

/// How many, and what the stock files call it.
type Lots<'a> = BTreeMap<Bought<'a>, (usize, BTreeSet<&'a str>)>;

/// Strips and sheets of the nest, alike ones together, whichever part of the job they are for.
fn blanks(sheet: &Sheet<'_>) -> Table {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let mut lots = Lots::new();
    if let Some(edge) = plan.edge_up() {
        count(&mut lots, sheet, 0, &edge.nest.sheets);
    }
    for flat in plan.flats() {
        count(&mut lots, sheet, flat.wood, flat.layout.sheets.rows());
    }
    let heads = [
        Column::texts("Material"),
        Column::texts(in_unit("Width × thickness", n)),
        Column::numbers(in_unit("Length", n)),
        Column::numbers("How many"),
        Column::texts("Called"),
    ];
    let caption = format!(
        "Strips and sheets: lengths rounded up to {}",
        n.blank_step()
    );
    let mut table = Table::new(caption, heads);
    for ((material, section, length), (count, names)) in lots {
        table.row([
            material.to_owned(),
            section,
            length,
            count.to_string(),
            names.into_iter().collect::<Vec<_>>().join(", "),
        ]);
    }
    table
}

/// Adds the strips and sheets of a wood. Cut flat, bars are as thick as any of the readings.
fn count<'a, S>(lots: &mut Lots<'a>, sheet: &Sheet<'a>, wood: usize, sheets: &'a [NestSheet<S>]) {
    let n = sheet.numbers;
    let (material, _) = sheet.plan.files.wood(wood);
    for s in sheets {
        let [least, greatest] = material.thickness;
        let thick = if s.thickness == greatest && least < greatest {
            format!("{} to {}", n.fine(least), n.fine(greatest))
        } else {
            n.fine(s.thickness)
        };
        let section = format!("{} × {thick}", n.len(s.width));
        let key = (material.name.as_str(), section, n.blank(s.length));
        let (count, names) = lots.entry(key).or_insert((0, BTreeSet::new()));
        *count += s.loads();
        names.insert(s.stock.as_str());
    }
}

/// Wood that is cut by hand: surround and infill, what is bought alike together.
fn by_hand(sheet: &Sheet<'_>) -> Table {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let heads = [
        Column::texts("Material"),
        Column::texts(in_unit("Face × depth", n)),
        Column::numbers("Length"),
        Column::texts("For"),
    ];
    let caption = format!("By hand: lengths in all, rounded up to {}", n.bought_step());
    let mut table = Table::new(caption, heads);
    let drawn = plan.panel().map(|p| &p.drawn);
    if let Some(surround) = drawn.and_then(|d| d.surround.as_ref())
        && let Some(stock) = &surround.stock
    {
        let lengths = stock.lengths.as_ref().map_or_else(String::new, |l| {
            format!(
                ", as {} of {}",
                counted(l.cut.len(), "length"),
                n.with_unit(l.length)
            )
        });
        table.row([
            "as you choose".to_owned(),
            sheet.section_of(surround.face, surround.depth),
            format!("{}{lengths}", n.bought(stock.total)),
            "surround, saw cuts and ends included".to_owned(),
        ]);
    }
    let infill = drawn.and_then(|d| d.infill.as_ref());
    if let Some(infill) = infill.filter(|infill| infill.asked.cut == InfillCut::ByHand) {
        let mut lengths: BTreeMap<(&str, String), f64> = BTreeMap::new();
        for class in &infill.classes {
            let one = class.cut_length(infill.asked.allowance) + infill.asked.shooting;
            let material = plan.files.wood(class.filling.wood).0.name.as_str();
            let section = sheet.section_of(class.face, class.filling.depth);
            let count = class.count() as u64 * sheet.quantity();
            let all = one * (count + plan.files.panel.spares_of_each()) as f64;
            *lengths.entry((material, section)).or_default() += all;
        }
        for ((material, section), length) in lengths {
            table.row([
                material.to_owned(),
                section,
                n.bought(length),
                "infill, without waste".to_owned(),
            ]);
        }
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The readings are the limits where they differ; one reading leaves what the play leaves, 0.15 mm in all.
    #[test]
    fn sticks_are_milled_to_the_middle_of_what_is_allowed() {
        let near = |[a, b]: [f64; 2], [c, d]: [f64; 2]| (a - c).abs() + (b - d).abs() < 1e-9;
        assert!(near(faces_allowed([3.94, 4.02], 0.05, 0.15), [3.94, 4.02]));
        assert!(near(faces_allowed([4.0, 4.0], 0.05, 0.15), [3.9, 4.0]));
        let mm = Numbers::MM;
        assert_eq!(mill_to([3.94, 4.02], mm), "3.98 (3.94 to 4.02)");
        assert_eq!(mill_to([4.0, 4.0], mm), "4.00");
        let inch = Numbers::of(crate::panel::Units::Inch);
        assert_eq!(mill_to([3.94, 4.02], inch), "0.157 (0.155 to 0.158)");
    }
}
