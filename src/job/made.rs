//! The bytes of every file of a job, each proven before any is put in place.

use std::collections::BTreeMap;

use sha2::{Digest, Sha256};

use super::cut_file::{CutFile, Holds};
use super::deliver::SUMMARY;
use super::error::JobError;
use super::unproven::Unproven;
use crate::geom::REPLAY;
use crate::in_order::in_order;
use crate::lattice::{DryFit, FitShape, Lattice, dry_fit};
use crate::letters::hex;
use crate::limits::JOB_BYTES;
use crate::plan::{PanelPlan, Plan, Product, flared, meant};
use crate::replay::dxf::DxfProof;
use crate::report::sections as sheet;
use crate::report::summary::Summary;
use crate::report::{kit_labels, pictures};
use crate::safety::{Check, CheckId, Corners, failed, fit_checks};
use crate::write::csv::{loads_csv, members_csv, sticks_csv};
use crate::write::dxf_notes::{Drawing, dxf_notes};
use crate::write::infill_csv::infill_csv;
use crate::write::pdf::prints;
use crate::write::surround_csv::surround_csv;

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
        ProvenCuts::of(plan, progress)?.made(plan, progress, tell)
    }
}

/// What the checks of a job tell, all but its files.
#[derive(Debug, PartialEq)]
pub struct Checked {
    /// As [`Made::fit`].
    pub fit: DryFit,
    /// As [`Made::checks`].
    pub checks: Vec<Check>,
    /// As [`Made::warnings`].
    pub warnings: Vec<String>,
}

impl Checked {
    /// Proves a job as [`Made::of`] does and tells the same of it. Pictures, lists and workshop sheet are made only
    /// where they may have something to add.
    ///
    /// # Errors
    /// As [`Made::of`].
    pub fn of(plan: &Plan, progress: &mut dyn FnMut(&str)) -> Result<Self, JobError> {
        let proven = ProvenCuts::of(plan, progress)?;
        if proven.papers_may_tell(plan) {
            let made = proven.made(plan, progress, &sheet::document)?;
            return Ok(Self {
                fit: made.fit,
                checks: made.checks,
                warnings: made.warnings,
            });
        }
        Ok(Self {
            fit: proven.fit,
            checks: proven.checks,
            warnings: plan.warnings.clone(),
        })
    }
}

/// Cut files that have been proven, and how their pieces go together: all of a job but its papers.
struct ProvenCuts<'p> {
    /// The cut files by path.
    cut: BTreeMap<String, Vec<u8>>,
    /// The DXF files among them as they were read back.
    drawings: Vec<(CutFile<'p>, DxfProof)>,
    fit: DryFit,
    checks: Vec<Check>,
}

impl<'p> ProvenCuts<'p> {
    fn of(plan: &'p Plan, progress: &mut dyn FnMut(&str)) -> Result<Self, JobError> {
        let mut checks = plan.checks.clone();
        let cut = written(plan, progress)?;
        let found = plan.replay(|path| cut.get(path).map(Vec::as_slice), progress);
        if !found.faults.is_empty() {
            let sources = &plan.files.sources;
            return Err(JobError::Unproven(Unproven::of(
                found.faults,
                found.rules,
                sources,
            )));
        }
        checks.extend(found.checks);
        let fit = match &plan.product {
            // A coupon's pieces make no lattice.
            Product::Coupon(_) => DryFit::default(),
            Product::Panel(panel) => {
                progress("dry fit");
                let shapes: Option<Vec<FitShape>> = found.shapes.into_iter().collect();
                let shapes = shapes.ok_or_else(without_shape)?;
                put_together(plan, panel, shapes, &mut checks)?
            }
        };
        if failed(&checks) {
            return Err(JobError::Checks(checks));
        }
        Ok(Self {
            cut,
            drawings: found.drawings,
            fit,
            checks,
        })
    }

