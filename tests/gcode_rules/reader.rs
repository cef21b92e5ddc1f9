//! The reader: each rule, broken by one change in a sound program.

use std::collections::BTreeSet;

use lapwright::replay::gcode_read::{self, EventKind, Frame, READ_RULES, Trace};
use lapwright::replay::{DialectRules, ReplayFault};

use super::sample::{dialect, program_for, rules};
use super::text;

/// Reads a program whatever stands round its moves: head and tail have rules of their own.
fn read(bytes: &[u8], rules: &DialectRules) -> Result<Trace, Vec<ReplayFault>> {
    gcode_read::read(bytes, rules, &Frame::default())
}

/// One change that breaks a rule: which rule, in the program of which dialect, what is replaced (its
/// first appearance), by what.
struct Break(&'static str, &'static str, &'static str, &'static str);

const LASER: &str = "laser-mm";
const ROUTER: &str = "router-mm";
const FOLLOW: &str = "laser-follow-mm";
const LINES: &str = "laser-lines-mm";
const INCH: &str = "router-inch";
const NUMBERED: &str = "router-numbered-mm";
const CHANGE: &str = "router-toolchange-mm";
const PAUSE: &str = "router-pause-mm";
const LENGTH: &str = "router-length-mm";
const HOME: &str = "router-home-inch";
const PARK: &str = "laser-park-mm";
const LASER_HOME: &str = "laser-home-mm";

