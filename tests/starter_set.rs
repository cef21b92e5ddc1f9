//! The machines, materials and stock that the program carries: every pair of a machine and a material
//! makes a small job whose checks all pass, or is refused with the reason; every value says where it comes
//! from.
#![allow(clippy::panic, reason = "tests")]

use lapwright::job::{Made, plan};
use lapwright::panel::{BUILTIN, HeadKind, JobFiles, LoadError, SourceFile, SourceKind, builtin};
use lapwright::safety::Status;

fn names(kind: SourceKind) -> Vec<&'static str> {
    let of_kind = BUILTIN.iter().filter(|f| f.kind == kind);
    of_kind.map(|f| f.name).collect()
}

fn text(kind: SourceKind, name: &str) -> &'static str {
    builtin(kind, name).expect("a built-in file").text
}

/// What stands behind the first `key =` of a file, up to its comment.
fn value<'t>(text: &'t str, key: &str) -> &'t str {
    let line = text.lines().find(|l| l.starts_with(&format!("{key} = ")));
    let line = line.unwrap_or_else(|| panic!("no {key}"));
    let (_, value) = line.split_once('=').expect("a value");
    value.split('#').next().expect("a value").trim()
}

/// A small square lattice, its bars as thick as the material, on one of the stocks.
fn job(machine: &str, material: &str, stock: &str) -> Result<JobFiles, LoadError> {
    let thickness = value(text(SourceKind::Material, material), "thickness");
    let laser = text(SourceKind::Machine, machine).contains("[laser]");
    let post = if laser { "laser-mm" } else { "router-mm" };
    let panel = format!(
        "name = \"small\"\nmachine = \"m\"\nmaterial = \"m\"\nstock = \"s\"\npost_processor = \"p\"\n\
         ground = {{ layout = \"square\", face = {thickness}, depth = 12, pitch_across = 40, \
         pitch_up = 40, columns = 2, rows = 2 }}\n\
         outline = {{ left = {{ clear = 15 }}, right = {{ clear = 15 }}, bottom = {{ clear = 15 }}, \
         top = {{ clear = 15 }}, overhang = 10 }}\n\
         cut = {{ method = \"flat\", clearance = 0.05 }}\n"
    );
    let files = [
        (SourceKind::Panel, panel.as_str()),
        (SourceKind::Machine, text(SourceKind::Machine, machine)),
        (SourceKind::Material, text(SourceKind::Material, material)),
        (SourceKind::Stock, text(SourceKind::Stock, stock)),
        (SourceKind::Post, text(SourceKind::Post, post)),
    ];
    let sources = files.map(|(kind, text)| SourceFile {
        kind,
        name: kind.file_name().to_owned(),
        bytes: text.as_bytes().to_vec(),
    });
    JobFiles::from_sources(sources.to_vec())
}

/// The stocks of a material's kind: `card` of `card-1.5` and of `card-sheets`. Vinyl has none of its own.
fn stocks(material: &str) -> Vec<&'static str> {
    let kind = |name: &str| name.split('-').next().unwrap_or_default().to_owned();
    let mut found = names(SourceKind::Stock);
    if material == "vinyl-sheet" {
        return vec!["card-sheets"];
    }
    found.retain(|stock| kind(stock) == kind(material));
    assert!(!found.is_empty(), "no stock for {material}");
    found
}

#[test]
fn the_set_has_what_a_starter_needs() {
    let has = |kind, wanted: &[&str]| {
        for name in wanted {
            assert!(names(kind).contains(name), "{name}");
        }
    };
    has(
        SourceKind::Material,
        &[
            "hardwood-4",
            "softwood-4",
            "ply-3",
            "mdf-3",
            "card-1",
            "card-1.5",
            "card-2",
        ],
    );
    has(
        SourceKind::Machine,
        &["small-router", "large-router", "desk-laser", "bench-laser"],
    );
}

