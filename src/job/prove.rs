//! Proves a folder from disk alone.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::deliver::{SUMMARY, is_clutter, list};
use super::error::JobError;
use super::made::Made;
use super::stages::{coupon_plan, plan};
use crate::limits::{FILE_BYTES, LONGER, SUMMARY_BYTES, TABLES};
use crate::panel::{JobFiles, LoadError, SourceFile, SourceKind, read_plain};
use crate::plan::Plan;
use crate::setup::CouponKind;

/// The stage in which the folder's own bytes are replayed.
pub(super) const FROM_DISK: &str = "replay from disk";

/// The bytes of a file of the folder, which must be a plain one of at most `most` bytes: no job holds a link or
/// a pipe.
fn read(dir: &Path, name: &str, most: usize) -> Result<Vec<u8>, JobError> {
    let path = dir.join(name);
    let io = |source| LoadError::Io {
        path: path.clone(),
        source,
    };
    let meta = std::fs::symlink_metadata(&path).map_err(io)?;
    if !meta.is_file() {
        let what = format!("{name} is no plain file, and a job holds no other");
        return Err(JobError::Proof(vec![what]));
    }
    let large = || {
        let what = format!("{name} is larger than {most} bytes, and its sources make no such file");
        Err(JobError::Proof(vec![what]))
    };
    if meta.len() > most as u64 {
        return large();
    }
    let bytes = read_plain(&path, most).map_err(io)?;
    // It may have grown meanwhile.
    if bytes.len() > most {
        large()
    } else {
        Ok(bytes)
    }
}

/// Plans again from `DIR/source`, compares with `job.json` and every digest, refuses missing and
/// unlisted files. What the plan makes has been replayed; where a cut file on disk is not that, byte for byte, the
/// folder's own files are replayed too. Gives what the plan made.
///
/// # Errors
/// [`JobError::Proof`] with everything that is not as it should be.
pub fn prove(dir: &Path, progress: &mut dyn FnMut(&str)) -> Result<(Plan, Made), JobError> {
    if std::fs::metadata(dir).is_ok_and(|m| !m.is_dir()) {
        let what = "is no folder; name one that `make` or `coupon` wrote";
        return Err(JobError::Call(format!("{} {what}", dir.display())));
    }
    if dir.is_dir() && !dir.join(SUMMARY).exists() && !dir.join("source").exists() {
        let what = "holds no job; name one that `make` or `coupon` wrote";
        return Err(JobError::Call(format!("{} {what}", dir.display())));
    }
    let names = list(dir).map_err(|source| LoadError::Io {
        path: dir.into(),
        source,
    })?;
    let (left, names): (Vec<_>, Vec<_>) =
        (names.into_iter()).partition(|name| is_clutter(dir, name));
    let sources = sources(dir, &names)?;
    let not_from_sources = |e: JobError| {
        JobError::Proof(vec![format!(
            "the folder's own sources no longer make it: {e}"
        )])
    };
    let files = JobFiles::from_sources(sources).map_err(|e| not_from_sources(e.into()))?;
    // What a folder is for stands in its job.json, which is held against the plan like any other file.
    let kind = match names.iter().any(|name| name == SUMMARY) {
        true => coupon_kind(&read(dir, SUMMARY, SUMMARY_BYTES)?),
        false => None,
    };
    let plan = match kind {
        Some(kind) => coupon_plan(files, kind, progress),
        None => plan(files, progress),
    }
    .map_err(not_from_sources)?;
    let mut made = Made::of(&plan, progress).map_err(not_from_sources)?;
    made.warnings.extend(left.iter().map(|name| {
        format!("{name} was left there by the system or an editor, and is no part of the job")
    }));

    let held = held_against(dir, names, &made)?;
    let disk = |path: &str| held.bytes(path, &made);
    let mut wrong = held.wrong.clone();
    // Bytes that are those of `made` need no second replay: `Made::of` gives none that it has not replayed.
    let differs = |path: &str| disk(path) != made.files.get(path).map(Vec::as_slice);
    if plan.cut_files().iter().any(|file| differs(&file.path)) {
        progress(FROM_DISK);
        wrong.extend(plan.replay(disk, progress).faults);
    }
    if wrong.is_empty() {
        Ok((plan, made))
    } else {
        Err(JobError::Proof(wrong))
    }
}