const BREAKS: &[Break] = &[
    Break("character", LASER, "G0 X", "g0 X"),
    Break("character", LASER, "(hole)", "; hole"),
    Break("character", LASER, "(hole)", "(hole;)"),
    Break("comment", LASER, "(hole)", "(a) (hole)"),
    Break("character", LASER, "M3 ", "M3\t"),
    Break("character", LASER, "M5\n", "M5\r\n"),
    Break("character", LASER, "(hole)", "(h\u{f6}le)"),
    Break("character", LASER, "X35.000", "X[35]"),
    Break("character", LASER, "X35.000", "X#1"),
    Break("character", LASER, "G0 X", "/G0 X"),
    Break("character", LASER, "G21", "%\nG21"),
    Break("comment", LASER, "(hole)", "(hole"),
    Break("comment", LASER, "(hole)", "(hole (1))"),
    Break("comment", LASER, "(hole)", "(hole) )"),
    Break("cut-short", LASER, "M2\n", "M2"),
    Break("syntax", LASER, "X35.000", "X"),
    Break("syntax", LASER, "X35.000", "X--35.000"),
    Break("syntax", LASER, " Y16.000", " 16.000"),
    Break("syntax", LASER, "X35.000", "X3.5.000"),
    Break("syntax", LASER, "M3 S600", "M S600"),
    Break("number", LASER, "X35.000", "X- 35.000"),
    Break("number", LASER, "X35.000", "X3500000"),
    Break("number", LASER, "G0 X", "G99999999999 X"),
    Break("number", LASER, "G0 X", "G429496730 X"),
    Break("number", LASER, "G0 X", "G0.01 X"),
    Break("line-number", LASER, "G0 X", "N100000 G0 X"),
    Break("line-number", LASER, "G0 X", "N5.7 G0 X"),
    Break("line-number", LASER, "G0 X", "N5 N6 G0 X"),
    Break("line-number", LASER, "G0 X35.000", "X35.000 N5 G0"),
    Break("word", LASER, "G90", "G91"),
    Break("word", LASER, "G17", "G18"),
    Break("word", LASER, "G54", "G59.1"),
    Break("word", LASER, "G0 X", "G61.1 G0 X"),
    Break("word", LASER, "G0 X", "M1\nG0 X"),
    Break("word", LASER, "G0 X", "G30\nG0 X"),
    // Words that the dialect does not announce.
    Break("dialect", LASER, "G54", "G55"),
    Break("dialect", LENGTH, "G57", "G54"),
    Break("dialect", LASER, "G54", "G54 G61"),
    Break("dialect", ROUTER, "G61", "G64"),
    Break("dialect", HOME, "G64", "G61"),
    Break("dialect", LASER, "G0 X", "G91.1\nG0 X"),
    Break("dialect", ROUTER, "G0 X", "G43 H3\nG0 X"),
    Break("dialect", LASER, "G0 X", "M0\nG0 X"),
    Break("dialect", LASER, "G0 X", "M7\nG0 X"),
    Break("dialect", FOLLOW, "M8", "M7"),
    Break("dialect", PAUSE, "M7", "M8"),
    Break("dialect", LASER, "M2\n", "M9\nM2\n"),
    Break("dialect", LASER, "M2\n", "G53 G0 X0.0\nM2\n"),
    Break("dialect", ROUTER, "M2\n", "G28 Z19.000\nM2\n"),
    Break("dialect", HOME, "G28 Z", "G53 G0 Z"),
    Break("dialect", LASER, "M3", "M4"),
    Break("dialect", ROUTER, "M3", "M4"),
    Break("dialect", FOLLOW, "M4", "M3"),
    Break("dialect", LASER, "G21", "G20"),
    Break("dialect", INCH, "G20", "G21"),
    Break("dialect", LINES, "G1 X31.000", "G3 I-2.000 X31.000"),
    Break("dialect", LASER, "G0 X", "N1 G0 X"),
    Break("dialect", ROUTER, "M3 S", "T3 M6\nM3 S"),
    // Semicolons mark remarks only where the dialect says so, and then nothing else does.
    Break("character", FOLLOW, "; hole", "(hole)"),
    Break("character", FOLLOW, "; hole", "; hole (1)"),
    Break("character", FOLLOW, "; hole", "; hole; 1"),
    Break("character", NUMBERED, "(notch)", "; notch"),
    Break("percent-lines", NUMBERED, "%\nN10", "N10"),
    Break("percent-lines", NUMBERED, "M30\n%\n", "M30\n"),
    Break("percent-lines", NUMBERED, "M30\n%\n", "M30\n%%\n"),
    Break("percent-lines", NUMBERED, "M30\n%\n", "M30\n%"),
    Break("line-number", NUMBERED, "N20 ", ""),
    Break("line-number", NUMBERED, "N20 ", "N10 "),
    Break("line-number", NUMBERED, "N20 ", "N30 "),
    Break("line-number", NUMBERED, "N10 ", "N0 "),
    Break("line-number", NUMBERED, "N60 ", "N50 G0 Z19.000\nN60 "),
    Break("word", LASER, "X35.000", "A35.000"),
    Break("word", LASER, "X35.000", "X1E3"),
    Break("word", LASER, "I-2.000 J0.000", "R2.000"),
    Break("word", LASER, "G0 X", "O5 G0 X"),
    Break("word", ROUTER, "G0 X", "T1.5\nG0 X"),
    Break("repeated-word", LASER, "X35.000", "X35.000 X35.000"),
    Break("repeated-word", LASER, "S600", "S600 S600"),
    Break("repeated-word", ROUTER, "G0 X", "T3 T3 G0 X"),
    Break("modal-group", LASER, "G0 X", "G0 G1 X"),
    Break("modal-group", LASER, "G0 X", "G0 G0 X"),
    Break("modal-group", LASER, "G21", "G21 G20"),
    Break("modal-group", LASER, "M3 S600", "M3 M5 S600"),
    Break("modal-group", LASER, "G54", "G54 G54"),
    // Five M words cannot be of five groups with the codes that are allowed, so the count comes first.
    Break("m-words", LASER, "M2\n", "M2 M5 M6 M30 M3\n"),
    Break("unused-word", LASER, "G0 X", "G0 I1.000 X"),
    Break("unused-word", LASER, "M3 S600", "M3 S600 P1"),
    Break("unused-word", LASER, "M3 S600", "M3 S600 J1.0"),
    Break("unused-word", ROUTER, "G2 X", "G2 Z1.0 X"),
    Break("modes", LASER, "G21 ", ""),
    Break("modes", LASER, "G17 ", ""),
    Break("modes", LASER, "G90 ", ""),
    Break("modes", LASER, "G94 ", ""),
    Break("modes", LASER, "G40 ", ""),
    Break("modes", LASER, "G49 ", ""),
    Break("modes", LASER, " G54", ""),
    Break("modes", LASER, "G21 ", "G21 F900 "),
    Break("motion-mode", LASER, "G0 X35.000", "X35.000"),
    Break("motion-mode", LASER, "G0 X35.000", "G80 X35.000"),
    Break("axis-words", LASER, "G0 X35.000 Y16.000", "G0"),
    Break("axis-words", ROUTER, "G1 Z2.000 F300", "G1 F300"),
    Break("axis-words", ROUTER, "G2 X8.500 Y10.000", "G2"),
    Break("feed", LASER, " F900", ""),
    Break("feed", LASER, " F900", " F0"),
    Break("feed", LASER, " F900", " F-900"),
    Break("unknown-position", ROUTER, "G0 Z19.000\nM3", "G0 X0.0\nM3"),
    Break(
        "unknown-position",
        ROUTER,
        "G0 Z19.000\nM3",
        "G0 X0.0 Z19.000\nM3",
    ),
    Break(
        "unknown-position",
        LASER,
        "G0 X35.000 Y16.000",
        "G0 X35.000",
    ),
    Break("arc-centre", LASER, " I-2.000 J0.000", ""),
    Break("arc-radii", LASER, "I-2.000 J0.000", "I-2.003 J0.000"),
    Break("arc-radii", LASER, "I-2.000 J0.000", "I0.000 J0.000"),
    Break("arc-full-turn", LASER, "G3 X31.000", "G3 X35.000"),
    Break("dwell", ROUTER, "G4 P2.5", "G4"),
    Break("dwell", ROUTER, "G4 P2.5", "G4 P-2.5"),
    Break("dwell", ROUTER, "G4 P2.5", "G4 P2.5 X1.0"),
    Break("dwell", ROUTER, "G4 P2.5", "G4 P2.5 G80"),
    Break("spindle", LASER, "M3 S600", "M3"),
    Break("spindle", LASER, "M3 S600", "M3 S-600"),
    Break("tool-change", CHANGE, "T3 M6", "M6"),
    Break("tool-change", CHANGE, "G4 P2.5", "G4 P2.5\nT3 M6"),
    // The change may have moved the head, so that it must rise, and travel, before anything else.
    Break(
        "unknown-position",
        CHANGE,
        "T3 M6\nG0 Z19.000",
        "T3 M6\nG0 X1.000",
    ),
    Break("arc-radii", INCH, " J0.0590", " J0.0595"),
    // The tool's length: once, alone, of a whole number, after the change and before any move.
    Break("length-offset", LENGTH, "G43 H3\n", ""),
    Break(
        "length-offset",
        LENGTH,
        "G43 H3\nG0 Z19.000",
        "G0 Z19.000\nG43 H3",
    ),
    Break("length-offset", LENGTH, "T3 M6\nG43 H3", "G43 H3\nT3 M6"),
    Break("length-offset", LENGTH, "T3 M6\n", "G0 Z19.000\nT3 M6\n"),
    Break("length-offset", LENGTH, "G43 H3", "G43 H3\nG43 H3"),
    Break("length-offset", LENGTH, "G43 H3", "G43 H3\nT3 M6"),
    Break("length-offset", LENGTH, "G43 H3", "G43"),
    Break("length-offset", LENGTH, "G43 H3", "G43 H3.5"),
    Break("length-offset", LENGTH, "G43 H3", "G43 H-3"),
    Break(
        "length-offset",
        LENGTH,
        "G43 H3\nG0 Z19.000",
        "G0 G43 H3 Z19.000",
    ),
    Break("length-offset", LENGTH, "(outline)", "G49\n(outline)"),
    Break(
        "length-offset",
        LENGTH,
        "(outline)",
        "G49\nG43 H3\n(outline)",
    ),
    Break("length-offset", LENGTH, "M5\nM9\nG49", "G49\nG0 Z19.000"),
    Break("unused-word", LENGTH, "G43 H3", "G43 H3\nH3"),
    Break("unused-word", ROUTER, "G49", "G49 H3"),
    Break("repeated-word", LENGTH, "G43 H3", "G43 H3 H3"),
    Break("modal-group", LENGTH, "G43 H3", "G43 G49 H3"),
    // A stop: alone, head off, and then the head stands anywhere.
    Break("pause", HOME, "M0", "M0 T3"),
    Break("pause", HOME, "M0", "G0 Z0.74803 M0"),
    Break("pause", HOME, "G4 P2.5", "G4 P2.5\nM0"),
    Break("pause", PARK, "M3 S600", "M3 S600\nM0"),
    Break("modal-group", HOME, "M0", "M0 M2"),
    Break(
        "unknown-position",
        HOME,
        "M0\nG0 Z0.74803",
        "M0\nG0 X1.00000",
    ),
    Break(
        "unknown-position",
        PARK,
        "G0 X35.000 Y16.000",
        "M0\nG1 X35.000 Y16.000 F900",
    ),
    // What an arc's centre counts from, and how corners are run through, is said before the first move.
    Break("modes", PAUSE, "G91.1 ", ""),
    Break("modes", PAUSE, " G61", ""),
    Break("modes", HOME, " G64", ""),
    Break("modes", LENGTH, " G57", ""),
    Break("modal-group", PAUSE, "G61", "G61 G64"),
    Break("modal-group", LENGTH, "M7", "M7 M8"),
    // Parking: head off, by a rapid, up alone and to the top, alone in its block, and nothing after it but the end.
    Break("park", PAUSE, "M5\nM9\nG53", "M9\nG53"),
    Break("park", PAUSE, "G53 G0 Z0\n", ""),
    Break("park", PAUSE, "G53 G0 Z0\n", "G53 G0 Z0 X0\n"),
    Break("park", PAUSE, "G53 G0 Z0\n", "G53 G0 Z-1\n"),
    Break("park", PAUSE, "G53 G0 Z0\n", "G53 G0 Z1\n"),
    Break("park", PAUSE, "G53 G0 Z0\n", "G53 G1 Z0 F900\n"),
    Break("park", PAUSE, "G53 G0 Z0\n", "G53 G1 Z0\n"),
    Break("park", PAUSE, "G53 G0 Z0\n", "G53 G0 Z0 M9\n"),
    Break("park", PAUSE, "G53 G0 Z0\n", "G53 G0\n"),
    Break("park", PAUSE, "G53 G0 X0 Y0", "G53 G0 X0 Y0 Z0"),
    Break("park", PAUSE, "G53 G0 X0 Y0", "G0 X0 Y0"),
    Break("park", PAUSE, "G53 G0 X0 Y0", "G53 G0 X0 Y0\nG0 Z19.000"),
    Break("park", PAUSE, "G53 G0 X0 Y0", "G53 G0 X0 Y0\nM3 S16000"),
    Break("park", PAUSE, "G53 G0 X0 Y0", "G53 G0 X0 Y0\nM7"),
    Break("park", PAUSE, "G53 G0 X0 Y0", "G53 G0 X0 Y0\nM0"),
    Break("park", PAUSE, "G53 G0 X0 Y0", "G53 G0 X0 Y0\nG4 P1"),
    Break("park", PAUSE, "G53 G0 X0 Y0", "G53 G0 X0 Y0\nF900"),
    Break("park", PAUSE, "(outline)", "G53 G0 Z0\n(outline)"),
    Break("park", HOME, "G28 Z0.74803\n", ""),
    Break("park", HOME, "G28 Z0.74803\n", "G28\n"),
    Break("park", HOME, "G28 Z0.74803\n", "G28 Z0.74803 X0\n"),
    Break("park", HOME, "G28 Z0.74803\n", "G0 G28 Z0.74803\n"),
    Break("park", HOME, "G28 X0 Y0", "G28 X0"),
    Break("park", HOME, "G28 X0 Y0", "G28 X1 Y0"),
    Break("park", HOME, "G28 X0 Y0", "G28 X0 Y0 Z0"),
    Break("park", HOME, "M5\nG28", "G28"),
    Break("park", PARK, "G53 G0 X", "G53 G0 Z0 X"),
    Break("park", PARK, "G53 G0 X", "G53 G1 X"),
    Break("park", PARK, "M5\nM9\nG53", "M9\nG53"),
    Break("park", LASER_HOME, "G28 X0 Y0", "G28 X0 Y0 Z0"),
    Break("park", LASER_HOME, "G28 X0 Y0", "G28"),
    Break("park", LASER_HOME, "G28 X0 Y0", "G28 X5 Y0"),
    Break("modal-group", PAUSE, "G53 G0 Z0", "G53 G28 G0 Z0"),
    Break("modal-group", PAUSE, "G53 G0 Z0", "G53 G4 P1 G0 Z0"),
    Break("laser-z", LASER, "G0 X", "G0 Z1.000 X"),
    Break("program-end", LASER, "M2\n", ""),
    Break("program-end", LASER, "M2\n", "M2\nG0 X1.000\n"),
    Break("program-end", LASER, "M2\n", "M2\nM2\n"),
    Break("program-end", LASER, "M2\n", "M2\n(more)\n"),
    Break("program-end", LASER, "M2\n", "M3\n"),
];

