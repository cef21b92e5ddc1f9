//! Assembly by what a maker must be told, and in which order.
#![allow(clippy::unwrap_used, clippy::panic)]

use lapwright::assembly::{Assembly, Step};
use lapwright::job::plan;
use lapwright::lattice::MemberId;
use lapwright::panel::{JobFiles, SourceKind, new_panel};
use lapwright::plan::Plan;

use crate::panel_support::{changed, text};

fn planned(panel: &str, edits: &[(&str, &str)]) -> Plan {
    let files = JobFiles::from_sources(changed(panel, SourceKind::Panel, edits));
    plan(files.unwrap_or_else(|e| panic!("{e}")), &mut |_| {}).unwrap_or_else(|e| panic!("{e}"))
}

/// A panel file to start from, with the plain window's other files.
fn started(layout: &str) -> Plan {
    let new = new_panel(layout).unwrap();
    let whole = text(SourceKind::Panel, "plain-window");
    planned("plain-window", &[(whole, new)])
}

fn assembly(plan: &Plan) -> &Assembly {
    &plan.panel().unwrap().assembly
}

fn families(plan: &Plan, step: &Step) -> Vec<String> {
    let of = |&m: &MemberId| {
        plan.lattice().families[plan.lattice().members[m].family]
            .name
            .clone()
    };
    let mut names: Vec<String> = step.members.iter().map(of).collect();
    names.sort();
    names.dedup();
    names
}

fn titles(plan: &Plan) -> Vec<&str> {
    assembly(plan)
        .steps
        .iter()
        .map(|s| s.title.as_str())
        .collect()
}

#[test]
fn a_square_panel_goes_from_planing_to_its_surround() {
    let plan = planned("plain-window", &[]);
    let want = [
        "Prepare the pieces",
        "Put it together dry",
        "Lay out the back bars (1 of 2)",
        "Lower in the front bars (2 of 2)",
        "Put the surround on",
    ];
    assert_eq!(titles(&plan), want);
    let steps = &assembly(&plan).steps;
    assert_eq!(families(&plan, &steps[2]), ["upright"]);
    assert_eq!(families(&plan, &steps[3]), ["level"]);
    // The middle two of six uprights first, and of eight level bars.
    let id = |m: MemberId| plan.lattice().members[m].id.as_str();
    let ids = |s: usize| steps[s].members.iter().map(|&m| id(m)).collect::<Vec<_>>();
    assert_eq!(ids(2), ["U3", "U4", "U2", "U5", "U1", "U6"]);
    assert_eq!(ids(3)[..2], ["L4", "L5"]);
    // A dab in each of 6 x 8 joints, more in those of the outermost bars: all but 4 x 6.
    assert_eq!(steps[3].glue.len(), 48);
    assert_eq!(
        steps[3].glue.iter().filter(|joint| joint.more).count(),
        48 - 24
    );
    assert!(steps[2].glue.is_empty(), "nothing to glue to");
    let told = steps[3].text.join(" ");
    for words in [
        "each of the 48 joints",
        "a dab in 24 (small dots), more in 24 (large dots)",
        "tap it home with a hammer",
        "never push it in at one end",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
}

/// Left and right run along the outermost joints of a three-way panel, bottom and top through them; but every other
/// upright has its joints half a pitch higher, and ends between two of them.
#[test]
fn single_bars_are_told_where_they_are_sawn() {
    let told = |plan: &Plan| {
        let mut steps = assembly(plan).steps.iter();
        steps
            .find(|s| !s.trims.is_empty())
            .map(|s| s.text.join(" "))
            .unwrap()
    };
    let three_way = told(&planned("check", &[]));
    assert!(
        three_way.contains("sawn: here along bottom, top."),
        "{three_way}"
    );
    // Without a joint on any side: every bar runs on 9 mm past its last one.
    let clear = told(&planned(
        "plain-window",
        &[("[surround]", "overhang = 6\n\n[surround]")],
    ));
    assert!(
        clear.contains("sawn: here along bottom, right, top, left."),
        "{clear}"
    );
}

#[test]
fn a_three_way_panel_goes_back_middle_front() {
    let plan = started("three-way");
    let steps: Vec<&Step> = assembly(&plan)
        .steps
        .iter()
        .filter(|s| !s.members.is_empty())
        .collect();
    assert_eq!(steps.len(), 3);
    for (step, family) in steps.iter().zip(["rising", "upright", "falling"]) {
        let found = families(&plan, step);
        assert!(found.iter().any(|f| f == family), "{family}: {found:?}");
    }
    // It has an overhang and a surround: glued, trimmed, framed.
    let titles = titles(&plan);
    assert_eq!(titles[5..], ["Trim the ends", "Put the surround on"]);
}

#[test]
fn infill_goes_in_between_ground_and_surround() {
    let frame = ("[infill] ", "[surround]\nwidth = 8\n\n[infill] ");
    let plan = planned("hemp-leaf-card", &[frame]);
    let titles = titles(&plan);
    let place = |what: &str| titles.iter().position(|t| t.starts_with(what)).unwrap();
    assert!(place("Trim") < place("Fill") && place("Fill") < place("Put the surround"));
    let steps = &assembly(&plan).steps;
    let filled: usize = steps
        .iter()
        .flat_map(|s| &s.cells)
        .map(|c| c.pieces.len())
        .sum();
    assert_eq!(
        filled,
        plan.panel()
            .unwrap()
            .drawn
            .infill
            .as_ref()
            .unwrap()
            .pieces
            .len()
    );
}

#[test]
fn only_pieces_that_need_it_go_to_the_shooting_jig() {
    let jig = |plan: &Plan| {
        let mut fill = (assembly(plan).steps.iter()).filter(|s| s.title.starts_with("Fill"));
        let text = fill.next().unwrap().text.join(" ");
        (
            text.contains("in the jig"),
            text.contains("come with their bevels"),
        )
    };
    let outlines = ("\"outlines\"", "\"outlines\"");
    assert_eq!(
        jig(&planned("hemp-leaf-outlines", &[outlines])),
        (false, true)
    );
    assert_eq!(jig(&planned("hemp-leaf-card", &[])), (true, false));
}

#[test]
fn edge_up_tells_of_sticks_and_spare_joints() {
    let plan = planned("check", &[]);
    let first = assembly(&plan).steps[0].text.join(" ");
    for words in [
        "before cross-cutting",
        "sticks.csv",
        "Spare joints",
        "Finish-plane",
    ] {
        assert!(first.contains(words), "{words}: {first}");
    }
    let trim = assembly(&plan)
        .steps
        .iter()
        .find(|s| !s.trims.is_empty())
        .unwrap();
    let told = trim.text.join(" ");
    assert!(
        told.contains("25 mm past it") && told.contains("hold the waste"),
        "{told}"
    );
}

/// A large panel has no more steps than a small one.
#[test]
fn steps_are_groups_and_not_bars() {
    let small = planned("plain-window", &[]);
    let large = [
        ("columns = 5", "columns = 24"),
        ("rows = 7", "rows = 24"),
        ("pitch_across = 30", "pitch_across = 10"),
        ("pitch_up = 24", "pitch_up = 10"),
    ];
    let large = planned("plain-window", &large);
    assert_eq!(titles(&small), titles(&large));
    for step in &assembly(&large).steps {
        let words: usize = step.text.iter().map(String::len).sum();
        assert!(words < 3000, "{}: {words} letters", step.title);
    }
}
