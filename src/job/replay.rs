//! Replay of a whole job: every cut file from its bytes, then what all clampings of a stick remove
//! together, and the shapes that all of them cut.

use std::collections::{BTreeMap, BTreeSet};

use super::cut_file::{CutFile, Holds, Proven};
use crate::geom::{Convex, Point, REPLAY, Vec2, cos_deg, frame, sin_deg};
use crate::kits::PieceKind;
use crate::lattice::{Class, ClassId, FitShape, Lattice, Void, turned_void};
use crate::plan::{Cutting, EdgePlan, Plan, Product, SlotRunId};
use crate::replay::dxf::DxfProof;
use crate::replay::{GangCuts, ReplayFault, SweptMove, prove_gangs};
use crate::safety::{Check, replay_check};
use crate::stock::StickClassId;
use crate::table::Column;
use crate::write::labels::is_cut;

/// What the replay of a job found.
#[derive(Debug, Default)]
pub struct Replayed<'a> {
    /// The shape that the files cut, for each class of the ground, and for each further piece of the sheets; `None` of
    /// what no file cuts.
    pub shapes: Vec<Option<FitShape>>,
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
        let mut found = Replayed::default();
        let mut whole = true;
        let mut listed = BTreeSet::new();
        let mut pieces = (self.flat()).map(|flat| flat.layout.pieces.column(|_, _| None));
        let mut slots: BTreeMap<SlotRunId, Vec<SweptMove>> = BTreeMap::new();
        for file in self.cut_files() {
            if let Holds::Program { program, .. } = file.holds {
                listed.insert(program.stem.as_str());
            }
            let Some(bytes) = bytes(&file.path) else {
                whole = false;
                continue;
            };
            progress("files and their replay");
            let path = file.path.clone();
            let faults = match file.prove(bytes) {
                Ok(Proven::Program(proof)) => {
                    // What is cut beside the bars has no part in the dry fit.
                    if let (Some(pieces), false) = (&mut pieces, file.beside) {
                        for (piece, shape) in proof.shapes {
                            pieces[piece].get_or_insert(shape);
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
        match &self.cuts.bars {
            Cutting::Flat(_) => found.shapes = pieces.into_iter().flatten().collect(),
            Cutting::EdgeUp(plan) => {
                let lattice = self.lattice();
                let mut classes = lattice.classes.column(|_, _| None);
                together(lattice, plan, &slots, whole, &mut classes, &mut found);
                found.shapes = classes.into_iter().collect();
            }
        }
        found.faults.extend(miscounted(self, &listed));
        if whole && found.faults.is_empty() {
            self.uncut(&mut found);
        }
        found
    }

    /// Tells what no file cuts, where all files are there and sound.
    fn uncut(&self, found: &mut Replayed<'_>) {
        let Product::Panel(panel) = &self.product else {
            // Of a coupon nothing but what is cut is wanted: its pieces are those of its sheets.
            return;
        };
        let names: Vec<&str> = match &self.cuts.bars {
            Cutting::Flat(flat) => flat
                .layout
                .pieces
                .iter()
                .map(|p| p.class.as_str())
                .collect(),
            Cutting::EdgeUp(_) => {
                let classes = panel.drawn.lattice.classes.iter();
                classes.map(|class| class.id.as_str()).collect()
            }
        };
        let shapes = found.shapes.iter();
        let uncut: Vec<ReplayFault> = names
            .into_iter()
            .zip(shapes)
            .filter(|(_, shape)| shape.is_none())
            .map(|(class, _)| not_compared(format!("no program cuts pieces {class}")))
            .collect();
        found.tell("gcode", &uncut);
    }
}

/// What is wanted and has not been held against any file.
fn not_compared(what: String) -> ReplayFault {
    ReplayFault {
        rule: "compared",
        line: None,
        what,
    }
}

/// Every piece of all panels, and every spare, is cut flat once when each program is run as often as it says: what
/// lies on the sheets of the programs that are `listed` among the files, by their stems, against what the panels and
/// their kits take.
fn miscounted(plan: &Plan, listed: &BTreeSet<&str>) -> Vec<String> {
    let Product::Panel(panel) = &plan.product else {
        return Vec::new();
    };
    let kits = panel.kits(&plan.files.panel);
    let mut counts: BTreeMap<&str, [u64; 2]> = BTreeMap::new();
    for flat in plan.flats() {
        let there = flat.cuts();
        for (sheet, _) in there.filter(|(_, program)| listed.contains(program.stem.as_str())) {
            for place in &sheet.placements {
                // Programs of sheets with other pieces than the layout's do not prove.
                if let Some(piece) = flat.layout.pieces.get(place.piece) {
                    counts.entry(&piece.class).or_default()[0] += sheet.loads() as u64;
                }
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

/// What all clampings of each class of sticks remove together. A class whose files are not all there, or not all
/// sound, is left out: that has been told, and `whole` says whether all are there.
fn together(
    lattice: &Lattice,
    plan: &EdgePlan,
    slots: &BTreeMap<SlotRunId, Vec<SweptMove>>,
    whole: bool,
    classes: &mut Column<Class, Option<FitShape>>,
    found: &mut Replayed<'_>,
) {
    let told = !whole || !found.faults.is_empty();
    for (class, bench) in plan.benches.entries() {
        let clampings = bench.clampings.iter();
        let cuts: Option<Vec<GangCuts<'_>>> = clampings
            .map(|&id| {
                let run = plan.slots_id(id);
                Some(GangCuts {
                    gang: &plan.clampings[id].gang,
                    cuts: slots.get(&run)?,
                    radius: plan.slots[run].program.head.radius(),
                })
            })
            .collect();
        let place = format!("sticks {}", bench.stick.id);
        let Some(cuts) = cuts else {
            if !told {
                let what = "not all of their clampings have a program".to_owned();
                found.tell(&place, &[not_compared(what)]);
            }
            continue;
        };
        match prove_gangs(&bench.stick, &cuts) {
            Ok(voids) => {
                found.checks.push(replay_check(place, 0));
                shapes(lattice, plan, class, &voids, classes);
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
    class: StickClassId,
    voids: &[Void],
    shapes: &mut Column<Class, Option<FitShape>>,
) {
    let mine = plan.sticks.of_class(class);
    for piece in mine.flat_map(|(_, stick)| &stick.pieces) {
        // A shape for each class; the first piece with anything missing tells it.
        let shape = &mut shapes[piece.class];
        if shape.as_ref().is_some_and(|s| !s.voids.is_empty()) {
            continue;
        }
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
        *shape = Some(FitShape {
            sharp: voids.clone(),
            flare: 0.0,
            voids,
        });
    }
}

/// The wood of a class's piece in plan, in the piece's own frame: x from its first end, y to the left of
/// the centre line.
fn body(lattice: &Lattice, class: ClassId) -> Convex {
    let member = &lattice.members[lattice.classes[class].first];
    let to_piece = lattice.to_panel(member).inverse();
    let corners = lattice.body(member);
    let corners = corners.corners().iter();
    let mut corners: Vec<Point> = corners.map(|&p| frame::carried(&to_piece, p)).collect();
    if member.turn.swaps_edges() {
        // Seen from the other side: keeps the corners counter-clockwise.
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
