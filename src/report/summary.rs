//! `job.json`, schema 1: the summary that other programs rely on. Lengths are mm, angles degrees,
//! rounded to six decimals. Keys may be added; those here stay.

mod assembly;
mod check;
mod edge_up;
mod flat;
mod ground;
mod infill;
mod kits;
mod setups;
mod sticks;
mod surround;

use serde::Serialize;

use crate::geom::micron;
use crate::lattice::{DryFit, Lattice, MemberId};
use crate::panel::{CutWidth, Elsewhere, JobFiles, SourceKind};
use crate::plan::{Cutting, Drawn, PanelPlan, Plan, Product, Uncut};
use crate::safety::Check;
use crate::setup::Comb;
use crate::surround::Surround;
use assembly::{StepOut, steps};
pub(crate) use check::CheckOut;
use edge_up::{BedOut, edge_setups};
use flat::{NestOut, flat_nest, flat_setups, stick_nest};
use ground::{ClassOut, MemberOut, members};
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
    /// The mark of the job, as programs, notes and sheet bear it.
    mark: String,
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
    from_memory: Vec<FromMemoryOut>,
    dry_fit: DryFitOut,
    nest: NestOut,
    uncut: Vec<UncutOut>,
    /// What is known of a machine elsewhere that cuts it; null where programs are written.
    elsewhere: Option<ElsewhereOut>,
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

/// What is left to the hand; `key` and `value` would have it cut, and are null where nothing does.
#[derive(Debug, Clone, Serialize)]
struct UncutOut {
    what: String,
    key: Option<&'static str>,
    value: Option<&'static str>,
}

/// A cut that is made elsewhere: how wide it is, null where that is not said, and what lies between neighbours.
#[derive(Debug, Clone, Serialize)]
struct ElsewhereOut {
    kerf: Option<f64>,
    tool_diameter: Option<f64>,
    gap: f64,
}

/// What notches are made for: least and greatest reading.
#[derive(Debug, Clone, Serialize)]
struct MeasuredOut {
    family: String,
    face: [f64; 2],
    depth: [f64; 2],
}

/// A value of a machine or material file that nobody has measured, as the file writes it.
#[derive(Debug, Clone, Serialize)]
struct FromMemoryOut {
    file: &'static str,
    name: String,
    key: String,
    value: String,
}

#[derive(Debug, Clone, Serialize)]
struct FileOut {
    path: String,
    sha256: String,
}

impl Summary {
    /// The summary of a job: its plan, the dry fit of the shapes as cut, all checks and warnings, and the paths and
    /// SHA-256 digests of all files but `job.json`.
    #[must_use]
    pub fn of(
        plan: &Plan,
        fit: &DryFit,
        checks: &[Check],
        warnings: &[String],
        digests: &[(String, String)],
    ) -> Self {
        let mut sorted: Vec<&(String, String)> = digests.iter().collect();
        sorted.sort();
        let edge = plan.edge_up();
        let sticks = edge.map(|edge| sticks(plan.lattice(), &edge.sticks, &edge.marks));
        let mut told = Self {
            schema: 1,
            program: concat!("lapwright ", env!("CARGO_PKG_VERSION")),
            mark: plan.files.mark(),
            panel: panel_out(plan),
            members: Vec::new(),
            classes: Vec::new(),
            kits: None,
            sticks: sticks.unwrap_or_default(),
            infill: Vec::new(),
            cells: Vec::new(),
            surround: Vec::new(),
            surround_stock: None,
            order: Vec::new(),
            assembly: Vec::new(),
            stock_measured: stock_measured(plan.lattice()),
            from_memory: from_memory(&plan.files),
            dry_fit: DryFitOut {
                interference_mm3: micron(fit.interference_mm3),
                crush_mm3: micron(fit.crush_mm3),
                largest_gap_mm: micron(fit.largest_gap_mm),
                press_mm: micron(fit.press_mm),
            },
            nest: nest(plan),
            uncut: plan.not_cut().iter().map(uncut).collect(),
            elsewhere: plan.files.elsewhere().map(elsewhere),
            setups: setups(plan),
            bed: bed(plan),
            checks: checks.iter().map(CheckOut::of).collect(),
            warnings: warnings.to_vec(),
            coupon: None,
            files: sorted
                .into_iter()
                .map(|(path, sha256)| FileOut {
                    path: path.clone(),
                    sha256: sha256.clone(),
                })
                .collect(),
        };
        match &plan.product {
            Product::Panel(panel) => told.tell_panel(plan, panel),
            Product::Coupon(coupon) => told.coupon = Some(coupon_out(&coupon.comb)),
        }
        told
    }

