//! The verbs, nothing else.
//!
//! Standard output is for results, standard error for progress and complaints. Exit status: 0 done; 1 a
//! check failed, nothing written; 2 the input or the call is wrong; 3 the system refused.

mod fit;
mod progress;
mod report;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use lapwright::job::{
    DeliverError, JobError, Made, Reading, Tried, coupon_plan, deliver, may_replace, plan, prove,
    restore, within_own_limit,
};
use lapwright::panel::{BUILTIN, JobFiles, new_layouts, new_panel, parse_length};
use lapwright::setup::CouponKind;

use fit::FitArgs;
use progress::Progress;

/// Exit status for a wrong call.
const WRONG_CALL: u8 = 2;
/// Exit status where the system refused.
const REFUSED: u8 = 3;

/// Plans interlocking lattice panels and writes proven cut files.
///
/// A folder is put in place as a whole. Where another run is doing that in the same folder above, this one waits
/// for it, says so after a second, and gives up after 30.
#[derive(Debug, Parser)]
#[command(name = "lapwright", version, propagate_version = true)]
struct Call {
    /// Print the summary as JSON.
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Make all files of a panel in a folder.
    Make {
        /// The panel file.
        panel: PathBuf,
        /// The folder, which is replaced as a whole. A run that is doing that beside it is waited for, 30 seconds
        /// at most.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
    },
    /// Run all checks and the dry fit; write nothing.
    Check {
        /// The panel file.
        panel: PathBuf,
    },
    /// Prove a folder from disk alone.
    Prove {
        /// The folder that `make` wrote.
        dir: PathBuf,
    },
    /// Find sizes that fit an opening, or make one of them a panel file.
    Fit(FitArgs),
    /// Make a coupon: a comb of notches, and bars to try in them.
    Coupon {
        /// A panel file: its machine, material, stock and post-processor are used.
        panel: PathBuf,
        /// What it measures: the width of the cut, or the clearance that joints should have.
        #[arg(long, value_enum, default_value = "kerf")]
        kind: Kind,
        /// The folder, which is replaced as a whole.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
    },
    /// Work out what a coupon tells that has been cut and tried, and write it down.
    ReadCoupon {
        /// The folder that `coupon` wrote.
        dir: PathBuf,
        /// Kerf: the first notch from notch 1 on that a bar presses into by hand. Fit: the narrowest that
        /// a bar slides into with hand pressure.
        #[arg(long, value_name = "NUMBER")]
        notch: usize,
        /// Kerf of a laser: the same tried at the underside of the comb.
        #[arg(long, value_name = "NUMBER")]
        underside: Option<usize>,
        /// Fit: the widest notch that a bar binds in.
        #[arg(long, value_name = "NUMBER")]
        binds: Option<usize>,
        /// What the bar measures where it was tried; else the material file's thickness.
        #[arg(long, value_name = "MM", value_parser = length)]
        bar: Option<f64>,
        /// Your own file to write the result into: material (kerf of a laser), machine (cutter) or panel
        /// (fit).
        #[arg(long, value_name = "FILE")]
        into: Option<PathBuf>,
    },
    /// Print a built-in file, to copy and change.
    Show {
        /// Its name.
        name: String,
    },
    /// Print a commented panel file to start from.
    New {
        /// The layout.
        layout: String,
    },
    /// Print the licences of the program, of its fonts, and of the crates in it.
    Licences,
    /// Make the embedded panel.
    Demo {
        /// The folder, which is replaced as a whole.
        #[arg(long, value_name = "DIR", default_value = "lapwright-demo")]
        out: PathBuf,
    },
}

/// Which coupon.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Kind {
    /// Kerf, or what a cutter really cuts.
    Kerf,
    /// The clearance of joints.
    Fit,
}

impl From<Kind> for CouponKind {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Kerf => Self::Kerf,
            Kind::Fit => Self::Fit,
        }
    }
}

