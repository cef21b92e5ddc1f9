//! Motion rules: what a program's moves must keep to, from the file alone, and that they are the plan's.
//!
//! | rule | what it asks |
//! |---|---|
//! | `travel` | all moves, and the zero, fit in the machine's travel; G53 goes to a place in it |
//! | `stock` | every cut's centre line stays over the stock |
//! | `safe-height` | the safe height is above the stock |
//! | `rapid-low` | a rapid moves in the plane only at the safe height, and ends there (router) |
//! | `rapid-high` | no rapid goes above the safe height, for which room is asked (router) |
//! | `sloped-cut` | a cut is level or upright |
//! | `bed` | no cut deeper than the spoil allowance |
//! | `head-off-cut` | the spindle turns, or the beam is on, in every cut |
//! | `beam-on-travel` | the beam is off in travel, and the program has said so before the first |
//! | `beam-dwell` | the beam does not wait (laser) |
//! | `dwell-low` | no wait with the cutter below the safe height |
//! | `wait` | a wait is the spindle's time to spin up, once it is on and before it moves; a laser has none |
//! | `pass-depth` | no cut takes more wood in height than the depth of a pass, from the file alone |
//! | `spin-up` | the spindle has its time to spin up before a cut |
//! | `head-low` | the spindle starts and stops at the safe height only |
//! | `head-on-end` | spindle or beam off at the end |
//! | `end-low` | the program ends at the safe height |
//! | `no-end` | the trace ends |
//! | `feed` | cuts at the plan's cutting feed, upright ones at its plunge feed, in the machine's range |
//! | `power`, `speed` | the plan's S word |
//! | `tool` | the plan's tool, and its length |
//! | `change-unsafe` | the tool is changed once, at the safe height, after M5, before the first cut |
//! | `change-missing` | no cut before the tool is changed, in a dialect with a tool change: by M6, or where a pause is announced by M0 |
//! | `coolant-off-cut` | what the dialect announces of air and coolant is on in every cut |
//! | `coolant-on-end` | air and coolant are off at the end |
//! | `pause-low` | M0 comes after M5, at the safe height or before the first move |
//! | `park-low` | the head is parked from the safe height, after M5 |
//! | `off-plan` | between the dialect's head and tail each move and switch is the plan's next one, or, without arcs, cuts along the plan's arc; there is no other |
//! | `remark` | all remarks of plan and dialect stand, in their order and between the same moves, and no other |
//! | `frame` | head and tail are the dialect's own, word for word |
//! | `body-words` | among the moves stand moves, their feeds and a laser's beam alone |
//!
//! So a file may differ from what the program writes in these alone: spaces between words, empty lines, and in
//! remarks more spaces for one or a break between words; the form of a number (`G01`, `+1.0`, `1.`); the order of
//! words in a block; a motion code, an axis word or a cut's feed that is in force already, written or left out; an I
//! or J of nought left out. Line numbers are the dialect's next ones, or none.

mod changes;
mod depth;
mod follow;
mod measure;
mod remarks;
mod walk;

use crate::panel::{Coolant, Words};
use crate::path::{Head, Program};

use super::gcode_read::{ArcOf, EventKind, Frame, Trace};
use super::{DialectRules, ReplayFault};
pub use measure::trace_lengths;
use measure::{arc_extent, in_plane};
pub(super) use walk::check_remarks;

/// Names of the motion rules.
pub const MOTION_RULES: [&str; 32] = [
    "travel",
    "stock",
    "safe-height",
    "rapid-low",
    "rapid-high",
    "sloped-cut",
    "bed",
    "head-off-cut",
    "beam-on-travel",
    "beam-dwell",
    "dwell-low",
    "wait",
    "pass-depth",
    "spin-up",
    "head-low",
    "head-on-end",
    "end-low",
    "no-end",
    "feed",
    "power",
    "speed",
    "tool",
    "change-unsafe",
    "change-missing",
    "coolant-off-cut",
    "coolant-on-end",
    "pause-low",
    "park-low",
    "off-plan",
    "remark",
    "frame",
    "body-words",
];

