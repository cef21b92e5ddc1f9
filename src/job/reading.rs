//! What a coupon tells once it has been cut, and where that is written down.

use std::fs;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::deliver::DeliverError;
use super::error::JobError;
use super::plan::Plan;
use crate::geom::micron;
use crate::panel::{BUILTIN, HeadKind, JobFiles, LoadError, with_diameter, with_kerf};

/// A reading of a coupon. Lengths are mm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reading {
    /// What is measured: `laser.kerf` or `router.tool.diameter`.
    pub key: &'static str,
    /// The first notch that a bar presses into; of two faces the greater.
    pub notch: usize,
    /// Its drawn width.
    pub drawn: f64,
    /// Thickness of the bar.
    pub bar: f64,
    /// Width of the cut that the coupon was made with.
    pub before: f64,
    /// Width of the cut as read, good to a step either way.
    pub measured: f64,
    /// From notch to notch.
    pub step: f64,
    /// How much wider the cut is at the other face, where both were read.
    pub flare: Option<f64>,
    /// The material's press limit.
    pub press: f64,
}

impl Reading {
    /// Reads the coupon of a plan: `notch` is the first that a bar presses into, from either face where
    /// both were tried. `bar` is a bar's thickness, mm, where it was measured; else the material file's.
    ///
    /// # Errors
    /// The plan is no coupon's, the comb has no such notch, the thickness is not known well enough, or no
    /// cut is so narrow.
    pub fn of(
        plan: &Plan,
        notch: usize,
        other: Option<usize>,
        bar: Option<f64>,
    ) -> Result<Self, JobError> {
        let call = |what: String| Err(JobError::Call(what));
        let Some(comb) = &plan.coupon else {
            return call(
                "the folder holds a panel's job; name one that `lapwright coupon` made".into(),
            );
        };
        if other.is_some() && !comb.beam {
            return call("a cutter has no flare: read one face and leave --other-face out".into());
        }
        let last = comb.widths.len();
        // The wider the drawn notch, the narrower the cut: the tighter face decides whether bars go in.
        let tight = notch.max(other.unwrap_or(notch));
        let loose = notch.min(other.unwrap_or(notch));
        let (Some(drawn), Some(narrow)) = (comb.width(tight), comb.width(loose)) else {
            return call(format!(
                "the comb has notches 1 to {last}; where a bar is loose in notch 1 the cut is wider than \
                 this comb can tell, where it enters none it is narrower: write a better {} by hand and \
                 cut a new coupon",
                key(comb.beam)
            ));
        };
        let Some(bar) = bar.or(comb.known_bar()) else {
            return call(format!(
                "the stock measures {} to {} mm, and a coupon reads to {} mm: measure the bar where it \
                 presses and add --bar MM",
                comb.bar[0], comb.bar[1], comb.step
            ));
        };
        let [low, high] = [comb.bar[0] - 0.5, comb.bar[1] + 0.5];
        if !(low..=high).contains(&bar) {
            return call(format!(
                "a bar of {bar} mm is not of this stock, {} to {} mm; --bar takes mm",
                comb.bar[0], comb.bar[1]
            ));
        }
        let measured = micron(comb.cut + (bar - drawn));
        if measured <= 0.0 {
            return call(format!(
                "a bar of {bar} mm in notch {tight}, drawn {drawn} mm, would mean a cut of {measured} mm, \
                 and no cut is so narrow: read the first notch that the bar presses into"
            ));
        }
        Ok(Self {
            key: key(comb.beam),
            notch: tight,
            drawn,
            bar,
            before: micron(comb.cut),
            measured,
            step: comb.step,
            flare: other.map(|_| micron(drawn - narrow)),
            press: plan.files.material.press,
        })
    }