/// Runs the call and gives its exit status. A fault of the program ends it like one of the system.
pub fn run() -> ExitCode {
    std::panic::set_hook(Box::new(|fault| {
        let what = fault.payload_as_str().unwrap_or_default();
        let place = fault.location().map(ToString::to_string);
        eprintln!(
            "a fault of this program: {what} ({})",
            place.unwrap_or_default()
        );
    }));
    std::panic::catch_unwind(answer).unwrap_or(REFUSED.into())
}

fn answer() -> ExitCode {
    let call = match Call::try_parse() {
        Ok(call) => call,
        Err(e) => {
            // Help and version are results; anything else is a wrong call.
            let status = if e.use_stderr() { WRONG_CALL } else { 0 };
            return if e.print().is_ok() {
                status.into()
            } else {
                REFUSED.into()
            };
        }
    };
    let outcome = match &call.verb {
        Verb::Make { panel, out } => load(panel).and_then(|f| make(f, out, call.json, false)),
        Verb::Demo { out } => JobFiles::builtin_panel("demo")
            .map_err(Into::into)
            .and_then(|f| make(f, out, call.json, true)),
        Verb::Check { panel } => load(panel).and_then(|f| check(f, call.json)),
        Verb::Prove { dir } => prove_dir(dir, call.json),
        Verb::New { layout } => return new(layout),
        Verb::Fit(args) => args.run(call.json),
        Verb::Coupon { panel, kind, out } => {
            load(panel).and_then(|f| coupon(f, (*kind).into(), out, call.json))
        }
        Verb::ReadCoupon {
            dir,
            notch,
            underside,
            binds,
            bar,
            into,
        } => {
            let tried = Tried {
                notch: *notch,
                underside: *underside,
                binds: *binds,
                bar: *bar,
            };
            read_coupon(dir, &tried, into.as_deref(), call.json)
        }
        Verb::Show { name } => return show(name),
        Verb::Licences => return licences(),
    };
    match outcome.map(|text| print(&text)) {
        Ok(status) => status,
        Err(e) => {
            eprintln!("{e}");
            e.exit_status().into()
        }
    }
}

/// Prints a result; a reader that has gone away is no fault of ours, a full disk is.
fn print(text: &[u8]) -> ExitCode {
    if let Err(e) = may_print(text.len() as u64) {
        eprintln!("{e}");
        return REFUSED.into();
    }
    let mut out = std::io::stdout().lock();
    match out.write_all(text).and_then(|()| out.flush()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("cannot print: {e}");
            REFUSED.into()
        }
    }
}

/// The licences that every copy of the program brings along, and what each is for.
const LICENCES: [(&str, &str); 4] = [
    (
        "lapwright: either of the two licences below, MIT or Apache-2.0, at your option",
        include_str!("../../LICENSE-MIT"),
    ),
    ("Apache-2.0", include_str!("../../LICENSE-APACHE")),
    ("Fonts", include_str!("../../LICENSE-FONTS")),
    ("Crates", include_str!("../../LICENSE-CRATES")),
];

fn licences() -> ExitCode {
    let told = LICENCES.map(|(what, text)| format!("==== {what} ====\n\n{}\n", text.trim()));
    print(told.join("\n").as_bytes())
}

/// Whether a result fits into the file that standard output may be.
#[cfg(target_os = "linux")]
fn may_print(bytes: u64) -> Result<(), DeliverError> {
    use rustix::fs::{FileType, fstat, tell};
    let out = std::io::stdout();
    let file = fstat(&out).is_ok_and(|meta| FileType::from_raw_mode(meta.st_mode).is_file());
    if !file {
        return Ok(());
    }
    let at = tell(&out).unwrap_or_default();
    within_own_limit("the result", at.saturating_add(bytes))
}

#[cfg(not(target_os = "linux"))]
fn may_print(_: u64) -> Result<(), DeliverError> {
    Ok(())
}

