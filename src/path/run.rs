//! A run: a piece, or pieces that stay joined end to end, cut round in one go.

use kurbo::Point;

use crate::setup::{Edge, FlatPiece, SideNotch};
use crate::stock::{FlatSheet, Placement};

/// Pieces from left to right.
pub(super) struct Run<'a> {
    parts: Vec<Part<'a>>,
    /// Between the ends of neighbours, mm.
    gap: f64,
}

struct Part<'a> {
    index: usize,
    placement: &'a Placement,
    piece: &'a FlatPiece,
}

impl<'a> Run<'a> {
    pub(super) fn of(pieces: &'a [FlatPiece], sheet: &'a FlatSheet, run: Vec<usize>) -> Self {
        let part = |index: usize| {
            let placement = sheet.placements.get(index)?;
            let piece = pieces.get(placement.piece)?;
            Some(Part {
                index,
                placement,
                piece,
            })
        };
        Self {
            gap: sheet.gap_of(&run, pieces),
            parts: run.into_iter().filter_map(part).collect(),
        }
    }

    /// What runs that are cut alike share.
    pub(super) fn pieces(&self) -> Vec<usize> {
        self.parts.iter().map(|p| p.placement.piece).collect()
    }

    /// Index of the first placement.
    pub(super) fn first(&self) -> usize {
        self.parts.first().map_or(0, |p| p.index)
    }

    /// Where its first end and back edge lie on the sheet.
    pub(super) fn at(&self) -> Point {
        let first = self.parts.first().map(|p| p.placement);
        first.map_or(Point::ORIGIN, |p| Point::new(p.x, p.y))
    }

    /// What the operator calls it: class and member of each piece.
    pub(super) fn names(&self) -> String {
        let name = |p: &Part<'_>| p.piece.named(&p.placement.id);
        let names: Vec<String> = self.parts.iter().map(name).collect();
        names.join(" + ")
    }

    /// The run as one piece for its outline and tabs: no tab comes nearer to a parting place than its own
    /// round end of radius `r` reaches.
    pub(super) fn body(&self, r: f64) -> FlatPiece {
        if let [one] = self.parts.as_slice() {
            return one.piece.clone();
        }
        let mut body = FlatPiece::chained(
            &self.parts.iter().map(|p| p.piece).collect::<Vec<_>>(),
            self.gap,
        );
        let at = self.at();
        for pair in self.parts.windows(2) {
            let [left, right] = pair else { continue };
            body.notches.push(SideNotch {
                x0: left.placement.x - at.x + left.piece.length - r,
                x1: right.placement.x - at.x + r,
                edge: Edge::Back,
                depth: body.depth,
            });
        }
        body
    }

    /// Index of the placement that lies nearest to a place along the run, mm.
    pub(super) fn part_at(&self, along: f64) -> usize {
        let x = self.at().x + along;
        let off = |part: &Part<'_>| {
            let from = part.placement.x;
            (from - x).max(x - from - part.piece.length)
        };
        let nearest = (self.parts.iter()).min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.map_or(0, |part| part.index)
    }
}
