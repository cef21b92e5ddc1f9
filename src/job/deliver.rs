//! Puts a folder in place as a whole, or leaves it as it was.
//!
//! The new folder is written beside the old one and brought to the disk; then both change names in one step
//! where the system offers that (an exchanging rename), else in two, and the next run finds the old one and
//! restores it.

mod error;
mod folder;

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Component, Path, PathBuf};
use std::time::{Duration, Instant};

pub use error::DeliverError;
pub(super) use error::system;
pub use folder::Edited;
pub(super) use folder::{SUMMARY, is_clutter, list};

use crate::limits::{FOLDER_NAME, FOLDER_PATH, WAIT_S};
use folder::{Ours, UNFINISHED, clear, holds_only_ours, is_job, is_left_over, may_go};

/// A folder that is put in place, and its neighbours that this program uses while it works.
struct Places {
    /// The folder, without a slash at its end.
    dir: PathBuf,
    parent: PathBuf,
    fresh: PathBuf,
    old: PathBuf,
}

impl Places {
    fn of(dir: &Path) -> Result<Self, DeliverError> {
        let long = || DeliverError::LongName(dir.into());
        // A slash at the end would follow a link.
        let dir: PathBuf = dir.components().collect();
        let name = dir
            .file_name()
            .ok_or_else(|| DeliverError::Nameless(dir.clone()))?;
        let too_long =
            |part: Component<'_>| part.as_os_str().as_encoded_bytes().len() > FOLDER_NAME;
        if dir.as_os_str().as_encoded_bytes().len() > FOLDER_PATH || dir.components().any(too_long)
        {
            return Err(long());
        }
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
        Ok(Self {
            fresh: beside(".lapwright-new"),
            old: beside(".lapwright-old"),
            parent,
            dir,
        })
    }

    /// A job may not lie in another: its `prove` would find what does not belong there.
    fn lie_in_no_job(&self) -> Result<(), DeliverError> {
        // A parent that is not there yet lies where the nearest one does that is.
        let there = self.parent.ancestors().find_map(|p| {
            let p = if p.as_os_str().is_empty() {
                Path::new(".")
            } else {
                p
            };
            p.canonicalize().ok()
        });
        let is_job =
            |p: &&Path| p.join(SUMMARY).is_file() && p.join("source").join("panel.toml").is_file();
        match there.as_deref().and_then(|p| p.ancestors().find(is_job)) {
            Some(job) => Err(DeliverError::InsideJob {
                dir: self.dir.clone(),
                job: job.into(),
            }),
            None => Ok(()),
        }
    }

    /// What has one of the neighbours' names must have been left by a run that was stopped.
    fn are_free(&self) -> Result<(), DeliverError> {
        let foreign = |path: &&&PathBuf| is_there(path) && !is_left_over(path);
        match [&self.fresh, &self.old].iter().find(foreign) {
            Some(path) => Err(DeliverError::InTheWay(path.to_path_buf())),
            None => Ok(()),
        }
    }

    /// Brings back what a run moved aside.
    fn restore(&self) -> Result<(), DeliverError> {
        if is_job(&self.old) && !is_there(&self.dir) {
            let doing = format!("cannot restore {}", self.dir.display());
            fs::rename(&self.old, &self.dir).map_err(system(doing))?;
        }
        Ok(())
    }
}

/// Whether anything has this name; a link counts, wherever it points.
fn is_there(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}

/// Whether a folder may be replaced: it is not there, is empty, or holds nothing but what its own
/// `job.json` lists and what systems leave, unedited unless that does not matter; and nothing foreign has a name that is
/// needed beside it.
///
/// # Errors
/// Says what stands in the way.
pub fn may_replace(dir: &Path, edited: Edited) -> Result<(), DeliverError> {
    let places = Places::of(dir)?;
    places.lie_in_no_job()?;
    may_go(&places.dir, edited)?;
    places.are_free()
}

/// Brings a folder back that a run moved aside before it was stopped between two renames.
///
/// # Errors
/// [`DeliverError::System`] where the system refuses.
pub fn restore(dir: &Path) -> Result<(), DeliverError> {
    Places::of(dir)?.restore()
}