    /// Writes the reading into the maker's own material file (laser) or machine file (router): every
    /// other byte stays, and the file is exchanged as a whole or not at all. Gives what it said before.
    ///
    /// # Errors
    /// The file is not the maker's own, is not of the material or machine that the coupon was made for,
    /// cannot take the value, or the system refuses.
    pub fn write_into(&self, files: &JobFiles, path: &Path) -> Result<f64, JobError> {
        own_file(path)?;
        let io = |source| LoadError::Io {
            path: path.to_owned(),
            source,
        };
        // Through links to the file itself.
        let real = fs::canonicalize(path).map_err(io)?;
        in_no_job(&real)?;
        let bytes = fs::read(&real).map_err(io)?;
        let name = path.display().to_string();
        let beam = matches!(files.machine.head, HeadKind::Laser(_));
        right_kind(&name, &bytes, beam)?;
        let (before, there, meant, text) = if beam {
            let (file, text) = with_kerf(&name, &bytes, self.measured)?;
            let before = file.laser.map_or(0.0, |laser| laser.kerf);
            (before, file.name, files.material.name.clone(), text)
        } else {
            let (file, text) = with_diameter(&name, &bytes, self.measured)?;
            let (before, tool) = match file.head {
                HeadKind::Router(r) => (r.tool.diameter, r.tool.name),
                HeadKind::Laser(_) => (0.0, String::new()),
            };
            let meant = match &files.machine.head {
                HeadKind::Router(r) => r.tool.name.as_str(),
                HeadKind::Laser(_) => "",
            };
            let both = |machine: &str, tool: &str| format!("{machine}, {tool}");
            let meant = both(&files.machine.name, meant);
            (before, both(&file.name, &tool), meant, text)
        };
        if there != meant {
            return Err(JobError::Call(format!(
                "{name} is \"{there}\", but the coupon was cut for \"{meant}\": name the file that the \
                 panel names, or cut a coupon for this one"
            )));
        }
        exchange(&real, text.as_bytes())?;
        Ok(before)
    }
}

/// What is measured.
fn key(beam: bool) -> &'static str {
    if beam {
        "laser.kerf"
    } else {
        "router.tool.diameter"
    }
}

/// Refuses a material file where the value stands in a machine file, and the other way round; other
/// wrong files are told line by line.
fn right_kind(name: &str, bytes: &[u8], beam: bool) -> Result<(), JobError> {
    let told = |is: &str, key: &str, other: &str| {
        let text = format!("{name} is a {is} file; `{key}` stands in a {other} file: name yours");
        Err(JobError::Call(text))
    };
    if beam && with_diameter(name, bytes, 1.0).is_ok() {
        return told("machine", key(beam), "material");
    }
    if !beam && with_kerf(name, bytes, 1.0).is_ok() {
        return told("material", key(beam), "machine");
    }
    Ok(())
}

/// Refuses the name of a built-in file.
fn own_file(path: &Path) -> Result<(), JobError> {
    let built_in = BUILTIN.iter().find(|b| Path::new(b.name) == path);
    match built_in {
        Some(b) if !path.exists() => Err(JobError::Call(format!(
            "{name} is built in and stays as it is: `lapwright show {name} > my-{name}.toml`, name the \
             copy in the panel file, and give its path here",
            name = b.name
        ))),
        _ => Ok(()),
    }
}

/// Refuses a copy in a job folder, which would no longer prove true.
fn in_no_job(path: &Path) -> Result<(), JobError> {
    let folders = path.ancestors().skip(1).take(2);
    match folders.into_iter().find(|f| f.join("job.json").exists()) {
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
    let mut name = std::ffi::OsString::from(".");
    name.push(path.file_name().unwrap_or_default());
    name.push(".lapwright-new");
    let fresh: PathBuf = path.with_file_name(name);
    let write = || -> std::io::Result<()> {
        match fs::remove_file(&fresh) {
            Err(e) if e.kind() != ErrorKind::NotFound => return Err(e),
            _ => {}
        }
        let mut file = fs::OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&fresh)?;
        file.write_all(bytes)?;
        file.set_permissions(fs::metadata(path)?.permissions())?;
        file.sync_all()?;
        fs::rename(&fresh, path)
    };
    write().map_err(|source| {
        // What is left of it is of no use; the first error is the one to tell.
        let _ = fs::remove_file(&fresh);
        let doing = format!("cannot write {}; it is as it was", path.display());
        JobError::Deliver(DeliverError::System { doing, source })
    })
}