fn sample(name: &str) -> String {
    let post = dialect(name);
    text(&program_for(&post).0, &post)
}

fn rules_of(name: &str) -> DialectRules {
    rules(&dialect(name))
}

#[test]
fn every_rule_is_broken_by_one_change() {
    for &Break(rule, name, from, to) in BREAKS {
        let sound = sample(name);
        read(sound.as_bytes(), &rules_of(name)).expect("sound before the change");
        assert!(sound.contains(from), "{from:?} is not in the sample");
        let spoilt = sound.replacen(from, to, 1);
        let faults = read(spoilt.as_bytes(), &rules_of(name)).expect_err(to);
        assert!(
            faults.iter().any(|f| f.rule == rule),
            "{from:?} to {to:?}: {rule} is not among {faults:?}"
        );
    }
    // At most 256 characters to a line (NISTIR 6556, 3.3): 256 pass, 257 do not.
    let remark =
        |n: usize| sample(LASER).replacen("(hole)", &format!("({})", "h".repeat(n - 2)), 1);
    read(remark(256).as_bytes(), &rules_of(LASER)).expect("256 characters");
    let faults = read(remark(257).as_bytes(), &rules_of(LASER)).expect_err("257 characters");
    assert_eq!(faults[0].rule, "line-length");
}

#[test]
fn every_rule_is_among_the_changes() {
    let mut broken: BTreeSet<&str> = BREAKS.iter().map(|b| b.0).collect();
    broken.insert("line-length");
    let rules: BTreeSet<&str> = READ_RULES.into_iter().collect();
    assert_eq!(
        rules, broken,
        "a rule without a case, or a case without a rule"
    );
}

