//! A run: a piece, or pieces that stay joined end to end, cut round in one go.

use kurbo::Point;

use crate::non_empty::NonEmpty;
use crate::setup::{Edge, FlatPiece, FlatSheet, PieceId, Placement, PlacementId, SideNotch};
use crate::table::Table;

/// Pieces from left to right.
pub(super) struct Run<'a> {
    parts: NonEmpty<Part<'a>>,
    /// Between the ends of neighbours, mm.
    gap: f64,
}

struct Part<'a> {
    id: PlacementId,
    placement: &'a Placement,
    piece: &'a FlatPiece,
}

impl<'a> Run<'a> {
    pub(super) fn of(
        pieces: &'a Table<FlatPiece>,
        sheet: &'a FlatSheet,
        run: &NonEmpty<PlacementId>,
    ) -> Self {
        let part = |&id: &PlacementId| {
            let placement = &sheet.placements[id];
            let piece = &pieces[placement.piece];
            Part {
                id,
                placement,
                piece,
            }
        };
        Self {
            gap: sheet.gap_of(run, pieces),
            parts: run.map(part),
        }
    }

    /// What runs that are cut alike share.
    pub(super) fn pieces(&self) -> NonEmpty<PieceId> {
        self.parts.map(|p| p.placement.piece)
    }

    /// The first placement.
    pub(super) fn first(&self) -> PlacementId {
        self.parts.first().id
    }

    /// Where its first end and back edge lie on the sheet.
    pub(super) fn at(&self) -> Point {
        let first = self.parts.first().placement;
        Point::new(first.x, first.y)
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
        if self.parts.gaps() == 0 {
            return self.parts.first().piece.clone();
        }
        let mut body = FlatPiece::chained(&self.parts.map(|p| p.piece), self.gap);
        let at = self.at();
        for [left, right] in self.parts.pairs() {
            body.notches.push(SideNotch {
                x0: left.placement.x - at.x + left.piece.length - r,
                x1: right.placement.x - at.x + r,
                edge: Edge::Back,
                depth: body.depth,
            });
        }
        body
    }

    /// The placement that lies nearest to a place along the run, mm.
    pub(super) fn part_at(&self, along: f64) -> PlacementId {
        let x = self.at().x + along;
        let off = |part: &Part<'_>| {
            let from = part.placement.x;
            (from - x).max(x - from - part.piece.length)
        };
        let nearer = |a, b| if off(b) < off(a) { b } else { a };
        let nearest = self.parts.iter().fold(self.parts.first(), nearer);
        nearest.id
    }
}
