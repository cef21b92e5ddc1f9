//! The contours of a file as they are written: checked, placed and rounded.

use kurbo::{Point, Rect, Vec2};

use super::file::Shown;
use super::{DxfContent, DxfError, DxfFile};
use crate::geom::{Contour, Vertex, micron, tidy};
use crate::path::CutKind;
use crate::setup::{FlatPiece, FlatSheet};

/// The sheet's own border.
pub(super) fn border(sheet: &FlatSheet) -> Contour {
    let (x, y) = (micron(sheet.length), micron(sheet.width));
    Contour::polygon([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)].map(Point::from))
}

/// All contours that are cut, with their layer, in the order in which they are written.
pub(super) fn cut<'a>(
    file: &DxfFile<'a>,
    shown: &[Shown<'_>],
) -> Result<Vec<(&'a str, Contour)>, DxfError> {
    let style = file.style;
    let DxfContent::Compensated(program) = file.content else {
        return drawn(file, shown);
    };
    let placements = file.subject.sheet().placements.len();
    let mut paths = Vec::with_capacity(program.contours.len());
    for c in &program.contours {
        if c.placement >= placements {
            return Err(DxfError::Missing {
                what: "placement",
                index: c.placement,
            });
        }
        // Of a piece's own file, the paths of the other pieces are no part.
        let at = shown.binary_search_by_key(&c.placement, |s| s.placement);
        let Some(s) = at.ok().and_then(|at| shown.get(at)) else {
            continue;
        };
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
        return Err(DxfError::Missing {
            what: "path of placement",
            index: shown.first().map_or(0, |s| s.placement),
        });
    }
    Ok(paths)
}

/// Finished outlines: grooves first, then each piece after the dashes of its fold, or pieces that stay joined as one.
fn drawn<'a>(file: &DxfFile<'a>, shown: &[Shown<'_>]) -> Result<Vec<(&'a str, Contour)>, DxfError> {
    let (style, sheet) = (file.style, file.subject.sheet());
    let mut contours = Vec::new();
    let runs = if file.has_grooves() {
        for parting in sheet.partings(&file.layout.pieces) {
            let id = sheet.placements.get(parting.left).map_or("", |p| &p.id);
            let groove = parting.outline();
            contours.push((style.groove.name.as_str(), written(&groove, true, id)?));
        }
        sheet.runs()
    } else {
        shown.iter().map(|s| vec![s.placement]).collect()
    };
    for run in runs {
        let of = |index: usize| {
            let missing = DxfError::Missing {
                what: "piece",
                index,
            };
            let s = shown.iter().find(|s| s.placement == index);
            s.ok_or(missing)
        };
        let parts = run.iter().map(|&i| of(i)).collect::<Result<Vec<_>, _>>()?;
        let Some(first) = parts.first() else { continue };
        let contour = match parts.as_slice() {
            [one] => one.piece.drawn.clone(),
            _ => {
                let pieces: Vec<&FlatPiece> = parts.iter().map(|s| s.piece).collect();
                FlatPiece::chained(&pieces, sheet.gap_of(&run, &file.layout.pieces)).drawn
            }
        };
        for dash in parts.iter().flat_map(|s| &s.piece.dashes) {
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

/// Least rectangle round a contour, arcs included.
pub(super) fn bounds(contour: &Contour) -> Rect {
    let Some(first) = contour.vertices.first() else {
        return Rect::ZERO;
    };
    let mut rect = Rect::from_points(first.at, first.at);
    for (a, bulge, b) in contour.segments() {
        rect = rect.union_pt(b);
        if bulge == 0.0 {
            continue;
        }
        // Radius and centre from chord and bulge: sagitta = bulge * chord / 2.
        let chord = b - a;
        let half = 0.5 * chord.hypot();
        let radius = half * (1.0 + bulge * bulge) / (2.0 * bulge.abs());
        let to_centre = half * (1.0 - bulge * bulge) / (2.0 * bulge);
        let centre = a.midpoint(b) + Vec2::new(-chord.y, chord.x) * (to_centre / (2.0 * half));
        // The arc lies to the right of its chord where it turns left (bulge > 0), and the other way
        // round: a compass point of the circle belongs to it if it lies on that side.
        for (dx, dy) in [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)] {
            let p = centre + Vec2::new(dx, dy) * radius;
            if chord.cross(p - a) * bulge < 0.0 {
                rect = rect.union_pt(p);
            }
        }
    }
    rect
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_arc_reaches_past_its_ends() {
        // Circle of radius 5 about the origin, by its parametric form.
        let at = |deg: f64| Point::new(5.0 * deg.to_radians().cos(), 5.0 * deg.to_radians().sin());
        for (from, to) in [
            (10.0, 170.0),
            (200.0, 440.0),
            (350.0, 20.0),
            (80.0, -80.0),
            (45.0, 46.0),
        ] {
            let bulge = libm::tan((to - from_near(from, to)).to_radians() / 4.0);
            let c = Contour {
                vertices: vec![
                    Vertex {
                        at: at(from),
                        bulge,
                    },
                    Vertex {
                        at: at(to),
                        bulge: 0.0,
                    },
                ],
                closed: false,
            };
            let mut want = Rect::from_points(at(from), at(from));
            let sweep = to - from_near(from, to);
            for k in 0..=36_000 {
                want = want.union_pt(at(from + sweep * f64::from(k) / 36_000.0));
            }
            let got = bounds(&c);
            for (g, w) in [
                (got.x0, want.x0),
                (got.y0, want.y0),
                (got.x1, want.x1),
                (got.y1, want.y1),
            ] {
                assert!(
                    (g - w).abs() < 1e-6,
                    "from {from} to {to}: {got:?} against {want:?}"
                );
            }
        }
    }

    /// `from` brought to where the sweep to `to` is less than a full turn, for the list above.
    fn from_near(from: f64, to: f64) -> f64 {
        if to - from < -180.0 {
            from - 360.0
        } else {
            from
        }
    }

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
