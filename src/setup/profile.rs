//! The side view of a piece: its outline with notches, and what lies between them.

use kurbo::Point;

use super::flat::{Edge, FlatPiece, InsideCorner, Lies, Side, SideNotch};
use crate::geom::{
    Contour, SAME_FIGURE, Vertex, bounds, is_on_step, step_above, step_below, step_near, tidy,
};
use crate::lattice::{Class, Lattice, trim_remark};

/// The grid that pieces lie on, mm.
const MICRON: f64 = 1e-3;

/// A stretch of one edge that is cut to one depth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Least x, mm; never below 0.
    pub x0: f64,
    /// Greatest x, mm; never beyond the length.
    pub x1: f64,
    /// From the edge to the floor, mm.
    pub depth: f64,
}

impl FlatPiece {
    /// The piece of a class.
    #[must_use]
    pub fn of(lattice: &Lattice, class: &Class) -> Self {
        let notches = class
            .notches
            .iter()
            .map(|n| SideNotch {
                x0: n.at - 0.5 * n.run,
                x1: n.at + 0.5 * n.run,
                edge: n.edge,
                depth: n.depth,
            })
            .collect();
        let remark = trim_remark(class.trimmed_by_hand);
        let size = [class.length, lattice.depth];
        Self::on_its_side(class.id.clone(), size, notches, remark.into())
    }

    /// A piece on its side; `size`: length and depth.
    pub(super) fn on_its_side(
        class: String,
        size: [f64; 2],
        notches: Vec<SideNotch>,
        remark: String,
    ) -> Self {
        let mut piece = Self {
            class,
            lies: Lies::OnSide,
            length: size[0],
            depth: size[1],
            notches,
            dashes: Vec::new(),
            drawn: Contour::polygon([]),
            remark,
            trimmed: 0.0,
            bitten: [[0.0; 2]; 2],
        };
        piece.drawn = piece.outline();
        piece
    }

    /// The piece as its path is laid, for a head of radius `r` and coordinates in steps of `step` mm: with floors
    /// that coordinates can tell, so that two bars which part there share nothing once they are rounded. Where
    /// depth and radius are whole numbers of steps each takes the nearest one, and of two that are as near the
    /// deeper; else one that is deeper by less than a step.
    #[must_use]
    pub fn eased(&self, r: f64, step: f64) -> Self {
        // Pieces lie on whole micrometres. Steps that do not tell these round either way, by half a step.
        let on_steps = is_on_step(MICRON, step);
        let exact = [self.depth, r].iter().all(|v| is_on_step(*v, step));
        let eased = |n: &SideNotch| {
            let depth = if !on_steps {
                n.depth + 0.5 * step
            } else if exact {
                self.depth - step_near(self.depth - n.depth, step)
            } else {
                match n.edge {
                    Edge::Back => step_above(n.depth - r, step) + r,
                    Edge::Front => self.depth + r - step_below(self.depth - n.depth + r, step),
                }
            };
            SideNotch { depth, ..*n }
        };
        let mut piece = Self {
            notches: self.notches.iter().map(eased).collect(),
            ..self.clone()
        };
        if !piece.notches.is_empty() {
            piece.drawn = piece.outline();
        }
        piece
    }

    /// A square-ended blank without notches.
    #[must_use]
    pub fn blank(class: &str, length: f64, depth: f64, remark: String) -> Self {
        Self::on_its_side(class.to_owned(), [length, depth], Vec::new(), remark)
    }

    /// The piece with a line across it, `x` from its first end, along which it is folded: as many dashes as
    /// there is room for, of one length and none shorter than `dash`, with `bridge` between them and at both
    /// edges. None where there is no room for one. Lengths are mm.
    #[must_use]
    pub fn perforated(mut self, x: f64, dash: f64, bridge: f64) -> Self {
        let dashes = ((self.depth - bridge) / (dash + bridge) + SAME_FIGURE).floor();
        let pitch = (self.depth - bridge) / dashes.max(1.0);
        self.dashes = (0..dashes.max(0.0) as usize)
            .map(|k| bridge + k as f64 * pitch)
            .map(|y| [Point::new(x, y), Point::new(x, y + pitch - bridge)])
            .collect();
        self
    }

