//! Plan, check, write and prove for a growing series of panels: time and peak memory.
//!
//! Checking and writing include the replay that every file passes before it is put in place; proving starts from the
//! folder on disk. `cargo bench --bench stages` runs each size in a process of its own, so that its peak memory is its
//! own, checks the answer and prints a row. `cargo bench --bench stages -- 1000 3` runs one size with a
//! number of families (2: square, 3: three-way).

use std::process::{Command, ExitCode};
use std::time::Instant;

use lapwright::job::{Checked, Edited, Made, deliver, plan, prove};
use lapwright::lattice::Lattice;
use lapwright::panel::{JobFiles, SourceFile, SourceKind};
use lapwright::plan::Plan;

const SIZES: [usize; 3] = [1_000, 10_000, 100_000];

fn main() -> ExitCode {
    let numbers: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    match numbers[..] {
        [joints, families] => one(joints, families),
        _ => all(),
    }
}

fn all() -> ExitCode {
    println!(
        "layout      nodes  notches  lattice s   plan s  check s  write s  prove s  us/node  peak MB"
    );
    let Ok(me) = std::env::current_exe() else {
        return ExitCode::FAILURE;
    };
    for families in [2, 3] {
        for joints in SIZES {
            let args = [joints.to_string(), families.to_string()];
            match Command::new(&me).args(args).status() {
                Ok(status) if status.success() => {}
                _ => return ExitCode::FAILURE,
            }
        }
    }
    ExitCode::SUCCESS
}

fn one(joints: usize, families: usize) -> ExitCode {
    match timed(joints, families) {
        Ok(row) => {
            println!("{row}");
            ExitCode::SUCCESS
        }
        Err(e) => {
            eprintln!("{joints} joints: {e}");
            ExitCode::FAILURE
        }
    }
}

fn timed(joints: usize, families: usize) -> Result<String, String> {
    let files = files(joints, families)?;
    let start = Instant::now();
    Lattice::build(&files.panel, files.material.measured()).map_err(|e| format!("{e:?}"))?;
    let lattice = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let plan = plan(files, &mut |_| {}).map_err(|e| e.to_string())?;
    let planned = start.elapsed().as_secs_f64();
    let start = Instant::now();
    Checked::of(&plan, &mut |_| {}).map_err(|e| e.to_string())?;
    let checked = start.elapsed().as_secs_f64();
    let folder = tempfile::tempdir().map_err(|e| e.to_string())?;
    let dir = folder.path().join("job");
    let start = Instant::now();
    let made = Made::of(&plan, &mut |_| {}).map_err(|e| e.to_string())?;
    deliver(&dir, &made.files, Edited::Replaced, &mut |_| {}).map_err(|e| e.to_string())?;
    let wrote = start.elapsed().as_secs_f64();
    check(&plan, joints)?;
    let (nodes, notches) = (plan.lattice().nodes.len(), plan.lattice().joint_count());
    drop((plan, made));
    let start = Instant::now();
    prove(&dir, &mut |_| {}).map_err(|e| e.to_string())?;
    let proved = start.elapsed().as_secs_f64();
    Ok(format!(
        "{:<10} {nodes:>6} {notches:>8} {lattice:>10.3} {planned:>8.3} {checked:>8.3} {wrote:>8.3} {proved:>8.3} {:>8.1} {:>8.0}",
        if families == 2 { "square" } else { "three-way" },
        1e6 * (planned + wrote) / joints as f64,
        peak_mb(),
    ))
}

/// The answer before the time: about as many nodes as asked for, and a fit without overlap.
fn check(plan: &Plan, joints: usize) -> Result<(), String> {
    let nodes = plan.lattice().nodes.len() as f64;
    let ratio = nodes / joints as f64;
    if !(0.8..1.4).contains(&ratio) {
        return Err(format!("{nodes} nodes for {joints}"));
    }
    if plan.panel().ok_or("no panel")?.meant.interference_mm3 > 1e-6 {
        return Err(format!(
            "{} mm3 in common",
            plan.panel().ok_or("no panel")?.meant.interference_mm3
        ));
    }
    Ok(())
}

fn files(joints: usize, families: usize) -> Result<JobFiles, String> {
    let n = (joints as f64).sqrt().round() as usize - 1;
    let pitch = 12.0;
    let (ground, side, overhang) = if families == 2 {
        let ground = format!("layout = \"square\"\npitch_across = {pitch}\npitch_up = {pitch}");
        (ground, "{ clear = 5 }", "")
    } else {
        let ground = format!("layout = \"three-way\"\npitch = {pitch}");
        (ground, "\"inner-edge\"", "overhang = 4.5\n")
    };
    let panel = format!(
        "name = \"bench\"\nmachine = \"m\"\nmaterial = \"m\"\nstock = \"s\"\npost_processor = \"p\"\n\
         joint_limit = 1000000\n[ground]\n{ground}\ncolumns = {n}\nrows = {n}\nface = 1.5\ndepth = 9\n\
         [outline]\nleft = {side}\nright = {side}\nbottom = {side}\ntop = {side}\n{overhang}\
         [cut]\nmethod = \"flat\"\nscale_model = true\nclearance = 0.05\n",
    );
    let text = |kind, name| {
        let found = lapwright::panel::builtin(kind, name);
        found
            .map(|b| b.text.to_owned())
            .ok_or_else(|| format!("no built-in {name}"))
    };
    let machine = text(SourceKind::Machine, "desk-laser")?
        .replace("travel = [600, 400]", "travel = [9000, 3000]");
    let stock =
        "name = \"rolls\"\ntrim = 5\n[[blank]]\nname = \"roll\"\nlength = 8000\nwidth = 2000\n";
    let sources = [
        (SourceKind::Panel, panel),
        (SourceKind::Machine, machine),
        (
            SourceKind::Material,
            text(SourceKind::Material, "card-1.5")?,
        ),
        (SourceKind::Stock, stock.to_owned()),
        (SourceKind::Post, text(SourceKind::Post, "laser-mm")?),
    ];
    let source = |(kind, text): (SourceKind, String)| SourceFile {
        kind,
        name: kind.file_name().to_owned(),
        bytes: text.into_bytes(),
    };
    JobFiles::from_sources(sources.into_iter().map(source).collect()).map_err(|e| e.to_string())
}

/// Greatest resident memory of this process so far, MB; 0 where the system does not tell.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:"));
    let kb = line.and_then(|l| l.split_whitespace().nth(1));
    kb.and_then(|v| v.parse::<f64>().ok())
        .map_or(0.0, |kb| kb / 1024.0)
}
