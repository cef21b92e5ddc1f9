//! The verbs, nothing else.
//!
//! Standard output is for results, standard error for progress and complaints. Exit status: 0 done; 1 a
//! check failed, nothing written; 2 the input or the call is wrong; 3 the system refused.

mod progress;
mod report;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use lapwright::job::{JobError, Made, Plan, deliver, may_replace, plan, prove, restore};
use lapwright::panel::{JobFiles, new_layouts, new_panel};

use progress::Progress;

/// Exit status for a wrong call.
const WRONG_CALL: u8 = 2;
/// Exit status where the system refused.
const REFUSED: u8 = 3;

/// Plans interlocking lattice panels and writes proven cut files.
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
        /// The folder, which is replaced as a whole.
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
    /// Print a commented panel file to start from.
    New {
        /// The layout.
        layout: String,
    },
    /// Make the embedded panel.
    Demo {
        /// The folder, which is replaced as a whole.
        #[arg(long, value_name = "DIR", default_value = "lapwright-demo")]
        out: PathBuf,
    },
}

/// Runs the call and gives its exit status.
pub fn run() -> ExitCode {
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
    deliver(out, &made.files)?;
    Ok(result(&plan, &made, json, || {
        report::made(&plan, &made, out, demo)
    }))
}

fn check(files: JobFiles, json: bool) -> Result<Vec<u8>, JobError> {
    let mut progress = Progress::new();
    let plan = plan(files, &mut |what| progress.stage(what))?;
    let made = Made::of(&plan, &mut |what| progress.stage(what))?;
    Ok(result(&plan, &made, json, || report::checked(&plan, &made)))
}

fn prove_dir(dir: &Path, json: bool) -> Result<Vec<u8>, JobError> {
    let mut progress = Progress::new();
    let (plan, made) = prove(dir, &mut |what| progress.stage(what))?;
    Ok(result(&plan, &made, json, || report::proven(dir, &made)))
}

fn result(plan: &Plan, made: &Made, json: bool, text: impl FnOnce() -> String) -> Vec<u8> {
    for warning in &plan.warnings {
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
