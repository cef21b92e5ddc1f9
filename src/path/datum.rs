//! The datum of edge-up cutting: the faces of reference rail and fence, milled from one zero in one path.

use super::note::Note;
use super::program::{Move, Program};
use super::router::RouterSettings;
use crate::geom::Point;
use crate::setup::{Corner, ROUGH};

/// The program that mills both faces of a datum corner: rough passes there and back, each deeper, then the last
/// of the wood at full depth, there and back, so that lost motion is the same for fences of either hand.
/// `top` is the height of the sticks that will lie there, over which it travels.
#[must_use]
pub fn datum_program(
    corner: &Corner,
    top: f64,
    set: &RouterSettings,
    stem: String,
    notes: Vec<Note>,
) -> Program {
    let floor = -set.through();
    let mut moves = vec![Move::Remark("datum, rough".into())];
    let rough = corner.path(ROUGH);
    let mut out = true;
    moves.push(Move::Travel(rough[0]));
    for z in set.down_to(corner.height, floor) {
        moves.push(Move::Plunge(z));
        lines(&mut moves, &rough, out);
        out = !out;
    }
    moves.push(Move::Raise);
    moves.push(Move::Remark("datum, both faces".into()));
    let faces = corner.path(0.0);
    // Down where the rough passes have been, past the sticks' far ends, and back out there.
    moves.push(Move::Travel(rough[0]));
    moves.push(Move::Plunge(floor));
    moves.push(Move::Line(faces[0]));
    lines(&mut moves, &faces, true);
    lines(&mut moves, &faces, false);
    moves.push(Move::Line(rough[0]));
    moves.push(Move::Raise);
    set.bench_program(top.max(corner.height), stem, notes, moves)
}

/// Cuts along a path from the end where the cutter is.
fn lines(moves: &mut Vec<Move>, path: &[Point; 4], out: bool) {
    let step = |p: &Point| Move::Line(*p);
    if out {
        moves.extend(path.iter().skip(1).map(step));
    } else {
        moves.extend(path.iter().rev().skip(1).map(step));
    }
}