#[test]
fn every_pair_makes_a_sound_job_or_is_refused_with_the_reason() {
    let (mut made, mut refused) = (Vec::new(), Vec::new());
    for machine in names(SourceKind::Machine) {
        for material in names(SourceKind::Material) {
            for stock in stocks(material) {
                let pair = format!("{machine}, {material}, {stock}");
                match job(machine, material, stock) {
                    Ok(files) => {
                        let plan = match plan(files, &mut |_| ()) {
                            Ok(plan) => plan,
                            // A2 is 420 wide (ISO 216), and the desk laser's travel 400.
                            Err(e) if (machine, stock) == ("desk-laser", "card-sheets-a2") => {
                                assert!(e.to_string().contains("reach: 420 mm"), "{pair}: {e}");
                                continue;
                            }
                            Err(e) => panic!("{pair}: {e}"),
                        };
                        assert!(plan.warnings.is_empty(), "{pair}: {:?}", plan.warnings);
                        let job =
                            Made::of(&plan, &mut |_| ()).unwrap_or_else(|e| panic!("{pair}: {e}"));
                        for check in &job.checks {
                            assert_eq!(check.status, Status::Pass, "{pair}: {check:?}");
                        }
                        assert!(job.files.contains_key("gcode/small-sheet-01.nc"), "{pair}");
                        made.push((machine, material));
                    }
                    Err(error) => {
                        let said = error.to_string();
                        let source = text(SourceKind::Material, material);
                        let reason = if machine.ends_with("laser") {
                            assert!(!source.contains("[laser]"), "{pair}: {said}");
                            let why = value(source, "laser_refused").trim_matches('"');
                            format!("must not be lasered: {why}")
                        } else {
                            assert!(!source.contains("[router]"), "{pair}: {said}");
                            "has no [router] values".to_owned()
                        };
                        assert!(said.contains(&reason), "{pair}: {said}");
                        refused.push((machine, material));
                    }
                }
            }
        }
    }
    made.dedup();
    refused.dedup();
    let (cards, woods) = (
        ["card-1", "card-1.5", "card-2"],
        ["hardwood-4", "mdf-3", "softwood-4"],
    );
    for laser in ["desk-laser", "bench-laser"] {
        for material in cards.iter().chain(&["ply-3"]) {
            assert!(made.contains(&(laser, material)), "{laser}, {material}");
        }
        for material in woods.iter().chain(&["vinyl-sheet"]) {
            assert!(refused.contains(&(laser, material)), "{laser}, {material}");
        }
    }
    for router in ["small-router", "large-router"] {
        for material in woods.iter().chain(&["ply-3"]) {
            assert!(made.contains(&(router, material)), "{router}, {material}");
        }
        for material in cards.iter().chain(&["vinyl-sheet"]) {
            assert!(
                refused.contains(&(router, material)),
                "{router}, {material}"
            );
        }
    }
}

/// As many watts at the work on either laser: percent × watts.
#[test]
fn a_stronger_laser_is_turned_down() {
    for material in ["card-1", "card-1.5", "card-2", "ply-3"] {
        let mut words = Vec::new();
        for (machine, watts, full) in [("desk-laser", 40.0, 1000.0), ("bench-laser", 80.0, 1000.0)]
        {
            let files = job(machine, material, stocks(material)[0]).expect("cleared");
            let cut = files.material.laser.clone().expect("a laser's values");
            let HeadKind::Laser(laser) = &files.own().expect("a machine").machine.head else {
                panic!("{machine} is a laser")
            };
            let percent = laser.percent_for(&cut);
            assert!(
                (watts * percent - 40.0 * cut.power_percent).abs() < 1e-9,
                "{machine}, {material}: {percent} percent"
            );
            let plan = plan(files, &mut |_| ()).expect("sound");
            let job = Made::of(&plan, &mut |_| ()).expect("sound");
            let gcode = String::from_utf8_lossy(&job.files["gcode/small-sheet-01.nc"]).into_owned();
            let at = gcode.find("M3 S").map(|at| &gcode[at + 4..]);
            let word: String = at.map_or_else(String::new, |rest| {
                rest.chars()
                    .take_while(|c| c.is_ascii_digit() || *c == '.')
                    .collect()
            });
            let word: f64 = word.parse().unwrap_or_else(|e| panic!("S{word}: {e}"));
            assert!((word - full * percent / 100.0).abs() < 1e-9, "S{word}");
            words.push(word * watts);
        }
        assert!((words[0] - words[1]).abs() < 1e-6, "{material}: {words:?}");
    }
}

