//! The board under the sticks, planed by the machine itself, so that z is the same all over it.

use kurbo::Rect;

use super::note::Note;
use super::program::{Move, Program};
use super::router::{RouterSettings, STROKE};
use crate::geom::Point;

/// What is planed off the board: lengths mm, z = 0 on the board as it was touched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bed {
    /// From above: everything that will lie or be screwed on it.
    pub rect: Rect,
    /// How much is taken off.
    pub depth: f64,
}

/// The program that planes the board: strokes along x, there and back, in depth passes.
#[must_use]
pub fn bed_program(bed: &Bed, set: &RouterSettings, stem: String, notes: Vec<Note>) -> Program {
    let Rect { x0, y0, x1, y1 } = bed.rect;
    let rows = ((y1 - y0) / (0.5 * STROKE * set.diameter) - 1e-9)
        .ceil()
        .max(1.0) as u32;
    let mut moves = vec![Move::Remark("bed".into())];
    for z in set.down_to(0.0, -bed.depth) {
        moves.push(Move::Travel(Point::new(x0, y0)));
        moves.push(Move::Plunge(z));
        for row in 0..=rows {
            let y = y0 + (y1 - y0) * f64::from(row) / f64::from(rows);
            let ends = if row % 2 == 0 { [x0, x1] } else { [x1, x0] };
            if row > 0 {
                moves.push(Move::Line(Point::new(ends[0], y)));
            }
            moves.push(Move::Line(Point::new(ends[1], y)));
        }
        moves.push(Move::Raise);
    }
    set.bench_program(0.0, stem, notes, moves)
}