#[test]
fn a_fault_names_its_line() {
    let spoilt = sample(LASER).replacen("(hole)", "G18", 1);
    let faults = read(spoilt.as_bytes(), &rules_of(LASER)).expect_err("G18");
    let line = spoilt.lines().position(|l| l == "G18").map(|n| n + 1);
    assert_eq!(faults[0].line, line);
    assert!(
        faults[0]
            .to_string()
            .starts_with(&format!("line {}: G18", line.unwrap_or(0)))
    );
}

#[test]
fn faults_are_gathered_and_bounded() {
    let spoilt = sample(LASER).replace("G1", "G18 G1");
    let faults = read(spoilt.as_bytes(), &rules_of(LASER)).expect_err("G18 in every cut");
    assert!(faults.len() > 3, "all of them: {faults:?}");
    let junk = "G18\n".repeat(10_000);
    let faults = read(junk.as_bytes(), &rules_of(LASER)).expect_err("junk");
    assert!(
        faults.len() <= 60,
        "{} faults say no more than the first",
        faults.len()
    );
    assert!(read(b"", &rules_of(LASER)).is_err(), "an empty file");
    assert!(read(b"\xff\xfe\n", &rules_of(LASER)).is_err(), "no text");
}

/// Single precision would read 349.7501 as 349.750092: values are read from the text.
#[test]
fn values_are_exact() {
    let spoilt = sample(LASER)
        .replace("X35.000", "X349.7501")
        .replace("X31.000", "X345.7501");
    let trace = read(spoilt.as_bytes(), &rules_of(LASER)).expect("sound");
    let first = trace.events.iter().find_map(|e| match e.kind {
        EventKind::Travel { to, .. } => Some(to[0]),
        _ => None,
    });
    assert_eq!(first, Some(349.7501));
}

