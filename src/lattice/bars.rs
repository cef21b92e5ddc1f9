//! Members as plan shapes: where the outline cuts each line of a family, and how its ends are cut.

use kurbo::Point;

use super::error::LatticeError;
use super::family::{Family, FamilyId};
use super::model::{End, EndShape, LineId};
use super::nodes::Lines;
use super::outline::{Outline, SideOf};
use crate::geom::{Convex, SAME_FIGURE, sin_deg, tidy};
use crate::panel::{Method, Panel};
use crate::table::Table;

/// Two places along a bar closer than this are one place: round-off of a clip, mm.
const ROUND_OFF: f64 = 1e-9;
/// A side nearer than this to a bar's direction cuts it along its grain over more than eleven times its
/// face, degrees (common practice, no source).
const RIPPED_DEG: f64 = 5.0;

/// A bar as a plan shape, before it has joints.
#[derive(Debug)]
pub(super) struct Bar {
    pub(super) family: FamilyId,
    pub(super) line: LineId,
    pub(super) offset: f64,
    /// Along the axis from the foot of the origin's perpendicular to the member's start.
    pub(super) origin: f64,
    pub(super) start: Point,
    pub(super) end: Point,
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) ends: [End; 2],
    pub(super) trimmed_by_hand: [bool; 2],
    /// Wood that stays or is trimmed after glue-up: what a notch must reach to be cut.
    pub(super) wood: Convex,
    /// The bar as cut.
    pub(super) body: Convex,
    /// Where the wood has its full face, along the centre line from the start.
    pub(super) full: (f64, f64),
}

/// The members' bars, family by family, left to right or bottom to top.
pub(super) fn bars(
    panel: &Panel,
    families: &Table<Family>,
    outline: &Outline,
    lines: &Lines,
) -> Result<Vec<Bar>, Vec<LatticeError>> {
    let mut bars: Vec<Bar> = Vec::new();
    let mut faults: Vec<LatticeError> = Vec::new();
    for (f, family) in families.entries() {
        let first = bars.len();
        let mut least_overhang: f64 = 0.0;
        for line in lines.of(f) {
            let offset = lines.table[line].offset;
            if let Some(clip) = clip(family, offset, outline, ROUND_OFF) {
                if let Some(side) = ripping(family, offset, outline) {
                    let fault = LatticeError::SideRipsBar {
                        side: side.name.clone(),
                        family: family.name.clone(),
                        half_face: 0.5 * family.face,
                    };
                    if !faults.contains(&fault) {
                        faults.push(fault);
                    }
                }
                let (bar, overhang) = bar(panel, family, (f, line), offset, &clip, outline);
                least_overhang = least_overhang.max(overhang);
                bars.push(bar);
            }
        }
        if bars.len() == first {
            faults.push(LatticeError::NoMembers {
                family: family.name.clone(),
            });
        }
        if family.is_upright() {
            // Offsets of uprights grow to the left; ids grow to the right.
            bars[first..].reverse();
        }
        let overhang = panel.outline.overhang;
        if overhang > 0.0 && overhang < least_overhang - ROUND_OFF {
            faults.push(LatticeError::ShortOverhang {
                overhang,
                least: least_overhang,
                family: family.name.clone(),
            });
        }
    }
    if faults.is_empty() {
        Ok(bars)
    } else {
        Err(faults)
    }
}

/// The side that would rip a bar: one that runs within [`RIPPED_DEG`] of its direction and cuts into it.
fn ripping<'o>(family: &Family, offset: f64, outline: &'o Outline) -> Option<&'o SideOf> {
    let half = 0.5 * family.face - SAME_FIGURE;
    let mut kept: Option<Convex> = None;
    outline.sides.iter().find(|side| {
        let off = side.angle_to(family);
        if side.is_along(family) || off.min(180.0 - off) > RIPPED_DEG - ROUND_OFF {
            return false;
        }
        let kept = kept.get_or_insert_with(|| {
            let region = &outline.region;
            region.within(family.normal(), offset - half, offset + half)
        });
        let places = kept.corners().iter().filter_map(|corner| {
            let at = corner.to_vec2();
            ((side.normal.dot(at) - side.offset).abs() <= SAME_FIGURE)
                .then(|| family.axis().dot(at))
        });
        let (lo, hi) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), p| {
            (lo.min(p), hi.max(p))
        });
        hi - lo > family.face
    })
}

/// Where a line enters and leaves the outline: along its axis, with the sides' indices.
struct Clip {
    enter: (f64, usize),
    leave: (f64, usize),
}

