//! The coupon: its folder proves true, and a reading changes one number of one file.
#![allow(clippy::panic, reason = "tests")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use lapwright::panel::SourceKind;
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

/// Prints a built-in file into the folder, or puts a panel there that the program does not carry, with text exchanged.
fn copy(folder: &Path, name: &str, to: &str, edits: &[(&str, &str)]) -> String {
    let mut text = match name {
        "check" | "plain-window" => crate::panel_support::text(SourceKind::Panel, name).to_owned(),
        _ => run(&["show", name], folder, 0),
    };
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
    copy(dir.path(), "plain-window", "panel.toml", &[own]);
    let material = copy(
        dir.path(),
        "card-1.5",
        "material.toml",
        &[("\n[laser]", "\r\n\n# kerf = 7, long ago\n[laser]")],
    );
    run(&["coupon", "panel.toml", "--out", "c"], dir.path(), 0);
    (dir, material)
}

/// A file whose value of a key has been measured: off the list of values from memory, and without the words behind it.
fn told(file: &str, key: &str) -> String {
    let listed = format!(" \"{key}\",");
    assert!(file.contains(&listed), "{key} is listed");
    let (_, name) = key.rsplit_once('.').expect("a key of a table");
    let line = |line: &str| match line.find(" (from memory") {
        Some(at) if line.starts_with(&format!("{name} = ")) => {
            format!("{}\n", &line[..at])
        }
        _ => line.to_owned(),
    };
    let unlisted = file.replacen(&listed, "", 1);
    unlisted.split_inclusive('\n').map(line).collect()
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
        assert_eq!(
            now(),
            told(&before, "laser.kerf").replacen("kerf = 0.15", "kerf = 0.11", 1)
        );
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
            "--underside",
            pair[1],
            "--json",
        ];
        let said = run(&words, dir.path(), 0);
        let json: serde_json::Value = serde_json::from_str(&said).expect("JSON");
        // Drawn 1.52 and 1.58: 0.15 + 1.5 - 1.58, and 0.06 between the faces, by hand.
        assert_eq!(json["measured"], 0.07);
        assert_eq!(json["flare"], 0.06);
        assert_eq!(json["notch"], 15);
        let wider = if pair[0] == "12" { "top" } else { "underside" };
        assert_eq!(json["wider_face"], wider);
    }
}

#[test]
fn flare_is_written_beside_the_kerf_and_shows_as_gap() {
    let (dir, before) = laser();
    let at = dir.path();
    let gap = || -> f64 {
        run(&["make", "panel.toml", "--out", "job"], at, 0);
        let job = fs::read_to_string(at.join("job/job.json")).expect("there");
        let job: serde_json::Value = serde_json::from_str(&job).expect("JSON");
        job["dry_fit"]["largest_gap_mm"].as_f64().expect("a number")
    };
    let without = gap();
    let faces = ["--notch", "10", "--underside", "13"];
    let words = [&["read-coupon", "c", "--into", "material.toml"], &faces[..]].concat();
    let said = run(&words, at, 0);
    assert!(said.contains("wider at the top"), "{said}");
    assert!(said.contains("laser.flare was 0, is 0.06"), "{said}");
    // Drawn 1.48 and 1.54: 0.15 + 1.5 - 1.54, and 0.06 between the faces, by hand.
    let now = fs::read_to_string(at.join("material.toml")).expect("there");
    let before = told(&told(&before, "laser.kerf"), "laser.flare");
    let meant = before.replacen("kerf = 0.15", "kerf = 0.11", 1);
    assert_eq!(now, meant.replacen("flare = 0 ", "flare = 0.06 ", 1));
    // Half of it at either wall. Programs have three decimals, so that walls move by rounding.
    let more = gap() - without;
    assert!((more - 0.03).abs() < 0.0015, "{more}");
    // One face read alone says nothing of the flare.
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
    run(
        &[
            "read-coupon",
            "c",
            "--notch",
            "11",
            "--into",
            "material.toml",
        ],
        at,
        0,
    );
    assert_eq!(
        fs::read_to_string(at.join("material.toml")).expect("there"),
        now
    );
}

