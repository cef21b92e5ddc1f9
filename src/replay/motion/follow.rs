//! Move by move: the trace is the plan, and nothing but the plan.

use crate::geom::Point;
use crate::path::{Head, Move, Program, arc_middle, arc_sweep, program_lengths};
use crate::replay::ReplayFault;
use crate::replay::gcode_read::{ArcOf, Event, EventKind, Trace};

use super::{cut_length, distance, flat, in_plane, trace_lengths};

/// An end of a move lies this close to the plan's in x, y and z: half a step of three decimals, and the
/// bits of a float.
const END: f64 = 0.000_5 + 1e-6;

/// The middle of an arc lies this close to the plan's: three steps of three decimals, for both ends and
/// the centre are rounded.
const MIDDLE: f64 = 0.003 + 1e-6;

/// A straight move is this close to the plan's length.
const LENGTH: f64 = 0.002;

/// An arc is this close to the plan's length: both ends may be off by 0.0007 along it, and by as much
/// again through its centre; the radius by 0.0015, which counts once a radian.
fn arc_length(sweep: f64) -> f64 {
    0.003 + 0.001_5 * sweep
}

/// A cut no longer than this may vanish in rounding: both ends off by 0.0007, round a half circle.
const VANISHES: f64 = 0.002_3;

/// Goes along plan and trace together and reports the first move that differs.
pub(super) fn follow(trace: &Trace, program: &Program) -> Option<ReplayFault> {
    let plan = Plan::of(program);
    let mut events = trace.events.iter().peekable();
    // Where the trace stands, and where the plan does.
    let mut at = [0.0; 3];
    let mut planned = Point::ORIGIN;
    let mut on = false;
    for (index, step) in program.moves.iter().enumerate() {
        if matches!(step, Move::Remark(_)) {
            continue;
        }
        let mut next = events.peek().copied();
        while let Some(event) = next
            && !plan.fits(step, planned, at, event)
            && plan.is_aside(event, at, on)
        {
            note(event, &mut at, &mut on);
            events.next();
            next = events.peek().copied();
        }
        match next {
            Some(event) if plan.fits(step, planned, at, event) => {
                note(event, &mut at, &mut on);
                events.next();
            }
            _ if vanishes(step, planned, at) => {}
            _ => return Some(differs(index, step, next)),
        }
        if let Move::Travel(to) | Move::Line(to) | Move::Arc { to, .. } = *step {
            planned = to;
        }
    }
    for event in events {
        if !plan.is_aside(event, at, on) && event.kind != EventKind::End {
            return Some(ReplayFault {
                rule: "off-plan",
                line: Some(event.line),
                what: format!("{} after the plan's last move", describe(event)),
            });
        }
        note(event, &mut at, &mut on);
    }
    None
}

/// The trace's lengths and number of cuts against the plan's.
pub(super) fn totals(trace: &Trace, program: &Program) -> Vec<ReplayFault> {
    let (found, plan) = (trace_lengths(trace), program_lengths(program));
    let mut faults = Vec::new();
    let mut say = |rule, what| {
        faults.push(ReplayFault {
            rule,
            line: None,
            what,
        })
    };
    // How far rounding may take the sums, and how many cuts it may swallow.
    let (mut bound, mut tiny) = (LENGTH, 0);
    let mut planned = Point::ORIGIN;
    for step in &program.moves {
        bound += match *step {
            Move::Arc { to, centre, ccw } => arc_length(arc_sweep(planned, to, centre, ccw)),
            _ => LENGTH,
        };
        if cut_from(step, planned).is_some_and(|length| length <= VANISHES) {
            tiny += 1;
        }
        if let Move::Travel(to) | Move::Line(to) | Move::Arc { to, .. } = *step {
            planned = to;
        }
    }
    let least = plan.cuts.saturating_sub(tiny);
    if !(least..=plan.cuts).contains(&found.cuts) {
        say(
            "count",
            format!("{} cuts; the plan has {}", found.cuts, plan.cuts),
        );
    }
    for (name, found, plan) in [
        ("cuts", found.cut_mm, plan.cut_mm),
        ("plunges", found.plunge_mm, plan.plunge_mm),
        ("travel", found.travel_mm, plan.travel_mm),
    ] {
        let off = (found - plan).abs();
        if off.is_nan() || off > bound {
            say(
                "length",
                format!("{name} of {found:.3} mm; the plan has {plan:.3} mm"),
            );
        }
    }
    faults
}

/// Length of a cut in the plane that starts at `planned`.
fn cut_from(step: &Move, planned: Point) -> Option<f64> {
    match *step {
        Move::Line(to) => Some((to - planned).hypot()),
        Move::Arc { to, centre, ccw } => {
            Some((planned - centre).hypot() * arc_sweep(planned, to, centre, ccw))
        }
        _ => None,
    }
}

/// Takes note of where an event leaves the head.
fn note(event: &Event, at: &mut [f64; 3], on: &mut bool) {
    match event.kind {
        EventKind::Travel { to, .. } | EventKind::Cut { to, .. } => *at = to,
        EventKind::HeadOn { .. } => *on = true,
        EventKind::HeadOff => *on = false,
        EventKind::Dwell { .. } | EventKind::Tool { .. } | EventKind::End => {}
    }
}

struct Plan {
    laser: bool,
    safe_z: f64,
}

