//! What a folder holds, and whether all of it is this program's own.

use std::collections::BTreeMap;
use std::io;
use std::path::Path;

use serde::Deserialize;
use sha2::{Digest, Sha256};

use super::error::{DeliverError, system};
use crate::letters::hex;
use crate::limits::{FOLDER_FILES, SUMMARY_BYTES};
use crate::panel::{open_plain, read_plain};

/// The summary of a job, by which a folder is known.
pub(in crate::job) const SUMMARY: &str = "job.json";

/// Lies in a folder from its first file to its last, so that one that a stopped run has left is known.
pub(super) const UNFINISHED: &str = ".lapwright-unfinished";

/// All files of a folder by their path in it, with `/` between parts; links and other oddities are
/// listed too.
///
/// # Errors
/// What the system says; [`io::ErrorKind::FileTooLarge`] where there are more than [`FOLDER_FILES`].
pub(in crate::job) fn list(dir: &Path) -> io::Result<Vec<String>> {
    list_up_to(dir, FOLDER_FILES)
}

fn list_up_to(dir: &Path, most: usize) -> io::Result<Vec<String>> {
    let mut found = Vec::new();
    let mut open = vec![(dir.to_path_buf(), String::new())];
    while let Some((folder, prefix)) = open.pop() {
        for entry in std::fs::read_dir(&folder)? {
            let entry = entry?;
            let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
            if entry.file_type()?.is_dir() {
                open.push((entry.path(), format!("{name}/")));
            } else {
                found.push(name);
            }
            if found.len() + open.len() > most {
                let what = format!("it holds more than {most} files");
                return Err(io::Error::new(io::ErrorKind::FileTooLarge, what));
            }
        }
    }
    found.sort();
    Ok(found)
}

/// The first thing in a folder, followed down to a file or an empty folder.
fn first_file(dir: &Path) -> io::Result<Option<String>> {
    /// Deeper than any folder of ours.
    const DEEPEST: usize = 16;
    let mut found: Option<String> = None;
    let mut at = dir.to_path_buf();
    for _ in 0..DEEPEST {
        let mut names: Vec<_> = std::fs::read_dir(&at)?.collect::<io::Result<_>>()?;
        names.sort_by_key(std::fs::DirEntry::file_name);
        let Some(entry) = names.first() else { break };
        let name = entry.file_name().to_string_lossy().into_owned();
        found = Some(found.map_or(name.clone(), |above| format!("{above}/{name}")));
        if !entry.file_type()?.is_dir() {
            break;
        }
        at = entry.path();
    }
    Ok(found)
}

/// What becomes of a folder in which someone has edited a file since it was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edited {
    /// It stays, and nothing is written.
    Kept,
    /// It is replaced like any other.
    Replaced,
}

/// Whether this is what systems and editors leave in folders that are looked at: a closed list of names, and of plain
/// files alone.
pub(in crate::job) fn is_clutter(dir: &Path, path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or(path);
    let known = [".DS_Store", "Thumbs.db", "desktop.ini"].contains(&name)
        || name.starts_with(".~lock.") && name.ends_with('#')
        || name.strip_suffix(".swp").is_some_and(|of| !of.is_empty());
    known && std::fs::symlink_metadata(dir.join(path)).is_ok_and(|meta| meta.is_file())
}

/// What a folder holds that may be replaced.
#[derive(Debug, Default)]
pub(super) struct Ours {
    /// The files that its `job.json` lists and that are there, with their digests.
    listed: Vec<(String, String)>,
    /// What systems have left in it.
    pub(super) clutter: Vec<String>,
}

/// Whether a folder may be replaced: it is not there, is empty, or holds nothing but what its own
/// `job.json` lists and what systems leave; and nothing of it has been edited, or that is to be replaced too.
///
/// # Errors
/// Says what stands in the way.
pub(super) fn may_go(dir: &Path, edited: Edited) -> Result<Ours, DeliverError> {
    let ours = holds_only_ours(dir)?;
    if edited == Edited::Replaced {
        return Ok(ours);
    }
    for (file, digest) in &ours.listed {
        let path = dir.join(file);
        let doing = || format!("cannot look into {}", path.display());
        if !is_as_listed(&path, digest).map_err(system(doing()))? {
            return Err(DeliverError::Edited {
                dir: dir.into(),
                file: file.clone(),
            });
        }
    }
    Ok(ours)
}

/// Whether a file is the one of this digest: a plain one, for a job holds no link and no pipe.
fn is_as_listed(path: &Path, digest: &str) -> io::Result<bool> {
    if !std::fs::symlink_metadata(path)?.is_file() {
        return Ok(false);
    }
    let mut found = Sha256::new();
    io::copy(&mut open_plain(path)?, &mut found)?;
    Ok(hex(&found.finalize()) == digest)
}

