//! Writes what a coupon told into the maker's own file.

use std::fs;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use super::deliver::{DeliverError, SUMMARY, sync_folder, within_own_limit};
use super::error::JobError;
use super::reading::Reading;
use crate::limits::FILE_BYTES;
use crate::panel::{
    BUILTIN, HeadKind, JobFiles, LaserCut, LoadError, Machine, Material, Method, OwnMachine,
    SourceKind, builtin, read_plain, with_clearance, with_diameter, with_kerf,
};
use crate::setup::MeasuredKey;

/// A file that a reading was written into.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// What the key said before.
    pub before: f64,
    /// What `laser.flare` said before, where it was written too.
    pub flare_before: Option<f64>,
}

/// What a file says now, and its text with the reading in it.
struct Change {
    written: Written,
    text: String,
}

impl Reading {
    /// The kind of file that the reading is written into.
    #[must_use]
    pub fn file_kind(&self) -> SourceKind {
        match self.key {
            MeasuredKey::Kerf => SourceKind::Material,
            MeasuredKey::Diameter => SourceKind::Machine,
            MeasuredKey::Clearance => SourceKind::Panel,
        }
    }

    /// The built-in file that the panel names for the value, if it names one: there is nothing of the
    /// maker's own to write into.
    #[must_use]
    pub fn built_in(&self, files: &JobFiles) -> Option<&'static str> {
        let kind = self.file_kind();
        let text = &files.panel_text;
        let named = text.text.get(text.spans.get(kind.word())?.clone())?;
        let named = named.trim_matches(['"', '\'']);
        builtin(kind, named).map(|file| file.name)
    }

    /// Writes the reading into the maker's own file: kerf and flare into the material file, a cutter's
    /// diameter into the machine file, a clearance into the panel file. Every other byte stays, and the
    /// file is exchanged as a whole or not at all. `files` are those that the coupon was made from.
    ///
    /// # Errors
    /// The file is not the maker's own, is not of the kind, material or machine that the coupon was made
    /// for, cannot take the value, or the system refuses.
    pub fn write_into(&self, files: &JobFiles, path: &Path) -> Result<Written, JobError> {
        own_file(path)?;
        let io = |source| LoadError::Io {
            path: path.to_owned(),
            source,
        };
        // Through links to the file itself.
        let real = fs::canonicalize(path).map_err(io)?;
        in_no_job(&real)?;
        let bytes = read_plain(&real, FILE_BYTES).map_err(io)?;
        let name = path.display().to_string();
        self.right_kind(&name, &bytes)?;
        let Change { written, text } = match self.key {
            MeasuredKey::Kerf => self.kerf(files, &name, &bytes)?,
            MeasuredKey::Diameter => self.diameter(files, &name, &bytes)?,
            MeasuredKey::Clearance => self.clearance(files, path, &name, &bytes)?,
        };
        exchange(&real, text.as_bytes())?;
        Ok(written)
    }

    fn kerf(&self, files: &JobFiles, name: &str, bytes: &[u8]) -> Result<Change, JobError> {
        let (own, text) = with_kerf(name, bytes, self.measured, self.flare)?;
        same_name(name, &own.name, &files.material.name)?;
        let laser = |m: &Material| {
            let none = || JobError::Internal(format!("a kerf for {}, without a laser", m.name));
            m.laser.clone().ok_or_else(none)
        };
        let (before, cut_with) = (laser(&own)?, laser(&files.material)?);
        let how = |l: &LaserCut| (l.feed, l.power_percent);
        if how(&before) != how(&cut_with) {
            return Err(JobError::Call(format!(
                "{name} has another feed or power than the coupon was cut with, and a kerf goes with \
                 both: cut a new coupon"
            )));
        }
        let written = Written {
            before: before.kerf,
            flare_before: self.flare.map(|_| before.flare),
        };
        Ok(Change { written, text })
    }

    fn diameter(&self, files: &JobFiles, name: &str, bytes: &[u8]) -> Result<Change, JobError> {
        let (own, text) = with_diameter(name, bytes, self.measured)?;
        let tool = |machine: &Machine| match &machine.head {
            HeadKind::Router(router) => Ok(router.tool.clone()),
            HeadKind::Laser(_) => Err(JobError::Internal(format!(
                "a diameter for {}, which is a laser",
                machine.name
            ))),
        };
        let machine = &cut_with(files)?.machine;
        let (before, cut_with) = (tool(&own)?, tool(machine)?);
        let both = |machine: &str, tool: &str| format!("{machine}, {tool}");
        let meant = both(&machine.name, &cut_with.name);
        same_name(name, &both(&own.name, &before.name), &meant)?;
        let written = Written {
            before: before.diameter,
            flare_before: None,
        };
        Ok(Change { written, text })
    }

    fn clearance(
        &self,
        files: &JobFiles,
        path: &Path,
        name: &str,
        bytes: &[u8],
    ) -> Result<Change, JobError> {
        // With the files that it names, so that the clearance is one for its own cut and stock.
        let machine = cut_with(files)?;
        let mut own = JobFiles::load(path)?;
        // Whatever has been measured since, as long as it came out the same.
        let memory = &files.material.from_memory;
        own.material.from_memory.clone_from(memory);
        if let Some(own) = own.own_mut() {
            let memory = &machine.machine.from_memory;
            own.machine.from_memory.clone_from(memory);
        }
        for (kind, same) in [
            (
                SourceKind::Machine,
                (own.own()).is_some_and(|own| own.machine == machine.machine),
            ),
            (SourceKind::Material, own.material == files.material),
        ] {
            if !same {
                return Err(JobError::Call(format!(
                    "the {} file that {name} names is not the one that the coupon was cut with, or has \
                     changed since, and a clearance goes with it: cut a new coupon",
                    kind.word()
                )));
            }
        }
        if own.panel.cut.method != files.panel.cut.method {
            let (own, coupon) = match own.panel.cut.method {
                Method::Flat => ("flat", "edge up"),
                Method::EdgeUp => ("edge up", "flat"),
            };
            return Err(JobError::Call(format!(
                "{name} is cut {own}, and the coupon was cut {coupon}: a clearance goes with the way of \
                 cutting: cut a new coupon"
            )));
        }
        let (panel, text) = with_clearance(name, bytes, self.measured)?;
        let written = Written {
            before: panel.cut.clearance,
            flare_before: None,
        };
        Ok(Change { written, text })
    }

    /// Refuses a file of another kind by name; other wrong files are told line by line.
    fn right_kind(&self, name: &str, bytes: &[u8]) -> Result<(), JobError> {
        let wanted = self.file_kind();
        let is = |kind: &SourceKind| match kind {
            SourceKind::Material => with_kerf(name, bytes, 1.0, None).is_ok(),
            SourceKind::Machine => with_diameter(name, bytes, 1.0).is_ok(),
            SourceKind::Panel => with_clearance(name, bytes, 0.0).is_ok(),
            _ => false,
        };
        let kinds = SourceKind::EVERY_JOB
            .into_iter()
            .chain(SourceKind::OWN_MACHINE);
        let mut other = kinds.filter(|kind| *kind != wanted);
        match other.find(is) {
            Some(kind) => Err(JobError::Call(format!(
                "{name} is a {} file; `{}` stands in a {} file: name yours",
                kind.word(),
                self.key,
                wanted.word()
            ))),
            None => Ok(()),
        }
    }
}

