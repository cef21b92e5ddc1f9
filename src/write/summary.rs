//! `job.json`, schema 1: the summary that other programs rely on. Lengths are mm, angles degrees,
//! rounded to six decimals. Keys may be added; those here stay.

use nalgebra::{Matrix4, Vector4};
use serde::Serialize;

use crate::geom::{acos_deg, micron, tan_deg, tidy};
use crate::lattice::{DryFit, End, EndShape, JointShape, Lattice};
use crate::panel::{JobFiles, Machine};
use crate::path::{Head, Program, program_lengths};
use crate::safety::Check;
use crate::setup::{Comb, Edge, FlatLayout, FlatSheet, Placement};
use crate::stock::Nest;

/// The summary of a job.
#[derive(Debug, Clone, Serialize)]
pub struct Summary {
    schema: u32,
    program: &'static str,
    /// Size and quantity.
    pub panel: PanelOut,
    members: Vec<MemberOut>,
    classes: Vec<ClassOut>,
    sticks: Vec<serde_json::Value>,
    infill: Vec<serde_json::Value>,
    surround: Vec<SurroundOut>,
    order: Vec<Vec<String>>,
    dry_fit: DryFitOut,
    nest: NestOut,
    setups: Vec<SetupOut>,
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
struct EndOut {
    angle: f64,
    shape: &'static str,
}

#[derive(Debug, Clone, Serialize)]
struct MemberOut {
    id: String,
    class: String,
    turn: &'static str,
    family: String,
    rank: u32,
    face: f64,
    start: [f64; 2],
    end: [f64; 2],
    from: f64,
    to: f64,
    length: f64,
    ends: [EndOut; 2],
    joints: Vec<JointOut>,
}

#[derive(Debug, Clone, Serialize)]
struct JointOut {
    at: f64,
    node: [f64; 2],
    with: Option<String>,
    line: String,
    edge: &'static str,
    angle: f64,
    width: f64,
    depth: f64,
    shape: &'static str,
    run: f64,
}

#[derive(Debug, Clone, Serialize)]
struct ClassOut {
    id: String,
    count: u64,
    length: f64,
    ends: [EndOut; 2],
    joints: Vec<ClassJointOut>,
}

#[derive(Debug, Clone, Serialize)]
struct ClassJointOut {
    at: f64,
    edge: &'static str,
    angle: f64,
    width: f64,
    depth: f64,
    shape: &'static str,
    run: f64,
}

#[derive(Debug, Clone, Serialize)]
struct CouponOut {
    bar: [f64; 2],
    cut: f64,
    step: f64,
    notches: Vec<f64>,
}

#[derive(Debug, Clone, Serialize)]
struct SurroundOut {
    id: String,
    side: String,
    long: f64,
    short: f64,
    face: f64,
    mitres: [f64; 2],
}

#[derive(Debug, Clone, Serialize)]
struct DryFitOut {
    interference_mm3: f64,
    crush_mm3: f64,
    largest_gap_mm: f64,
    press_mm: f64,
}

#[derive(Debug, Clone, Default, Serialize)]
struct NestOut {
    used: usize,
    lower_bound: usize,
    optimal: bool,
    strips: Vec<StripOut>,
}

#[derive(Debug, Clone, Serialize)]
struct StripOut {
    stock: String,
    length: f64,
    width: f64,
    offcut: f64,
    pieces: Vec<PieceOut>,
}

#[derive(Debug, Clone, Serialize)]
struct PieceOut {
    id: String,
    x: f64,
    y: f64,
}

#[derive(Debug, Clone, Serialize)]
struct BoxOut {
    min: [f64; 3],
    max: [f64; 3],
}

#[derive(Debug, Clone, Serialize)]
struct ZeroOut {
    x: &'static str,
    y: &'static str,
    z: &'static str,
}

#[derive(Debug, Clone, Serialize)]
struct SetupOut {
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
struct PlacementOut {
    id: String,
    to_setup: [[f64; 4]; 4],
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
    /// The notches, where a coupon is cut in place of the panel.
    pub coupon: Option<&'a Comb>,
    /// The dry fit of the shapes as cut.
    pub fit: &'a DryFit,
    /// Sheets, how they came about, and their programs; nothing for a panel cut edge up.
    pub flat: Option<(&'a FlatLayout, &'a Nest, &'a [Program])>,
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
            coupon,
            fit,
            flat,
            checks,
            warnings,
        } = told;
        let bounds = lattice.bounds();
        let frame = 2.0 * files.panel.surround.unwrap_or(0.0);
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
                width: micron(bounds.width() + frame),
                height: micron(bounds.height() + frame),
                inner_width: micron(bounds.width()),
                inner_height: micron(bounds.height()),
                depth: micron(lattice.depth),
            },
            members: members(lattice),
            classes: classes(lattice, quantity),
            sticks: Vec::new(),
            infill: Vec::new(),
            surround: surround(lattice, files.panel.surround.filter(|_| coupon.is_none())),
            order: lattice.order.iter().map(ids).collect(),
            dry_fit: DryFitOut {
                interference_mm3: micron(fit.interference_mm3),
                crush_mm3: micron(fit.crush_mm3),
                largest_gap_mm: micron(fit.largest_gap_mm),
                press_mm: micron(fit.press_mm),
            },
            nest: flat.map_or_else(NestOut::default, |(layout, nest, _)| nest_out(layout, nest)),
            setups: flat.map_or_else(Vec::new, |(layout, _, programs)| {
                let pairs = layout.sheets.iter().zip(programs);
                pairs
                    .map(|(sheet, program)| SetupOut {
                        coupon: coupon.is_some(),
                        ..setup(&files.machine, sheet, program)
                    })
                    .collect()
            }),
            checks: checks.iter().map(check).collect(),
            warnings: warnings.to_vec(),
            coupon: coupon.map(|comb| CouponOut {
                bar: comb.bar.map(micron),
                cut: micron(comb.cut),
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

fn edge(e: Edge) -> &'static str {
    match e {
        Edge::Front => "front",
        Edge::Back => "back",
    }
}

fn shape(s: JointShape) -> &'static str {
    match s {
        JointShape::Skew => "skew",
        JointShape::Square => "square",
    }
}

fn end(e: End) -> EndOut {
    let shape = match e.shape {
        EndShape::Square => "square",
        EndShape::Skew => "skew",
        EndShape::Point => "point",
    };
    EndOut {
        angle: micron(e.angle_deg),
        shape,
    }
}

fn members(lattice: &Lattice) -> Vec<MemberOut> {
    let id = |m: usize| lattice.members.get(m).map(|m| m.id.clone());
    lattice
        .members
        .iter()
        .map(|m| {
            let family = &lattice.families[m.family];
            let joints = m.joints.iter().map(|j| JointOut {
                at: micron(j.at),
                node: point(lattice.nodes[j.node].at),
                with: j.with.and_then(id),
                line: lattice.line_names[j.line].clone(),
                edge: edge(j.edge),
                angle: micron(j.angle_deg),
                width: micron(j.width),
                depth: micron(j.depth),
                shape: shape(j.shape),
                run: micron(j.run),
            });
            MemberOut {
                id: m.id.clone(),
                class: lattice.classes[m.class].id.clone(),
                turn: m.turn.word(),
                family: family.name.clone(),
                rank: family.rank,
                face: micron(family.face),
                start: point(m.start),
                end: point(m.end),
                from: micron(m.from),
                to: micron(m.to),
                length: micron(m.length()),
                ends: m.ends.map(end),
                joints: joints.collect(),
            }
        })
        .collect()
}

fn point(p: kurbo::Point) -> [f64; 2] {
    [micron(p.x), micron(p.y)]
}

fn classes(lattice: &Lattice, quantity: u32) -> Vec<ClassOut> {
    lattice
        .classes
        .iter()
        .map(|c| ClassOut {
            id: c.id.clone(),
            count: c.members.len() as u64 * u64::from(quantity),
            length: micron(c.length),
            ends: c.ends.map(end),
            joints: c
                .notches
                .iter()
                .map(|n| ClassJointOut {
                    at: micron(n.at),
                    edge: edge(n.edge),
                    angle: micron(n.angle_deg),
                    width: micron(n.width),
                    depth: micron(n.depth),
                    shape: shape(n.shape),
                    run: micron(n.run),
                })
                .collect(),
        })
        .collect()
}

/// The mitred pieces round the ground: each side's length inside, and outside with the face's share of
/// both mitres, face / tan(mitre); the mitre halves the corner.
fn surround(lattice: &Lattice, face: Option<f64>) -> Vec<SurroundOut> {
    let Some(face) = face else { return Vec::new() };
    let corners = lattice.outline.region.corners();
    let n = corners.len();
    let mitre = |i: usize| {
        let (a, b) = (
            corners[(i + n - 1) % n] - corners[i],
            corners[(i + 1) % n] - corners[i],
        );
        0.5 * acos_deg(a.normalize().dot(b.normalize()))
    };
    (0..n)
        .filter_map(|i| {
            let along = corners[(i + 1) % n] - corners[i];
            let side = lattice.outline.sides.iter().find(|s| {
                s.normal.dot(along).abs() < 1e-9
                    && (s.normal.dot(corners[i].to_vec2()) - s.offset).abs() < 1e-6
            })?;
            let mitres = [mitre(i), mitre((i + 1) % n)];
            let share: f64 = mitres.iter().map(|m| face / tan_deg(*m)).sum();
            Some(SurroundOut {
                id: format!("surround-{}", side.name.replace(' ', "-")),
                side: side.name.clone(),
                long: micron(along.hypot() + share),
                short: micron(along.hypot()),
                face: micron(face),
                mitres: mitres.map(micron),
            })
        })
        .collect()
}

fn nest_out(layout: &FlatLayout, nest: &Nest) -> NestOut {
    let strips = layout
        .sheets
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

fn setup(machine: &Machine, sheet: &FlatSheet, program: &Program) -> SetupOut {
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
