//! The contours of a file as they are written: checked, placed and rounded.

use kurbo::{Point, Rect};

use super::file::Shown;
use super::{DxfContent, DxfError, DxfFile, DxfSubject};
use crate::geom::{Contour, Vertex, micron, tidy};
use crate::non_empty::NonEmpty;
use crate::path::CutKind;
use crate::setup::{FlatPiece, FlatSheet};

/// The stock of a sheet, its lower left corner at the origin.
pub(super) fn stock(sheet: &FlatSheet) -> Result<Rect, DxfError> {
    let (x, y) = (micron(sheet.length), micron(sheet.width));
    if !(x > 0.0 && y > 0.0 && (x + y).is_finite()) {
        let number = sheet.number;
        return Err(DxfError::Sheet { number });
    }
    Ok(Rect::new(0.0, 0.0, x, y))
}

/// How far contours reach.
pub(super) fn bounds(contours: &[(&str, Contour)]) -> Result<Rect, DxfError> {
    let bounds = contours.iter().map(|(_, contour)| contour.bounds());
    bounds
        .reduce(|a, b| a.union(b))
        .ok_or_else(|| DxfError::Missing {
            what: "nothing is cut".to_owned(),
        })
}

/// The border of a sheet's stock with its layer, where the file has it.
pub(super) fn border<'a>(file: &DxfFile<'a>) -> Result<Vec<(&'a str, Contour)>, DxfError> {
    match file.subject {
        DxfSubject::Sheet(sheet) if file.parts.border => {
            let Rect { x0, y0, x1, y1 } = stock(sheet)?;
            let corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)];
            let border = Contour::polygon(corners.map(Point::from));
            Ok(vec![(file.style.stock.name.as_str(), border)])
        }
        DxfSubject::Sheet(_) | DxfSubject::Piece { .. } => Ok(Vec::new()),
    }
}

/// All contours that are cut, with their layer, in the order in which they are written.
pub(super) fn cut<'a>(
    file: &DxfFile<'a>,
    shown: &[Shown<'_>],
) -> Result<Vec<(&'a str, Contour)>, DxfError> {
    let style = file.style;
    let DxfContent::Compensated(planned) = file.content else {
        return drawn(file, shown);
    };
    let mut paths = Vec::with_capacity(planned.contours.len());
    for c in planned.contours {
        // Of a piece's own file, the paths of the other pieces are no part.
        let Ok(at) = shown.binary_search_by_key(&c.placement, |s| s.placement) else {
            continue;
        };
        // A place of the list, as the search says.
        let s = &shown[at];
        let (layer, closed) = match c.kind {
            CutKind::Outline => (&style.outline, true),
            CutKind::Fold => (&style.fold, false),
            CutKind::Notch => (&style.notch, false),
            CutKind::Groove => (&style.groove, false),
        };
        let path = c.path.moved(s.path_moved.0, s.path_moved.1);
        paths.push((layer.name.as_str(), written(&path, closed, s.id)?));
    }
    if paths.is_empty() {
        let what = "nothing of what is shown is cut".to_owned();
        return Err(DxfError::Missing { what });
    }
    Ok(paths)
}

