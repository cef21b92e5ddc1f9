//! A clamping of edge-up cutting: sticks side by side against an angled fence and a reference rail.
//!
//! The setup's frame: sticks along +x from their datum ends, z = 0 at the bed under the sticks. The reference
//! rail's inner face is y = 0, and the fence's face passes through x = y = 0. The rail lies on the side where
//! it meets the fence obtusely: in front of the gang, which then lies along +y, for a fence at more than 90
//! degrees; else behind it, with the gang along -y. Stick 0 lies at the rail in every setup, so that the gang
//! is reversed between the two hands of slots.

use kurbo::Rect;
use nalgebra::Translation3;

use super::corner::{rail_start, side_of};
use crate::geom::{Frame, Point, Vec2, bounds, cos_deg, cot_deg, sin_deg};
use crate::lattice::{Edge, Turn};
use crate::non_empty::NonEmpty;
use crate::stock::StickId;

/// Room kept between a cut and anything that must not be cut: fence, outer side of a rail, mm.
pub const ROOM: f64 = 1.0;
/// Room kept between a hold and the walls of cuts, square to them, mm.
pub const HOLD_ROOM: f64 = 5.0;
/// Least thickness of a rail, which is screwed down through it, mm (from memory).
pub const LEAST_RAIL: f64 = 30.0;
/// How much lower than the sticks fence and rails are at the least, mm, so that holds bear on the sticks (from
/// memory).
pub const BATTEN_BELOW: f64 = 0.3;
/// How far the reference rail reaches past the sticks' far ends and every cut, mm.
pub(super) const RAIL_PAST: f64 = 2.0;

/// What lies in a place of a gang.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seat {
    /// A stick that members are cut from.
    Kept(StickId),
    /// A spare.
    Spare(StickId),
    /// Any stick of the same face and depth that fills an outermost place.
    Dummy,
}

impl Seat {
    /// Whether members are cut from what lies there.
    #[must_use]
    pub fn is_kept(self) -> bool {
        matches!(self, Self::Kept(_))
    }

    /// Whether a spare lies there.
    #[must_use]
    pub fn is_spare(self) -> bool {
        matches!(self, Self::Spare(_))
    }

    /// The stick of the plan that lies there; `None` of a dummy.
    #[must_use]
    pub fn stick(self) -> Option<StickId> {
        match self {
            Self::Kept(stick) | Self::Spare(stick) => Some(stick),
            Self::Dummy => None,
        }
    }
}

/// What lies in the places of a gang, from the reference rail on.
pub type Load = NonEmpty<Seat>;

/// A straight cut across the gang.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slot {
    /// Where it crosses a stick's centre line, from the datum end, mm.
    pub at: f64,
    /// Across the slot, mm.
    pub width: f64,
    /// Height of its floor above the bed, mm.
    pub floor: f64,
}

/// One clamping: a gang of sticks of one class, one edge up.
#[derive(Debug, Clone, PartialEq)]
pub struct Gang {
    /// Name of the stick class.
    pub id: String,
    /// Which edge of the sticks is up.
    pub edge: Edge,
    /// Direction of fence and slots, degrees from +x.
    pub fence_deg: f64,
    /// The loads; each has as many sticks.
    pub loads: NonEmpty<Load>,
    /// Face of a stick, the greatest reading, mm.
    pub face: f64,
    /// Greatest less least face of a stick, mm.
    pub spread: f64,
    /// Depth of a stick, mm.
    pub depth: f64,
    /// Length of a stick, mm.
    pub length: f64,
    /// How far a datum end lies from the fence along its centre line, mm.
    pub offset: f64,
    /// How far the facets of the datum end run back along the stick, as a share of half the face.
    pub point_cot: f64,
    /// The slots, shallow ones first, then from the datum end on.
    pub slots: NonEmpty<Slot>,
    /// The orientation mark, cut before the slots.
    pub mark: Option<Slot>,
    /// Thickness of the rails, mm.
    pub rail: f64,
    /// Height of fence and rails, mm: lower than the sticks, so that holds bear on these.
    pub batten: f64,
    /// Width of the bars that hold the gang down, mm.
    pub hold: f64,
}

impl Gang {
    /// Sticks of a load.
    #[must_use]
    pub fn sticks(&self) -> usize {
        self.loads.first().len()
    }

