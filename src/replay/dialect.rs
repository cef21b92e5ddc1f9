//! Tries a dialect before any planning: a small program and its air run are written in it, read back and
//! held to every rule, so that a fault of the file is told at its own line and not found in the proof of a job.

use std::collections::BTreeMap;

use super::air_run::{AirLimits, check_air_run};
use super::gcode_read::{Frame, read};
use super::motion::{MotionLimits, check_motion};
use super::{DialectRules, ReplayFault};
use crate::geom::Point;
use crate::panel::{Faults, JobFiles, Post};
use crate::path::{AirRun, Head, Move, Note, NoteKind, Program};
use crate::write::gcode::{PostError, check_templates, render_air_run_told, render_told};

/// Tries the dialect of a job's post-processor file.
///
/// # Errors
/// The first fault, at the key that it comes from.
pub(crate) fn try_dialect(files: &JobFiles) -> Result<(), Faults> {
    let Some(own) = files.own() else {
        return Ok(());
    };
    check_for(&own.post, own.machine.travel).map_err(|e| {
        let hint = "mend this key; the built-in files show one of each kind".to_owned();
        own.post_text.fault(&e.key, e.to_string(), Some(hint))
    })
}

/// Tries every template of a dialect, and a small program and its air run written in it.
///
/// # Errors
/// The first fault, with the key of the post-processor file that it comes from.
pub fn check_dialect(post: &Post) -> Result<(), PostError> {
    check_for(post, TRAVEL)
}

/// Likewise, on a machine of this travel, mm.
fn check_for(post: &Post, travel: [f64; 3]) -> Result<(), PostError> {
    check_templates(post)?;
    let (program, limits) = sample(post.gcode.drives_laser, travel);
    let (bytes, keys) = render_told(&program, post)?;
    let rules = DialectRules::of(&post.gcode);
    let frame = Frame::of(&program, post)?;
    let faults = match read(&bytes, &rules, &frame) {
        Ok(trace) => check_motion(&trace, &program, &limits, &rules, &frame),
        Err(faults) => faults,
    };
    told(faults, &bytes, &keys, post)?;
    let air = AirRun::of(&program, program.feed, program.notes.clone());
    let (bytes, keys) = render_air_run_told(&air, post)?;
    let rules = rules.for_air_run();
    let air_limits = AirLimits {
        travel: limits.travel,
        greatest_feed: limits.feed[1],
    };
    let frame = Frame::of_air_run(&air, post)?;
    let faults = match read(&bytes, &rules, &frame) {
        Ok(trace) => check_air_run(&trace, &air, &air_limits, &rules, &frame),
        Err(faults) => faults,
    };
    told(faults, &bytes, &keys, post)
}

/// The first fault of a program, as one of the template that wrote its line.
fn told(
    faults: Vec<ReplayFault>,
    bytes: &[u8],
    keys: &[&'static str],
    post: &Post,
) -> Result<(), PostError> {
    // A fault at a line tells more than one of the whole, and what it does more than which word stands there.
    let words = |f: &ReplayFault| matches!(f.rule, "frame" | "body-words" | "remark");
    let first = faults
        .into_iter()
        .min_by_key(|f| (f.line.is_none(), words(f)));
    let Some(fault) = first else {
        return Ok(());
    };
    let written = fault.line.and_then(|line| keys.get(line.wrapping_sub(1)));
    let key = home(&fault, post.gcode.drives_laser)
        .or(written.copied())
        .unwrap_or("gcode");
    let line = fault.line.and_then(|line| {
        let text = std::str::from_utf8(bytes).ok()?;
        text.lines().nth(line.checked_sub(1)?)
    });
    let shown = line.map_or_else(String::new, |line| format!("; it writes: {line}"));
    Err(PostError {
        key: key.to_owned(),
        line: None,
        reason: format!("tried on a sample: {} ({}){shown}", fault.what, fault.rule),
    })
}

/// The template that should have held what a fault misses; `None` where the line at fault tells it.
fn home(fault: &ReplayFault, laser: bool) -> Option<&'static str> {
    Some(match fault.rule {
        "modes" => "gcode.begin",
        "program-end" | "no-end" => "gcode.end",
        "spin-up" | "head-low" => "gcode.start_head",
        "head-off-cut" if laser => "gcode.beam_on",
        "head-off-cut" => "gcode.start_head",
        "head-on-end" if laser => "gcode.beam_off",
        "head-on-end" | "coolant-on-end" => "gcode.stop_head",
        "coolant-off-cut" => "gcode.start_head",
        "length-offset" => "gcode.length_offset",
        "change-missing" | "change-unsafe" => "gcode.tool_change",
        _ => return None,
    })
}

