//! The same through the program: exit status, and what is left on disk.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use super::{parent, snapshot, write};

fn program(args: &[&str], cwd: &Path) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lapwright"));
    command.args(args).current_dir(cwd).output().expect("run")
}

fn status(args: &[&str], cwd: &Path) -> i32 {
    program(args, cwd).status.code().expect("an exit status")
}

/// A panel whose web is too narrow: a check fails.
fn failing_panel(dir: &Path) {
    let panel = lapwright::panel::builtin(lapwright::panel::SourceKind::Panel, "demo");
    let text = panel.expect("built in").text;
    let text = text.replace("pitch_up = 24", "pitch_up = 2.5");
    fs::write(dir.join("narrow.toml"), text).expect("written");
}

#[test]
fn a_failed_check_writes_nothing() {
    let parent = parent();
    failing_panel(parent.path());
    let before = snapshot(parent.path());
    let run = program(&["make", "narrow.toml", "--out", "deep/out"], parent.path());
    assert_eq!(run.status.code(), Some(1), "a check failed");
    assert!(run.stdout.is_empty(), "no result");
    let said = String::from_utf8_lossy(&run.stderr).into_owned();
    assert!(said.contains("web"), "{said}");
    assert_eq!(snapshot(parent.path()), before);

    // Nor does it touch the job that is there.
    assert_eq!(status(&["demo", "--out", "out"], parent.path()), 0);
    let before = snapshot(parent.path());
    assert_eq!(
        status(&["make", "narrow.toml", "--out", "out"], parent.path()),
        1
    );
    assert_eq!(snapshot(parent.path()), before);
}

#[test]
fn a_folder_moved_aside_comes_back_even_if_nothing_is_made() {
    let parent = parent();
    failing_panel(parent.path());
    assert_eq!(status(&["demo", "--out", "out"], parent.path()), 0);
    let before = snapshot(parent.path());
    let (dir, old) = (
        parent.path().join("out"),
        parent.path().join(".out.lapwright-old"),
    );
    fs::rename(&dir, &old).expect("moved aside");
    assert_eq!(
        status(&["make", "narrow.toml", "--out", "out"], parent.path()),
        1
    );
    assert_eq!(snapshot(parent.path()), before);
    // A half-written new folder beside it changes nothing.
    fs::rename(&dir, &old).expect("moved aside");
    let half = [
        (".lapwright-unfinished".to_owned(), b"".to_vec()),
        ("gcode/sheet-01.nc".to_owned(), b"G21".to_vec()),
    ];
    write(&parent.path().join(".out.lapwright-new"), &half.into());
    assert_eq!(status(&["demo", "--out", "out"], parent.path()), 0);
    assert_eq!(snapshot(parent.path()), before);
    assert_eq!(status(&["prove", "out"], parent.path()), 0);
}

#[test]
fn a_folder_that_is_not_ours_is_told_before_the_work() {
    let parent = parent();
    let dir = parent.path().join("out");
    write(&dir, &[("letter.txt".to_owned(), b"dear".to_vec())].into());
    fs::write(parent.path().join("file"), "mine").expect("written");
    let before = snapshot(parent.path());
    for (out, named) in [
        ("out", "letter.txt"),
        ("file", "file"),
        (".", "."),
        ("/", "/"),
    ] {
        let run = program(&["demo", "--out", out], parent.path());
        let said = String::from_utf8_lossy(&run.stderr).into_owned();
        assert_eq!(run.status.code(), Some(2), "{out}: {said}");
        assert!(said.contains(named), "{out}: {said}");
        assert!(run.stdout.is_empty(), "{out}: no result");
    }
    assert_eq!(snapshot(parent.path()), before);
}

#[test]
fn a_job_replaces_a_job() {
    let parent = parent();
    assert_eq!(status(&["demo"], parent.path()), 0);
    let demo = snapshot(&parent.path().join("lapwright-demo"));
    fs::write(
        parent.path().join("panel.toml"),
        lapwright::panel::new_panel("square").expect("a layout"),
    )
    .expect("written");
    let make = ["make", "panel.toml", "--out", "lapwright-demo"];
    assert_eq!(status(&make, parent.path()), 0);
    let made = snapshot(&parent.path().join("lapwright-demo"));
    assert_ne!(made, demo);
    assert_eq!(status(&["demo"], parent.path()), 0);
    assert_eq!(snapshot(&parent.path().join("lapwright-demo")), demo);
    assert_eq!(fs::read_dir(parent.path()).expect("a folder").count(), 2);
}

#[cfg(target_os = "linux")]
#[test]
fn a_place_that_cannot_be_written_is_the_systems_refusal() {
    let parent = parent();
    let run = program(&["demo", "--out", "/proc/lapwright-out"], parent.path());
    assert_eq!(run.status.code(), Some(3));
    assert!(run.stdout.is_empty(), "no result");
}