/// Whether a folder is not there, is empty, or holds nothing but what its own `job.json` lists and what systems leave:
/// what that is.
///
/// # Errors
/// Says what stands in the way.
pub(super) fn holds_only_ours(dir: &Path) -> Result<Ours, DeliverError> {
    let doing = || format!("cannot look into {}", dir.display());
    let not_ours = |file: String| DeliverError::NotOurs {
        dir: dir.into(),
        file,
    };
    let meta = match std::fs::symlink_metadata(dir) {
        Ok(meta) => meta,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(Ours::default()),
        Err(e) => return Err(system(doing())(e)),
    };
    if !meta.is_dir() {
        return Err(DeliverError::NotAFolder(dir.into()));
    }
    // A folder that is not ours is told by its first entry, however much it holds.
    let first = || first_file(dir).map_err(system(doing()));
    let job = dir.join(SUMMARY);
    let listed = listed(&job);
    if listed.is_empty() {
        match first()? {
            Some(file) if job.exists() || !is_clutter(dir, &file) => return Err(not_ours(file)),
            None if job.exists() => return Err(not_ours(SUMMARY.into())),
            None => return Ok(Ours::default()),
            // What systems leave may lie before other things.
            Some(_) => {}
        }
    }
    // One more than it lists is one too many.
    let there = match list_up_to(dir, FOLDER_FILES) {
        Err(e) if e.kind() == io::ErrorKind::FileTooLarge => {
            return Err(not_ours(format!("more than {FOLDER_FILES} files")));
        }
        there => there.map_err(system(doing()))?,
    };
    let mut ours = Ours::default();
    for file in there {
        if let Some(digest) = listed.get(&file) {
            ours.listed.push((file, digest.clone()));
        } else if is_clutter(dir, &file) {
            ours.clutter.push(file);
        } else if file != SUMMARY {
            return Err(not_ours(file));
        }
    }
    Ok(ours)
}

/// Whether a run that was stopped has left this folder: one that was not finished, or a job that was to be
/// cleared.
pub(super) fn is_left_over(dir: &Path) -> bool {
    std::fs::symlink_metadata(dir).is_ok_and(|meta| meta.is_dir())
        && (dir.join(UNFINISHED).exists() || holds_only_ours(dir).is_ok())
}

/// Whether a folder is a job of this program, whatever else lies in it.
pub(super) fn is_job(dir: &Path) -> bool {
    std::fs::symlink_metadata(dir).is_ok_and(|meta| meta.is_dir())
        && !listed(&dir.join(SUMMARY)).is_empty()
}

/// What of a `job.json` tells whose folder it is.
#[derive(Deserialize)]
struct Listing {
    #[serde(rename = "schema")]
    _schema: u64,
    program: String,
    files: Vec<Listed>,
}

#[derive(Deserialize)]
struct Listed {
    path: String,
    #[serde(default)]
    sha256: String,
}

/// The paths that a `job.json` lists, with their digests; none if it is not one of ours, or no plain file.
fn listed(job: &Path) -> BTreeMap<String, String> {
    let read = || -> Option<BTreeMap<String, String>> {
        let meta = std::fs::symlink_metadata(job).ok()?;
        if !meta.is_file() || meta.len() > SUMMARY_BYTES as u64 {
            return None;
        }
        let bytes = read_plain(job, SUMMARY_BYTES).ok()?;
        if bytes.len() > SUMMARY_BYTES {
            return None;
        }
        let job: Listing = serde_json::from_slice(&bytes).ok()?;
        if job.program.split(' ').next() != Some(env!("CARGO_PKG_NAME")) {
            return None;
        }
        Some(job.files.into_iter().map(|f| (f.path, f.sha256)).collect())
    };
    read().unwrap_or_default()
}

/// Deletes a folder; what it is known by goes last, so that a run that is stopped here leaves one that the next
/// one knows.
pub(super) fn clear(dir: &Path) -> io::Result<()> {
    writable(dir)?;
    let known_by = |name: &std::ffi::OsStr| name == SUMMARY || name == UNFINISHED;
    for last in [false, true] {
        for entry in std::fs::read_dir(dir)? {
            let entry = entry?;
            if known_by(&entry.file_name()) != last {
                continue;
            }
            if entry.file_type()?.is_dir() {
                std::fs::remove_dir_all(entry.path())?;
            } else {
                std::fs::remove_file(entry.path())?;
            }
        }
    }
    std::fs::remove_dir(dir)
}

/// Lets the owner take things out of a folder that may have been kept from that.
#[cfg(unix)]
fn writable(dir: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let mut rights = std::fs::metadata(dir)?.permissions();
    if rights.mode() & 0o700 != 0o700 {
        rights.set_mode(rights.mode() | 0o700);
        std::fs::set_permissions(dir, rights)?;
    }
    Ok(())
}

#[cfg(not(unix))]
fn writable(_: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn so_many_files_are_listed_and_no_more() {
        let dir = tempfile::tempdir().expect("a folder");
        for n in 0..4 {
            std::fs::write(dir.path().join(n.to_string()), b"").expect("written");
        }
        assert_eq!(list_up_to(dir.path(), 4).expect("listed").len(), 4);
        let e = list_up_to(dir.path(), 3).expect_err("a file more");
        assert_eq!(e.kind(), io::ErrorKind::FileTooLarge);
    }
}