#[test]
fn a_file_without_flare_gets_a_line_for_it() {
    let (dir, _) = laser();
    let at = dir.path();
    let line = "flare = 0                             # mm that the cut is wider at the other face (from memory: read it from a coupon)\n";
    let unlisted = (" \"laser.flare\",", "");
    let before = copy(at, "card-1.5", "material.toml", &[(line, ""), unlisted]);
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
    let read = |notch, underside| {
        let words = [
            "read-coupon",
            "c",
            "--notch",
            notch,
            "--underside",
            underside,
        ];
        run(&[&words[..], &["--into", "material.toml"]].concat(), at, 0);
        fs::read_to_string(at.join("material.toml")).expect("there")
    };
    let before = told(&before, "laser.kerf");
    assert_eq!(read("11", "11"), before, "no flare, no line");
    let gap = "gap = 2                               # mm of card between neighbouring pieces (from memory)\n";
    let meant = before.replacen("kerf = 0.15", "kerf = 0.13", 1).replacen(
        gap,
        &format!("{gap}flare = 0.04\n"),
        1,
    );
    assert_eq!(read("10", "12"), meant);
}

#[test]
fn a_fit_is_written_into_the_panel_file() {
    let (dir, _) = laser();
    let at = dir.path();
    let before = fs::read_to_string(at.join("panel.toml")).expect("there");
    run(
        &["coupon", "panel.toml", "--kind", "fit", "--out", "f"],
        at,
        0,
    );
    run(&["prove", "f"], at, 0);
    let read = ["read-coupon", "f", "--notch", "9", "--binds", "8"];
    let said = run(&read, at, 0);
    // 1.5 + 0.05 is notch 11; notch 9 is two steps of 0.02 narrower, by hand.
    assert!(said.contains("cut.clearance = 0.01 mm"), "{said}");
    assert!(said.contains("binds      at -0.01 mm"), "{said}");
    let now = || fs::read_to_string(at.join("panel.toml")).expect("there");
    assert_eq!(now(), before, "nothing is written unasked");
    let said = run(&[&read[..], &["--into", "panel.toml"]].concat(), at, 0);
    assert!(said.contains("was 0.05, is 0.01"), "{said}");
    assert_eq!(
        now(),
        before.replacen("clearance = 0.05", "clearance = 0.01", 1)
    );
    // The panel has its new clearance in the middle of its own coupon.
    run(
        &["coupon", "panel.toml", "--kind", "fit", "--out", "f"],
        at,
        0,
    );
    let json = run(
        &[
            "read-coupon",
            "f",
            "--notch",
            "11",
            "--binds",
            "9",
            "--json",
        ],
        at,
        0,
    );
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(json["coupon"], "fit");
    assert_eq!(json["measured"], 0.01);
    assert_eq!(json["binds"], -0.03);
    assert_eq!(json["limits"], serde_json::json!([-0.05, 0.3]));
}

#[test]
fn a_fit_is_no_tighter_and_no_looser_than_the_material_bears() {
    let (dir, _) = laser();
    let at = dir.path();
    // The material bears -0.05 to 0.3; about 0.05 the comb has -0.15 to 0.25, so the panel asks for more.
    let loose = ("clearance = 0.05", "clearance = 0.15");
    let own = ("\"card-1.5\"", "\"material.toml\"");
    let panel = copy(at, "plain-window", "panel.toml", &[own, loose]);
    run(
        &["coupon", "panel.toml", "--kind", "fit", "--out", "f"],
        at,
        0,
    );
    let list = fs::read_to_string(at.join("f/coupon.csv")).expect("there");
    // Notch, its clearance, and whether it is borne: both limits belong to the inside.
    for (notch, clearance, status, says) in [
        ("1", "-0.05", 0, "yes"),
        ("18", "0.29", 0, "yes"),
        ("19", "0.31", 1, "no"),
        ("21", "0.35", 1, "no"),
    ] {
        let row = list.lines().find(|l| l.starts_with(&format!("{notch},")));
        let row = row.expect("a row");
        assert!(row.ends_with(&format!("{clearance},{says}")), "{row}");
        if notch != "1" {
            let binds = (notch.parse::<usize>().expect("a number") - 1).to_string();
            let words = ["read-coupon", "f", "--notch", notch, "--binds", &binds];
            let said = run(
                &[&words[..], &["--into", "panel.toml"]].concat(),
                at,
                status,
            );
            assert_eq!(status == 1, said.contains("play: "), "{said}");
        }
        if status == 1 {
            fs::write(at.join("panel.toml"), &panel).expect("written");
        }
    }
    // Tighter than `press`.
    let tight = ("clearance = 0.05", "clearance = 0.01");
    let panel = copy(at, "plain-window", "panel.toml", &[own, tight]);
    run(
        &["coupon", "panel.toml", "--kind", "fit", "--out", "f"],
        at,
        0,
    );
    // 0.01 is notch 11: notch 8 has -0.05, notch 7 -0.07, by hand.
    for (notch, status) in [("7", 1), ("8", 0)] {
        let words = ["read-coupon", "f", "--notch", notch, "--binds", "6"];
        let said = run(
            &[&words[..], &["--into", "panel.toml"]].concat(),
            at,
            status,
        );
        assert_eq!(status == 1, said.contains("press: "), "{said}");
        let now = fs::read_to_string(at.join("panel.toml")).expect("there");
        assert_eq!(now == panel, status == 1);
    }
    // A panel that asks for more than its material bears gets no fit coupon.
    copy(
        at,
        "plain-window",
        "panel.toml",
        &[own, ("clearance = 0.05", "clearance = 0.31")],
    );
    let said = run(
        &["coupon", "panel.toml", "--kind", "fit", "--out", "f"],
        at,
        1,
    );
    assert!(said.contains("play: 0.31"), "{said}");
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
}

