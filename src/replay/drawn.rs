//! What drawings cut that are sent elsewhere: their contours, which a file is proven to hold, swept like the cuts of a
//! program; or, of finished outlines, the shapes that they draw.

use std::collections::BTreeMap;

use kurbo::Rect;

use super::ReplayFault;
use super::region::Region;
use super::slab::SweptMove;
use super::sweep::{Cut, SheetProof, not_whole, prove_cut};
use super::voids::voids_of;
use crate::geom::{Point, arc_of};
use crate::lattice::FitShape;
use crate::path::{CutPaths, DrawnPaths};
use crate::setup::{FlatLayout, FlatPiece, FlatSheet, PieceId};

/// Compares what a cut along the paths of a sheet leaves of every piece with the piece as intended; nothing holds it.
///
/// # Errors
/// Every piece that would not come out as drawn; a plan that is not whole.
pub fn prove_paths(
    layout: &FlatLayout,
    sheet: &FlatSheet,
    paths: &DrawnPaths,
) -> Result<SheetProof, Vec<ReplayFault>> {
    let shown = paths.shown();
    shown.check(sheet).map_err(not_whole)?;
    let cut = Cut {
        r: paths.width.radius(),
        beam: true,
        holds: &[],
        reliefs: &paths.reliefs,
    };
    prove_cut(&along(shown), layout, sheet, &cut)
}

/// The cuts along the contours, through the stock.
fn along(paths: CutPaths<'_>) -> Vec<SweptMove> {
    let at = |p: Point| [p.x, p.y, 0.0];
    let segments = paths
        .contours
        .iter()
        .flat_map(|contour| contour.path.segments());
    let cut = |(a, bulge, b): (Point, f64, Point)| SweptMove {
        line: 0,
        from: at(a),
        to: at(b),
        arc: (bulge != 0.0).then(|| (arc_of(a, bulge, b).0, bulge > 0.0)),
    };
    segments.map(cut).collect()
}

/// What is missing from the blank of each piece of a sheet, as it is drawn.
///
/// # Errors
/// A plan that is not whole.
pub fn drawn_shapes(
    layout: &FlatLayout,
    sheet: &FlatSheet,
) -> Result<BTreeMap<PieceId, FitShape>, Vec<ReplayFault>> {
    layout.check(sheet).map_err(not_whole)?;
    let mut shapes = BTreeMap::new();
    for place in &sheet.placements {
        shapes
            .entry(place.piece)
            .or_insert_with(|| shape(&layout.pieces[place.piece]));
    }
    Ok(shapes)
}

fn shape(piece: &FlatPiece) -> FitShape {
    let drawn: Vec<Point> = piece.drawn.vertices.iter().map(|v| v.at).collect();
    let blank = Region::rect(Rect::new(0.0, 0.0, piece.length, piece.depth));
    let missing = voids_of(&blank.minus(&Region::union_of([&drawn[..]])));
    FitShape {
        sharp: missing.clone(),
        voids: missing,
        flare: 0.0,
    }
}
