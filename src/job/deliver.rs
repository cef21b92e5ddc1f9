//! Puts a folder in place as a whole, or leaves it as it was.
//!
//! The new folder is written beside the old one; then both change names in one step where the system
//! offers that (an exchanging rename), else in two, and the next run finds the old one and restores it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// Why a folder was not put in place. What was there before is untouched.
#[derive(Debug)]
pub enum DeliverError {
    /// The path is no folder.
    NotAFolder(PathBuf),
    /// The path names no folder from outside: `.`, `..` or a root.
    Nameless(PathBuf),
    /// The folder holds files that this program did not make.
    NotOurs {
        /// The folder.
        dir: PathBuf,
        /// The first such file.
        file: String,
    },
    /// The system refused.
    System {
        /// What was tried.
        doing: String,
        /// What the system says.
        source: io::Error,
    },
}

impl DeliverError {
    /// Exit status: 2 the call is wrong, 3 the system refused.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        match self {
            Self::NotAFolder(_) | Self::Nameless(_) | Self::NotOurs { .. } => 2,
            Self::System { .. } => 3,
        }
    }
}

impl fmt::Display for DeliverError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAFolder(dir) => {
                write!(
                    f,
                    "{} is not a folder that can be replaced; name a new folder for the job",
                    dir.display()
                )
            }
            Self::Nameless(dir) => write!(
                f,
                "{} cannot be replaced as a whole; name the job's folder from the one above it",
                dir.display()
            ),
            Self::NotOurs { dir, file } => write!(
                f,
                "{} holds {file}, which this program did not make; name a new or empty folder",
                dir.display()
            ),
            Self::System { doing, source } => write!(f, "{doing}: {source}"),
        }
    }
}

impl std::error::Error for DeliverError {}

fn system(doing: impl Into<String>) -> impl FnOnce(io::Error) -> DeliverError {
    let doing = doing.into();
    move |source| DeliverError::System { doing, source }
}

/// All files of a folder by their path in it, with `/` between parts; links and other oddities are
/// listed too.
pub(super) fn list(dir: &Path) -> io::Result<Vec<String>> {
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

/// Whether a folder may be replaced: it is not there, is empty, or holds nothing but what its own
/// `job.json` lists.
///
/// # Errors
/// Says what stands in the way.
pub fn may_replace(dir: &Path) -> Result<(), DeliverError> {
    neighbours(dir)?;
    neighbours(dir)?;
    let doing = || format!("cannot look into {}", dir.display());
    let meta = match std::fs::symlink_metadata(dir) {
        Ok(meta) => meta,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(system(doing())(e)),
    };
    if !meta.is_dir() {
        return Err(DeliverError::NotAFolder(dir.into()));
    }
    // A folder that is not ours is told by its first entry, however much it holds.
    let job = dir.join("job.json");
    if !job.exists() {
        return match first_file(dir).map_err(system(doing()))? {
            None => Ok(()),
            Some(file) => Err(DeliverError::NotOurs {
                dir: dir.into(),
                file,
            }),
        };
    }
    let there = list(dir).map_err(system(doing()))?;
    let listed = listed(&job);
    let strange = there
        .into_iter()
        .find(|f| f != "job.json" && !listed.contains(f));
    match strange {
        Some(file) => Err(DeliverError::NotOurs {
            dir: dir.into(),
            file,
        }),
        None if listed.is_empty() && dir.join("job.json").exists() => Err(DeliverError::NotOurs {
            dir: dir.into(),
            file: "job.json".into(),
        }),
        None => Ok(()),
    }
}

/// The paths that a `job.json` lists; none if it is not one of ours.
fn listed(job: &Path) -> BTreeSet<String> {
    let read = || -> Option<BTreeSet<String>> {
        let bytes = std::fs::read(job).ok()?;
        let job: serde_json::Value = serde_json::from_slice(&bytes).ok()?;
        let path = |f: &serde_json::Value| Some(f.get("path")?.as_str()?.to_owned());
        job.get("schema")?.as_u64()?;
        let program = job.get("program")?.as_str()?;
        if program.split(' ').next() != Some(env!("CARGO_PKG_NAME")) {
            return None;
        }
        job.get("files")?.as_array()?.iter().map(path).collect()
    };
    read().unwrap_or_default()
}

/// Neighbours of a folder that this program uses while it works.
struct Neighbours {
    parent: PathBuf,
    fresh: PathBuf,
    old: PathBuf,
}

fn neighbours(dir: &Path) -> Result<Neighbours, DeliverError> {
    let name = dir
        .file_name()
        .ok_or_else(|| DeliverError::Nameless(dir.into()))?;
    let parent = match dir.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_path_buf(),
        _ => PathBuf::from("."),
    };
    let beside = |what: &str| {
        let mut n = std::ffi::OsString::from(".");
        n.push(name);
        n.push(what);
        parent.join(n)
    };
    Ok(Neighbours {
        fresh: beside(".lapwright-new"),
        old: beside(".lapwright-old"),
        parent,
    })
}

