//! Every check fails by the smallest step beyond its limit, and passes just inside.
//!
//! Most limits are met by changing one number of a job's files. Three cannot be: `interference`, `gap`
//! and `replay` judge what a fault of this program would do to shapes and bytes, so shapes and bytes are
//! spoilt here, by the smallest step, behind the program's back.
#![allow(clippy::panic, reason = "tests")]

#[path = "check_limits/cases.rs"]
mod cases;

use std::collections::BTreeSet;

use cases::{CASES, Case, Edit};
use lapwright::geom::REPLAY;
use lapwright::job::{JobError, Made, plan};
use lapwright::lattice::{Class, DryFit, FitShape, dry_fit, intended_shapes};
use lapwright::panel::{JobFiles, SourceKind};
use lapwright::plan::Plan;
use lapwright::safety::{Check, CheckId, Status, fit_checks, replay_check};
use lapwright::table::Column;

/// Checks whose limits no file can reach: what each of the tests below spoils instead.
const BEHIND_THE_BACK: [CheckId; 3] = [CheckId::Gap, CheckId::Interference, CheckId::Replay];
/// Checks that warn and never fail.
const WARNS: [CheckId; 2] = [CheckId::Flush, CheckId::Spread];
/// Checks with a word for a limit, and no number.
const BY_FLAG: [CheckId; 2] = [CheckId::Opening, CheckId::PathMode];

fn files(panel: &str, edits: &[(SourceKind, &str, &str)]) -> JobFiles {
    let mut sources = crate::panel_support::panel(panel).sources;
    for (kind, from, to) in edits {
        let source = sources.iter_mut().find(|s| s.kind == *kind);
        let source = source.expect("one of each kind");
        let text = String::from_utf8(source.bytes.clone()).expect("text");
        assert!(text.contains(from), "`{from}` stands in the file");
        source.bytes = text.replacen(from, to, 1).into_bytes();
    }
    JobFiles::from_sources(sources).unwrap_or_else(|e| panic!("{edits:?}: {e}"))
}

/// All checks of a job that is made, or those that stopped it.
fn checks(files: JobFiles) -> Result<Vec<Check>, Vec<Check>> {
    let made = plan(files, &mut |_| ()).and_then(|p| Made::of(&p, &mut |_| ()));
    match made {
        Ok(made) => Ok(made.checks),
        Err(JobError::Checks(checks)) => Err(checks),
        Err(e) => panic!("stopped for another reason: {e}"),
    }
}

fn run(case: &Case, number: &str) -> Result<Vec<Check>, Vec<Check>> {
    let (kind, from, to) = case.number;
    let to = to.replacen("{}", number, 1);
    let mut edits: Vec<Edit> = case.common.to_vec();
    edits.push((kind, from, to.leak()));
    checks(files(case.panel, &edits))
}

fn failing(checks: &[Check]) -> BTreeSet<CheckId> {
    let fails = checks.iter().filter(|c| c.status == Status::Fail);
    fails.map(|c| c.id).collect()
}

/// What is wrong with a case; nothing if its check passes on one side alone.
fn complaint(case: &Case) -> Option<String> {
    let (a, b) = (case.inside, case.outside);
    let [x, y] = [a, b].map(|n| n.parse::<f64>().expect("a number"));
    if ((x - y).abs() - case.step).abs() > 1e-9 {
        return Some(format!("{a} and {b} are not a step apart"));
    }
    let inside = match run(case, a) {
        Ok(checks) => checks,
        Err(checks) => return Some(format!("{:?} failed at {a}", failing(&checks))),
    };
    let mine: Vec<&Check> = inside.iter().filter(|c| c.id == case.id).collect();
    if mine.is_empty() || mine.iter().any(|c| c.status != Status::Pass) {
        return Some(format!("at {a}: {mine:?}"));
    }
    match run(case, b) {
        Ok(_) => Some(format!("nothing failed at {b}")),
        Err(checks) if failing(&checks) != BTreeSet::from([case.id]) => {
            Some(format!("{:?} failed at {b}", failing(&checks)))
        }
        Err(_) => None,
    }
}

