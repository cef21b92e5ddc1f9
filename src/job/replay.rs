//! Replay of a whole job: every cut file from its bytes, then what all clampings of a stick remove
//! together, and the shapes that all of them cut.

use std::collections::BTreeMap;

use super::cut_file::{CutFile, Proven};
use super::edge_up::EdgePlan;
use super::plan::{Cutting, Plan};
use crate::lattice::{FitShape, Lattice, Void, turned_void};
use crate::replay::dxf::DxfProof;
use crate::replay::{GangCuts, SweptMove, prove_gangs};
use crate::safety::{Check, replay_check};

/// What the replay of a job found.
#[derive(Debug, Default)]
pub struct Replayed<'a> {
    /// The shape that the files cut, for each class.
    pub shapes: Vec<FitShape>,
    /// The DXF files and what they hold.
    pub drawings: Vec<(CutFile<'a>, DxfProof)>,
    /// One check a file, and one for each class of sticks.
    pub checks: Vec<Check>,
    /// What is wrong, each with the path of its file.
    pub faults: Vec<String>,
}

impl Plan {
    /// Replays the files that `bytes` has; one that it has not is for the caller to miss.
    pub fn replay<'b>(
        &self,
        bytes: impl Fn(&str) -> Option<&'b [u8]>,
        progress: &mut dyn FnMut(&str),
    ) -> Replayed<'_> {
        let mut found = Replayed {
            shapes: vec![FitShape::default(); self.lattice.classes.len()],
            ..Replayed::default()
        };
        let mut seen = vec![false; self.lattice.classes.len()];
        let mut slots: BTreeMap<usize, Vec<SweptMove>> = BTreeMap::new();
        for file in self.cut_files() {
            let Some(bytes) = bytes(&file.path) else {
                continue;
            };
            progress("files and their replay");
            let path = file.path.clone();
            let faults = match file.prove(bytes) {
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
                Ok(Proven::Fence) => Vec::new(),
                Err(faults) => faults,
            };
            found.checks.push(replay_check(path.clone(), faults.len()));
            found
                .faults
                .extend(faults.iter().map(|f| format!("{path}: {f}")));
        }
        if let Cutting::EdgeUp(plan) = &self.cutting {
            together(&self.lattice, plan, &slots, &mut found);
        }
        found
    }
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
                found
                    .faults
                    .extend(faults.iter().map(|f| format!("{place}: {f}")));
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
        let Some(shape) = shapes.get_mut(piece.class).filter(|s| s.voids.is_empty()) else {
            continue;
        };
        let [from, to] = piece.cut;
        let length = to - from;
        let within = voids.iter().filter(|v| v.hi > from && v.lo < to);
        let on_piece = within.map(|v| {
            let moved = Void {
                lo: v.lo - from,
                hi: v.hi - from,
                ..*v
            };
            // Turning twice is not turning: from the stick back to the class's piece.
            turned_void(&moved, piece.turn, length, lattice.depth)
        });
        let voids: Vec<Void> = on_piece.collect();
        *shape = FitShape {
            sharp: voids.clone(),
            flare: 0.0,
            voids,
        };
    }
}
