//! Cells: the faces of the arrangement of all lines of the ground, cut by the outline.
//!
//! Lines outside the outline count too, so that a cell which the outline cuts keeps its whole shape, and a
//! pattern can be laid in it before it is trimmed. Faces are traced along the lines from node to node: which
//! lines meet in which node decides, no comparison of areas does.

use kurbo::{Point, Vec2};

use super::net::{FaceId, Net};
use crate::geom::{Convex, SAME_FIGURE, measure};
use crate::lattice::{FamilyId, Lattice, MemberId};
use crate::panel::CellShape;
use crate::table::{Id, Table};

/// Which cell.
pub type CellId = Id<Cell>;

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
    /// The cell beyond, if it is one of the panel's.
    pub neighbour: Option<CellId>,
}

/// A side of a cell before cells are numbered.
#[derive(Debug, Clone, Copy)]
pub(super) struct DraftSide {
    pub(super) start: Point,
    pub(super) border: Border,
    pub(super) set_back: f64,
    /// The face beyond.
    pub(super) beyond: Option<FaceId>,
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
pub fn cells(lattice: &Lattice) -> Table<Cell> {
    let net = Net::of(lattice);
    let faces = net.faces();
    let found = faces.table.ids().filter_map(|face| {
        let (cell, beyond) = net.cell(lattice, &faces, face)?;
        Some((cell, (face, beyond)))
    });
    let (mut cells, drafts) = Table::with_column(in_order(found.collect()));
    let mut cell_of_face = faces.table.column(|_, _| None);
    for (c, &(face, _)) in drafts.entries() {
        cell_of_face[face] = Some(c);
    }
    let first_even = cells.iter().next().is_none_or(|first| first.even);
    for c in cells.ids() {
        let cell = &mut cells[c];
        cell.id = format!("cell-{}", c.index() + 1);
        cell.even = cell.even == first_even;
        for (side, beyond) in cell.sides.iter_mut().zip(&drafts[c].1) {
            side.neighbour = beyond.and_then(|face| cell_of_face[face]);
        }
    }
    cells
}

/// Cells by rows from below, each from the left; whatever comes with them. Round-off does not part a row.
fn in_order<D>(mut found: Vec<(Cell, D)>) -> impl Iterator<Item = (Cell, D)> {
    // Sorts are stable: of cells in one place the first found comes first.
    found.sort_by(|a, b| a.0.middle().y.total_cmp(&b.0.middle().y));
    let mut rows = Vec::with_capacity(found.len());
    let (mut row, mut below) = (0, f64::INFINITY);
    for (cell, draft) in found {
        let middle = cell.middle();
        if middle.y - below > SAME_ROW {
            row += 1;
        }
        below = middle.y;
        rows.push((row, middle.x, cell, draft));
    }
    rows.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    rows.into_iter().map(|(_, _, cell, draft)| (cell, draft))
}

/// Centroid of a polygon; of no corners the origin, which no cell has.
pub(super) fn centroid(corners: &[Point]) -> Point {
    measure::centroid(corners).unwrap_or_default()
}

/// Keeps the part of a convex ring of sides where `normal · p <= offset`; a new side lies along the outline.
pub(super) fn clipped(sides: Vec<DraftSide>, normal: Vec2, offset: f64) -> Vec<DraftSide> {
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
                kept.push(DraftSide {
                    start: meet(),
                    border: Border::Outline,
                    set_back: 0.0,
                    beyond: None,
                });
            }
            (false, true) => kept.push(DraftSide {
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
pub(super) fn from_lowest(mut sides: Vec<DraftSide>) -> Vec<DraftSide> {
    let lowest = sides
        .iter()
        .map(|s| s.start.y)
        .fold(f64::INFINITY, f64::min);
    let before = |i: usize, best: usize| {
        let [a, b] = [i, best].map(|i| sides[i].start);
        let above = |p: Point| p.y > lowest + SAME_ROW;
        above(a).cmp(&above(b)).then(a.x.total_cmp(&b.x)).is_lt()
    };
    let lower = |best, i| if before(i, best) { i } else { best };
    let first = (1..sides.len()).fold(0, lower);
    sides.rotate_left(first);
    sides
}

/// Corners of the ring with every side moved in by its set-back; empty where a side is used up.
pub(super) fn set_back(sides: &[DraftSide]) -> Vec<Point> {
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
