//! How far a program cuts and travels.

use std::f64::consts::{FRAC_PI_2, TAU};

use crate::geom::{Point, Vec2, micron};

use super::{Head, Move, Program};

/// Lengths of a program's moves, mm, and how many of them cut.
///
/// The head is taken to stand over the program's zero before the first move; the way up to the first
/// safe height starts from an unknown height and counts nothing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Lengths {
    /// Cuts in the plane, along the arcs.
    pub cut_mm: f64,
    /// Moves straight down, or up to a tab's top, at plunge feed.
    pub plunge_mm: f64,
    /// Travel in the plane and up to the safe height.
    pub travel_mm: f64,
    /// Cuts in the plane and plunges.
    pub cuts: usize,
}

/// Adds up the lengths of `program`'s moves.
#[must_use]
pub fn program_lengths(program: &Program) -> Lengths {
    let safe = match program.head {
        Head::Beam { .. } => 0.0,
        Head::Cutter { safe_z, .. } => safe_z,
    };
    let mut sum = Lengths::default();
    let mut at = Point::ORIGIN;
    // The head starts at the safe height: every dialect raises it before the spindle starts.
    let mut height = safe;
    for step in &program.moves {
        match *step {
            Move::Remark(_) | Move::BeamOn | Move::BeamOff => {}
            Move::Travel(to) => {
                sum.travel_mm += (to - at).hypot();
                at = to;
            }
            Move::Raise => {
                sum.travel_mm += (safe - height).abs();
                height = safe;
            }
            Move::Plunge(z) => {
                sum.plunge_mm += (z - height).abs();
                sum.cuts += 1;
                height = z;
            }
            Move::Line(to) => {
                sum.cut_mm += (to - at).hypot();
                sum.cuts += 1;
                at = to;
            }
            Move::Arc { to, centre, ccw } => {
                sum.cut_mm += (at - centre).hypot() * arc_sweep(at, to, centre, ccw);
                sum.cuts += 1;
                at = to;
            }
        }
    }
    sum
}

/// About how long a program takes, minutes, at this feed of travel, mm/min: without acceleration.
#[must_use]
pub fn program_minutes(program: &Program, travel_feed: f64) -> f64 {
    let lengths = program_lengths(program);
    let minutes = lengths.cut_mm / program.feed + lengths.travel_mm / travel_feed;
    match program.head {
        Head::Beam { .. } => minutes,
        Head::Cutter {
            plunge_feed,
            spin_up_s,
            ..
        } => minutes + (lengths.plunge_mm / plunge_feed + spin_up_s / 60.0),
    }
}

/// Heights that a cutter plunges to, from the top down, mm above the bed, each once; 0 for a beam.
#[must_use]
pub fn program_passes(program: &Program) -> Vec<f64> {
    if matches!(program.head, Head::Beam { .. }) {
        return vec![0.0];
    }
    let plunges = program.moves.iter().filter_map(|m| match m {
        Move::Plunge(z) => Some(micron(*z)),
        _ => None,
    });
    let mut passes: Vec<f64> = plunges.collect();
    passes.sort_by(|a, b| b.total_cmp(a));
    passes.dedup();
    passes
}

/// Angle that an arc turns through, radians, greater than 0 and at most a full turn, whichever way it
/// turns. Ends in one direction from the centre make a full turn.
#[must_use]
pub fn arc_sweep(from: Point, to: Point, centre: Point, ccw: bool) -> f64 {
    let (a, b) = (from - centre, to - centre);
    let left = libm::atan2(a.cross(b), a.dot(b));
    let turn = if ccw { left } else { -left };
    if turn > 0.0 { turn } else { turn + TAU }
}

/// The point half-way along an arc.
#[must_use]
pub fn arc_middle(from: Point, to: Point, centre: Point, ccw: bool) -> Point {
    let half = 0.5 * arc_sweep(from, to, centre, ccw);
    let half = if ccw { half } else { -half };
    let (sin, cos) = (libm::sin(half), libm::cos(half));
    let arm = from - centre;
    centre + Vec2::new(arm.x * cos - arm.y * sin, arm.x * sin + arm.y * cos)
}

/// Least and greatest x and y of an arc: its ends, and the quarter points that it passes.
#[must_use]
pub fn arc_extent(from: Point, to: Point, centre: Point, ccw: bool) -> [Point; 2] {
    // The ends of a rounded arc are not quite as far from its centre.
    let radius = (from - centre).hypot().max((to - centre).hypot());
    let sweep = arc_sweep(from, to, centre, ccw);
    let start = libm::atan2(from.y - centre.y, from.x - centre.x);
    let mut low = Point::new(from.x.min(to.x), from.y.min(to.y));
    let mut high = Point::new(from.x.max(to.x), from.y.max(to.y));
    let quarters = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)];
    for (k, (ux, uy)) in (0_u8..).zip(quarters) {
        let along = f64::from(k) * FRAC_PI_2 - start;
        let turned = if ccw { along } else { -along }.rem_euclid(TAU);
        if turned < sweep {
            let p = centre + Vec2::new(ux, uy) * radius;
            low = Point::new(low.x.min(p.x), low.y.min(p.y));
            high = Point::new(high.x.max(p.x), high.y.max(p.y));
        }
    }
    [low, high]
}

