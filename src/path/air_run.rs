//! An air run: a program that shows, above the work and with the head off, how far another one reaches.

use std::collections::BTreeMap;

use super::{Head, Move, Note, PathBox, Program};
use crate::geom::Point;

/// What the name of an air run's file begins with, before the name of the program that it belongs to.
const STEM: &str = "air-run-";

/// The air run of a program.
#[derive(Debug, Clone, PartialEq)]
pub struct AirRun {
    /// Its moves: a cutter rises, then straight lines at the feed of travel; the head is never on.
    pub program: Program,
    /// The box of the path that it goes round.
    pub path: PathBox,
}

/// The name of a program's air run, without ending.
#[must_use]
pub fn air_run_stem(stem: &str) -> String {
    format!("{STEM}{stem}")
}

impl AirRun {
    /// The air run of `program` at this feed, mm/min: up to the safe height, to the corner of the path's
    /// box with the least x and y, once round the box counter-clockwise, then over x = y = 0.
    #[must_use]
    pub fn of(program: &Program, feed: f64, notes: Vec<Note>) -> Self {
        let path = PathBox::of(program);
        let rise = matches!(program.head, Head::Cutter { .. }).then_some(Move::Raise);
        let stops = stops(&path).map(Move::Line);
        Self {
            program: Program {
                stem: air_run_stem(&program.stem),
                notes,
                head: program.head.clone(),
                feed,
                moves: rise.into_iter().chain(stops).collect(),
                holds: Vec::new(),
                reliefs: BTreeMap::new(),
                contours: Vec::new(),
            },
            path,
        }
    }
}

/// Where the straight lines of an air run end, in order.
#[must_use]
pub fn stops(path: &PathBox) -> [Point; 6] {
    let [a, b, c, d] = path.corners();
    [a, b, c, d, a, Point::ORIGIN]
}
