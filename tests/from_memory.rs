//! Values that nobody has measured: told as such wherever a job tells them, until a coupon's reading has replaced them;
//! stock and faces that are not what the material has measured.
#![allow(clippy::panic)]

use std::collections::BTreeSet;

use lapwright::job::{Made, plan};
use lapwright::panel::{FromMemory, JobFiles, LoadError, SourceKind, with_diameter, with_kerf};
use serde_json::Value;

/// The phrase of the remark, which a maker must meet word by word.
const REMARK: &str = "from memory, not measured on this machine";

/// A panel with the text of some of its files changed.
fn changed(
    panel: &str,
    change: impl Fn(SourceKind, &str, String) -> String,
) -> Result<JobFiles, LoadError> {
    let mut sources = crate::panel_support::panel(panel).sources;
    for source in &mut sources {
        let text = String::from_utf8(source.bytes.clone()).expect("text");
        source.bytes = change(source.kind, &source.name, text).into_bytes();
    }
    JobFiles::from_sources(sources)
}

fn refused(result: Result<JobFiles, LoadError>) -> String {
    match result {
        Ok(_) => panic!("it should be refused"),
        Err(error) => error.to_string(),
    }
}

fn made(files: JobFiles) -> Made {
    let plan = plan(files, &mut |_| ()).expect("sound");
    Made::of(&plan, &mut |_| ()).expect("sound")
}

fn texts(made: &Made, ending: &str) -> Vec<(String, String)> {
    let files = made.files.iter().filter(|(name, _)| name.ends_with(ending));
    files
        .map(|(name, bytes)| (name.clone(), String::from_utf8_lossy(bytes).into_owned()))
        .collect()
}

fn job(made: &Made) -> Value {
    serde_json::from_slice(&made.files["job.json"]).expect("JSON")
}

