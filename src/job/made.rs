//! The bytes of every file of a job, each proven before any is put in place.

use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use super::cut_file::{CutFile, Holds};
use super::edge_up::Work;
use super::error::JobError;
use super::plan::{Cutting, Plan, flared};
use super::sheet;
use super::steps::clamp_height;
use crate::geom::REPLAY;
use crate::lattice::{DryFit, dry_fit};
use crate::replay::dxf::DxfProof;
use crate::safety::{Check, Corners, failed, fit_checks};
use crate::write::csv::{members_csv, sticks_csv};
use crate::write::dxf_notes::{Drawing, dxf_notes};
use crate::write::infill_csv::infill_csv;
use crate::write::summary::{GangRun, Summary, Told, ToldCut};

/// A job as bytes.
#[derive(Debug)]
pub struct Made {
    /// All files by path in the folder, `job.json` among them.
    pub files: BTreeMap<String, Vec<u8>>,
    /// The dry fit of the shapes as cut.
    pub fit: DryFit,
    /// All checks, the passed ones too.
    pub checks: Vec<Check>,
    /// What the maker should know: the plan's own warnings, and those of its files.
    pub warnings: Vec<String>,
}

/// The summary's place in the folder.
pub(super) const SUMMARY: &str = "job.json";

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
        Self::with_sheet(plan, progress, &sheet::document)
    }

    /// [`Made::of`] with another way to tell of the job on the workshop sheet.
    pub(super) fn with_sheet(
        plan: &Plan,
        progress: &mut dyn FnMut(&str),
        tell: &sheet::TellJob,
    ) -> Result<Self, JobError> {
        let mut files = BTreeMap::new();
        for source in &plan.files.sources {
            files.insert(format!("source/{}", source.name), source.bytes.clone());
        }
        match &plan.coupon {
            Some(comb) => files.insert("coupon.csv".to_owned(), comb.csv()),
            None => files.insert("members.csv".to_owned(), members_csv(&plan.lattice)),
        };
        if let Some(infill) = &plan.infill {
            files.insert("infill.csv".to_owned(), infill_csv(infill, &plan.files));
        }
        if let Some(edge) = plan.edge_up() {
            let list = sticks_csv(&plan.lattice, &edge.sticks);
            files.insert("sticks.csv".to_owned(), list);
        }
        let mut checks = plan.checks.clone();
        let mut cut = BTreeMap::new();
        for file in plan.cut_files() {
            progress("files");
            let bytes = file.write()?;
            cut.insert(file.path, bytes);
        }
        let found = plan.replay(|path| cut.get(path).map(Vec::as_slice), progress);
        if !found.faults.is_empty() {
            return Err(JobError::Proof(found.faults));
        }
        checks.extend(found.checks);
        let mut fit = plan.meant.clone();
        // A coupon's pieces make no lattice.
        if plan.coupon.is_none() {
            progress("dry fit");
            fit = dry_fit(&plan.lattice, &flared(&plan.files, found.shapes), REPLAY);
            let corners = corners(plan);
            checks.extend(fit_checks(&plan.lattice, &fit, &plan.meant, corners));
        }
        if failed(&checks) {
            return Err(JobError::Checks(checks));
        }
        if !found.drawings.is_empty() {
            let notes = notes(plan, &found.drawings);
            files.insert("dxf/notes.txt".to_owned(), notes);
        }
        files.extend(cut);
        super::pictures::add(plan, &mut files);
        progress("sheet");
        let mut warnings = plan.warnings.clone();
        warnings.extend(sheet::add(
            |files| tell(plan, &fit, &checks, files),
            &mut files,
        ));
        let digests: Vec<(String, String)> = files
            .iter()
            .map(|(path, bytes)| (path.clone(), digest(bytes)))
            .collect();
        let told = Told {
            files: &plan.files,
            lattice: &plan.lattice,
            coupon: plan.coupon.as_ref(),
            infill: plan.infill.as_ref(),
            fit: &fit,
            cut: told_cut(plan),
            checks: &checks,
            warnings: &warnings,
        };
        let summary = Summary::of(told, &digests)
            .to_json()
            .map_err(|e| JobError::Internal(format!("job.json: {e}")))?;
        files.insert(SUMMARY.to_owned(), summary);
        Ok(Self {
            files,
            fit,
            checks,
            warnings,
        })
    }
}

/// How it is cut, for the summary.
fn told_cut(plan: &Plan) -> ToldCut<'_> {
    match &plan.cutting {
        Cutting::Flat(flat) => ToldCut::Flat {
            layout: &flat.layout,
            nest: &flat.nest,
            programs: &flat.programs,
        },
        Cutting::EdgeUp(edge) => {
            let fences = edge.runs.iter().filter(|r| r.work == Work::Fence);
            let clamp_height = clamp_height(&plan.files);
            let gangs = edge.benches.iter().flat_map(|bench| {
                bench
                    .gangs
                    .iter()
                    .zip(&bench.slots)
                    .filter_map(move |(gang, &run)| {
                        Some(GangRun {
                            gang,
                            program: &edge.runs.get(run)?.program,
                            clamp_height,
                            ids: &bench.ids,
                        })
                    })
            });
            ToldCut::EdgeUp {
                sticks: &edge.sticks,
                nest: &edge.nest,
                fences: fences
                    .filter_map(|r| Some((edge.gang_of(r)?, &r.program)))
                    .collect(),
                gangs: gangs.collect(),
            }
        }
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
            Holds::Program { .. } | Holds::Bench { .. } => None,
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
