//! The net of lines: nodes, half-edges between them, and the faces that they bound.

use kurbo::Point;

use super::cells::{Border, Cell, CellSide, DraftSide, centroid, clipped, from_lowest, set_back};
use super::shape::shape;
use crate::geom::{Convex, SAME_FIGURE, sin_deg};
use crate::lattice::{
    Crossing, Family, FamilyId, Lattice, Line, LineId, Lines, MemberId, Node, NodeId, Spacing,
    cluster, cross,
};
use crate::table::{Column, Id, Table};

/// A traced face: its half-edges, counter-clockwise.
pub(super) struct Face(Vec<usize>);

/// Which face.
pub(super) type FaceId = Id<Face>;

/// The faces within the frame.
pub(super) struct Faces {
    /// The faces.
    pub(super) table: Table<Face>,
    /// The face to the left of each half-edge; `None` for the one round everything.
    of_half: Vec<Option<FaceId>>,
}

/// The lines, their nodes, and half-edges between neighbouring nodes. The plane ends in an upright
/// rectangle well outside the outline: two more families of two lines each, the frame.
pub(super) struct Net {
    /// The ground's own, and from `frame` on those of the frame.
    families: Table<Family>,
    frame: FamilyId,
    lines: Lines,
    nodes: Table<Node>,
    /// Line of each edge; half-edge 2e runs along the line's axis, 2e + 1 against it.
    edge_line: Vec<LineId>,
    /// Node that each half-edge starts from.
    start: Vec<NodeId>,
    /// The half-edge that follows each round the face to its left.
    next: Vec<usize>,
    /// Offsets of the members of each family, ascending, with their members.
    members: Column<Family, Vec<(f64, MemberId)>>,
}

impl Net {
    pub(super) fn of(lattice: &Lattice) -> Self {
        let margin = widest_cell(&lattice.families);
        let frame = lattice.bounds().inflate(margin, margin);
        let mut families = lattice.families.clone();
        let listed = |direction_deg, offsets: [f64; 2]| Family {
            name: String::new(),
            letter: ' ',
            direction_deg,
            face: 0.0,
            rank: 0,
            spacing: Spacing::Listed(offsets.to_vec()),
        };
        let first_of_frame = families.push(listed(0.0, [frame.y0, frame.y1]));
        // Offsets of upright lines grow to the left.
        families.push(listed(90.0, [-frame.x1, -frame.x0]));
        let corners = Convex::from_corners(
            [
                (frame.x0, frame.y0),
                (frame.x1, frame.y0),
                (frame.x1, frame.y1),
                (frame.x0, frame.y1),
            ]
            .map(Point::from)
            .to_vec(),
        );
        let lines = Lines::new(&families, |f, family| {
            if f >= first_of_frame {
                return family.lines_between(f64::NEG_INFINITY, f64::INFINITY);
            }
            // A line along the frame would lie on it.
            let (lo, hi) = corners.extent(family.normal());
            family.lines_between(lo + SAME_FIGURE, hi - SAME_FIGURE)
        });
        let crossings = crossings(&families, &lines, &corners);
        let (nodes, node_of) = cluster(&crossings, &lines.table, |_| 0);
        let mut on_line = lines.table.column(|_, _| Vec::new());
        for (c, crossing) in crossings.entries() {
            for side in 0..2 {
                on_line[crossing.lines[side]].push((crossing.along[side], node_of[c]));
            }
        }
        let mut edge_line = Vec::new();
        let mut start = Vec::new();
        for line in lines.table.ids() {
            let list = &mut on_line[line];
            list.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            list.dedup_by_key(|(_, node)| *node);
            for pair in list.windows(2) {
                edge_line.push(line);
                start.extend([pair[0].1, pair[1].1]);
            }
        }
        let next = following(&nodes, &start, |half| {
            let family = lines.table[edge_line[half / 2]].family;
            let turned = if half.is_multiple_of(2) { 0.0 } else { 180.0 };
            (families[family].direction_deg + turned).rem_euclid(360.0)
        });
        let members = families.column(|f, family| members_of(lattice, f, family));
        Self {
            families,
            frame: first_of_frame,
            lines,
            nodes,
            edge_line,
            start,
            next,
            members,
        }
    }

    /// Where a half-edge starts.
    fn at(&self, half: usize) -> Point {
        self.nodes[self.start[half]].at
    }

    /// The line that a half-edge lies on.
    fn line(&self, half: usize) -> &Line {
        &self.lines.table[self.edge_line[half / 2]]
    }