/// What limits a program's moves. Lengths are mm in the setup's frame, feeds mm/min.
#[derive(Debug, Clone, PartialEq)]
pub struct MotionLimits {
    /// Least and greatest corner of the stock; z of the second is its top.
    pub stock: [[f64; 3]; 2],
    /// The machine's travel along x, y and z; z is 0 for a laser.
    pub travel: [f64; 3],
    /// Lowest z that a tool may cut to: minus the spoil allowance. 0 for a laser.
    pub bed_lowest_z: f64,
    /// z of safe travel. 0 for a laser.
    pub safe_z: f64,
    /// Greatest depth of a pass. 0 for a laser, which has none.
    pub pass_depth: f64,
    /// Least and greatest feed of a cut.
    pub feed: [f64; 2],
}

/// Room for the bits of a float in a comparison of lengths, mm, or of words.
const FLOAT: f64 = 1e-6;

/// Speeds, powers and times as written agree with the plan within this: half a step of three decimals.
const WORD: f64 = 0.000_5 + FLOAT;

/// Checks a trace against the plan that it was written from and the limits of machine and stock.
///
/// Gives all faults in the order of the file; none means that the trace is sound.
#[must_use]
pub fn check_motion(
    trace: &Trace,
    program: &Program,
    limits: &MotionLimits,
    rules: &DialectRules,
    frame: &Frame,
) -> Vec<ReplayFault> {
    let mut check = Check {
        program,
        limits,
        rounding: 0.5 * rules.step + FLOAT,
        words: rules.words,
        tool_due: rules.tool_change,
        cooled: Coolant::default(),
        coolant_due: rules.words.coolant.any(),
        gone: false,
        parked: false,
        has_cut: false,
        faults: Vec::new(),
        line: 0,
        height: None,
        head_on: false,
        off_stated: false,
        waited: 0.0,
        moved: false,
        floors: depth::Floors::default(),
        low: [0.0; 3],
        high: [0.0; 3],
        ended: false,
    };
    check.limits_themselves();
    for event in &trace.events {
        check.line = event.line;
        check.event(&event.kind);
    }
    if !check.ended {
        check.say("no-end", "the trace does not end");
    }
    let mut faults = check.faults;
    faults.extend(trace.frame_faults.iter().cloned());
    faults.extend(follow::follow(trace, program, rules, frame).err());
    faults.sort_by_key(|f| f.line);
    faults
}

struct Check<'a> {
    program: &'a Program,
    limits: &'a MotionLimits,
    /// A place may pass a limit by this much, mm, and a feed its own: half a step of the dialect.
    rounding: f64,
    /// What the dialect announces.
    words: Words,
    /// What of air and coolant is on.
    cooled: Coolant,
    /// Whether a cut without it must still be told.
    coolant_due: bool,
    /// Whether anything has moved.
    gone: bool,
    /// Whether the head is parked.
    parked: bool,
    /// Whether the tool must still be changed.
    tool_due: bool,
    has_cut: bool,
    faults: Vec<ReplayFault>,
    line: usize,
    /// z once it is known; a laser's stays unknown.
    height: Option<f64>,
    head_on: bool,
    /// Whether the program has switched the head off itself; until then nothing tells what an earlier
    /// program left on.
    off_stated: bool,
    /// Seconds waited since the head was switched on.
    waited: f64,
    /// Whether it has moved in the plane, or cut, since then.
    moved: bool,
    /// What has been cut so far.
    floors: depth::Floors,
    /// Extent of all moves, the zero included.
    low: [f64; 3],
    high: [f64; 3],
    ended: bool,
}

