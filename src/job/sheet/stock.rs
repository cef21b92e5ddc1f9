//! What to buy and to mill.

use std::collections::BTreeMap;

use super::{Sheet, in_unit};
use crate::job::edge_up::Bench;
use crate::panel::InfillCut;
use crate::setup::Seat;
use crate::sheet::{Block, Page, Section, Table};
use crate::write::summary::surround;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let mut blocks = vec![Block::Table(blanks(sheet))];
    if let Some(edge) = plan.edge_up() {
        let length = format!("#{}", in_unit("Length", n));
        let size = in_unit("Face × depth", n);
        let heads = [
            "Sticks",
            "#To keep",
            "#Spares",
            "#Dummies",
            &length,
            &size,
            "#Together",
        ];
        let mut table = Table::new("Milled to size, all sides, before notching", &heads);
        for (class, bench) in edge.sticks.classes.iter().zip(&edge.benches) {
            let dummies = dummies(bench);
            let all = (class.count + class.spares) as usize + dummies;
            table.row([
                class.id.clone(),
                class.count.to_string(),
                class.spares.to_string(),
                dummies.to_string(),
                n.len(class.length),
                sheet.section_of(class.face[1], plan.lattice.depth),
                n.long(class.length * all as f64),
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
fn dummies(bench: &Bench) -> usize {
    let loads = bench.gangs.iter().flat_map(|gang| &gang.loads);
    let dummies = loads.map(|load| load.iter().filter(|&&s| s == Seat::Dummy).count());
    dummies.max().unwrap_or(0)
}

/// Strips and sheets of the nest, alike ones together.
fn blanks(sheet: &Sheet<'_>) -> Table {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let sheets = match (plan.flat(), plan.edge_up()) {
        (Some(flat), _) => flat.layout.sheets.as_slice(),
        (_, Some(edge)) => edge.nest.sheets.as_slice(),
        _ => &[],
    };
    let mut counts: BTreeMap<(String, [u64; 3]), (usize, [f64; 3])> = BTreeMap::new();
    for s in sheets {
        let size = [s.length, s.width, s.thickness];
        let key = (s.stock.clone(), size.map(f64::to_bits));
        counts.entry(key).or_insert((0, size)).0 += 1;
    }
    let size = in_unit("Length × width × thickness", n);
    let caption = format!("Strips and sheets of {}", plan.files.material.name);
    let mut table = Table::new(caption, &["Blank", "#How many", &size]);
    for ((name, _), (count, [l, w, t])) in counts {
        table.row([
            name,
            count.to_string(),
            format!("{} × {} × {}", n.len(l), n.len(w), n.fine(t)),
        ]);
    }
    table
}

/// Wood that is cut by hand: surround and infill.
fn others(sheet: &Sheet<'_>) -> Table {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let quantity = sheet.quantity() as f64;
    let size = in_unit("Face × depth", n);
    let heads = ["For", size.as_str(), "#Length without waste"];
    let mut table = Table::new("By hand", &heads);
    let face = plan.files.panel.surround.filter(|_| plan.coupon.is_none());
    let long: f64 = surround(&plan.lattice, face).iter().map(|s| s.long).sum();
    if let Some(face) = face {
        table.row([
            "surround".to_owned(),
            format!("{} × any", n.fine(face)),
            n.long(long * quantity),
        ]);
    }
    let asked = plan.files.panel.infill.as_ref();
    let by_hand = asked.filter(|i| i.cut == InfillCut::ByHand);
    if let (Some(asked), Some(infill)) = (by_hand, &plan.infill) {
        let mut lengths: BTreeMap<u64, (f64, f64)> = BTreeMap::new();
        for class in &infill.classes {
            let one = class.cut_length(asked.allowance) + asked.shooting;
            let all = one * class.pieces.len() as f64;
            let entry = lengths.entry(class.face.to_bits());
            entry.or_insert((class.face, 0.0)).1 += all;
        }
        for (face, length) in lengths.into_values() {
            table.row([
                "infill".to_owned(),
                sheet.section_of(face, infill.depth),
                n.long(length * quantity),
            ]);
        }
    }
    table
}