    /// The faces within the frame.
    pub(super) fn faces(&self) -> Faces {
        let mut of_half: Vec<Option<FaceId>> = vec![None; self.start.len()];
        let mut table: Table<Face> = Table::new();
        let mut seen = vec![false; self.start.len()];
        for first in 0..self.start.len() {
            if seen[first] {
                continue;
            }
            let mut ring = Vec::new();
            let mut half = first;
            while !seen[half] {
                seen[half] = true;
                ring.push(half);
                half = self.next[half];
            }
            let corners = ring.iter().map(|&h| self.at(h)).collect();
            // The ring round everything runs clockwise.
            if ring.len() >= 3 && Convex::from_corners(corners).area() > 0.0 {
                let face = table.next_id();
                ring.iter().for_each(|&h| of_half[h] = Some(face));
                table.push(Face(ring));
            }
        }
        Faces { table, of_half }
    }

    /// The cell of a face, without its number, and the faces beyond its sides; `None` where it lies outside the
    /// outline.
    pub(super) fn cell(
        &self,
        lattice: &Lattice,
        faces: &Faces,
        face: FaceId,
    ) -> Option<(Cell, Vec<Option<FaceId>>)> {
        let outline = &lattice.outline;
        let Face(ring) = &faces.table[face];
        let whole = Convex::from_corners(ring.iter().map(|&h| self.at(h)).collect());
        let region = whole.both(&outline.region);
        if !region.is_solid() {
            return None;
        }
        let mut sides: Vec<DraftSide> = ring.iter().map(|&h| self.side(faces, h)).collect();
        if ring.iter().any(|&h| self.line(h).family >= self.frame) {
            // No line bounds it there: the outline does.
            for side in &outline.sides {
                sides = clipped(sides, side.normal, side.offset);
            }
        }
        let sides = from_lowest(sides);
        let corners: Vec<Point> = sides.iter().map(|s| s.start).collect();
        let room = set_back(&sides);
        let inside = |points: &[Point]| {
            points.iter().all(|p| {
                let out = |s: &crate::lattice::SideOf| s.normal.dot(p.to_vec2()) - s.offset;
                outline.sides.iter().all(|s| out(s) <= SAME_FIGURE)
            })
        };
        let cut = !inside(if room.is_empty() { &corners } else { &room });
        let (opening, even) = self.opening(&region, centroid(&corners));
        if !opening.is_solid() {
            // Nothing but bars.
            return None;
        }
        let beyond = sides.iter().map(|s| s.beyond).collect();
        let own = |s: &DraftSide| CellSide {
            start: s.start,
            border: s.border,
            set_back: s.set_back,
            neighbour: None,
        };
        let cell = Cell {
            id: String::new(),
            shape: shape(&corners),
            sides: sides.iter().map(own).collect(),
            cut,
            even,
            room,
            opening,
            region,
        };
        Some((cell, beyond))
    }

    fn side(&self, faces: &Faces, half: usize) -> DraftSide {
        let &Line { family, offset, .. } = self.line(half);
        let border = if family >= self.frame {
            Border::Outline
        } else {
            match self.member(family, offset) {
                Some(member) => Border::Bar { family, member },
                None => Border::Line { family },
            }
        };
        DraftSide {
            start: self.at(half),
            border,
            set_back: 0.5 * self.families[family].face,
            beyond: faces.of_half[half ^ 1],
        }
    }

    fn member(&self, family: FamilyId, offset: f64) -> Option<MemberId> {
        let list = &self.members[family];
        let at = list.partition_point(|m| m.0 < offset - SAME_FIGURE);
        list.get(at)
            .filter(|m| (m.0 - offset).abs() <= SAME_FIGURE)
            .map(|m| m.1)
    }

    /// What all bars leave of a region, and the colour of its cell: no line runs through a cell, so of each
    /// family only the nearest bar on either side can reach into it.
    fn opening(&self, region: &Convex, middle: Point) -> (Convex, bool) {
        let mut left = region.clone();
        let mut even = true;
        let own = self.families.entries().take_while(|f| f.0 < self.frame);
        for (f, family) in own {
            let (n, half) = (family.normal(), 0.5 * family.face);
            let here = n.dot(middle.to_vec2());
            let list = &self.members[f];
            let above = list.partition_point(|m| m.0 < here);
            if let Some(m) = above.checked_sub(1).and_then(|i| list.get(i)) {
                left = left.above(n, m.0 + half);
            }
            if let Some(m) = list.get(above) {
                left = left.below(n, m.0 - half);
            }
            let below = match &family.spacing {
                Spacing::Even { first, step } => ((here - first) / step).floor() as i64,
                Spacing::Listed(offsets) => offsets.partition_point(|&o| o < here) as i64,
            };
            even ^= below.rem_euclid(2) == 1;
        }
        (left, even)
    }
}