impl Plan {
    fn of(program: &Program) -> Self {
        match program.head {
            Head::Beam { .. } => Self {
                laser: true,
                safe_z: 0.0,
            },
            Head::Cutter { safe_z, .. } => Self {
                laser: false,
                safe_z,
            },
        }
    }

    /// Whether an event is no move of the plan, but one that a dialect may add: switches and waits of a
    /// spindle, which the other rules watch; a rise to the safe height; beam off when it is off.
    fn is_aside(&self, event: &Event, at: [f64; 3], on: bool) -> bool {
        match event.kind {
            EventKind::HeadOn { .. } => !self.laser,
            EventKind::HeadOff => !self.laser || !on,
            EventKind::Dwell { .. } | EventKind::Tool { .. } => true,
            EventKind::Travel { from, to } => {
                !self.laser && !in_plane(from, to) && self.is_rise(from, to) && !in_plane(at, to)
            }
            EventKind::Cut { .. } | EventKind::End => false,
        }
    }

    fn is_rise(&self, from: [f64; 3], to: [f64; 3]) -> bool {
        near(to[2], self.safe_z) && from[2] <= to[2]
    }

    /// Whether `event` is the plan's `step`, which starts at `planned` in the plan and at `at` in the
    /// trace.
    fn fits(&self, step: &Move, planned: Point, at: [f64; 3], event: &Event) -> bool {
        match (step, &event.kind) {
            (Move::Travel(p), EventKind::Travel { from, to }) => {
                from[2] == to[2] && arrives(*p, *to) && same_length(*p, planned, *from, *to)
            }
            (Move::BeamOn, EventKind::HeadOn { .. }) => self.laser,
            (Move::BeamOff, EventKind::HeadOff) => self.laser,
            (Move::Raise, EventKind::Travel { from, to }) => {
                !in_plane(at, *to) && self.is_rise(*from, *to)
            }
            (
                Move::Plunge(z),
                EventKind::Cut {
                    from,
                    to,
                    arc: None,
                    ..
                },
            ) => !in_plane(*from, *to) && near(to[2], *z),
            (
                Move::Line(p),
                EventKind::Cut {
                    from,
                    to,
                    arc: None,
                    ..
                },
            ) => from[2] == to[2] && arrives(*p, *to) && same_length(*p, planned, *from, *to),
            (&Move::Arc { to: p, centre, ccw }, &EventKind::Cut { from, to, arc, .. }) => {
                let sweep = arc_sweep(planned, p, centre, ccw);
                let length = (planned - centre).hypot() * sweep;
                let middle = arc_middle(planned, p, centre, ccw);
                from[2] == to[2]
                    && arrives(p, to)
                    && (middle_of(from, to, arc) - middle).hypot() <= MIDDLE
                    && (cut_length(from, to, arc) - length).abs() <= arc_length(sweep)
                    && arc.is_none_or(|arc| arc.ccw == ccw)
            }
            _ => false,
        }
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= END
}

fn arrives(p: Point, to: [f64; 3]) -> bool {
    near(p.x, to[0]) && near(p.y, to[1])
}

fn same_length(p: Point, planned: Point, from: [f64; 3], to: [f64; 3]) -> bool {
    (distance(from, to) - (p - planned).hypot()).abs() <= LENGTH
}

fn middle_of(from: [f64; 3], to: [f64; 3], arc: Option<ArcOf>) -> Point {
    let (a, b) = (flat(from), flat(to));
    match arc {
        Some(ArcOf { centre, ccw }) => arc_middle(a, b, Point::new(centre[0], centre[1]), ccw),
        None => a.midpoint(b),
    }
}

/// Whether a cut is so short that the grid of decimals swallows it whole.
fn vanishes(step: &Move, planned: Point, at: [f64; 3]) -> bool {
    let short = cut_from(step, planned).is_some_and(|length| length <= VANISHES);
    match *step {
        Move::Line(to) | Move::Arc { to, .. } => short && arrives(to, at),
        _ => false,
    }
}

fn differs(index: usize, step: &Move, found: Option<&Event>) -> ReplayFault {
    let wanted = match step {
        Move::Remark(_) => "a remark".into(),
        Move::Travel(p) => format!("travel to ({:.3}, {:.3})", p.x, p.y),
        Move::BeamOn => "beam on".into(),
        Move::BeamOff => "beam off".into(),
        Move::Raise => "a rise to the safe height".into(),
        Move::Plunge(z) => format!("a plunge to z {z:.3}"),
        Move::Line(p) => format!("a straight cut to ({:.3}, {:.3})", p.x, p.y),
        Move::Arc { to, centre, ccw } => format!(
            "a {} arc to ({:.3}, {:.3}) about ({:.3}, {:.3})",
            if *ccw {
                "counter-clockwise"
            } else {
                "clockwise"
            },
            to.x,
            to.y,
            centre.x,
            centre.y
        ),
    };
    let number = index + 1;
    ReplayFault {
        rule: "off-plan",
        line: found.map(|e| e.line),
        what: match found {
            Some(event) => format!("{}; move {number} of the plan is {wanted}", describe(event)),
            None => format!("the file ends before move {number} of the plan, {wanted}"),
        },
    }
}

fn describe(event: &Event) -> String {
    match event.kind {
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
        EventKind::End => "the program's end".into(),
    }
}
