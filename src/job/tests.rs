//! A sheet that cannot be made must not lose the cut files.

use std::collections::BTreeSet;

use super::prove::FROM_DISK;
use super::{Checked, Edited, Holds, Made, deliver, plan, prove};
use crate::document::{Block, Figure, Page, Section, Size};
use crate::panel::{JobFiles, SourceKind};
use crate::plan::{Cutting, Plan};
use crate::report::sections::document;

fn demo() -> Plan {
    plan(JobFiles::builtin_panel("demo").unwrap(), &mut |_| {}).unwrap()
}

fn warnings_in(made: &Made) -> Vec<String> {
    let job: serde_json::Value = serde_json::from_slice(made.summary()).unwrap();
    serde_json::from_value(job["warnings"].clone()).unwrap()
}

/// Everything but the sheet, and the summary that lists it.
fn others(made: &Made) -> BTreeSet<&str> {
    let names = made.files.keys().map(String::as_str);
    names
        .filter(|n| !n.starts_with("sheet.") && *n != "job.json")
        .collect()
}

#[test]
fn a_sheet_that_breaks_down_loses_nothing_else() {
    let plan = demo();
    let whole = Made::of(&plan, &mut |_| {}).unwrap();
    assert!(whole.files.contains_key("sheet.html") && whole.files.contains_key("sheet.pdf"));
    assert_eq!(
        warnings_in(&whole),
        plan.warnings,
        "a sound sheet warns of nothing"
    );

    let broken = Made::with_sheet(&plan, &mut |_| {}, &|_, _, _, _| panic!("injected fault"));
    let broken = broken.unwrap();
    assert_eq!(others(&broken), others(&whole), "all else is there");
    assert!(broken.files.keys().all(|name| !name.starts_with("sheet.")));
    assert_eq!(broken.warnings, warnings_in(&broken));
    let told = broken.warnings.last().unwrap();
    assert!(
        told.starts_with("no sheet.html and sheet.pdf") && told.contains("cut files are there"),
        "{told}"
    );
    let dir = tempfile::TempDir::new().unwrap();
    let out = dir.path().join("job");
    deliver(&out, &broken.files, Edited::Kept, &mut |_| {}).unwrap();
    assert!(out.join("gcode/demo-window-sheet-01.nc").is_file() && !out.join("sheet.pdf").exists());
}

#[test]
fn a_picture_too_large_for_its_page_costs_the_pdf_alone() {
    let plan = demo();
    let too_large = |plan: &Plan, fit: &_, checks: &[_], files: &_| {
        let mut document = document(plan, fit, checks, files);
        let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"500mm\" height=\"20mm\"/>";
        document.sections.push(Section {
            title: "Injected".into(),
            page: Page::Upright,
            blocks: vec![Block::Figure(Figure {
                svg: svg.into(),
                alt: "half a metre".into(),
                caption: String::new(),
                size: Size::True,
            })],
        });
        document
    };
    let made = Made::with_sheet(&plan, &mut |_| {}, &too_large).unwrap();
    assert!(made.files.contains_key("sheet.html") && !made.files.contains_key("sheet.pdf"));
    assert!(made.files.contains_key("gcode/demo-window-sheet-01.nc"));
    let told = warnings_in(&made);
    let told = told.last().unwrap();
    assert!(
        told.starts_with("no sheet.pdf") && told.contains("half a metre"),
        "{told}"
    );
}

#[test]
fn a_letter_that_the_fonts_lack_is_told() {
    let mut files = JobFiles::builtin_panel("demo").unwrap();
    files.panel.name = "組子 panel".into();
    let made = Made::of(&plan(files, &mut |_| {}).unwrap(), &mut |_| {}).unwrap();
    assert!(made.files.contains_key("sheet.pdf"));
    let told = made.warnings.last().unwrap();
    assert!(
        told.contains('組') && told.contains("question mark"),
        "{told}"
    );
}

/// Bytes that are sound for one head are a fault where the plan has another, whatever they hold.
#[test]
fn a_program_for_another_head_is_refused() {
    let planned = |panel: &str| {
        let files = JobFiles::builtin_panel(panel).expect("a built-in panel");
        plan(files, &mut |_| {}).expect("planned")
    };
    for (panel, other, said) in [
        ("demo", "router-square", "a beam's program for another head"),
        (
            "router-square",
            "demo",
            "a cutter's program for another head",
        ),
    ] {
        let mut plan = planned(panel);
        let sound = Made::of(&plan, &mut |_| {}).expect("made");
        let head = planned(other).flat().expect("cut flat").head.clone();
        if let Cutting::Flat(flat) = &mut plan.cuts.bars {
            flat.head = head;
        }
        let files = plan.cut_files();
        let path = format!("gcode/{}-sheet-01.nc", plan.files.panel.short_name);
        let program = files.iter().find(|f| f.path == path);
        let faults = program
            .expect("the first sheet's program")
            .prove(&sound.files[&path])
            .expect_err("another head");
        assert!(faults[0].what.contains(said), "{panel}: {faults:?}");
    }
}