/// An inch is 25.4 mm (ISO 31 and by definition); F and the centre's offsets convert as well.
#[test]
fn inches_convert() {
    let inch = "G20 G17 G90 G94 G40 G49 G54\nF30\nG0 X1. Y-.5\nM3 S100\nG2 X2 I.5\nM5\nM30\n";
    let trace = read(inch.as_bytes(), &rules_of("laser-inch")).expect("sound");
    let cut = trace.events.iter().find_map(|e| match e.kind {
        EventKind::Cut {
            from,
            to,
            arc: Some(arc),
            feed,
            ..
        } => Some((from, to, arc, feed)),
        _ => None,
    });
    let (from, to, arc, feed) = cut.expect("an arc");
    assert_eq!(from, [25.4, -12.7, 0.0]);
    assert_eq!(to, [50.8, -12.7, 0.0]);
    assert!(
        (arc.centre[0] - 38.1).abs() < 1e-12 && arc.centre[1] == -12.7,
        "{arc:?}"
    );
    assert!(!arc.ccw, "G2 is clockwise");
    assert_eq!(feed, 762.0);
}

/// Table 8 of the standard: in one block the beam goes on before the motion, and the stop comes last.
#[test]
fn a_block_runs_in_the_standards_order() {
    let one = "G21 G17 G90 G94 G40 G49 G54\nG0 X1 Y1\nF100\nX2 G1 S50 M3\nX3 M5\nY5 G0 M2\n";
    let trace = read(one.as_bytes(), &rules_of(LASER)).expect("sound");
    let kinds: Vec<&str> = trace
        .events
        .iter()
        .map(|e| match e.kind {
            EventKind::Travel { .. } => "travel",
            EventKind::Cut { head_on: true, .. } => "cut on",
            EventKind::Cut { head_on: false, .. } => "cut off",
            EventKind::HeadOn { .. } => "on",
            EventKind::HeadOff => "off",
            EventKind::Dwell { .. } => "wait",
            EventKind::Tool { .. } => "tool",
            EventKind::ToolChange { .. } => "change",
            EventKind::LengthOffset { .. } => "length",
            EventKind::Coolant(_) => "coolant",
            EventKind::Pause => "pause",
            EventKind::Park { .. } => "park",
            EventKind::Remark { .. } => "remark",
            EventKind::End => "end",
        })
        .collect();
    assert_eq!(
        kinds,
        ["travel", "on", "cut on", "off", "cut off", "travel", "end"]
    );
}

