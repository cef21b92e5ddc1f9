//! Odd panels all the way to their files, cut by a beam and by a cutter: a panel that passes its checks is
//! proven, and what its files cut fits.
#![allow(clippy::panic, reason = "tests")]

use std::collections::BTreeSet;

use crate::lattice_properties::panels::{Case, cases};
use lapwright::job::{JobError, Made, plan};
use lapwright::panel::{DxfScope, DxfVersion, HeadKind, JobFiles};
use lapwright::safety::{CheckId, Status};

/// Panels that once went wrong: walls that met an end but for the last bits of a float (61, 87, 161), and
/// a hold's room taken for missing wood (9, 85, 203); or whose reliefs break through the wood beside an end,
/// which a check must tell before the proof does (209, 223, 319, 471, 487).
const ONCE_WRONG: [usize; 11] = [9, 61, 85, 87, 161, 203, 209, 223, 319, 471, 487];
/// Of the others, up to which one and every how many.
const UP_TO: usize = 240;
const EVERY: usize = 3;

/// A job of an odd panel with the files of a built-in one, on stock that is large enough.
fn files(base: &str, case: &Case, tool: f64, hold: f64) -> JobFiles {
    let mut files = crate::panel_support::panel(base);
    files.panel.ground = case.panel.ground.clone();
    files.panel.outline = case.panel.outline.clone();
    files.panel.cut.clearance = case.panel.cut.clearance;
    files.panel.cut.scale_model = true;
    files.panel.cut.dxf_version = &[DxfVersion::R2000, DxfVersion::R12];
    files.panel.cut.dxf_files = &[DxfScope::Sheet, DxfScope::Piece];
    files.material.thickness = case.measured;
    files.material.tight_joints = false;
    for blank in &mut files.stock.blanks {
        (blank.length, blank.width) = (590.0, 380.0);
    }
    if let HeadKind::Router(router) = &mut files.own_mut().expect("a machine").machine.head {
        router.tool.diameter = tool;
        router.hold_length = hold;
    }
    files
}

/// How many jobs are made of those that are sound, and how many of those have pieces joined end to end; every
/// other one is refused by checks of its panel.
fn made(base: &str, tool: f64, hold: f64) -> (usize, usize) {
    let (mut count, mut joined) = (0, 0);
    for (i, case) in cases().iter().enumerate() {
        if !(ONCE_WRONG.contains(&i) || (i % EVERY == 0 && i < UP_TO)) {
            continue;
        }
        let what = format!("{} on {base}", case.panel.name);
        let planned = plan(files(base, case, tool, hold), &mut |_| ());
        match planned.and_then(|p| Made::of(&p, &mut |_| ())) {
            Ok(job) => {
                assert!(job.fit.interference_mm3 < 1e-6, "{what}: {:?}", job.fit);
                assert!(
                    job.checks.iter().all(|c| c.status != Status::Fail),
                    "{what}"
                );
                count += 1;
                let text = String::from_utf8_lossy(job.summary()).into_owned();
                joined += usize::from(text.contains("\"grooves\": [\n"));
            }
            // The panel itself is no panel: told in tests of the lattice.
            Err(JobError::Panel(faults)) => assert!(!faults.is_empty(), "{what}"),
            Err(JobError::Checks(checks)) => {
                let fails = checks.iter().filter(|c| c.status == Status::Fail);
                let fails: BTreeSet<CheckId> = fails.map(|c| c.id).collect();
                for own in [CheckId::Gap, CheckId::Interference, CheckId::Replay] {
                    assert!(!fails.contains(&own), "{what}: {fails:?}");
                }
            }
            Err(e) => panic!("{what}: {e}"),
        }
    }
    (count, joined)
}

#[test]
fn a_beam_cuts_odd_panels() {
    let (count, joined) = made("three-way-card", 0.0, 0.0);
    assert!(count > 50, "{count} made");
    assert_eq!(joined, 0, "a beam needs no joined pieces");
}

#[test]
fn a_cutter_cuts_odd_panels() {
    for (tool, least) in [(1.4, 30), (3.0, 10)] {
        let (count, joined) = made("router-square", tool, 10.0);
        assert!(count > least, "{count} made with {tool} mm");
        assert_eq!(joined, 0, "every piece can be held");
    }
}

#[test]
fn a_cutter_joins_odd_pieces_that_are_short() {
    let (count, joined) = made("router-square", 1.4, 180.0);
    assert!(joined > 15, "{joined} of {count} joined");
}
