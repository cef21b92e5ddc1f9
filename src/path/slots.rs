//! Edge-up cutting: straight slots across a gang from rail to rail.

use super::PathError;
use super::note::Note;
use super::program::{Move, Program};
use super::router::{RouterSettings, STROKE};
use crate::geom::{Point, Vec2, sin_deg};
use crate::panel::Milling;
use crate::setup::{Gang, Slot};

/// A slot wider than the tool by less than this is cut in one stroke, mm.
const SAME_WIDTH: f64 = 1e-6;
/// A fence nearer to 90 degrees than this stands square to the sticks.
const SQUARE: f64 = 1e-9;
/// How far to the left of a wall its approach begins, mm.
const APPROACH: f64 = 1.0;

/// The program that cuts mark and slots of a gang: shallow ones first, each from rail to rail; the
/// outermost strokes run exactly on the walls.
///
/// # Errors
/// A slot that is narrower than the tool.
pub fn slot_program(
    gang: &Gang,
    set: &RouterSettings,
    stem: String,
    notes: Vec<Note>,
) -> Result<Program, PathError> {
    let mut moves = Vec::new();
    if let Some(slot) = &gang.mark {
        moves.push(Move::Remark("mark".into()));
        cut_slot(gang, slot, set, &mut moves)?;
    }
    for (n, slot) in gang.slots.iter().enumerate() {
        moves.push(Move::Remark(format!(
            "slot {} of {} at {:.2}",
            n + 1,
            gang.slots.len(),
            slot.at
        )));
        cut_slot(gang, slot, set, &mut moves)?;
    }
    Ok(set.bench_program(gang.depth, stem, notes, moves))
}

fn cut_slot(
    gang: &Gang,
    slot: &Slot,
    set: &RouterSettings,
    moves: &mut Vec<Move>,
) -> Result<(), PathError> {
    let half = 0.5 * (slot.width - set.diameter);
    if half < -SAME_WIDTH {
        return Err(PathError::NarrowNotch {
            class: gang.id.clone(),
            run: slot.width,
            width: set.diameter,
        });
    }
    // Out is away from the reference rail.
    let (out, away) = (gang.along() * gang.side(), gang.away());
    let over = gang.overrun(slot);
    // Where the slot's centre line crosses the reference rail's inner face, and its length over the gang.
    let origin = Point::new(slot.at + gang.offset, 0.0);
    let length = gang.width() / sin_deg(gang.fence_deg);
    let at = |off: f64, far: bool| -> Point {
        let along = if far { length + over } else { -over };
        origin + out * along + away * off
    };
    let square = (gang.fence_deg - 90.0).abs() <= SQUARE;
    let strokes = strokes(half, 0.5 * set.diameter, set.milling, gang.side(), square);
    let Some(&first) = strokes.first() else {
        return Ok(());
    };
    let (mut aside, mut far) = (first.off, first.far);
    let passes = set.down_to(gang.depth, slot.floor);
    for (n, z) in passes.into_iter().enumerate() {
        if n == 0 || square {
            if n > 0 {
                moves.push(Move::Raise);
            }
            (aside, far) = (first.off, first.far);
            if square {
                // Every wall is reached towards +x, so that no lost motion shifts it.
                moves.push(Move::Travel(at(aside, far) - Vec2::new(APPROACH, 0.0)));
            }
            moves.push(Move::Travel(at(aside, far)));
        } else if strokes.len() > 1 && (aside != first.off || far != first.far) {
            (aside, far) = (first.off, first.far);
            moves.push(Move::Line(at(aside, far)));
        }
        moves.push(Move::Plunge(z));
        for stroke in &strokes {
            if stroke.off != aside {
                aside = stroke.off;
                moves.push(Move::Line(at(aside, far)));
            }
            far = !far;
            moves.push(Move::Line(at(aside, far)));
        }
    }
    moves.push(Move::Raise);
    Ok(())
}

/// A stroke along a slot: its distance from the centre line, away from the fence, and the end it starts
/// from.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stroke {
    off: f64,
    far: bool,
}

/// The strokes of one pass, each starting at the end where the one before it stops: a wall, strokes
/// between, the other wall. Along both walls the tool turns as `milling` asks: a cutter that turns
/// clockwise seen from above mills conventionally with the wall on its left, and climbs with the wall on
/// its right (common practice, no source). `side` is the gang's; square to the sticks, walls are reached
/// towards +x, away from the fence.
fn strokes(half: f64, radius: f64, milling: Milling, side: f64, square: bool) -> Vec<Stroke> {
    if half <= SAME_WIDTH {
        return vec![Stroke {
            off: 0.0,
            far: false,
        }];
    }
    // An even number between the walls, so that the second wall is cut on the way back.
    let gaps = (2.0 * half / (STROKE * radius) - 1e-9).ceil().max(1.0) as u32;
    let gaps = gaps + (gaps + 1) % 2;
    // With the gang along +y the fence's side is on the left of the way out; along -y on its right.
    let first = match milling {
        Milling::Conventional => -half * side,
        Milling::Climb => half * side,
    };
    // The other wall comes first where the pass begins at the other end.
    let turned = square && first > 0.0;
    let first = if turned { -first } else { first };
    (0..=gaps)
        .map(|k| Stroke {
            off: first - 2.0 * first * f64::from(k) / f64::from(gaps),
            far: (k % 2 == 1) != turned,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_reach_both_walls_and_come_back() {
        for (half, radius) in [(0.525, 1.5), (1.2, 1.5), (2.0, 1.5), (9.0, 1.5)] {
            for milling in [Milling::Climb, Milling::Conventional] {
                for (side, square) in [(1.0, false), (-1.0, false), (-1.0, true)] {
                    let list = strokes(half, radius, milling, side, square);
                    assert_eq!(list.len() % 2, 0, "out and back");
                    assert_eq!(list[0].off.abs(), half);
                    assert!((list[list.len() - 1].off + list[0].off).abs() < 1e-12);
                    for pair in list.windows(2) {
                        assert!((pair[1].off - pair[0].off).abs() <= STROKE * radius + 1e-9);
                        assert_ne!(pair[0].far, pair[1].far, "starts where the last one stops");
                    }
                    // Out along +y, what lies away from the fence is on the right.
                    let out = if list[0].far { -side } else { side };
                    let right = list[0].off * out > 0.0;
                    assert_eq!(right, milling == Milling::Climb);
                    if square {
                        assert!(list[0].off < 0.0, "towards +x");
                    }
                }
            }
        }
    }
}
