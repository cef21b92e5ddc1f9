//! `job.json`, schema 1: the summary that other programs rely on. Lengths are mm, angles degrees,
//! rounded to six decimals. Keys may be added; those here stay.

mod assembly;
mod edge_up;
mod flat;
mod ground;
mod infill;
mod kits;
mod setups;
mod sticks;
mod surround;

use serde::Serialize;

use crate::assembly::Assembly;
use crate::geom::{micron, tidy};
use crate::infill::Infill;
use crate::kits::KitPlan;
use crate::lattice::{DryFit, Lattice};
use crate::panel::{JobFiles, Machine};
use crate::path::Program;
use crate::safety::Check;
use crate::setup::{Comb, Corner, FlatLayout, Marks};
use crate::stock::{Nest, StickPlan};
use crate::surround::Surround;
use assembly::{StepOut, steps};
pub use edge_up::GangRun;
use edge_up::{BedOut, datum_setup, gang_setup};
use flat::{NestOut, nest_out, setup};
use ground::{ClassOut, MemberOut, classes, members};
use infill::{CellOut, InfillOut, cells, infill_rows};
use kits::{KitsOut, kits};
use setups::SetupOut;
use sticks::{StickOut, sticks};
use surround::{SurroundOut, SurroundStockOut, surround_rows, surround_stock};

/// The summary of a job.
#[derive(Debug, Clone, Serialize)]
pub struct Summary {
    schema: u32,
    program: &'static str,
    /// Size and quantity.
    pub panel: PanelOut,
    members: Vec<MemberOut>,
    classes: Vec<ClassOut>,
    kits: Option<KitsOut>,
    sticks: Vec<StickOut>,
    infill: Vec<InfillOut>,
    cells: Vec<CellOut>,
    surround: Vec<SurroundOut>,
    surround_stock: Option<SurroundStockOut>,
    order: Vec<Vec<String>>,
    assembly: Vec<StepOut>,
    stock_measured: Vec<MeasuredOut>,
    dry_fit: DryFitOut,
    nest: NestOut,
    setups: Vec<SetupOut>,
    /// The program that planes the board under the sticks.
    #[serde(skip_serializing_if = "Option::is_none")]
    bed: Option<BedOut>,
    checks: Vec<CheckOut>,
    warnings: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    coupon: Option<CouponOut>,
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
struct CouponOut {
    kind: &'static str,
    key: &'static str,
    bar: [f64; 2],
    cut: f64,
    clearance: f64,
    /// Edge up: from a stick to the bar that crosses it, degrees; null where it is cut flat.
    angle: Option<f64>,
    step: f64,
    notches: Vec<f64>,
}

#[derive(Debug, Clone, Serialize)]
struct DryFitOut {
    interference_mm3: f64,
    crush_mm3: f64,
    largest_gap_mm: f64,
    press_mm: f64,
}

/// What notches are made for: least and greatest reading.
#[derive(Debug, Clone, Serialize)]
struct MeasuredOut {
    family: String,
    face: [f64; 2],
    depth: [f64; 2],
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
#[derive(Debug, Clone)]
pub struct Told<'a> {
    /// The files of the job.
    pub files: &'a JobFiles,
    /// The ground.
    pub lattice: &'a Lattice,
    /// The notches, where a coupon is cut in place of the panel.
    pub coupon: Option<&'a Comb>,
    /// The pieces in its cells, if the panel has any.
    pub infill: Option<&'a Infill>,
    /// How the pieces are shared out.
    pub kits: &'a KitPlan,
    /// The frame round it, if the panel has one.
    pub surround: Option<&'a Surround>,
    /// How it is put together; nothing for a coupon.
    pub assembly: Option<&'a Assembly>,
    /// The dry fit of the shapes as cut.
    pub fit: &'a DryFit,
    /// How the members are cut, and what lies among them.
    pub cut: ToldCut<'a>,
    /// Infill that is cut by itself.
    pub beside: Vec<ToldFlat<'a>>,
    /// All checks, the passed ones too.
    pub checks: &'a [Check],
    /// What the maker should know.
    pub warnings: &'a [String],
}

/// What the summary tells of flat cutting from one wood.
#[derive(Debug, Clone)]
pub struct ToldFlat<'a> {
    /// Name of the material.
    pub material: &'a str,
    /// The wood, for [`JobFiles::wood`].
    pub wood: usize,
    /// Shapes and sheets.
    pub layout: &'a FlatLayout,
    /// How the sheets came about.
    pub nest: &'a Nest,
    /// One program for each sheet of the layout.
    pub programs: &'a [Program],
}

impl ToldFlat<'_> {
    fn setups(&self, machine: &Machine) -> Vec<SetupOut> {
        let sheets = self.layout.sheets.iter().zip(self.programs);
        sheets
            .map(|(sheet, program)| setup(machine, self, sheet, program))
            .collect()
    }

    fn nest(&self) -> NestOut {
        nest_out(
            self.material,
            &self.layout.sheets,
            &self.layout.pieces,
            self.nest,
            self.programs,
        )
    }
}

