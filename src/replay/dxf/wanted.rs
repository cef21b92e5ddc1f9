//! What a drawing is meant to hold, from the plan alone.

use super::missing;
use crate::geom::Contour;
use crate::path::CutKind;
use crate::replay::ReplayFault;
use crate::setup::FlatPiece;
use crate::write::dxf::{DxfContent, DxfFile, DxfSubject};

/// A contour of the plan and the layer it belongs on.
pub(super) struct Wanted<'a> {
    pub(super) id: &'a str,
    pub(super) layer: &'a str,
    pub(super) contour: Contour,
}

/// The contours of the plan, moved to where the file shows them. What the plan lacks is added to `faults`.
pub(super) fn wanted<'a>(file: &DxfFile<'a>, faults: &mut Vec<ReplayFault>) -> Vec<Wanted<'a>> {
    let DxfFile {
        layout,
        subject,
        content,
        style,
        ..
    } = *file;
    let sheet = subject.sheet();
    // What a placement that is shown is moved by.
    let moved = |placement: usize| match subject {
        DxfSubject::Sheet(_) => Some((0.0, 0.0)),
        DxfSubject::Piece { placement: own, .. } if own == placement => {
            sheet.placements.get(own).map(|p| (-p.x, -p.y))
        }
        DxfSubject::Piece { .. } => None,
    };
    let mut wanted = Vec::new();
    let mut unplanned = |what: String| faults.push(missing("dxf-plan", what));
    match content {
        DxfContent::Drawn => {
            let runs = match subject {
                DxfSubject::Sheet(_) => sheet.runs(),
                DxfSubject::Piece { placement, .. } => vec![vec![placement]],
            };
            for parting in sheet.partings(&layout.pieces) {
                let Some(p) = sheet.placements.get(parting.left) else {
                    continue;
                };
                if matches!(subject, DxfSubject::Sheet(_)) {
                    wanted.push(Wanted {
                        id: &p.id,
                        layer: &style.groove.name,
                        contour: parting.outline(),
                    });
                }
            }
            for run in runs {
                let Some(&i) = run.first() else { continue };
                let (Some((dx, dy)), Some(p)) = (moved(i), sheet.placements.get(i)) else {
                    unplanned(format!("there is no placement {i}"));
                    continue;
                };
                if run.len() > 1 {
                    let parts = run.iter().filter_map(|&i| sheet.placements.get(i));
                    let parts: Vec<&FlatPiece> =
                        parts.filter_map(|p| layout.pieces.get(p.piece)).collect();
                    let gap = sheet.gap_of(&run, &layout.pieces);
                    wanted.push(Wanted {
                        id: &p.id,
                        layer: &style.outline.name,
                        contour: FlatPiece::chained(&parts, gap).drawn.moved(p.x, p.y),
                    });
                    continue;
                }
                let Some(piece) = layout.pieces.get(p.piece) else {
                    unplanned(format!("{} has no piece", p.id));
                    continue;
                };
                wanted.extend(piece.dashes.iter().map(|&dash| Wanted {
                    id: &p.id,
                    layer: &style.fold.name,
                    contour: Contour::open(dash).moved(p.x + dx, p.y + dy),
                }));
                wanted.push(Wanted {
                    id: &p.id,
                    layer: &style.outline.name,
                    contour: piece.drawn.moved(p.x + dx, p.y + dy),
                });
            }
        }
        DxfContent::Compensated(program) => {
            for c in &program.contours {
                let Some(p) = sheet.placements.get(c.placement) else {
                    unplanned(format!("a contour belongs to placement {}", c.placement));
                    continue;
                };
                let Some((dx, dy)) = moved(c.placement) else {
                    continue;
                };
                let layer = match c.kind {
                    CutKind::Outline => &style.outline.name,
                    CutKind::Fold => &style.fold.name,
                    CutKind::Notch => &style.notch.name,
                    CutKind::Groove => &style.groove.name,
                };
                wanted.push(Wanted {
                    id: &p.id,
                    layer,
                    contour: c.path.moved(dx, dy),
                });
            }
        }
    }
    wanted
}