/// Puts the files in place as the folder `dir`, and carries over what systems have left in it: gives the paths of
/// that. `progress` is told of a wait.
///
/// # Errors
/// [`DeliverError`]; the folder is then as it was, unless the error says that it is in place and only
/// what was there before could not be cleared.
pub fn deliver(
    dir: &Path,
    files: &BTreeMap<String, Vec<u8>>,
    edited: Edited,
    progress: &mut dyn FnMut(&str),
) -> Result<Vec<String>, DeliverError> {
    let places = Places::of(dir)?;
    places.lie_in_no_job()?;
    if let Some((file, bytes)) = files.iter().max_by_key(|(_, bytes)| bytes.len()) {
        within_own_limit(file, bytes.len() as u64)?;
    }
    let parents = Parents::make(&places.parent)?;
    let _turn = take_turn(&places.parent, Duration::from_secs(WAIT_S), progress)?;
    places.restore()?;
    let Ours { clutter, .. } = may_go(&places.dir, edited)?;
    places.are_free()?;
    let written = write_fresh(&places, files, &clutter).and_then(|()| swap(&places));
    if written.is_ok() {
        parents.keep();
    } else if is_left_over(&places.fresh) {
        // Half a folder is of no use; what the system says about that matters less than the first error.
        let _ = clear(&places.fresh);
    }
    written.map(|()| clutter)
}

/// Refuses a file that is larger than one may become that this process writes (`ulimit -f`): the system would
/// end the process there, in the middle of its work.
///
/// # Errors
/// [`DeliverError::OwnLimit`].
#[cfg(target_os = "linux")]
pub fn within_own_limit(file: &str, bytes: u64) -> Result<(), DeliverError> {
    use rustix::process::{Resource, getrlimit};
    match getrlimit(Resource::Fsize).current {
        Some(limit) if bytes > limit => Err(DeliverError::OwnLimit {
            file: file.to_owned(),
            bytes,
            limit,
        }),
        _ => Ok(()),
    }
}

/// Takes any size: nothing is known of such a limit here.
///
/// # Errors
/// None.
#[cfg(not(target_os = "linux"))]
pub fn within_own_limit(_: &str, _: u64) -> Result<(), DeliverError> {
    Ok(())
}

/// The folders above the one that is put in place, as far as they had to be made: they go again unless they are
/// kept.
struct Parents(Vec<PathBuf>);

impl Parents {
    fn make(parent: &Path) -> Result<Self, DeliverError> {
        let missing = |p: &&Path| !p.as_os_str().is_empty() && !is_there(p);
        let mut made = Self(Vec::new());
        let above: Vec<&Path> = parent.ancestors().take_while(missing).collect();
        for folder in above.into_iter().rev() {
            match fs::create_dir(folder) {
                Ok(()) => made.0.push(folder.to_owned()),
                // Another run was quicker.
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
                Err(e) => return Err(system(format!("cannot make {}", folder.display()))(e)),
            }
        }
        Ok(made)
    }

    fn keep(mut self) {
        self.0.clear();
    }
}

impl Drop for Parents {
    fn drop(&mut self) {
        for folder in self.0.iter().rev() {
            // One that holds something by now stays.
            let _ = fs::remove_dir(folder);
        }
    }
}

/// Waits until no other run delivers into the same parent: two runs for one folder would write into each
/// other's new one. A system without such locks goes without.
///
/// # Errors
/// [`DeliverError::Busy`] when it has waited for `most`.
fn take_turn(
    parent: &Path,
    most: Duration,
    progress: &mut dyn FnMut(&str),
) -> Result<Option<fs::File>, DeliverError> {
    /// Between two tries.
    const PAUSE: Duration = Duration::from_millis(50);
    /// A shorter wait is over before anyone wonders.
    const QUIET: Duration = Duration::from_secs(1);
    let Ok(file) = fs::File::open(parent) else {
        return Ok(None);
    };
    let start = Instant::now();
    let mut told = false;
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(Some(file)),
            Err(fs::TryLockError::Error(_)) => return Ok(None),
            Err(fs::TryLockError::WouldBlock) => {}
        }
        let waited = start.elapsed();
        if waited >= most {
            return Err(DeliverError::Busy(parent.into()));
        }
        if waited >= QUIET && !told {
            told = true;
            progress(&format!(
                "{} is locked by another run; waiting, at most {} seconds",
                parent.display(),
                most.as_secs()
            ));
        }
        std::thread::sleep(PAUSE);
    }
}

