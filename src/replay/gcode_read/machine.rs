//! The machine's modal state, run block by block in the order of NISTIR 6556, table 8.

mod further;

use crate::geom::Point;
use crate::panel::PathMode;

use super::block::{Block, HeadSwitch, Motion};
use super::watch::Watch;
use super::words::{Blocks, Word};
use further::Length;

use super::{ArcOf, DialectRules, Event, EventKind, Frame, ReplayFault, Trace, fault};

/// Room for the last bits of a float in a comparison of lengths, mm.
const FLOAT: f64 = 1e-9;

/// What holds from block to block.
pub(super) struct Machine<'f> {
    pub(super) rules: DialectRules,
    watch: Watch<'f>,
    /// Number that the next block must have, where blocks are numbered.
    next_number: Option<u32>,
    trace: Trace,
    faults: Vec<ReplayFault>,
    motion: Motion,
    /// Millimetres in the program's unit.
    unit: Option<f64>,
    plane_xy: bool,
    absolute: bool,
    per_minute: bool,
    no_cutter_offset: bool,
    length: Length,
    work_zero: bool,
    path_mode: bool,
    relative_centres: bool,
    /// Whether the tool has been changed.
    changed: bool,
    /// Whether the head is on its way to where it is parked, and whether a cutter has been raised first.
    parked: bool,
    /// mm/min.
    feed: Option<f64>,
    s: Option<f64>,
    head_on: bool,
    /// Whether air or coolant is on.
    cooled: bool,
    tool: Option<u32>,
    at: [f64; 3],
    /// Which axes a move has brought to a known place.
    known: [bool; 3],
    ended: bool,
}

impl<'f> Machine<'f> {
    pub(super) fn new(rules: DialectRules, frame: &'f Frame) -> Self {
        Self {
            rules,
            watch: Watch::new(frame, rules.laser && !rules.air_run),
            next_number: rules.line_numbers.map(|n| n.start),
            trace: Trace::default(),
            faults: Vec::new(),
            motion: Motion::None,
            unit: None,
            plane_xy: false,
            absolute: false,
            per_minute: false,
            no_cutter_offset: false,
            length: Length::Unsaid,
            work_zero: false,
            path_mode: false,
            relative_centres: false,
            changed: false,
            parked: false,
            feed: None,
            s: None,
            head_on: false,
            cooled: false,
            tool: None,
            at: [0.0; 3],
            known: [false, false, rules.laser],
            ended: false,
        }
    }

    /// The trace, if the whole program was sound.
    pub(super) fn finish(mut self) -> Result<Trace, Vec<ReplayFault>> {
        if !self.ended && self.faults.is_empty() {
            self.faults.push(ReplayFault {
                rule: "program-end",
                line: None,
                what: "no M2 or M30; the file may be cut short".into(),
            });
        }
        if self.faults.is_empty() {
            self.watch.finish(&mut self.trace);
            return Ok(self.trace);
        }
        self.faults.sort_by_key(|f| f.line);
        Err(self.faults)
    }

    /// A block's number is the dialect's next, or not there.
    fn number(&mut self, found: Option<u32>, line: usize) -> Result<(), ReplayFault> {
        let Some(numbers) = self.rules.line_numbers else {
            return match found {
                None => Ok(()),
                Some(n) => {
                    let what = format!("N{n}; this dialect has no line numbers");
                    Err(fault("dialect", line, what))
                }
            };
        };
        let wanted = self.next_number.unwrap_or(numbers.start);
        // After a fault the file's own count goes on, so that one slip is told once.
        self.next_number = Some(found.unwrap_or(wanted).saturating_add(numbers.step));
        let said = match found {
            Some(n) if n == wanted && n <= numbers.greatest => return Ok(()),
            Some(n) if n == wanted => format!("N{n}; the greatest number is {}", numbers.greatest),
            Some(n) => format!("N{n} where N{wanted} should stand"),
            None => format!("no line number; it should be N{wanted}"),
        };
        Err(fault("line-number", line, said))
    }

    fn push(&mut self, line: usize, kind: EventKind) {
        self.trace.events.push(Event { line, kind });
    }

