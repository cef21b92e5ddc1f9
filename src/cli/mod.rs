//! The verbs, nothing else.
//!
//! Standard output is for results, standard error for progress and complaints. Exit status: 0 done; 1 a
//! check failed, nothing written; 2 the input or the call is wrong; 3 the system refused.

mod call;
mod fit;
mod help;
mod named;
mod printed;
mod progress;
mod refused;
mod report;

use std::path::Path;
use std::process::ExitCode;

use clap::Parser;
use lapwright::job::{
    Checked, Edited, JobError, Made, Reading, Tried, coupon_plan, deliver, may_replace, plan,
    prove, restore,
};
use lapwright::panel::{JobFiles, parse_length};
use lapwright::plan::Plan;
use lapwright::setup::CouponKind;

use call::{Call, Replace, Verb};
use named::{new, panel_files, show};
use printed::print;
use progress::Progress;

/// Exit status where the system refused.
const REFUSED: u8 = 3;

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
        Err(e) => return refused::call(&e),
    };
    let said = Said {
        json: call.json,
        quiet: call.quiet,
    };
    let outcome = match call.verb {
        Verb::Make {
            panel,
            out,
            replace,
        } => panel_files(&panel).and_then(|f| make(f, &to(&out, replace), said, false)),
        Verb::Demo { out, replace } => JobFiles::builtin_panel("demo")
            .map_err(Into::into)
            .and_then(|f| make(f, &to(&out, replace), said, true)),
        Verb::Check { panel } => panel_files(&panel).and_then(|f| check(f, said)),
        Verb::Prove { dir } => prove_dir(&dir, said),
        Verb::New { layout, cutter } => new(layout.as_deref(), cutter.into()),
        Verb::Help { topic } => help::page(topic.as_deref()),
        Verb::Fit(args) => args.run(said),
        Verb::Coupon {
            panel,
            kind,
            out,
            replace,
        } => panel_files(&panel).and_then(|f| coupon(f, kind.into(), &to(&out, replace), said)),
        Verb::ReadCoupon {
            dir,
            notch,
            underside,
            binds,
            bar,
            into,
        } => {
            let tried = Tried {
                notch,
                underside,
                binds,
                bar,
            };
            read_coupon(&dir, &tried, into.as_deref(), said)
        }
        Verb::Show { name } => show(name.as_deref()),
        Verb::Completions { shell } => Ok(help::completions(shell)),
        Verb::Man { verb } => help::man(verb.as_deref()),
        Verb::Licences => Ok(printed::licences()),
    };
    match outcome {
        Ok(text) => print(&text),
        Err(e) => refused::job(&e, said.json),
    }
}

/// How much is said, and in which form.
#[derive(Debug, Clone, Copy)]
struct Said {
    /// Results as JSON.
    json: bool,
    /// No progress, and no summary of what was made or found sound.
    quiet: bool,
}

fn to(out: &Path, replace: Replace) -> Target<'_> {
    let edited = replace.into();
    Target { out, edited }
}

/// Where a job is put.
struct Target<'a> {
    out: &'a Path,
    edited: Edited,
}

impl Target<'_> {
    /// Plans a job, makes its files and puts them in place; `text` is what is said of it.
    fn fill(
        &self,
        said: Said,
        plan: impl FnOnce(&mut dyn FnMut(&str)) -> Result<Plan, JobError>,
        text: impl FnOnce(&Plan, &Made) -> String,
    ) -> Result<Vec<u8>, JobError> {
        let Self { out, edited } = *self;
        // Before the work, so that a wrong folder is told at once.
        restore(out)?;
        may_replace(out, edited)?;
        let mut progress = Progress::new(said.quiet);
        let plan = plan(&mut |what| progress.stage(what))?;
        let made = Made::of(&plan, &mut |what| progress.stage(what))?;
        progress.stage("folder");
        let carried = deliver(out, &made.files, edited, &mut |what| progress.stage(what))?;
        for file in carried.iter().filter(|_| !said.quiet) {
            eprintln!(
                "note: {} keeps {file}, which the system or an editor left there",
                out.display()
            );
        }
        Ok(result(&made, said, || text(&plan, &made)))
    }
}

fn make(files: JobFiles, to: &Target<'_>, said: Said, demo: bool) -> Result<Vec<u8>, JobError> {
    to.fill(
        said,
        |progress| plan(files, progress),
        |plan, made| report::made(plan, made, to.out, demo),
    )
}

fn coupon(
    files: JobFiles,
    kind: CouponKind,
    to: &Target<'_>,
    said: Said,
) -> Result<Vec<u8>, JobError> {
    to.fill(
        said,
        |progress| coupon_plan(files, kind, progress),
        |plan, made| report::coupon(plan, made, to.out),
    )
}

fn read_coupon(
    dir: &Path,
    tried: &Tried,
    into: Option<&Path>,
    said: Said,
) -> Result<Vec<u8>, JobError> {
    let mut progress = Progress::new(said.quiet);
    let (plan, _) = prove(dir, &mut |what| progress.stage(what))?;
    let reading = Reading::of(&plan, tried)?;
    let written = match into {
        Some(path) => Some((path, reading.write_into(&plan.files, path)?)),
        None => None,
    };
    if said.json {
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

fn check(files: JobFiles, said: Said) -> Result<Vec<u8>, JobError> {
    let mut progress = Progress::new(said.quiet);
    let plan = plan(files, &mut |what| progress.stage(what))?;
    if said.json {
        // It lists every file with its digest, so all of them are made.
        let made = Made::of(&plan, &mut |what| progress.stage(what))?;
        return Ok(result(&made, said, String::new));
    }
    let checked = Checked::of(&plan, &mut |what| progress.stage(what))?;
    warn(&checked.warnings);
    if said.quiet {
        return Ok(Vec::new());
    }
    Ok(report::checked(&plan, &checked.fit, &checked.checks).into_bytes())
}

fn prove_dir(dir: &Path, said: Said) -> Result<Vec<u8>, JobError> {
    let mut progress = Progress::new(said.quiet);
    let (_, made) = prove(dir, &mut |what| progress.stage(what))?;
    Ok(result(&made, said, || report::proven(dir, &made)))
}

fn result(made: &Made, said: Said, text: impl FnOnce() -> String) -> Vec<u8> {
    warn(&made.warnings);
    if said.json {
        made.summary().to_vec()
    } else if said.quiet {
        Vec::new()
    } else {
        text().into_bytes()
    }
}

fn warn(warnings: &[String]) {
    for warning in warnings {
        eprintln!("warning: {warning}");
    }
}