/// The machine that a coupon was cut with.
fn cut_with(files: &JobFiles) -> Result<&OwnMachine, JobError> {
    let own = files.own().map(|own| &**own);
    own.ok_or_else(|| JobError::Internal("a coupon that is cut elsewhere".to_owned()))
}

/// Refuses a file of another name than that which the coupon was cut for.
fn same_name(name: &str, there: &str, meant: &str) -> Result<(), JobError> {
    if there == meant {
        return Ok(());
    }
    Err(JobError::Call(format!(
        "{name} is \"{there}\", but the coupon was cut for \"{meant}\": name the file that the panel \
         names, or cut a coupon for this one"
    )))
}

/// Refuses the name of a built-in file.
fn own_file(path: &Path) -> Result<(), JobError> {
    let built_in = BUILTIN.iter().find(|b| Path::new(b.name) == path);
    match built_in {
        Some(b) if !path.exists() => Err(JobError::Call(format!(
            "{name} is built in and stays as it is, so that there is no file to write into: \
             `lapwright show {name} > my-{name}.toml`, name the copy in the panel file, and give its \
             path here",
            name = b.name
        ))),
        _ => Ok(()),
    }
}

/// Refuses a copy in a job folder, which would no longer prove true.
fn in_no_job(path: &Path) -> Result<(), JobError> {
    let folders = path.ancestors().skip(1).take(2);
    match folders.into_iter().find(|f| f.join(SUMMARY).exists()) {
        Some(folder) => Err(JobError::Call(format!(
            "{} belongs to the job in {}, which must stay as it was made; name your own file",
            path.display(),
            folder.display()
        ))),
        None => Ok(()),
    }
}

/// Puts a new file in the place of an old one, rights and all, in one step.
fn exchange(path: &Path, bytes: &[u8]) -> Result<(), JobError> {
    within_own_limit(&path.display().to_string(), bytes.len() as u64)?;
    let refused = |source| {
        let doing = format!("cannot write {}; it is as it was", path.display());
        JobError::Deliver(DeliverError::System { doing, source })
    };
    let (fresh, mut file) = neighbour(path).map_err(refused)?;
    let mut write = || -> std::io::Result<()> {
        file.write_all(bytes)?;
        file.set_permissions(fs::metadata(path)?.permissions())?;
        file.sync_all()?;
        fs::rename(&fresh, path)
    };
    write().map_err(|source| {
        // What is left of it is of no use; the first error is the one to tell.
        let _ = fs::remove_file(&fresh);
        refused(source)
    })?;
    sync_folder(path.parent().unwrap_or(path)).map_err(refused)
}

/// A new file beside another one. What is there already stays, whoever left it: another name is taken then.
fn neighbour(path: &Path) -> std::io::Result<(PathBuf, fs::File)> {
    const TRIES: usize = 20;
    let mut taken = ErrorKind::AlreadyExists.into();
    for number in 1..=TRIES {
        let mut name = std::ffi::OsString::from(".");
        name.push(path.file_name().unwrap_or_default());
        name.push(format!(".lapwright-new-{number}"));
        let fresh = path.with_file_name(name);
        match fs::OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&fresh)
        {
            Ok(file) => return Ok((fresh, file)),
            Err(e) if e.kind() == ErrorKind::AlreadyExists => taken = e,
            Err(e) => return Err(e),
        }
    }
    Err(taken)
}
