//! Plan regions of pieces: convex, or with a notch in an end.

use kurbo::{Point, Vec2};

use super::lay::{ONE_POINT, tidied};
use crate::geom::Convex;

/// The plan region of a piece. Where an end is re-entrant its notch runs in to the axis: the parts on either
/// side of the axis are convex.
#[derive(Debug, Clone)]
pub(super) enum Region {
    /// A convex one.
    Whole(Convex),
    /// One with a re-entrant end.
    Halves(Halves),
}

/// Two convex parts that meet along an axis.
#[derive(Debug, Clone)]
pub(super) struct Halves {
    /// Unit vector to the left of the axis.
    normal: Vec2,
    /// `normal · p` on the axis.
    middle: f64,
    left: Convex,
    right: Convex,
}

impl Region {
    /// The region of a ring of corners whose notches, if any, run in to one line along x.
    pub(super) fn of_ring(ring: &[Point]) -> Self {
        let whole = Convex::from_corners(ring.to_vec());
        match reflex(ring).first() {
            Some(&i) => Self::Whole(whole).halved(Vec2::new(0.0, 1.0), ring[i].y),
            None => Self::Whole(whole),
        }
    }

    /// The parts to the left and to the right of an axis, as a region of two.
    pub(super) fn halved(self, normal: Vec2, middle: f64) -> Self {
        match self {
            Self::Whole(whole) => Self::Halves(Halves {
                normal,
                middle,
                left: whole.above(normal, middle),
                right: whole.below(normal, middle),
            }),
            halves @ Self::Halves(_) => halves,
        }
    }

    /// Each part cut by a line of its own through a point: `normals` point out of the left part and the right one.
    pub(super) fn cut_each(self, normals: [Vec2; 2], at: Vec2) -> Self {
        let [left, right] = normals.map(|normal| (normal, normal.dot(at)));
        match self {
            Self::Whole(whole) => Self::Whole(whole.below(left.0, left.1).below(right.0, right.1)),
            Self::Halves(h) => Self::Halves(Halves {
                left: h.left.below(left.0, left.1),
                right: h.right.below(right.0, right.1),
                ..h
            }),
        }
    }

    /// Each part changed.
    pub(super) fn map(self, change: impl Fn(&Convex) -> Convex) -> Self {
        match self {
            Self::Whole(whole) => Self::Whole(change(&whole)),
            Self::Halves(h) => Self::Halves(Halves {
                left: change(&h.left),
                right: change(&h.right),
                ..h
            }),
        }
    }

    /// Keeps the part where `normal · p <= offset`; `normal` is a unit vector.
    pub(super) fn below(&self, normal: Vec2, offset: f64) -> Self {
        self.clone().map(|part| part.below(normal, offset))
    }

    /// Keeps the part where `normal · p >= offset`; `normal` is a unit vector.
    pub(super) fn above(&self, normal: Vec2, offset: f64) -> Self {
        self.below(-normal, -offset)
    }

    /// What it has in common with a convex region.
    pub(super) fn both(&self, other: &Convex) -> Self {
        self.clone().map(|part| part.both(other))
    }

    /// Its convex parts.
    pub(super) fn parts(&self) -> Vec<&Convex> {
        match self {
            Self::Whole(whole) => vec![whole],
            Self::Halves(h) => vec![&h.left, &h.right],
        }
    }

    /// The corners of all its parts.
    pub(super) fn corners(&self) -> Vec<Point> {
        let parts = self.parts();
        parts
            .iter()
            .flat_map(|part| part.corners())
            .copied()
            .collect()
    }

    /// Least and greatest `normal · p` over the corners.
    pub(super) fn extent(&self, normal: Vec2) -> (f64, f64) {
        Convex::from_corners(self.corners()).extent(normal)
    }

    /// Whether two regions share more than an edge.
    pub(super) fn meets(&self, other: &Self) -> bool {
        let (mine, its) = (self.parts(), other.parts());
        mine.iter()
            .any(|a| its.iter().any(|b| a.both(b).is_solid()))
    }

    /// What is left of it as pieces that each hang together: none, one, or two where only the points on
    /// either side of a notch are left.
    pub(super) fn solid(self) -> Vec<Self> {
        match self {
            Self::Whole(whole) => Vec::from_iter(whole.is_solid().then_some(Self::Whole(whole))),
            Self::Halves(h) if h.left.is_solid() && h.right.is_solid() && h.joins().is_some() => {
                vec![Self::Halves(h)]
            }
            Self::Halves(h) => {
                let parts = [h.left, h.right].into_iter().filter(Convex::is_solid);
                parts.map(Self::Whole).collect()
            }
        }
    }

    /// How long it is along its axis, mm: from the bottom of the notch where an end is re-entrant. `None` of a whole
    /// one.
    pub(super) fn waist(&self) -> Option<f64> {
        let Self::Halves(h) = self else {
            return None;
        };
        let corners = h.left.corners();
        let along = |[side, _]: [usize; 2]| {
            let end = corners[(side + 1) % corners.len()];
            corners[side].distance(end)
        };
        Some(h.joins().map_or(0.0, along))
    }

    /// The corners in which its notches end.
    pub(super) fn notches(&self) -> Vec<Point> {
        match self {
            Self::Whole(_) => Vec::new(),
            Self::Halves(h) => {
                let ring = h.ring();
                reflex(&ring).into_iter().map(|i| ring[i]).collect()
            }
        }
    }

    /// Its outline, counter-clockwise.
    pub(super) fn ring(&self) -> Vec<Point> {
        match self {
            Self::Whole(whole) => whole.corners().to_vec(),
            Self::Halves(h) => h.ring(),
        }
    }
}

impl From<Convex> for Region {
    fn from(whole: Convex) -> Self {
        Self::Whole(whole)
    }
}

impl Halves {
    /// Where each half's side along the axis begins, as indices of its corners.
    fn joins(&self) -> Option<[usize; 2]> {
        let side = |half: &Convex| {
            let corners = half.corners();
            let n = corners.len();
            let on = |p: Point| (self.normal.dot(p.to_vec2()) - self.middle).abs() <= ONE_POINT;
            let along = |i: usize| {
                let (a, b) = (corners[i], corners[(i + 1) % n]);
                on(a) && on(b) && (b - a).hypot() > ONE_POINT
            };
            (0..n).find(|&i| along(i))
        };
        Some([side(&self.left)?, side(&self.right)?])
    }

    /// Once round both: each half from the end of its side along the axis on.
    fn ring(&self) -> Vec<Point> {
        let Some(sides) = self.joins() else {
            return Vec::new();
        };
        let mut ring = Vec::new();
        for (half, side) in [&self.left, &self.right].into_iter().zip(sides) {
            let mut corners = half.corners().to_vec();
            let n = corners.len();
            corners.rotate_left((side + 1) % n);
            ring.extend(corners);
        }
        tidied(&ring)
    }
}

/// Corners of a counter-clockwise ring without corners in a line in which it is re-entrant, by index.
pub(super) fn reflex(ring: &[Point]) -> Vec<usize> {
    let n = ring.len();
    let turns_back = |&i: &usize| {
        let (a, p, b) = (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
        (p - a).cross(b - p) < 0.0
    };
    (0..n).filter(turns_back).collect()
}
