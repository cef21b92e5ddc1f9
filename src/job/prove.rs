//! Proves a folder from disk alone.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::coupon::{coupon_plan, is_coupon};
use super::deliver::list;
use super::error::JobError;
use super::made::{Made, digest};
use super::plan::{Plan, plan};
use super::replay_sheet::{SheetFiles, prove_sheet};
use crate::panel::{JobFiles, LoadError, SourceFile, SourceKind};

/// Largest file that is read from a folder, bytes: nothing that this program makes comes near it.
const LARGEST: u64 = 2 << 30;

/// Plans again from `DIR/source`, compares with `job.json` and every digest, refuses missing and
/// unlisted files, and replays every cut file from its bytes on disk. Gives what the plan made.
///
/// # Errors
/// [`JobError::Proof`] with everything that is not as it should be.
pub fn prove(dir: &Path, progress: &mut dyn FnMut(&str)) -> Result<(Plan, Made), JobError> {
    if std::fs::metadata(dir).is_ok_and(|m| !m.is_dir()) {
        let what = "is no folder; name the folder that `make` wrote";
        return Err(JobError::Call(format!("{} {what}", dir.display())));
    }
    let names = list(dir).map_err(|source| LoadError::Io {
        path: dir.into(),
        source,
    })?;
    let mut disk = BTreeMap::new();
    for name in names {
        let path = dir.join(&name);
        let read = || -> std::io::Result<Vec<u8>> {
            let meta = std::fs::symlink_metadata(&path)?;
            if !meta.is_file() || meta.len() > LARGEST {
                return Err(std::io::Error::new(
                    std::io::ErrorKind::InvalidData,
                    "not a plain file of a size that this program makes",
                ));
            }
            std::fs::read(&path)
        };
        let bytes = read().map_err(|source| LoadError::Io {
            path: path.clone(),
            source,
        })?;
        disk.insert(name, bytes);
    }
    let mut wrong = Vec::new();
    let mut sources = Vec::new();
    for kind in SourceKind::ALL {
        let name = format!("source/{}", kind.file_name());
        match disk.get(&name) {
            Some(bytes) => sources.push(SourceFile {
                kind,
                name: kind.file_name().to_owned(),
                bytes: bytes.clone(),
            }),
            None => wrong.push(format!("{name} is missing")),
        }
    }
    if !wrong.is_empty() {
        return Err(JobError::Proof(wrong));
    }
    let not_from_sources = |e: JobError| {
        JobError::Proof(vec![format!(
            "the folder's own sources no longer make it: {e}"
        )])
    };
    let files = JobFiles::from_sources(sources).map_err(|e| not_from_sources(e.into()))?;
    // What a folder is for stands in its job.json, which is held against the plan like any other file.
    let coupon = disk.get("job.json").is_some_and(|job| is_coupon(job));
    let plan =
        if coupon { coupon_plan } else { plan }(files, progress).map_err(not_from_sources)?;
    let made = Made::of(&plan, progress).map_err(not_from_sources)?;

    let paths: BTreeSet<&String> = disk.keys().chain(made.files.keys()).collect();
    for path in paths {
        match (disk.get(path), made.files.get(path)) {
            (Some(_), None) => wrong.push(format!("{path} does not belong to this job")),
            (None, Some(_)) => wrong.push(format!("{path} is missing")),
            (Some(there), Some(want)) if digest(there) != digest(want) => {
                wrong.push(format!("{path} is not the file that its sources make"));
            }
            _ => {}
        }
    }
    progress("replay from disk");
    if let Some(flat) = &plan.flat {
        for (sheet, program) in flat.layout.sheets.iter().zip(&flat.programs) {
            let [gcode, drawn, compensated] = Plan::sheet_paths(program);
            let Some(gcode) = disk.get(&gcode) else {
                continue;
            };
            let set = SheetFiles {
                gcode,
                drawn: disk.get(&drawn).map(Vec::as_slice),
                compensated: disk.get(&compensated).map(Vec::as_slice),
            };
            if let Err(faults) = prove_sheet(&plan.files, &flat.layout, sheet, program, set) {
                wrong.extend(
                    faults
                        .into_iter()
                        .map(|(kind, f)| format!("{} ({kind}): {f}", program.stem)),
                );
            }
        }
    }
    if wrong.is_empty() {
        Ok((plan, made))
    } else {
        Err(JobError::Proof(wrong))
    }
}
