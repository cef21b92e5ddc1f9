//! Sheets that are cut alike: one program, drawing and picture, run so many times, and nothing said that does not
//! hold for every one of them.

use std::collections::BTreeMap;

use lapwright::job::{Made, plan};
use lapwright::panel::{JobFiles, SourceKind};
use lapwright::path::program_minutes;
use lapwright::plan::{Cutting, Plan};
use lapwright::setup::FlatLayout;

fn made(panel: &str, quantity: u32, more: &str) -> (Plan, Made) {
    let file = crate::panel_support::text(SourceKind::Panel, panel);
    let lines = file.lines().filter(|l| !l.starts_with("quantity"));
    let text = lines.collect::<Vec<_>>().join("\n");
    let text = format!("quantity = {quantity}\n{text}\n{more}");
    let files = JobFiles::from_text("many.toml", text.as_bytes(), None).expect("sound");
    let plan = plan(files, &mut |_| {}).expect("planned");
    let made = Made::of(&plan, &mut |_| {}).expect("made");
    (plan, made)
}

fn text<'a>(made: &'a Made, path: &str) -> &'a str {
    std::str::from_utf8(&made.files[path]).expect("text")
}

fn layout(plan: &Plan) -> &FlatLayout {
    &plan.flat().expect("cut flat").layout
}

fn json(made: &Made) -> serde_json::Value {
    serde_json::from_slice(made.summary()).expect("json")
}

#[test]
fn a_hundred_panels_take_two_programs() {
    let (plan, made) = made("plain-window", 100, "");
    let loads: Vec<usize> = layout(&plan).sheets.iter().map(|s| s.loads()).collect();
    let nest = &plan.flat().expect("cut flat").nest;
    assert_eq!(loads.len(), 2, "{loads:?}");
    assert_eq!(loads.iter().sum::<usize>(), nest.used);
    assert!(nest.optimal, "still the least number of sheets");
    let second = format!("{:02}", loads[0] + 1);
    let mut files: Vec<&String> = (made.files.keys())
        .filter(|f| {
            ["gcode/", "dxf/plain-", "pictures/plain-"]
                .iter()
                .any(|p| f.starts_with(p))
        })
        .collect();
    files.sort();
    let mut want: Vec<String> = Vec::new();
    for number in ["01", second.as_str()] {
        want.extend([
            format!("gcode/plain-window-sheet-{number}.nc"),
            format!("gcode/air-run-plain-window-sheet-{number}.nc"),
            format!("pictures/plain-window-sheet-{number}.svg"),
            format!("dxf/plain-window-sheet-{number}.svg"),
            format!("dxf/plain-window-sheet-{number}-drawn-size.dxf"),
            format!("dxf/plain-window-sheet-{number}-kerf-compensated.dxf"),
        ]);
    }
    want.sort();
    let want: Vec<&String> = want.iter().collect();
    assert_eq!(files, want);

    let job = json(&made);
    let setups = job["setups"].as_array().expect("setups");
    for (setup, n) in setups.iter().zip(&loads) {
        assert_eq!(setup["loads"], *n);
    }
    let strips = job["nest"]["strips"].as_array().expect("strips");
    assert_eq!(strips.len(), nest.used, "a row for every sheet");
    // Each strip names its run, and the placements of that run carry its own members.
    let mut strips = strips.iter();
    for setup in setups {
        for load in 1..=setup["loads"].as_u64().expect("a count") {
            let strip = strips.next().expect("a strip");
            assert_eq!(strip["file"], setup["file"]);
            assert_eq!(strip["load"], load);
            let own = setup["placements"].as_array().expect("a list");
            // A placement without a load lies in every run.
            let own = own
                .iter()
                .filter(|p| p.get("load").is_none_or(|l| l == load));
            let own: Vec<&serde_json::Value> = own.map(|p| &p["id"]).collect();
            let nested = strip["pieces"].as_array().expect("a list").iter();
            assert_eq!(own, nested.map(|p| &p["id"]).collect::<Vec<_>>());
        }
    }

    let head = text(&made, "gcode/plain-window-sheet-01.nc");
    let last = loads[0];
    let of = nest.used;
    assert!(
        head.contains(&format!("sheets 1 to {last} of {of}")),
        "{head}"
    );
    assert!(head.contains(&format!("run {last} times, a new sheet each")));
    let notes = text(&made, "dxf/notes.txt");
    assert!(
        notes.contains(&format!("to cut    {last} times, a new sheet each")),
        "{notes}"
    );
    assert!(!notes.contains("once"), "no sheet is cut once");
    let dxf = text(&made, "dxf/plain-window-sheet-01-drawn-size.dxf");
    // On a full sheet there is no room for notes.
    let told = format!("Sheets 1 to {last}, cut {last} times, a new sheet each: ");
    assert_eq!(dxf.contains("lap-note"), dxf.contains(&told), "{dxf}");
    let picture = text(&made, "pictures/plain-window-sheet-01.svg");
    assert!(picture.contains(&format!("cut {last} times, a new sheet each")));
    let sheet = text(&made, "sheet.html");
    assert!(sheet.contains(&format!(
        "Do all of this {last} times, a new sheet each: sheets 1 to {last}."
    )));
    assert!(sheet.contains("loads.csv"));
    let travel = plan.files.own().expect("a machine").machine.travel_feed;
    let flat = plan.flat().expect("cut flat");
    let all: f64 = (flat.runs())
        .map(|(p, n)| n as f64 * program_minutes(p, travel))
        .sum();
    let told = job["setups"].as_array().expect("setups").iter();
    let number = |value: &serde_json::Value| value.as_f64().expect("a number");
    let told = told.map(|s| number(&s["minutes"]) * number(&s["loads"]));
    assert!((told.sum::<f64>() - all).abs() < 1e-3, "every run counts");
}

