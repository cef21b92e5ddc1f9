//! What the summary tells of a clamping, however it is cut.

use serde::Serialize;

use crate::geom::{Frame, frame, micron};
use crate::panel::Machine;
use crate::path::{
    Head, NoteKind, PathBox, Program, air_run_stem, program_lengths, program_minutes,
    program_passes,
};

#[derive(Debug, Clone, Default, Serialize)]
pub(super) struct BoxOut {
    pub(super) min: [f64; 3],
    pub(super) max: [f64; 3],
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct ZeroOut {
    pub(super) x: &'static str,
    pub(super) y: &'static str,
    pub(super) z: &'static str,
}

/// Something that no cut may meet: a plan shape from the bed to `top`.
#[derive(Debug, Clone, Serialize)]
pub(super) struct KeepOutOut {
    pub(super) what: &'static str,
    pub(super) corners: Vec<[f64; 2]>,
    pub(super) top: f64,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct PlacementOut {
    pub(super) id: String,
    /// Which load of the setup it belongs to, from 1; none where it is in every one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) load: Option<usize>,
    pub(super) to_setup: [[f64; 4]; 3],
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct SetupOut {
    file: String,
    /// The program that goes round the box of the path with the head off.
    air_run: Option<String>,
    pub(super) kind: &'static str,
    coupon: bool,
    pub(super) material: Option<String>,
    pub(super) loads: usize,
    tool: String,
    tool_diameter: Option<f64>,
    kerf: Option<f64>,
    /// What its program is made with that nobody has measured, in words.
    from_memory: Vec<String>,
    pub(super) fence: Option<f64>,
    pub(super) edge_up: Option<&'static str>,
    /// Box of the centre of beam or tool, travel included.
    path: BoxOut,
    pub(super) stock: BoxOut,
    pub(super) zero: ZeroOut,
    pub(super) rails: Vec<BoxOut>,
    pub(super) keep_out: Vec<KeepOutOut>,
    passes: Vec<f64>,
    cut_mm: f64,
    travel_mm: f64,
    minutes: f64,
    pub(super) placements: Vec<PlacementOut>,
}

/// A placement's three rows of four.
pub(super) fn rows(frame: &Frame) -> [[f64; 4]; 3] {
    frame::rows(frame).map(|row| row.map(micron))
}

impl SetupOut {
    /// What a program tells of its setup by itself; the rest is for the caller to fill in.
    pub(super) fn of(machine: &Machine, program: &Program, kind: &'static str) -> Self {
        let lengths = program_lengths(program);
        let path = PathBox::of(program);
        let (tool, tool_diameter, kerf);
        match &program.head {
            Head::Beam { kerf: width, .. } => {
                (tool, tool_diameter) = ("beam".to_owned(), None);
                kerf = Some(micron(*width));
            }
            Head::Cutter {
                diameter,
                tool_name,
                ..
            } => {
                (tool, tool_diameter) = (tool_name.clone(), Some(micron(*diameter)));
                kerf = None;
            }
        }
        Self {
            file: format!("gcode/{}.nc", program.stem),
            air_run: Some(format!("gcode/{}.nc", air_run_stem(&program.stem))),
            kind,
            coupon: false,
            material: None,
            loads: 1,
            tool,
            tool_diameter,
            kerf,
            from_memory: (program.notes.iter())
                .filter(|note| matches!(note.kind, NoteKind::Size | NoteKind::FromMemory))
                .map(|note| note.text.clone())
                .collect(),
            fence: None,
            edge_up: None,
            path: BoxOut {
                min: path.min.map(micron),
                max: path.max.map(micron),
            },
            stock: BoxOut::default(),
            zero: ZeroOut {
                x: "",
                y: "",
                z: "",
            },
            rails: Vec::new(),
            keep_out: Vec::new(),
            passes: program_passes(program),
            cut_mm: micron(lengths.cut_mm),
            travel_mm: micron(lengths.travel_mm),
            minutes: micron(program_minutes(program, machine.travel_feed)),
            placements: Vec::new(),
        }
    }

    /// The same, told to be of a coupon or not.
    pub(super) fn of_coupon(mut self, coupon: bool) -> Self {
        self.coupon = coupon;
        self
    }
}
