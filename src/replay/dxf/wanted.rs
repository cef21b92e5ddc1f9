//! What a drawing is meant to hold, from the plan alone, in its order: border, cuts, labels, notes.

use kurbo::{Point, Rect};

use super::compare::same;
use super::scan::{Line, Shape};
use super::{CORNER, missing};
use crate::geom::Contour;
use crate::non_empty::NonEmpty;
use crate::path::{CutKind, CutPaths, Note};
use crate::replay::ReplayFault;
use crate::setup::{FlatPiece, PlacementId};
use crate::write::dxf::{DxfContent, DxfFile, DxfSubject, TextLine, texts};

/// A contour or text of the plan and the layer it belongs on.
pub(super) struct Wanted<'a> {
    /// What a fault calls it.
    pub(super) name: String,
    pub(super) layer: &'a str,
    pub(super) what: What,
}

/// A rectangle round all contours among what is wanted; `None` where there are none.
pub(super) fn bounds(wanted: &[Wanted<'_>]) -> Option<Rect> {
    let contours = wanted.iter().filter_map(|w| match &w.what {
        What::Contour(contour) => Some(contour.bounds()),
        What::Text(_) => None,
    });
    contours.reduce(|a, b| a.union(b))
}

/// What is meant to be drawn.
pub(super) enum What {
    Contour(Contour),
    Text(TextLine),
}

impl Wanted<'_> {
    fn contour<'a>(id: &str, layer: &'a str, contour: Contour) -> Wanted<'a> {
        Wanted {
            name: format!("contour of {id}"),
            layer,
            what: What::Contour(contour),
        }
    }

    /// Whether a file's entity is this one, kind, layer, place and size; else the rule that it breaks, and
    /// how.
    pub(super) fn is(&self, found: &Line) -> Result<(), (&'static str, String)> {
        let rule = match &self.what {
            What::Contour(_) => "dxf-contour",
            What::Text(_) => "dxf-text",
        };
        let refuse = |what: String| Err((rule, format!("{}: {what}", self.name)));
        if found.layer != self.layer {
            let what = format!(
                "on layer \"{}\", planned on \"{}\"",
                found.layer, self.layer
            );
            return refuse(what);
        }
        match (&self.what, &found.shape) {
            (What::Contour(wanted), Shape::Contour(contour)) => {
                same(contour, wanted).or_else(refuse)
            }
            (What::Text(wanted), Shape::Text { text, at, height }) => {
                let near = |a: f64, b: f64| (a - b).abs() <= CORNER;
                if *text != wanted.text {
                    refuse(format!("says \"{text}\""))
                } else if !near(at.x, wanted.x) || !near(at.y, wanted.y) {
                    let planned = format!("({}, {}) planned", wanted.x, wanted.y);
                    refuse(format!("stands at ({}, {}), {planned}", at.x, at.y))
                } else if !near(*height, wanted.height) {
                    refuse(format!("is {height} mm high, {} planned", wanted.height))
                } else {
                    Ok(())
                }
            }
            (What::Contour(_), Shape::Text { .. }) => refuse("is a text".to_owned()),
            (What::Text(_), Shape::Contour(_)) => refuse("is a contour".to_owned()),
        }
    }
}

/// All that is meant to be drawn: `cuts` where the file has them, and `notes` besides what the drawing says by itself.
/// What the plan lacks is added to `faults`.
pub(super) fn wanted<'a>(
    file: &'a DxfFile<'a>,
    cuts: Vec<Wanted<'a>>,
    notes: &[Note],
    faults: &mut Vec<ReplayFault>,
) -> Vec<Wanted<'a>> {
    let mut wanted = Vec::new();
    if let (true, DxfSubject::Sheet(sheet)) = (file.parts.border, file.subject) {
        let (x, y) = (sheet.length, sheet.width);
        let border = Contour::polygon([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)].map(Point::from));
        wanted.push(Wanted {
            name: "border".to_owned(),
            layer: &file.style.stock.name,
            what: What::Contour(border),
        });
    }
    if file.parts.cuts {
        wanted.extend(cuts);
    }
    match texts(file, notes) {
        Ok(texts) => wanted.extend(texts.into_iter().map(|(layer, line)| Wanted {
            name: format!("text \"{}\"", line.text),
            layer,
            what: What::Text(line),
        })),
        Err(e) => faults.push(missing("dxf-plan", e.to_string())),
    }
    wanted
}

/// The contours that are cut of what a file shows, moved to where it shows them.
pub(super) fn cuts<'a>(file: &DxfFile<'a>) -> Vec<Wanted<'a>> {
    match file.content {
        DxfContent::Drawn => drawn(file),
        DxfContent::Compensated(planned) => paths(file, planned),
    }
}

/// The path of a piece is moved to where it is shown, the others are not; `None` for what is not shown.
fn moved(file: &DxfFile<'_>, placement: PlacementId) -> Option<(f64, f64)> {
    match file.subject {
        DxfSubject::Sheet(_) => Some((0.0, 0.0)),
        DxfSubject::Piece {
            placement: own,
            sheet,
        } => (own == placement).then(|| {
            let p = &sheet.placements[own];
            (-p.x, -p.y)
        }),
    }
}

/// Finished outlines, grooves and dashes.
fn drawn<'a>(file: &DxfFile<'a>) -> Vec<Wanted<'a>> {
    let (layout, style) = (file.layout, file.style);
    let sheet = file.subject.sheet();
    let mut wanted = Vec::new();
    let runs = match file.subject {
        DxfSubject::Sheet(_) => {
            wanted.extend(sheet.partings(&layout.pieces).iter().map(|parting| {
                let id = &sheet.placements[parting.left].id;
                Wanted::contour(id, &style.groove.name, parting.outline())
            }));
            sheet.runs()
        }
        DxfSubject::Piece { placement, .. } => vec![NonEmpty::one(placement)],
    };
    for run in runs {
        let p = &sheet.placements[*run.first()];
        // All of a drawing's runs are shown; the plan's own place of a piece alone is its origin.
        let (dx, dy) = match file.subject {
            DxfSubject::Sheet(_) => (p.x, p.y),
            DxfSubject::Piece { .. } => (0.0, 0.0),
        };
        let parts = run.map(|&id| &layout.pieces[sheet.placements[id].piece]);
        let outline = if parts.gaps() == 0 {
            let piece = parts.first();
            wanted.extend(piece.dashes.iter().map(|&dash| {
                Wanted::contour(&p.id, &style.fold.name, Contour::open(dash).moved(dx, dy))
            }));
            piece.drawn.clone()
        } else {
            FlatPiece::chained(&parts, sheet.gap_of(&run, &layout.pieces)).drawn
        };
        wanted.push(Wanted::contour(
            &p.id,
            &style.outline.name,
            outline.moved(dx, dy),
        ));
    }
    wanted
}

/// The paths of beam or tool.
fn paths<'a>(file: &DxfFile<'a>, planned: CutPaths<'_>) -> Vec<Wanted<'a>> {
    let style = file.style;
    let sheet = file.subject.sheet();
    let mut wanted = Vec::new();
    for c in planned.contours {
        // Of a piece's own file, the paths of the other pieces are no part.
        let Some((dx, dy)) = moved(file, c.placement) else {
            continue;
        };
        let layer = match c.kind {
            CutKind::Outline => &style.outline.name,
            CutKind::Fold => &style.fold.name,
            CutKind::Notch => &style.notch.name,
            CutKind::Groove => &style.groove.name,
        };
        let id = &sheet.placements[c.placement].id;
        wanted.push(Wanted::contour(id, layer, c.path.moved(dx, dy)));
    }
    wanted
}
