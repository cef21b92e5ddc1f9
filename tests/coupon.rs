//! The coupon: its folder proves true, and a reading changes one number of one file.
#![allow(clippy::panic, reason = "tests")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use tempfile::TempDir;

fn lapwright(words: &[&str], folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lapwright"))
        .args(words)
        .current_dir(folder)
        .output()
        .expect("the program runs")
}

/// Runs a call that must end with this status; gives what it said, both ways.
fn run(words: &[&str], folder: &Path, status: i32) -> String {
    let out = lapwright(words, folder);
    let said = [out.stdout, out.stderr].map(|s| String::from_utf8_lossy(&s).into_owned());
    assert_eq!(out.status.code(), Some(status), "{words:?}: {said:?}");
    said.concat()
}

/// Prints a built-in file into the folder, with text exchanged.
fn copy(folder: &Path, name: &str, to: &str, edits: &[(&str, &str)]) -> String {
    let mut text = run(&["show", name], folder, 0);
    for (old, new) in edits {
        assert!(text.contains(old), "{name} has {old}");
        text = text.replacen(old, new, 1);
    }
    fs::write(folder.join(to), &text).expect("written");
    text
}

/// A folder with a laser's panel and its own material file, and the coupon of it.
fn laser() -> (TempDir, String) {
    let dir = TempDir::new().expect("a folder");
    let own = ("\"card-1.5\"", "\"material.toml\"");
    copy(dir.path(), "demo", "panel.toml", &[own]);
    let material = copy(
        dir.path(),
        "card-1.5",
        "material.toml",
        &[("\n[laser]", "\r\n\n# kerf = 7, long ago\n[laser]")],
    );
    run(&["coupon", "panel.toml", "--out", "c"], dir.path(), 0);
    (dir, material)
}

#[test]
fn a_reading_changes_the_kerf_and_no_other_byte() {
    let (dir, before) = laser();
    let at = dir.path();
    let read = ["read-coupon", "c", "--notch", "13"];
    let said = run(&read, at, 0);
    // Drawn 1.54 for a bar of 1.5 and a kerf of 0.15: c + b - w = 0.11, by hand.
    assert!(said.contains("laser.kerf = 0.11 mm"), "{said}");
    let now = || fs::read_to_string(at.join("material.toml")).expect("there");
    assert_eq!(now(), before, "nothing is written unasked");
    // Twice is the same as once: the folder says what the coupon was cut with.
    for was in ["was 0.15, is 0.11", "was 0.11, is 0.11"] {
        let said = run(&[&read[..], &["--into", "material.toml"]].concat(), at, 0);
        assert!(said.contains(was), "{said}");
        assert_eq!(now(), before.replacen("kerf = 0.15", "kerf = 0.11", 1));
    }
    run(&["prove", "c"], at, 0);
    let names: Vec<String> = fs::read_dir(at)
        .expect("a folder")
        .map(|e| e.expect("an entry").file_name().to_string_lossy().into())
        .collect();
    assert!(
        names.iter().all(|n| !n.contains("lapwright-new")),
        "{names:?}"
    );
    // The corrected file's own coupon: the bar now belongs in the notch drawn as thick as itself.
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
    let said = run(&["read-coupon", "c", "--notch", "11"], at, 0);
    assert!(said.contains("laser.kerf = 0.11 mm"), "{said}");
}

#[test]
fn two_faces_give_the_tighter_cut_and_the_flare() {
    let (dir, _) = laser();
    for pair in [["12", "15"], ["15", "12"]] {
        let words = [
            "read-coupon",
            "c",
            "--notch",
            pair[0],
            "--other-face",
            pair[1],
            "--json",
        ];
        let said = run(&words, dir.path(), 0);
        let json: serde_json::Value = serde_json::from_str(&said).expect("JSON");
        // Drawn 1.52 and 1.58: 0.15 + 1.5 - 1.58, and 0.06 between the faces, by hand.
        assert_eq!(json["measured"], 0.07);
        assert_eq!(json["flare"], 0.06);
        assert_eq!(json["notch"], 15);
    }
}

#[test]
fn a_router_writes_its_cutter_into_the_machine_file() {
    let dir = TempDir::new().expect("a folder");
    let at = dir.path();
    let own = ("\"small-router\"", "\"machine.toml\"");
    copy(at, "router-square", "panel.toml", &[own]);
    let before = copy(at, "small-router", "machine.toml", &[]);
    copy(at, "hardwood-4", "material.toml", &[]);
    copy(at, "ply-3", "ply.toml", &[]);
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
    let read = ["read-coupon", "c", "--notch", "6"];
    let into = |file| [&read[..], &["--into", file]].concat();
    let said = run(&into("ply.toml"), at, 2);
    assert!(said.contains("is a material file"), "{said}");
    run(&into("material.toml"), at, 2);
    run(
        &["read-coupon", "c", "--notch", "6", "--other-face", "7"],
        at,
        2,
    );
    // Notch 6 is drawn 3.95 for a bar of 4.0: 3.0 + 0.05, by hand.
    run(&into("machine.toml"), at, 0);
    let after = fs::read_to_string(at.join("machine.toml")).expect("there");
    assert_eq!(
        after,
        before.replacen("diameter = 3.0 ", "diameter = 3.05 ", 1)
    );
}

