//! What the summary tells of flat cutting: the nest, and a setup for each sheet.

use nalgebra::{Matrix4, Vector4};
use serde::Serialize;

use crate::geom::micron;
use crate::panel::Machine;
use crate::path::{Head, Program, program_lengths};
use crate::setup::{FlatSheet, Placement};
use crate::stock::Nest;

#[derive(Debug, Clone, Default, Serialize)]
pub(super) struct NestOut {
    used: usize,
    lower_bound: usize,
    optimal: bool,
    strips: Vec<StripOut>,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct StripOut {
    stock: String,
    length: f64,
    width: f64,
    offcut: f64,
    pieces: Vec<PieceOut>,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct PieceOut {
    id: String,
    x: f64,
    y: f64,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct BoxOut {
    min: [f64; 3],
    max: [f64; 3],
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct ZeroOut {
    x: &'static str,
    y: &'static str,
    z: &'static str,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct SetupOut {
    file: String,
    kind: &'static str,
    coupon: bool,
    loads: u32,
    tool: String,
    tool_diameter: Option<f64>,
    kerf: Option<f64>,
    fence: Option<f64>,
    edge_up: Option<&'static str>,
    stock: BoxOut,
    zero: ZeroOut,
    rails: Vec<serde_json::Value>,
    keep_out: Vec<serde_json::Value>,
    passes: Vec<f64>,
    cut_mm: f64,
    travel_mm: f64,
    minutes: f64,
    placements: Vec<PlacementOut>,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct PlacementOut {
    id: String,
    to_setup: [[f64; 4]; 4],
}

pub(super) fn nest_out(sheets: &[FlatSheet], nest: &Nest) -> NestOut {
    let strips = sheets
        .iter()
        .zip(&nest.offcuts)
        .map(|(sheet, offcut)| StripOut {
            stock: sheet.stock.clone(),
            length: micron(sheet.length),
            width: micron(sheet.width),
            offcut: micron(*offcut),
            pieces: sheet
                .placements
                .iter()
                .map(|p| PieceOut {
                    id: p.id.clone(),
                    x: micron(p.x),
                    y: micron(p.y),
                })
                .collect(),
        });
    NestOut {
        used: nest.used,
        lower_bound: nest.lower_bound,
        optimal: nest.optimal,
        strips: strips.collect(),
    }
}

pub(super) fn setup(machine: &Machine, sheet: &FlatSheet, program: &Program) -> SetupOut {
    let lengths = program_lengths(program);
    let mut minutes = lengths.cut_mm / program.feed + lengths.travel_mm / machine.travel_feed;
    let (kind, tool, tool_diameter, kerf, zero_z);
    let mut passes: Vec<f64> = vec![0.0];
    match &program.head {
        Head::Beam { kerf: width, .. } => {
            (kind, tool, tool_diameter) = ("flat-laser", "beam".to_owned(), None);
            (kerf, zero_z) = (
                Some(micron(*width)),
                "the bed under the stock; focus on its top",
            );
        }
        Head::Cutter {
            diameter,
            tool_name,
            plunge_feed,
            spin_up_s,
            ..
        } => {
            (kind, tool, tool_diameter) =
                ("flat-router", tool_name.clone(), Some(micron(*diameter)));
            (kerf, zero_z) = (None, "the bed under the stock");
            minutes += lengths.plunge_mm / plunge_feed + spin_up_s / 60.0;
            passes = program
                .moves
                .iter()
                .filter_map(|m| match m {
                    crate::path::Move::Plunge(z) => Some(micron(*z)),
                    _ => None,
                })
                .collect();
            passes.sort_by(|a, b| b.total_cmp(a));
            passes.dedup();
        }
    }
    SetupOut {
        file: format!("gcode/{}.nc", program.stem),
        kind,
        coupon: false,
        loads: 1,
        tool,
        tool_diameter,
        kerf,
        fence: None,
        edge_up: None,
        stock: BoxOut {
            min: [0.0; 3],
            max: [
                micron(sheet.length),
                micron(sheet.width),
                micron(sheet.thickness),
            ],
        },
        zero: ZeroOut {
            x: "lower left corner of the stock",
            y: "lower left corner of the stock",
            z: zero_z,
        },
        rails: Vec::new(),
        keep_out: Vec::new(),
        passes,
        cut_mm: micron(lengths.cut_mm),
        travel_mm: micron(lengths.travel_mm),
        minutes: micron(minutes),
        placements: sheet
            .placements
            .iter()
            .map(|p| PlacementOut {
                id: p.id.clone(),
                to_setup: to_setup(p, sheet.thickness),
            })
            .collect(),
    }
}

/// Carries a piece's frame (x along, y across the face to the left, z from the back edge) to a sheet on
/// its side: x stays, the piece's height lies along y, and its left side faces the bed, so that the
/// map is a rotation (determinant +1).
fn to_setup(place: &Placement, thickness: f64) -> [[f64; 4]; 4] {
    let matrix = Matrix4::from_columns(&[
        Vector4::new(1.0, 0.0, 0.0, 0.0),
        Vector4::new(0.0, 0.0, -1.0, 0.0),
        Vector4::new(0.0, 1.0, 0.0, 0.0),
        Vector4::new(place.x, place.y, 0.5 * thickness, 1.0),
    ]);
    std::array::from_fn(|row| std::array::from_fn(|column| micron(matrix[(row, column)])))
}
