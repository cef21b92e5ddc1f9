//! Reads G-code back, from its bytes, into the moves that a machine would make.
//!
//! The reader takes RS274/NGC as NISTIR 6556 has it, and of that only the words that the writer's
//! dialects need; every other word is a fault. Section numbers are given from memory. What it takes:
//! `N`, `G0 G1 G2 G3 G4 G17 G20 G21 G40 G49 G54 G80 G90 G94`, `M2 M3 M4 M5 M6 M30`, `F S T P X Y Z I J`,
//! and remarks; and of those only what the dialect promises ([`DialectRules`]): one unit, arcs or none,
//! one way to switch the beam on, M6 and line numbers where it has them, remarks in round brackets or
//! after a semicolon. Where the dialect's table `[words]` announces them ([`crate::panel::Words`]) it takes further
//! `G28 G43 G53 G55 G56 G57 G58 G59 G61 G64 G91.1`, `M0 M7 M8 M9` and `H`.
//!
//! | rule | what it asks | NISTIR 6556 |
//! |---|---|---|
//! | `character` | printable ASCII, capital letters, the dialect's mark of a remark | 3.3 |
//! | `line-length` | at most 256 characters, or as many as the dialect allows | 3.3 |
//! | `cut-short` | the last line ends | 3.3 |
//! | `percent-lines` | % alone on the first and the last line, where the dialect has it | 3.2 |
//! | `dialect` | no word of another dialect, and none that this one does not announce | |
//! | `comment` | a remark ends on its line, holds no other, only letters, digits, blanks and `.,-+=/`, begins with no MSG; one on a line | 3.3.3 |
//! | `syntax`, `number` | letter and plain number, in range | 3.3.2 |
//! | `line-number` | one, first in its block, 0 to 99999; each the dialect's next | 3.3.1 |
//! | `word` | only the words listed above | |
//! | `repeated-word` | no letter twice in a block, but G and M | 3.3.4 |
//! | `modal-group` | one code of a group in a block | 3.4, table 4 |
//! | `m-words` | at most four M words in a block | 3.3.4 |
//! | `unused-word` | a word that no code of its block takes | 3.5 |
//! | `modes` | unit, plane, distance, feed mode, no offsets, work zero, and what is announced of path mode (3.5.14) and arc centres: set before motion | 3.5 |
//! | `motion-mode` | axis words only where a motion code is in force | 3.5.15 |
//! | `axis-words` | a motion code comes with axis words | 3.5.1 to 3.5.3 |
//! | `feed` | F above 0 before the first cut | 3.5.2 |
//! | `unknown-position` | a cut starts where travel has brought the head; an air run's first straight move says x and y | |
//! | `arc-centre` | an arc has I or J | 3.5.3.2 |
//! | `arc-radii` | its radii agree within 0.002 mm or 0.0002 inch | 3.5.3.2 |
//! | `arc-full-turn` | it does not end where it starts | |
//! | `dwell` | G4 has P, not below 0, and stands alone; seconds, or where announced milliseconds | 3.5.4 |
//! | `spindle` | M3 or M4 has an S, not below 0 | 3.7.2 |
//! | `tool-change` | M6 has a T, head off; the head then stands anywhere | 3.6.3 |
//! | `length-offset` | where announced, G43 with a whole H comes once, alone, after the change and before any move; none follows G49 | 3.5.11 |
//! | `pause` | M0 stands alone, head off; the head then stands anywhere | 3.6.1 |
//! | `park` | G53 with G0, or G28, head off, z first and alone to the top of its travel; after it nothing but what switches off and ends | 3.5.8, 3.5.12 |
//! | `laser-z` | a laser's program has no Z | |
//! | `program-end` | M2 or M30 once, and nothing after it | 3.6.1 |

mod block;
mod frame;
mod machine;
mod watch;
mod words;

use super::{DialectRules, ReplayFault};
use crate::panel::Park;
pub use frame::Frame;
pub(crate) use frame::Saying;