/// Brings a folder back that a run moved aside before it was stopped between two renames.
///
/// # Errors
/// [`DeliverError::System`] where the system refuses.
pub fn restore(dir: &Path) -> Result<(), DeliverError> {
    let n = neighbours(dir)?;
    if is_there(&n.old) && !is_there(dir) {
        std::fs::rename(&n.old, dir)
            .map_err(system(format!("cannot restore {}", dir.display())))?;
    }
    Ok(())
}

/// Whether anything has this name; a link counts, wherever it points.
fn is_there(path: &Path) -> bool {
    std::fs::symlink_metadata(path).is_ok()
}

/// Puts the files in place as the folder `dir`.
///
/// # Errors
/// [`DeliverError`]; the folder is then as it was, unless the error says that it is in place and only
/// what was there before could not be cleared.
pub fn deliver(dir: &Path, files: &BTreeMap<String, Vec<u8>>) -> Result<(), DeliverError> {
    let n = neighbours(dir)?;
    std::fs::create_dir_all(&n.parent)
        .map_err(system(format!("cannot make {}", n.parent.display())))?;
    let _turn = take_turn(&n.parent);
    restore(dir)?;
    may_replace(dir)?;
    let written = write_fresh(&n, files).and_then(|()| swap(&n, dir));
    if written.is_err() {
        // Half a folder is of no use; what the system says about that matters less than the first error.
        let _ = std::fs::remove_dir_all(&n.fresh);
    }
    written
}

/// Waits until no other run delivers into the same parent: two runs for one folder would write into each
/// other's new one. A system without such locks goes without.
fn take_turn(parent: &Path) -> Option<std::fs::File> {
    let parent = std::fs::File::open(parent).ok()?;
    parent.lock().ok()?;
    Some(parent)
}

fn write_fresh(n: &Neighbours, files: &BTreeMap<String, Vec<u8>>) -> Result<(), DeliverError> {
    for left in [&n.fresh, &n.old] {
        if left.exists() {
            std::fs::remove_dir_all(left)
                .map_err(system(format!("cannot clear {}", left.display())))?;
        }
    }
    std::fs::create_dir(&n.fresh).map_err(system(format!("cannot make {}", n.fresh.display())))?;
    for (path, bytes) in files {
        let file = n.fresh.join(path);
        let doing = || format!("cannot write {}", file.display());
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder).map_err(system(doing()))?;
        }
        std::fs::write(&file, bytes).map_err(system(doing()))?;
    }
    Ok(())
}

fn swap(n: &Neighbours, dir: &Path) -> Result<(), DeliverError> {
    let doing = || format!("cannot put {} in place", dir.display());
    let clear = |old: &Path| {
        let doing = format!(
            "{} is in place, but what it held before cannot be cleared from {}",
            dir.display(),
            old.display()
        );
        std::fs::remove_dir_all(old).map_err(system(doing))
    };
    if !is_there(dir) {
        return std::fs::rename(&n.fresh, dir).map_err(system(doing()));
    }
    if exchange(&n.fresh, dir).is_ok() {
        // What was there now has the fresh folder's name.
        return clear(&n.fresh);
    }
    std::fs::rename(dir, &n.old).map_err(system(doing()))?;
    if let Err(e) = std::fs::rename(&n.fresh, dir) {
        // Back to what was there.
        std::fs::rename(&n.old, dir).map_err(system(doing()))?;
        return Err(system(doing())(e));
    }
    clear(&n.old)
}

#[cfg(target_os = "linux")]
fn exchange(a: &Path, b: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE).map_err(Into::into)
}

#[cfg(not(target_os = "linux"))]
fn exchange(_: &Path, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}