/// Finished outlines: grooves first, then each piece after the dashes of its fold, or pieces that stay joined as one.
fn drawn<'a>(file: &DxfFile<'a>, shown: &[Shown<'_>]) -> Result<Vec<(&'a str, Contour)>, DxfError> {
    let (style, sheet) = (file.style, file.subject.sheet());
    let mut contours = Vec::new();
    let runs = if file.has_grooves() {
        for parting in sheet.partings(&file.layout.pieces) {
            let id = &sheet.placements[parting.left].id;
            let groove = parting.outline();
            contours.push((style.groove.name.as_str(), written(&groove, true, id)?));
        }
        sheet.runs()
    } else {
        shown.iter().map(|s| NonEmpty::one(s.placement)).collect()
    };
    for run in runs {
        let pieces = run.map(|&id| &file.layout.pieces[sheet.placements[id].piece]);
        // The first one tells where all of the run lies; with grooves every placement is shown.
        let first = shown.iter().find(|s| s.placement == *run.first());
        let first = first.ok_or_else(|| DxfError::Missing {
            what: format!("placement {} is not shown", run.first().index()),
        })?;
        let contour = if pieces.gaps() == 0 {
            pieces.first().drawn.clone()
        } else {
            FlatPiece::chained(&pieces, sheet.gap_of(&run, &file.layout.pieces)).drawn
        };
        for dash in pieces.iter().flat_map(|piece| &piece.dashes) {
            let dash = Contour::open(*dash).moved(first.at.0, first.at.1);
            contours.push((style.fold.name.as_str(), written(&dash, false, first.id)?));
        }
        let contour = contour.moved(first.at.0, first.at.1);
        contours.push((
            style.outline.name.as_str(),
            written(&contour, true, first.id)?,
        ));
    }
    Ok(contours)
}

/// Rounds a contour to what the file holds: corners to 1e-6 mm, bulges to 1e-9 (half a metre of chord
/// turns that into 1e-7 mm of sagitta).
fn written(contour: &Contour, closed: bool, id: &str) -> Result<Contour, DxfError> {
    let refuse = |what| {
        Err(DxfError::Contour {
            id: id.to_owned(),
            what,
        })
    };
    if contour.closed != closed {
        return refuse("an outline must be closed, a notch and a dash open");
    }
    let finite = |v: &Vertex| v.at.x.is_finite() && v.at.y.is_finite() && v.bulge.is_finite();
    if !contour.vertices.iter().all(finite) {
        return refuse("a corner is not a finite number");
    }
    if contour.vertices.len() < 2 {
        return refuse("it has fewer than two corners");
    }
    let mut vertices: Vec<Vertex> = contour
        .vertices
        .iter()
        .map(|v| Vertex {
            at: Point::new(micron(v.at.x), micron(v.at.y)),
            bulge: tidy((v.bulge * 1e9).round() / 1e9),
        })
        .collect();
    if !closed && let Some(last) = vertices.last_mut() {
        last.bulge = 0.0;
    }
    let rounded = Contour { vertices, closed };
    if rounded.segments().any(|(a, _, b)| a == b) {
        return refuse("two neighbouring corners lie within 0.000001 mm");
    }
    if closed && rounded.area() == 0.0 {
        return refuse("it encloses nothing");
    }
    Ok(rounded)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_cut_is_refused() {
        let square = Contour::polygon([(0.0, 0.0), (9.0, 0.0), (9.0, 9.0)].map(Point::from));
        assert!(written(&square, true, "a").is_ok(), "a triangle");
        assert!(
            written(&square, false, "a").is_err(),
            "a notch that closes on itself"
        );
        let flat = Contour::polygon([(0.0, 0.0), (9.0, 0.0)].map(Point::from));
        assert!(
            written(&flat, true, "a").is_err(),
            "there and back encloses nothing"
        );
        let twice = Contour::open([(0.0, 0.0), (1e-8, 0.0)].map(Point::from));
        assert!(written(&twice, false, "a").is_err(), "a corner said twice");
        let nan = Contour::open([(0.0, 0.0), (f64::NAN, 0.0)].map(Point::from));
        assert!(written(&nan, false, "a").is_err(), "not a number");
    }

    #[test]
    fn no_minus_nought_is_written() {
        let c = Contour::polygon([(-1e-9, -0.0), (9.0, 0.0), (9.0, 9.0)].map(Point::from));
        let Ok(c) = written(&c, true, "a") else {
            unreachable!("a triangle")
        };
        let first = c.vertices[0];
        for v in [first.at.x, first.at.y, first.bulge] {
            assert!(v == 0.0 && v.is_sign_positive(), "found {v:?}");
        }
    }
}
