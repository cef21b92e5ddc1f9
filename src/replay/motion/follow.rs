//! Move by move: the trace is the plan, and nothing but the plan.

use crate::geom::Point;
use crate::path::{Head, Move, Program, arc_chords, arc_middle, arc_sweep};
use crate::replay::gcode_read::{ArcOf, Event, EventKind, Frame, Trace};
use crate::replay::{DialectRules, ReplayFault};

use super::FLOAT;
use super::measure::{cut_length, distance, flat, in_plane};
use super::remarks::Remarks;
use super::walk::{Walk, describe};

/// How near a trace must come to its plan, mm: all from the step of the dialect's last decimal.
#[derive(Debug, Clone, Copy)]
struct Near {
    step: f64,
    /// How far straight cuts in place of an arc may lie outside it.
    chord: Option<f64>,
}

impl Near {
    fn of(rules: &DialectRules) -> Self {
        Self {
            step: rules.step,
            chord: rules.chord,
        }
    }

    /// An end of a move lies this close to the plan's in x, y and z: half a step.
    fn end(self) -> f64 {
        0.5 * self.step + FLOAT
    }

    /// The middle of an arc lies this close to the plan's: three steps, for both ends and the centre are
    /// rounded. Where that is more than the replay allows, the sweep decides.
    fn middle(self) -> f64 {
        3.0 * self.step + FLOAT
    }

    /// A straight move is this close to the plan's length.
    fn length(self) -> f64 {
        2.0 * self.step
    }

    /// An arc is this close to the plan's length: both ends may be off by 0.7 of a step along it, and by
    /// as much again through its centre; the radius by 1.5 steps, which counts once a radian.
    fn arc_length(self, sweep: f64) -> f64 {
        (3.0 + 1.5 * sweep) * self.step
    }

    /// A cut no longer than this may vanish in rounding: both ends off by 0.7 of a step, round a half
    /// circle; the sides of a polygon within one step, four steps.
    fn vanishes(self) -> f64 {
        if self.chord.is_some() {
            4.0 * self.step
        } else {
            2.3 * self.step
        }
    }

    /// A rounded corner lies this close to where it was: in x and y half a step each.
    fn corner(self) -> f64 {
        std::f64::consts::FRAC_1_SQRT_2 * self.step + FLOAT
    }

    fn same(self, a: f64, b: f64) -> bool {
        (a - b).abs() <= self.end()
    }

    fn arrives(self, p: Point, to: [f64; 3]) -> bool {
        self.same(p.x, to[0]) && self.same(p.y, to[1])
    }

    fn same_length(self, p: Point, planned: Point, from: [f64; 3], to: [f64; 3]) -> bool {
        (distance(from, to) - (p - planned).hypot()).abs() <= self.length()
    }
}

/// Goes along plan and trace together and reports the first move, switch or remark that differs: between the
/// head and the tail of the dialect stands the plan, and nothing else.
pub(super) fn follow(
    trace: &Trace,
    program: &Program,
    rules: &DialectRules,
    frame: &Frame,
) -> Result<(), ReplayFault> {
    let plan = Plan::of(program, rules);
    let mut walk = Walk::of(trace, frame);
    walk.head(plan.laser)?;
    let mut planned = Point::ORIGIN;
    // Every dialect rises to the safe height first.
    let mut planned_z = plan.safe_z;
    for (index, step) in program.moves.iter().enumerate() {
        if let Move::Remark(text) = step {
            walk.remarks(Remarks::of_move(text))?;
            continue;
        }
        let mut round = Round::of(step, planned, plan.near);
        let mut taken = 0;
        while let Some(event) = walk.among()
            && fits(&plan, &mut round, step, planned, walk.at, event)
        {
            walk.take();
            taken += 1;
            let Some(round) = &mut round else { break };
            round.went();
        }
        let done = match &mut round {
            Some(round) => round.done(walk.at),
            None => taken > 0 || plan.vanishes(step, planned, walk.at),
        };
        if !done {
            return Err(differs(index, step, walk.among()));
        }
        match *step {
            Move::Travel(to) | Move::Line(to) | Move::Arc { to, .. } => planned = to,
            Move::Plunge(z) => planned_z = z,
            Move::Raise => planned_z = plan.safe_z,
            Move::Remark(_) | Move::BeamOn | Move::BeamOff => {}
        }
        if !plan.laser && !plan.near.same(planned_z, walk.at[2]) {
            return Err(ReplayFault {
                rule: "off-plan",
                line: walk.line,
                what: format!(
                    "move {} of the plan is made at z {:.3}, not at {planned_z:.3}",
                    index + 1,
                    walk.at[2]
                ),
            });
        }
    }
    walk.tail()
}

/// Whether an event is the plan's step, or its next corner round an arc.
fn fits(
    plan: &Plan,
    round: &mut Option<Round>,
    step: &Move,
    planned: Point,
    at: [f64; 3],
    event: &Event,
) -> bool {
    match round {
        Some(round) => round.takes(at, event),
        None => plan.fits(step, planned, at, event),
    }
}

/// An arc of the plan that straight cuts stand for, in a dialect without arcs.
struct Round {
    near: Near,
    chord: f64,
    centre: Point,
    radius: f64,
    /// The corners still to come, the next one last.
    corners: Vec<Point>,
}

