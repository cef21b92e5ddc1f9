//! Rules of an air run: it shows how far a program reaches and must touch nothing.
//!
//! | rule | what it asks |
//! |---|---|
//! | `air-head` | spindle and beam are said to be off before anything moves, and never go on, nor does air or coolant |
//! | `air-tool` | no tool is called for: z holds for the cutter that it was set with, or for the length of the plan's tool |
//! | `air-low` | a cutter rises to the safe height before it moves in the plane, and stays there |
//! | `air-rapid` | moves in the plane are straight, at the planned feed and no faster than the machine's greatest |
//! | `air-box` | they go to the corners of the plan's box, once round, to half a step of the last decimal |
//! | `air-wait` | it does not wait, nor stop once it has moved |
//! | `remark`, `frame`, `body-words` | as in the rules of motion |
//! | `air-end` | the last one ends over x = y = 0, and the program ends there: it parks nothing |
//! | `travel` | all of it, and the zero, fit in the machine's travel |

use crate::geom::Point;
use crate::path::{AirRun, Head, stops};

use super::gcode_read::{CoolantSwitch, Event, EventKind, Frame, Trace};
use super::motion::check_remarks;
use super::{DialectRules, ReplayFault};

/// Names of the rules of an air run.
pub const AIR_RULES: [&str; 11] = [
    "air-head",
    "air-tool",
    "air-low",
    "air-rapid",
    "air-box",
    "air-wait",
    "air-end",
    "travel",
    "remark",
    "frame",
    "body-words",
];

/// What limits an air run. Lengths are mm, feeds mm/min.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirLimits {
    /// The machine's travel along x, y and z; z is 0 for a laser.
    pub travel: [f64; 3],
    /// Greatest feed of the machine.
    pub greatest_feed: f64,
}

/// Room for the bits of a float in a comparison of lengths, mm.
const FLOAT: f64 = 1e-6;

/// Checks the trace of an air run against its plan and the machine: all faults in the order of the file.
#[must_use]
pub fn check_air_run(
    trace: &Trace,
    air: &AirRun,
    limits: &AirLimits,
    rules: &DialectRules,
    frame: &Frame,
) -> Vec<ReplayFault> {
    let mut check = Check {
        safe_z: match air.program.head {
            Head::Beam { .. } => None,
            Head::Cutter { safe_z, .. } => Some(safe_z),
        },
        tool: match air.program.head {
            Head::Beam { .. } => None,
            Head::Cutter { tool_number, .. } => Some(tool_number),
        },
        feed: air.program.feed,
        limits,
        near: 0.5 * rules.step + FLOAT,
        stops: stops(&air.path).to_vec(),
        gone: Vec::new(),
        off: false,
        risen: false,
        rises: 0,
        ended: false,
        faults: Vec::new(),
        line: None,
    };
    let body = trace.head_events..trace.events.len().saturating_sub(trace.tail_events);
    for (index, event) in trace.events.iter().enumerate() {
        check.event(event);
        if body.contains(&index) && matches!(event.kind, EventKind::Travel { .. }) {
            check.rise();
        }
    }
    check.whole();
    let mut faults = check.faults;
    faults.extend(trace.frame_faults.iter().cloned());
    faults.extend(check_remarks(trace, &air.program, frame).err());
    faults
}

struct Check<'a> {
    /// The height of all moves in the plane; `None` for a laser, which the reader holds to no z at all.
    safe_z: Option<f64>,
    /// The tool whose length may count; `None` for a laser.
    tool: Option<u32>,
    /// The planned feed.
    feed: f64,
    limits: &'a AirLimits,
    /// How near a place or a feed must come to the plan's: half a step of the dialect.
    near: f64,
    /// Where the plan goes, in order.
    stops: Vec<Point>,
    /// Where the file goes, in order.
    gone: Vec<Point>,
    /// Whether the head has been said to be off.
    off: bool,
    /// Whether a cutter stands at the safe height.
    risen: bool,
    /// Rises of the plan so far; it has one.
    rises: usize,
    ended: bool,
    faults: Vec<ReplayFault>,
    line: Option<usize>,
}

