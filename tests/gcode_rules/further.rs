//! Words beyond those of every dialect: dialects that write them, and files that are wrong in them.

use lapwright::panel::{Coolant, GcodeDialect, Park, PathMode, Post, SourceKind};

use super::dialect::Unsound;
use super::sample;
use crate::panel_support::one_fault;

/// Dialects of the tests' own, with words that no built-in one has.
pub const FURTHER: [&str; 5] = [
    "router-length-mm",
    "router-length-home-mm",
    "router-home-inch",
    "laser-park-mm",
    "laser-home-mm",
];

/// A dialect of [`FURTHER`].
pub fn dialect(name: &str) -> Post {
    let mut post = sample::dialect(match name {
        "router-length-mm" | "router-length-home-mm" => "router-toolchange-mm",
        "router-home-inch" => "router-inch",
        "laser-park-mm" | "laser-home-mm" => "laser-mm",
        _ => unreachable!("no dialect is called {name}"),
    });
    let GcodeDialect {
        words,
        templates: t,
        ..
    } = &mut post.gcode;
    match name {
        // Nothing moves before the tool is changed and its length counts; air and coolant at once.
        "router-length-mm" => {
            words.work_zero = 57;
            words.length_offset = true;
            words.coolant = Coolant { m7: true, m8: true };
            t.begin = t.begin.replace("G54", "G57");
            t.tool_change = "M5\nM9\nT{{ tool_number }} M6".into();
            t.length_offset = "G43 H{{ tool_number }}".into();
            t.start_head.push_str("M7\nM8\n");
            t.stop_head = "M5\nM9\nG49".into();
        }
        // The length counts until all is over, home included.
        "router-length-home-mm" => {
            words.length_offset = true;
            words.park = Some(Park::Home);
            t.tool_change = "M5\nT{{ tool_number }} M6".into();
            t.length_offset = "G43 H{{ tool_number }}".into();
            t.park = "G28 Z{{ safe_z }}\nG28 X0 Y0".into();
        }
        // Corners may be rounded; the tool is changed by hand at the safe height; then home.
        "router-home-inch" => {
            words.path_mode = Some(PathMode::Continuous);
            words.pause = true;
            words.park = Some(Park::Home);
            t.begin = t.begin.replace("G61", "G64");
            t.tool_change = "M5\nG0 Z{{ safe_z }}\nT{{ tool_number }}\nM0".into();
            t.park = "G28 Z{{ safe_z }}\nG28 X0 Y0".into();
        }
        "laser-park-mm" => {
            words.pause = true;
            words.coolant.m7 = true;
            words.park = Some(Park::MachineFrame);
            t.start_head = "M5\nM0\nM7".into();
            t.stop_head = "M9".into();
            t.park = "G53 G0 X-380.0 Y{{ 100 + 190 }}".into();
        }
        _ => {
            words.park = Some(Park::Home);
            t.park = "G28 X0 Y0".into();
        }
    }
    post
}

