//! The way along a trace: the dialect's head with the notes, what stands among the moves, the dialect's tail.

use crate::path::{Move, Program};
use crate::replay::ReplayFault;
use crate::replay::gcode_read::{ArcOf, CoolantSwitch, Event, EventKind, Frame, Saying, Trace};

use super::measure::in_plane;
use super::remarks::Remarks;

/// All remarks of a program in their order, wherever its moves stand.
pub(in crate::replay) fn check_remarks(
    trace: &Trace,
    program: &Program,
    frame: &Frame,
) -> Result<(), ReplayFault> {
    let among = program.moves.iter().filter_map(|m| match m {
        Move::Remark(text) => Some(Saying::of_move(text)),
        _ => None,
    });
    let last = frame.last.iter().cloned().map(|saying| Saying {
        blocks: saying.blocks.map(|n| trace.tail_block + n),
        ..saying
    });
    let first = frame.first.iter().cloned();
    let all: Vec<Saying> = first.chain(among).chain(last).collect();
    let mut wanted = Remarks::of(&all, 0);
    for event in &trace.events {
        said(&mut wanted, event, frame)?;
    }
    if wanted.done() {
        Ok(())
    } else {
        Err(unsaid(&wanted, None))
    }
}

/// The way along a trace.
pub(super) struct Walk<'t> {
    /// The dialect's head, the moves, the dialect's tail.
    parts: [&'t [Event]; 3],
    frame: &'t Frame,
    /// Index of the next event of the moves.
    next: usize,
    /// Where the trace stands.
    pub(super) at: [f64; 3],
    /// Line of the last event.
    pub(super) line: Option<usize>,
    /// How many blocks stand before the tail.
    tail_block: usize,
}

impl<'t> Walk<'t> {
    pub(super) fn of(trace: &'t Trace, frame: &'t Frame) -> Self {
        let count = trace.events.len();
        let head = trace.head_events.min(count);
        let tail = count.saturating_sub(trace.tail_events).max(head);
        let (head, rest) = trace.events.split_at(head);
        let (body, tail) = rest.split_at(tail - head.len());
        Self {
            parts: [head, body, tail],
            frame,
            next: 0,
            at: [0.0; 3],
            line: None,
            tail_block: trace.tail_block,
        }
    }

    /// The next event before the tail: what a move of the plan is held against.
    pub(super) fn among(&self) -> Option<&'t Event> {
        let [_, body, _] = self.parts;
        body.get(self.next)
    }

    fn peek(&self) -> Option<&'t Event> {
        let [_, body, tail] = self.parts;
        body.get(self.next)
            .or_else(|| tail.get(self.next.checked_sub(body.len())?))
    }

    pub(super) fn take(&mut self) {
        if let Some(event) = self.peek() {
            self.note(event);
            self.next += 1;
        }
    }

    fn note(&mut self, event: &Event) {
        if let EventKind::Travel { to, .. } | EventKind::Cut { to, .. } = event.kind {
            self.at = to;
        }
        self.line = Some(event.line);
    }

    /// The head: its remarks and the program's notes, and no move in the plane.
    pub(super) fn head(&mut self, laser: bool) -> Result<(), ReplayFault> {
        let mut wanted = Remarks::of(&self.frame.first, 0);
        let [head, _, _] = self.parts;
        let mut turns = false;
        for event in head {
            match &event.kind {
                // A beam goes on over its first cut alone; a spindle is started once, and stays on.
                EventKind::HeadOn { .. } if laser || turns => return Err(early(event)),
                EventKind::HeadOn { .. } => turns = true,
                EventKind::HeadOff | EventKind::ToolChange { .. } | EventKind::Pause if turns => {
                    return Err(early(event));
                }
                EventKind::Park { .. } => return Err(early(event)),
                EventKind::Remark { .. } => said(&mut wanted, event, self.frame)?,
                EventKind::Cut { .. } => return Err(early(event)),
                EventKind::Travel { from, to } if in_plane(*from, *to) => return Err(early(event)),
                _ => {}
            }
            self.note(event);
        }
        self.remarks(wanted)
    }

    /// Remarks that stand next among the moves.
    pub(super) fn remarks(&mut self, mut wanted: Remarks) -> Result<(), ReplayFault> {
        while !wanted.done() {
            match self.among() {
                Some(event) => match &event.kind {
                    EventKind::Remark { .. } => said(&mut wanted, event, self.frame)?,
                    _ => return Err(unsaid(&wanted, Some(event.line))),
                },
                None => return Err(unsaid(&wanted, None)),
            }
            self.take();
        }
        Ok(())
    }

    /// What comes after the plan's last move: the dialect's tail alone.
    pub(super) fn tail(&mut self) -> Result<(), ReplayFault> {
        let mut wanted = Remarks::of(&self.frame.last, self.tail_block);
        let [_, body, _] = self.parts;
        while let Some(event) = self.peek() {
            let in_tail = self.next >= body.len();
            match &event.kind {
                EventKind::Remark { .. } => said(&mut wanted, event, self.frame)?,
                EventKind::Travel { from, to } if in_tail && !in_plane(*from, *to) => {}
                EventKind::Cut { .. } | EventKind::Travel { .. } | EventKind::HeadOn { .. } => {
                    return Err(late(event));
                }
                _ if in_tail => {}
                _ => return Err(late(event)),
            }
            self.take();
        }
        if wanted.done() {
            Ok(())
        } else {
            Err(unsaid(&wanted, None))
        }
    }
}

