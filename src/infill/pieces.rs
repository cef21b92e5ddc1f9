//! Pieces as shapes of their own: outline, bevels, and which are the same piece.

use kurbo::{Point, Vec2};

use super::cells::CellId;
use super::lay::{Half, Laid, tidied};
use super::region::{Region, reflex};
use crate::geom::{Convex, SAME_FIGURE, atan2_deg, bounds, frame, tidy};
use crate::lattice::Turn;
use crate::panel::Filling;
use crate::table::Id;

/// Which piece of infill.
pub type InfillId = Id<Piece>;
/// Which class of pieces of infill.
pub type InfillClassId = Id<PieceClass>;

/// Corners of two pieces nearer than this are the same, mm: twice what two lengths may differ by.
const SAME_CORNER: f64 = 2.0 * SAME_FIGURE;

/// A piece of infill in its cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Its cell.
    pub cell: CellId,
    /// Its class.
    pub class: InfillClassId,
    /// How the class's piece is turned to become this one.
    pub turn: Turn,
    /// Of a hinged piece, whose halves are told one by one: whether it is the second.
    pub half: Option<bool>,
    /// First end of the line along the middle of its face, mm.
    pub start: Point,
    /// Last end of it.
    pub end: Point,
    /// Its plan, counter-clockwise.
    pub outline: Vec<Point>,
}

/// Pieces that are the same piece.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceClass {
    /// `i1` and on.
    pub id: String,
    /// Its pattern, and what it is made of.
    pub filling: Filling,
    /// The first of its pieces.
    pub first: InfillId,
    /// All of them that one panel has: of hinged ones both halves.
    pub pieces: Vec<InfillId>,
    /// Its width across the axis, mm.
    pub face: f64,
    /// From point to point along the axis, mm: of a re-entrant end from its long points.
    pub length: f64,
    /// Bevels of both ends, degrees: angles between the axis, into the piece, and the cut, on the left and
    /// on the right as seen from the front looking from start to end. 90, 90 is square.
    pub ends: [[f64; 2]; 2],
    /// Its plan: x along from the first end, y to the left of the middle of its face; counter-clockwise. Of
    /// a hinged piece as it is sawn, straight, down to the very skin.
    pub outline: Vec<Point>,
    /// Of a hinged piece, where it is folded.
    pub fold: Option<FoldAt>,
    /// Whether the outline of the panel has cut it.
    pub trimmed: bool,
    /// How far along its faces plain ends leave a seam open, or would where ends are re-entrant, mm: the most of
    /// all its pieces, 0 where no end is.
    pub plain_opening: f64,
}

/// Where a hinged piece is sawn nearly through and folded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoldAt {
    /// From the first end along the axis, mm.
    pub at: f64,
    /// How far it is folded, degrees; the kerf opens.
    pub deg: f64,
    /// Whether it is sawn from the left face, as seen from the front looking from start to end; the skin lies
    /// in the other.
    pub from_left: bool,
    /// From the axis to the walls of the cut, degrees: before the fold and past it. 90 and 90 is a plain saw
    /// kerf, less is a V.
    pub walls: [f64; 2],
}

impl FoldAt {
    /// The face that it is sawn from, in words.
    #[must_use]
    pub fn side(&self) -> &'static str {
        if self.from_left { "left" } else { "right" }
    }
}

/// A piece in a frame of its own.
pub(super) struct Shape {
    pub(super) fold: Option<FoldAt>,
    pub(super) outline: Vec<Point>,
    pub(super) length: f64,
    pub(super) face: f64,
    pub(super) start: Point,
    pub(super) end: Point,
}

impl Shape {
    /// The shape of a region along the axis from one point to another.
    pub(super) fn of(region: &Region, from: Point, to: Point) -> Self {
        let axis = (to - from) / (to - from).hypot();
        let normal = Vec2::new(-axis.y, axis.x);
        let (x0, x1) = region.extent(axis);
        let (y0, y1) = region.extent(normal);
        let middle = 0.5 * (y0 + y1);
        let own = |p: &Point| {
            let p = p.to_vec2();
            Point::new(tidy(axis.dot(p) - x0), tidy(normal.dot(p) - middle))
        };
        let corners: Vec<Point> = region.ring().iter().map(own).collect();
        let along = |x: f64| (axis * x + normal * middle).to_point();
        Self {
            fold: None,
            outline: tidied(&corners),
            length: x1 - x0,
            face: y1 - y0,
            start: along(x0),
            end: along(x1),
        }
    }