/// Names of the reader's rules.
pub const READ_RULES: [&str; 30] = [
    "character",
    "line-length",
    "cut-short",
    "percent-lines",
    "dialect",
    "comment",
    "syntax",
    "number",
    "line-number",
    "word",
    "repeated-word",
    "modal-group",
    "m-words",
    "unused-word",
    "modes",
    "motion-mode",
    "axis-words",
    "feed",
    "unknown-position",
    "arc-centre",
    "arc-radii",
    "arc-full-turn",
    "dwell",
    "spindle",
    "tool-change",
    "length-offset",
    "pause",
    "park",
    "laser-z",
    "program-end",
];

/// What a program makes the machine do, in order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// The moves, switches and remarks.
    pub events: Vec<Event>,
    /// How many of the first events the dialect's head makes.
    pub head_events: usize,
    /// How many of the last events its tail makes.
    pub tail_events: usize,
    /// How many blocks stand before the tail.
    pub tail_block: usize,
    /// What head, tail and the words between the moves are not as they should be: rules `frame` and
    /// `body-words`.
    pub frame_faults: Vec<ReplayFault>,
}

/// One move or switch.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// Line of the file, from 1.
    pub line: usize,
    /// What happens.
    pub kind: EventKind,
}

/// What happens. Lengths are mm, whatever the program's unit; a laser's z is 0.
///
/// The head is taken to stand over the program's zero before the first move, at an unknown height: the
/// first rise of a router starts and ends at the height it goes to.
#[derive(Debug, Clone, PartialEq)]
pub enum EventKind {
    /// Rapid travel.
    Travel {
        /// Where it starts.
        from: [f64; 3],
        /// Where it ends.
        to: [f64; 3],
    },
    /// A move at feed.
    Cut {
        /// Where it starts.
        from: [f64; 3],
        /// Where it ends.
        to: [f64; 3],
        /// The arc, if it is one.
        arc: Option<ArcOf>,
        /// mm/min.
        feed: f64,
        /// Whether spindle or beam is on.
        head_on: bool,
        /// The S word in force; 0 if there has been none.
        power_or_speed: f64,
    },
    /// Spindle or beam on, or its S word changed while it is on.
    HeadOn {
        /// The S word.
        word: f64,
    },
    /// Spindle or beam off.
    HeadOff,
    /// A wait.
    Dwell {
        /// Its length, s.
        seconds: f64,
    },
    /// A tool called for by T.
    Tool {
        /// Its number.
        number: u32,
    },
    /// The tool changed for the one that T has called.
    ToolChange {
        /// Its number.
        number: u32,
    },
    /// The tool's length taken into account (G43).
    LengthOffset {
        /// The tool whose length it is: H.
        number: u32,
    },
    /// Air or coolant switched.
    Coolant(CoolantSwitch),
    /// A stop for the operator (M0).
    Pause,
    /// The head goes to where it is parked; where it then stands is not known.
    Park {
        /// G53 or G28.
        by: Park,
        /// G53: places in the machine's own frame; G28: the place of the program that it goes by way of. mm.
        axes: [Option<f64>; 3],
    },
    /// A remark, without its marks.
    Remark {
        /// Its text.
        text: String,
        /// How many blocks stand before it; lines of remarks alone are none.
        blocks: usize,
        /// Whether its line holds nothing else.
        alone: bool,
    },
    /// Program end.
    End,
}

/// Codes for air or coolant (NISTIR 6556, 3.6.4).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoolantSwitch {
    /// M7.
    M7,
    /// M8.
    M8,
    /// M9: both off.
    Off,
}

/// The circle of an arc in the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArcOf {
    /// Its centre, mm.
    pub centre: [f64; 2],
    /// Counter-clockwise, seen from above.
    pub ccw: bool,
}

/// Faults after which the reader gives up: more would only repeat the first.
const FAULT_LIMIT: usize = 50;

/// Reads a program of a dialect, whose head and tail are those of `frame`.
///
/// # Errors
/// All faults, up to 50, each with its rule and its line.
pub fn read(bytes: &[u8], rules: &DialectRules, frame: &Frame) -> Result<Trace, Vec<ReplayFault>> {
    let text = words::scan(bytes, rules)?;
    let mut machine = machine::Machine::new(*rules, frame);
    words::parse(text, &mut machine);
    machine.finish()
}

fn fault(rule: &'static str, line: usize, what: impl Into<String>) -> ReplayFault {
    ReplayFault {
        rule,
        line: Some(line),
        what: what.into(),
    }
}
