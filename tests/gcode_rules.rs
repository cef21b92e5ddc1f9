//! G-code out through the dialect files, read back, and held against the plan.
//!
//! The standard is RS274/NGC as in NISTIR 6556 (The NIST RS274NGC Interpreter, version 3, 2000); its
//! rules and section numbers are given from memory.

#[path = "gcode_rules/air_run.rs"]
mod air_run;
#[path = "gcode_rules/dialect.rs"]
mod dialect;
#[path = "gcode_rules/further.rs"]
mod further;
#[path = "gcode_rules/motion.rs"]
mod motion;
#[path = "gcode_rules/motion_cases.rs"]
mod motion_cases;
#[path = "gcode_rules/mutation.rs"]
mod mutation;
#[path = "gcode_rules/reader.rs"]
mod reader;
#[path = "gcode_rules/sample.rs"]
mod sample;

use lapwright::geom::Point;
use lapwright::panel::LengthUnit;
use lapwright::path::{Move, Program, program_lengths};
use lapwright::replay::gcode_read::{EventKind, read};
use lapwright::replay::motion::{check_motion, trace_lengths};
use lapwright::write::gcode::render;

use further::FURTHER;
use sample::{
    FILES, dialect, frame, laser_limits, laser_post, laser_program, program_for, router_post,
    router_program, rules,
};

fn text(program: &Program, post: &lapwright::panel::Post) -> String {
    let bytes = render(program, post).expect("the sample can be written");
    String::from_utf8(bytes).expect("plain ASCII")
}

/// Written by hand from the standard: a notch of two cuts, one block a line.
#[test]
fn a_router_program_is_what_the_standard_makes_of_it() {
    let mut program = router_program();
    program.notes.truncate(1);
    program.moves.truncate(5);
    program.moves.push(Move::Line(Point::new(33.0, 17.5)));
    program.moves.push(Move::Arc {
        to: Point::new(32.0, 16.5),
        centre: Point::new(32.0, 17.5),
        ccw: false,
    });
    program.moves.push(Move::Raise);
    let want = "\
G21 G17 G90 G94 G40 G49 G80 G54 G61
(tool 3, straight, 2 flutes, diameter 3.000 mm)
(sheet 2 - strip 120 x 40 x 4)
(path of the tool centre, mm - x 32.00 to 33.00, y 16.50 to 24.00, z 2.00 to 19.00)
(zero needs, mm - 0.00 to its left, 33.00 to its right, 0.00 in front, 24.00 behind, 0.00 below, 19.00 above)
G0 Z19.000
M3 S16000
G4 P2.5
G0 Z19.000
(notch)
G0 X32.000 Y24.000
G1 Z2.000 F300
G1 X32.000 Y17.500 F900
G1 X33.000 Y17.500
G2 X32.000 Y16.500 I-1.000 J0.000
G0 Z19.000
M5
M2
";
    assert_eq!(text(&program, &router_post()), want);
}

/// The same for a laser: brackets in a note become square ones, the beam is off in travel.
#[test]
fn a_laser_program_is_what_the_standard_makes_of_it() {
    let mut program = laser_program();
    program.moves.truncate(4);
    program.moves.push(Move::BeamOff);
    let want = "\
G21 G17 G90 G94 G40 G49 G80 G54
(sheet 1 card, 0.8 thick, kerf 0.16)
(goggles on)
(path of the beam, mm - x 31.00 to 35.00, y 16.00 to 18.00)
(zero needs, mm - 0.00 to its left, 35.00 to its right, 0.00 in front, 18.00 behind)
M5
(hole)
G0 X35.000 Y16.000
M3 S600
G3 X31.000 Y16.000 I-2.000 J0.000 F900
M5
M2
";
    assert_eq!(text(&program, &laser_post()), want);
}

