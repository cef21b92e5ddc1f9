//! The motion rules: each broken by one change in file, plan or limits, and kept just inside.

use std::collections::BTreeSet;

use lapwright::geom::Point;
use lapwright::path::{Head, Move, Program};
use lapwright::replay::gcode_read::{Trace, read};
use lapwright::replay::motion::{MOTION_RULES, MotionLimits, check_motion};
use lapwright::write::gcode::render;

use super::motion_cases::{IN_FILE, SAME};
use super::sample::{
    dialect, frame, laser_limits, laser_post, laser_program, program_for, router_limits,
    router_post, router_program, rules,
};
use super::text;

/// Rules that one change breaks in the file, the plan and the limits staying as they are.
fn in_file(name: &str, from: &str, to: &str) -> BTreeSet<&'static str> {
    let post = dialect(name);
    let (program, limits) = program_for(&post);
    let sound = text(&program, &post);
    assert!(sound.contains(from), "{from:?} is not in the sample");
    let spoilt = sound.replacen(from, to, 1);
    let rules = rules(&post);
    let frame = frame(&program, &post);
    let trace = read(spoilt.as_bytes(), &rules, &frame).expect(to);
    check_motion(&trace, &program, &limits, &rules, &frame)
        .iter()
        .map(|f| f.rule)
        .collect()
}

/// Rules that a plan breaks, written and read back as it is: what the file alone tells.
fn in_plan(program: &Program, limits: &MotionLimits) -> BTreeSet<&'static str> {
    let post = match program.head {
        Head::Beam { .. } => laser_post(),
        Head::Cutter { .. } => router_post(),
    };
    let bytes = render(program, &post).expect("can be written");
    let rules = rules(&post);
    let frame = frame(program, &post);
    let trace = read(&bytes, &rules, &frame).expect("can be read");
    check_motion(&trace, program, limits, &rules, &frame)
        .iter()
        .map(|f| f.rule)
        .collect()
}