    fn run(&mut self, words: &[Word], line: usize) -> Result<(), ReplayFault> {
        if self.ended {
            return Err(fault("program-end", line, "a line after the program's end"));
        }
        let block = Block::sort(words, line)?;
        self.announced(&block, line)?;
        // Table 8: F, S, T, M6, M3 and M5, G4, modes, motion, stop.
        self.per_minute |= block.per_minute;
        if let Some(f) = block.f {
            let unit = self
                .unit
                .ok_or_else(|| fault("modes", line, "F before G20 or G21"))?;
            self.feed = Some(f * unit);
        }
        self.speed_and_head(&block, line)?;
        self.coolant(&block, line);
        if let (true, Some(time)) = (block.dwell, block.p) {
            let seconds = if self.rules.words.dwell_ms {
                time / 1000.0
            } else {
                time
            };
            self.push(line, EventKind::Dwell { seconds });
        }
        self.plane_xy |= block.plane_xy;
        if let Some(unit) = block.unit {
            let right = self.rules.unit;
            if unit != right.mm() {
                let what = format!("a unit other than {}, the dialect's", right.code());
                return Err(fault("dialect", line, what));
            }
            self.unit = Some(unit);
        }
        self.no_cutter_offset |= block.no_cutter_offset;
        self.length(&block, line)?;
        self.work_zero |= block.work_zero.is_some();
        self.path_mode |= block.path_mode.is_some();
        self.absolute |= block.absolute;
        self.relative_centres |= block.relative_centres;
        self.motion = block.motion.unwrap_or(self.motion);
        match block.park {
            Some(park) => self.park(park, &block, line)?,
            None => self.run_motion(&block, line)?,
        }
        self.pause(&block, line)?;
        if block.end {
            self.ended = true;
            self.push(line, EventKind::End);
        }
        Ok(())
    }

    fn speed_and_head(&mut self, block: &Block, line: usize) -> Result<(), ReplayFault> {
        let changed = block.s.is_some_and(|s| self.s != Some(s));
        self.s = block.s.or(self.s);
        if let Some(number) = block.tool {
            self.tool = Some(number);
            self.push(line, EventKind::Tool { number });
        }
        if block.tool_change {
            if !self.rules.tool_change {
                let what = "M6; this dialect has no tool change";
                return Err(fault("dialect", line, what));
            }
            let Some(number) = self.tool else {
                return Err(fault("tool-change", line, "M6 before any T"));
            };
            if self.head_on {
                return Err(fault("tool-change", line, "M6 while the spindle turns"));
            }
            self.hands_off("M6", line)?;
            self.push(line, EventKind::ToolChange { number });
            self.moved_by_others();
        }
        let wrong = match block.head {
            Some(HeadSwitch::On) if self.rules.power_follows_speed => {
                Some("M3; in this dialect the beam goes on by M4")
            }
            Some(HeadSwitch::Follows) if !self.rules.power_follows_speed => {
                Some("M4; in this dialect spindle and beam go on by M3")
            }
            _ => None,
        };
        if let Some(what) = wrong {
            return Err(fault("dialect", line, what));
        }
        match (block.head, self.s) {
            (Some(HeadSwitch::On | HeadSwitch::Follows), None) => {
                return Err(fault("spindle", line, "M3 or M4 before any S"));
            }
            (Some(HeadSwitch::On | HeadSwitch::Follows), Some(word)) => {
                self.head_on = true;
                self.push(line, EventKind::HeadOn { word });
            }
            (Some(HeadSwitch::Off), _) => {
                self.head_on = false;
                self.push(line, EventKind::HeadOff);
            }
            (None, Some(word)) if changed && self.head_on => {
                self.push(line, EventKind::HeadOn { word });
            }
            (None, _) => {}
        }
        Ok(())
    }

    fn run_motion(&mut self, block: &Block, line: usize) -> Result<(), ReplayFault> {
        let [i, j] = block.centre;
        let in_arc = matches!(self.motion, Motion::Arc { .. });
        if !block.has_axes() {
            if matches!(
                block.motion,
                Some(Motion::Rapid | Motion::Straight | Motion::Arc { .. })
            ) {
                return Err(fault("axis-words", line, "a motion code without X, Y or Z"));
            }
            if i.is_some() || j.is_some() {
                return Err(fault("unused-word", line, "I or J without X or Y"));
            }
            return Ok(());
        }
        if (i.is_some() || j.is_some()) && !in_arc {
            return Err(fault("unused-word", line, "I or J without G2 or G3"));
        }
        if self.rules.laser && block.axes[2].is_some() {
            return Err(fault("laser-z", line, "Z in a laser's program"));
        }
        let unit = self.modes(line)?;
        self.length_counts(line)?;
        let moves_at_feed = self.motion != Motion::Rapid && self.motion != Motion::None;
        // An air run cuts nothing on its way to the first corner.
        let known = match self.rules.air_run {
            true => self.known[2],
            false => !self.known.contains(&false),
        };
        if moves_at_feed && !known {
            let what = "a cut before G0 has brought the head to a known place";
            return Err(fault("unknown-position", line, what));
        }
        let mut to = self.at;
        let mut known = self.known;
        for axis in 0..3 {
            if let Some(v) = block.axes[axis] {
                to[axis] = v * unit;
                known[axis] = true;
            }
        }
        if moves_at_feed && known.contains(&false) {
            let what = "the first move of an air run leaves x or y where it was";
            return Err(fault("unknown-position", line, what));
        }
        match self.motion {
            Motion::None => {
                return Err(fault(
                    "motion-mode",
                    line,
                    "axis words while no motion code is in force",
                ));
            }
            Motion::Rapid => self.rapid(block, to, line)?,
            Motion::Straight => self.cut(to, None, line)?,
            Motion::Arc { .. } if self.rules.chord.is_some() => {
                return Err(fault("dialect", line, "an arc; this dialect has none"));
            }
            Motion::Arc { ccw } => {
                let arc = self.arc(block, to, [i, j], unit, ccw, line)?;
                self.cut(to, Some(arc), line)?;
            }
        }
        self.at = to;
        self.known = known;
        Ok(())
    }

