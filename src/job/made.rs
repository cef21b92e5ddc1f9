//! The bytes of every file of a job, each proven before any is put in place.

use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use super::cut_file::{CutFile, Holds, Proven};
use super::error::JobError;
use super::plan::Plan;
use crate::geom::REPLAY;
use crate::lattice::{DryFit, FitShape, dry_fit};
use crate::replay::dxf::DxfProof;
use crate::safety::{Check, Corners, failed, fit_checks, replay_check};
use crate::write::csv::{members_csv, sticks_csv};
use crate::write::dxf_notes::{Drawing, dxf_notes};
use crate::write::infill_csv::infill_csv;
use crate::write::summary::{Summary, Told};

/// A job as bytes.
#[derive(Debug)]
pub struct Made {
    /// All files by path in the folder, `job.json` among them.
    pub files: BTreeMap<String, Vec<u8>>,
    /// The dry fit of the shapes as cut; as intended for a panel cut edge up.
    pub fit: DryFit,
    /// All checks, the passed ones too.
    pub checks: Vec<Check>,
}

/// The summary's place in the folder.
const SUMMARY: &str = "job.json";

impl Made {
    /// The bytes of `job.json`.
    #[must_use]
    pub fn summary(&self) -> &[u8] {
        self.files.get(SUMMARY).map_or(&[], Vec::as_slice)
    }

    /// Writes every file to memory, reads each cut file back and proves it, and puts all members
    /// together from the shapes that the files cut.
    ///
    /// # Errors
    /// Checks or proofs that fail.
    pub fn of(plan: &Plan, progress: &mut dyn FnMut(&str)) -> Result<Self, JobError> {
        let mut files = BTreeMap::new();
        for source in &plan.files.sources {
            files.insert(format!("source/{}", source.name), source.bytes.clone());
        }
        files.insert("members.csv".to_owned(), members_csv(&plan.lattice));
        if let Some(infill) = &plan.infill {
            files.insert("infill.csv".to_owned(), infill_csv(infill, &plan.files));
        }
        if let Some(edge) = plan.edge_up() {
            let list = sticks_csv(&plan.lattice, &edge.sticks);
            files.insert("sticks.csv".to_owned(), list);
        }
        let mut checks = plan.checks.clone();
        let mut fit = plan.meant.clone();
        if let Some(flat) = plan.flat() {
            let mut shapes: BTreeMap<usize, FitShape> = BTreeMap::new();
            let mut drawings = Vec::new();
            let mut faults = Vec::new();
            for file in plan.cut_files() {
                progress("files and their replay");
                let bytes = file.write()?;
                let found = match file.prove(&bytes) {
                    Ok(Proven::Program(proof)) => {
                        for (piece, shape) in proof.shapes {
                            shapes.entry(piece).or_insert(shape);
                        }
                        0
                    }
                    Ok(Proven::Drawing(proof)) => {
                        drawings.push((file.clone(), proof));
                        0
                    }
                    Err(list) => {
                        faults.extend(list.iter().map(|f| format!("{}: {f}", file.path)));
                        list.len()
                    }
                };
                checks.push(replay_check(file.path.clone(), found));
                files.insert(file.path, bytes);
            }
            if !faults.is_empty() {
                return Err(JobError::Proof(faults));
            }
            progress("dry fit");
            let shapes: Vec<FitShape> = (0..flat.layout.pieces.len())
                .map(|p| shapes.remove(&p).unwrap_or_default())
                .collect();
            fit = dry_fit(&plan.lattice, &shapes, REPLAY);
            let corners = corners(plan);
            checks.extend(fit_checks(&plan.lattice, &fit, &plan.meant, corners));
            if failed(&checks) {
                return Err(JobError::Checks(checks));
            }
            files.insert("dxf/notes.txt".to_owned(), notes(plan, &drawings));
            super::pictures::add(plan, &mut files);
        }
        let digests: Vec<(String, String)> = files
            .iter()
            .map(|(path, bytes)| (path.clone(), digest(bytes)))
            .collect();
        let told = Told {
            files: &plan.files,
            lattice: &plan.lattice,
            infill: plan.infill.as_ref(),
            fit: &fit,
            flat: plan
                .flat()
                .map(|f| (&f.layout, &f.nest, f.programs.as_slice())),
            edge_up: plan.edge_up().map(|e| (&e.sticks, &e.nest)),
            checks: &checks,
            warnings: &plan.warnings,
        };
        let summary = Summary::of(told, &digests)
            .to_json()
            .map_err(|e| JobError::Internal(format!("job.json: {e}")))?;
        files.insert(SUMMARY.to_owned(), summary);
        Ok(Self { files, fit, checks })
    }
}

fn corners(plan: &Plan) -> Option<Corners> {
    let relief = plan.files.panel.cut.relief;
    let radius = plan.flat()?.programs.first()?.head.radius();
    Some(Corners {
        radius,
        relief,
        crush: plan.files.material.crush,
    })
}

/// The notes beside the DXF files, their figures as the files were read back.
fn notes(plan: &Plan, drawings: &[(CutFile<'_>, DxfProof)]) -> Vec<u8> {
    let told = drawings
        .iter()
        .filter_map(|(file, proof)| match &file.holds {
            Holds::Drawing(drawing, _) => Some(Drawing {
                path: &file.path,
                file: drawing,
                contours: proof.contours,
                cut_length: proof.cut_length,
            }),
            Holds::Program { .. } => None,
        });
    dxf_notes(&plan.files, &told.collect::<Vec<_>>())
}

/// SHA-256 of bytes, in hexadecimal.
pub(super) fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}