/// What the README tells of the demo's sheets, in so many panels: from which sheet on, and how often each is run.
#[test]
fn ten_thousand_demo_panels_take_four_programs() {
    let (plan, job) = made("demo", 100, "");
    let runs: Vec<(usize, usize)> = (layout(&plan).sheets.iter())
        .map(|s| (s.number, s.loads()))
        .collect();
    assert_eq!(runs[1..3], [(6, 15), (21, 5)]);
    assert_eq!(runs.len(), 4);
    let head = text(&job, "gcode/demo-window-sheet-06.nc");
    assert!(
        head.contains("(run 15 times, a new sheet each"),
        "{head:.2000}"
    );
    assert!(job.files.contains_key("gcode/demo-window-sheet-21.nc"));
    let (plan, _) = made("demo", 10_000, "");
    assert_eq!(layout(&plan).sheets.len(), 4);
}

#[test]
fn nothing_is_called_by_a_member_that_is_not_there_on_every_sheet() {
    let strips = "\n[kits]\nspares = 1\n";
    for (panel, quantity, more) in [
        ("plain-window", 17, ""),
        ("router-square", 3, strips),
        ("hemp-leaf-card", 40, ""),
        ("hemp-leaf-outlines", 40, ""),
    ] {
        let (plan, made) = made(panel, quantity, more);
        let mut shared = 0;
        let list = made.files.get("loads.csv").map_or(&[][..], Vec::as_slice);
        let mut listed = std::str::from_utf8(list).expect("text").lines().skip(1);
        for flat in plan.flats() {
            for sheet in flat.layout.sheets.iter().filter(|s| s.loads() > 1) {
                shared += 1;
                let stem = flat.layout.stem(sheet);
                let mut names = Vec::new();
                for (k, place) in sheet.placements.entries() {
                    let class = &flat.layout.pieces[place.piece].class;
                    let alike =
                        (0..sheet.loads()).all(|load| sheet.id_in(load, k) == sheet.id_in(0, k));
                    assert_eq!(alike, !place.id.is_empty(), "{stem}, {k:?}");
                    if !alike {
                        names.extend(
                            (0..sheet.loads()).map(|l| format!("{class} {}", sheet.id_in(l, k))),
                        );
                    }
                }
                for load in 0..sheet.loads() {
                    let places = sheet.placements.entries();
                    for (k, place) in places.filter(|(_, place)| place.id.is_empty()) {
                        let row: Vec<&str> = listed.next().expect("a row").split(',').collect();
                        let class = &flat.layout.pieces[place.piece].class;
                        let number = (sheet.number + load).to_string();
                        let member = sheet.id_in(load, k);
                        let (program, load) = (format!("gcode/{stem}.nc"), (load + 1).to_string());
                        let want: [&str; 5] = [&program, &load, &number, class, member];
                        assert_eq!(row[..5], want, "{panel}");
                    }
                }
                // A place whose member differs is nowhere called by one; elsewhere it may stay.
                let kept: Vec<String> = (sheet.placements.iter())
                    .filter(|p| !p.id.is_empty())
                    .map(|p| flat.layout.pieces[p.piece].named(&p.id))
                    .collect();
                let files = made.files.iter().filter(|(f, _)| f.contains(&stem));
                for (path, bytes) in files.filter(|(f, _)| !f.starts_with("dxf/piece")) {
                    let told = String::from_utf8_lossy(bytes);
                    let words: Vec<&str> = told.split(['\n', '(', ')', '>', '<', '\r']).collect();
                    for name in names.iter().filter(|n| !kept.contains(n)) {
                        let remark = [
                            format!("piece {name}"),
                            format!("notch {name}"),
                            name.clone(),
                        ];
                        assert!(
                            !words.iter().any(|w| remark.iter().any(|r| w == r)),
                            "{path} calls a piece {name}"
                        );
                    }
                }
            }
        }
        assert!(shared > 0, "{panel}: some sheets are alike");
        assert_eq!(listed.next(), None, "{panel}: no further rows");
    }
}