/// The text without breaks between lines, as remarks and notes may be wrapped.
fn flowing(text: &str) -> String {
    let words = text.split(|c: char| c.is_whitespace() || "();".contains(c));
    words
        .filter(|w| !w.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn a_kerf_from_memory_is_told_to_the_end() {
    let made = made(crate::panel_support::panel("plain-window"));
    let told = format!("kerf 0.15 mm - {REMARK}");
    let programs = texts(&made, ".nc");
    let cuts = programs
        .iter()
        .filter(|(name, _)| !name.contains("air-run"));
    assert!(cuts.clone().count() > 0);
    for (name, text) in cuts {
        let head = flowing(text);
        for value in [
            "stock 1.5 mm thick",
            "kerf 0.15 mm",
            "feed 900 mm/min",
            "power 60 percent",
        ] {
            assert!(
                head.contains(&format!("{value} - {REMARK}")),
                "{name}: {value}"
            );
        }
    }
    let notes = String::from_utf8_lossy(&made.files["dxf/notes.txt"]).into_owned();
    assert!(notes.contains(&told), "{notes}");
    assert!(texts(&made, "sheet.html")[0].1.contains(&told));
    let job = job(&made);
    let setup = job["setups"][0]["from_memory"].as_array().expect("a list");
    let tells = |text: &Value| text.as_str().is_some_and(|text| text.ends_with(&told));
    assert!(setup.iter().any(tells), "{setup:?}");
    let all = job["from_memory"].as_array().expect("a list");
    let kerf = all
        .iter()
        .find(|v| v["key"] == "laser.kerf")
        .expect("the kerf");
    assert_eq!(
        (&kerf["file"], &kerf["value"]),
        (&"material".into(), &"0.15".into())
    );
}

#[test]
fn a_router_tells_its_cutter_likewise() {
    let made = made(JobFiles::builtin_panel("router-square").expect("built in"));
    let told = format!("cutter 3 mm wide - {REMARK}");
    let programs = texts(&made, ".nc");
    let (name, text) = programs
        .iter()
        .find(|(n, _)| !n.contains("air-run"))
        .expect("a program");
    for value in [
        "cutter 3 mm wide",
        "feed 1200 mm/min",
        "speed 16000 rev/min",
    ] {
        assert!(
            flowing(text).contains(&format!("{value} - {REMARK}")),
            "{name}: {value}"
        );
    }
    assert!(texts(&made, "sheet.html")[0].1.contains(&told));
    assert!(texts(&made, "notes.txt")[0].1.contains(&told));
}

#[test]
fn a_reading_ends_it() {
    let measured = |kind: SourceKind, _: &str, text: String| match kind {
        SourceKind::Material => {
            with_kerf("m.toml", text.as_bytes(), 0.16, None)
                .expect("written")
                .1
        }
        _ => text,
    };
    let made = made(changed("plain-window", measured).expect("sound"));
    for (name, text) in texts(&made, "")
        .iter()
        .filter(|(n, _)| !n.ends_with(".pdf"))
    {
        assert!(
            !flowing(text).contains(&format!("kerf 0.16 mm - {REMARK}")),
            "{name}"
        );
    }
    let job = job(&made);
    let all = job["from_memory"].as_array().expect("a list");
    assert!(!all.iter().any(|v| v["key"] == "laser.kerf"), "{all:?}");
    assert!(all.iter().any(|v| v["key"] == "laser.feed"), "{all:?}");
    // The other remarks stay.
    let notes = String::from_utf8_lossy(&made.files["dxf/notes.txt"]).into_owned();
    assert!(
        notes.contains(&format!("stock 1.5 mm thick - {REMARK}")),
        "{notes}"
    );
}

#[test]
fn a_list_without_its_last_key_goes_and_all_else_stays() {
    let files = JobFiles::builtin_panel("router-square").expect("built in");
    let machine = files
        .sources
        .iter()
        .find(|s| s.kind == SourceKind::Machine)
        .expect("there");
    let text = String::from_utf8(machine.bytes.clone()).expect("text");
    let start = text.find("from_memory = [").expect("a list");
    let end = start + text[start..].find("]\n").expect("its end") + 2;
    let one = |list: &str| format!("{}{list}{}", &text[..start], &text[end..]);
    let listed = one("from_memory = [\"router.tool.diameter\"]\n");
    let (before, after) = with_diameter("m.toml", listed.as_bytes(), 3.04).expect("written");
    assert!(before.from_memory.has("router.tool.diameter"));
    let want = one("").replace("diameter = 3.0 ", "diameter = 3.04 ");
    let remark = "not from the shank (from memory)";
    assert_eq!(after, want.replace(remark, "not from the shank"));
    let (unlisted, _) = with_diameter("m.toml", after.as_bytes(), 3.04).expect("sound");
    assert_eq!(unlisted.from_memory, FromMemory::default());
}

#[test]
fn an_entry_that_is_no_key_of_the_file_is_refused() {
    let with = |list: &'static str| {
        refused(changed("plain-window", move |kind, _, text| match kind {
            SourceKind::Material => {
                let start = text.find("from_memory = [").expect("a list");
                let end = start + text[start..].find("]\n").expect("its end") + 2;
                format!("{}from_memory = {list}\n{}", &text[..start], &text[end..])
            }
            _ => text,
        }))
    };
    for (list, said) in [
        ("[\"laser.kerv\"]", "did you mean `laser.kerf`?"),
        (
            "[\"laser\"]",
            "`laser` is not a key of this file that has a value",
        ),
        (
            "[\"router.feed\"]",
            "`router.feed` is not a key of this file that has a value",
        ),
        (
            "[\"crush\", \"play\", \"crush\"]",
            "`crush` stands in the list twice",
        ),
        ("[7]", "`from_memory`"),
        (
            "\"laser.kerf\"",
            "`from_memory` must be a list of texts in quotes",
        ),
    ] {
        let told = with(list);
        assert!(told.contains(said), "{list}: {told}");
        assert!(told.contains("material.toml"), "{list}: {told}");
    }
}

#[test]
fn stock_of_another_thickness_is_refused_in_both_files() {
    let with = |thickness: &'static str| {
        changed("router-square", move |kind, _, text| match kind {
            SourceKind::Stock => {
                text.replace("thickness = 4 ", &format!("thickness = {thickness} "))
            }
            _ => text,
        })
    };
    // 0.3 mm may lie between what stock is called and what it measures.
    for good in ["4", "3.7", "4.3", "[3, 4, 6]", "\"5/32 in\""] {
        assert!(with(good).is_ok(), "{good}");
    }
    for bad in ["3.69", "4.31", "[3, 6]", "\"1/8 in\""] {
        let told = refused(with(bad));
        assert!(
            told.contains("this stock is ") && told.contains("stock.toml"),
            "{told}"
        );
        assert!(
            told.contains("this material is 4 mm thick") && told.contains("material.toml"),
            "{told}"
        );
    }
    assert!(refused(with("[4, 3]")).contains("3 follows 4"));
}

