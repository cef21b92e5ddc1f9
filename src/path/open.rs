//! A path that is cut from one end to the other.

use kurbo::{Point, Vec2};

use crate::geom::{Contour, Vertex};
use crate::non_empty::NonEmpty;

/// An open path, which has two ends.
#[derive(Debug, Clone)]
pub(super) struct OpenPath {
    contour: Contour,
    start: Point,
    end: Point,
}

impl OpenPath {
    /// The path through these corners; the last one has no segment.
    pub(super) fn of(corners: &NonEmpty<Vertex>) -> Self {
        Self {
            start: corners.first().at,
            end: corners.last().at,
            contour: Contour {
                vertices: corners.iter().copied().collect(),
                closed: false,
            },
        }
    }

    /// The path straight from one point to the next.
    pub(super) fn through(points: &NonEmpty<Point>) -> Self {
        Self::of(&points.map(|&at| Vertex { at, bulge: 0.0 }))
    }

    /// Where it starts.
    pub(super) fn start(&self) -> Point {
        self.start
    }

    /// Where it ends.
    pub(super) fn end(&self) -> Point {
        self.end
    }

    pub(super) fn contour(&self) -> &Contour {
        &self.contour
    }

    pub(super) fn moved(&self, by: Vec2) -> Self {
        Self {
            contour: self.contour.moved(by.x, by.y),
            start: self.start + by,
            end: self.end + by,
        }
    }

    /// The same path from its end to its start. It is straight throughout: no bulge is turned round.
    pub(super) fn reversed(&self) -> Self {
        let mut contour = self.contour.clone();
        contour.vertices.reverse();
        Self {
            contour,
            start: self.end,
            end: self.start,
        }
    }
}