    /// Where it is folded, from the first end.
    #[must_use]
    pub fn fold(&self) -> Option<f64> {
        self.dashes.first().map(|[from, _]| from.x)
    }

    /// A piece on its back, by its plan: x along, y to the left of its axis, counter-clockwise.
    #[must_use]
    pub fn on_its_back(class: &str, plan: &[Point], remark: String) -> Self {
        let b = bounds(plan);
        let corner = |p: &Point| Point::new(tidy(p.x - b.x0), tidy(p.y - b.y0));
        Self {
            class: class.to_owned(),
            lies: Lies::OnBack,
            length: b.width(),
            depth: b.height(),
            notches: Vec::new(),
            dashes: Vec::new(),
            drawn: Contour::polygon(plan.iter().map(corner)),
            remark,
            trimmed: 0.0,
            bitten: [[0.0; 2]; 2],
        }
    }

    /// The piece with that much waste at both ends, trimmed off after glue-up, mm.
    #[must_use]
    pub fn with_trimmed(mut self, trimmed: f64) -> Self {
        self.trimmed = trimmed;
        self
    }

    /// What is cut round once notches are open: on its side the bar without them, on its back the plan.
    #[must_use]
    pub fn body(&self) -> Contour {
        match self.lies {
            Lies::OnBack => self.drawn.clone(),
            Lies::OnSide => {
                let (length, depth) = (self.length, self.depth);
                let corners = [(0.0, 0.0), (length, 0.0), (length, depth), (0.0, depth)];
                Contour::polygon(corners.map(Point::from))
            }
        }
    }

    /// From where to where its lower edge runs (false) or its upper one (true), notches aside: all along
    /// on its side, between the ends on its back. Without length where it has none.
    #[must_use]
    pub fn edge_span(&self, upper: bool) -> [f64; 2] {
        if self.lies == Lies::OnSide {
            return [0.0, self.length];
        }
        let y = if upper { self.depth } else { 0.0 };
        let on = |p: &&Vertex| (p.at.y - y).abs() <= SAME_FIGURE;
        let places = self.drawn.vertices.iter().filter(on).map(|v| v.at.x);
        let (lo, hi) = places.fold((self.length, 0.0), |(lo, hi): (f64, f64), x| {
            (lo.min(x), hi.max(x))
        });
        [lo, hi.max(lo)]
    }

    /// From where to where it is as deep as it is at all, notches aside: between the ends of a piece on its
    /// back, where both its edges run; where none does, about its middle.
    #[must_use]
    pub fn full_span(&self) -> [f64; 2] {
        let [lower, upper] = [false, true].map(|upper| self.edge_span(upper));
        let (mut x0, mut x1) = (lower[0].max(upper[0]), lower[1].min(upper[1]));
        if self.lies == Lies::OnBack {
            // A re-entrant end runs in past its long points.
            for corner in self.inside_corners() {
                if corner.into.x < 0.0 {
                    x0 = x0.max(corner.at.x);
                } else {
                    x1 = x1.min(corner.at.x);
                }
            }
        }
        if x0 < x1 {
            [x0, x1]
        } else {
            [0.4 * self.length, 0.6 * self.length]
        }
    }

    /// What is written on a copy: its class and its own id, where it has one.
    #[must_use]
    pub fn label(&self, id: &str) -> String {
        if self.class == id {
            id.to_owned()
        } else {
            format!("{} {id}", self.class)
        }
    }