/// At most as many characters as the dialect allows: 80 pass, 81 do not.
#[test]
fn a_line_is_no_longer_than_its_dialect_allows() {
    let remark =
        |n: usize| sample(LINES).replacen("(hole)", &format!("({})", "h".repeat(n - 2)), 1);
    read(remark(80).as_bytes(), &rules_of(LINES)).expect("80 characters");
    let faults = read(remark(81).as_bytes(), &rules_of(LINES)).expect_err("81 characters");
    assert_eq!(faults[0].rule, "line-length");
}

/// A line number may not pass the greatest, even where it is the next.
#[test]
fn a_line_number_is_at_most_the_greatest() {
    let sound = sample(NUMBERED);
    let mut rules = rules_of(NUMBERED);
    let numbers = rules.line_numbers.as_mut().expect("numbered");
    let lines = u32::try_from(sound.lines().count()).expect("few") - 2;
    numbers.greatest = 10 * lines;
    read(sound.as_bytes(), &rules).expect("just enough");
    rules.line_numbers.as_mut().expect("numbered").greatest = 10 * lines - 1;
    let faults = read(sound.as_bytes(), &rules).expect_err("one too many");
    assert_eq!(faults[0].rule, "line-number");
    assert_eq!(faults[0].line, Some(sound.lines().count() - 1));
}