/// Corners of the straight cuts that stand for an arc, its end last: sides of a polygon that touches the
/// arc from outside, so that no corner lies more than `most` farther from the centre than the arc and no
/// cut passes inside it. Half a side spans an angle a with r / cos a - r <= `most`.
#[must_use]
pub fn arc_chords(from: Point, to: Point, centre: Point, ccw: bool, most: f64) -> Vec<Point> {
    /// Half a side never spans more.
    const WIDEST: f64 = std::f64::consts::FRAC_PI_3;
    let arm = from - centre;
    let radius = arm.hypot();
    let sweep = arc_sweep(from, to, centre, ccw);
    let widest = libm::acos(radius / (radius + most)).min(WIDEST);
    // Written so that what is no number makes one cut.
    let count = if widest > 0.0 && sweep.is_finite() {
        (0.5 * sweep / widest).ceil().clamp(1.0, 1e5) as u32
    } else {
        return vec![to];
    };
    let half = 0.5 * sweep / f64::from(count);
    let reach = 1.0 / libm::cos(half);
    let corner = |k: u32| {
        let angle = f64::from(2 * k + 1) * half;
        let angle = if ccw { angle } else { -angle };
        let (sin, cos) = (libm::sin(angle) * reach, libm::cos(angle) * reach);
        centre + Vec2::new(arm.x * cos - arm.y * sin, arm.x * sin + arm.y * cos)
    };
    (0..count).map(corner).chain([to]).collect()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-12, "{a} against {b}");
    }

    #[test]
    fn sweeps_take_the_way_they_are_told() {
        let (east, north) = (Point::new(2.0, 0.0), Point::new(0.0, 2.0));
        near(arc_sweep(east, north, Point::ORIGIN, true), FRAC_PI_2);
        near(arc_sweep(east, north, Point::ORIGIN, false), 1.5 * PI);
        near(
            arc_sweep(east, Point::new(-2.0, 0.0), Point::ORIGIN, false),
            PI,
        );
        near(arc_sweep(east, east, Point::ORIGIN, true), TAU);
    }

    #[test]
    fn the_middle_lies_on_the_arc() {
        let (east, west) = (Point::new(3.0, 1.0), Point::new(-1.0, 1.0));
        let centre = Point::new(1.0, 1.0);
        let up = arc_middle(east, west, centre, true);
        let down = arc_middle(east, west, centre, false);
        near(up.x, 1.0);
        near(up.y, 3.0);
        near(down.y, -1.0);
    }

    /// Distances by the formula for point and line: the cuts touch the circle and never enter it, and
    /// their corners lie within the tolerance outside.
    #[test]
    fn chords_touch_the_arc_from_outside() {
        let centre = Point::new(3.0, -2.0);
        for radius in [0.001, 0.08, 1.5, 40.0] {
            for (sweep, ccw) in [(0.01, true), (FRAC_PI_2, false), (PI, true), (3.5, false)] {
                let on = |a: f64| centre + Vec2::new(libm::cos(a), libm::sin(a)) * radius;
                let (from, to) = (on(1.0), on(1.0 + if ccw { sweep } else { -sweep }));
                let corners = arc_chords(from, to, centre, ccw, 0.002);
                assert_eq!(corners.last(), Some(&to));
                let (mut at, mut turned) = (from, 0.0);
                for &p in &corners {
                    let way = (p - at).normalize();
                    let off = way.cross(at - centre).abs();
                    assert!((off - radius).abs() < 1e-9, "a cut {off} from the centre");
                    assert!((p - centre).hypot() < radius + 0.002 + 1e-9, "{p:?}");
                    turned += arc_sweep(at, p, centre, ccw);
                    at = p;
                }
                assert!((turned - sweep).abs() < 1e-6, "{turned} of {sweep}");
            }
        }
        assert_eq!(
            arc_chords(centre, centre, centre, true, 0.002).last(),
            Some(&centre)
        );
    }

    /// A program of a cutter of 3 mm with these moves.
    pub(in crate::path) fn cutting(moves: Vec<Move>) -> Program {
        Program {
            stem: "part".into(),
            notes: vec![],
            head: Head::Cutter {
                diameter: 3.0,
                speed_rpm: 16000.0,
                spin_up_s: 2.0,
                plunge_feed: 200.0,
                safe_z: 15.0,
                tool_number: 1,
                tool_name: "cutter".into(),
            },
            feed: 900.0,
            moves,
            holds: vec![],
            reliefs: Default::default(),
            contours: vec![],
        }
    }

    #[test]
    fn a_slot_with_a_round_end_adds_up() {
        let program = cutting(vec![
            Move::Raise,
            Move::Travel(Point::new(3.0, 4.0)),
            Move::Plunge(6.0),
            Move::Line(Point::new(13.0, 4.0)),
            Move::Arc {
                to: Point::new(13.0, 8.0),
                centre: Point::new(13.0, 6.0),
                ccw: true,
            },
            Move::Raise,
        ]);
        let sum = program_lengths(&program);
        near(sum.travel_mm, 5.0 + 9.0);
        near(sum.plunge_mm, 9.0);
        near(sum.cut_mm, 10.0 + 2.0 * PI);
        assert_eq!(sum.cuts, 3, "plunge, line, arc");
    }
}