#[test]
fn wrong_readings_are_refused_with_what_would_be_right() {
    let (dir, before) = laser();
    let at = dir.path();
    copy(at, "ply-3", "other.toml", &[]);
    copy(at, "small-router", "machine.toml", &[]);
    run(&["make", "panel.toml", "--out", "job"], at, 0);
    let cases: &[(&[&str], &str)] = &[
        (&["c", "--notch", "0"], "notches 1 to 21"),
        (&["c", "--notch", "22"], "notches 1 to 21"),
        (
            &["c", "--notch", "12", "--other-face", "22"],
            "notches 1 to 21",
        ),
        (&["c", "--notch", "19"], "no cut is so narrow"),
        (&["c", "--notch", "12", "--bar", "1.5 in"], "--bar takes mm"),
        (&["c", "--notch", "12", "--bar", "nan"], "--bar"),
        (&["job", "--notch", "12"], "lapwright coupon"),
        (
            &["c", "--notch", "12", "--into", "card-1.5"],
            "lapwright show card-1.5",
        ),
        (
            &["c", "--notch", "12", "--into", "other.toml"],
            "plywood 3 mm",
        ),
        (
            &["c", "--notch", "12", "--into", "machine.toml"],
            "is a machine file",
        ),
        (&["c", "--notch", "12", "--into", "none.toml"], "not there"),
        (
            &["c", "--notch", "12", "--into", "c/source/material.toml"],
            "belongs to the job",
        ),
    ];
    for (words, said) in cases {
        let told = run(&[&["read-coupon"], *words].concat(), at, 2);
        assert!(told.contains(said), "{words:?}: {told}");
    }
    let now = fs::read_to_string(at.join("material.toml")).expect("there");
    assert_eq!(now, before);
    run(&["show", "nothing"], at, 2);
}

#[test]
fn stock_that_varies_needs_a_measured_bar() {
    let (dir, _) = laser();
    let at = dir.path();
    let range = ("thickness = 1.5 ", "thickness = [1.46, 1.54] ");
    copy(at, "card-1.5", "material.toml", &[range]);
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
    let said = run(&["read-coupon", "c", "--notch", "13"], at, 2);
    assert!(said.contains("--bar MM"), "{said}");
    // Two steps more below: notch 13 is drawn 1.5 mm.
    let said = run(
        &["read-coupon", "c", "--notch", "13", "--bar", "1.46 mm"],
        at,
        0,
    );
    assert!(said.contains("laser.kerf = 0.11 mm"), "{said}");
}

#[test]
fn a_coupon_that_was_changed_is_not_read() {
    let (dir, _) = laser();
    let at = dir.path();
    let job = fs::read_to_string(at.join("c/job.json")).expect("there");
    let gcode = fs::read_to_string(at.join("c/gcode/coupon-01.nc")).expect("there");
    let read = ["read-coupon", "c", "--notch", "12"];
    // A folder that hides what it is, one that says something else of its notches, and one whose program
    // cuts something else.
    let spoilt = [
        (
            "c/job.json",
            job.replace("\"coupon\": true", "\"coupon\": false"),
            &job,
        ),
        (
            "c/job.json",
            job.replacen("\"step\": 0.02", "\"step\": 0.03", 1),
            &job,
        ),
        (
            "c/gcode/coupon-01.nc",
            gcode.replacen("F900", "F901", 1),
            &gcode,
        ),
    ];
    for (file, text, sound) in spoilt {
        assert_ne!(&text, sound, "{file} is changed");
        fs::write(at.join(file), text).expect("written");
        run(&read, at, 1);
        run(&["prove", "c"], at, 1);
        fs::write(at.join(file), sound).expect("written");
        run(&read, at, 0);
    }
    // A panel's folder that says it is a coupon's.
    run(&["make", "panel.toml", "--out", "job"], at, 0);
    let job = fs::read_to_string(at.join("job/job.json")).expect("there");
    let lie = job.replace("\"coupon\": false", "\"coupon\": true");
    fs::write(at.join("job/job.json"), lie).expect("written");
    run(&["prove", "job"], at, 1);
}

#[test]
fn a_cutter_too_wide_for_the_bars_is_refused() {
    let dir = TempDir::new().expect("a folder");
    let at = dir.path();
    let panel = [
        ("\"small-router\"", "\"machine.toml\""),
        ("\"hardwood-4\"", "\"ply-3\""),
        ("\"hardwood-strips\"", "\"ply-sheets\""),
        ("face = 4", "face = 3"),
    ];
    copy(at, "router-square", "panel.toml", &panel);
    // Bars of 3 mm and notches to 3.3: three of them, 3.2 to 3.3, take a cutter of 3.2.
    for (diameter, status, says) in [("3.2", 0, "left out"), ("3.201", 1, "slot-width")] {
        let edit = format!("diameter = {diameter}");
        copy(
            at,
            "small-router",
            "machine.toml",
            &[("diameter = 3.0", &edit)],
        );
        let said = run(&["coupon", "panel.toml", "--out", "c"], at, status);
        assert!(said.contains(says), "{said}");
        assert!(at.join("c").exists(), "the first stays");
    }
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link_and_rights_stay() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let (dir, before) = laser();
    let at = dir.path();
    fs::create_dir(at.join("shop")).expect("a folder");
    fs::rename(at.join("material.toml"), at.join("shop/card.toml")).expect("moved");
    symlink("shop/card.toml", at.join("material.toml")).expect("a link");
    let real = at.join("shop/card.toml");
    fs::set_permissions(&real, fs::Permissions::from_mode(0o640)).expect("rights");
    let words = [
        "read-coupon",
        "c",
        "--notch",
        "10",
        "--into",
        "material.toml",
    ];
    run(&words, at, 0);
    let link = fs::symlink_metadata(at.join("material.toml")).expect("there");
    assert!(link.file_type().is_symlink());
    assert_eq!(
        fs::read_to_string(&real).expect("there"),
        before.replacen("kerf = 0.15", "kerf = 0.17", 1)
    );
    let mode = fs::metadata(&real).expect("there").permissions().mode();
    assert_eq!(mode & 0o777, 0o640);
}