/// As the cases of `dialect.rs`.
pub const UNSOUND: &[Unsound] = &[
    // Words that the file does not announce, and those that it announces and does not write.
    (
        "laser-mm",
        "G54",
        "G55",
        "gcode.begin",
        "`work_zero` in [words]",
    ),
    (
        "laser-mm",
        "G54",
        "G54 G64",
        "gcode.begin",
        "announce it by `path_mode`",
    ),
    (
        "laser-mm",
        "M5",
        "M5\nM8",
        "gcode.start_head",
        "announce it by `coolant`",
    ),
    (
        "laser-mm",
        "M2",
        "M9\nM2",
        "gcode.end",
        "announce it by `coolant`",
    ),
    (
        "laser-mm",
        "M2",
        "G28 X0 Y0\nM2",
        "gcode.end",
        "announce it by `park`",
    ),
    (
        "laser-mm",
        "M5",
        "M5\nM0",
        "gcode.start_head",
        "announce it by `pause`",
    ),
    (
        "router-mm",
        "G61",
        "G64",
        "gcode.begin",
        "announce it by `path_mode`",
    ),
    ("router-mm", " G61", "", "gcode.begin", "before G61"),
    (
        "router-mm",
        "G54",
        "G54 G91.1",
        "gcode.begin",
        "announce it by `relative_centres`",
    ),
    (
        "router-mm",
        "G0 Z",
        "G43 H{{ tool_number }}\nG0 Z",
        "gcode.start_head",
        "announce it by `length_offset`",
    ),
    (
        "router-pause-mm",
        "G91.1 ",
        "",
        "gcode.begin",
        "before G91.1",
    ),
    (
        "router-pause-mm",
        "M0\n",
        "",
        "gcode.tool_change",
        "before M6",
    ),
    (
        "router-pause-mm",
        "M7\n",
        "",
        "gcode.start_head",
        "before M7 or M8",
    ),
    ("router-pause-mm", " * 1000", "", "gcode.start_head", "wait"),
    (
        "router-pause-mm",
        "M3 S{{ speed }}",
        "M3 S{{ speed / 0 }}",
        "gcode.start_head",
        "divides by nought",
    ),
    (
        "router-pause-mm",
        "Z0\nG53 G0 X0 Y0",
        "Z0\nG53 G0 X900 Y0",
        "gcode.park",
        "beyond the machine",
    ),
    (
        "router-pause-mm",
        "G53 G0 Z0\n",
        "",
        "gcode.park",
        "goes up first",
    ),
    (
        "router-pause-mm",
        "G53 G0 Z0\n",
        "G53 G0 Z-1\n",
        "gcode.park",
        "the top of its travel",
    ),
    (
        "router-length-mm",
        "G57",
        "G54",
        "gcode.begin",
        "work zero is G57",
    ),
    (
        "router-length-mm",
        "H{{ tool_number }}",
        "H9",
        "gcode.length_offset",
        "tool 3",
    ),
    (
        "router-home-inch",
        "G28 Z{{ safe_z }}",
        "G28 Z{{ safe_z - 0.1 }}",
        "gcode.park",
        "below the safe height",
    ),
    // Without its length z would be the spindle nose's, and the cutter that much lower.
    (
        "router-length-home-mm",
        "G28 Z",
        "G49\nG28 Z",
        "gcode.park",
        "take the tool's length into account",
    ),
    (
        "router-home-inch",
        "G28 Z{{ safe_z }}",
        "G28 Z{{ safe_z + 0.1 }}",
        "gcode.park",
        "above the safe height",
    ),
    // Hands are at the cutter.
    (
        "router-pause-mm",
        "M5\nM9\n(fit",
        "M5\nM7\n(fit",
        "gcode.tool_change",
        "M0 while air or coolant is on",
    ),
    (
        "router-length-mm",
        "M5\nM9\nT",
        "M5\nM8\nT",
        "gcode.tool_change",
        "M6 while air or coolant is on",
    ),
    // What is written out is right for one job at the most.
    (
        "router-mm",
        "M3 S{{ speed }}",
        "M3 S16000",
        "gcode.start_head",
        "tried on a sample",
    ),
    (
        "router-mm",
        "G4 P{{ dwell }}",
        "G4 P2.5",
        "gcode.start_head",
        "tried on a sample",
    ),
    (
        "router-home-inch",
        "G64",
        "G61",
        "gcode.begin",
        "announce it by `path_mode`",
    ),
    (
        "laser-follow-mm",
        "M9",
        "M5",
        "gcode.stop_head",
        "M9 before M2",
    ),
];

/// Words of a controller: known ones, of the dialect's head, each with its template.
#[test]
fn further_words_are_announced_with_their_templates() {
    let laser = |words: &str, said: &str| {
        let to = format!("drives = \"laser\"\nwords = {{ {words} }}");
        one_fault(
            "plain-window",
            SourceKind::Post,
            "drives = \"laser\"",
            &to,
            said,
        );
    };
    laser(
        "coolant = \"M9\"",
        "`coolant` cannot be \"M9\"; did you mean \"M7\"? write \"M7\", \"M8\" or \"M7 and M8\"",
    );
    laser(
        "work_zero = 55",
        "`work_zero` must be one of a few words in quotes, but is a whole number; \
         write \"G54\", \"G55\", \"G56\", \"G57\", \"G58\" or \"G59\"",
    );
    laser(
        "dwell = \"ms\"",
        "a laser's program does not wait; leave `dwell` out, or write drives = \"router\"",
    );
    laser(
        "length_offset = true",
        "a laser has no tool whose length could count; leave `length_offset` out, or write drives = \"router\"",
    );
    one_fault(
        "plain-window",
        SourceKind::Post,
        "[gcode]",
        "[words]\npark = \"G28\"\n\n[gcode]",
        "`park` is announced in [words], but no template writes it; \
         write park = \"...\" in [gcode], or leave it out of [words]",
    );
    let router =
        |from: &str, to: &str, said: &str| one_fault("check", SourceKind::Post, from, to, said);
    router(
        "[gcode]",
        "length_offset = true\n\n[gcode]",
        "`length_offset` is announced in [words], but no template writes it; \
         write length_offset = \"...\" in [gcode], or leave it out of [words]",
    );
    router(
        "[gcode]",
        "[gcode]\npark = \"G53 G0 Z0\"",
        "`park` is not announced in [words]; \
         write park = \"G53\" or \"G28\" in a table [words], or leave this template out",
    );
    router(
        "[gcode]",
        "[gcode]\nlength_offset = \"G43 H1\"",
        "`length_offset` is not announced in [words]; \
         write length_offset = true in a table [words], or leave this template out",
    );
}

/// T0 calls for no tool, and H0 counts no length (NISTIR 6556, 3.7.3 and 3.5.11, from memory).
#[test]
fn no_tool_has_the_number_nought() {
    one_fault(
        "router-square",
        SourceKind::Machine,
        "number = 1 ",
        "number = 0 ",
        "`number` must be from 1 to 9999, but is 0",
    );
}