impl Check<'_> {
    fn say(&mut self, rule: &'static str, what: impl Into<String>) {
        self.faults.push(ReplayFault {
            rule,
            line: Some(self.line),
            what: what.into(),
        });
    }

    fn laser(&self) -> bool {
        matches!(self.program.head, Head::Beam { .. })
    }

    fn is_safe(&self, z: f64) -> bool {
        // A height is written as the plan has it, so that only rounding may part them.
        z >= self.limits.safe_z - self.rounding
    }

    fn limits_themselves(&mut self) {
        let top = self.limits.stock[1][2];
        if !self.laser() && self.limits.safe_z <= top {
            let what = format!(
                "the safe height {:.3} is not above the stock's top {top:.3}",
                self.limits.safe_z
            );
            self.faults.push(ReplayFault {
                rule: "safe-height",
                line: None,
                what,
            });
        }
    }

    fn event(&mut self, kind: &EventKind) {
        match *kind {
            EventKind::Travel { from, to } => self.rapid(from, to),
            EventKind::Cut {
                from,
                to,
                arc,
                feed,
                head_on,
                power_or_speed,
            } => {
                if self.tool_due {
                    self.say("change-missing", "a cut before M6 has called for the tool");
                    // Said once.
                    self.tool_due = false;
                }
                self.has_cut = true;
                self.moved = true;
                self.gone = true;
                self.cooled_in_cut();
                self.cut(from, to, arc);
                self.depth(from, to, arc);
                self.feed(from, to, arc.is_some(), feed);
                if head_on {
                    self.word(power_or_speed);
                    self.spun_up();
                } else {
                    self.say("head-off-cut", "a cut with spindle or beam off");
                }
            }
            EventKind::HeadOn { word } => {
                if !self.head_on {
                    self.waited = 0.0;
                    self.moved = false;
                    self.switched("starts");
                }
                self.head_on = true;
                self.word(word);
            }
            EventKind::HeadOff => {
                if self.head_on {
                    self.switched("stops");
                }
                self.head_on = false;
                self.off_stated = true;
            }
            EventKind::Dwell { seconds } => {
                self.waited += seconds;
                self.wait();
                if self.laser() && self.head_on {
                    self.say("beam-dwell", "a wait with the beam on burns the stock");
                }
                let low = self.height.is_some_and(|z| !self.is_safe(z));
                if !self.laser() && low {
                    self.say(
                        "dwell-low",
                        "a wait below the safe height: the cutter rubs, and chars or dulls",
                    );
                }
            }
            EventKind::Remark { .. } => {}
            EventKind::Tool { number } => self.tool(number),
            EventKind::ToolChange { number } => self.change(number),
            EventKind::LengthOffset { number } => self.length(number),
            EventKind::Coolant(switch) => self.switch_coolant(switch),
            EventKind::Pause => self.pause(),
            EventKind::Park { by, axes } => self.park(by, axes),
            EventKind::End => self.end(),
        }
    }

    /// The plan waits for the spindle, and for nothing else.
    fn wait(&mut self) {
        let what = match self.program.head {
            Head::Beam { .. } => "a wait in a laser's program, which has none".to_owned(),
            Head::Cutter { .. } if !self.head_on => {
                "a wait with the spindle off; the plan waits once it is on".to_owned()
            }
            Head::Cutter { .. } if self.moved => {
                "a wait after the first move; the plan waits before it".to_owned()
            }
            Head::Cutter { spin_up_s, .. } if self.waited > spin_up_s + WORD => {
                format!("waits of {} s; the plan has {spin_up_s} s", self.waited)
            }
            Head::Cutter { .. } => return,
        };
        self.say("wait", what);
    }

    fn switched(&mut self, what: &str) {
        if !self.laser() && !self.height.is_some_and(|z| self.is_safe(z)) {
            self.say(
                "head-low",
                format!("the spindle {what} below the safe height"),
            );
        }
    }

    fn rapid(&mut self, from: [f64; 3], to: [f64; 3]) {
        self.gone = true;
        self.extent(to);
        self.moved |= in_plane(from, to);
        if self.laser() {
            if self.head_on {
                self.say("beam-on-travel", "travel with the beam on");
            } else if !self.off_stated {
                self.say(
                    "beam-on-travel",
                    "travel before M5 has made sure that the beam is off",
                );
                // Said once.
                self.off_stated = true;
            }
            return;
        }
        let rises_from_low = in_plane(from, to) && !self.is_safe(from[2]);
        if rises_from_low || !self.is_safe(to[2]) {
            let low = from[2].min(to[2]);
            let safe = self.limits.safe_z;
            self.say(
                "rapid-low",
                format!("a rapid at z {low:.3}, below the safe height {safe:.3}"),
            );
        }
        self.no_higher(to[2]);
        self.height = Some(to[2]);
    }

    /// Head, sheet and air run ask for room up to the safe height.
    fn no_higher(&mut self, z: f64) {
        let safe = self.limits.safe_z;
        if z > safe + self.rounding {
            self.say(
                "rapid-high",
                format!("a rapid to z {z:.3}, above the safe height {safe:.3}: nobody is told to leave room there"),
            );
        }
    }

    fn cut(&mut self, from: [f64; 3], to: [f64; 3], arc: Option<ArcOf>) {
        let [low, high] = match arc {
            Some(arc) => arc_extent(from, to, arc),
            None => [
                [from[0].min(to[0]), from[1].min(to[1])],
                [from[0].max(to[0]), from[1].max(to[1])],
            ],
        };
        self.extent([low[0], low[1], to[2]]);
        self.extent([high[0], high[1], to[2]]);
        let [least, most] = self.limits.stock;
        for axis in 0..2 {
            if low[axis] < least[axis] - self.rounding || high[axis] > most[axis] + self.rounding {
                let name = ["x", "y"][axis];
                let what = format!(
                    "a cut from {name} {:.3} to {:.3}; the stock lies from {:.3} to {:.3}",
                    low[axis], high[axis], least[axis], most[axis]
                );
                self.say("stock", what);
            }
        }
        if self.laser() {
            return;
        }
        let bed = self.limits.bed_lowest_z;
        if from[2].min(to[2]) < bed - self.rounding {
            self.say(
                "bed",
                format!("a cut to z {:.3}; the lowest allowed is {bed:.3}", to[2]),
            );
        }
        if in_plane(from, to) && from[2] != to[2] {
            self.say(
                "sloped-cut",
                "a cut that moves in the plane and in height at once",
            );
        }
        self.height = Some(to[2]);
    }

    /// Grows the extent of all moves and says so, once, when it outgrows the machine.
    fn extent(&mut self, p: [f64; 3]) {
        for axis in 0..3 {
            let room = self.limits.travel[axis] + self.rounding;
            let fitted = self.high[axis] - self.low[axis] <= room;
            self.low[axis] = self.low[axis].min(p[axis]);
            self.high[axis] = self.high[axis].max(p[axis]);
            let needed = self.high[axis] - self.low[axis];
            if fitted && needed > room {
                let what = format!(
                    "moves take {needed:.3} along {}; the machine travels {:.3}",
                    ["x", "y", "z"][axis],
                    self.limits.travel[axis]
                );
                self.say("travel", what);
            }
        }
    }

    fn feed(&mut self, from: [f64; 3], to: [f64; 3], arc: bool, feed: f64) {
        let level = arc || in_plane(from, to);
        let planned = match (&self.program.head, level) {
            (Head::Cutter { plunge_feed, .. }, false) => *plunge_feed,
            _ => self.program.feed,
        };
        if (feed - planned).abs() > self.rounding {
            let kind = if level { "a cut" } else { "a plunge" };
            self.say(
                "feed",
                format!("{kind} at feed {feed}; the plan has {planned}"),
            );
        }
        // The least feed keeps a cutter from rubbing and a beam from charring along a path; a plunge
        // has its own feed.
        let [least, most] = self.limits.feed;
        if feed > most + self.rounding || (level && feed < least - self.rounding) {
            self.say(
                "feed",
                format!("feed {feed} is outside the machine's {least} to {most}"),
            );
        }
    }

    fn word(&mut self, found: f64) {
        let (rule, planned) = match self.program.head {
            Head::Beam { power_word, .. } => ("power", power_word),
            Head::Cutter { speed_rpm, .. } => ("speed", speed_rpm),
        };
        if (found - planned).abs() > WORD {
            self.say(rule, format!("S{found}; the plan has {planned}"));
        }
    }

    fn spun_up(&mut self) {
        let Head::Cutter { spin_up_s, .. } = self.program.head else {
            return;
        };
        if self.waited < spin_up_s - WORD {
            let waited = self.waited;
            self.say(
                "spin-up",
                format!("a cut {waited} s after the spindle starts; wait {spin_up_s} s"),
            );
            // Said once.
            self.waited = f64::INFINITY;
        }
    }

    fn end(&mut self) {
        self.ended = true;
        if self.head_on {
            self.say(
                "head-on-end",
                "spindle or beam is on at the end; switch it off before M2",
            );
        }
        self.cooled_at_end();
        if !self.laser() && !self.parked && !self.height.is_some_and(|z| self.is_safe(z)) {
            self.say("end-low", "the program ends below the safe height");
        }
    }
}