/// The sources of a folder that holds these files.
fn sources(dir: &Path, names: &[String]) -> Result<Vec<SourceFile>, JobError> {
    let mut sources = Vec::new();
    let mut wrong = Vec::new();
    let mut source = |kind: SourceKind, number: usize| -> Result<Option<String>, JobError> {
        let name = kind.numbered(number);
        let path = format!("source/{name}");
        if !names.contains(&path) {
            return Ok(Some(path));
        }
        let bytes = read(dir, &path, FILE_BYTES)?;
        sources.push(SourceFile { kind, name, bytes });
        Ok(None)
    };
    for kind in SourceKind::EVERY_JOB {
        if let Some(path) = source(kind, 1)? {
            wrong.push(format!("{path} is missing"));
        }
    }
    for kind in SourceKind::OWN_MACHINE {
        // Whether one that is not there is missing is for the panel file to say.
        source(kind, 1)?;
    }
    for (kind, from) in [
        (SourceKind::Material, 2),
        (SourceKind::Stock, 2),
        (SourceKind::Pattern, 1),
    ] {
        // A panel names at most one of each kind for itself and one for each of its features.
        for number in (from..).take(TABLES + 1) {
            if source(kind, number)?.is_some() {
                break;
            }
        }
    }
    if wrong.is_empty() {
        Ok(sources)
    } else {
        Err(JobError::Proof(wrong))
    }
}

/// A folder held against what its sources make.
struct Held {
    /// The job's files that lie on disk as their sources make them.
    same: BTreeSet<String>,
    /// Those that do not, as they lie on disk.
    other: BTreeMap<String, Vec<u8>>,
    /// What is wrong, line by line.
    wrong: Vec<String>,
}

impl Held {
    /// The bytes of a file on disk; `None` of one that is not there, or could not be read.
    fn bytes<'a>(&'a self, path: &str, made: &'a Made) -> Option<&'a [u8]> {
        let same = || made.files.get(path).filter(|_| self.same.contains(path));
        self.other.get(path).or_else(same).map(Vec::as_slice)
    }
}

/// Reads the job's files from disk, one after the other, and keeps those that differ; files of no job are told.
fn held_against(dir: &Path, names: Vec<String>, made: &Made) -> Result<Held, JobError> {
    let mut wrong = Vec::new();
    // Only what the job holds is read; of anything else the name is enough.
    let (mut same, mut other) = (BTreeSet::new(), BTreeMap::new());
    let mut seen = BTreeSet::new();
    for name in names {
        let Some(want) = made.files.get(&name) else {
            wrong.push(format!("{name} does not belong to this job"));
            continue;
        };
        let bytes = match read(dir, &name, want.len() + LONGER) {
            Ok(bytes) => bytes,
            // The other files are told about all the same.
            Err(JobError::Proof(what)) => {
                wrong.extend(what);
                seen.insert(name);
                continue;
            }
            Err(e) => return Err(e),
        };
        seen.insert(name.clone());
        if bytes == *want {
            same.insert(name);
        } else {
            wrong.push(format!("{name} is not the file that its sources make"));
            other.insert(name, bytes);
        }
    }
    let missing = made.files.keys().filter(|path| !seen.contains(*path));
    wrong.extend(missing.map(|path| format!("{path} is missing")));
    Ok(Held { same, other, wrong })
}

/// Which coupon a `job.json` is of, if it is of one.
fn coupon_kind(job: &[u8]) -> Option<CouponKind> {
    #[derive(serde::Deserialize)]
    struct Job {
        coupon: Coupon,
    }
    #[derive(serde::Deserialize)]
    struct Coupon {
        kind: String,
    }
    // The rest of it is read over, however large and deep it is.
    let job: Job = serde_json::from_slice(job).ok()?;
    let word = job.coupon.kind;
    CouponKind::ALL.into_iter().find(|kind| kind.word() == word)
}
