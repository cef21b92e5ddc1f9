//! What the summary tells of flat cutting: the nest, and a setup for each sheet.

use serde::Serialize;

use super::setups::{BoxOut, PlacementOut, SetupOut, ZeroOut, rows};
use crate::geom::micron;
use crate::non_empty::NonEmpty;
use crate::panel::{JobFiles, Machine};
use crate::path::{Head, Program};
use crate::plan::FlatPlan;
use crate::setup::{FlatPiece, FlatSheet, PlacementId};
use crate::stock::{Nest, NestCount, NestSheet, bound_of_both};
use crate::table::Table;

#[derive(Debug, Clone, Default, Serialize)]
pub(super) struct NestOut {
    used: usize,
    lower_bound: usize,
    optimal: bool,
    strips: Vec<StripOut>,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct StripOut {
    material: String,
    stock: String,
    length: f64,
    width: f64,
    offcut: f64,
    /// Of sheets that are cut alike, the program that they share, and which of its runs cuts this one, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    file: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    load: Option<usize>,
    pieces: Vec<PieceOut>,
    joined: Vec<JoinedOut>,
}

/// Pieces that stay joined end to end, from left to right, and the grooves in which they are sawn apart.
#[derive(Debug, Clone, Serialize)]
pub(super) struct JoinedOut {
    ids: Vec<String>,
    length: f64,
    grooves: Vec<BoxOut>,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct PieceOut {
    id: String,
    x: f64,
    y: f64,
}

/// The sheets of one wood that are cut flat.
pub(super) fn flat_nest(files: &JobFiles, flat: &FlatPlan) -> NestOut {
    let material = &files.wood(flat.wood).0.name;
    let each = flat.layout.sheets.entries();
    let rows = each.flat_map(|(id, sheet)| {
        let shares = sheet.loads() > 1;
        let shared = flat.program(id).filter(|_| shares);
        (0..sheet.loads()).map(move |load| StripOut {
            file: shared.map(|program| format!("gcode/{}.nc", program.stem)),
            load: shares.then_some(load + 1),
            joined: joined(&flat.layout.pieces, sheet, load),
            ..strip(material, sheet, load)
        })
    });
    NestOut::of(&flat.nest, rows.collect())
}

/// The strips that sticks come from.
pub(super) fn stick_nest(material: &str, nest: &Nest<usize>) -> NestOut {
    let strips = nest.sheets.iter();
    let strips = strips.flat_map(|s| (0..s.loads()).map(|load| strip(material, s, load)));
    NestOut::of(&nest.count, strips.collect())
}

/// A strip or sheet, on one of the loads that are cut alike.
fn strip<S>(material: &str, sheet: &NestSheet<S>, load: usize) -> StripOut {
    StripOut {
        material: material.to_owned(),
        stock: sheet.stock.clone(),
        length: micron(sheet.length),
        width: micron(sheet.width),
        offcut: micron(sheet.offcut),
        file: None,
        load: None,
        pieces: (sheet.placements.entries())
            .map(|(at, p)| PieceOut {
                id: sheet.id_in(load, at).to_owned(),
                x: micron(p.x),
                y: micron(p.y),
            })
            .collect(),
        joined: Vec::new(),
    }
}

impl NestOut {
    fn of(count: &NestCount, strips: Vec<StripOut>) -> Self {
        Self {
            used: count.used,
            lower_bound: count.lower_bound,
            optimal: count.optimal,
            strips,
        }
    }

    /// Adds the strips or sheets of another batch. Those of one wood share its stock: what fits on the other
    /// batch's sheets is then not proven to need sheets of its own.
    pub(super) fn add(&mut self, other: Self, shares_stock: bool) {
        self.used += other.used;
        self.lower_bound = bound_of_both(self.lower_bound, other.lower_bound, shares_stock);
        self.optimal = self.used == self.lower_bound;
        self.strips.extend(other.strips);
    }
}

fn joined(pieces: &Table<FlatPiece>, sheet: &FlatSheet, load: usize) -> Vec<JoinedOut> {
    let partings = sheet.partings(pieces);
    let chain = |chain: &NonEmpty<PlacementId>| {
        let [first, last] = [chain.first(), chain.last()].map(|&id| &sheet.placements[id]);
        let own = partings.iter();
        let own = own.filter(|p| chain.contains(&p.left));
        JoinedOut {
            ids: chain
                .iter()
                .map(|&id| sheet.id_in(load, id).to_owned())
                .collect(),
            length: micron(last.x + pieces[last.piece].length - first.x),
            grooves: own
                .map(|p| BoxOut {
                    min: [p.groove.x0, p.groove.y0, p.floor].map(micron),
                    max: [p.groove.x1, p.groove.y1, sheet.thickness].map(micron),
                })
                .collect(),
        }
    };
    sheet.chains.iter().map(chain).collect()
}

/// A setup for each sheet of one wood.
pub(super) fn flat_setups(files: &JobFiles, flat: &FlatPlan) -> Vec<SetupOut> {
    let machine = files.own().map(|own| &own.machine);
    let cuts = machine.into_iter().flat_map(|machine| {
        flat.cuts()
            .map(move |(sheet, program)| (machine, sheet, program))
    });
    cuts.map(|(machine, sheet, program)| setup(files, machine, flat, sheet, program))
        .collect()
}

fn setup(
    files: &JobFiles,
    machine: &Machine,
    flat: &FlatPlan,
    sheet: &FlatSheet,
    program: &Program,
) -> SetupOut {
    let (kind, z) = match &program.head {
        Head::Beam { .. } => ("flat-laser", "the bed under the stock; focus on its top"),
        Head::Cutter { .. } => ("flat-router", "the bed under the stock"),
    };
    let mut out = SetupOut::of(machine, program, kind);
    out.material = Some(files.wood(flat.wood).0.name.clone());
    out.stock.max = [sheet.length, sheet.width, sheet.thickness].map(micron);
    out.zero = ZeroOut {
        x: "lower left corner of the stock",
        y: "lower left corner of the stock",
        z,
    };
    out.loads = sheet.loads();
    let pieces = &flat.layout.pieces;
    for (k, p) in sheet.placements.entries() {
        let place = |id: &str, load| PlacementOut {
            id: id.to_owned(),
            load,
            to_setup: rows(&pieces[p.piece].to_setup(p, sheet.thickness)),
        };
        if p.id.is_empty() {
            let own = (0..sheet.loads()).map(|load| place(sheet.id_in(load, k), Some(load + 1)));
            out.placements.extend(own);
        } else {
            out.placements.push(place(&p.id, None));
        }
    }
    out
}