fn load(panel: &Path) -> Result<JobFiles, JobError> {
    if panel.is_dir() {
        let what = "is a folder; name a panel file";
        return Err(JobError::Call(format!("{} {what}", panel.display())));
    }
    JobFiles::load(panel).map_err(Into::into)
}

fn make(files: JobFiles, out: &Path, json: bool, demo: bool) -> Result<Vec<u8>, JobError> {
    // Before the work, so that a wrong folder is told at once.
    restore(out)?;
    may_replace(out)?;
    let mut progress = Progress::new();
    let plan = plan(files, &mut |what| progress.stage(what))?;
    let made = Made::of(&plan, &mut |what| progress.stage(what))?;
    progress.stage("folder");
    deliver(out, &made.files, &mut |what| progress.stage(what))?;
    Ok(result(&made, json, || {
        report::made(&plan, &made, out, demo)
    }))
}

fn coupon(files: JobFiles, kind: CouponKind, out: &Path, json: bool) -> Result<Vec<u8>, JobError> {
    restore(out)?;
    may_replace(out)?;
    let mut progress = Progress::new();
    let plan = coupon_plan(files, kind, &mut |what| progress.stage(what))?;
    let made = Made::of(&plan, &mut |what| progress.stage(what))?;
    progress.stage("folder");
    deliver(out, &made.files, &mut |what| progress.stage(what))?;
    Ok(result(&made, json, || report::coupon(&plan, &made, out)))
}

fn read_coupon(
    dir: &Path,
    tried: &Tried,
    into: Option<&Path>,
    json: bool,
) -> Result<Vec<u8>, JobError> {
    let mut progress = Progress::new();
    let (plan, _) = prove(dir, &mut |what| progress.stage(what))?;
    let reading = Reading::of(&plan, tried)?;
    let written = match into {
        Some(path) => Some((path, reading.write_into(&plan.files, path)?)),
        None => None,
    };
    if json {
        let mut text = serde_json::to_vec_pretty(&reading)
            .map_err(|e| JobError::Internal(format!("the reading: {e}")))?;
        text.push(b'\n');
        return Ok(text);
    }
    let built_in = reading.built_in(&plan.files);
    Ok(report::reading(&reading, written, built_in).into_bytes())
}

/// A length as the files have it: mm, or with a unit.
fn length(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(mm) if mm.is_finite() => Ok(mm),
        _ => parse_length(text).map_err(|e| e.to_string()),
    }
}

fn check(files: JobFiles, json: bool) -> Result<Vec<u8>, JobError> {
    let mut progress = Progress::new();
    let plan = plan(files, &mut |what| progress.stage(what))?;
    let made = Made::of(&plan, &mut |what| progress.stage(what))?;
    Ok(result(&made, json, || report::checked(&plan, &made)))
}

fn prove_dir(dir: &Path, json: bool) -> Result<Vec<u8>, JobError> {
    let mut progress = Progress::new();
    let (_, made) = prove(dir, &mut |what| progress.stage(what))?;
    Ok(result(&made, json, || report::proven(dir, &made)))
}

fn result(made: &Made, json: bool, text: impl FnOnce() -> String) -> Vec<u8> {
    for warning in &made.warnings {
        eprintln!("warning: {warning}");
    }
    if json {
        made.summary().to_vec()
    } else {
        text().into_bytes()
    }
}

fn new(layout: &str) -> ExitCode {
    match new_panel(layout) {
        Some(text) => print(text.as_bytes()),
        None => {
            let known = new_layouts().join(", ");
            eprintln!("there is no layout \"{layout}\"; the layouts are: {known}");
            WRONG_CALL.into()
        }
    }
}

fn show(name: &str) -> ExitCode {
    match BUILTIN.iter().find(|file| file.name == name) {
        Some(file) => print(file.text.as_bytes()),
        None => {
            let known: Vec<&str> = BUILTIN.iter().map(|file| file.name).collect();
            let known = known.join(", ");
            eprintln!("there is no built-in file \"{name}\"; the files are: {known}");
            WRONG_CALL.into()
        }
    }
}
