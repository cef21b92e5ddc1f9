//! What a datum program mills of its battens: both faces whole over the length that sticks lie on, and nothing
//! behind them; and what the bed's program planes.

use kurbo::{Point, Rect};

use super::ReplayFault;
use super::region::Region;
use super::slab::{SweptMove, heights, largest, slabs, swept};
use super::sticks::level;
use crate::geom::REPLAY;
use crate::setup::Corner;

/// How far past the corner's own battens their wood is taken to reach, mm: nothing of it may be cut.
const BEYOND: f64 = 1000.0;

/// Compares what a program cuts of two battens with the faces that its corner wants: each is cut over its whole
/// length and height, down to `floor`, and nothing behind it.
///
/// # Errors
/// Every cut behind a face, and every height at which one stays uncut.
pub fn prove_datum(
    corner: &Corner,
    floor: f64,
    cuts: &[SweptMove],
    radius: f64,
) -> Result<(), Vec<ReplayFault>> {
    let mut faults = level(cuts);
    for (rule, name, wood) in wood(corner) {
        let mut found = false;
        for (bottom, top) in levels(corner, floor, cuts) {
            let bitten = swept(cuts, radius, bottom).both(&wood);
            if let (false, Some((at, _))) = (found, largest(&bitten)) {
                found = true;
                faults.push(ReplayFault {
                    rule,
                    line: None,
                    what: format!(
                        "cuts into {name}, behind its face, near x {:.3} y {:.3} between z {bottom:.3} and \
                         {top:.3}",
                        at.x, at.y
                    ),
                });
            }
        }
    }
    for (rule, name, strip) in faces(corner, radius) {
        for (bottom, top) in levels(corner, floor, cuts) {
            let cut = swept(cuts, radius, bottom);
            if let Some((at, _)) = largest(&strip.minus(&cut)) {
                faults.push(ReplayFault {
                    rule,
                    line: None,
                    what: format!(
                        "the face of {name} stays uncut near x {:.3} y {:.3} between z {bottom:.3} and \
                         {top:.3}",
                        at.x, at.y
                    ),
                });
            }
        }
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// Compares what a program planes off the board under the sticks with what it is meant to: the whole rectangle,
/// down to `floor`.
///
/// # Errors
/// What stays unplaned, and cuts below the floor.
pub fn prove_bed(
    bed: Rect,
    floor: f64,
    cuts: &[SweptMove],
    radius: f64,
) -> Result<(), Vec<ReplayFault>> {
    let mut faults = level(cuts);
    for cut in cuts {
        let z = cut.from[2].min(cut.to[2]);
        if z < floor - REPLAY {
            faults.push(ReplayFault {
                rule: "bed",
                line: Some(cut.line),
                what: format!("planes the bed to z {z:.3}, below {floor:.3}"),
            });
        }
    }
    let planed = swept(cuts, radius, floor + REPLAY);
    if let Some((at, _)) = largest(&Region::rect(bed).minus(&planed)) {
        faults.push(ReplayFault {
            rule: "bed-whole",
            line: None,
            what: format!("the bed stays as it is near x {:.3} y {:.3}", at.x, at.y),
        });
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// The slabs between `floor`, reached to within what the replay lets pass, and the battens' tops, parted where
/// cuts run.
fn levels(corner: &Corner, floor: f64, cuts: &[SweptMove]) -> Vec<(f64, f64)> {
    let floor = floor + REPLAY;
    let above = heights(cuts).map(|z| z - floor);
    let slabs = slabs(above, corner.height - floor);
    slabs
        .into_iter()
        .map(|(bottom, top)| (bottom + floor, top + floor))
        .collect()
}

type Named = (&'static str, &'static str, Region);

/// The wood behind both faces, that much farther in than the replay lets pass.
fn wood(corner: &Corner) -> [Named; 2] {
    let side = corner.side();
    let [x0, x1] = corner.rail;
    let rail = Rect::new(x0, -side * REPLAY, x1 + BEYOND, -side * corner.thick).abs();
    let [past, far] = corner.fence();
    let fence = [
        corner.by_fence(past, -corner.thick),
        corner.by_fence(past, -REPLAY),
        corner.by_fence(far + BEYOND, -REPLAY),
        corner.by_fence(far + BEYOND, -corner.thick),
    ];
    [
        ("rail-whole", "the reference rail", Region::rect(rail)),
        ("fence-whole", "the fence", shape(fence)),
    ]
}

/// What must be cut away before both faces: as far as the cutter's middle.
fn faces(corner: &Corner, radius: f64) -> [Named; 2] {
    let side = corner.side();
    let [x0, x1] = corner.rail;
    let rail = Rect::new(x0, side * REPLAY, x1, side * radius).abs();
    let [past, far] = corner.fence();
    let fence = [
        corner.by_fence(past, REPLAY),
        corner.by_fence(past, radius),
        corner.by_fence(far, radius),
        corner.by_fence(far, REPLAY),
    ];
    [
        ("rail-cut", "the reference rail", Region::rect(rail)),
        ("fence-cut", "the fence", shape(fence)),
    ]
}

fn shape(mut corners: [Point; 4]) -> Region {
    let turn = (corners[1] - corners[0]).cross(corners[2] - corners[1]);
    if turn < 0.0 {
        corners.reverse();
    }
    Region::union_of([&corners[..]])
}