    /// Notches of one edge as steps from left to right: where notches of one node lie in each other,
    /// the deeper one counts.
    #[must_use]
    pub fn steps(&self, edge: Edge) -> Vec<Step> {
        // A wall within round-off of an end is that end.
        let ends = [0.0, self.length];
        let at_end = |x: f64| ends.into_iter().find(|e| (x - e).abs() <= SAME_FIGURE);
        let mut cut: Vec<Step> = self
            .notches
            .iter()
            .filter(|n| n.edge == edge)
            .map(|n| Step {
                x0: at_end(n.x0).unwrap_or(n.x0.max(0.0)),
                x1: at_end(n.x1).unwrap_or(n.x1.min(self.length)),
                depth: n.depth,
            })
            .filter(|s| s.x1 - s.x0 > SAME_FIGURE)
            .collect();
        cut.sort_by(|a, b| a.x0.total_cmp(&b.x0));
        // Walls closer than round-off are one wall.
        let mut walls: Vec<f64> = cut.iter().flat_map(|s| [s.x0, s.x1]).collect();
        walls.sort_by(f64::total_cmp);
        walls.dedup_by(|b, a| *b - *a <= SAME_FIGURE);
        let mut steps: Vec<Step> = Vec::new();
        let mut next = cut.into_iter().peekable();
        let mut open: Vec<Step> = Vec::new();
        for pair in walls.windows(2) {
            let x = 0.5 * (pair[0] + pair[1]);
            while let Some(s) = next.next_if(|s| s.x0 < x) {
                open.push(s);
            }
            open.retain(|s| s.x1 > x);
            let depth = open.iter().map(|s| s.depth).fold(0.0, f64::max);
            if depth > 0.0 {
                match steps.last_mut() {
                    Some(last)
                        if last.x1 == pair[0] && (last.depth - depth).abs() <= SAME_FIGURE =>
                    {
                        last.x1 = pair[1];
                    }
                    _ => steps.push(Step {
                        x0: pair[0],
                        x1: pair[1],
                        depth,
                    }),
                }
            }
        }
        steps
    }

    /// The drawn outline, counter-clockwise from the first end's back corner.
    pub(super) fn outline(&self) -> Contour {
        let mut points = Vec::new();
        let rim = |points: &mut Vec<Point>, steps: &[Step], height: &dyn Fn(f64) -> f64| {
            let mut last = 0.0;
            let mut depth = 0.0;
            points.push(Point::new(
                0.0,
                height(
                    steps
                        .first()
                        .filter(|s| s.x0 == 0.0)
                        .map_or(0.0, |s| s.depth),
                ),
            ));
            for s in steps {
                if s.x0 > last || depth == 0.0 {
                    if depth > 0.0 {
                        points.push(Point::new(last, height(depth)));
                        points.push(Point::new(last, height(0.0)));
                    }
                    if s.x0 > 0.0 {
                        points.push(Point::new(s.x0, height(0.0)));
                        points.push(Point::new(s.x0, height(s.depth)));
                    }
                } else {
                    points.push(Point::new(s.x0, height(depth)));
                    points.push(Point::new(s.x0, height(s.depth)));
                }
                (last, depth) = (s.x1, s.depth);
            }
            if depth > 0.0 {
                points.push(Point::new(last, height(depth)));
                if last < self.length {
                    points.push(Point::new(last, height(0.0)));
                }
            }
            if depth == 0.0 || last < self.length {
                points.push(Point::new(self.length, height(0.0)));
            }
        };
        rim(&mut points, &self.steps(Edge::Back), &|d| d);
        let mut front = Vec::new();
        rim(&mut front, &self.steps(Edge::Front), &|d| self.depth - d);
        points.extend(front.into_iter().rev());
        Contour::polygon(points)
    }

    /// Concave corners of the drawn outline: of notches on its side, of re-entrant ends on its back.
    #[must_use]
    pub fn inside_corners(&self) -> Vec<InsideCorner> {
        let v: Vec<Point> = self.drawn.vertices.iter().map(|v| v.at).collect();
        let n = v.len();
        (0..n)
            .filter_map(|i| {
                let (a, at, b) = (v[(i + n - 1) % n], v[i], v[(i + 1) % n]);
                let (u, w) = ((at - a).normalize(), (b - at).normalize());
                let into = (w - u).normalize();
                (u.cross(w) < 0.0).then(|| InsideCorner {
                    at,
                    into,
                    half: [into.cross(w).abs(), into.dot(w)],
                })
            })
            .collect()
    }