/// The samples as files, which the reference reader in Python judges by the standard alone.
#[test]
fn the_samples_are_the_files_that_the_reference_reader_judges() {
    let file = include_str!("reference/data/laser-sample.nc");
    assert_eq!(text(&laser_program(), &laser_post()), file);
    let file = include_str!("reference/data/router-sample.nc");
    assert_eq!(text(&router_program(), &router_post()), file);
}

#[test]
fn sound_programs_pass_every_rule() {
    for name in FILES.iter().map(|(name, _)| *name).chain(FURTHER) {
        let post = dialect(name);
        let (program, limits) = program_for(&post);
        let finer = post.gcode.number.unit == LengthUnit::Inch;
        for decimals in if finer { [4, 5] } else { [3, 4] } {
            let mut post = post.clone();
            post.gcode.number.decimals = decimals;
            let bytes = render(&program, &post).expect("the sample can be written");
            assert_eq!(
                bytes,
                render(&program, &post).expect("again"),
                "same in, same out"
            );
            let frame = frame(&program, &post);
            let trace = read(&bytes, &rules(&post), &frame).expect("every rule of the reader");
            assert_eq!(
                check_motion(&trace, &program, &limits, &rules(&post), &frame),
                vec![],
                "{}",
                program.stem
            );
            let (found, plan) = (trace_lengths(&trace), program_lengths(&program));
            if post.gcode.number.chord_mm.is_some() {
                assert!(found.cuts > plan.cuts, "several cuts stand for an arc");
            } else {
                assert_eq!(found.cuts, plan.cuts);
            }
            assert!(
                (found.cut_mm - plan.cut_mm).abs() < 0.03,
                "{found:?} against {plan:?}"
            );
            assert!(
                (found.travel_mm - plan.travel_mm).abs() < if finer { 0.02 } else { 0.01 },
                "{found:?}, {plan:?}"
            );
            assert!(
                (found.plunge_mm - plan.plunge_mm).abs() < if finer { 0.02 } else { 1e-9 },
                "{found:?}, {plan:?}"
            );
        }
    }
}

/// Lengths against the formulas for line and circle, worked by hand: hole 4 pi; bar 2 (60 + 12) less
/// the bridges of 0.5 and 1.2, and a circle of radius 0.08 at its corners.
#[test]
fn lengths_are_those_of_the_figure() {
    let sum = program_lengths(&laser_program());
    let tau = std::f64::consts::TAU;
    let want = 2.0 * tau + (144.0 - 0.5 - 1.2) + 0.08 * tau;
    assert!(
        (sum.cut_mm - want).abs() < 1e-9,
        "{} against {want}",
        sum.cut_mm
    );
    assert_eq!(sum.plunge_mm, 0.0, "a laser does not plunge");
}

/// Cuts that rounding swallows are left out, and the check knows it; nothing becomes a full turn.
#[test]
fn cuts_below_the_grid_vanish_and_are_no_fault() {
    let mut program = laser_program();
    let mut moves = Vec::new();
    for step in program.moves {
        let tiny = match step {
            Move::Line(p) => Some(p),
            _ => None,
        };
        moves.push(step);
        if let Some(p) = tiny {
            let side = Point::new(p.x + 0.0004, p.y);
            moves.push(Move::Line(side));
            let centre = p.midpoint(side);
            moves.push(Move::Arc {
                to: p,
                centre,
                ccw: true,
            });
        }
    }
    program.moves = moves;
    let bytes = render(&program, &laser_post()).expect("tiny cuts are no error");
    let rules = rules(&laser_post());
    let frame = frame(&program, &laser_post());
    let trace = read(&bytes, &rules, &frame).expect("sound");
    assert_eq!(
        check_motion(&trace, &program, &laser_limits(), &rules, &frame),
        vec![]
    );
    let cuts = |k: &EventKind| matches!(k, EventKind::Cut { .. });
    let written = trace.events.iter().filter(|e| cuts(&e.kind)).count();
    assert_eq!(
        written,
        program_lengths(&laser_program()).cuts,
        "only the tiny ones are gone"
    );
}

