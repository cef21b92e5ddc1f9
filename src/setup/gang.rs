//! A clamping of edge-up cutting: sticks side by side against an angled fence.
//!
//! The setup's frame: sticks along +x from their datum ends, the gang along +y, z = 0 at the bed under
//! the sticks. x = y = 0 is where the fence's face meets the first rail's inner side.

use nalgebra::{Matrix3x4, Vector3};

use crate::geom::{Point, Vec2, cos_deg, cot_deg, sin_deg};
use crate::lattice::Edge;

/// Room kept between a cut and anything that must not be cut: fence, hold, outer side of a rail, mm.
pub const ROOM: f64 = 1.0;
/// Where a stick of a gang comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seat {
    /// Members are cut from it.
    Kept,
    /// A spare.
    Spare,
    /// Any stick of the same face and depth that fills an outermost place.
    Dummy,
}

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
    /// Sticks of each load, from the first rail on; each load has the same number.
    pub loads: Vec<Vec<Seat>>,
    /// Face of a stick, mm.
    pub face: f64,
    /// Depth of a stick, mm.
    pub depth: f64,
    /// Length of a stick, mm.
    pub length: f64,
    /// How far a datum end lies from the fence along its centre line, mm.
    pub offset: f64,
    /// How far the facets of the datum end run back along the stick, as a share of half the face.
    pub point_cot: f64,
    /// The slots, shallow ones first, then from the datum end on.
    pub slots: Vec<Slot>,
    /// The orientation mark, cut before the slots.
    pub mark: Option<Slot>,
    /// Thickness of the rails, mm.
    pub rail: f64,
    /// Width of the bars that hold the gang down, mm.
    pub hold: f64,
}

impl Gang {
    /// Sticks of a load.
    #[must_use]
    pub fn sticks(&self) -> usize {
        self.loads.first().map_or(0, Vec::len)
    }

    /// Width of the gang without its rails, mm.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.sticks() as f64 * self.face
    }

    /// Datum end of stick `i`, from 0, on its centre line.
    #[must_use]
    pub fn datum(&self, i: usize) -> Point {
        let y = (i as f64 + 0.5) * self.face;
        Point::new(y * cot_deg(self.fence_deg) + self.offset, y)
    }

    /// Carries the frame of stick `i` (x from the datum end, y to the left of the centre line seen from
    /// the front, z from the back edge) to the setup; determinant +1.
    #[must_use]
    pub fn to_setup(&self, i: usize) -> Matrix3x4<f64> {
        let Point { x, y } = self.datum(i);
        // With the back edge up, the stick is turned over about its long axis.
        let (sign, z) = match self.edge {
            Edge::Front => (1.0, 0.0),
            Edge::Back => (-1.0, self.depth),
        };
        Matrix3x4::from_columns(&[
            Vector3::x(),
            Vector3::y() * sign,
            Vector3::z() * sign,
            Vector3::new(x, y, z),
        ])
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

    /// What lies free for the bars that hold the gang down, at the fence and at the far end, square to the
    /// fence, mm.
    #[must_use]
    pub fn hold_room(&self) -> [f64; 2] {
        let [near, far] = self.reach();
        let end = self.from_fence(self.length) - 0.5 * self.face * cos_deg(self.fence_deg).abs();
        [near, end - far]
    }

    /// The bars that hold the gang down: each a band between two distances from the fence's face, mm,
    /// over the whole gang and its rails.
    #[must_use]
    pub fn holds(&self) -> [[f64; 2]; 2] {
        let far = self.reach()[1] + ROOM;
        [[ROOM, ROOM + self.hold], [far, far + self.hold]]
    }

    /// A band between two distances from the fence's face, mm, over gang and rails: its corners, counter-
    /// clockwise from the first rail's outer side.
    #[must_use]
    pub fn band(&self, distances: [f64; 2]) -> [Point; 4] {
        self.band_past(distances, self.rail)
    }

    /// The fence, as a band of this width that ends past the gang by the tool's diameter, as its face is
    /// milled.
    #[must_use]
    pub fn fence(&self, width: f64, radius: f64) -> [Point; 4] {
        self.band_past([-width, 0.0], self.fence_past(radius))
    }

    /// How far past the gang the fence ends, across the sticks, mm.
    fn fence_past(&self, radius: f64) -> f64 {
        (2.0 * radius * self.along().y).min(self.rail)
    }

    /// A band between two distances from the fence's face that ends `past` mm beyond the gang.
    fn band_past(&self, [near, far]: [f64; 2], past: f64) -> [Point; 4] {
        let (low, high) = (-past, self.width() + past);
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

    /// How thick a rail must be, mm, so that a tool of this radius stays within it.
    #[must_use]
    pub fn rail_needed(&self, radius: f64) -> f64 {
        let (s, c) = (sin_deg(self.fence_deg), cos_deg(self.fence_deg).abs());
        self.cuts()
            .map(|slot| {
                let aside = (0.5 * slot.width - radius).max(0.0);
                self.overrun(slot) * s + aside * c + radius + ROOM
            })
            .fold(0.0, f64::max)
    }

    /// Where the rails begin and end along x: clear of the fence, past every cut, mm; the rail at y < 0
    /// first.
    #[must_use]
    pub fn rail_ends(&self, radius: f64) -> [[f64; 2]; 2] {
        let cot = cot_deg(self.fence_deg);
        let far = (self.reach()[1] + radius + ROOM) / sin_deg(self.fence_deg);
        let ends = |y0: f64, y1: f64| {
            let start = (y0 * cot).max(y1 * cot) + ROOM;
            [
                start,
                far + (y0 * cot).max(y1 * cot) + self.rail * cot.abs(),
            ]
        };
        let (w, past) = (self.width(), self.fence_past(radius));
        [ends(-past, 0.0), ends(w, w + past)]
    }
}

/// How far past the tool's widest point a slot's path goes, mm.
const OVERRUN: f64 = 0.5;
