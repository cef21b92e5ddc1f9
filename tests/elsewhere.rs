//! A cut that is made on a machine elsewhere: drawings alone, proven and put together on paper like any other job, and
//! a folder of them that can be sent as it is.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeSet;

use lapwright::geom::REPLAY;
use lapwright::job::{Edited, JobError, Made, coupon_plan, deliver, plan, prove};
use lapwright::panel::{DxfStyle, JobFiles, LoadError, SourceKind};
use lapwright::plan::{Plan, SheetWork};
use lapwright::replay::{drawn_shapes, prove_paths};
use lapwright::safety::CheckId;
use lapwright::setup::CouponKind;

/// The text of a panel whose cut is made elsewhere, with places of it edited.
#[track_caller]
fn text(panel: &str, elsewhere: &str, edits: &[(&str, &str)]) -> String {
    let whole = crate::panel_support::text(SourceKind::Panel, panel);
    let line = |line: &str| match line.split(' ').next() {
        Some("machine") => Some(format!("elsewhere = {elsewhere}")),
        Some("post_processor") => None,
        _ => Some(line.to_owned()),
    };
    let lines: Vec<String> = whole.lines().filter_map(line).collect();
    let mut text = lines.join("\n");
    assert!(text.contains("elsewhere = "), "{panel} names a machine");
    for (from, to) in edits {
        assert!(text.contains(from), "`{from}` is in {panel}");
        text = text.replacen(from, to, 1);
    }
    text
}

fn files(text: &str) -> Result<JobFiles, LoadError> {
    JobFiles::from_text("panel.toml", text.as_bytes(), None)
}

#[track_caller]
fn job(text: &str) -> (Plan, Made) {
    let plan = plan(files(text).unwrap(), &mut |_| ()).unwrap();
    let made = Made::of(&plan, &mut |_| ()).unwrap();
    (plan, made)
}

fn named<'a>(made: &'a Made, ending: &str) -> BTreeSet<&'a str> {
    let all = made.files.keys().map(String::as_str);
    all.filter(|path| path.ends_with(ending)).collect()
}

/// What is wrong, in words, with hints.
#[track_caller]
fn refused(text: &str) -> String {
    match files(text) {
        Ok(_) => panic!("no fault in\n{text}"),
        Err(e) => e.to_string(),
    }
}

#[test]
fn there_are_drawings_and_nothing_for_a_machine() {
    for (elsewhere, sizes) in [
        ("{}", &["drawn-size"][..]),
        ("{ kerf = 0.2 }", &["drawn-size", "kerf-compensated"]),
        ("{ tool_diameter = 1 }", &["drawn-size", "tool-compensated"]),
    ] {
        let (plan, made) = job(&text("plain-window", elsewhere, &[]));
        let wanted: BTreeSet<String> = sizes
            .iter()
            .map(|size| format!("dxf/plain-window-sheet-01-{size}.dxf"))
            .collect();
        let wanted: BTreeSet<&str> = wanted.iter().map(String::as_str).collect();
        assert_eq!(named(&made, ".dxf"), wanted, "{elsewhere}");
        assert_eq!(named(&made, ".nc"), BTreeSet::new(), "{elsewhere}");
        let sources = named(&made, ".toml");
        let three = [
            "source/material.toml",
            "source/panel.toml",
            "source/stock.toml",
        ];
        assert_eq!(sources, BTreeSet::from(three), "{elsewhere}");
        // The folder that is sent: drawings, notes, a picture.
        for path in ["dxf/notes.txt", "dxf/plain-window-sheet-01.svg"] {
            assert!(made.files.contains_key(path), "{elsewhere}: {path}");
        }
        let summary: serde_json::Value = serde_json::from_slice(made.summary()).unwrap();
        assert_eq!(summary["setups"].as_array().map(Vec::len), Some(0));
        assert!(summary["elsewhere"].is_object(), "{elsewhere}");
        // Of power, feed, reach and holds nothing is known.
        let of_machine = [
            CheckId::CutFeed,
            CheckId::LaserPower,
            CheckId::SpindleSpeed,
            CheckId::Reach,
            CheckId::Bridges,
            CheckId::Tabs,
        ];
        let found: BTreeSet<&str> = made.checks.iter().map(|c| c.id.word()).collect();
        for id in of_machine {
            assert!(!found.contains(id.word()), "{elsewhere}: {}", id.word());
        }
        for id in [
            CheckId::Web,
            CheckId::Gap,
            CheckId::Interference,
            CheckId::Replay,
        ] {
            assert!(found.contains(id.word()), "{elsewhere}: {}", id.word());
        }
        let page = String::from_utf8_lossy(&made.files["sheet.html"]).into_owned();
        assert!(page.contains("No programs: the DXF files are cut on someone else"));
        assert!(
            !page.contains("gcode/"),
            "{elsewhere}: a program is told of"
        );
        let notes = String::from_utf8_lossy(&made.files["dxf/notes.txt"]).into_owned();
        assert!(notes.contains("its operator chooses feed, speed or power, and holds"));
        // Drawings of finished outlines may come under any head: a beam's cautions are for all but a cutter.
        let beam = notes.contains("Never leave a beam alone");
        assert_eq!(beam, !elsewhere.contains("tool"), "{elsewhere}: {notes}");
        let warned = plan.warnings.iter().any(|w| w.contains("neither kerf nor"));
        assert_eq!(warned, elsewhere == "{}", "{elsewhere}");
    }
}