/// Where one of the files does not tell its watts, the percentage stands and the maker is told.
#[test]
fn unknown_watts_are_told() {
    for (kind, word) in [
        (SourceKind::Machine, "machine"),
        (SourceKind::Material, "material"),
    ] {
        let mut sources = crate::panel_support::panel("plain-window").sources;
        for source in sources.iter_mut().filter(|s| s.kind == kind) {
            let text = String::from_utf8(source.bytes.clone()).expect("text");
            let text = text.replacen("\"laser.watts\",", "", 1);
            let lines = text.lines().filter(|l| !l.starts_with("watts"));
            source.bytes = lines.map(|l| format!("{l}\n")).collect::<String>().into();
        }
        let files = JobFiles::from_sources(sources).expect("still sound");
        let plan = plan(files, &mut |_| ()).expect("still sound");
        let want = format!("the {word} file does not say its watts: 60 percent");
        assert!(
            plan.warnings.iter().any(|w| w.starts_with(&want)),
            "{:?}",
            plan.warnings
        );
    }
}

/// The list `from_memory` of a machine or material file has those keys whose comments say that their values are from
/// memory, or computed from such values, in the order of the file.
#[test]
fn lists_and_comments_agree_on_what_is_from_memory() {
    let mut listed = 0;
    for file in BUILTIN {
        if ![SourceKind::Machine, SourceKind::Material].contains(&file.kind) {
            continue;
        }
        let mut table = String::new();
        let mut told = Vec::new();
        for line in file.text.lines().filter(|line| !line.starts_with('#')) {
            if let Some(name) = line.strip_prefix('[') {
                table = name.split(']').next().unwrap_or_default().to_owned() + ".";
            } else if let Some((key, _)) = line.split_once(" = ")
                && let Some((_, comment)) = line.rsplit_once("# ")
                && (comment.contains("(from memory") || comment.contains("(computed: "))
            {
                told.push(format!("{table}{key}"));
            }
        }
        let root: toml::Table = file.text.parse().expect("TOML");
        let list = root["from_memory"].as_array().expect("a list").iter();
        let list: Vec<_> = list.map(|key| key.as_str().expect("text")).collect();
        assert_eq!(list, told, "{}", file.name);
        listed += list.len();
    }
    assert!(listed > 150, "{listed} keys were looked at");
}

/// Every value of a machine, a material and a stock file says where it comes from.
#[test]
fn every_value_says_where_it_comes_from() {
    let origins = ["from memory", "computed: ", "ISO 216, A", "invented"];
    // What the maker calls a thing is no value, nor is its place in the machine's own table.
    let names = ["name", "number"];
    let mut values = 0;
    for file in BUILTIN {
        let kinds = [SourceKind::Machine, SourceKind::Material, SourceKind::Stock];
        if !kinds.contains(&file.kind) {
            continue;
        }
        for line in file.text.lines() {
            let Some((key, rest)) = line.split_once(" = ") else {
                continue;
            };
            if line.starts_with('#') || [&names[..], &["from_memory"]].concat().contains(&key) {
                continue;
            }
            let comment = rest.rsplit_once("# ").map_or("", |(_, comment)| comment);
            assert!(
                origins
                    .iter()
                    .any(|origin| comment.contains(&format!("({origin}"))),
                "{}: `{line}` does not say where it comes from",
                file.name
            );
            values += 1;
            if file.kind != SourceKind::Stock {
                assert!(!comment.contains("invented"), "{}: `{line}`", file.name);
            }
        }
    }
    assert!(values > 150, "{values} values were looked at");
}
