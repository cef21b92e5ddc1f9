//! Bridges and tabs over a sweep of overhangs: every panel is held and proven, or refused with a change that
//! passes when it is followed. What is held is counted here by itself, from the plan's holds; that these stand
//! is for the replay, and for the reference tests.
#![allow(clippy::panic, reason = "tests")]

use std::collections::BTreeSet;

use lapwright::job::{JobError, Made, plan};
use lapwright::panel::{HeadKind, JobFiles, Layout, OutlineShape, Relief, SideRule, Sides, Size};
use lapwright::plan::Plan;
use lapwright::safety::{CheckId, Status};

/// Longest overhang of the sweep, tenths of a millimetre.
const LONGEST: u32 = 150;
/// Every how many tenths are tried in every run, and in the long one.
const STEPS: [usize; 2] = [11, 1];
/// Least width and height of a tab, and least width of a bridge, mm (from memory, as the README says).
const LEAST_TAB: [f64; 2] = [2.0, 0.5];
const LEAST_BRIDGE: f64 = 0.3;

type Change = fn(&mut JobFiles);

/// Built-in panels, as they are and at odd values.
const PANELS: &[(&str, &str, Change)] = &[
    ("as it is", "router-square", |_| ()),
    ("wide tabs", "router-square", |files| {
        router(files, |cut| cut.tab_width = 13.7);
    }),
    ("other cutter", "router-square", |files| {
        cutter(files, 3.37);
        router(files, |cut| cut.tabs = 5);
    }),
    ("uneven sides", "router-square", |files| {
        files.material.thickness = [4.07, 4.13];
        spaced(files, [61.3, 47.9], [3, 4]);
        sided(files, |sides| {
            (sides.left, sides.bottom) = (SideRule::Clear(8.1), SideRule::Clear(7.3));
        });
    }),
    ("joined", "router-square", |files| {
        spaced(files, [47.3, 43.1], [2, 3]);
        files.panel.quantity = 2;
        if let HeadKind::Router(router) = &mut files.own_mut().expect("a machine").machine.head {
            router.hold_length = 300.0;
        }
    }),
    // Notches of 4.05 with 2.85 between them, and 2.98 or 3.7 at the ends of the level bars.
    ("no room between notches", "router-square", |files| {
        teeth(files, [6.9, 45.0], 5.0);
    }),
    ("room for a narrower cutter", "router-square", |files| {
        teeth(files, [6.9, 45.0], 5.725);
    }),
    // Room for a tab of 2.4 between notches.
    ("room for narrower tabs", "router-square", |files| {
        teeth(files, [7.45, 45.0], 5.0);
    }),
    ("card", "plain-window", |_| ()),
    ("three to a joint", "three-way-card", |_| ()),
    ("infill of its own", "hemp-leaf-outlines", |_| ()),
    ("lapped surround", "hexagon-card", |_| ()),
    // Notches of 1.55 with 1.05 between them.
    ("no room between notches in card", "plain-window", |files| {
        teeth(files, [2.6, 24.0], 2.0);
        files.panel.infill = None;
    }),
];

fn router(files: &mut JobFiles, change: impl FnOnce(&mut lapwright::panel::RouterCut)) {
    change(files.material.router.as_mut().expect("for a router"));
}

fn cutter(files: &mut JobFiles, diameter: f64) {
    let HeadKind::Router(router) = &mut files.own_mut().expect("a machine").machine.head else {
        panic!("a router")
    };
    router.tool.diameter = diameter;
}

fn spaced(files: &mut JobFiles, [pitch_across, pitch_up]: [f64; 2], [columns, rows]: [u32; 2]) {
    files.panel.ground.layout = Layout::Square {
        pitch_across,
        pitch_up,
    };
    let OutlineShape::Rectangle { size, .. } = &mut files.panel.outline.shape else {
        panic!("a rectangle")
    };
    *size = Size::Spacings { columns, rows };
}

fn sided(files: &mut JobFiles, change: impl FnOnce(&mut Sides)) {
    let OutlineShape::Rectangle { sides, .. } = &mut files.panel.outline.shape else {
        panic!("a rectangle")
    };
    change(sides);
}