    /// Whether the papers may have something to tell: a letter that their fonts lack, or more bytes than a job may have.
    fn papers_may_tell(&self, plan: &Plan) -> bool {
        /// Papers have fewer than so many bytes for each of the cut files': 7.5 by measurement, of a three-way panel of
        /// ten thousand joints cut elsewhere from outlines at drawn size alone, and far fewer beside programs.
        const PAPERS: u64 = 15;
        let cut: u64 = self.cut.values().map(|bytes| bytes.len() as u64).sum();
        let sources = &plan.files.sources;
        cut > JOB_BYTES / (1 + PAPERS) || !sources.iter().all(|s| has_letters(&s.bytes))
    }

    /// Adds all that is no cut file.
    fn made(
        self,
        plan: &Plan,
        progress: &mut dyn FnMut(&str),
        tell: &sheet::TellJob,
    ) -> Result<Made, JobError> {
        let Self {
            cut,
            drawings,
            fit,
            checks,
        } = self;
        let mut files = lists(plan);
        if !drawings.is_empty() {
            files.insert("dxf/notes.txt".to_owned(), notes(plan, &drawings));
        }
        files.extend(cut);
        files.extend(pictures::pictures(plan));
        progress("sheet");
        let mut warnings = plan.warnings.clone();
        warnings.extend(sheet::add(
            |files| tell(plan, &fit, &checks, files),
            &mut files,
        ));
        within_job(plan, files.values().map(|bytes| bytes.len() as u64).sum())?;
        let digests: Vec<(String, String)> = files
            .iter()
            .map(|(path, bytes)| (path.clone(), digest(bytes)))
            .collect();
        let summary = Summary::of(plan, &fit, &checks, &warnings, &digests)
            .to_json()
            .map_err(|e| JobError::Internal(format!("job.json: {e}")))?;
        files.insert(SUMMARY.to_owned(), summary);
        Ok(Made {
            files,
            fit,
            checks,
            warnings,
        })
    }
}

/// Whether the sheet's fonts have all letters of the texts in a file. A letter written as an escape counts as one that
/// they lack: nobody looks which it is.
fn has_letters(file: &[u8]) -> bool {
    let spelt = |after: &str| after.starts_with(['u', 'U', 'x', 'b', 'f', 'e']);
    let letters = |text: &str| !text.split('\\').skip(1).any(spelt) && prints(text);
    std::str::from_utf8(file).is_ok_and(letters)
}

/// The bytes of all cut files, by path.
fn written(
    plan: &Plan,
    progress: &mut dyn FnMut(&str),
) -> Result<BTreeMap<String, Vec<u8>>, JobError> {
    /// So many files are written before their size is looked at: enough to keep all cores at work.
    const AT_ONCE: usize = 16;
    let mut cut = BTreeMap::new();
    let mut size = 0;
    for files in plan.cut_files().chunks(AT_ONCE) {
        let all = in_order(files, CutFile::write, || progress("files"));
        for (file, bytes) in files.iter().zip(all) {
            let bytes = bytes?;
            size += bytes.len() as u64;
            within_job(plan, size)?;
            if cut.insert(file.path.clone(), bytes).is_some() {
                let what = format!("two files of the job are called {}", file.path);
                return Err(JobError::Internal(what));
            }
        }
    }
    Ok(cut)
}

/// Refuses more bytes than a job may have.
fn within_job(plan: &Plan, bytes: u64) -> Result<(), JobError> {
    if bytes <= JOB_BYTES {
        return Ok(());
    }
    let message = format!(
        "the files of this job would have more than {} MiB",
        JOB_BYTES >> 20
    );
    let hint = "fewer panels at a time, or larger stock".to_owned();
    let text = &plan.files.panel_text;
    Err(text.fault("quantity", message, Some(hint)).into())
}

/// The job's own sources, and all lists for the bench.
fn lists(plan: &Plan) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    for source in &plan.files.sources {
        files.insert(format!("source/{}", source.name), source.bytes.clone());
    }
    match &plan.product {
        Product::Coupon(coupon) => _ = files.insert("coupon.csv".to_owned(), coupon.comb.csv()),
        Product::Panel(panel) => panel_lists(plan, panel, &mut files),
    }
    let file = |stem: &str| match plan.files.own() {
        Some(_) => format!("gcode/{stem}.nc"),
        None => format!("dxf/{stem}.svg"),
    };
    if let Some(list) = loads_csv(plan.flats().map(|flat| &flat.layout), file) {
        files.insert("loads.csv".to_owned(), list);
    }
    files
}