#[test]
fn changes_in_the_file_break_the_rules() {
    // All that a file may differ in.
    for (name, from, to) in SAME {
        assert_eq!(
            in_file(name, from, to),
            BTreeSet::new(),
            "{from:?} to {to:?}"
        );
    }
    let missed: Vec<String> = (IN_FILE.iter())
        .filter_map(|&(rule, name, from, to)| {
            let rules = in_file(name, from, to);
            let caught = rules.contains(rule);
            (!caught).then(|| format!("{from:?} to {to:?}: {rule} is not among {rules:?}"))
        })
        .collect();
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

/// Plans that are followed to the letter and are unsafe all the same: the rules do not lean on the
/// plan being right. Each case has its like just inside the limit.
#[test]
fn unsafe_plans_break_the_rules() {
    let none = BTreeSet::new();
    let only = |rule| BTreeSet::from([rule]);
    let limits = router_limits();
    let edit = |spoil: &dyn Fn(&mut Program)| {
        let mut program = router_program();
        spoil(&mut program);
        program
    };

    // Travel: 71.5 is the greatest x, 19 + 0.2 the way from the lowest z to the safe height.
    let tight = MotionLimits {
        travel: [71.5, 23.8, 19.2],
        ..limits.clone()
    };
    assert_eq!(
        in_plan(&router_program(), &tight),
        BTreeSet::from(["travel"]),
        "y reaches 24"
    );
    let tight = MotionLimits {
        travel: [71.5, 24.0, 19.2],
        ..limits.clone()
    };
    assert_eq!(in_plan(&router_program(), &tight), none);
    for travel in [[71.498, 24.0, 19.2], [71.5, 24.0, 19.198]] {
        let short = MotionLimits {
            travel,
            ..limits.clone()
        };
        assert_eq!(
            in_plan(&router_program(), &short),
            only("travel"),
            "{travel:?}"
        );
    }

    // Stock: the outline's lowest cut is at y 8.5, its greatest x 71.5.
    let mut inside = limits.clone();
    inside.stock = [[8.5, 8.5, 0.0], [71.5, 24.0, 4.0]];
    assert_eq!(in_plan(&router_program(), &inside), none);
    for (corner, axis, v) in [(0, 0, 8.502), (0, 1, 8.502), (1, 0, 71.498), (1, 1, 23.998)] {
        let mut outside = inside.clone();
        outside.stock[corner][axis] = v;
        assert_eq!(
            in_plan(&router_program(), &outside),
            only("stock"),
            "corner {corner}, axis {axis}"
        );
    }
    // The belly of an arc counts, not only its ends: 33 - 2 below y 16.
    let mut belly = laser_limits();
    belly.stock[0] = [9.0, 9.0, 0.0];
    let mut hole = laser_program();
    hole.moves.truncate(6);
    belly.stock[0][1] = 14.0;
    assert_eq!(in_plan(&hole, &belly), none);
    belly.stock[0][1] = 14.002;
    assert_eq!(in_plan(&hole, &belly), only("stock"));

    // Safe height above the stock.
    let mut thick = limits.clone();
    thick.pass_depth = 30.0;
    thick.stock[1][2] = 18.999;
    assert_eq!(in_plan(&router_program(), &thick), none);
    thick.stock[1][2] = 19.0;
    assert_eq!(in_plan(&router_program(), &thick), only("safe-height"));

    // A plan whose own safe height is too low: the rapids say so.
    let low = MotionLimits {
        safe_z: 19.002,
        ..limits.clone()
    };
    let rules = in_plan(&router_program(), &low);
    assert!(
        rules.contains("rapid-low") && rules.contains("head-low"),
        "{rules:?}"
    );

    // Bed: the cuts go to -0.2.
    let bed = |v: f64| MotionLimits {
        bed_lowest_z: v,
        ..limits.clone()
    };
    assert_eq!(in_plan(&router_program(), &bed(-0.2)), none);
    assert_eq!(in_plan(&router_program(), &bed(-0.198)), only("bed"));

    // A pass: the outline takes 4.2 at once, the notch 2 and then 2.2 more.
    let pass = |v: f64| MotionLimits {
        pass_depth: v,
        ..limits.clone()
    };
    assert_eq!(in_plan(&router_program(), &pass(4.2)), none);
    assert_eq!(in_plan(&router_program(), &pass(4.19)), only("pass-depth"));
    let notch = edit(&|p| p.moves.truncate(14));
    assert_eq!(in_plan(&notch, &pass(2.2)), none);
    assert_eq!(in_plan(&notch, &pass(2.19)), only("pass-depth"));
    // The second pass wider than the first: there it takes all of the height.
    let wider = edit(&|p| {
        p.moves.truncate(14);
        p.moves[10] = Move::Line(Point::new(33.05, 16.5));
        p.moves[11] = Move::Line(Point::new(32.0, 16.5));
    });
    assert_eq!(in_plan(&wider, &pass(2.2)), only("pass-depth"));

    // The machine's feeds: cuts at 900, plunges at 300 below the least feed of a cut.
    let feeds = |feed: [f64; 2]| MotionLimits {
        feed,
        ..limits.clone()
    };
    assert_eq!(in_plan(&router_program(), &feeds([900.0, 900.0])), none);
    assert_eq!(
        in_plan(&router_program(), &feeds([900.01, 2000.0])),
        only("feed")
    );
    assert_eq!(
        in_plan(&router_program(), &feeds([100.0, 899.99])),
        only("feed")
    );
    assert_eq!(
        in_plan(&router_program(), &feeds([100.0, 299.99])),
        only("feed"),
        "plunges too"
    );

    // A plan that travels without rising first, one that ends low, one that leaves the beam on.
    let drags = edit(&|p| {
        p.moves.remove(13);
    });
    assert!(
        in_plan(&drags, &limits).contains("rapid-low"),
        "travel at z -0.2"
    );
    let low_end = edit(&|p| {
        p.moves.pop();
    });
    assert_eq!(
        in_plan(&low_end, &limits),
        BTreeSet::from(["end-low", "head-low"])
    );
    let mut beam = laser_program();
    beam.moves.remove(5);
    assert!(
        in_plan(&beam, &laser_limits()).contains("beam-on-travel"),
        "no beam off before travel"
    );
    let mut dark = laser_program();
    dark.moves.remove(2);
    assert!(
        in_plan(&dark, &laser_limits()).contains("head-off-cut"),
        "no beam on before the cut"
    );
}

/// Within a rounding step a place passes, beyond it none does.
#[test]
fn a_planned_place_is_met_to_half_a_step() {
    let bytes = text(&laser_program(), &laser_post());
    let rules = rules(&laser_post());
    let frame = frame(&laser_program(), &laser_post());
    let trace = read(bytes.as_bytes(), &rules, &frame).expect("sound");
    let moved = |by: f64| {
        let mut program = laser_program();
        if let Some(Move::Line(p)) = program.moves.get_mut(9) {
            *p = Point::new(p.x + by, p.y);
        }
        check_motion(&trace, &program, &laser_limits(), &rules, &frame)
    };
    assert_eq!(moved(0.000_4), vec![], "rounding");
    assert_eq!(
        moved(0.000_6).first().map(|f| f.rule),
        Some("off-plan"),
        "not rounding"
    );
}

#[test]
fn a_trace_that_is_cut_short_is_a_fault() {
    let bytes = text(&laser_program(), &laser_post());
    let rules = rules(&laser_post());
    let frame = frame(&laser_program(), &laser_post());
    let mut trace = read(bytes.as_bytes(), &rules, &frame).expect("sound");
    trace.events.pop();
    trace.tail_events -= 1;
    let faults = check_motion(&trace, &laser_program(), &laser_limits(), &rules, &frame);
    assert_eq!(
        faults.iter().map(|f| f.rule).collect::<Vec<_>>(),
        ["no-end"]
    );
    let faults = check_motion(
        &Trace::default(),
        &laser_program(),
        &laser_limits(),
        &rules,
        &frame,
    );
    let said: Vec<String> = faults.iter().map(ToString::to_string).collect();
    assert!(
        said.iter()
            .any(|s| s.contains("should stand here (remark)")),
        "{said:?}"
    );
}

#[test]
fn every_rule_is_among_the_changes() {
    let mut broken: BTreeSet<&str> = IN_FILE.iter().map(|c| c.0).collect();
    broken.extend(["travel", "stock", "safe-height", "no-end"]);
    let rules: BTreeSet<&str> = MOTION_RULES.into_iter().collect();
    assert_eq!(
        rules, broken,
        "a rule without a case, or a case without a rule"
    );
}