fn teeth(files: &mut JobFiles, pitch: [f64; 2], clear: f64) {
    spaced(files, pitch, [22, 3]);
    files.material.least_web = 1.0;
    // Reliefs would take the wood between so close notches.
    files.panel.cut.relief = Relief::None;
    files.material.crush = 1.0;
    sided(files, |sides| {
        (sides.left, sides.right) = (SideRule::Clear(clear), SideRule::Clear(clear));
    });
}

fn planned(files: JobFiles) -> Result<Plan, JobError> {
    plan(files, &mut |_| ())
}

/// Every piece, or chain of pieces, is held by at least two whose section is at least the least.
fn assert_held(plan: &Plan, what: &str) {
    for flat in plan.flats() {
        for (sheet, program) in flat.cuts() {
            for run in sheet.runs() {
                let beam = matches!(
                    plan.files.own().expect("a machine").machine.head,
                    HeadKind::Laser(_)
                );
                let sound = program.holds.iter().filter(|hold| {
                    let least = if beam {
                        [LEAST_BRIDGE, sheet.thickness]
                    } else {
                        LEAST_TAB
                    };
                    let stands = (hold.to - hold.from).hypot();
                    run.contains(&hold.placement)
                        && stands >= least[0] - 1e-9
                        && hold.height >= least[1] - 1e-9
                });
                let count = sound.count();
                assert!(count >= 2, "{what}: {run:?} is held by {count}");
            }
        }
    }
}

/// The number after a key in an advice.
fn number_after(text: &str, key: &str) -> Option<f64> {
    let (_, rest) = text.split_once(key)?;
    let digits = rest.trim_start_matches([' ', '=']);
    let end = digits.find(|c: char| !c.is_ascii_digit() && c != '.');
    digits[..end.unwrap_or(digits.len())]
        .trim_end_matches('.')
        .parse()
        .ok()
}

/// The files with each change that a refusal names; empty for one that has nothing to do with holds.
fn followed(files: &JobFiles, error: &JobError, what: &str) -> Vec<JobFiles> {
    let overhang = |value| {
        let mut files = files.clone();
        files.panel.outline.overhang = value;
        files
    };
    match error {
        JobError::Panel(faults) => {
            let hints = faults.iter().flat_map(|f| f.list());
            let hints: Vec<f64> = hints
                .map(|f| {
                    assert!(f.message.starts_with("an overhang of"), "{what}: {f:?}");
                    number_after(f.hint.as_deref().unwrap_or(""), "at least").expect("a number")
                })
                .collect();
            vec![overhang(hints.into_iter().fold(0.0, f64::max))]
        }
        JobError::Checks(checks) => {
            let fails = checks.iter().filter(|c| c.status == Status::Fail);
            let fails: Vec<_> = fails.collect();
            let ids: BTreeSet<CheckId> = fails.iter().map(|c| c.id).collect();
            let Some(held) = fails
                .iter()
                .find(|c| [CheckId::Bridges, CheckId::HoldForce, CheckId::Tabs].contains(&c.id))
            else {
                // An overhang that ends just past a joint: there the advice is another joint's.
                assert_eq!(ids, BTreeSet::from([CheckId::Web]), "{what}: {error}");
                return Vec::new();
            };
            let helps = held.helps.as_deref();
            let helps = helps.unwrap_or_else(|| panic!("{what}: no advice in {error}"));
            let ways = helps.split(", or ").map(|way| {
                if let Some(value) = number_after(way, "overhang") {
                    return overhang(value);
                }
                let mut files = files.clone();
                cutter(&mut files, number_after(way, "diameter").expect("a number"));
                files
            });
            ways.collect()
        }
        other => panic!("{what}: {other}"),
    }
}

/// How many of a sweep passed, were refused with a change that passes, or for another reason.
fn sweep(step: usize) -> [usize; 3] {
    let mut counts = [0; 3];
    for (name, base, change) in PANELS {
        for (i, tenth) in (0..=LONGEST).step_by(step).enumerate() {
            let mut files = crate::panel_support::panel(base);
            change(&mut files);
            files.panel.outline.overhang = f64::from(tenth) / 10.0;
            let what = format!("{base}, {name}, overhang {}", files.panel.outline.overhang);
            match planned(files.clone()) {
                Ok(plan) => {
                    counts[0] += 1;
                    assert_held(&plan, &what);
                    if i % 3 == 0 {
                        let made = Made::of(&plan, &mut |_| ());
                        made.unwrap_or_else(|e| panic!("{what}: {e}"));
                    }
                }
                Err(error) => {
                    let ways = followed(&files, &error, &what);
                    counts[if ways.is_empty() { 2 } else { 1 }] += 1;
                    for way in ways {
                        let plan = planned(way).unwrap_or_else(|e| panic!("{what}: {error}\n{e}"));
                        assert_held(&plan, &what);
                    }
                }
            }
        }
    }
    counts
}