    /// The shape of both halves of a hinged piece, straight: the first half runs towards the fold, the second away
    /// from it.
    pub(super) fn hinged([first, second]: [&Laid; 2], [a, b]: [Half; 2]) -> Self {
        let run = |half: &Laid, axis: Vec2| {
            let left = Vec2::new(-axis.y, axis.x);
            let corners = half.region.ring().into_iter();
            let own = corners.map(|p| {
                let from_fold = p - a.fold;
                Point::new(axis.dot(from_fold), left.dot(from_fold))
            });
            // From the fold on, which is the corner nearest to it.
            let mut own = tidied(&own.collect::<Vec<_>>());
            let near = |i: usize| own[i].to_vec2().hypot();
            let nearer = |best, i| if near(i) < near(best) { i } else { best };
            let fold = (1..own.len()).fold(0, nearer);
            own.rotate_left(fold);
            own
        };
        let (before, past) = (run(first, -a.inwards), run(second, b.inwards));
        // The skin lies in one face; the wood on the other side of it.
        let skin_on_left = (-a.inwards).cross(b.inwards) > 0.0;
        // Counter-clockwise the upper face is walked from the fold back to the first end, the lower one from
        // the fold on to the last.
        let (one, other) = if skin_on_left {
            (before, past)
        } else {
            (past, before)
        };
        let mut ring: Vec<Point> = one.iter().skip(1).copied().collect();
        ring.push(Point::ORIGIN);
        ring.extend(other.iter().skip(1));
        let around = bounds(&ring);
        let middle = 0.5 * (around.y0 + around.y1);
        let outline: Vec<Point> = ring
            .iter()
            .map(|p| Point::new(tidy(p.x - around.x0), tidy(p.y - middle)))
            .collect();
        let wall = |half: &[Point], towards: f64| {
            // The corner of the wall on the sawn face.
            let sawn = |p: &&Point| p.y.abs() > 0.5 * around.height();
            let x = half.iter().filter(sawn).map(|p| p.x * towards);
            let nearest = x.fold(f64::INFINITY, f64::min);
            atan2_deg(around.height(), nearest)
        };
        Self {
            fold: Some(FoldAt {
                at: tidy(-around.x0),
                deg: a.deg,
                from_left: !skin_on_left,
                walls: if skin_on_left {
                    [wall(&one, -1.0), wall(&other, 1.0)]
                } else {
                    [wall(&other, -1.0), wall(&one, 1.0)]
                },
            }),
            outline,
            length: around.width(),
            face: around.height(),
            start: first.from,
            end: second.from,
        }
    }

    /// The outline turned: over mirrors it in its axis, end turns it half round.
    pub(super) fn turned(&self, turn: Turn) -> Vec<Point> {
        // Its depth does not show in plan.
        let turned = turn.frame(self.length, 0.0);
        let one = |p: &Point| frame::carried(&turned, *p);
        let mut points: Vec<Point> = self.outline.iter().map(one).collect();
        if matches!(turn, Turn::Over | Turn::Both) {
            points.reverse();
        }
        points
    }

    /// Bevels of both ends.
    pub(super) fn ends(&self) -> [[f64; 2]; 2] {
        let p = &self.outline;
        let n = p.len();
        let half = 0.5 * self.face;
        // The corner on the left (1) or right (-1) face that is nearest to the start or the end.
        let corner = |left: f64, last: bool| {
            let off = |i: usize| (p[i].y - left * half).abs() > SAME_CORNER;
            let x = |i: usize| if last { -p[i].x } else { p[i].x };
            // Corners lie on both faces: they are as far apart as the piece is wide.
            let nearer = |best, i| {
                let order = off(i).cmp(&off(best)).then(x(i).total_cmp(&x(best)));
                if order.is_lt() { i } else { best }
            };
            (1..n).fold(0, nearer)
        };
        let bevel = |left: f64, last: bool| {
            let i = corner(left, last);
            // Counter-clockwise the start follows the left face, and the end the right one.
            let beside = if (left > 0.0) == last {
                p[(i + n - 1) % n]
            } else {
                p[(i + 1) % n]
            };
            let seam = p[i] - beside;
            let into = if last { -1.0 } else { 1.0 };
            atan2_deg(seam.y * left, seam.x * into)
        };
        [false, true].map(|last| [bevel(1.0, last), bevel(-1.0, last)])
    }
}

