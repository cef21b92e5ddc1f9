//! Edge-up cutting: straight slots across a gang from rail to rail, and the face of its fence.

use super::PathError;
use super::program::{Move, Program};
use super::router::{RouterSettings, STROKE};
use crate::geom::{Point, sin_deg};
use crate::panel::Milling;
use crate::setup::{Gang, Slot};

/// What the rough strokes leave on a fence for the last one, mm.
const ROUGH: f64 = 0.3;
/// A slot wider than the tool by less than this is cut in one stroke, mm.
const SAME_WIDTH: f64 = 1e-6;

/// The program that cuts mark and slots of a gang: shallow ones first, each from rail to rail; the
/// outermost strokes run exactly on the walls.
///
/// # Errors
/// A slot that is narrower than the tool.
pub fn slot_program(
    gang: &Gang,
    set: &RouterSettings,
    stem: String,
    notes: Vec<String>,
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
    Ok(program(gang, set, stem, notes, moves))
}

/// The program that mills the face of a fence: rough strokes in depth passes, then one along the face.
/// The tool runs on the gang's side.
#[must_use]
pub fn fence_program(
    gang: &Gang,
    set: &RouterSettings,
    stem: String,
    notes: Vec<String>,
) -> Program {
    let r = 0.5 * set.diameter;
    let (u, away) = (gang.along(), gang.away());
    let (from, to) = fence_ends(gang, set.diameter);
    let at = |s: f64, off: f64| (u * s + away * (r + off)).to_point();
    // Conventional: the fence on the left of the way; climb: on the right.
    let (first, last) = match set.milling {
        Milling::Conventional => (from, to),
        Milling::Climb => (to, from),
    };
    let floor = -set.through();
    let mut moves = vec![Move::Remark("fence, rough".into())];
    let passes = set.down_to(gang.depth, floor);
    for &z in &passes {
        moves.push(Move::Travel(at(first, ROUGH)));
        moves.push(Move::Plunge(z));
        moves.push(Move::Line(at(last, ROUGH)));
        moves.push(Move::Raise);
    }
    moves.push(Move::Remark("fence, face".into()));
    // Down where the rough strokes have been, then into the face.
    moves.push(Move::Travel(at(first, ROUGH)));
    moves.push(Move::Plunge(floor));
    moves.push(Move::Line(at(first, 0.0)));
    moves.push(Move::Line(at(last, 0.0)));
    moves.push(Move::Raise);
    program(gang, set, stem, notes, moves)
}

/// Where the tool's centre is while it cuts the face at `s` along the fence, mm.
#[must_use]
pub fn fence_reach(gang: &Gang, radius: f64, s: f64) -> Point {
    (gang.along() * s + gang.away() * radius).to_point()
}

/// Where the fence's face begins and ends along its own direction, from the zero, mm: past the gang on
/// both sides by the tool's diameter.
#[must_use]
pub fn fence_ends(gang: &Gang, diameter: f64) -> (f64, f64) {
    let far = gang.width() / sin_deg(gang.fence_deg);
    (-diameter, far + diameter)
}

fn program(
    gang: &Gang,
    set: &RouterSettings,
    stem: String,
    notes: Vec<String>,
    moves: Vec<Move>,
) -> Program {
    Program {
        stem,
        notes,
        head: set.head(gang.depth),
        feed: set.feed,
        moves,
        holds: Vec::new(),
        reliefs: Vec::new(),
        contours: Vec::new(),
    }
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
    let (u, away) = (gang.along(), gang.away());
    let over = gang.overrun(slot);
    // Where the slot's centre line crosses the first rail's inner side, and its length over the gang.
    let origin = Point::new(slot.at + gang.offset, 0.0);
    let length = gang.width() / sin_deg(gang.fence_deg);
    let at = |off: f64, far: bool| -> Point {
        let along = if far { length + over } else { -over };
        origin + u * along + away * off
    };
    let strokes = strokes(half, 0.5 * set.diameter, set.milling);
    let mut far = strokes.first().is_some_and(|s| s.far);
    let mut aside = strokes.first().map_or(0.0, |s| s.off);
    moves.push(Move::Travel(at(aside, far)));
    for z in set.down_to(gang.depth, slot.floor) {
        if strokes.len() > 1 && (aside != strokes[0].off || far != strokes[0].far) {
            (aside, far) = (strokes[0].off, strokes[0].far);
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
/// its right (common practice, no source).
fn strokes(half: f64, radius: f64, milling: Milling) -> Vec<Stroke> {
    if half <= SAME_WIDTH {
        return vec![Stroke {
            off: 0.0,
            far: false,
        }];
    }
    // An even number between the walls, so that the second wall is cut on the way back.
    let gaps = (2.0 * half / (STROKE * radius) - 1e-9).ceil().max(1.0) as u32;
    let gaps = gaps + (gaps + 1) % 2;
    // On the way out, left is the fence's side: away from it is right.
    let first = match milling {
        Milling::Conventional => -half,
        Milling::Climb => half,
    };
    (0..=gaps)
        .map(|k| Stroke {
            off: first - 2.0 * first * f64::from(k) / f64::from(gaps),
            far: k % 2 == 1,
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
                let list = strokes(half, radius, milling);
                assert_eq!(list.len() % 2, 0, "out and back");
                assert_eq!(list[0].off.abs(), half);
                assert!((list[list.len() - 1].off + list[0].off).abs() < 1e-12);
                for pair in list.windows(2) {
                    assert!((pair[1].off - pair[0].off).abs() <= STROKE * radius + 1e-9);
                    assert_ne!(pair[0].far, pair[1].far, "starts where the last one stops");
                }
                // Out, away from the fence is on the right.
                let right = list[0].off > 0.0;
                assert_eq!(right, milling == Milling::Climb);
            }
        }
    }
}