#[test]
fn every_overhang_is_held_or_refused_with_a_change_that_passes() {
    let [held, followed, others] = sweep(STEPS[0]);
    assert!(held > 100, "{held} held");
    assert!(followed > 5, "{followed} refused");
    assert!(others < held / 5, "{others} refused for their joints");
}

/// Some minutes long: `cargo test --release --test tabs -- --ignored`.
#[test]
#[ignore = "long"]
fn every_tenth_of_an_overhang_is_held_or_refused_with_a_change_that_passes() {
    let [held, followed, others] = sweep(STEPS[1]);
    println!(
        "{held} held, {followed} refused with a change that passes, {others} for their joints"
    );
    assert!(held > 1000, "{held} held");
}

/// Between the shortest overhang that the saw can trim and the longest, nothing is refused for its tabs.
#[test]
fn the_built_in_router_panel_is_held_at_every_overhang() {
    for tenth in (15..=LONGEST).step_by(6) {
        let mut files = JobFiles::builtin_panel("router-square").expect("a built-in panel");
        files.panel.outline.overhang = f64::from(tenth) / 10.0;
        let what = format!("overhang {}", files.panel.outline.overhang);
        let plan = planned(files).unwrap_or_else(|e| panic!("{what}: {e}"));
        assert_held(&plan, &what);
        let full = plan
            .flats()
            .flat_map(|f| f.cuts().map(|(_, program)| program))
            .flat_map(|p| &p.holds);
        let widths: BTreeSet<u64> = full.map(|h| (h.width * 1e3) as u64).collect();
        assert_eq!(widths, BTreeSet::from([4000]), "{what}: as wide as asked");
    }
}

/// Tabs too few, too narrow and too low: the advice names all three, and they pass.
#[test]
fn advice_names_the_least_that_passes() {
    let mut files = JobFiles::builtin_panel("router-square").expect("a built-in panel");
    router(&mut files, |cut| {
        (cut.tabs, cut.tab_width, cut.tab_height) = (1, 1.9, 0.3);
    });
    let Err(error) = planned(files.clone()) else {
        panic!("one small tab holds no piece")
    };
    let told =
        "what helps: `tabs = 2` and `tab_width = 2` and `tab_height = 0.7` in the material file";
    assert!(error.to_string().contains(told), "{error}");
    router(&mut files, |cut| {
        (cut.tabs, cut.tab_width, cut.tab_height) = (2, 2.0, 0.7);
    });
    assert_held(&planned(files.clone()).expect("two small tabs do"), "least");
    // Two of the least size are 2 mm² and bear 10 N at 5 N/mm². The cut pulls with 80 · 1.4 · 0.0375 = 4.2 N
    // (F = k b h, after Kienzle), and three times that is asked for: 2.52 mm².
    router(&mut files, |cut| cut.tab_height = 0.5);
    let Err(error) = planned(files) else {
        panic!("too weak for the cut")
    };
    let told = "hold-force: 10 N, must be at least 12.6 N";
    assert!(error.to_string().contains(told), "{error}");
    let told = "what helps: `tab_height = 0.7` in the material file";
    assert!(error.to_string().contains(told), "{error}");
}