/// Lists of all that a panel is made of, and the labels of its kits.
fn panel_lists(plan: &Plan, panel: &PanelPlan, files: &mut BTreeMap<String, Vec<u8>>) {
    let asked = &plan.files.panel;
    let drawn = &panel.drawn;
    let members = members_csv(&drawn.lattice, asked, plan.member_marks());
    files.insert("members.csv".to_owned(), members);
    if let Some(infill) = &drawn.infill {
        files.insert("infill.csv".to_owned(), infill_csv(infill, &plan.files));
    }
    if let Some(surround) = &drawn.surround {
        let list = surround_csv(surround, asked.quantity);
        files.insert("surround.csv".to_owned(), list);
    }
    if let Some(edge) = plan.edge_up() {
        let list = sticks_csv(&drawn.lattice, &edge.sticks, &edge.marks);
        files.insert("sticks.csv".to_owned(), list);
    }
    kit_labels::add(asked, panel, files);
}

/// Puts all members together, and all lapped sides of the surround, from the shapes that the files cut. How
/// they fit is added to `checks`.
fn put_together(
    plan: &Plan,
    panel: &PanelPlan,
    shapes: Vec<FitShape>,
    checks: &mut Vec<Check>,
) -> Result<DryFit, JobError> {
    let lattice = &panel.drawn.lattice;
    let corners = corners(plan);
    let mut shapes = shapes.into_iter();
    // After the ground's pieces come the surround's; infill that lies among them comes last.
    let mut of = |lattice: &Lattice| {
        let own = shapes.by_ref().take(lattice.classes.len());
        let own = lattice.classes.column_of(own).ok_or_else(without_shape);
        own.map(|own| flared(own, plan.cuts.flare()))
    };
    let fit = dry_fit(lattice, &of(lattice)?, REPLAY);
    checks.extend(fit_checks(
        lattice,
        "all nodes",
        &fit,
        &panel.meant,
        corners,
    ));
    let Some(ring) = panel.drawn.ring() else {
        return Ok(fit);
    };
    let lapped = dry_fit(ring, &of(ring)?, REPLAY);
    let meant = meant(ring, plan.cuts.flare());
    let mut sides = fit_checks(
        ring,
        "all corners of the surround",
        &lapped,
        &meant,
        corners,
    );
    // What hangs on clearance and head alone is said once.
    sides.retain(|check| check.id != CheckId::CornerFillet);
    checks.extend(sides);
    Ok(fit.with(&lapped))
}

/// The replay has a shape for every class, or faults.
fn without_shape() -> JobError {
    JobError::Internal("the replay has not told the shape of every class of bars".to_owned())
}

fn corners(plan: &Plan) -> Option<Corners> {
    let flat = plan.flat()?;
    Some(Corners {
        radius: flat.head.radius(),
        relief: plan.files.panel.cut.relief,
        crush: plan.files.material.crush,
    })
}

/// The notes beside the DXF files, their figures as the files were read back.
fn notes(plan: &Plan, drawings: &[(CutFile<'_>, DxfProof)]) -> Vec<u8> {
    let told = drawings
        .iter()
        .filter_map(|(file, proof)| match &file.holds {
            Holds::Drawing(drawing, of_sheet) => Some(Drawing {
                path: &file.path,
                material: file.material(),
                file: drawing,
                layers: &proof.layers,
                contours: proof.contours,
                cut_length: proof.cut_length,
                notes: file.notes(drawing, of_sheet),
            }),
            Holds::Program { .. }
            | Holds::Slots { .. }
            | Holds::Datum { .. }
            | Holds::Bed { .. }
            | Holds::AirRun(..) => None,
        });
    let edge_up = plan
        .edge_up()
        .map(|_| "bars: cut edge up, by G-code alone".to_owned());
    let uncut = plan.not_cut();
    let uncut = edge_up
        .into_iter()
        .chain(uncut.iter().map(|part| part.what.to_owned()));
    dxf_notes(
        &plan.files,
        &told.collect::<Vec<_>>(),
        &uncut.collect::<Vec<_>>(),
    )
}

/// SHA-256 of bytes, in hexadecimal.
pub(super) fn digest(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}