/// Whether two rings of corners are the same, wherever they begin.
pub(super) fn same_ring(a: &[Point], b: &[Point]) -> bool {
    let n = a.len();
    n == b.len()
        && (0..n).any(|k| {
            (0..n).all(|i| {
                let d = a[i] - b[(i + k) % n];
                d.x.abs() <= SAME_CORNER && d.y.abs() <= SAME_CORNER
            })
        })
}

impl PieceClass {
    /// How many are made for one panel.
    #[must_use]
    pub fn count(&self) -> usize {
        self.pieces.len() / if self.fold.is_some() { 2 } else { 1 }
    }

    /// Length as cut: less the fit allowance.
    #[must_use]
    pub fn cut_length(&self, allowance: f64) -> f64 {
        self.length - allowance
    }

    /// Where a hinged piece is folded, from the first end of its blank, mm: what the blank is longer or shorter
    /// than the piece is shared out to both ends.
    #[must_use]
    pub fn fold_in_blank(&self, allowance: f64, shooting: f64) -> Option<f64> {
        self.fold.map(|fold| fold.at + 0.5 * (shooting - allowance))
    }

    /// How long it is along its axis as cut, mm, where an end is re-entrant: from the bottom of the notch.
    pub(super) fn waist(&self, allowance: f64) -> Option<f64> {
        Some(Region::of_ring(&self.outline).waist()? - allowance)
    }

    /// Which of its ends are re-entrant: a notch runs in between the long points of both sides.
    #[must_use]
    pub fn reentrant(&self) -> [bool; 2] {
        let n = self.outline.len();
        let mut ends = [false; 2];
        for i in reflex(&self.outline) {
            // Counter-clockwise the first end is walked downwards.
            let last = self.outline[(i + 1) % n].y > self.outline[(i + n - 1) % n].y;
            ends[usize::from(last)] = true;
        }
        ends
    }

    /// What is remarkable about its ends, in a few words; empty where nothing is. `plain`: whether ends that
    /// would be re-entrant are cut plain. `len`: how a length is written, with its unit.
    #[must_use]
    pub fn ends_told(&self, plain: bool, len: impl Fn(f64) -> String) -> String {
        let which = match self.reentrant() {
            [false, false] if plain && self.plain_opening > 0.0 => {
                return format!("plain end: seam open by {}", len(self.plain_opening));
            }
            [false, false] => return String::new(),
            [true, false] => "first end",
            [false, true] => "last end",
            [true, true] => "both ends",
        };
        format!("{which} re-entrant: not on a jig")
    }

    /// Its plan as cut: shorter by the fit allowance, with the bevels that it has. What faces the last end
    /// moves along the axis as a whole; what runs along the axis stays.
    #[must_use]
    pub fn cut_outline(&self, allowance: f64) -> Vec<Point> {
        let whole = bounds(&self.outline);
        let length = self.cut_length(allowance);
        let (y0, y1) = (whole.y0, whole.y1);
        let box_corners = [(0.0, y0), (length, y0), (length, y1), (0.0, y1)].map(Point::from);
        let cut = Region::of_ring(&self.outline).map(|part| {
            let corners = tidied(part.corners());
            let mut left = Convex::from_corners(box_corners.to_vec());
            for (i, &p) in corners.iter().enumerate() {
                let side = corners[(i + 1) % corners.len()] - p;
                let outward = Vec2::new(side.y, -side.x) / side.hypot();
                let moved = allowance * outward.x.max(0.0);
                left = left.below(outward, outward.dot(p.to_vec2()) - moved);
            }
            left
        });
        tidied(&cut.ring())
    }
}

/// i1, i2, ...
pub(super) fn class_id(index: usize) -> String {
    format!("i{}", index + 1)
}
