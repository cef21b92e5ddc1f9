//! Replay of a whole job: every cut file from its bytes, then what all clampings of a stick remove
//! together, and the shapes that all of them cut.

use std::collections::{BTreeMap, BTreeSet};

use super::cut_file::{CutFile, Holds, Proven};
use crate::geom::{Convex, Point, REPLAY, Vec2, cos_deg, frame, sin_deg};
use crate::in_order::in_order;
use crate::kits::{KitRow, PieceKind};
use crate::lattice::{Class, ClassId, FitShape, Lattice, Void, turned_void};
use crate::panel::{CutBy, DxfSize};
use crate::plan::{Cutting, EdgePlan, Plan, Product, SheetWork, SlotRunId};
use crate::replay::dxf::DxfProof;
use crate::replay::{GangCuts, ReplayFault, SweptMove, drawn_shapes, prove_gangs, prove_paths};
use crate::safety::{Check, replay_check};
use crate::setup::{FlatLayout, FlatPiece, FlatSheet, MARK_DEPTH};
use crate::stock::StickClassId;
use crate::table::Column;
use crate::write::dxf::DxfSubject;
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
        bytes: impl Fn(&str) -> Option<&'b [u8]> + Sync,
        progress: &mut dyn FnMut(&str),
    ) -> Replayed<'_> {
        let mut found = Replayed::default();
        let mut whole = true;
        let mut listed = BTreeSet::new();
        let mut pieces = (self.flat()).map(|flat| flat.layout.pieces.column(|_, _| None));
        let mut slots: BTreeMap<SlotRunId, Vec<SweptMove>> = BTreeMap::new();
        let files = self.cut_files();
        let proven = in_order(
            &files,
            |file| Some(file.prove(bytes(&file.path)?)),
            || progress("files and their replay"),
        );
        for (file, proven) in files.into_iter().zip(proven) {
            if let Holds::Program { program, .. } = file.holds {
                listed.insert(program.stem.as_str());
            }
            let Some(proven) = proven else {
                whole = false;
                continue;
            };
            let path = file.path.clone();
            let faults = match proven {
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
        let sent = Sent::of(&found.drawings);
        self.cut_elsewhere(&sent, &mut pieces, &mut found);
        match &self.cuts.bars {
            Cutting::Flat(_) => found.shapes = pieces.into_iter().flatten().collect(),
            Cutting::EdgeUp(plan) => {
                let lattice = self.lattice();
                let mut classes = lattice.classes.column(|_, _| None);
                together(lattice, plan, &slots, whole, &mut classes, &mut found);
                found.shapes = classes.into_iter().collect();
            }
        }
        let miscounted = match self.files.cut_by {
            CutBy::Own(_) => miscounted(self, &by_programs(self, &listed), "programs"),
            CutBy::Elsewhere(_) => miscounted(self, &sent.counts, "drawings"),
        };
        if !miscounted.is_empty() {
            found.rules.insert("compared");
        }
        found.faults.extend(miscounted);
        if whole && found.faults.is_empty() {
            self.uncut(&mut found);
        }
        found
    }

    /// What the drawings cut that are sent elsewhere: the pieces that their paths leave or, of finished outlines, those
    /// that are drawn. A piece that no proven drawing shows has no shape.
    fn cut_elsewhere(
        &self,
        sent: &Sent<'_>,
        pieces: &mut Option<Column<FlatPiece, Option<FitShape>>>,
        found: &mut Replayed<'_>,
    ) {
        let whole = self.flat().into_iter().map(|flat| (flat, false));
        let beside = self.cuts.beside.iter().map(|flat| (flat, true));
        for (flat, beside) in whole.chain(beside) {
            let SheetWork::Drawings(drawings) = &flat.work else {
                continue;
            };
            let compensated = self.files.panel.cut.dxf.contains(&DxfSize::Compensated);
            for (id, drawing) in drawings.entries() {
                let sheet = &flat.layout.sheets[id];
                let place = format!("drawings of {}", flat.layout.title(sheet));
                let shapes = match drawing.paths.as_ref().filter(|_| compensated) {
                    Some(paths) => prove_paths(&flat.layout, sheet, paths).map(|p| p.shapes),
                    None => drawn_shapes(&flat.layout, sheet),
                };
                let faults = shapes.as_ref().err().map_or(0, Vec::len);
                found.checks.push(replay_check(place.clone(), faults));
                match shapes {
                    Err(faults) => found.tell(&place, &faults),
                    Ok(shapes) => {
                        let Some(pieces) = pieces.as_mut().filter(|_| !beside) else {
                            continue;
                        };
                        for (piece, shape) in shapes {
                            let class = flat.layout.pieces[piece].class.as_str();
                            if sent.counts.contains_key(class) {
                                pieces[piece].get_or_insert(shape);
                            }
                        }
                    }
                }
            }
        }
    }

    /// Tells what no file cuts, where all files are there and sound.
    fn uncut(&self, found: &mut Replayed<'_>) {
        let names: Vec<&str> = match (&self.cuts.bars, &self.product) {
            (Cutting::Flat(flat), _) => flat
                .layout
                .pieces
                .iter()
                .map(|p| p.class.as_str())
                .collect(),
            (Cutting::EdgeUp(_), Product::Panel(panel)) => {
                let classes = panel.drawn.lattice.classes.iter();
                classes.map(|class| class.id.as_str()).collect()
            }
            // The sticks of a coupon are its pieces.
            (Cutting::EdgeUp(edge), Product::Coupon(_)) => {
                if edge.benches.iter().next().is_none() {
                    let what = "no program cuts sticks".to_owned();
                    found.tell("gcode", &[not_compared(what)]);
                }
                return;
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

/// How many pieces of each class the programs cut that are `listed` among the files, by their stems, when each is run as
/// often as it says.
fn by_programs<'a>(plan: &'a Plan, listed: &BTreeSet<&str>) -> BTreeMap<&'a str, u64> {
    let mut counts = BTreeMap::new();
    for flat in plan.flats() {
        let there = flat.cuts();
        for (sheet, _) in there.filter(|(_, program)| listed.contains(program.stem.as_str())) {
            count(&flat.layout, sheet, &mut counts);
        }
    }
    counts
}

/// Adds the pieces of all loads of a sheet, by class.
fn count<'a>(layout: &'a FlatLayout, sheet: &FlatSheet, counts: &mut BTreeMap<&'a str, u64>) {
    for place in &sheet.placements {
        // Files of sheets with other pieces than the layout's do not prove.
        if let Some(piece) = layout.pieces.get(place.piece) {
            *counts.entry(&piece.class).or_default() += sheet.loads() as u64;
        }
    }
}

/// What proven drawings hold of what is cut.
#[derive(Default)]
struct Sent<'a> {
    /// How many pieces of each class they cut, when each is cut as often as it says: by the drawings of sheets, or where
    /// there are none by those of pieces.
    counts: BTreeMap<&'a str, u64>,
}

