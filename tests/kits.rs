//! Kits: every sum holds from the panel file to nests and programs, and the labels tell the same.

use std::collections::BTreeMap;

use lapwright::job::{Made, plan};
use lapwright::panel::{JobFiles, LoadError};

const KITS: &str = "\n[kits]\npanels = 3\nspares = 2\ncommon_spares = 1\n";

fn text(panel: &str, kits: &str) -> String {
    let whole = crate::panel_support::text(lapwright::panel::SourceKind::Panel, panel);
    let without: Vec<&str> = (whole.lines())
        .filter(|l| !l.starts_with("quantity"))
        .collect();
    format!("quantity = 6\n{}{kits}", without.join("\n") + "\n")
}

fn files(panel: &str, kits: &str) -> Result<JobFiles, LoadError> {
    JobFiles::from_text("kits.toml", text(panel, kits).as_bytes(), None)
}

fn made(panel: &str, kits: &str) -> (lapwright::plan::Plan, Made) {
    made_of(&text(panel, kits))
}

fn made_of(text: &str) -> (lapwright::plan::Plan, Made) {
    let files = JobFiles::from_text("kits.toml", text.as_bytes(), None).expect("sound");
    let plan = plan(files, &mut |_| {}).expect("planned");
    let made = Made::of(&plan, &mut |_| {}).expect("made");
    (plan, made)
}

#[test]
fn nests_and_programs_hold_every_kit_and_every_spare() {
    // A hinged piece is one piece, though it fills the places of two.
    let hinged =
        text("hemp-leaf-card", KITS).replace("cut = \"blanks\"", "hinged = true\ncut = \"blanks\"");
    assert!(hinged.contains("hinged = true"));
    let panels = ["plain-window", "hemp-leaf-card", "router-square"];
    let texts = panels.map(|panel| (panel, text(panel, KITS)));
    for (panel, text) in texts.into_iter().chain([("hinged", hinged)]) {
        let (plan, made) = made_of(&text);
        let json: serde_json::Value = serde_json::from_slice(made.summary()).expect("json");
        assert_eq!(json["kits"]["count"], 2);
        assert_eq!(json["kits"]["panels"], 3);
        let class_of: BTreeMap<String, String> = json["members"]
            .as_array()
            .expect("members")
            .iter()
            .map(|m| (m["id"].to_string(), m["class"].to_string()))
            .collect();
        let class = |id: &serde_json::Value| {
            let id = id.to_string();
            class_of.get(&id).cloned().unwrap_or(id)
        };
        let count = |ids: Vec<String>| {
            let mut sums: BTreeMap<String, u64> = BTreeMap::new();
            ids.into_iter()
                .for_each(|id| *sums.entry(id).or_default() += 1);
            sums
        };
        let strips = json["nest"]["strips"].as_array().expect("a list").iter();
        let pieces = strips
            .flat_map(|strip| strip["pieces"].as_array())
            .flatten();
        let nested = count(pieces.map(|p| class(&p["id"])).collect());
        // A placement without a load lies in every run of its program.
        let mut placed: BTreeMap<String, u64> = BTreeMap::new();
        for setup in json["setups"].as_array().expect("setups") {
            let runs = setup["loads"].as_u64().expect("a count");
            for place in setup["placements"].as_array().expect("a list") {
                let lies = if place.get("load").is_some() { 1 } else { runs };
                *placed.entry(class(&place["id"])).or_default() += lies;
            }
        }
        assert_eq!(nested, placed, "{panel}");
        let mut rows = 0;
        for row in json["kits"]["pieces"].as_array().expect("rows") {
            let number = |key: &str| row[key].as_u64().expect("a count");
            assert_eq!(number("in_all"), 2 * number("per_kit"));
            if row["kind"] == "surround" {
                assert_eq!(number("spares_in_all"), 0);
                continue;
            }
            assert_eq!(number("spares_in_all"), 2 * number("spares_per_kit") + 1);
            if row["cut"] == true {
                let all = number("in_all") + number("spares_in_all");
                assert_eq!(nested.get(&row["id"].to_string()), Some(&all), "{panel}");
                rows += 1;
            }
        }
        assert_eq!(rows, nested.len(), "{panel}: nothing else is cut");
        for class in json["classes"].as_array().expect("classes") {
            // Without spares: as without kits.
            let of_one = plan.lattice().classes.iter().find(|c| class["id"] == c.id);
            let of_one = of_one.expect("a class").members.len() as u64;
            assert_eq!(class["count"], 6 * of_one);
            assert_eq!(class["spares"], 5);
        }
    }
}