    /// Tells what a panel is made of, and how it goes together.
    fn tell_panel(&mut self, plan: &Plan, panel: &PanelPlan) {
        let files = &plan.files;
        let Drawn {
            lattice,
            infill,
            surround,
        } = &panel.drawn;
        let marks = plan.edge_up().map(|edge| &edge.marks);
        self.members = members(lattice, marks).into_iter().collect();
        self.classes = ground::classes(lattice, &files.panel, marks);
        // Sides of a lapped surround are cut like members, flat: nothing marks them.
        if let Some(ring) = panel.drawn.ring() {
            self.classes
                .extend(ground::classes(ring, &files.panel, None));
        }
        if files.panel.kits.is_some() {
            self.kits = Some(kits(&files.panel, &panel.kits(&files.panel)));
        }
        if let Some(infill) = infill {
            self.infill = infill_rows(infill, files);
            self.cells = cells(infill, files);
        }
        if let Some(surround) = surround {
            self.surround = surround_rows(surround);
            self.surround_stock = surround_stock(surround);
        }
        let id = |&m: &MemberId| lattice.members[m].id.clone();
        let order = lattice.order.iter();
        self.order = order.map(|group| group.iter().map(id).collect()).collect();
        self.assembly = steps(&panel.assembly, &panel.drawn);
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

/// Sizes of the panel, or of the one that a coupon is cut for.
fn panel_out(plan: &Plan) -> PanelOut {
    let (panel, lattice) = (&plan.files.panel, plan.lattice());
    let bounds = lattice.bounds();
    let surround = plan.panel().and_then(|p| p.drawn.surround.as_ref());
    let framed = surround.map_or(bounds, Surround::bounds);
    PanelOut {
        name: panel.name.clone(),
        layout: panel.ground.layout.name(),
        quantity: panel.quantity,
        width: micron(framed.width()),
        height: micron(framed.height()),
        inner_width: micron(bounds.width()),
        inner_height: micron(bounds.height()),
        depth: micron(lattice.depth),
    }
}

fn coupon_out(comb: &Comb) -> CouponOut {
    CouponOut {
        kind: comb.spec.kind.word(),
        key: comb.key().word(),
        bar: comb.spec.bar.map(micron),
        cut: micron(comb.spec.cut),
        clearance: micron(comb.spec.clearance),
        angle: comb.spec.crossing_deg.map(micron),
        step: comb.step,
        notches: comb.widths.to_vec(),
    }
}

/// All strips and sheets.
fn nest(plan: &Plan) -> NestOut {
    let mut nest = match &plan.cuts.bars {
        Cutting::Flat(flat) => flat_nest(&plan.files, flat),
        Cutting::EdgeUp(edge) => stick_nest(&plan.files.material.name, &edge.nest),
    };
    for flat in &plan.cuts.beside {
        let of_bars = flat.wood == 0 && plan.flat().is_some();
        nest.add(flat_nest(&plan.files, flat), of_bars);
    }
    nest
}

/// All clampings, with the programs of each.
fn setups(plan: &Plan) -> Vec<SetupOut> {
    let mut setups = match &plan.cuts.bars {
        Cutting::Flat(flat) => flat_setups(&plan.files, flat),
        Cutting::EdgeUp(edge) => edge_setups(&plan.files, edge),
    };
    let coupon = matches!(plan.product, Product::Coupon(_));
    setups = setups.into_iter().map(|s| s.of_coupon(coupon)).collect();
    for flat in &plan.cuts.beside {
        setups.extend(flat_setups(&plan.files, flat));
    }
    setups
}

/// The program that planes the board under the sticks, if there is one.
fn bed(plan: &Plan) -> Option<BedOut> {
    let run = plan.edge_up()?.bed.as_ref()?;
    Some(BedOut::of(&run.program))
}

fn stock_measured(lattice: &Lattice) -> Vec<MeasuredOut> {
    let families = lattice.families.entries();
    families
        .map(|(f, family)| MeasuredOut {
            family: family.name.clone(),
            face: lattice.faces[f].map(micron),
            depth: lattice.depths[f].map(micron),
        })
        .collect()
}

/// The values of all machine and material files that nobody has measured.
fn from_memory(files: &JobFiles) -> Vec<FromMemoryOut> {
    let machine = files.own().map(|own| {
        let machine = &own.machine;
        (SourceKind::Machine, &machine.name, &machine.from_memory)
    });
    let materials = files.materials().into_iter();
    let materials = materials.map(|m| (SourceKind::Material, &m.name, &m.from_memory));
    let all = machine.into_iter().chain(materials);
    all.flat_map(|(kind, name, list)| {
        list.values().iter().map(move |value| FromMemoryOut {
            file: kind.word(),
            name: name.clone(),
            key: value.key.clone(),
            value: value.written.clone(),
        })
    })
    .collect()
}

fn elsewhere(cut: &Elsewhere) -> ElsewhereOut {
    let (kerf, tool) = match cut.width {
        Some(CutWidth::Kerf(kerf)) => (Some(kerf), None),
        Some(CutWidth::Tool(diameter)) => (None, Some(diameter)),
        None => (None, None),
    };
    ElsewhereOut {
        kerf: kerf.map(micron),
        tool_diameter: tool.map(micron),
        gap: micron(cut.gap),
    }
}

fn uncut(part: &Uncut) -> UncutOut {
    let key = part.instead.map(|instead| instead.key);
    UncutOut {
        what: part.with_list(),
        key: key.map(|[key, _]| key),
        value: key.map(|[_, value]| value),
    }
}