impl<'a> Sent<'a> {
    fn of(drawings: &[(CutFile<'a>, DxfProof)]) -> Self {
        // Sizes and releases of a drawing show the same pieces.
        let mut sheets = BTreeMap::new();
        let mut pieces = BTreeMap::new();
        for (file, _) in drawings {
            let Holds::Drawing(drawn, _) = &file.holds else {
                continue;
            };
            if !drawn.parts.cuts {
                continue;
            }
            let layout = drawn.layout;
            match drawn.subject {
                DxfSubject::Sheet(sheet) => {
                    sheets.insert(layout.stem(sheet), (layout, sheet));
                }
                DxfSubject::Piece { sheet, placement } => {
                    let piece = &layout.pieces[sheet.placements[placement].piece];
                    pieces.insert(piece.class.as_str(), drawn.count() as u64);
                }
            }
        }
        let mut counts = BTreeMap::new();
        for (layout, sheet) in sheets.values() {
            count(layout, sheet, &mut counts);
        }
        if counts.is_empty() {
            counts = pieces;
        }
        Self { counts }
    }
}

/// Every piece of all panels, and every spare, is cut flat once: what `files` cut by class, against what the panels and
/// their kits take.
fn miscounted(plan: &Plan, cut: &BTreeMap<&str, u64>, files: &str) -> Vec<String> {
    let mut counts: BTreeMap<&str, [u64; 2]> = BTreeMap::new();
    for (class, cut) in cut {
        counts.entry(class).or_default()[0] += cut;
    }
    let wanted = wanted(plan);
    for (class, all) in &wanted {
        counts.entry(class).or_default()[1] += all;
    }
    let wrong = counts
        .into_iter()
        .filter(|(_, [cut, wanted])| cut != wanted);
    wrong
        .map(|(class, [cut, wanted])| {
            format!("pieces {class}: all runs of all {files} cut {cut}, and {wanted} are wanted")
        })
        .collect()
}

/// What is cut flat in all, by class: what panels and their kits take, or the pieces of a coupon.
fn wanted(plan: &Plan) -> Vec<(String, u64)> {
    let flat = plan.flat();
    match &plan.product {
        Product::Panel(panel) => {
            let kits = panel.kits(&plan.files.panel);
            let rows = kits.rows.iter().filter(|row| {
                let here = row.kind == PieceKind::Infill || flat.is_some();
                here && is_cut(&plan.files.panel, row.kind)
            });
            let all = |row: &KitRow| row.in_all(kits.kits) + row.spares_in_all(kits.kits);
            rows.map(|row| (row.id.clone(), all(row))).collect()
        }
        Product::Coupon(coupon) => {
            let pieces = flat.into_iter().flat_map(|flat| flat.layout.pieces.iter());
            let copies = coupon.comb.copies();
            pieces
                .zip(copies)
                .map(|(piece, ids)| (piece.class.clone(), ids.len() as u64))
                .collect()
        }
    }
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
                found.checks.push(replay_check(place.clone(), 0));
                let unlike = shapes(lattice, plan, class, &voids, classes);
                found.tell(&place, &unlike);
            }
            Err(faults) => {
                found.checks.push(replay_check(place.clone(), faults.len()));
                found.tell(&place, &faults);
            }
        }
    }
}

