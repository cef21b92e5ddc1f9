//! Replay of a whole job: every cut file from its bytes, then what all clampings of a stick remove
//! together, and the shapes that all of them cut.

use std::collections::{BTreeMap, BTreeSet};

use super::cut_file::{CutFile, Proven};
use crate::geom::{Convex, Point, REPLAY, Vec2, cos_deg, sin_deg};
use crate::kits::PieceKind;
use crate::lattice::{ClassId, FitShape, Lattice, Void, turned_void};
use crate::plan::EdgePlan;
use crate::plan::{Cutting, Plan, Product};
use crate::replay::dxf::DxfProof;
use crate::replay::{GangCuts, ReplayFault, SweptMove, prove_gangs};
use crate::safety::{Check, replay_check};
use crate::write::labels::is_cut;

/// What the replay of a job found.
#[derive(Debug, Default)]
pub struct Replayed<'a> {
    /// The shape that the files cut, for each class, and for each further piece of the sheets.
    pub shapes: Vec<FitShape>,
    /// The DXF files and what they hold.
    pub drawings: Vec<(CutFile<'a>, DxfProof)>,
    /// One check a file, and one for each class of sticks.
    pub checks: Vec<Check>,
    /// What is wrong, each with the path of its file.
    pub faults: Vec<String>,
    /// The rules that are broken.
    pub rules: BTreeSet<&'static str>,
}

impl Replayed<'_> {
    /// Adds what is wrong with a file, or with what several cut together.
    fn tell(&mut self, place: &str, faults: &[ReplayFault]) {
        self.faults
            .extend(faults.iter().map(|f| format!("{place}: {f}")));
        self.rules.extend(faults.iter().map(|f| f.rule));
    }
}

impl Plan {
    /// Replays the files that `bytes` has; one that it has not is for the caller to miss.
    pub fn replay<'b>(
        &self,
        bytes: impl Fn(&str) -> Option<&'b [u8]>,
        progress: &mut dyn FnMut(&str),
    ) -> Replayed<'_> {
        let shapes = match &self.cuts.bars {
            Cutting::Flat(flat) => flat.layout.pieces.len(),
            Cutting::EdgeUp(_) => self.lattice().classes.len(),
        };
        let mut found = Replayed {
            shapes: vec![FitShape::default(); shapes],
            ..Replayed::default()
        };
        let mut seen = vec![false; shapes];
        let mut slots: BTreeMap<usize, Vec<SweptMove>> = BTreeMap::new();
        for file in self.cut_files() {
            let Some(bytes) = bytes(&file.path) else {
                continue;
            };
            progress("files and their replay");
            let path = file.path.clone();
            let faults = match file.prove(bytes) {
                Ok(Proven::Program(_)) if file.beside => Vec::new(),
                Ok(Proven::Program(proof)) => {
                    for (piece, shape) in proof.shapes {
                        if let Some(first @ false) = seen.get_mut(piece) {
                            *first = true;
                            found.shapes[piece] = shape;
                        }
                    }
                    Vec::new()
                }
                Ok(Proven::Drawing(proof)) => {
                    found.drawings.push((file, proof));
                    Vec::new()
                }
                Ok(Proven::Slots { run, cuts }) => {
                    slots.insert(run, cuts);
                    Vec::new()
                }
                Ok(Proven::Bench | Proven::AirRun) => Vec::new(),
                Err(faults) => faults,
            };
            found.checks.push(replay_check(path.clone(), faults.len()));
            found.tell(&path, &faults);
        }
        if let Cutting::EdgeUp(plan) = &self.cuts.bars {
            together(self.lattice(), plan, &slots, &mut found);
        }
        found.faults.extend(miscounted(self));
        found
    }
}

/// Every piece of all panels, and every spare, is cut flat once when each program is run as often as it says: what
/// lies on the sheets that the programs are proven to cut, against what the panels and their kits take.
fn miscounted(plan: &Plan) -> Vec<String> {
    let Product::Panel(panel) = &plan.product else {
        return Vec::new();
    };
    let kits = panel.kits(&plan.files.panel);
    let mut counts: BTreeMap<&str, [u64; 2]> = BTreeMap::new();
    for flat in plan.flats() {
        for sheet in &flat.layout.sheets {
            let pieces = sheet.placements.iter();
            for piece in pieces.filter_map(|p| flat.layout.pieces.get(p.piece)) {
                counts.entry(&piece.class).or_default()[0] += sheet.loads() as u64;
            }
        }
    }
    for row in &kits.rows {
        let flat = row.kind == PieceKind::Infill || plan.flat().is_some();
        if flat && is_cut(&plan.files.panel, row.kind) {
            let all = row.in_all(kits.kits) + row.spares_in_all(kits.kits);
            counts.entry(&row.id).or_default()[1] += all;
        }
    }
    let wrong = counts
        .into_iter()
        .filter(|(_, [cut, wanted])| cut != wanted);
    wrong
        .map(|(class, [cut, wanted])| {
            format!("pieces {class}: all runs of all programs cut {cut}, and {wanted} are wanted")
        })
        .collect()
}

