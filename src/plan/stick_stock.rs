//! The sticks that members are cross-cut from, and the strips that sticks come from.

use super::error::{PlanError, nest_fault};
use super::head::RouterHead;
use crate::geom::{SAME_FIGURE, micron};
use crate::lattice::Lattice;
use crate::panel::{Blank, JobFiles, Router};
use crate::setup::{BenchSize, LEAST_GANG, beside_stick};
use crate::stock::{
    LEAST_GAP, Nest, NestError, NestItem, StickLimit, StickPlan, StockLimit, bound_of_both, nest,
    plan_sticks,
};

/// Plans the sticks of a ground's members, and which strip each comes from: spares repeat the id of their
/// class's first stick.
///
/// # Errors
/// Sticks longer than stock or travel, ends too short for their notches, stock that does not do.
pub(super) fn stick_stock(
    files: &JobFiles,
    lattice: &Lattice,
    head: &RouterHead,
) -> Result<(StickPlan, Nest<usize>), PlanError> {
    let limit = stick_limit(
        files,
        lattice,
        head.own.machine.room()[0],
        bench_size(&head.router),
    );
    let sticks = plan_sticks(lattice, &files.panel, limit).map_err(|faults| {
        let list = faults
            .iter()
            .map(|f| (f.key(), f.to_string(), Some(f.hint())));
        PlanError::from(files.panel_text.faults(list))
    })?;
    let nest = nest_of(files, lattice.depth, &items(&sticks))?;
    Ok((sticks, nest))
}

/// A stick that comes from a strip, and the face that the strip is milled to, mm.
pub(super) type Milled = (f64, NestItem<usize>);

/// Which strip each stick comes from.
///
/// # Errors
/// Stock that does not do.
pub(super) fn nest_of(
    files: &JobFiles,
    depth: f64,
    items: &[Milled],
) -> Result<Nest<usize>, PlanError> {
    nest_sticks(files, depth, items).map_err(|e| {
        let long = |most| format!("longer strips, or sticks of at most {most:.1} mm");
        let wide = micron(depth + 2.0 * files.stock.trim);
        let deep = format!("strips at least {wide} mm wide, trim along both edges taken in");
        nest_fault(files, "stock", &e, long, deep)
    })
}

/// How long a stick may be on a machine of so much travel, mm, and from these strips.
pub(super) fn stick_limit(
    files: &JobFiles,
    lattice: &Lattice,
    travel: f64,
    bench: BenchSize,
) -> StickLimit {
    let stock = &files.stock;
    let least = lattice.depth + 2.0 * stock.trim;
    let wide = stock.blanks.iter().filter(|b| b.width >= least);
    let longest = wide.map(|b| b.length).fold(0.0, f64::max);
    StickLimit {
        travel,
        beside: beside(lattice, bench),
        stock: if longest > 0.0 {
            longest - 2.0 * stock.trim
        } else {
            // Too narrow altogether, which the nest tells.
            f64::INFINITY
        },
    }
}

/// What takes travel beside the sticks of a gang.
fn bench_size(router: &Router) -> BenchSize {
    BenchSize {
        rail: router.rail,
        hold: router.hold_width,
        radius: 0.5 * router.tool.diameter,
    }
}

/// What the least gang takes of the travel beside its sticks, at the sharpest of all crossings, mm.
fn beside(lattice: &Lattice, bench: BenchSize) -> f64 {
    let joints = lattice.members.iter().flat_map(|m| {
        let [_, face] = lattice.faces[m.family];
        m.joints.iter().map(move |j| (face, j.angle_deg))
    });
    joints
        .map(|(face, deg)| beside_stick(LEAST_GANG, face, deg, bench))
        .fold(0.0, f64::max)
}

/// Nests sticks on lengths of milled strip, the stock's trim left free all round. A strip that has room for
/// more than one row is ripped into as many as it holds, a saw kerf apart. Sticks of different faces come from
/// different strips, milled to each.
fn nest_sticks(files: &JobFiles, depth: f64, items: &[Milled]) -> Result<Nest<usize>, NestError> {
    let mut stock = files.stock.clone();
    let gap = files.panel.sticks.saw_kerf.max(LEAST_GAP);
    let mut whole: Option<Nest<usize>> = None;
    for face in faces(items) {
        let alike = items.iter().filter(|i| same_face(i.0, face));
        let alike: Vec<NestItem<usize>> = alike.map(|i| i.1.clone()).collect();
        let nest = nest(&alike, depth, &stock, gap, face, StockLimit::NONE)?;
        for sheet in &nest.sheets {
            let of = |b: &&mut Blank| {
                b.name == sheet.stock && [b.length, b.width] == [sheet.length, sheet.width]
            };
            let blank = stock.blanks.iter_mut().filter(of);
            if let Some(count) = blank.filter_map(|b| b.count.as_mut()).find(|n| **n > 0) {
                *count -= 1;
            }
        }
        match &mut whole {
            None => whole = Some(nest),
            Some(whole) => {
                let limited = files.stock.blanks.iter().any(|b| b.count.is_some());
                join(whole, nest, limited);
            }
        }
    }
    whole.ok_or(NestError::NoBlanks)
}

/// The faces of the sticks, ascending.
fn faces(items: &[Milled]) -> Vec<f64> {
    let mut faces: Vec<f64> = items.iter().map(|i| i.0).collect();
    faces.sort_by(f64::total_cmp);
    faces.dedup_by(|a, b| same_face(*a, *b));
    faces
}

fn same_face(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME_FIGURE
}

/// All sticks of a plan, spares included.
pub(super) fn items(plan: &StickPlan) -> Vec<Milled> {
    let mut items = Vec::new();
    for stick in &plan.sticks {
        let class = &plan.classes[stick.class];
        for _ in 0..u64::from(stick.count) + u64::from(stick.spares) {
            let item = NestItem {
                piece: stick.class.index(),
                id: stick.id.clone(),
                length: class.length,
            };
            items.push((class.face[1], item));
        }
    }
    items
}

/// Adds strips of another face. Where blanks are counted, those that one face leaves to the other are
/// not the only choice, so that the sum is not proven to be the least.
fn join(whole: &mut Nest<usize>, other: Nest<usize>, limited: bool) {
    let before = whole.sheets.len();
    whole
        .sheets
        .extend(other.sheets.into_iter().map(|mut sheet| {
            sheet.number += before;
            sheet
        }));
    let (count, other) = (&mut whole.count, other.count);
    count.used += other.used;
    count.lower_bound = bound_of_both(count.lower_bound, other.lower_bound, limited);
    count.optimal = count.used == count.lower_bound;
}