/// Writes the new folder under its passing name, and sees to it that all of it is on the disk.
fn write_fresh(
    places: &Places,
    files: &BTreeMap<String, Vec<u8>>,
    carried: &[String],
) -> Result<(), DeliverError> {
    let fresh = &places.fresh;
    for left in [fresh, &places.old] {
        if is_there(left) {
            clear(left).map_err(system(format!("cannot clear {}", left.display())))?;
        }
    }
    fs::create_dir(fresh).map_err(system(format!("cannot make {}", fresh.display())))?;
    let mark = fresh.join(UNFINISHED);
    let note = "A run that was stopped has left this folder; it may be deleted.\n";
    fs::write(&mark, note).map_err(system(format!("cannot write {}", mark.display())))?;
    let mut folders = std::collections::BTreeSet::from([fresh.clone()]);
    for (path, bytes) in files {
        let file = fresh.join(path);
        let doing = || format!("cannot write {}", file.display());
        if let Some(folder) = file.parent() {
            fs::create_dir_all(folder).map_err(system(doing()))?;
            folders.insert(folder.to_owned());
        }
        fs::write(&file, bytes).map_err(system(doing()))?;
    }
    for path in carried {
        let (from, to) = (places.dir.join(path), fresh.join(path));
        let doing = || format!("cannot carry over {}", from.display());
        if let Some(folder) = to.parent() {
            fs::create_dir_all(folder).map_err(system(doing()))?;
            folders.insert(folder.to_owned());
        }
        fs::copy(&from, &to).map_err(system(doing()))?;
    }
    // Only when all is written: by then most of it has been brought to the disk in passing.
    for path in files.keys() {
        let file = fresh.join(path);
        let sync = || fs::File::open(&file)?.sync_all();
        sync().map_err(system(format!("cannot write {}", file.display())))?;
    }
    fs::remove_file(&mark).map_err(system(format!("cannot clear {}", mark.display())))?;
    for folder in folders.iter().rev() {
        sync_folder(folder).map_err(system(format!("cannot write {}", folder.display())))?;
    }
    Ok(())
}

/// Brings to the disk which names a folder holds. A system that knows no such thing does it in its own time.
pub(super) fn sync_folder(folder: &Path) -> io::Result<()> {
    // What is named without a folder lies in this one.
    let here = if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    };
    let synced = match fs::File::open(here) {
        Ok(folder) => folder.sync_all(),
        Err(_) if cfg!(not(unix)) => return Ok(()),
        Err(e) => return Err(e),
    };
    match synced {
        Err(e)
            if matches!(
                e.kind(),
                io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported
            ) =>
        {
            Ok(())
        }
        synced => synced,
    }
}

fn swap(places: &Places) -> Result<(), DeliverError> {
    let Places {
        dir, fresh, old, ..
    } = places;
    let doing = || format!("cannot put {} in place", dir.display());
    let clear = |old: &Path| {
        // Looked at again, since nobody was kept from putting something into it.
        if holds_only_ours(old).is_err() {
            return Err(DeliverError::LeftAside {
                dir: dir.clone(),
                aside: old.into(),
            });
        }
        let doing = format!(
            "{} is in place, but what it held before cannot be cleared from {}",
            dir.display(),
            old.display()
        );
        clear(old).map_err(system(doing))
    };
    let on_disk = || sync_folder(&places.parent).map_err(system(doing()));
    let Ok(before) = fs::symlink_metadata(dir) else {
        fs::rename(fresh, dir).map_err(system(doing()))?;
        return on_disk();
    };
    fs::set_permissions(fresh, before.permissions()).map_err(system(doing()))?;
    if exchange(fresh, dir).is_ok() {
        on_disk()?;
        // What was there now has the fresh folder's name.
        return clear(fresh);
    }
    fs::rename(dir, old).map_err(system(doing()))?;
    if let Err(e) = fs::rename(fresh, dir) {
        // Back to what was there.
        fs::rename(old, dir).map_err(system(doing()))?;
        return Err(system(doing())(e));
    }
    on_disk()?;
    clear(old)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wait_is_told_and_has_an_end() {
        let parent = tempfile::tempdir().expect("a folder");
        let most = Duration::from_millis(1_300);
        let mut told = Vec::new();
        let mut say = |what: &str| told.push(what.to_owned());
        let first = take_turn(parent.path(), most, &mut say).expect("free");
        assert!(first.is_some(), "locked");
        let busy = take_turn(parent.path(), most, &mut say).expect_err("locked");
        assert_eq!(busy.exit_status(), 3, "{busy}");
        drop(first);
        take_turn(parent.path(), most, &mut say).expect("free again");
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(told[0].contains("waiting"), "{told:?}");
    }

    #[test]
    fn a_name_that_is_too_long_is_a_wrong_call() {
        for (name, sound) in [
            ("x".repeat(FOLDER_NAME), true),
            ("x".repeat(FOLDER_NAME + 1), false),
            (format!("{}/out", "x".repeat(FOLDER_NAME + 1)), false),
            (format!("{}out", "x/".repeat(FOLDER_PATH / 2 - 2)), true),
            (format!("{}out", "x/".repeat(FOLDER_PATH / 2)), false),
        ] {
            match Places::of(Path::new(&name)) {
                Ok(_) => assert!(sound, "{name}"),
                Err(e) => assert!(
                    !sound && e.exit_status() == 2 && e.to_string().len() < 300,
                    "{e}"
                ),
            }
        }
    }
}