/// The half-edge that follows each round the face to its left. `start`: the node that each starts from; `heading`:
/// which way it leaves there, degrees.
fn following(nodes: &Table<Node>, start: &[NodeId], heading: impl Fn(usize) -> f64) -> Vec<usize> {
    let mut around = nodes.column(|_, _| Vec::new());
    for (half, &node) in start.iter().enumerate() {
        around[node].push(half);
    }
    let mut next = vec![0; start.len()];
    for list in around.iter_mut() {
        // Counter-clockwise.
        list.sort_by(|&a, &b| heading(a).total_cmp(&heading(b)).then(a.cmp(&b)));
        // A half-edge arrives along another that leaves: the next to the right of that one follows it.
        for (place, &back) in list.iter().enumerate() {
            next[back ^ 1] = list[(place + list.len() - 1) % list.len()];
        }
    }
    next
}

/// How far beyond the outline a cell can reach that the outline cuts: two evenly spaced families of step s
/// and t at an angle φ part the plane into parallelograms no wider than (s + t) / sin φ. Where bars are
/// listed, a cell between two lines that lie s apart is bounded by others that cross them at φ at least, if
/// it is bounded at all: within 2 s / sin φ.
fn widest_cell(families: &Table<Family>) -> f64 {
    /// Room for the frame where no two families go on without end, mm.
    const LEAST: f64 = 10.0;
    let step = |f: &Family| match f.spacing {
        Spacing::Even { step, .. } => Some(step),
        Spacing::Listed(_) => None,
    };
    let apart = |f: &Family| match &f.spacing {
        Spacing::Even { step, .. } => *step,
        Spacing::Listed(o) => o.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max),
    };
    let mut widest: Option<f64> = None;
    let furthest = families.iter().map(apart).fold(0.0, f64::max);
    let mut least_sine: f64 = 1.0;
    for (i, a) in families.iter().enumerate() {
        for b in families.iter().skip(i + 1) {
            let t = a.angle_to(b);
            if t != 0.0 {
                least_sine = least_sine.min(sin_deg(t));
            }
            if let (Some(s), Some(u), true) = (step(a), step(b), t != 0.0) {
                let reach = (s + u) / sin_deg(t);
                widest = Some(widest.map_or(reach, |w| w.min(reach)));
            }
        }
    }
    widest.unwrap_or(2.0 * furthest / least_sine) + LEAST
}

/// Every crossing of two lines within the frame, its sides included.
fn crossings(families: &Table<Family>, lines: &Lines, frame: &Convex) -> Table<Crossing> {
    let mut out = Table::new();
    for (number, line) in lines.table.entries() {
        let (own, offset) = (&families[line.family], line.offset);
        let (lo, hi) = along_frame(own, offset, frame);
        for (o, other) in families.entries().filter(|f| f.0 > line.family) {
            if own.angle_to(other) == 0.0 {
                continue;
            }
            let reach = [lo, hi].map(|s| other.normal().dot(own.point(offset, s).to_vec2()));
            let (low, high) = (reach[0].min(reach[1]), reach[0].max(reach[1]));
            for (index, there) in other.lines_between(low - SAME_FIGURE, high + SAME_FIGURE) {
                if let Some(line) = lines.line(o, index) {
                    let (along, other_along, at) = cross(own, offset, other, there);
                    out.push(Crossing {
                        lines: [number, line],
                        along: [along, other_along],
                        at,
                    });
                }
            }
        }
    }
    out
}

/// Where a line enters and leaves the frame, along its axis.
fn along_frame(family: &Family, offset: f64, frame: &Convex) -> (f64, f64) {
    let (d, n) = (family.axis(), family.normal());
    let corners = frame.corners();
    let (mut lo, mut hi) = (f64::INFINITY, f64::NEG_INFINITY);
    for (i, &a) in corners.iter().enumerate() {
        let b = corners[(i + 1) % corners.len()];
        let (da, db) = (n.dot(a.to_vec2()) - offset, n.dot(b.to_vec2()) - offset);
        let mut meet = |p: Point| {
            let s = d.dot(p.to_vec2());
            (lo, hi) = (lo.min(s), hi.max(s));
        };
        if da == 0.0 {
            meet(a);
        }
        if (da < 0.0) != (db < 0.0) && da != db {
            meet(a + (b - a) * (da / (da - db)));
        }
    }
    (lo, hi)
}

/// Offsets of a family's members along its normal, ascending.
fn members_of(lattice: &Lattice, family: FamilyId, row: &Family) -> Vec<(f64, MemberId)> {
    let n = row.normal();
    let mut list: Vec<(f64, MemberId)> = (lattice.members.entries())
        .filter(|(_, m)| m.family == family)
        .map(|(id, m)| (n.dot(m.start.to_vec2()), id))
        .collect();
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    list
}
