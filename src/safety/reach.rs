//! Whether the machine reaches: a zero exists, where the machine file lets it stand, from which every path
//! lies within the travel and every blank on the bed.
//!
//! Along an axis zero stands at z, counted like travel and bed from the travel's lower left corner. A path
//! from p to q (the zero itself included, for the head starts there) asks 0 <= z + p and z + q <= travel; a
//! blank from v to w asks bed begin <= z + v and z + w <= bed end; the machine file asks least <= z <=
//! greatest. So z is bounded from below and from above, and stands somewhere if the greatest lower bound is
//! no more than the least upper one. Those two bounds are what the check tells.

use kurbo::Rect;

use super::check::{Check, Status, Unit};
use super::check_id::CheckId;
use crate::geom::micron;
use crate::non_empty::NonEmpty;
use crate::panel::{HeadKind, Machine};
use crate::path::PathBox;

/// Something that lies somewhere from the zero.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// The path of a program of this name.
    Path(String, PathBox),
    /// Stock of this name, seen from above, mm.
    Blank(String, Rect),
}

/// All that is cut from one zero.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// What it is, as a check names its place.
    pub place: String,
    /// Paths and blanks.
    pub parts: Vec<Part>,
}

/// Less travel than this holds no piece, mm.
const LEAST_ROOM: f64 = 0.001;

/// What holds the zero on one side.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Holder<'a> {
    Zero,
    Path(&'a str),
    Blank(&'a str),
}

/// A bound of the zero along an axis: the zero, and what lies `reach` from it, stay on the inner side of
/// `wall`, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bound<'a> {
    wall: f64,
    reach: f64,
    by: Holder<'a>,
}

impl Bound<'_> {
    fn zero_at(&self) -> f64 {
        self.wall - self.reach
    }
}

/// An axis in words.
struct Axis {
    index: usize,
    name: &'static str,
    /// Its ends, of something that lies along it.
    ends: [&'static str; 2],
    /// Where more room would be, seen from the zero.
    sides: [&'static str; 2],
}

const AXES: [Axis; 2] = [
    Axis {
        index: 0,
        name: "x",
        ends: ["left end", "right end"],
        sides: ["to the left", "to the right"],
    },
    Axis {
        index: 1,
        name: "y",
        ends: ["front", "back"],
        sides: ["in front", "behind"],
    },
];

/// Whether a zero reaches all of each job: every axis that fails, or the one with the least room to spare.
#[must_use]
pub fn reach_checks(machine: &Machine, jobs: &[Job]) -> Vec<Check> {
    jobs.iter().flat_map(|job| of_job(machine, job)).collect()
}

/// Whether any travel is left beyond a zero at the lower left corner of a sheet, where the head runs `beyond`
/// mm past a piece: the checks that fail, before anything is nested.
#[must_use]
pub fn corner_checks(machine: &Machine, beyond: f64) -> Vec<Check> {
    let least = machine.least_zero();
    let of = |axis: &Axis| {
        let (travel, zero) = (machine.travel[axis.index], least[axis.index]);
        let place = format!(
            "the corner of a sheet: along {}, with zero at {zero} and a travel of {travel}",
            axis.name
        );
        Check::at_least(
            CheckId::Reach,
            travel - zero,
            beyond + LEAST_ROOM,
            Unit::Mm,
            place,
        )
    };
    let checks = AXES.iter().map(of);
    checks.filter(|c| c.status == Status::Fail).collect()
}

fn of_job(machine: &Machine, job: &Job) -> Vec<Check> {
    let mut checks: Vec<Check> = AXES
        .iter()
        .map(|axis| along(machine, job, axis))
        .chain(upright(machine, job))
        .collect();
    if checks.iter().any(|c| c.status == Status::Fail) {
        checks.retain(|c| c.status == Status::Fail);
        return checks;
    }
    let spare = |c: &Check| c.limit - c.value;
    checks.sort_by(|a, b| spare(a).total_cmp(&spare(b)));
    checks.truncate(1);
    checks
}

/// The bounds of the zero along an axis: from below, and from above. The first is where the machine file lets zero
/// stand.
fn bounds<'a>(machine: &Machine, job: &'a Job, axis: &Axis) -> [NonEmpty<Bound<'a>>; 2] {
    let a = axis.index;
    let bound = |wall, reach, by| Bound { wall, reach, by };
    let [least, greatest] = machine.zero[a];
    let mut below = NonEmpty::one(bound(least, 0.0, Holder::Zero));
    let mut above = NonEmpty::one(bound(greatest, 0.0, Holder::Zero));
    for part in &job.parts {
        match part {
            Part::Path(name, path) => {
                let [before, past] = path.needs(a);
                below.push(bound(0.0, -before, Holder::Path(name)));
                above.push(bound(machine.travel[a], past, Holder::Path(name)));
            }
            Part::Blank(name, rect) => {
                let [low, high] = [[rect.x0, rect.x1], [rect.y0, rect.y1]][a];
                let [begin, end] = machine.bed[a];
                below.push(bound(begin, low, Holder::Blank(name)));
                above.push(bound(end, high, Holder::Blank(name)));
            }
        }
    }
    [below, above]
}

/// The first of the bounds that hold the zero most: from below and from above.
fn tightest<'a>([below, above]: [&NonEmpty<Bound<'a>>; 2]) -> [Bound<'a>; 2] {
    let first = |list: &NonEmpty<Bound<'a>>, tighter: fn(f64, f64) -> bool| {
        list.iter().fold(*list.first(), |best, b| {
            if tighter(b.zero_at(), best.zero_at()) {
                *b
            } else {
                best
            }
        })
    };
    [first(below, |a, b| a > b), first(above, |a, b| a < b)]
}

