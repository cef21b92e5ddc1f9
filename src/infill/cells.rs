//! Cells: the faces of the arrangement of all lines of the ground, cut by the outline.
//!
//! Lines outside the outline count too, so that a cell which the outline cuts keeps its whole shape, and a
//! pattern can be laid in it before it is trimmed. Faces are traced along the lines from node to node: which
//! lines meet in which node decides, no comparison of areas does.

use kurbo::{Point, Vec2};

use super::net::Net;
use crate::geom::{Convex, SAME_FIGURE};
use crate::lattice::{FamilyId, Lattice, MemberId};
use crate::panel::CellShape;

/// What lies along a side of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Border {
    /// A bar of the ground.
    Bar {
        /// Its family.
        family: FamilyId,
        /// Which member it is.
        member: MemberId,
    },
    /// A line of a family outside the outline, where there is no bar.
    Line {
        /// The family.
        family: FamilyId,
    },
    /// The outline, where no line of any family bounds the cell.
    Outline,
}

/// A side of a cell, from its corner to the next side's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellSide {
    /// Where it starts, mm: on the centre lines of the bars.
    pub start: Point,
    /// What lies along it.
    pub border: Border,
    /// Half the face of the bar there, mm; 0 along the outline.
    pub set_back: f64,
    /// Index of the cell beyond, if it is one of the panel's.
    pub neighbour: Option<usize>,
}

/// A cell of the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// `cell-1` and on, row by row from the lower left.
    pub id: String,
    /// Its sides, counter-clockwise, from its lowest corner on (of those, the leftmost).
    pub sides: Vec<CellSide>,
    /// Its shape by the centre lines.
    pub shape: CellShape,
    /// Whether the outline cuts what its bars leave open.
    pub cut: bool,
    /// Which colour it has when the cells are coloured like a chessboard: the first one has `true`.
    pub even: bool,
    /// Corners of the whole cell less half of every bar along it, one for each side, counter-clockwise;
    /// empty where the bars leave no such room. Patterns are laid in it.
    pub room: Vec<Point>,
    /// What is seen through: the cell within the outline, less all bars.
    pub opening: Convex,
    /// The cell by the centre lines, within the outline.
    pub region: Convex,
}

impl Cell {
    /// Corners by the centre lines, counter-clockwise; outside the outline too.
    #[must_use]
    pub fn corners(&self) -> Vec<Point> {
        self.sides.iter().map(|s| s.start).collect()
    }

    /// The middle of its whole shape.
    #[must_use]
    pub fn middle(&self) -> Point {
        centroid(&self.corners())
    }

    /// The middle of what is seen through.
    #[must_use]
    pub fn opening_middle(&self) -> Point {
        centroid(self.opening.corners())
    }
}

/// Two places nearer than this are one in the order of cells, mm.
const SAME_ROW: f64 = 1e-6;

/// All cells of a ground, row by row from the lower left.
#[must_use]
pub fn cells(lattice: &Lattice) -> Vec<Cell> {
    let net = Net::of(lattice);
    let faces = net.faces();
    let mut found: Vec<(usize, Cell)> = faces
        .iter()
        .enumerate()
        .filter_map(|(f, face)| Some((f, net.cell(lattice, face)?)))
        .collect();
    let order = order(&found);
    let mut cell_of_face = vec![None; faces.len()];
    for (place, &at) in order.iter().enumerate() {
        cell_of_face[found[at].0] = Some(place);
    }
    let first_even = order.first().is_none_or(|&at| found[at].1.even);
    let mut cells: Vec<Option<Cell>> = found
        .drain(..)
        .map(|(_, mut cell)| {
            for side in &mut cell.sides {
                side.neighbour = side
                    .neighbour
                    .and_then(|f| cell_of_face.get(f).copied().flatten());
            }
            cell.even = cell.even == first_even;
            Some(cell)
        })
        .collect();
    order
        .iter()
        .enumerate()
        .filter_map(|(place, &at)| {
            let mut cell = cells[at].take()?;
            cell.id = format!("cell-{}", place + 1);
            Some(cell)
        })
        .collect()
}