/// A tab that is too high is cured by a lower one, a strength that asks for more than a tab may be by a wider one.
#[test]
fn tabs_that_are_too_high_are_told_lower() {
    for (change, told) in [
        (
            (|cut| cut.tab_height = 3.9) as fn(&mut lapwright::panel::RouterCut),
            "`tab_height = 3` in the material file",
        ),
        (
            |cut| cut.tab_height = 40.0,
            "`tab_height = 3` in the material file",
        ),
        (
            |cut| (cut.tabs, cut.hold_strength) = (2, 0.5),
            "`tab_width = ",
        ),
    ] {
        let mut files = JobFiles::builtin_panel("router-square").expect("a built-in panel");
        router(&mut files, change);
        let Err(error) = planned(files.clone()) else {
            panic!("{told}: not held")
        };
        let said = error.to_string();
        assert!(said.contains(told), "{told}: {said}");
        let (_, helps) = said.split_once("what helps: ").expect("advice");
        router(&mut files, |cut| {
            cut.tab_height = number_after(helps, "tab_height").unwrap_or(cut.tab_height);
            cut.tab_width = number_after(helps, "tab_width").unwrap_or(cut.tab_width);
        });
        assert_held(&planned(files).expect("what helps"), told);
    }
}

/// Tabs and bridges that were let pass before there was a least size: a hair of wood, a hair of card.
#[test]
fn a_hair_holds_nothing() {
    for (base, change, id) in [
        (
            "router-square",
            (|files| {
                router(files, |cut| {
                    (cut.tab_width, cut.tab_height) = (0.006, 0.006)
                })
            }) as Change,
            CheckId::Tabs,
        ),
        (
            "plain-window",
            |files| {
                files
                    .material
                    .laser
                    .as_mut()
                    .expect("for a laser")
                    .bridge_width = 0.006
            },
            CheckId::Bridges,
        ),
    ] {
        let mut files = crate::panel_support::panel(base);
        change(&mut files);
        let Err(JobError::Checks(checks)) = planned(files) else {
            panic!("{base}: a hair holds nothing")
        };
        let fails = checks.iter().filter(|c| c.status == Status::Fail);
        let fails: Vec<_> = fails.map(|c| (c.id, c.value)).collect();
        assert!(!fails.is_empty(), "{base}: refused");
        assert!(fails.iter().all(|f| *f == (id, 0.0)), "{base}: {fails:?}");
    }
}

/// A material file of one's own without the keys: the program's own least sizes, weaker wood that is harder to cut
/// than any that is carried along.
#[test]
fn a_file_that_does_not_say_is_taken_as_weak() {
    let mut sources = JobFiles::builtin_panel("router-square")
        .expect("built in")
        .sources;
    for source in &mut sources {
        let mut text = String::from_utf8(source.bytes.clone()).expect("text");
        // What is left out is no value from memory either.
        if let Some((before, rest)) = text.split_once("from_memory = [") {
            let (_, after) = rest.split_once("]\n").expect("the list's end");
            text = format!("{before}{after}");
        }
        let new = ["least_tab", "hold_strength", "cutting_force"];
        let old = |line: &&str| !new.iter().any(|key| line.starts_with(key));
        source.bytes = text
            .lines()
            .filter(old)
            .map(|l| format!("{l}\n"))
            .collect::<String>()
            .into();
    }
    let silent = JobFiles::from_sources(sources).expect("sound without them");
    let said = JobFiles::builtin_panel("router-square").expect("built in");
    let [silent, said] = [silent, said].map(|files| files.material.router.expect("a router's"));
    assert_eq!(
        (
            silent.least_tab_width,
            silent.least_tab_height,
            silent.least_tab_section
        ),
        (2.0, 0.5, 1.0)
    );
    assert!(silent.hold_strength < said.hold_strength && silent.cutting_force > said.cutting_force);
}

/// What is moved to the ends or made narrower is told.
#[test]
fn narrower_tabs_and_tabs_on_ends_are_told() {
    let warned = |change: Change, overhang: f64, words: &str| {
        let mut files = JobFiles::builtin_panel("router-square").expect("a built-in panel");
        change(&mut files);
        files.panel.outline.overhang = overhang;
        let plan = planned(files).unwrap_or_else(|e| panic!("{words}: {e}"));
        assert!(
            plan.warnings.iter().any(|w| w.contains(words)),
            "{words}: {:?}",
            plan.warnings
        );
    };
    // Lands of 3.4: a tab of 2.4 with 0.5 on either side.
    let narrow: Change = |files| teeth(files, [7.45, 45.0], 5.0);
    warned(narrow, 0.0, "2.4 mm wide, not 4");
    let none: Change = |files| teeth(files, [6.9, 45.0], 5.0);
    warned(none, 1.5, "on the ends of ");
}