#[test]
fn wrong_fit_readings_are_refused_with_what_would_be_right() {
    let (dir, _) = laser();
    let at = dir.path();
    run(
        &["coupon", "panel.toml", "--kind", "fit", "--out", "f"],
        at,
        0,
    );
    let own = [("\"card-1.5\"", "\"other.toml\"")];
    copy(at, "plain-window", "other-panel.toml", &own);
    copy(
        at,
        "card-1.5",
        "other.toml",
        &[("kerf = 0.15", "kerf = 0.16")],
    );
    let before = fs::read_to_string(at.join("panel.toml")).expect("there");
    let two = ["f", "--notch", "9", "--binds", "8"];
    let and = |more: &[&'static str]| [&two[..], more].concat();
    let cases: Vec<(Vec<&str>, &str)> = vec![
        (vec!["f", "--notch", "9"], "--binds NUMBER"),
        (vec!["f", "--notch", "0", "--binds", "8"], "notches 1 to 21"),
        (
            vec!["f", "--notch", "22", "--binds", "8"],
            "notches 1 to 21",
        ),
        (vec!["f", "--notch", "9", "--binds", "0"], "notches 1 to 21"),
        (vec!["f", "--notch", "9", "--binds", "9"], "cannot bind"),
        (
            vec!["f", "--notch", "9", "--binds", "10"],
            "counted from notch 1, the narrowest",
        ),
        (vec!["f", "--notch", "14", "--binds", "8"], "tells no fit"),
        (and(&["--underside", "9"]), "leave --underside out"),
        (and(&["--bar", "1.52"]), "write the measured thickness"),
        (and(&["--into", "material.toml"]), "is a material file"),
        (and(&["--into", "demo"]), "lapwright show demo"),
        (and(&["--into", "other-panel.toml"]), "cut a new coupon"),
        (
            and(&["--into", "f/source/panel.toml"]),
            "belongs to the job",
        ),
        (and(&["--into", "none.toml"]), "not there"),
        (
            vec!["c", "--notch", "9", "--binds", "8"],
            "leave --binds out",
        ),
        (vec!["none", "--notch", "9", "--binds", "8"], "not there"),
    ];
    for (words, said) in cases {
        let told = run(&[&["read-coupon"], &words[..]].concat(), at, 2);
        assert!(told.contains(said), "{words:?}: {told}");
    }
    fs::create_dir(at.join("empty")).expect("a folder");
    let told = run(&["read-coupon", "empty", "--notch", "9"], at, 2);
    assert!(told.contains("holds no job"), "{told}");
    let now = fs::read_to_string(at.join("panel.toml")).expect("there");
    assert_eq!(now, before);
}

#[test]
fn a_kerf_goes_with_its_feed_and_power() {
    let (dir, before) = laser();
    let at = dir.path();
    let words = [
        "read-coupon",
        "c",
        "--notch",
        "12",
        "--into",
        "material.toml",
    ];
    for (old, new) in [
        ("feed = 900", "feed = 901"),
        ("power_percent = 60", "power_percent = 61"),
    ] {
        assert!(before.contains(old));
        fs::write(at.join("material.toml"), before.replacen(old, new, 1)).expect("written");
        let said = run(&words, at, 2);
        assert!(said.contains("another feed or power"), "{said}");
    }
    fs::write(
        at.join("material.toml"),
        before.replacen("gap = 2", "gap = 3", 1),
    )
    .expect("written");
    run(&words, at, 0);
}

#[test]
fn a_panel_that_names_built_in_files_is_told_how_to_get_its_own() {
    let dir = TempDir::new().expect("a folder");
    let at = dir.path();
    copy(at, "plain-window", "panel.toml", &[]);
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
    let said = run(&["read-coupon", "c", "--notch", "12"], at, 0);
    assert!(
        said.contains("lapwright show card-1.5 > my-card-1.5.toml"),
        "{said}"
    );
    // The panel file is the maker's own.
    run(
        &["coupon", "panel.toml", "--kind", "fit", "--out", "f"],
        at,
        0,
    );
    let read = ["read-coupon", "f", "--notch", "12", "--binds", "10"];
    let said = run(&read, at, 0);
    assert!(!said.contains("built in"), "{said}");
    run(&[&read[..], &["--into", "panel.toml"]].concat(), at, 0);
}

#[test]
fn a_coupon_is_cut_as_the_joints_are() {
    let dir = TempDir::new().expect("a folder");
    let at = dir.path();
    copy(at, "check", "panel.toml", &[]);
    let files = |out: &str| -> Vec<String> {
        let job = fs::read_to_string(at.join(out).join("job.json")).expect("there");
        let job: serde_json::Value = serde_json::from_str(&job).expect("JSON");
        let list = job["setups"].as_array().expect("setups");
        list.iter()
            .map(|s| format!("{} {}", s["kind"], s["fence"]))
            .collect()
    };
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
    assert_eq!(files("c"), ["\"datum\" 90.0", "\"edge-up\" 90.0"]);
    let fit = ["coupon", "panel.toml", "--kind", "fit", "--out", "f"];
    run(&fit, at, 0);
    assert_eq!(files("f"), ["\"datum\" 120.0", "\"edge-up\" 120.0"]);
    for folder in ["c", "f"] {
        run(&["prove", folder], at, 0);
        assert!(at.join(folder).join("pictures/clamping-01.svg").exists());
        assert!(!at.join(folder).join("sticks.csv").exists());
    }
    let said = run(
        &["coupon", "panel.toml", "--kind", "fitt", "--out", "f"],
        at,
        2,
    );
    assert!(said.contains("kerf"), "{said}");
}

#[test]
fn a_gang_tells_the_cutter_and_the_clearance() {
    let dir = TempDir::new().expect("a folder");
    let at = dir.path();
    let own = ("\"small-router\"", "\"machine.toml\"");
    let panel = copy(at, "check", "panel.toml", &[own]);
    let machine = copy(at, "small-router", "machine.toml", &[]);
    run(&["coupon", "panel.toml", "--out", "c"], at, 0);
    // Beyond the comb nothing is written.
    for notch in ["0", "14"] {
        let words = ["read-coupon", "c", "--notch", notch];
        let said = run(&[&words[..], &["--into", "machine.toml"]].concat(), at, 2);
        assert!(said.contains("notches 1 to 13"), "{said}");
    }
    let now = |file: &str| fs::read_to_string(at.join(file)).expect("there");
    assert_eq!(now("machine.toml"), machine);
    // Notch 6 is drawn 3.95 for a bar of 4.0: 3.0 + 0.05, by hand.
    let words = ["read-coupon", "c", "--notch", "6", "--into", "machine.toml"];
    run(&words, at, 0);
    let told = told(&machine, "router.tool.diameter");
    let meant = told.replacen("diameter = 3.0 ", "diameter = 3.05 ", 1);
    assert_eq!(now("machine.toml"), meant);
    // The fit coupon is made with the cutter as measured.
    let fit = ["coupon", "panel.toml", "--kind", "fit", "--out", "f"];
    run(&fit, at, 0);
    let into = |notch, binds| {
        let words = ["read-coupon", "f", "--notch", notch, "--binds", binds];
        [&words[..], &["--into", "panel.toml"]].concat()
    };
    for (notch, binds) in [("14", "7"), ("8", "0"), ("7", "8")] {
        run(&into(notch, binds), at, 2);
    }
    // 4.2 is 0.2 wide of the bar, and the material bears 0.15.
    let said = run(&into("10", "9"), at, 1);
    assert!(said.contains("play: 0.2"), "{said}");
    assert_eq!(now("panel.toml"), panel);
    // 3.75 is notch 1, so that notch 8 is drawn 4.1 for a bar of 4.0, by hand.
    run(&into("8", "7"), at, 0);
    let meant = panel.replacen("clearance = 0.05 ", "clearance = 0.1 ", 1);
    assert_eq!(now("panel.toml"), meant);
    run(&["check", "panel.toml"], at, 0);
}

#[test]
fn a_clearance_goes_with_the_way_of_cutting() {
    let dir = TempDir::new().expect("a folder");
    let at = dir.path();
    copy(at, "router-square", "flat.toml", &[]);
    let edge_up = [
        ("method = \"flat\" ", "method = \"edge-up\" "),
        ("trim_kerf = 1.5", "trim_kerf = 1.5 "),
    ];
    copy(at, "router-square", "edge-up.toml", &edge_up);
    for (panel, other, says) in [
        ("flat.toml", "edge-up.toml", "was cut flat"),
        ("edge-up.toml", "flat.toml", "was cut edge up"),
    ] {
        run(&["coupon", panel, "--kind", "fit", "--out", "f"], at, 0);
        let before = fs::read_to_string(at.join(other)).expect("there");
        let words = ["read-coupon", "f", "--notch", "7", "--binds", "6"];
        let said = run(&[&words[..], &["--into", other]].concat(), at, 2);
        assert!(said.contains(says), "{said}");
        assert_eq!(fs::read_to_string(at.join(other)).expect("there"), before);
        run(&[&words[..], &["--into", panel]].concat(), at, 0);
    }
}

#[test]
fn a_fence_that_cannot_stand_square_cuts_the_kerf_coupon_askew() {
    let dir = TempDir::new().expect("a folder");
    let at = dir.path();
    let own = ("\"small-router\"", "\"machine.toml\"");
    copy(at, "check", "panel.toml", &[own]);
    for (range, status, says) in [
        ("[60, 120]", 0, "\"fence\": 90.0"),
        ("[100, 160]", 0, "\"fence\": 100.0"),
        ("[20, 80]", 0, "\"fence\": 80.0"),
    ] {
        let edit = format!("fence_deg = {range}");
        copy(
            at,
            "small-router",
            "machine.toml",
            &[("fence_deg = [20, 160]", &edit)],
        );
        let words = ["coupon", "panel.toml", "--out", "c", "--json"];
        let said = run(&words, at, status);
        assert!(said.contains(says), "{range}: {said}");
    }
    // The fit is measured at an angle of the panel's own, or not at all.
    let words = ["coupon", "panel.toml", "--kind", "fit", "--out", "f"];
    let said = run(&words, at, 1);
    assert!(said.contains("fence-angle: 120"), "{said}");
    assert!(!at.join("f").exists());
}

#[test]
fn a_gang_too_long_or_too_wide_for_the_bench_is_refused() {
    let dir = TempDir::new().expect("a folder");
    let at = dir.path();
    let own = ("\"small-router\"", "\"machine.toml\"");
    copy(at, "check", "panel.toml", &[own]);
    for (old, new, says) in [
        ("travel = [600, ", "travel = [200, ", "reach"),
        (
            "clamp_height = 8 ",
            "clamp_width = 35\nclamp_height = 8 ",
            "gang-width",
        ),
        (
            "clamp_height = 8 ",
            "rail = 4\nclamp_height = 8 ",
            "rail: 4",
        ),
    ] {
        copy(at, "small-router", "machine.toml", &[(old, new)]);
        for kind in ["kerf", "fit"] {
            let words = ["coupon", "panel.toml", "--kind", kind, "--out", "c"];
            if kind == "kerf" && says == "rail: 4" {
                continue;
            }
            let said = run(&words, at, 1);
            assert!(said.contains(says), "{said}");
            assert!(!at.join("c").exists());
        }
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
        &["read-coupon", "c", "--notch", "6", "--underside", "7"],
        at,
        2,
    );
    // Notch 6 is drawn 3.95 for a bar of 4.0: 3.0 + 0.05, by hand.
    run(&into("machine.toml"), at, 0);
    let after = fs::read_to_string(at.join("machine.toml")).expect("there");
    assert_eq!(
        after,
        told(&before, "router.tool.diameter").replacen("diameter = 3.0 ", "diameter = 3.05 ", 1)
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
            &["c", "--notch", "12", "--underside", "22"],
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
    let gcode =
        fs::read_to_string(at.join("c/gcode/plain-window-kerf-coupon-01.nc")).expect("there");
    let read = ["read-coupon", "c", "--notch", "12"];
    // A folder that hides what it is, one that says it is another coupon, one that says something else of its notches, and one whose program
    // cuts something else.
    let spoilt = [
        (
            "c/job.json",
            job.replace("\"coupon\": true", "\"coupon\": false"),
            &job,
        ),
        (
            "c/job.json",
            job.replacen("\"kind\": \"kerf\"", "\"kind\": \"fit\"", 1),
            &job,
        ),
        (
            "c/job.json",
            job.replacen("\"step\": 0.02", "\"step\": 0.03", 1),
            &job,
        ),
        (
            "c/gcode/plain-window-kerf-coupon-01.nc",
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
        told(&before, "laser.kerf").replacen("kerf = 0.15", "kerf = 0.17", 1)
    );
    let mode = fs::metadata(&real).expect("there").permissions().mode();
    assert_eq!(mode & 0o777, 0o640);
}