#[test]
fn every_limit_is_met_from_both_sides() {
    let wrong = |case: &Case| {
        Some(format!(
            "{} in {}: {}",
            case.id,
            case.panel,
            complaint(case)?
        ))
    };
    let wrong: Vec<String> = CASES.iter().filter_map(wrong).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_check_is_without_its_pair() {
    let paired = CASES.iter().map(|c| c.id);
    let paired = paired.chain(BEHIND_THE_BACK).chain(WARNS).chain(BY_FLAG);
    let paired: BTreeSet<CheckId> = paired.collect();
    let without = CheckId::ALL.iter().filter(|id| !paired.contains(*id));
    let without: Vec<&CheckId> = without.collect();
    assert!(
        without.is_empty(),
        "without a fixture on either side: {without:?}"
    );
}

/// Every check that any built-in panel runs names its place, and tells numbers.
#[test]
fn checks_tell_place_and_numbers() {
    for panel in ["plain-window", "router-square", "three-way-card", "check"] {
        for c in checks(files(panel, &[])).expect("a sound panel") {
            assert!(!c.place.is_empty(), "{c:?}");
            assert!(c.value.is_finite() && c.limit.is_finite(), "{c:?}");
        }
    }
}

/// `opening` has no number: square joints have none, a skew joint's opening is face × |cot t| wide.
#[test]
fn openings_are_refused_in_hardwood_unless_the_panel_accepts_them() {
    use SourceKind::{Material, Panel};
    let tight: Edit = (Material, "tight_joints = false", "tight_joints = true");
    let loose: Edit = (
        Panel,
        "scale_model = true ",
        "loose_joints = true\nscale_model = true ",
    );
    let of = |checks: &[Check]| {
        let found: Vec<Check> = checks
            .iter()
            .filter(|c| c.id == CheckId::Opening)
            .cloned()
            .collect();
        let [c] = found.as_slice() else {
            panic!("one check of openings: {found:?}")
        };
        (c.status, c.value, c.limit)
    };
    // Design of flat cutting: own face × |cot 60| = 1.5 / √3.
    let leg = 1.5 / 3f64.sqrt();
    let near = |(status, value, limit): (Status, f64, f64), want: (Status, f64, f64)| {
        assert_eq!(status, want.0, "status");
        assert!((value - want.1).abs() < 1e-9, "{value} for {}", want.1);
        assert!((limit - want.2).abs() < 1e-9, "{limit} for {}", want.2);
    };
    let card = checks(files("three-way-card", &[])).expect("card forgives");
    near(of(&card), (Status::Pass, leg, leg));
    let hard = checks(files("three-way-card", &[tight])).expect_err("hardwood does not");
    assert_eq!(failing(&hard), BTreeSet::from([CheckId::Opening]));
    near(of(&hard), (Status::Fail, leg, 0.0));
    let accepted = checks(files("three-way-card", &[tight, loose])).expect("a loose panel");
    near(of(&accepted), (Status::Warn, leg, 0.0));
    let square = checks(files("plain-window", &[tight])).expect("square joints close");
    near(of(&square), (Status::Pass, 0.0, 0.0));
}

/// `path-mode` has no number: a dialect says G61, G64 or neither. Whatever it says, the job is made.
#[test]
fn a_path_mode_that_rounds_corners_warns() {
    use SourceKind::Post;
    let g64: [Edit; 2] = [
        (Post, "path_mode = \"exact\"", "path_mode = \"continuous\""),
        (Post, "G54 G61", "G54 G64"),
    ];
    let neither: [Edit; 2] = [
        (Post, "path_mode = \"exact\"", ""),
        (Post, "G54 G61", "G54"),
    ];
    let of = |edits: &[Edit]| {
        let checks = checks(files("router-square", edits)).expect("no path mode stops a job");
        let mine = checks.into_iter().filter(|c| c.id == CheckId::PathMode);
        mine.map(|c| (c.status, c.value, c.limit))
            .collect::<Vec<_>>()
    };
    assert_eq!(of(&[]), [(Status::Pass, 0.0, 0.0)]);
    assert_eq!(of(&g64), [(Status::Warn, 1.0, 0.0)]);
    assert_eq!(of(&neither), []);
}

/// The last number within a limit that only warns passes, the first beyond it warns, and nothing fails.
/// Loosest joint = clearance + greatest reading - least: 0.05 + 0.1 against hardwood's play of 0.15. A stick
/// floored from one edge warns from 0.05 off.
#[test]
fn warnings_begin_a_step_beyond_their_limits() {
    use SourceKind::{Material, Panel};
    let of = |panel: &str, edits: &[(SourceKind, &str, &str)], id: CheckId| {
        let checks = checks(files(panel, edits)).expect("a warning stops nothing");
        let mine = checks.into_iter().filter(|c| c.id == id);
        mine.map(|c| c.status).max().expect("the check is there")
    };
    let edge_up: [Edit; 1] = [(Panel, "method = \"flat\" ", "method = \"edge-up\" ")];
    for (readings, want) in [
        ("[3.9, 4.0]", Status::Pass),
        ("[3.899, 4.0]", Status::Warn),
        ("[4.0, 3.95, 3.97, 3.9]", Status::Pass),
        ("[4.0, 3.95, 3.97, 3.899]", Status::Warn),
    ] {
        let thickness = format!("thickness = {readings}");
        let flat = (Material, "thickness = 4.0", thickness.as_str());
        assert_eq!(
            of("router-square", &[flat], CheckId::Spread),
            want,
            "{readings}"
        );
        let milled = format!("[[milled]]\nface = {readings}\ndepth = 12\n\n[router]");
        let sticks = (Material, "[router]", milled.as_str());
        assert_eq!(of("check", &[sticks], CheckId::Spread), want, "{readings}");
    }
    for (readings, want) in [
        ("[11.95, 12.05]", Status::Pass),
        ("[11.949, 12.05]", Status::Warn),
        ("[11.95, 12.051]", Status::Warn),
        ("[12.0, 12.3, 11.7]", Status::Warn),
    ] {
        let milled = format!("[[milled]]\nface = 4\ndepth = {readings}\n\n[router]");
        let mut edits = edge_up.to_vec();
        edits.push((Material, "[router]", milled.as_str().to_owned().leak()));
        assert_eq!(
            of("router-square", &edits, CheckId::Flush),
            want,
            "{readings}"
        );
    }
}

/// A lattice with its intended shapes, to be spoilt.
struct Bench {
    plan: Plan,
    shapes: Column<Class, FitShape>,
}

impl Bench {
    fn new(panel: &str) -> Self {
        let plan = plan(files(panel, &[]), &mut |_| ()).expect("a sound panel");
        let shapes = intended_shapes(plan.lattice());
        Self { plan, shapes }
    }

    /// Status of a check of the dry fit once one void, or one of every class, is spoilt.
    fn judged(&self, id: CheckId, spoil: impl Fn(&mut lapwright::lattice::Void)) -> Status {
        let mut shapes = self.shapes.clone();
        for shape in shapes.iter_mut() {
            // The second notch from the first end: the first may lie in the overhang.
            for set in [&mut shape.voids, &mut shape.sharp] {
                spoil(set.get_mut(1).expect("a piece with two notches"));
            }
        }
        self.status(id, &shapes)
    }

    fn status(&self, id: CheckId, shapes: &Column<Class, FitShape>) -> Status {
        let lattice = self.plan.lattice();
        let cut: DryFit = dry_fit(lattice, shapes, REPLAY);
        let meant = &self.plan.panel().expect("a panel").meant;
        let checks = fit_checks(lattice, "all nodes", &cut, meant, None);
        let found = checks.iter().find(|c| c.id == id);
        found.expect("the check is there").status
    }
}

/// Walls may come nearer by the clearance and the replay's tolerance, floors rise by the tolerance on
/// both sides; a thousandth more is an overlap.
#[test]
fn interference_begins_a_step_beyond_the_tolerance() {
    let bench = Bench::new("plain-window");
    let half = 0.5 * bench.plan.lattice().clearance;
    assert_eq!(
        bench.status(CheckId::Interference, &bench.shapes),
        Status::Pass,
        "as intended"
    );
    for (by, want) in [
        (half + REPLAY, Status::Pass),
        (half + REPLAY + 0.001, Status::Fail),
    ] {
        assert_eq!(
            bench.judged(CheckId::Interference, |v| v.lo += by),
            want,
            "first wall by {by}"
        );
        assert_eq!(
            bench.judged(CheckId::Interference, |v| v.hi -= by),
            want,
            "last wall by {by}"
        );
    }
    let depth = bench.plan.lattice().depth;
    for (by, want) in [(REPLAY, Status::Pass), (REPLAY + 0.001, Status::Fail)] {
        let shallow = |v: &mut lapwright::lattice::Void| {
            if v.z0 == 0.0 {
                v.z1 -= by;
            } else {
                assert_eq!(v.z1, depth, "a notch opens at one edge");
                v.z0 += by;
            }
        };
        // Both classes are spoilt, so that two shallow floors meet somewhere.
        assert_eq!(
            bench.judged(CheckId::Interference, shallow),
            want,
            "floors by {by}"
        );
    }
}

/// A wall may stand off by what was intended and twice the replay's tolerance.
#[test]
fn a_gap_fails_a_step_beyond_its_limit() {
    for (panel, sine) in [("plain-window", 1.0), ("three-way-card", 0.75f64.sqrt())] {
        let bench = Bench::new(panel);
        assert_eq!(
            bench.status(CheckId::Gap, &bench.shapes),
            Status::Pass,
            "as intended"
        );
        let most = 2.0 * REPLAY / sine;
        for (by, want) in [(most, Status::Pass), (most + 0.001, Status::Fail)] {
            assert_eq!(
                bench.judged(CheckId::Gap, |v| v.lo -= by),
                want,
                "{panel}: by {by}"
            );
            assert_eq!(
                bench.judged(CheckId::Gap, |v| v.hi += by),
                want,
                "{panel}: by {by}"
            );
        }
    }
}

/// One digit of one file is enough.
#[test]
fn a_replay_fails_by_one_step_of_one_coordinate() {
    let plan = plan(files("plain-window", &[]), &mut |_| ()).expect("a sound panel");
    let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
    let files = plan.cut_files();
    let program = files
        .iter()
        .find(|f| f.path == "gcode/plain-window-sheet-01.nc");
    let program = program.expect("the first sheet's program");
    let judged = |gcode: &[u8]| {
        let faults = program.prove(gcode).err();
        replay_check(
            "gcode/plain-window-sheet-01.nc",
            faults.map_or(0, |list| list.len()),
        )
    };
    let sound = &made.files["gcode/plain-window-sheet-01.nc"];
    let check = judged(sound);
    assert_eq!(
        (check.status, check.value),
        (Status::Pass, 0.0),
        "{check:?}"
    );
    let text = String::from_utf8(sound.clone()).expect("ASCII");
    let (from, to) = ("G1 X191.000 Y4.925", "G1 X191.001 Y4.925");
    assert!(text.contains(from), "the move is there");
    let check = judged(text.replacen(from, to, 1).as_bytes());
    assert_eq!(check.status, Status::Fail, "{check:?}");
    assert!(check.value >= 1.0 && check.limit == 0.0, "{check:?}");
}