/// The shapes of the pieces that a class of sticks is cross-cut into, from what is missing of a stick; and pieces of
/// one class that come out of it unlike.
fn shapes(
    lattice: &Lattice,
    plan: &EdgePlan,
    class: StickClassId,
    voids: &[Void],
    shapes: &mut Column<Class, Option<FitShape>>,
) -> Vec<ReplayFault> {
    let mut unlike = Vec::new();
    let mine = plan.sticks.of_class(class);
    for piece in mine.flat_map(|(_, stick)| &stick.pieces) {
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
        // The first piece of a class tells its shape, and all others must have it.
        match &shapes[piece.class] {
            Some(first) if are_alike(&first.voids, &voids, lattice.same_piece) => {}
            Some(_) => {
                let id = &lattice.classes[piece.class].id;
                let what = format!("pieces {id} come out of the sticks with other notches");
                unlike.push(not_compared(what));
            }
            None => {
                shapes[piece.class] = Some(FitShape {
                    sharp: voids.clone(),
                    flare: 0.0,
                    voids,
                });
            }
        }
    }
    unlike
}

/// Whether two pieces lack the same wood, to within what makes members the same piece and what the replay lets pass.
/// What is no deeper than the orientation mark is left out: not every piece of a class bears that.
fn are_alike(one: &[Void], other: &[Void], same_piece: f64) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() <= same_piece + 2.0 * REPLAY;
    let alike = |a: &Void, b: &Void| {
        near(a.lo, b.lo)
            && near(a.hi, b.hi)
            && near(a.z0, b.z0)
            && near(a.z1, b.z1)
            && near(a.angle_deg, b.angle_deg)
    };
    let deep = |v: &&Void| v.z1 - v.z0 > MARK_DEPTH + REPLAY;
    let all_in = |these: &[Void], those: &[Void]| {
        let mut these = these.iter().filter(deep);
        these.all(|a| those.iter().any(|b| alike(a, b)))
    };
    all_in(one, other) && all_in(other, one)
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