#[test]
fn a_face_in_inches_on_stock_that_is_not_so_thick_is_told() {
    let warnings = |face: &'static str| {
        let files = changed("router-square", move |kind, _, text| match kind {
            SourceKind::Panel => text.replace("face = 4 ", &format!("face = {face} ")),
            _ => text,
        });
        let plan = plan(files.expect("sound"), &mut |_| ()).expect("sound");
        let of_face = plan.warnings.into_iter().filter(|w| w.contains("`face`"));
        of_face.collect::<Vec<_>>()
    };
    // 5/32 in is 3.96875 mm (1 in = 25.4 mm, international yard, 1959).
    let told = warnings("\"5/32 in\"");
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0].contains("5/32 in") && told[0].contains("3.969 mm") && told[0].contains("4 mm"),
        "{told:?}"
    );
    assert_eq!(warnings("\"4 mm\""), Vec::<String>::new());
    assert_eq!(warnings("3.97"), Vec::<String>::new());
    // 20/127 in is 4 mm.
    assert_eq!(warnings("\"20/127 in\""), Vec::<String>::new());
}

#[test]
fn outlines_without_a_depth_are_as_deep_as_their_stock() {
    let files = changed("hemp-leaf-outlines", |kind, _, text| match kind {
        SourceKind::Panel => {
            let lines = text.lines().filter(|l| !l.starts_with("depth = 2 "));
            lines.map(|l| format!("{l}\n")).collect()
        }
        _ => text,
    });
    let made = made(files.expect("sound"));
    let job = job(&made);
    let depths: BTreeSet<String> = (job["infill"].as_array().expect("rows").iter())
        .map(|row| {
            format!(
                "{} {}",
                row["material"].as_str().expect("text"),
                row["depth"]
            )
        })
        .collect();
    assert_eq!(
        depths.into_iter().collect::<Vec<_>>(),
        ["card 1 mm 1.0", "card 2 mm 2.0"]
    );
    let page = &texts(&made, "sheet.html")[0].1;
    assert!(
        page.contains("Pieces of card 2 mm are 2 mm deep, as thick as their stock."),
        "{page}"
    );
}

#[test]
fn no_two_sheets_have_one_title_and_every_piece_of_infill_its_letter() {
    let files = JobFiles::builtin_panel("hemp-leaf-outlines").expect("built in");
    let plan = plan(files, &mut |_| ()).expect("sound");
    let made = Made::of(&plan, &mut |_| ()).expect("sound");
    let mut titles = BTreeSet::new();
    for flat in plan.flats() {
        for (sheet, program) in flat.cuts() {
            let title = flat.layout.title(sheet);
            assert!(titles.insert(title.clone()), "{title} twice");
            let picture =
                String::from_utf8_lossy(&made.files[&format!("pictures/{}.svg", program.stem)])
                    .into_owned();
            assert!(picture.contains(&format!(": {title}</title>")), "{title}");
            for place in &sheet.placements {
                let class = &flat.layout.pieces[place.piece].class;
                assert!(picture.contains(class.as_str()), "{class} in {title}");
            }
            if title.starts_with("infill") {
                let letters = picture.matches("text-anchor=\"middle\"").count();
                assert!(letters >= sheet.placements.len(), "{title}: {letters}");
            }
        }
    }
    assert_eq!(titles.len(), 3, "{titles:?}");
    let page = &texts(&made, "sheet.html")[0].1;
    let headings = page
        .split("<h3")
        .skip(1)
        .filter_map(|h| h.split("</h3>").next());
    let headings: Vec<_> = headings.collect();
    let single: BTreeSet<_> = headings.iter().collect();
    assert_eq!(headings.len(), single.len(), "{headings:?}");
}