/// What all clampings of each class of sticks remove together. A class whose files are not all there is
/// left out: the file that is not has been told.
fn together(
    lattice: &Lattice,
    plan: &EdgePlan,
    slots: &BTreeMap<usize, Vec<SweptMove>>,
    found: &mut Replayed<'_>,
) {
    for (b, bench) in plan.benches.iter().enumerate() {
        let cuts: Option<Vec<GangCuts<'_>>> = bench
            .gangs
            .iter()
            .zip(&bench.slots)
            .map(|(gang, run)| {
                let cuts = slots.get(run)?;
                Some(GangCuts { gang, cuts })
            })
            .collect();
        let radius = plan
            .runs
            .first()
            .map_or(0.0, |run| run.program.head.radius());
        let Some(cuts) = cuts else { continue };
        let place = format!("sticks {}", bench.stick.id);
        match prove_gangs(&bench.stick, &cuts, radius) {
            Ok(voids) => {
                found.checks.push(replay_check(place, 0));
                shapes(lattice, plan, b, &voids, &mut found.shapes);
            }
            Err(faults) => {
                found.checks.push(replay_check(place.clone(), faults.len()));
                found.tell(&place, &faults);
            }
        }
    }
}

/// The shapes of the pieces that a class of sticks is cross-cut into, from what is missing of a stick.
fn shapes(
    lattice: &Lattice,
    plan: &EdgePlan,
    class: usize,
    voids: &[Void],
    shapes: &mut [FitShape],
) {
    let mine = plan.sticks.sticks.iter().filter(|s| s.class == class);
    for piece in mine.flat_map(|s| &s.pieces) {
        let Some(shape) = shapes
            .get_mut(piece.class.index())
            .filter(|s| s.voids.is_empty())
        else {
            continue;
        };
        let [from, to] = piece.cut;
        let length = to - from;
        let on_piece = voids.iter().map(|v| {
            let moved = Void {
                lo: v.lo - from,
                hi: v.hi - from,
                ..*v
            };
            // Turning twice is not turning: from the stick back to the class's piece.
            turned_void(&moved, piece.turn, length, lattice.depth)
        });
        // A notch of the stick that meets only wood beyond a slanting end is none of the piece's.
        let body = body(lattice, piece.class);
        let voids: Vec<Void> = on_piece.filter(|v| meets(v, &body)).collect();
        *shape = FitShape {
            sharp: voids.clone(),
            flare: 0.0,
            voids,
        };
    }
}

/// The wood of a class's piece in plan, in the piece's own frame: x from its first end, y to the left of
/// the centre line.
fn body(lattice: &Lattice, class: ClassId) -> Convex {
    let member = &lattice.members[lattice.classes[class].first];
    let axis = lattice.families[member.family].axis();
    let left = Vec2::new(-axis.y, axis.x);
    let (ends, over) = (member.turn.swaps_ends(), member.turn.swaps_edges());
    // Over turns left and right round, end for end both directions.
    let (sx, sy) = (
        if ends { -1.0 } else { 1.0 },
        if ends == over { 1.0 } else { -1.0 },
    );
    let (from, to) = lattice.cut_span(member);
    let first = if ends { to - from } else { 0.0 };
    let to_piece = |p: &Point| {
        let from_start = *p - member.start;
        Point::new(
            first + sx * (axis.dot(from_start) - from),
            sy * left.dot(from_start),
        )
    };
    let mut corners: Vec<Point> = lattice
        .body(member)
        .corners()
        .iter()
        .map(to_piece)
        .collect();
    if sx * sy < 0.0 {
        // Mirrored in plan: keeps the corners counter-clockwise.
        corners.reverse();
    }
    Convex::from_corners(corners)
}

/// Whether a void takes wood from a piece beyond what the replay lets pass.
fn meets(void: &Void, body: &Convex) -> bool {
    let (s, c) = (sin_deg(void.angle_deg), cos_deg(void.angle_deg));
    let (lo, hi) = (void.lo * s + REPLAY, void.hi * s - REPLAY);
    body.within(Vec2::new(s, -c), lo, hi).is_solid()
}