    /// Width of the gang without its rails, mm.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.sticks() as f64 * self.face
    }

    /// Height of its deepest floor above the bed, mm.
    #[must_use]
    pub fn deepest(&self) -> f64 {
        let floors = self.slots.iter().map(|s| s.floor);
        floors.fold(f64::INFINITY, f64::min)
    }

    /// 1 where the gang lies along +y, -1 where it lies along -y: away from the reference rail.
    #[must_use]
    pub fn side(&self) -> f64 {
        side_of(self.fence_deg)
    }

    /// Least and greatest y of the gang, mm.
    #[must_use]
    pub fn span(&self) -> [f64; 2] {
        let far = self.side() * self.width();
        [far.min(0.0), far.max(0.0)]
    }

    /// y of the second rail's inner face, where every stick has the greatest face, mm.
    #[must_use]
    pub fn second_face(&self) -> f64 {
        self.side() * self.width()
    }

    /// Datum end of stick `i`, from 0 at the reference rail, on its centre line.
    #[must_use]
    pub fn datum(&self, i: usize) -> Point {
        let y = self.side() * (i as f64 + 0.5) * self.face;
        Point::new(y * cot_deg(self.fence_deg) + self.offset, y)
    }

    /// Carries the frame of stick `i` (x from the datum end, y to the left of the centre line seen from
    /// the front, z from the back edge) to the setup.
    #[must_use]
    pub fn to_setup(&self, i: usize) -> Frame {
        let Point { x, y } = self.datum(i);
        // With the back edge up, the stick is turned over about its long axis.
        let turn = match self.edge {
            Edge::Front => Turn::None,
            Edge::Back => Turn::Over,
        };
        Translation3::new(x, y, 0.0) * turn.frame(self.length, self.depth)
    }

    /// Direction of the slots.
    #[must_use]
    pub fn along(&self) -> Vec2 {
        Vec2::new(cos_deg(self.fence_deg), sin_deg(self.fence_deg))
    }

    /// Direction away from the fence, square to it.
    #[must_use]
    pub fn away(&self) -> Vec2 {
        Vec2::new(sin_deg(self.fence_deg), -cos_deg(self.fence_deg))
    }

    /// How far from the fence's face, square to it, something at `at` along the sticks lies, mm.
    #[must_use]
    pub fn from_fence(&self, at: f64) -> f64 {
        (at + self.offset) * sin_deg(self.fence_deg)
    }

    /// Mark and slots in order of cutting.
    pub fn cuts(&self) -> impl Iterator<Item = &Slot> {
        self.mark.iter().chain(&self.slots)
    }

    /// Nearest and farthest wall of all cuts from the fence's face, square to it, mm.
    #[must_use]
    pub fn reach(&self) -> [f64; 2] {
        self.cuts().fold([f64::INFINITY, 0.0], |[near, far], s| {
            let d = self.from_fence(s.at);
            [near.min(d - 0.5 * s.width), far.max(d + 0.5 * s.width)]
        })
    }

    /// The walls of all cuts, as distances from the fence's face square to it, mm, from the fence on; whether
    /// it is a slot, and no mark.
    fn walls(&self) -> NonEmpty<([f64; 2], bool)> {
        let band = |s: &Slot, slot: bool| {
            let d = self.from_fence(s.at);
            ([d - 0.5 * s.width, d + 0.5 * s.width], slot)
        };
        let mut walls = self.slots.map(|s| band(s, true));
        if let Some(mark) = &self.mark {
            walls.push(band(mark, false));
        }
        walls.sort_by(|a, b| a.0[0].total_cmp(&b.0[0]));
        walls
    }

    /// Where the sticks end at the least, square to the fence, mm.
    fn end(&self) -> f64 {
        self.from_fence(self.length) - 0.5 * self.face * cos_deg(self.fence_deg).abs()
    }

    /// What lies free for the bars that hold the gang down, between the fence and the first cut and past the
    /// last one, square to the fence, mm.
    #[must_use]
    pub fn hold_room(&self) -> [f64; 2] {
        let [near, far] = self.reach();
        [near - ROOM, self.end() - far]
    }

    /// The bars that hold the gang down: each a band between two distances from the fence's face, mm, over
    /// the whole gang and its rails, from the fence on. One lies between the fence and the first cut, one past
    /// the last, and one in every second room between slots that is wide enough; each in the middle of its
    /// room, [`HOLD_ROOM`] from any wall.
    #[must_use]
    pub fn holds(&self) -> NonEmpty<[f64; 2]> {
        let walls = self.walls();
        let middle = |lo: f64, hi: f64, least: f64, most: f64| {
            let at = 0.5 * (lo + hi - self.hold);
            at.min(most - self.hold).max(least)
        };
        let near = walls.first().0[0];
        let lead = 0.5 * (near - self.hold);
        let lead = lead.min(near - HOLD_ROOM - self.hold);
        // Half of it lies on the second rail, which begins clear of the fence, as far as the first cut allows.
        let (s, cot) = (sin_deg(self.fence_deg), cot_deg(self.fence_deg).abs());
        let borne = (ROOM + 0.5 * self.rail * cot) * s - 0.5 * self.hold;
        let lead = lead.max(borne.min(near - HOLD_ROOM - self.hold));
        let mut holds = NonEmpty::one([lead, lead + self.hold]);
        // The room before the second slot stays open, so that every slot has a hold at one of its sides.
        let mut due = false;
        for pair in walls.windows(2) {
            let [(a, true), (b, true)] = pair else {
                continue;
            };
            let (lo, hi) = (a[1] + HOLD_ROOM, b[0] - HOLD_ROOM);
            if due && hi - lo >= self.hold {
                let at = middle(a[1], b[0], lo, hi);
                holds.push([at, at + self.hold]);
                due = false;
            } else {
                due = true;
            }
        }
        let far = walls.last().0[1];
        let tail = middle(far, self.end(), far + HOLD_ROOM, self.end());
        holds.push([tail, tail + self.hold]);
        holds
    }

    /// Where a line at distance `d` from the fence's face crosses the inner faces of the reference rail and
    /// of the second one, along x, mm.
    #[must_use]
    pub fn along_rails(&self, d: f64) -> [f64; 2] {
        [self.at(d, 0.0).x, self.at(d, self.second_face()).x]
    }

    /// A band between two distances from the fence's face, mm, over gang and rails: its corners, from those
    /// of lesser y on.
    #[must_use]
    pub fn band(&self, distances: [f64; 2]) -> [Point; 4] {
        self.band_past(distances, self.rail)
    }

    /// A band between two distances from the fence's face that ends `past` mm beyond the gang.
    fn band_past(&self, [near, far]: [f64; 2], past: f64) -> [Point; 4] {
        let [low, high] = self.span();
        let (low, high) = (low - past, high + past);
        [(near, low), (far, low), (far, high), (near, high)].map(|(d, y)| self.at(d, y))
    }

    /// Where the line at distance `d` from the fence's face reaches `y`.
    #[must_use]
    pub fn at(&self, d: f64, y: f64) -> Point {
        let (along, start) = (self.along(), self.away() * d);
        (start + along * ((y - start.y) / along.y)).to_point()
    }

    /// A slot or mark over the gang, to the ends of the way of the tool's centre: corners as of a band.
    #[must_use]
    pub fn slot_band(&self, slot: &Slot) -> [Point; 4] {
        let (d, half) = (self.from_fence(slot.at), 0.5 * slot.width);
        self.band_past([d - half, d + half], self.overrun(slot) * self.along().y)
    }

    /// How far the centre of the tool goes past both ends of a slot's centre line, along it: so far that
    /// the wall is cut at the tool's widest point, and a little more, mm.
    #[must_use]
    pub fn overrun(&self, slot: &Slot) -> f64 {
        0.5 * slot.width * cot_deg(self.fence_deg).abs() + OVERRUN
    }

    /// How thick a rail must be, mm, so that a tool of this radius stays within it, and the gang may turn out
    /// as much narrower as its sticks have measured.
    #[must_use]
    pub fn rail_needed(&self, radius: f64) -> f64 {
        let (s, c) = (sin_deg(self.fence_deg), cos_deg(self.fence_deg).abs());
        let cut = self.cuts().map(|slot| {
            let aside = (0.5 * slot.width - radius).max(0.0);
            self.overrun(slot) * s + aside * c + radius + ROOM
        });
        (cut.fold(0.0, f64::max) + self.sticks() as f64 * self.spread).max(LEAST_RAIL)
    }

    /// Where the face of the reference rail begins and ends, along x, as it must be milled for the sticks, mm.
    #[must_use]
    pub fn rail_face(&self, radius: f64) -> [f64; 2] {
        let end = self.datum(0).x + self.length;
        [rail_start(self.fence_deg, radius), end + RAIL_PAST]
    }

    /// The reference rail and the second one, from above, mm. The first begins at the datum corner and reaches
    /// past the sticks' far ends; the second begins clear of the fence. Both reach past every cut.
    #[must_use]
    pub fn rails(&self, radius: f64) -> [Rect; 2] {
        let (s, cot) = (sin_deg(self.fence_deg), cot_deg(self.fence_deg).abs());
        let stagger = self.width() * cot;
        let last = self.sticks() - 1;
        let end = |i: usize| self.datum(i).x + self.length;
        let cut = |slot: &Slot| (self.from_fence(slot.at) + 0.5 * slot.width) / s + radius + ROOM;
        let lean = |slot: &Slot| (self.overrun(slot) * s + radius) * cot;
        let near = self
            .cuts()
            .map(|c| cut(c) + lean(c))
            .fold(self.rail_face(radius)[1], f64::max);
        // A hold lies on the rail with at least half of its width.
        let [from, to] = *self.holds().last();
        let held = (0.5 * (from + to)) / s;
        let near = near.max(held + self.rail * cot);
        let far = self.cuts().map(|c| cut(c) - stagger);
        let far = far.fold(end(last), f64::max);
        let (side, y) = (self.side(), self.second_face());
        [
            Rect::new(
                rail_start(self.fence_deg, radius),
                0.0,
                near,
                -side * self.rail,
            )
            .abs(),
            Rect::new(ROOM - stagger, y, far + RAIL_PAST, y + side * self.rail).abs(),
        ]
    }

    /// Everything that a clamping takes of the bench, from above: sticks, rails, cuts and the fence's face, mm.
    #[must_use]
    pub fn extent(&self, radius: f64) -> Rect {
        let [low, high] = self.span();
        let fence = self.at(0.0, self.second_face());
        let far = self.datum(0).x + self.length;
        let sticks = Rect::new(fence.x.min(0.0), low, far, high);
        let cuts: Vec<Point> = self.cuts().flat_map(|c| self.slot_band(c)).collect();
        let [first, second] = self.rails(radius);
        sticks.union(first).union(second).union(bounds(&cuts))
    }
}

/// How far past the tool's widest point a slot's path goes, mm.
const OVERRUN: f64 = 0.5;