    /// Where the border of the piece runs along a side, between its notches, in rising order: x from the first
    /// end along an edge, y from the lower edge along an end. The ends of a piece on its back lie at any angle:
    /// it has none.
    #[must_use]
    pub fn lands(&self, side: Side) -> Vec<[f64; 2]> {
        let between = |[mut from, to]: [f64; 2], edge: Edge| {
            let mut lands = Vec::new();
            for s in self.steps(edge) {
                lands.push([from, s.x0]);
                from = s.x1;
            }
            lands.push([from, to]);
            lands
        };
        let lands = match (side, self.lies) {
            (Side::Lower, _) => between(self.edge_span(false), Edge::Back),
            (Side::Upper, _) => between(self.edge_span(true), Edge::Front),
            (_, Lies::OnBack) => Vec::new(),
            (Side::First | Side::Last, Lies::OnSide) => {
                let taken = |edge| {
                    let steps = self.steps(edge);
                    let step = match side {
                        Side::First => steps.first().filter(|s| s.x0 <= SAME_FIGURE),
                        _ => steps.last().filter(|s| s.x1 >= self.length - SAME_FIGURE),
                    };
                    step.map_or(0.0, |s| s.depth)
                };
                vec![[taken(Edge::Back), self.depth - taken(Edge::Front)]]
            }
        };
        lands.into_iter().filter(|[a, b]| a < b).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(notches: Vec<SideNotch>) -> FlatPiece {
        FlatPiece::on_its_side("A".into(), [100.0, 12.0], notches, String::new())
    }

    fn notch(x0: f64, x1: f64, edge: Edge, depth: f64) -> SideNotch {
        SideNotch {
            x0,
            x1,
            edge,
            depth,
        }
    }

    #[test]
    fn areas_are_the_rectangle_less_the_notches() {
        let cases = [
            (vec![], 1200.0, 4, 0),
            (vec![notch(20.0, 24.0, Edge::Back, 6.0)], 1176.0, 8, 2),
            (vec![notch(-2.0, 2.0, Edge::Front, 6.0)], 1188.0, 6, 1),
            (vec![notch(98.0, 102.0, Edge::Back, 6.0)], 1188.0, 6, 1),
            // A wall on the end, but for the last bits of a float.
            (vec![notch(1e-14, 4.0, Edge::Front, 6.0)], 1176.0, 6, 1),
            (
                vec![notch(96.0, 100.0 - 2e-14, Edge::Back, 6.0)],
                1176.0,
                6,
                1,
            ),
            // A notch in a notch: 8 deep over 20..24, 6 deep over 19..25.
            (
                vec![
                    notch(20.0, 24.0, Edge::Front, 8.0),
                    notch(19.0, 25.0, Edge::Front, 6.0),
                ],
                1200.0 - 36.0 - 8.0,
                12,
                4,
            ),
            (
                vec![
                    notch(20.0, 24.0, Edge::Back, 4.0),
                    notch(20.0, 24.0, Edge::Front, 4.0),
                ],
                1200.0 - 32.0,
                12,
                4,
            ),
        ];
        for (notches, area, corners, inside) in cases {
            let p = piece(notches.clone());
            assert!(
                (p.drawn.area() - area).abs() < 1e-9,
                "{notches:?}: {}",
                p.drawn.area()
            );
            assert_eq!(
                p.drawn.vertices.len(),
                corners,
                "{notches:?}: {:?}",
                p.drawn
            );
            assert_eq!(p.inside_corners().len(), inside, "{notches:?}");
        }
    }

    #[test]
    fn lands_are_the_border_without_the_notches() {
        let p = piece(vec![
            notch(-2.0, 2.0, Edge::Back, 6.0),
            notch(20.0, 24.0, Edge::Back, 6.0),
            notch(40.0, 44.0, Edge::Front, 5.0),
            notch(98.0, 102.0, Edge::Front, 5.0),
        ]);
        assert_eq!(p.lands(Side::Lower), [[2.0, 20.0], [24.0, 100.0]]);
        assert_eq!(p.lands(Side::Upper), [[0.0, 40.0], [44.0, 98.0]]);
        assert_eq!(p.lands(Side::First), [[6.0, 12.0]]);
        assert_eq!(p.lands(Side::Last), [[0.0, 7.0]]);
        let trapezium = [(0.0, 0.0), (30.0, 0.0), (25.0, 4.0), (5.0, 4.0)].map(Point::from);
        let p = FlatPiece::on_its_back("i1", &trapezium, String::new());
        assert_eq!(p.lands(Side::Lower), [[0.0, 30.0]]);
        assert_eq!(p.lands(Side::Upper), [[5.0, 25.0]]);
        assert!(p.lands(Side::First).is_empty(), "its ends are not square");
    }
}