#[test]
fn labels_come_with_kits_alone_and_are_the_same_twice() {
    let (_, with) = made("plain-window", KITS);
    for file in ["labels.csv", "labels/kits-01.svg", "labels/bundles-01.svg"] {
        assert!(with.files.contains_key(file), "{file}");
    }
    let (_, again) = made("plain-window", KITS);
    assert_eq!(with.files, again.files);
    let (_, letter) = made(
        "plain-window",
        &format!("{KITS}\n[sheet]\npaper = \"letter\"\n"),
    );
    // ISO 216; ANSI/ASME Y14.1 size A, from memory.
    for (made, width) in [(&with, "210mm"), (&letter, "215.9mm")] {
        let page = String::from_utf8_lossy(&made.files["labels/kits-01.svg"]);
        assert!(page.contains(&format!("width=\"{width}\"")), "{width}");
    }
    let (_, without) = made("plain-window", "");
    let json: serde_json::Value = serde_json::from_slice(without.summary()).expect("json");
    assert!(json["kits"].is_null());
    assert!(!without.files.keys().any(|f| f.contains("label")));
}

#[test]
fn edge_up_has_kits_of_members_and_spares_of_sticks() {
    let (plan, made) = made("check", "\n[kits]\npanels = 2\n");
    let json: serde_json::Value = serde_json::from_slice(made.summary()).expect("json");
    assert_eq!(json["kits"]["count"], 3);
    let mut sawn: BTreeMap<String, u64> = BTreeMap::new();
    let edge = plan.edge_up().expect("edge-up");
    for stick in &edge.sticks.sticks {
        for piece in &stick.pieces {
            let id = plan.lattice().classes[piece.class].id.clone();
            *sawn.entry(id).or_default() += u64::from(stick.count);
        }
    }
    let rows = json["kits"]["pieces"].as_array().expect("rows");
    for row in rows.iter().filter(|r| r["kind"] == "bar") {
        let id = row["id"].as_str().expect("an id");
        assert_eq!(sawn.get(id), row["in_all"].as_u64().as_ref());
    }
    let sides = rows.iter().filter(|r| r["kind"] == "surround");
    let sides: u64 = sides.filter_map(|r| r["in_all"].as_u64()).sum();
    assert_eq!(sides, 4 * u64::from(plan.files.panel.quantity));
}

#[test]
fn what_does_not_share_out_is_told() {
    let told = |panel: &str, kits: &str| match files(panel, kits) {
        Err(e) => e.to_string(),
        Ok(_) => String::new(),
    };
    let four = told("plain-window", "\n[kits]\npanels = 4\n");
    assert!(four.contains("panels = 4"), "{four}");
    assert!(four.contains("quantity = 4 or 8"), "{four}");
    assert!(told("plain-window", "\n[kits]\npanels = 7\n").contains("quantity = 7"));
    assert!(told("plain-window", "\n[kits]\nspares = 1001\n").contains("1000"));
    assert!(told("plain-window", "\n[kits]\nspare = 1\n").contains("spares"));
    let edge = told("check", "\n[kits]\nspares = 1\n");
    assert!(edge.contains("sticks.spares"), "{edge}");
    assert_eq!(told("check", "\n[kits]\npanels = 6\n"), "");
}