/// What the summary tells of the cutting of the members.
#[derive(Debug, Clone)]
pub enum ToldCut<'a> {
    /// Sheets, how they came about, and their programs.
    Flat(ToldFlat<'a>),
    /// Gangs of sticks.
    EdgeUp {
        /// Name of what they are made of.
        material: &'a str,
        /// The sticks.
        sticks: &'a StickPlan,
        /// Where every bar bears its orientation mark.
        marks: &'a Marks,
        /// Which stick comes from which strip.
        nest: &'a Nest,
        /// The datum corners, the program of each, and how often that is run.
        datums: Vec<(&'a Corner, &'a Program, usize)>,
        /// The program that planes the board under the sticks, if there is one.
        bed: Option<&'a Program>,
        /// All clampings in order.
        gangs: Vec<GangRun<'a>>,
    },
}

impl ToldCut<'_> {
    /// The program that planes the board under the sticks.
    fn bed(&self) -> Option<BedOut> {
        match self {
            Self::Flat(_) | Self::EdgeUp { bed: None, .. } => None,
            Self::EdgeUp { bed: Some(bed), .. } => Some(BedOut::of(bed)),
        }
    }

    fn setups(&self, machine: &Machine, coupon: bool) -> Vec<SetupOut> {
        let setups: Vec<SetupOut> = match self {
            Self::Flat(flat) => flat.setups(machine),
            Self::EdgeUp {
                material,
                datums,
                gangs,
                ..
            } => {
                let datums = datums
                    .iter()
                    .map(|(c, p, n)| datum_setup(machine, c, p, *n));
                let gangs = gangs.iter().map(|run| gang_setup(machine, material, run));
                datums.chain(gangs).collect()
            }
        };
        let told = setups.into_iter().map(|s| s.of_coupon(coupon));
        told.collect()
    }

    fn sticks(&self, lattice: &Lattice) -> Vec<StickOut> {
        match self {
            Self::Flat(_) => Vec::new(),
            Self::EdgeUp {
                sticks: plan,
                marks,
                ..
            } => sticks(lattice, plan, marks),
        }
    }

    fn marks(&self) -> Option<&Marks> {
        match self {
            Self::Flat(_) => None,
            Self::EdgeUp { marks, .. } => Some(marks),
        }
    }

    fn nest(&self) -> NestOut {
        match self {
            Self::Flat(flat) => flat.nest(),
            Self::EdgeUp { material, nest, .. } => nest_out(material, &nest.sheets, &[], nest, &[]),
        }
    }
}

impl Summary {
    /// The summary; `digests` are the paths and SHA-256 digests of all files but `job.json`.
    #[must_use]
    pub fn of(told: Told<'_>, digests: &[(String, String)]) -> Self {
        let Told {
            files,
            lattice,
            coupon,
            infill,
            kits: shared,
            surround,
            assembly,
            fit,
            cut,
            beside,
            checks,
            warnings,
        } = told;
        let mut nest = cut.nest();
        let mut setups = cut.setups(&files.machine, coupon.is_some());
        let of_bars = |flat: &ToldFlat<'_>| flat.wood == 0 && matches!(cut, ToldCut::Flat(_));
        for flat in &beside {
            nest.add(flat.nest(), of_bars(flat));
            setups.extend(flat.setups(&files.machine));
        }
        let bounds = lattice.bounds();
        let framed = surround.map_or(bounds, Surround::bounds);
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
            members: members(lattice, cut.marks()),
            classes: told_classes(lattice, surround, files, cut.marks()),
            kits: files.panel.kits.map(|_| kits(&files.panel, shared)),
            sticks: cut.sticks(lattice),
            infill: infill.map_or_else(Vec::new, |i| infill_rows(i, files)),
            cells: infill.map_or_else(Vec::new, |i| cells(i, files)),
            surround: surround.map_or_else(Vec::new, surround_rows),
            surround_stock: surround.and_then(surround_stock),
            order: lattice.order.iter().map(ids).collect(),
            assembly: assembly.map_or_else(Vec::new, |a| steps(a, lattice, infill, surround)),
            stock_measured: stock_measured(lattice),
            dry_fit: DryFitOut {
                interference_mm3: micron(fit.interference_mm3),
                crush_mm3: micron(fit.crush_mm3),
                largest_gap_mm: micron(fit.largest_gap_mm),
                press_mm: micron(fit.press_mm),
            },
            nest,
            setups,
            bed: cut.bed(),
            checks: checks.iter().map(check).collect(),
            warnings: warnings.to_vec(),
            coupon: coupon.map(|comb| CouponOut {
                kind: comb.spec.kind.word(),
                key: comb.key(),
                bar: comb.spec.bar.map(micron),
                cut: micron(comb.spec.cut),
                clearance: micron(comb.spec.clearance),
                angle: comb.spec.crossing_deg.map(micron),
                step: comb.step,
                notches: comb.widths.clone(),
            }),
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

/// Classes of members, then of the sides of a lapped surround, which are cut like them.
fn told_classes(
    lattice: &Lattice,
    surround: Option<&Surround>,
    files: &JobFiles,
    marks: Option<&Marks>,
) -> Vec<ClassOut> {
    let mut told = classes(lattice, &files.panel, marks);
    // Lapped sides are cut flat: nothing marks them.
    let ring = surround.and_then(|s| s.ring.as_ref());
    told.extend(ring.map_or_else(Vec::new, |ring| classes(ring, &files.panel, None)));
    told
}

fn stock_measured(lattice: &Lattice) -> Vec<MeasuredOut> {
    let readings = lattice.faces.iter().zip(&lattice.depths);
    let families = lattice.families.iter().zip(readings);
    families
        .map(|(family, (face, depth))| MeasuredOut {
            family: family.name.clone(),
            face: face.map(micron),
            depth: depth.map(micron),
        })
        .collect()
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