/// Indices in order: by rows from below, each from the left. Round-off does not part a row.
fn order(found: &[(usize, Cell)]) -> Vec<usize> {
    let middles: Vec<Point> = found.iter().map(|(_, c)| c.middle()).collect();
    let mut by_y: Vec<usize> = (0..found.len()).collect();
    by_y.sort_by(|&a, &b| middles[a].y.total_cmp(&middles[b].y).then(a.cmp(&b)));
    let mut row = 0;
    let mut rows = vec![0; found.len()];
    for pair in by_y.windows(2) {
        if middles[pair[1]].y - middles[pair[0]].y > SAME_ROW {
            row += 1;
        }
        rows[pair[1]] = row;
    }
    by_y.sort_by(|&a, &b| {
        (rows[a].cmp(&rows[b]))
            .then(middles[a].x.total_cmp(&middles[b].x))
            .then(a.cmp(&b))
    });
    by_y
}

/// Centroid of a polygon (area-weighted; the mean of its corners where it has no area).
pub(super) fn centroid(corners: &[Point]) -> Point {
    let n = corners.len();
    let Some(&first) = corners.first() else {
        return Point::ORIGIN;
    };
    let mut twice = 0.0;
    let mut sum = Vec2::ZERO;
    for i in 0..n {
        let (a, b) = (corners[i] - first, corners[(i + 1) % n] - first);
        let cross = a.cross(b);
        twice += cross;
        sum += (a + b) * cross;
    }
    if twice == 0.0 {
        let mean: Vec2 = corners.iter().map(|&p| p - first).sum::<Vec2>() / n as f64;
        return first + mean;
    }
    first + sum / (3.0 * twice)
}

/// Keeps the part of a convex ring of sides where `normal · p <= offset`; a new side lies along the outline.
pub(super) fn clipped(sides: Vec<CellSide>, normal: Vec2, offset: f64) -> Vec<CellSide> {
    let n = sides.len();
    let out = |p: Point| normal.dot(p.to_vec2()) - offset;
    let mut kept = Vec::with_capacity(n + 1);
    for (i, side) in sides.iter().enumerate() {
        let end = sides[(i + 1) % n].start;
        let (da, db) = (out(side.start), out(end));
        let meet = || side.start + (end - side.start) * (da / (da - db));
        match (da <= 0.0, db <= 0.0) {
            (true, true) => kept.push(*side),
            (true, false) => {
                kept.push(*side);
                kept.push(CellSide {
                    start: meet(),
                    border: Border::Outline,
                    set_back: 0.0,
                    neighbour: None,
                });
            }
            (false, true) => kept.push(CellSide {
                start: meet(),
                ..*side
            }),
            (false, false) => {}
        }
    }
    let n = kept.len();
    (0..n)
        .filter(|&i| (kept[(i + 1) % n].start - kept[i].start).hypot() > SAME_FIGURE)
        .map(|i| kept[i])
        .collect()
}

/// The ring begun at its lowest corner; of those within round-off, at the leftmost.
pub(super) fn from_lowest(mut sides: Vec<CellSide>) -> Vec<CellSide> {
    let lowest = sides
        .iter()
        .map(|s| s.start.y)
        .fold(f64::INFINITY, f64::min);
    let first = sides
        .iter()
        .enumerate()
        .filter(|(_, s)| s.start.y <= lowest + SAME_ROW)
        .min_by(|a, b| a.1.start.x.total_cmp(&b.1.start.x))
        .map_or(0, |(i, _)| i);
    sides.rotate_left(first);
    sides
}

/// Corners of the ring with every side moved in by its set-back; empty where a side is used up.
pub(super) fn set_back(sides: &[CellSide]) -> Vec<Point> {
    let n = sides.len();
    if n < 3 {
        return Vec::new();
    }
    let along = |i: usize| {
        let d = sides[(i + 1) % n].start - sides[i % n].start;
        d / d.hypot()
    };
    let corners: Vec<Point> = (0..n)
        .map(|i| {
            // Inwards is to the left; the corner lies on both moved sides.
            let (u, v) = (along(i + n - 1), along(i));
            let (a, b) = (sides[(i + n - 1) % n].set_back, sides[i].set_back);
            sides[i].start + (v * a - u * b) / u.cross(v)
        })
        .collect();
    let whole = (0..n).all(|i| (corners[(i + 1) % n] - corners[i]).dot(along(i)) > SAME_FIGURE);
    if whole { corners } else { Vec::new() }
}