/// Every flat panel that is built in, with a width that suits: made, and proven again from its folder alone.
#[test]
fn a_folder_is_proven_from_disk_alone() {
    let all = [
        ("plain-window", "{ kerf = 0.15, gap = 4 }", ""),
        (
            "plain-window",
            "{}",
            "dxf_files = \"piece\"\ndxf_version = \"both\"\n",
        ),
        (
            "plain-window",
            "{ tool_diameter = 1 }",
            "dxf_files = \"both\"\n",
        ),
        ("hexagon-card", "{ kerf = 0.15 }", ""),
        (
            "hemp-leaf-card",
            "{ kerf = 0.15 }",
            "dxf = \"compensated\"\n",
        ),
        ("hemp-leaf-outlines", "{ kerf = 0.15 }", ""),
        ("hemp-leaf-outlines", "{}", ""),
        ("router-square", "{ tool_diameter = 3 }", ""),
    ];
    for (panel, elsewhere, keys) in all {
        let text = text(panel, elsewhere, &[("[cut]\n", &format!("[cut]\n{keys}"))]);
        let (_, made) = job(&text);
        let at = tempfile::tempdir().unwrap();
        let out = at.path().join("out");
        deliver(&out, &made.files, Edited::Replaced, &mut |_| ()).unwrap();
        let (again, _) = prove(&out, &mut |_| ()).unwrap_or_else(|e| panic!("{panel}: {e}"));
        assert!(again.files.own().is_none(), "{panel}: {elsewhere}");
        // A machine file laid beside the sources is no part of the job.
        std::fs::write(out.join("source/machine.toml"), "name = \"x\"\n").unwrap();
        match prove(&out, &mut |_| ()) {
            Err(JobError::Proof(wrong)) => {
                assert!(
                    wrong.iter().any(|w| w.contains("machine.toml")),
                    "{wrong:?}"
                );
            }
            other => panic!("{panel}: {}", other.is_ok()),
        }
    }
}

/// A job of one's own machine without its machine file is not taken for one that is cut elsewhere.
#[test]
fn a_machine_file_that_is_lost_is_missed() {
    for kind in SourceKind::OWN_MACHINE {
        let mut sources = crate::panel_support::panel("plain-window").sources;
        sources.retain(|source| source.kind != kind);
        let e = JobFiles::from_sources(sources).unwrap_err().to_string();
        let says = format!("source/{} is missing", kind.file_name());
        assert!(e.contains(&says), "{e}");
    }
}

/// Pieces lie as far apart as is said; where the width is known, that much is left between the cuts.
#[test]
fn pieces_lie_as_far_apart_as_is_said() {
    // By hand: a cut of width w runs outside of each piece, w wide: gap + 2 w from outline to outline.
    for (elsewhere, apart) in [
        ("{}", 10.0),
        ("{ gap = 7.3 }", 7.3),
        ("{ kerf = 0.2 }", 2.0 + 2.0 * 0.2),
        ("{ tool_diameter = 1, gap = 3.1 }", 3.1 + 2.0),
    ] {
        let (plan, _) = job(&text("plain-window", elsewhere, &[]));
        let flat = plan.flat().unwrap();
        for sheet in &flat.layout.sheets {
            let boxes: Vec<_> = (sheet.placements.iter())
                .map(|p| {
                    let piece = &flat.layout.pieces[p.piece];
                    [p.x, p.y, p.x + piece.length, p.y + piece.depth]
                })
                .collect();
            let mut least = f64::INFINITY;
            for (i, a) in boxes.iter().enumerate() {
                for b in &boxes[..i] {
                    let x = (b[0] - a[2]).max(a[0] - b[2]);
                    let y = (b[1] - a[3]).max(a[1] - b[3]);
                    least = least.min(x.max(y));
                }
            }
            assert!(
                (least - apart).abs() < 0.002,
                "{elsewhere}: {least} mm apart"
            );
        }
    }
}