#[test]
fn a_job_in_which_no_sheets_are_alike_says_nothing_of_loads() {
    let (plan, made) = made("plain-window", 1, "");
    assert!(layout(&plan).sheets.iter().all(|s| s.loads() == 1));
    assert!(!made.files.contains_key("loads.csv"));
    let job = json(&made);
    for strip in job["nest"]["strips"].as_array().expect("strips") {
        assert!(strip.get("load").is_none() && strip.get("file").is_none());
    }
    assert!(!text(&made, "sheet.html").contains("a new sheet each"));
}

/// The proof counts what all runs cut, by the panel and its kits and not by the nest.
#[test]
fn a_program_that_is_run_too_often_or_too_seldom_is_a_fault() {
    let (sound, made) = made("plain-window", 20, "");
    let faults = |plan: &Plan| {
        let bytes = |path: &str| made.files.get(path).map(Vec::as_slice);
        plan.replay(bytes, &mut |_| {}).faults
    };
    assert_eq!(faults(&sound), Vec::<String>::new());
    let quantity = sound.files.panel.quantity;
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for sheet in &layout(&sound).sheets {
        for place in &sheet.placements {
            let class = layout(&sound).pieces[place.piece].class.as_str();
            *counts.entry(class).or_default() += sheet.loads();
        }
    }
    for class in &sound.lattice().classes {
        let want = class.members.len() * quantity as usize;
        assert_eq!(counts[class.id.as_str()], want);
    }
    for more in [false, true] {
        let mut plan = plan(sound.files.clone(), &mut |_| {}).expect("planned");
        let flat = match &mut plan.cuts.bars {
            Cutting::Flat(flat) => Some(flat),
            Cutting::EdgeUp(_) => None,
        };
        let flat = flat.expect("cut flat");
        let sheet = flat.layout.sheets.iter_mut().next().expect("a sheet");
        assert!(sheet.loads() > 1);
        if more {
            sheet.alike.push(sheet.alike[0].clone());
        } else {
            sheet.alike.pop();
        }
        let found = faults(&plan);
        let told = found
            .iter()
            .any(|f| f.contains("all runs of all programs cut"));
        assert!(told, "{found:?}");
    }
}
