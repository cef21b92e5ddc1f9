//! What all clampings of a class of sticks remove together, mapped back to each stick of the gang; and
//! what they leave alone: fence, bed, holds, and everything outside the rails.

use kurbo::{Point, Rect, Vec2};

use super::ReplayFault;
use super::region::Region;
use super::slab::{NOTHING, SAME_HEIGHT, SweptMove, largest, slabs, swept};
use crate::geom::{REPLAY, atan2_deg, cot_deg, sin_deg};
use crate::lattice::{Edge, Void};
use crate::setup::{Gang, GangStick, MARK_DEPTH};

/// The cuts of one clamping, read back from its program.
#[derive(Debug, Clone, Copy)]
pub struct GangCuts<'a> {
    /// The clamping.
    pub gang: &'a Gang,
    /// Its cuts, in the setup's frame.
    pub cuts: &'a [SweptMove],
    /// Of the cutter, mm.
    pub radius: f64,
}

/// Compares what all clampings of a class remove from every stick of the gang with the notches of the
/// class and the orientation mark: at every height, nothing more and nothing less than [`REPLAY`] allows.
/// Gives what is missing from a stick that is kept, `x` from its datum end.
///
/// # Errors
/// Every stick that would not come out as intended, and every cut that meets what must not be cut; clampings that are
/// none, or hold different gangs.
pub fn prove_gangs(
    stick: &GangStick,
    clampings: &[GangCuts<'_>],
) -> Result<Vec<Void>, Vec<ReplayFault>> {
    let seats = seats(clampings)?;
    let mut faults = Vec::new();
    for c in clampings {
        faults.extend(level(c.cuts));
        faults.extend(left_alone(c));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let swept: Vec<Swept<'_>> = clampings.iter().map(Swept::of).collect();
    for seat in 0..seats {
        if let Some(fault) = compare(stick, &swept, seat) {
            faults.push(fault);
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    // Outermost seats are no members: the first one that is kept.
    let seat = 1.min(seats - 1);
    let voids: Result<Vec<Vec<Void>>, ReplayFault> =
        swept.iter().map(|c| voids(stick, c, seat)).collect();
    Ok(voids.map_err(|fault| vec![fault])?.concat())
}

/// How many sticks lie in every clamping: one at least.
fn seats(clampings: &[GangCuts<'_>]) -> Result<usize, Vec<ReplayFault>> {
    let mut counts = clampings.iter().map(|c| c.gang.sticks());
    let what = match counts.next() {
        None => "no clamping cuts these sticks",
        Some(0) => "a clamping without sticks",
        Some(seats) if counts.all(|other| other == seats) => return Ok(seats),
        Some(_) => "clampings with different numbers of sticks",
    };
    Err(vec![ReplayFault {
        rule: "plan",
        line: None,
        what: what.into(),
    }])
}

/// Cuts that turn or change height on their way: none may.
pub(super) fn level(cuts: &[SweptMove]) -> Vec<ReplayFault> {
    cuts.iter()
        .filter(|c| c.arc.is_some() || c.is_sloped())
        .map(|c| ReplayFault {
            rule: "level-cuts",
            line: Some(c.line),
            what: "slots are cut straight and level".into(),
        })
        .collect()
}

/// Cuts that meet fence, bed or holds, or leave the rails.
fn left_alone(c: &GangCuts<'_>) -> Vec<ReplayFault> {
    let (gang, radius) = (c.gang, c.radius);
    let away = gang.away();
    let holds = gang.holds();
    let rails = gang.rails(radius);
    let [low, high] = gang.span();
    let mut faults = Vec::new();
    for cut in c.cuts {
        // What lies between its ends, too.
        let ends = [cut.from, cut.to].map(|p| (p, away.dot(Vec2::new(p[0], p[1]))));
        let [(_, one), (_, other)] = ends;
        let swept = [one.min(other) - radius, one.max(other) + radius];
        let under = |h: &&[f64; 2]| swept[1] > h[0] + REPLAY && swept[0] < h[1] - REPLAY;
        let hold = holds.iter().find(under);
        let mut say = |rule, what: String| {
            faults.push(ReplayFault {
                rule,
                line: Some(cut.line),
                what,
            });
        };
        for (p, d) in ends {
            if d - radius < REPLAY {
                say(
                    "fence-whole",
                    format!("cuts within {:.3} mm of the fence", d - radius),
                );
            } else if let Some(hold) = hold {
                let [from, to] = hold.map(|d| gang.along_rails(d)[0]);
                say(
                    "hold-clear",
                    format!("cuts under the hold at x {from:.3} to {to:.3} on the reference rail"),
                );
            }
            if p[1] - radius < low - gang.rail + REPLAY || p[1] + radius > high + gang.rail - REPLAY
            {
                say("rail-end", format!("cuts through a rail at y {:.3}", p[1]));
            }
            let rail = if p[1] >= low && p[1] <= high {
                None
            } else {
                // The reference rail lies where the gang does not.
                Some(rails[usize::from(gang.side() * p[1] > 0.0)])
            };
            if rail.is_some_and(|r| p[0] - radius < r.x0 || p[0] + radius > r.x1) {
                say(
                    "rail-end",
                    format!("cuts past the end of a rail at x {:.3}", p[0]),
                );
            }
            if p[2] < REPLAY {
                say("bed", format!("cuts the bed at z {:.3}", p[2]));
            }
        }
    }
    faults.dedup_by(|a, b| a.rule == b.rule && a.line == b.line);
    faults
}

/// A height of the setup in the frame of the stick, and back: the same both ways.
fn turned(gang: &Gang, z: f64) -> f64 {
    match gang.edge {
        Edge::Front => z,
        Edge::Back => gang.depth - z,
    }
}

/// What a clamping sweeps over its gang, height by height.
struct Swept<'a> {
    gang: &'a Gang,
    /// The heights of its cuts in the setup, ascending, and what is swept at or below each.
    floors: Vec<(f64, Region)>,
}

impl<'a> Swept<'a> {
    fn of(c: &GangCuts<'a>) -> Self {
        let gang = c.gang;
        let ends = [
            gang.datum(0).x,
            gang.datum(gang.sticks().saturating_sub(1)).x,
        ];
        let [low, high] = gang.span();
        let wood = Region::rect(Rect::new(
            ends[0].min(ends[1]),
            low,
            ends[0].max(ends[1]) + gang.length,
            high,
        ));
        let mut heights: Vec<f64> = c.cuts.iter().map(|m| m.from[2].min(m.to[2])).collect();
        heights.sort_by(f64::total_cmp);
        heights.dedup_by(|b, a| *b - *a <= SAME_HEIGHT);
        let at = |z: f64| (z, swept(c.cuts, c.radius, z).both(&wood));
        Self {
            gang,
            floors: heights.into_iter().map(at).collect(),
        }
    }

    /// Heights of its cuts in the frame of the stick.
    fn levels(&self) -> impl Iterator<Item = f64> + '_ {
        self.floors.iter().map(|f| turned(self.gang, f.0))
    }

    /// What it removes from the stick in a seat at a slab of the stick's own heights, in the plan of the
    /// stick seen from its front.
    fn removed(&self, seat: usize, (bottom, top): (f64, f64)) -> Region {
        let (lowest, over) = match self.gang.edge {
            Edge::Front => (bottom, false),
            Edge::Back => (self.gang.depth - top, true),
        };
        let below = self
            .floors
            .iter()
            .rev()
            .find(|f| f.0 <= lowest + SAME_HEIGHT);
        let datum = self.gang.datum(seat);
        let y = if over { datum.y } else { -datum.y };
        below.map_or_else(Region::default, |(_, region)| {
            region.moved(Vec2::new(-datum.x, y), over)
        })
    }
}

/// A notch or mark as it is meant: its walls' angle seen from the front, and its heights.
struct Meant {
    at: f64,
    half: f64,
    angle_deg: f64,
    heights: [f64; 2],
    edge: Edge,
}

impl Meant {
    /// Everything that is meant to be cut out of a stick.
    fn all(stick: &GangStick, clampings: &[Swept<'_>]) -> Vec<Self> {
        let seen = |edge: Edge, angle: f64| match edge {
            Edge::Front => angle,
            Edge::Back => 180.0 - angle,
        };
        let heights = |edge: Edge, deep: f64| match edge {
            Edge::Front => [stick.depth - deep, stick.depth],
            Edge::Back => [0.0, deep],
        };
        let notches = stick.notches.iter().map(|n| Self {
            at: n.at,
            half: 0.5 * n.width,
            angle_deg: seen(n.edge, n.angle_deg),
            heights: heights(n.edge, n.depth),
            edge: n.edge,
        });
        let marks = clampings.iter().filter_map(|c| {
            let mark = c.gang.mark?;
            Some(Self {
                at: mark.at,
                half: 0.5 * mark.width,
                angle_deg: seen(c.gang.edge, c.gang.fence_deg),
                heights: heights(c.gang.edge, MARK_DEPTH),
                edge: c.gang.edge,
            })
        });
        notches.chain(marks).collect()
    }

    /// Its plan shape across a bar, with walls moved out by `more`.
    fn shape(&self, face: f64, more: f64) -> Vec<Point> {
        let run = (self.half + more) / sin_deg(self.angle_deg);
        let lean = face * cot_deg(self.angle_deg);
        vec![
            Point::new(self.at - run - lean, -face),
            Point::new(self.at + run - lean, -face),
            Point::new(self.at + run + lean, face),
            Point::new(self.at - run + lean, face),
        ]
    }

    /// Whether it takes in a slab, its floor moved down by `more`.
    fn covers(&self, (bottom, top): (f64, f64), more: f64) -> bool {
        let [lo, hi] = self.heights;
        let (lo, hi) = match self.edge {
            Edge::Front => (lo - more, hi),
            Edge::Back => (lo, hi + more),
        };
        lo <= bottom + SAME_HEIGHT && top <= hi + SAME_HEIGHT
    }
}

fn compare(stick: &GangStick, clampings: &[Swept<'_>], seat: usize) -> Option<ReplayFault> {
    let meant = Meant::all(stick, clampings);
    let half = 0.5 * stick.face;
    let wood = Region::rect(Rect::new(0.0, -half, stick.length, half));
    let mut levels: Vec<f64> = clampings.iter().flat_map(Swept::levels).collect();
    for m in &meant {
        let floor = match m.edge {
            Edge::Front => m.heights[0],
            Edge::Back => m.heights[1],
        };
        levels.extend([floor - REPLAY, floor, floor + REPLAY]);
    }
    for slab in slabs(levels, stick.depth) {
        let shapes = |more: f64| {
            let list: Vec<Vec<Point>> = meant
                .iter()
                .filter(|m| m.covers(slab, more))
                .map(|m| m.shape(stick.face, more))
                .collect();
            Region::union_of(list.iter().map(Vec::as_slice)).both(&wood)
        };
        let gone = clampings
            .iter()
            .fold(Region::default(), |sum, c| sum.plus(&c.removed(seat, slab)))
            .both(&wood);
        let wrong = [
            (
                "piece-whole",
                gone.minus(&shapes(REPLAY)),
                "too much would be cut",
            ),
            (
                "waste-removed",
                shapes(-REPLAY).minus(&gone),
                "would be left standing",
            ),
        ];
        for (rule, region, what) in wrong {
            if let Some((at, area)) = largest(&region) {
                return Some(ReplayFault {
                    rule,
                    line: None,
                    what: format!(
                        "stick {} in place {} at {:.3} from its datum end, between z {:.3} and {:.3}: \
                         {area:.4} mm2 {what}",
                        stick.id,
                        seat + 1,
                        at.x,
                        slab.0,
                        slab.1
                    ),
                });
            }
        }
    }
    None
}

/// What a clamping removes from the stick in a seat, as bands between heights.
///
/// # Errors
/// A slab in which the walls of slots do not run across the whole face: they then tell no slope.
fn voids(stick: &GangStick, c: &Swept<'_>, seat: usize) -> Result<Vec<Void>, ReplayFault> {
    let q = 0.25 * stick.face;
    let mut list: Vec<Void> = Vec::new();
    for slab in slabs(c.levels(), stick.depth) {
        let gone = c.removed(seat, slab);
        let on = |y: f64| -> Vec<f64> {
            let mut xs: Vec<f64> = gone
                .edges()
                .map(|(a, b)| if a.y < b.y { (a, b) } else { (b, a) })
                .filter(|(a, b)| a.y <= y && y < b.y)
                .map(|(a, b)| a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x))
                .collect();
            xs.sort_by(f64::total_cmp);
            xs
        };
        let (low, mid, high) = (on(-q), on(0.0), on(q));
        if low.len() != mid.len() || mid.len() != high.len() {
            return Err(ReplayFault {
                rule: "plan",
                line: None,
                what: format!(
                    "stick {}: a slot between z {:.3} and {:.3} does not run across the whole face",
                    stick.id, slab.0, slab.1
                ),
            });
        }
        let walls = mid.chunks_exact(2);
        let slopes = low.chunks_exact(2).zip(high.chunks_exact(2));
        for (wall, (below, above)) in walls.zip(slopes) {
            let lean = 0.5 * (above[0] - below[0] + above[1] - below[1]);
            let void = Void {
                z0: slab.0,
                z1: slab.1,
                angle_deg: atan2_deg(2.0 * q, lean),
                lo: wall[0],
                hi: wall[1],
            };
            let same = |v: &&mut Void| {
                (v.z0 - void.z1).abs() <= SAME_HEIGHT
                    && (v.lo - void.lo).abs() + (v.hi - void.hi).abs() <= NOTHING
            };
            match list.iter_mut().find(same) {
                Some(above) => above.z0 = void.z0,
                None => list.push(void),
            }
        }
    }
    Ok(list)
}