/// A path that is shifted, or compensated for another width, does not prove; nor do pieces that are missing.
#[test]
fn paths_are_held_against_the_pieces() {
    let (plan, _) = job(&text("plain-window", "{ kerf = 0.2 }", &[]));
    let flat = plan.flat().unwrap();
    let SheetWork::Drawings(drawings) = &flat.work else {
        panic!("programs for a machine elsewhere")
    };
    for (id, drawing) in drawings.entries() {
        let sheet = &flat.layout.sheets[id];
        let paths = drawing.paths.as_ref().unwrap();
        let proof = prove_paths(&flat.layout, sheet, paths).unwrap();
        assert_eq!(proof.compared, sheet.placements.len());
        let drawn = drawn_shapes(&flat.layout, sheet).unwrap();
        assert_eq!(drawn.len(), proof.shapes.len());
        for (off, sound) in [(0.4 * REPLAY, true), (4.0 * REPLAY, false)] {
            let mut shifted = paths.clone();
            let one = &mut shifted.contours[3].path;
            *one = one.moved(off, 0.0);
            assert_eq!(
                prove_paths(&flat.layout, sheet, &shifted).is_ok(),
                sound,
                "{off}"
            );
        }
        let mut wider = paths.clone();
        wider.width = lapwright::panel::CutWidth::Kerf(0.2 + 8.0 * REPLAY);
        assert!(
            prove_paths(&flat.layout, sheet, &wider).is_err(),
            "another kerf"
        );
        let mut fewer = paths.clone();
        fewer.contours.remove(0);
        assert!(
            prove_paths(&flat.layout, sheet, &fewer).is_err(),
            "an outline less"
        );
    }
}

/// A spoilt drawing, or one that is not there, leaves pieces uncut, and the replay says so.
#[test]
fn what_no_drawing_shows_is_told() {
    for keys in ["", "dxf_files = \"piece\"\n"] {
        let text = text(
            "plain-window",
            "{}",
            &[("[cut]\n", &format!("[cut]\n{keys}"))],
        );
        let (plan, made) = job(&text);
        let all = |path: &str| made.files.get(path).map(Vec::as_slice);
        let found = plan.replay(all, &mut |_| ());
        assert!(found.faults.is_empty(), "{:?}", found.faults);
        let first = *named(&made, ".dxf").first().unwrap();
        let less = |path: &str| all(path).filter(|_| path != first);
        let found = plan.replay(less, &mut |_| ());
        let told = found.faults.join("\n");
        assert!(told.contains("all runs of all drawings cut 0"), "{told}");
        assert!(found.shapes.contains(&None), "a piece has no shape");
    }
}

#[test]
fn what_drawings_cannot_be_asked_for_is_refused() {
    let edit = |elsewhere: &str, from: &str, to: &str| {
        refused(&text("plain-window", elsewhere, &[(from, to)]))
    };
    for (told, says) in [
        (
            edit("{}", "method = \"flat\"", "method = \"edge-up\""),
            "by G-code alone",
        ),
        (
            edit("{}", "[cut]\n", "[cut]\ndxf = \"both\"\n"),
            "nothing says what to compensate for",
        ),
        (
            edit("{}", "[cut]\n", "[cut]\nrelief = \"floor\"\n"),
            "how large a round",
        ),
        (
            edit("{ kerf = 0.2, tool_diameter = 1 }", "rows", "rows"),
            "not both",
        ),
        (edit("{ kerf = 9 }", "rows", "rows"), "from 0.02 to 5 mm"),
        (edit("{ gap = 0.1 }", "rows", "rows"), "from 0.5 to 1000 mm"),
        (
            edit("{ kerff = 0.2 }", "rows", "rows"),
            "did you mean `kerf`?",
        ),
        (edit("3", "rows", "rows"), "`elsewhere` must be a table"),
        (
            edit("{ kerf = 0.1 }", "\"card-1.5\"", "\"vinyl-sheet\""),
            "must not be lasered",
        ),
        (
            edit("{}", "[ground]", "machine = \"desk-laser\"\n[ground]"),
            "leave one of the two out",
        ),
        (
            edit("{}", "[ground]", "post_processor = \"laser-mm\"\n[ground]"),
            "leave one of the two out",
        ),
    ] {
        assert!(told.contains(says), "{says}: {told}");
    }
    // A cutter may have it, and what is cut at finished size says that a beam may not.
    for elsewhere in ["{ tool_diameter = 1 }", "{}"] {
        let (_, made) = job(&text(
            "plain-window",
            elsewhere,
            &[
                ("\"card-1.5\"", "\"vinyl-sheet\""),
                ("face = 1.5", "face = 1"),
            ],
        ));
        let notes = String::from_utf8_lossy(&made.files["dxf/notes.txt"]).into_owned();
        assert!(notes.contains("vinyl sheet"), "{notes}");
        assert!(notes.contains("chlorine"), "{elsewhere}: {notes}");
    }
}

/// A coupon measures a machine that a job knows.
#[test]
fn coupons_are_for_a_machine_of_ones_own() {
    for kind in CouponKind::ALL {
        let files = files(&text("plain-window", "{ kerf = 0.2 }", &[])).unwrap();
        let e = coupon_plan(files, kind, &mut |_| ())
            .unwrap_err()
            .to_string();
        assert!(e.contains("a coupon measures the machine"), "{e}");
    }
}

/// Drawings lie on the layers that the built-in dialects have, so that a shop sees the same whoever sends them.
#[test]
fn layers_are_those_of_the_dialects_that_are_built_in() {
    let own = crate::panel_support::panel("plain-window");
    assert_eq!(DxfStyle::usual(), own.dxf_style());
    assert_eq!(
        DxfStyle::usual(),
        JobFiles::builtin_panel("router-square")
            .unwrap()
            .dxf_style()
    );
}