    /// The unit, once every mode that motion hangs on has been set by the program itself.
    fn modes(&self, line: usize) -> Result<f64, ReplayFault> {
        let words = self.rules.words;
        let zero = format!("G{}", words.work_zero);
        let set = [
            (self.unit.is_some(), "G20 or G21"),
            (self.plane_xy, "G17"),
            (self.absolute, "G90"),
            (self.per_minute, "G94"),
            (self.no_cutter_offset, "G40"),
            (self.length != Length::Unsaid, "G49"),
            (self.work_zero, zero.as_str()),
            (
                self.path_mode || words.path_mode.is_none(),
                words.path_mode.map_or("", PathMode::code),
            ),
            (self.relative_centres || !words.relative_centres, "G91.1"),
        ];
        let missing: Vec<&str> = set
            .iter()
            .filter(|(is, _)| !is)
            .map(|(_, code)| *code)
            .collect();
        match self.unit {
            Some(unit) if missing.is_empty() => Ok(unit),
            _ => {
                let what = format!("motion before {}", missing.join(", "));
                Err(fault("modes", line, what))
            }
        }
    }

    fn rapid(&mut self, block: &Block, to: [f64; 3], line: usize) -> Result<(), ReplayFault> {
        let mut from = self.at;
        if !self.known[2] {
            let [x, y, z] = block.axes;
            if z.is_none() || x.is_some() || y.is_some() {
                let what = "the first move of a router, and the first after M6 or M0, must be G0 Z alone, up \
                            to a safe height";
                return Err(fault("unknown-position", line, what));
            }
            from[2] = to[2];
        }
        self.push(line, EventKind::Travel { from, to });
        Ok(())
    }

    fn cut(&mut self, to: [f64; 3], arc: Option<ArcOf>, line: usize) -> Result<(), ReplayFault> {
        let feed = self
            .feed
            .ok_or_else(|| fault("feed", line, "a cut before any F"))?;
        let kind = EventKind::Cut {
            from: self.at,
            to,
            arc,
            feed,
            head_on: self.head_on,
            power_or_speed: self.s.unwrap_or(0.0),
        };
        self.push(line, kind);
        Ok(())
    }

    fn arc(
        &self,
        block: &Block,
        to: [f64; 3],
        offset: [Option<f64>; 2],
        unit: f64,
        ccw: bool,
        line: usize,
    ) -> Result<ArcOf, ReplayFault> {
        let [x, y, z] = block.axes;
        if z.is_some() {
            return Err(fault(
                "unused-word",
                line,
                "Z in an arc; arcs lie in the plane",
            ));
        }
        if x.is_none() && y.is_none() {
            return Err(fault("axis-words", line, "an arc without X or Y"));
        }
        if offset == [None, None] {
            return Err(fault("arc-centre", line, "an arc without I or J"));
        }
        let start = Point::new(self.at[0], self.at[1]);
        let end = Point::new(to[0], to[1]);
        let [i, j] = offset.map(|v| v.unwrap_or(0.0) * unit);
        let centre = Point::new(start.x + i, start.y + j);
        let (r0, r1) = ((start - centre).hypot(), (end - centre).hypot());
        if (r0 - r1).abs() > self.rules.arc_radii() + FLOAT {
            let what = format!("the arc's ends lie {r0:.4} and {r1:.4} from its centre");
            return Err(fault("arc-radii", line, what));
        }
        if r0 <= FLOAT {
            return Err(fault("arc-radii", line, "an arc about its own start"));
        }
        if (end - start).hypot() <= FLOAT {
            return Err(fault(
                "arc-full-turn",
                line,
                "an arc that ends where it starts",
            ));
        }
        Ok(ArcOf {
            centre: [centre.x, centre.y],
            ccw,
        })
    }
}

impl Blocks for Machine<'_> {
    /// Runs one block; blocks that hold remarks alone have no words.
    fn block(&mut self, words: &[Word], number: Option<u32>, remarks: &[String], line: usize) {
        if let Err(f) = self.number(number, line) {
            self.faults.push(f);
        }
        let before = self.trace.events.len();
        if let Err(f) = self.run(words, line) {
            self.faults.push(f);
        }
        if !words.is_empty() {
            let after = self.trace.events.len();
            let rapid = self.motion == Motion::Rapid;
            self.watch.block(words, line, [before, after], rapid);
        }
        for text in remarks {
            let kind = EventKind::Remark {
                text: text.clone(),
                blocks: self.watch.count(),
                alone: words.is_empty(),
            };
            self.push(line, kind);
        }
    }

    fn faults(&mut self) -> &mut Vec<ReplayFault> {
        &mut self.faults
    }
}