fn along(machine: &Machine, job: &Job, axis: &Axis) -> Check {
    let [below, above] = bounds(machine, job, axis);
    let [low, high] = tightest([&below, &above]);
    let end = |by: Holder<'_>, side: usize| match by {
        Holder::Zero => "zero".to_owned(),
        Holder::Path(name) => format!("the {} of the path of {name}", axis.ends[side]),
        Holder::Blank(name) => format!("the {} of {name}", axis.ends[side]),
    };
    let from_to = match (low.by, high.by) {
        (Holder::Zero, Holder::Zero) => "from wherever zero may stand".to_owned(),
        (low, high) => format!("from {} to {}", end(low, 0), end(high, 1)),
    };
    let place = format!("{}: along {}, {from_to}", job.place, axis.name);
    let (value, limit) = (high.reach - low.reach, high.wall - low.wall);
    let mut check = Check::at_most(CheckId::Reach, value, limit, Unit::Mm, place);
    if check.status == Status::Fail {
        let side = match (low.by, high.by) {
            (Holder::Zero, _) => axis.sides[1],
            (_, Holder::Zero) => axis.sides[0],
            _ => "in between",
        };
        check.place += &format!("; {} mm are missing {side}", up(value - limit));
        // What would do if zero could stand anywhere; nothing, where it is zero alone that has no room.
        let [below, above] = [below, above].map(|list| NonEmpty::of(list.into_iter().skip(1)));
        if let (Some(below), Some(above)) = (below, above) {
            check.place += "; ";
            check.place += &passes(axis, tightest([&below, &above]));
        }
    }
    check
}

/// What would pass, in words: where zero could stand if it could stand anywhere, else what is too small.
fn passes(axis: &Axis, [low, high]: [Bound<'_>; 2]) -> String {
    let (least, most, name) = (low.zero_at(), high.zero_at(), axis.name);
    if least <= most {
        let (a, b) = (up(least), down(most));
        // A range narrower than what is shown is told as it is.
        let (a, b) = if a <= b {
            (a, b)
        } else {
            (micron(least), micron(most))
        };
        return format!("zero.{name} from {a} to {b} passes");
    }
    let lack = least - most;
    match (low.by, high.by) {
        (Holder::Blank(_), Holder::Blank(_)) => {
            format!(
                "a bed {} mm long in {name} passes",
                up(high.reach - low.reach)
            )
        }
        (Holder::Blank(_), _) => {
            let begin = down(low.wall - lack);
            format!("a bed that begins at {begin} in {name} passes")
        }
        (_, Holder::Blank(_)) => {
            let end = up(high.wall + lack);
            format!("a bed that ends at {end} in {name} passes")
        }
        _ => format!(
            "a travel of {} in {name} passes",
            up(high.reach - low.reach)
        ),
    }
}

/// Whether tip and safe height lie within a router's travel in z, which zero may divide anyhow.
fn upright(machine: &Machine, job: &Job) -> Option<Check> {
    match &machine.head {
        HeadKind::Router(_) => {}
        // A beam moves in x and y alone.
        HeadKind::Laser(_) => return None,
    }
    let paths = job.parts.iter().filter_map(|part| match part {
        Part::Path(_, path) => Some(*path),
        Part::Blank(..) => None,
    });
    let [below, above] = paths.reduce(PathBox::union)?.needs(2);
    let (value, limit) = (below + above, machine.travel[2]);
    let place = format!(
        "{}: along z, from the lowest tip to the safe height",
        job.place
    );
    let mut check = Check::at_most(CheckId::Reach, value, limit, Unit::Mm, place);
    if check.status == Status::Fail {
        let lack = up(value - limit);
        check.place += &format!(
            "; {lack} mm are missing; a travel of {} in z passes",
            up(value)
        );
    }
    Some(check)
}

/// To 0.01, never less.
fn up(v: f64) -> f64 {
    micron((micron(v) * 100.0 - 1e-4).ceil() / 100.0)
}

/// To 0.01, never more.
fn down(v: f64) -> f64 {
    -up(-v) + 0.0
}