/// `check` tells what `make` tells, and makes papers only where they may add to that: of letters that their fonts lack,
/// however these are written in a file.
#[test]
fn check_tells_what_make_tells() {
    let demo = crate::panel::builtin(SourceKind::Panel, "demo")
        .unwrap()
        .text;
    let named = |name: &str| {
        let text = demo.replacen("name = \"demo window\"", &format!("name = \"{name}\""), 1);
        assert!(text.contains(name), "named");
        JobFiles::from_text("demo.toml", text.as_bytes(), None).unwrap()
    };
    for (name, papers, lacks) in [
        ("demo window", false, None),
        ("Fenster für 2 × 3 Füße", false, None),
        ("\\u00fcber", true, None),
        ("組子 panel", true, Some('組')),
        ("\\u7d44 panel", true, Some('組')),
    ] {
        let plan = plan(named(name), &mut |_| {}).unwrap();
        let mut stages = Vec::new();
        let checked = Checked::of(&plan, &mut |stage| stages.push(stage.to_owned())).unwrap();
        let made = Made::of(&plan, &mut |_| {}).unwrap();
        assert_eq!(checked.fit, made.fit);
        assert_eq!(checked.checks, made.checks);
        assert_eq!(checked.warnings, made.warnings);
        assert_eq!(
            stages.iter().any(|stage| stage == "sheet"),
            papers,
            "{name}"
        );
        let told = checked.warnings.iter().any(|w| w.contains("question mark"));
        assert_eq!(told, lacks.is_some(), "{name}: {:?}", checked.warnings);
        assert!(lacks.is_none_or(|c| checked.warnings.iter().any(|w| w.contains(c))));
    }
}

/// `prove` replays the folder's own bytes only where one differs from what its sources make: whichever cut file is
/// spoilt, and though `job.json` tells of the spoilt one, it is told what the replay finds in it, as if all of the
/// folder had been replayed.
#[test]
fn whichever_cut_file_is_spoilt_on_disk_is_replayed() {
    let plan = demo();
    let made = Made::of(&plan, &mut |_| {}).unwrap();
    let dir = tempfile::TempDir::new().unwrap();
    let out = dir.path().join("job");
    deliver(&out, &made.files, Edited::Kept, &mut |_| {}).unwrap();
    let mut stages = Vec::new();
    prove(&out, &mut |stage| stages.push(stage.to_owned())).unwrap();
    assert!(
        !stages.iter().any(|stage| stage == FROM_DISK),
        "nothing differs: {stages:?}"
    );
    let files = plan.cut_files();
    assert!(files.len() > 3, "programs, air runs and drawings");
    for file in &files {
        let sound = &made.files[&file.path];
        // One digit changed, the same length: the first one behind the middle that the replay does not take for
        // another way to write the same.
        let digits = (sound.len() / 2..sound.len()).filter(|&at| sound[at].is_ascii_digit());
        let mut changed = digits.map(|at| {
            let mut spoilt = sound.clone();
            spoilt[at] = b'0' + (spoilt[at] - b'0' + 1) % 10;
            spoilt
        });
        let spoilt = changed.find(|bytes| file.prove(bytes).is_err()).unwrap();
        let job = String::from_utf8(made.summary().to_vec()).unwrap();
        let job = job.replace(&super::made::digest(sound), &super::made::digest(&spoilt));
        std::fs::write(out.join(&file.path), &spoilt).unwrap();
        std::fs::write(out.join("job.json"), &job).unwrap();
        let told = prove(&out, &mut |_| {}).err().unwrap().to_string();
        for path in [file.path.as_str(), "job.json"] {
            let differs = format!("{path} is not the file that its sources make");
            assert!(told.contains(&differs), "{told}");
        }
        let bytes = |path: &str| match path == file.path {
            true => Some(&spoilt[..]),
            false => made.files.get(path).map(Vec::as_slice),
        };
        let faults = plan.replay(bytes, &mut |_| {}).faults;
        assert!(!faults.is_empty(), "{}", file.path);
        for fault in faults {
            assert!(told.contains(&fault), "{told}");
        }
        std::fs::write(out.join(&file.path), sound).unwrap();
        std::fs::write(out.join("job.json"), made.summary()).unwrap();
    }
    // A file that is gone counts as one that differs: what is left is replayed.
    let mut programs = files
        .iter()
        .filter(|file| matches!(file.holds, Holds::Program { .. }));
    let gone = &programs.next().unwrap().path;
    std::fs::remove_file(out.join(gone)).unwrap();
    let mut stages = Vec::new();
    let told = prove(&out, &mut |stage| stages.push(stage.to_owned()));
    let told = told.err().unwrap().to_string();
    assert!(told.contains(&format!("{gone} is missing")), "{told}");
    assert!(
        stages.iter().any(|stage| stage == FROM_DISK),
        "replayed: {stages:?}"
    );
}
