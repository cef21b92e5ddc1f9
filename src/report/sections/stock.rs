//! What to buy and to mill.

use std::collections::BTreeMap;

use super::sheet::{Sheet, counted, in_unit};
use crate::document::{Block, Column, Page, Section, Table};
use crate::panel::InfillCut;
use crate::setup::{Gang, Seat};
use crate::stock::NestSheet;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let mut blocks = vec![Block::Table(blanks(sheet))];
    if let Some(edge) = plan.edge_up() {
        let length = Column::numbers(in_unit("Length", n));
        let size = Column::texts(in_unit("Face × depth", n));
        let heads = [
            Column::texts("Sticks"),
            Column::numbers("To keep"),
            Column::numbers("Spares"),
            Column::numbers("Dummies"),
            length,
            size,
            Column::numbers("Together"),
        ];
        let mut table = Table::new("Milled to size, all sides, before notching", heads);
        for (id, class) in edge.sticks.classes.entries() {
            let dummies = dummies(edge.gangs(&edge.benches[id].clampings));
            let all = (class.count + class.spares) as usize + dummies;
            table.row([
                class.id.clone(),
                class.count.to_string(),
                class.spares.to_string(),
                dummies.to_string(),
                n.len(class.length),
                sheet.section_of(class.face[1], plan.lattice().depth),
                n.bought(class.length * all as f64),
            ]);
        }
        blocks.push(Block::Table(table));
        blocks.push(Block::Text(
            "A dummy is any stick of this face and depth, and is not in the nest: it fills an outermost place \
             of a gang, and serves again."
                .into(),
        ));
    }
    let more = others(sheet);
    if !more.rows.is_empty() {
        blocks.push(Block::Table(more));
    }
    Some(Section {
        title: "Stock to buy".into(),
        page: Page::Upright,
        blocks,
    })
}

/// How many dummies lie in a gang at one time.
fn dummies<'a>(gangs: impl Iterator<Item = &'a Gang>) -> usize {
    let loads = gangs.flat_map(|gang| &gang.loads);
    let dummies = loads.map(|load| load.iter().filter(|&&s| s == Seat::Dummy).count());
    dummies.fold(0, usize::max)
}

/// Blanks that are alike: wood, name, and the bits of their sizes.
type Blank<'a> = (usize, &'a str, [u64; 3]);

/// Strips and sheets of the nest, alike ones together.
fn blanks(sheet: &Sheet<'_>) -> Table {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let mut counts: BTreeMap<Blank<'_>, (usize, [f64; 3])> = BTreeMap::new();
    if let Some(edge) = plan.edge_up() {
        count(&mut counts, 0, &edge.nest.sheets);
    }
    for flat in plan.flats() {
        count(&mut counts, flat.wood, flat.layout.sheets.rows());
    }
    let size = Column::texts(in_unit("Length × width × thickness", n));
    let heads = [
        Column::texts("Blank"),
        Column::texts("Material"),
        Column::numbers("How many"),
        size,
    ];
    let mut table = Table::new("Strips and sheets", heads);
    for ((wood, name, _), (count, [l, w, t])) in counts {
        table.row([
            name.to_owned(),
            plan.files.wood(wood).0.name.clone(),
            count.to_string(),
            format!("{} × {} × {}", n.len(l), n.len(w), n.fine(t)),
        ]);
    }
    table
}

/// Adds the strips and sheets of a wood.
fn count<'a, S>(
    counts: &mut BTreeMap<Blank<'a>, (usize, [f64; 3])>,
    wood: usize,
    sheets: &'a [NestSheet<S>],
) {
    for s in sheets {
        let size = [s.length, s.width, s.thickness];
        let key = (wood, s.stock.as_str(), size.map(f64::to_bits));
        counts.entry(key).or_insert((0, size)).0 += s.loads();
    }
}

/// Wood that is cut by hand: surround and infill.
fn others(sheet: &Sheet<'_>) -> Table {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let size = Column::texts(in_unit("Face × depth", n));
    let heads = [Column::texts("For"), size, Column::numbers("Length")];
    let mut table = Table::new("By hand", heads);
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
            "surround".to_owned(),
            sheet.section_of(surround.face, surround.depth),
            format!("{}{lengths}", n.bought(stock.total)),
        ]);
    }
    let infill = drawn.and_then(|d| d.infill.as_ref());
    if let Some(infill) = infill.filter(|infill| infill.asked.cut == InfillCut::ByHand) {
        let mut lengths: BTreeMap<(usize, [u64; 2]), ([f64; 2], f64)> = BTreeMap::new();
        for class in &infill.classes {
            let one = class.cut_length(infill.asked.allowance) + infill.asked.shooting;
            let size = [class.face, class.filling.depth];
            let key = (class.filling.wood, size.map(f64::to_bits));
            let entry = lengths.entry(key).or_insert((size, 0.0));
            let count = class.count() as u64 * sheet.quantity();
            entry.1 += one * (count + plan.files.panel.spares_of_each()) as f64;
        }
        for ((wood, _), ([face, depth], length)) in lengths {
            table.row([
                format!("infill, of {}", plan.files.wood(wood).0.name),
                sheet.section_of(face, depth),
                format!("{} without waste", n.bought(length)),
            ]);
        }
    }
    table
}