/// Takes the event, if it is a remark, as the next one of those that are wanted.
fn said(wanted: &mut Remarks, event: &Event, frame: &Frame) -> Result<(), ReplayFault> {
    let EventKind::Remark {
        text,
        blocks,
        alone,
    } = &event.kind
    else {
        return Ok(());
    };
    if wanted.take(text, *blocks, *alone, frame) {
        return Ok(());
    }
    Err(ReplayFault {
        rule: "remark",
        line: Some(event.line),
        what: if wanted.done() {
            format!("a remark that the plan does not have here: {text}")
        } else {
            format!(
                "a remark of {text:?} where {:?} should stand",
                wanted.next()
            )
        },
    })
}

fn unsaid(wanted: &Remarks, line: Option<usize>) -> ReplayFault {
    ReplayFault {
        rule: "remark",
        line,
        what: format!("the remark {:?} should stand here", wanted.next()),
    }
}

fn early(event: &Event) -> ReplayFault {
    off_plan(event, "before the plan's first move")
}

fn late(event: &Event) -> ReplayFault {
    off_plan(event, "after the plan's last move")
}

fn off_plan(event: &Event, when: &str) -> ReplayFault {
    ReplayFault {
        rule: "off-plan",
        line: Some(event.line),
        what: format!("{} {when}", describe(event)),
    }
}

pub(super) fn describe(event: &Event) -> String {
    match &event.kind {
        EventKind::Travel { to, .. } => {
            format!("travel to ({:.3}, {:.3}, {:.3})", to[0], to[1], to[2])
        }
        EventKind::Cut { to, arc, .. } => {
            let kind = match arc {
                None => "a straight cut",
                Some(ArcOf { ccw: true, .. }) => "a counter-clockwise arc",
                Some(ArcOf { ccw: false, .. }) => "a clockwise arc",
            };
            format!("{kind} to ({:.3}, {:.3}, {:.3})", to[0], to[1], to[2])
        }
        EventKind::HeadOn { word } => format!("head on at S{word}"),
        EventKind::HeadOff => "head off".into(),
        EventKind::Dwell { seconds } => format!("a wait of {seconds} s"),
        EventKind::Tool { number } => format!("tool {number}"),
        EventKind::ToolChange { number } => format!("a change to tool {number}"),
        EventKind::LengthOffset { number } => format!("the length of tool {number}"),
        EventKind::Coolant(CoolantSwitch::M7) => "air or coolant on by M7".into(),
        EventKind::Coolant(CoolantSwitch::M8) => "air or coolant on by M8".into(),
        EventKind::Coolant(CoolantSwitch::Off) => "air and coolant off".into(),
        EventKind::Pause => "a stop for the operator".into(),
        EventKind::Park { by, .. } => format!("parking by {}", by.code()),
        EventKind::Remark { text, .. } => format!("a remark of {text:?}"),
        EventKind::End => "the program's end".into(),
    }
}