/// Travel of a machine of which nothing is known, mm.
const TRAVEL: [f64; 3] = [400.0, 300.0, 60.0];

/// A bar cut out of a strip, with a notch for a router and two beams for a laser: every kind of move.
fn sample(laser: bool, travel: [f64; 3]) -> (Program, MotionLimits) {
    let (head, moves) = if laser {
        beam_sample()
    } else {
        cutter_sample()
    };
    let program = Program {
        stem: "sample".into(),
        notes: vec![Note::new(
            NoteKind::Title,
            "a sample; zero at the lower left corner of the stock",
        )],
        head,
        // Values that nobody writes out, so that a template must take them from the job.
        feed: 871.0,
        moves,
        holds: vec![],
        reliefs: BTreeMap::new(),
        contours: vec![],
    };
    let up = |v: f64| if laser { 0.0 } else { v };
    let limits = MotionLimits {
        stock: [[0.0; 3], [120.0, 40.0, 4.0]],
        // No less than the sample needs.
        travel: [travel[0].max(200.0), travel[1].max(100.0), up(60.0)],
        bed_lowest_z: up(-0.3),
        pass_depth: up(4.5),
        safe_z: up(19.3),
        feed: [60.0, 3000.0],
    };
    (program, limits)
}

fn beam_sample() -> (Head, Vec<Move>) {
    let head = Head::Beam {
        kerf: 0.16,
        power_percent: 61.7,
        power_word: 617.0,
    };
    let moves = vec![
        Move::Remark("hole".into()),
        travel(35.0, 16.0),
        Move::BeamOn,
        arc(31.0, 16.0, 33.0, 16.0, true),
        arc(35.0, 16.0, 33.0, 16.0, true),
        Move::BeamOff,
        Move::Remark("bar".into()),
        travel(20.0, 9.92),
        Move::BeamOn,
        line(10.0, 9.92),
        arc(9.92, 10.0, 10.0, 10.0, false),
        line(9.92, 22.5),
        Move::BeamOff,
    ];
    (head, moves)
}

fn cutter_sample() -> (Head, Vec<Move>) {
    let head = Head::Cutter {
        diameter: 3.0,
        speed_rpm: 15_731.0,
        spin_up_s: 2.7,
        plunge_feed: 293.0,
        safe_z: 19.3,
        tool_number: 3,
        tool_name: "straight, 2 flutes".into(),
    };
    let moves = vec![
        Move::Raise,
        Move::Remark("notch".into()),
        travel(32.0, 24.0),
        Move::Plunge(2.0),
        line(32.0, 17.5),
        line(33.05, 17.5),
        Move::Raise,
        Move::Remark("outline".into()),
        travel(10.0, 8.5),
        Move::Plunge(-0.2),
        arc(8.5, 10.0, 10.0, 10.0, false),
        line(8.5, 22.0),
        Move::Plunge(1.2),
        line(8.5, 14.0),
        arc(11.5, 14.0, 10.0, 14.0, true),
        Move::Raise,
    ];
    (head, moves)
}

fn travel(x: f64, y: f64) -> Move {
    Move::Travel(Point::new(x, y))
}

fn line(x: f64, y: f64) -> Move {
    Move::Line(Point::new(x, y))
}

fn arc(x: f64, y: f64, cx: f64, cy: f64, ccw: bool) -> Move {
    Move::Arc {
        to: Point::new(x, y),
        centre: Point::new(cx, cy),
        ccw,
    }
}