/// `least_room` is how far inside a side along it a line must lie: a bar's own edge may lie on the side.
fn clip(family: &Family, offset: f64, outline: &Outline, least_room: f64) -> Option<Clip> {
    let foot = family.normal() * offset;
    let mut enter: Option<(f64, usize)> = None;
    let mut leave: Option<(f64, usize)> = None;
    // A line through a corner meets two sides at once. Not round-off decides: the end takes the lesser
    // angle, so that bars through opposite corners are cut alike.
    let angle = |s: usize| outline.sides[s].angle_to(family);
    let sooner = |t: f64, s: usize, known: Option<(f64, usize)>| {
        known.is_none_or(|(at, side)| {
            t < at - ROUND_OFF || (t < at + ROUND_OFF && angle(s) < angle(side))
        })
    };
    for (s, side) in outline.sides.iter().enumerate() {
        let towards = side.normal.dot(family.axis());
        let room = side.offset - side.normal.dot(foot);
        if side.is_along(family) {
            if room <= least_room {
                return None;
            }
        } else if towards > 0.0 {
            let t = room / towards;
            if sooner(t, s, leave) {
                leave = Some((t, s));
            }
        } else {
            let t = room / towards;
            if sooner(-t, s, enter.map(|(at, side)| (-at, side))) {
                enter = Some((t, s));
            }
        }
    }
    let (enter, leave) = (enter?, leave?);
    (leave.0 - enter.0 > ROUND_OFF).then_some(Clip { enter, leave })
}

/// An end along the outline: `side` is the one that the centre line meets, `of` that which an edge meets.
fn skew_end(
    family: &Family,
    outline: &Outline,
    side: usize,
    rims: &[Option<Clip>; 2],
    of: fn(&Clip) -> usize,
) -> End {
    let angle_deg = outline.sides[side].angle_to(family);
    let shape = if rims.iter().any(|rim| rim.as_ref().map(of) != Some(side)) {
        EndShape::Point
    } else if angle_deg == 90.0 {
        EndShape::Square
    } else {
        EndShape::Skew
    };
    End { angle_deg, shape }
}

/// A bar, and the least overhang that its ends need.
fn bar(
    panel: &Panel,
    family: &Family,
    (f, line): (FamilyId, LineId),
    offset: f64,
    at: &Clip,
    outline: &Outline,
) -> (Bar, f64) {
    let (n, d, half) = (family.normal(), family.axis(), 0.5 * family.face);
    let kept = outline.region.within(n, offset - half, offset + half);
    let (lo, hi) = kept.extent(d);
    let length = at.leave.0 - at.enter.0;
    let snap = |v: f64, to: f64| if (v - to).abs() <= ROUND_OFF { to } else { v };
    let tips = (snap(lo - at.enter.0, 0.0), snap(hi - at.enter.0, length));
    let rect = |from: f64, to: f64| {
        Convex::from_corners(
            [(from, -half), (to, -half), (to, half), (from, half)]
                .map(|(x, y)| family.point(offset + y, at.enter.0 + x))
                .to_vec(),
        )
    };
    // Where the two long edges of the bar enter and leave, for the shape of the ends.
    let rims = [-half, half].map(|y| clip(family, offset + y, outline, -SAME_FIGURE));
    let rim = |pick: fn(&Clip) -> f64| rims.iter().flatten().map(pick).collect::<Vec<f64>>();
    let skew_ends = [
        skew_end(family, outline, at.enter.1, &rims, |c| c.enter.1),
        skew_end(family, outline, at.leave.1, &rims, |c| c.leave.1),
    ];
    let narrow = (
        rim(|c| c.enter.0).into_iter().fold(at.enter.0, f64::max) - at.enter.0,
        rim(|c| c.leave.0).into_iter().fold(at.leave.0, f64::min) - at.enter.0,
    );
    let square = [End {
        angle_deg: 90.0,
        shape: EndShape::Square,
    }; 2];
    let overhang = panel.outline.overhang;
    let mut least = 0.0;
    let (from, to, ends, wood, body, full, by_hand);
    if overhang > 0.0 {
        for (side, reach) in [(at.enter.1, -tips.0), (at.leave.1, tips.1 - length)] {
            let a = outline.sides[side].angle_to(family);
            least = f64::max(least, reach + panel.outline.trim_kerf / sin_deg(a));
        }
        (from, to, ends) = (-overhang, length + overhang, square);
        (wood, body) = (rect(from, to), rect(from, to));
        (full, by_hand) = ((from, to), [false; 2]);
    } else {
        (wood, full) = (kept, narrow);
        match panel.cut.method {
            Method::Flat => {
                (from, to, ends) = (tips.0, tips.1, square);
                body = rect(from, to);
                by_hand = skew_ends.map(|e| e.shape != EndShape::Square);
            }
            Method::EdgeUp => {
                (from, to, ends) = (0.0, length, skew_ends);
                body = wood.clone();
                by_hand = [false; 2];
            }
        }
    }
    let bar = Bar {
        family: f,
        line,
        offset,
        origin: at.enter.0,
        start: family.point(offset, at.enter.0),
        end: family.point(offset, at.leave.0),
        from: tidy(from),
        to,
        ends,
        trimmed_by_hand: by_hand,
        wood,
        body,
        full,
    };
    (bar, least)
}
