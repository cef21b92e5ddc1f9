//! Sizes for an opening: the check panel's own, what decides, and what is refused. The search itself is
//! held against one that tries everything in `tests/reference/test_fit.py`.

use std::path::Path;

use lapwright::job::{Start, plan_sizes};
use lapwright::lattice::Lattice;
use lapwright::panel::{JobFiles, Layout, SourceKind};
use lapwright::size::{Asked, Closes, Range, SizeError, find_sizes};

fn range(least: f64, greatest: f64) -> Range {
    Range { least, greatest }
}

fn asked(outer: [f64; 2], pitch: Range, surround: Range) -> Asked {
    Asked {
        outer,
        pitch,
        pitch_up: pitch,
        angle: None,
        surround,
        tolerance: 0.05,
    }
}

fn check_panel() -> JobFiles {
    crate::panel_support::panel("check")
}

// Common practice, no source: six columns by three pitches of 65 with a surround of 8 are 349.75 x 211.
#[test]
fn the_check_panel_is_found_from_its_size() {
    let files = check_panel();
    let asked = asked([349.75, 211.0], range(50.0, 80.0), range(6.0, 12.0));
    let found = find_sizes(&files.panel, files.material.measured(), &asked, 8).expect("sizes");
    let best = &found.best[0];
    assert_eq!((best.columns, best.rows), (6, 3));
    assert_eq!(best.closes, Closes::Exact);
    assert_eq!(best.surround, [8.0; 2]);
    assert!(matches!(best.layout, Layout::ThreeWay { pitch, .. } if pitch == 65.0));
    // The lattice module builds it as large as told.
    let built = best.applied(&files.panel);
    let built = Lattice::build(&built, files.material.measured()).expect("a ground");
    let bounds = built.bounds();
    assert_eq!([bounds.width(), bounds.height()], best.ground);
    let off = [
        349.75 - bounds.width() - 16.0,
        211.0 - bounds.height() - 16.0,
    ];
    assert!(off.iter().all(|o| o.abs() <= 0.05), "{off:?}");
}

#[test]
fn every_size_is_built_as_told() {
    for layout in [
        "square",
        "diamond",
        "three-way",
        "open-three-way",
        "eight-point",
    ] {
        let start = Start::of(Path::new(layout)).expect("a starter");
        let (panel, material) = (&start.files.panel, &start.files.material);
        let asked = asked([407.3, 311.9], range(27.7, 43.1), range(5.3, 12.9));
        let found = find_sizes(panel, material.measured(), &asked, 40).expect("sizes");
        for one in &found.best {
            let panel = one.applied(panel);
            let Ok(built) = Lattice::build(&panel, material.measured()) else {
                continue;
            };
            let bounds = built.bounds();
            let past = one.past.unwrap_or_default();
            for (axis, size) in [bounds.width(), bounds.height()].into_iter().enumerate() {
                assert!((size - one.ground[axis] - 2.0 * past[axis]).abs() < 1e-9);
                let whole = size + 2.0 * one.width();
                let off = (whole - asked.outer[axis]).abs();
                let closes = one.closes != Closes::Misses && one.past.is_some();
                assert!(
                    !closes || off <= 0.05 + 1e-9,
                    "{layout}: {one:?} is off by {off}"
                );
            }
        }
    }
}

#[test]
fn the_same_call_gives_the_same_sizes() {
    let start = Start::of(Path::new("three-way")).expect("a starter");
    let asked = asked([297.3, 211.9], range(27.7, 43.1), range(5.3, 12.9));
    let one = || {
        let found = plan_sizes(&start, &asked, 6, &mut |_| {}).expect("sizes");
        format!("{:?}", found.best)
    };
    assert_eq!(one(), one());
}

#[test]
fn what_cannot_be_is_refused() {
    let files = check_panel();
    let refused = |outer, pitch, surround| {
        let asked = asked(outer, pitch, surround);
        find_sizes(&files.panel, files.material.measured(), &asked, 8).expect_err("no size")
    };
    let (pitch, surround) = (range(50.0, 80.0), range(8.0, 8.0));
    // One column at pitch 50, less the inner edge of a face of 4, and twice the surround.
    let least = 50.0 * (3.0_f64.sqrt() / 2.0) - 4.0 + 16.0;
    assert!(matches!(
        refused([least - 0.06, 200.0], pitch, surround),
        SizeError::TooSmall { axis: 0, least: l, .. } if (l - least).abs() < 1e-9
    ));
    let just = asked([least, 200.0], pitch, surround);
    assert!(find_sizes(&files.panel, files.material.measured(), &just, 8).is_ok());
    assert!(matches!(
        refused([300.0, 65.9], pitch, surround),
        SizeError::TooSmall { axis: 1, .. }
    ));
    assert!(matches!(
        refused([300.0, 200.0], pitch, range(100.0, 120.0)),
        SizeError::SurroundTooWide { .. }
    ));
    assert!(matches!(
        refused([9000.0, 9000.0], range(0.5, 80.0), surround),
        SizeError::TooMany { .. }
    ));
    assert_eq!(
        refused([300.0, 200.0], range(1.0, 1.5), surround),
        SizeError::Nothing
    );
}

/// A dialect that writes no sound program makes no size, and each says so.
#[test]
fn a_size_in_a_broken_dialect_cannot_be_made() {
    let folder = tempfile::tempdir().expect("a folder");
    use crate::panel_support::text;
    let post = text(SourceKind::Post, "laser-mm");
    assert!(post.contains("Y{{ y }}"));
    let post = post.replace("Y{{ y }}", "Y{{ yy }}");
    std::fs::write(folder.path().join("post.toml"), post).expect("written");
    let panel = text(SourceKind::Panel, "plain-window");
    assert!(panel.contains("\"laser-mm\""));
    let panel = panel.replace("\"laser-mm\"", "\"post.toml\"");
    let path = folder.path().join("panel.toml");
    std::fs::write(&path, panel).expect("written");
    let start = Start::of(&path).expect("a panel");
    let asked = asked([300.0, 200.0], range(24.0, 36.0), range(8.0, 8.0));
    let found = plan_sizes(&start, &asked, 2, &mut |_| ()).expect("sizes");
    assert!(!found.best.is_empty());
    for size in &found.best {
        let e = size.figures.as_ref().expect_err("a broken dialect");
        assert!(e.to_string().contains("gcode."), "{e}");
    }
}