/// Whatever a path may hold, from a radius of a micron to one of 500 mm, comes back as planned.
#[test]
fn any_path_comes_back_as_planned() {
    let mut random = mutation::Random(11);
    let mut unit = || random.below(1 << 30) as f64 / f64::from(1 << 30);
    let mut cuts = 0;
    for round in 0..150 {
        let mut program = laser_program();
        let mut at = Point::new(60.0 * unit(), 60.0 * unit());
        program.moves = vec![Move::Travel(at), Move::BeamOn];
        for _ in 0..200 {
            let size = (unit() * 19.0 - 10.0).exp2();
            let angle = unit() * std::f64::consts::TAU;
            let (sin, cos) = angle.sin_cos();
            let arm = lapwright::geom::Vec2::new(cos, sin) * size;
            if unit() < 0.5 {
                at += arm;
                program.moves.push(Move::Line(at));
            } else {
                let (centre, ccw) = (at + arm, unit() < 0.5);
                let sweep = unit()
                    * if ccw {
                        std::f64::consts::PI
                    } else {
                        -std::f64::consts::PI
                    };
                let (sin, cos) = sweep.sin_cos();
                at = centre
                    - lapwright::geom::Vec2::new(
                        arm.x * cos - arm.y * sin,
                        arm.x * sin + arm.y * cos,
                    );
                program.moves.push(Move::Arc {
                    to: at,
                    centre,
                    ccw,
                });
            }
        }
        program.moves.push(Move::BeamOff);
        // Millimetres and inches, coarse and fine, and straight cuts for arcs.
        let names = ["laser-mm", "laser-inch", "laser-lines-mm"];
        let mut post = dialect(names[round % 3]);
        let least = if round % 3 == 1 { 4 } else { 3 };
        post.gcode.number.decimals = least + u8::try_from(round / 3 % 2).expect("0 or 1");
        let bytes = render(&program, &post).expect("can be written");
        let rules = rules(&post);
        let frame = frame(&program, &post);
        let trace = read(&bytes, &rules, &frame).expect("can be read");
        let mut limits = laser_limits();
        limits.stock = [[-1e6; 3], [1e6; 3]];
        limits.travel = [1e6, 1e6, 0.0];
        assert_eq!(
            check_motion(&trace, &program, &limits, &rules, &frame),
            vec![],
            "round {round}"
        );
        cuts += trace_lengths(&trace).cuts;
    }
    assert!(cuts > 22_000, "only {cuts} of 30000 cuts were written");
}

#[test]
fn what_cannot_be_written_is_refused_with_its_move() {
    let refused = |mut program: Program, step: Move| {
        program.moves.insert(3, step);
        render(&program, &laser_post())
            .expect_err("must not be written")
            .to_string()
    };
    let nan = refused(laser_program(), Move::Line(Point::new(f64::NAN, 1.0)));
    assert!(
        nan.contains("move 4") && nan.contains("x is not a number"),
        "{nan}"
    );
    let far = refused(laser_program(), Move::Line(Point::new(1.0, 2e6)));
    assert!(far.contains("y 2000000 is beyond"), "{far}");
    let plunge = refused(laser_program(), Move::Plunge(1.0));
    assert!(
        plunge.contains("gcode.plunge") && plunge.contains("laser"),
        "{plunge}"
    );
    let (to, centre) = (Point::new(35.0, 16.0), Point::new(33.0, 16.0));
    let turn = refused(
        laser_program(),
        Move::Arc {
            to,
            centre,
            ccw: true,
        },
    );
    assert!(turn.contains("full turn"), "{turn}");
    let wrong_head = render(&laser_program(), &router_post()).expect_err("a beam in a router");
    assert!(wrong_head.to_string().contains("drives"), "{wrong_head}");
    let mut early = router_program();
    early.moves.insert(0, Move::Line(Point::ZERO));
    let early = render(&early, &router_post()).expect_err("a cut from nowhere");
    assert!(
        early.to_string().contains("before its first travel"),
        "{early}"
    );
}
