//! `job.json`, schema 1: the summary that other programs rely on. Lengths are mm, angles degrees,
//! rounded to six decimals. Keys may be added; those here stay.

mod flat;
mod ground;
mod infill;
mod sticks;

use serde::Serialize;

use crate::geom::{micron, tidy};
use crate::infill::Infill;
use crate::lattice::{DryFit, Lattice};
use crate::panel::JobFiles;
use crate::path::Program;
use crate::safety::Check;
use crate::setup::FlatLayout;
use crate::stock::{Nest, StickPlan};
use flat::{NestOut, SetupOut, nest_out, setup};
use ground::{ClassOut, MemberOut, SurroundOut, classes, members, surround};
use infill::{CellOut, InfillOut, cells, infill_rows};
use sticks::{StickOut, sticks};

/// The summary of a job.
#[derive(Debug, Clone, Serialize)]
pub struct Summary {
    schema: u32,
    program: &'static str,
    /// Size and quantity.
    pub panel: PanelOut,
    members: Vec<MemberOut>,
    classes: Vec<ClassOut>,
    sticks: Vec<StickOut>,
    infill: Vec<InfillOut>,
    cells: Vec<CellOut>,
    surround: Vec<SurroundOut>,
    order: Vec<Vec<String>>,
    dry_fit: DryFitOut,
    nest: NestOut,
    setups: Vec<SetupOut>,
    checks: Vec<CheckOut>,
    warnings: Vec<String>,
    files: Vec<FileOut>,
}

/// Size and quantity of a panel.
#[derive(Debug, Clone, Serialize)]
pub struct PanelOut {
    /// What the maker calls it.
    pub name: String,
    layout: &'static str,
    /// How many are made.
    pub quantity: u32,
    /// With the surround.
    pub width: f64,
    /// With the surround.
    pub height: f64,
    /// The trimmed ground.
    pub inner_width: f64,
    /// The trimmed ground.
    pub inner_height: f64,
    depth: f64,
}

#[derive(Debug, Clone, Serialize)]
struct DryFitOut {
    interference_mm3: f64,
    crush_mm3: f64,
    largest_gap_mm: f64,
    press_mm: f64,
}

#[derive(Debug, Clone, Serialize)]
struct CheckOut {
    id: &'static str,
    status: &'static str,
    value: f64,
    limit: f64,
    unit: &'static str,
    #[serde(rename = "where")]
    place: String,
}

#[derive(Debug, Clone, Serialize)]
struct FileOut {
    path: String,
    sha256: String,
}

/// Everything that the summary tells.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// The files of the job.
    pub files: &'a JobFiles,
    /// The ground.
    pub lattice: &'a Lattice,
    /// The pieces in its cells, if the panel has any.
    pub infill: Option<&'a Infill>,
    /// The dry fit of the shapes as cut.
    pub fit: &'a DryFit,
    /// Sheets, how they came about, and their programs; nothing for a panel cut edge up.
    pub flat: Option<(&'a FlatLayout, &'a Nest, &'a [Program])>,
    /// Sticks, and the strips that they come from; nothing for a panel cut flat.
    pub edge_up: Option<(&'a StickPlan, &'a Nest)>,
    /// All checks, the passed ones too.
    pub checks: &'a [Check],
    /// What the maker should know.
    pub warnings: &'a [String],
}

impl Summary {
    /// The summary; `digests` are the paths and SHA-256 digests of all files but `job.json`.
    #[must_use]
    pub fn of(told: Told<'_>, digests: &[(String, String)]) -> Self {
        let Told {
            files,
            lattice,
            infill,
            fit,
            flat,
            edge_up,
            checks,
            warnings,
        } = told;
        let bounds = lattice.bounds();
        let framed = lattice.outline.framed(files.panel.surround.unwrap_or(0.0));
        let quantity = files.panel.quantity;
        let mut sorted: Vec<&(String, String)> = digests.iter().collect();
        sorted.sort();
        let ids = |group: &Vec<usize>| {
            group
                .iter()
                .filter_map(|&m| lattice.members.get(m))
                .map(|m| m.id.clone())
                .collect()
        };
        Self {
            schema: 1,
            program: concat!("lapwright ", env!("CARGO_PKG_VERSION")),
            panel: PanelOut {
                name: files.panel.name.clone(),
                layout: files.panel.ground.layout.name(),
                quantity,
                width: micron(framed.width()),
                height: micron(framed.height()),
                inner_width: micron(bounds.width()),
                inner_height: micron(bounds.height()),
                depth: micron(lattice.depth),
            },
            members: members(lattice),
            classes: classes(lattice, quantity),
            sticks: edge_up.map_or_else(Vec::new, |(plan, _)| sticks(lattice, plan)),
            infill: infill.map_or_else(Vec::new, |i| infill_rows(i, files)),
            cells: infill.map_or_else(Vec::new, |i| cells(i, files)),
            surround: surround(lattice, files.panel.surround),
            order: lattice.order.iter().map(ids).collect(),
            dry_fit: DryFitOut {
                interference_mm3: micron(fit.interference_mm3),
                crush_mm3: micron(fit.crush_mm3),
                largest_gap_mm: micron(fit.largest_gap_mm),
                press_mm: micron(fit.press_mm),
            },
            nest: match (flat, edge_up) {
                (Some((layout, nest, _)), _) => nest_out(&layout.sheets, nest),
                (None, Some((_, nest))) => nest_out(&nest.sheets, nest),
                (None, None) => NestOut::default(),
            },
            setups: flat.map_or_else(Vec::new, |(layout, _, programs)| {
                let pairs = layout.sheets.iter().zip(programs);
                pairs
                    .map(|(sheet, program)| setup(&files.machine, sheet, program))
                    .collect()
            }),
            checks: checks.iter().map(check).collect(),
            warnings: warnings.to_vec(),
            files: sorted
                .into_iter()
                .map(|(path, sha256)| FileOut {
                    path: path.clone(),
                    sha256: sha256.clone(),
                })
                .collect(),
        }
    }

    /// The bytes of `job.json`.
    ///
    /// # Errors
    /// None that a plan can bring about; the serialiser's own are passed on.
    pub fn to_json(&self) -> Result<Vec<u8>, serde_json::Error> {
        let mut bytes = serde_json::to_vec_pretty(self)?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}

fn check(c: &Check) -> CheckOut {
    // JSON has no infinity; a check without a bound tells its value twice.
    let finite = |v: f64| {
        if v.is_finite() {
            micron(v)
        } else {
            tidy(micron(c.value))
        }
    };
    CheckOut {
        id: c.id,
        status: c.status.word(),
        value: micron(c.value),
        limit: finite(c.limit),
        unit: c.unit,
        place: c.place.clone(),
    }
}