impl Round {
    fn of(step: &Move, from: Point, near: Near) -> Option<Self> {
        let (&Move::Arc { to, centre, ccw }, Some(chord)) = (step, near.chord) else {
            return None;
        };
        let mut corners = arc_chords(from, to, centre, ccw, chord);
        corners.reverse();
        Some(Self {
            near,
            chord,
            centre,
            radius: (from - centre).hypot(),
            corners,
        })
    }

    /// Whether the next cut goes on along the arc: it ends at the next corner, or at a later one if those
    /// between are no step away; it reaches no farther outside the arc than the dialect allows, and
    /// passes nowhere inside it.
    fn takes(&mut self, at: [f64; 3], event: &Event) -> bool {
        let EventKind::Cut {
            from,
            to,
            arc: None,
            ..
        } = event.kind
        else {
            return false;
        };
        if from[2] != to[2] || !in_plane(from, to) {
            return false;
        }
        let room = self.near.corner();
        let (a, b) = (flat(from), flat(to));
        let along = b - a;
        let foot = (self.centre - a).dot(along) / along.hypot2();
        let nearest = (a + along * foot.clamp(0.0, 1.0) - self.centre).hypot();
        let reach = (b - self.centre).hypot();
        if nearest < self.radius - room || reach > self.radius + self.chord + room {
            return false;
        }
        while let Some(&corner) = self.corners.last() {
            if self.near.arrives(corner, to) {
                return true;
            }
            if !self.near.arrives(corner, at) {
                return false;
            }
            self.corners.pop();
        }
        false
    }

    /// The corner that was taken lies behind.
    fn went(&mut self) {
        self.corners.pop();
    }

    /// Whether what is left of the arc is no step away.
    fn done(&self, at: [f64; 3]) -> bool {
        self.corners.iter().all(|&c| self.near.arrives(c, at))
    }
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

struct Plan {
    laser: bool,
    safe_z: f64,
    near: Near,
}

impl Plan {
    fn of(program: &Program, rules: &DialectRules) -> Self {
        let (laser, safe_z) = match program.head {
            Head::Beam { .. } => (true, 0.0),
            Head::Cutter { safe_z, .. } => (false, safe_z),
        };
        let near = Near::of(rules);
        Self {
            laser,
            safe_z,
            near,
        }
    }

    fn is_rise(&self, from: [f64; 3], to: [f64; 3]) -> bool {
        self.near.same(to[2], self.safe_z) && from[2] <= to[2]
    }

    /// Whether `event` is the plan's `step`, which starts at `planned` in the plan and at `at` in the
    /// trace.
    fn fits(&self, step: &Move, planned: Point, at: [f64; 3], event: &Event) -> bool {
        match (step, &event.kind) {
            (Move::Travel(p), EventKind::Travel { from, to }) => {
                from[2] == to[2]
                    && self.near.arrives(*p, *to)
                    && self.near.same_length(*p, planned, *from, *to)
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
            ) => !in_plane(*from, *to) && self.near.same(to[2], *z),
            (
                Move::Line(p),
                EventKind::Cut {
                    from,
                    to,
                    arc: None,
                    ..
                },
            ) => {
                from[2] == to[2]
                    && self.near.arrives(*p, *to)
                    && self.near.same_length(*p, planned, *from, *to)
            }
            (&Move::Arc { to: p, centre, ccw }, &EventKind::Cut { from, to, arc, .. }) => {
                let sweep = arc_sweep(planned, p, centre, ccw);
                let length = (planned - centre).hypot() * sweep;
                let middle = arc_middle(planned, p, centre, ccw);
                from[2] == to[2]
                    && self.near.arrives(p, to)
                    && (middle_of(from, to, arc) - middle).hypot() <= self.near.middle()
                    && (cut_length(from, to, arc) - length).abs() <= self.near.arc_length(sweep)
                    && arc.is_none_or(|arc| arc.ccw == ccw)
            }
            _ => false,
        }
    }

    /// Whether a cut is so short that the grid of decimals swallows it whole.
    fn vanishes(&self, step: &Move, planned: Point, at: [f64; 3]) -> bool {
        let short = cut_from(step, planned).is_some_and(|length| length <= self.near.vanishes());
        match *step {
            Move::Line(to) | Move::Arc { to, .. } => short && self.near.arrives(to, at),
            _ => false,
        }
    }
}

fn middle_of(from: [f64; 3], to: [f64; 3], arc: Option<ArcOf>) -> Point {
    let (a, b) = (flat(from), flat(to));
    match arc {
        Some(ArcOf { centre, ccw }) => arc_middle(a, b, Point::new(centre[0], centre[1]), ccw),
        None => a.midpoint(b),
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
        // A remark that nothing asked for is no move.
        rule: match found.map(|e| &e.kind) {
            Some(EventKind::Remark { .. }) => "remark",
            _ => "off-plan",
        },
        line: found.map(|e| e.line),
        what: match found {
            Some(event) => format!("{}; move {number} of the plan is {wanted}", describe(event)),
            None => format!("the file ends before move {number} of the plan, {wanted}"),
        },
    }
}
