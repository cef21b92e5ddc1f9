//! Surrounds by what they must come to: the trade's figures, mitres of regular polygons, and what is said
//! where one cannot be made.
#![allow(clippy::unwrap_used, clippy::panic)]

use lapwright::job::{Made, plan};
use lapwright::panel::{JobFiles, SourceKind, builtin};
use lapwright::plan::Plan;
use lapwright::safety::Status;
use lapwright::surround::Surround;

use crate::panel_support::changed;

fn planned(panel: &str, edits: &[(&str, &str)]) -> Plan {
    plan(files(panel, edits), &mut |_| {}).unwrap_or_else(|e| panic!("{e}"))
}

fn files(panel: &str, edits: &[(&str, &str)]) -> JobFiles {
    let sources = changed(panel, SourceKind::Panel, edits);
    JobFiles::from_sources(sources).unwrap_or_else(|e| panic!("{e}"))
}

fn surround(plan: &Plan) -> &Surround {
    plan.panel().unwrap().drawn.surround.as_ref().unwrap()
}

#[track_caller]
fn near(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-9, "{a} and {b}");
}

/// The check panel (common practice, no source): ground 333.75 x 195, surround 8, so 349.75 x 211 over all.
/// Practice writes 349.7.
#[test]
fn the_check_panel_has_its_figures() {
    let plan = planned("check", &[]);
    let surround = surround(&plan);
    let pitch = 65.0 * 3f64.sqrt() / 2.0;
    let width = 6.0 * pitch - 4.0;
    let mut long: Vec<f64> = surround.sides.iter().map(|s| s.long).collect();
    long.sort_by(f64::total_cmp);
    for (found, want) in long.iter().zip([211.0, 211.0, width + 16.0, width + 16.0]) {
        near(*found, want);
    }
    assert_eq!(surround.classes.len(), 2, "two pairs");
    for side in &surround.sides {
        assert_eq!(side.saw_deg(), [45.0, 45.0]);
        // A pin of 1.6 in a hole of 1.5, in the middle of the mitre, at thirds of the depth.
        let told: Vec<_> = side.pins.iter().map(|p| (p.at, p.height)).collect();
        assert_eq!(told.len(), 2);
        for ((at, height), want) in told.iter().zip([8.0, 4.0]) {
            near(*at, 4.0);
            near(*height, want);
        }
        assert!(side.pins.iter().all(|p| (p.diameter, p.hole) == (1.6, 1.5)));
    }
    let size = surround.ring.is_none() && surround.stock.is_some();
    assert!(size, "by hand");
}

/// In a regular hexagon the mitre is 60 degrees, a saw is set to 30, and an edge grows by 2 face / tan 60.
#[test]
fn a_hexagon_is_mitred_at_sixty() {
    let edits = [
        (
            "width = 1.5                           # mm: on",
            "width = 12 #",
        ),
        ("cut = \"laps\"", "cut = \"by-hand\""),
    ];
    let plan = planned("hexagon-card", &edits);
    let surround = surround(&plan);
    assert_eq!(surround.classes.len(), 1, "all alike");
    for side in &surround.sides {
        near(side.mitres[0], 60.0);
        near(side.saw_deg()[1], 30.0);
        near(side.long - side.short, 24.0 / 3f64.sqrt());
    }
    // A third of 9 mm is 3, less than two diameters: no pins, and a warning says so.
    assert!(surround.sides.iter().all(|s| s.pins.is_empty()));
    assert!(plan.warnings.iter().any(|w| w.contains("no pins")));
}

/// Every second side lies at the back; of an odd number the last lies on top.
#[test]
fn lapped_sides_differ_in_rank_from_their_neighbours() {
    let plan = planned("hexagon-card", &[]);
    let ring = surround(&plan).ring.as_ref().unwrap();
    let ranks: Vec<u32> = ring.lattice.families.iter().map(|f| f.rank).collect();
    assert_eq!(ranks, [1, 2, 1, 2, 1, 2]);
    assert_eq!(ring.order.len(), 2, "two groups");
    let five = [
        (
            "[[outline.side]]\nx = 0\ny = 3\nrule = \"inner-edge\"\n",
            "",
        ),
        (
            "x = 2\ny = 4\nrule = \"inner-edge\"",
            "x = 2\ny = 4\nrule = \"centres\"",
        ),
    ];
    let plan = planned("hexagon-card", &five);
    let ring = surround(&plan).ring.as_ref().unwrap();
    let ranks: Vec<u32> = ring.lattice.families.iter().map(|f| f.rank).collect();
    assert_eq!(ranks, [1, 2, 1, 2, 3]);
    let last = ring.lattice.members.iter().last().unwrap();
    let edges: Vec<_> = last.joints.iter().map(|j| j.edge.word()).collect();
    assert_eq!(edges, ["back", "back"], "it goes in last");
}

/// Infill that lies on the same sheets has no part in how the ground and its lapped sides fit.
#[test]
fn lapped_sides_fit_with_infill_beside_them_as_without() {
    let text = builtin(SourceKind::Panel, "hexagon-card").unwrap().text;
    let made = |cut: &str| {
        let text = text.replacen("[cut]", cut, 1);
        let files = JobFiles::from_text("p.toml", text.as_bytes(), None);
        let files = files.unwrap_or_else(|e| panic!("{e}"));
        let plan = plan(files, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"));
        let made = Made::of(&plan, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"));
        (plan, made)
    };
    let infill = "[infill]\nface = 1.5\npattern = \"hemp-leaf\"\nleast_length = 8\ncut = \"blanks\"\n\n[cut]";
    let (plan, filled) = made(infill);
    let pieces = &plan.flat().unwrap().layout.pieces;
    let ring = plan
        .panel()
        .unwrap()
        .drawn
        .surround
        .as_ref()
        .unwrap()
        .ring
        .as_ref()
        .unwrap();
    let bars = plan.lattice().classes.len() + ring.lattice.classes.len();
    assert!(pieces.len() > bars, "infill lies among the bars");
    let (_, bare) = made("[cut]");
    assert_eq!(filled.fit, bare.fit);
}

/// What the files cut is put together on paper like the ground's bars: clearances and ears have checks.
#[test]
fn lapped_sides_have_checks_of_their_own() {
    let checks = |ear: &str| {
        let files = files("hexagon-card", &[("cut = \"laps\" ", ear)]);
        match plan(files, &mut |_| {}) {
            Ok(plan) => plan.checks,
            Err(lapwright::job::JobError::Checks(checks)) => checks,
            Err(error) => panic!("{error}"),
        }
    };
    // The card keeps at least 1 mm between notches and ends.
    for (ear, want) in [
        ("ear = 1\ncut = \"laps\" ", Status::Pass),
        ("ear = 0.999\ncut = \"laps\" ", Status::Fail),
    ] {
        let checks = checks(ear);
        let of_sides = |c: &&lapwright::safety::Check| {
            c.id == lapwright::safety::CheckId::Web && c.place.contains("surround")
        };
        let found = checks.iter().find(of_sides).unwrap();
        assert_eq!(found.status, want, "{found:?}");
    }
}