impl Check<'_> {
    fn say(&mut self, rule: &'static str, what: impl Into<String>) {
        self.faults.push(ReplayFault {
            rule,
            line: self.line,
            what: what.into(),
        });
    }

    fn event(&mut self, event: &Event) {
        self.line = Some(event.line);
        match event.kind {
            EventKind::HeadOn { .. } => {
                self.say("air-head", "spindle or beam goes on in an air run")
            }
            EventKind::HeadOff => self.off = true,
            EventKind::Tool { number } | EventKind::ToolChange { number } => {
                self.say("air-tool", format!("an air run calls for tool {number}"));
            }
            EventKind::LengthOffset { number } if self.tool == Some(number) => {}
            EventKind::LengthOffset { number } => {
                self.say("air-tool", format!("H{number} is not the plan's tool"));
            }
            EventKind::Coolant(CoolantSwitch::Off) => {}
            EventKind::Coolant(_) => {
                self.say("air-head", "air or coolant goes on in an air run");
            }
            EventKind::Pause if !self.risen && self.gone.is_empty() => {}
            EventKind::Pause => self.say("air-wait", "a stop among the moves of an air run"),
            EventKind::Park { .. } => {
                self.say(
                    "air-end",
                    "an air run ends over the zero, and parks nothing",
                );
            }
            EventKind::Dwell { .. } => self.say("air-wait", "a wait; an air run has none"),
            EventKind::Remark { .. } => {}
            EventKind::End => self.ended = true,
            EventKind::Travel { from, to } => {
                self.moves([from, to]);
                if from[0] != to[0] || from[1] != to[1] || self.safe_z.is_none() {
                    self.say(
                        "air-rapid",
                        "a rapid in the plane; an air run moves at a feed",
                    );
                }
            }
            EventKind::Cut {
                from,
                to,
                arc,
                feed,
                head_on,
                ..
            } => {
                if head_on {
                    self.say("air-head", "a move with spindle or beam on");
                }
                if self.safe_z.is_some() && !self.risen {
                    self.say("air-low", "a move in the plane before the rise");
                }
                self.moves([from, to]);
                if arc.is_some() {
                    self.say("air-rapid", "an arc; an air run has straight moves alone");
                }
                let most = self.limits.greatest_feed;
                if (feed - self.feed).abs() > self.near || feed > most + self.near {
                    let what = format!(
                        "feed {feed}; the plan has {}, the machine {most}",
                        self.feed
                    );
                    self.say("air-rapid", what);
                }
                self.arrives(Point::new(to[0], to[1]));
            }
        }
    }

    /// The plan rises once, before anything else.
    fn rise(&mut self) {
        self.rises += 1;
        if self.rises > 1 || !self.gone.is_empty() {
            self.say("air-rapid", "a rise that the plan does not have");
        }
    }

    /// Any move: head off, at the safe height.
    fn moves(&mut self, ends: [[f64; 3]; 2]) {
        if !self.off {
            self.say(
                "air-head",
                "a move before M5 has made sure that the head is off",
            );
            // Said once.
            self.off = true;
        }
        let Some(safe_z) = self.safe_z else {
            return;
        };
        let near = self.near;
        let off = ends.into_iter().map(|p| p[2]).find(|z| {
            // Written so that what is no number fails.
            let there = (z - safe_z).abs() <= near;
            !there
        });
        self.risen = off.is_none();
        if let Some(z) = off {
            self.say(
                "air-low",
                format!("z {z:.3}; the safe height is {safe_z:.3}"),
            );
        }
    }

    /// The next stop is the plan's.
    fn arrives(&mut self, at: Point) {
        let stop = self.stops.get(self.gone.len()).copied();
        self.gone.push(at);
        let near = |p: Point| (p.x - at.x).abs() <= self.near && (p.y - at.y).abs() <= self.near;
        match stop {
            Some(stop) if near(stop) => {}
            Some(stop) => {
                let what = format!(
                    "it goes to ({:.3}, {:.3}); the plan to ({:.3}, {:.3})",
                    at.x, at.y, stop.x, stop.y
                );
                self.say("air-box", what);
            }
            None => self.say("air-box", "a move after the plan's last"),
        }
    }

    /// What only the whole file tells.
    fn whole(&mut self) {
        self.line = None;
        let (gone, planned) = (self.gone.len(), self.stops.len());
        if gone < planned {
            let what = format!("it goes to {gone} places; the plan to {planned}");
            self.say("air-box", what);
        }
        if self.safe_z.is_some() && self.rises == 0 {
            self.say("air-low", "it does not rise where the plan does");
        }
        let home = self.gone.last().copied();
        if !home.is_some_and(|p| p.x.abs() <= self.near && p.y.abs() <= self.near) {
            self.say("air-end", "it does not end over x = y = 0");
        }
        if !self.ended {
            self.say("air-end", "the trace does not end");
        }
        let height = self.safe_z.unwrap_or(0.0);
        for (axis, name) in ["x", "y", "z"].into_iter().enumerate() {
            let places = self.gone.iter().map(|p| [p.x, p.y, height][axis]);
            let span = |[low, high]: [f64; 2], v: f64| [low.min(v), high.max(v)];
            let [low, high] = places.fold([0.0; 2], span);
            let room = self.limits.travel[axis];
            if high - low > room + self.near {
                let needed = high - low;
                let what =
                    format!("moves take {needed:.3} along {name}; the machine travels {room:.3}");
                self.say("travel", what);
            }
        }
    }
}
