//! What the files leave to the hand: told at the bench, beside the drawings and to other programs, and gone once the
//! key that is named has been written.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::fs;
use std::process::Command;

use lapwright::job::{Made, plan};
use lapwright::panel::{JobFiles, SourceKind};
use lapwright::plan::Plan;

fn job(text: &str) -> (Plan, Made) {
    let files = JobFiles::from_text("panel.toml", text.as_bytes(), None).unwrap();
    let plan = plan(files, &mut |_| ()).unwrap();
    let made = Made::of(&plan, &mut |_| ()).unwrap();
    (plan, made)
}

fn text(panel: &str) -> &'static str {
    crate::panel_support::text(SourceKind::Panel, panel)
}

/// The first word of each, and the key that changes it.
fn told(plan: &Plan) -> Vec<(&'static str, Option<[&'static str; 2]>)> {
    let list = plan.not_cut();
    let one = |part: &lapwright::plan::Uncut| {
        let what = part.what.split(':').next().unwrap_or_default();
        (what, part.instead.map(|instead| instead.key))
    };
    list.iter().map(one).collect()
}

#[test]
fn files_that_cut_all_of_a_panel_say_nothing_of_it() {
    let (plan, made) = job(text("demo"));
    assert_eq!(told(&plan), []);
    assert!(!String::from_utf8_lossy(&made.files["dxf/notes.txt"]).contains("do not cut"));
    assert!(!String::from_utf8_lossy(&made.files["sheet.html"]).contains("do not cut"));
    // All four sides lie on the sheet, beside 14 bars.
    let sides = (plan.flats())
        .flat_map(|flat| flat.layout.sheets.iter())
        .flat_map(|sheet| &sheet.placements)
        .filter(|place| place.id.starts_with("surround"));
    assert_eq!(sides.count(), 4);
}

/// What `lapwright demo` prints and writes: all of it is cut, and nothing is said of work by hand or of mitres.
#[test]
fn the_demo_is_cut_whole() {
    let folder = tempfile::TempDir::new().unwrap();
    let out = Command::new(env!("CARGO_BIN_EXE_lapwright"))
        .arg("demo")
        .current_dir(folder.path())
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(0));
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(
        !said.contains("by hand") && !said.contains("mitre"),
        "{said}"
    );
    // By hand: 168 and 186 of ground, past either end the side's own 1.5, but for half of the clearance of 0.05 that
    // widens a notch, and an ear of half the depth of 12.
    let past = |ground: f64| ground + 2.0 * (1.5 + 0.05 / 2.0 + 6.0);
    let sides = format!(
        "surround   2 x s1 of {:.2} mm, 2 x s2 of {:.2} mm, half-lapped, cut among the bars\n",
        past(168.0),
        past(186.0)
    );
    assert!(said.contains(&sides), "{said}");
    for path in ["dxf/notes.txt", "sheet.html", "surround.csv"] {
        let text = fs::read_to_string(folder.path().join("lapwright-demo").join(path)).unwrap();
        for row in text.lines().skip(1) {
            assert!(!row.contains("mitre"), "{path}: {row}");
            assert!(!row.contains("drilled by hand"), "{path}: {row}");
        }
    }
}

#[test]
fn a_surround_by_hand_is_told_everywhere_with_the_key_that_cuts_it() {
    let (plan, made) = job(text("plain-window"));
    let laps = ["surround.cut", "\"laps\""];
    assert_eq!(told(&plan), [("surround", Some(laps))]);
    let line = plan.not_cut()[0].in_words();
    assert!(line.contains("`surround.cut = \"laps\"`"), "{line}");
    let notes = String::from_utf8_lossy(&made.files["dxf/notes.txt"]).into_owned();
    // Whoever gets the drawings has neither the list nor the panel file.
    let shop = "What these files do not cut\n  surround: mitred and drilled by hand\n";
    assert!(notes.contains(shop), "{notes}");
    assert!(!notes.contains("surround.c"), "{notes}");
    let page = String::from_utf8_lossy(&made.files["sheet.html"]).into_owned();
    let escaped = line.replace('"', "&quot;");
    assert!(
        page.contains("What the files do not cut") && page.contains(&escaped),
        "the sheet tells it"
    );
    let summary: serde_json::Value = serde_json::from_slice(made.summary()).unwrap();
    let uncut = &summary["uncut"];
    assert_eq!(uncut.as_array().map(Vec::len), Some(1));
    assert_eq!(uncut[0]["key"], laps[0]);
    assert_eq!(uncut[0]["value"], laps[1]);
}

/// Each key, written as it is told, takes its line off the list; the panel file takes it.
#[test]
fn the_key_that_is_named_has_the_files_cut_it() {
    let infill =
        |cut: &str| text("hemp-leaf-card").replace("cut = \"blanks\"", &format!("cut = \"{cut}\""));
    let names = |text: &str| -> BTreeSet<&'static str> {
        told(&job(text).0)
            .into_iter()
            .map(|(what, _)| what)
            .collect()
    };
    let laps = text("plain-window").replace("width = 8 ", "cut = \"laps\"\nwidth = 1.5 ");
    assert_eq!(names(&laps), BTreeSet::new());
    let overhang = text("hexagon-card");
    assert!(names(overhang).contains("ends of bars"));
    let flush = overhang.replace("overhang = 8 ", "overhang = 0 ");
    assert_ne!(flush, overhang);
    assert_eq!(names(&flush), BTreeSet::from(["skew ends of bars"]));
    let by_hand = job(&infill("by-hand")).0;
    let key = ["infill.cut", "\"blanks\""];
    assert!(told(&by_hand).contains(&("infill", Some(key))));
    let blanks = job(&infill("blanks")).0;
    let key = ["infill.cut", "\"outlines\""];
    assert!(told(&blanks).contains(&("infill", Some(key))));
    let outlines = names(text("hemp-leaf-outlines"));
    assert!(!outlines.contains("infill"), "{outlines:?}");
}

/// Edge up no DXF holds the bars, and sticks are sawn apart by hand.
#[test]
fn edge_up_bars_are_sawn_off_by_hand() {
    let files = crate::panel_support::panel("check");
    let plan = plan(files, &mut |_| ()).unwrap();
    let told = told(&plan);
    assert_eq!(told[0], ("bars", None));
    // Lapped sides lie among bars that are cut flat: no key cuts them here.
    assert!(told.contains(&("surround", None)), "{told:?}");
}
