//! What a drawing is meant to hold, from the plan alone, in its order: border, cuts, labels, notes.

use kurbo::Point;

use super::compare::same;
use super::scan::{Line, Shape};
use super::{CORNER, missing};
use crate::geom::Contour;
use crate::path::{CutKind, Note};
use crate::replay::ReplayFault;
use crate::setup::FlatPiece;
use crate::write::dxf::{DxfContent, DxfFile, DxfSubject, TextLine, texts};

/// A contour or text of the plan and the layer it belongs on.
pub(super) struct Wanted<'a> {
    /// What a fault calls it.
    pub(super) name: String,
    pub(super) layer: &'a str,
    pub(super) what: What,
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

/// All that is meant to be drawn, `notes` besides what the drawing says by itself. What the plan lacks is
/// added to `faults`.
pub(super) fn wanted<'a>(
    file: &'a DxfFile<'a>,
    notes: &[Note],
    faults: &mut Vec<ReplayFault>,
) -> Vec<Wanted<'a>> {
    let mut wanted = Vec::new();
    if let DxfSubject::Sheet(sheet) = file.subject {
        let (x, y) = (sheet.length, sheet.width);
        let border = Contour::polygon([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)].map(Point::from));
        wanted.push(Wanted {
            name: "border".to_owned(),
            layer: &file.style.stock.name,
            what: What::Contour(border),
        });
    }
    let cuts = cuts(file, faults);
    if cuts.is_empty() {
        let what = "nothing is planned to be cut".to_owned();
        faults.push(missing("dxf-plan", what));
    }
    wanted.extend(cuts);
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

/// The contours that are cut, moved to where the file shows them. What the plan lacks is added to `faults`.
fn cuts<'a>(file: &DxfFile<'a>, faults: &mut Vec<ReplayFault>) -> Vec<Wanted<'a>> {
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
                    wanted.push(Wanted::contour(
                        &p.id,
                        &style.groove.name,
                        parting.outline(),
                    ));
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
                    wanted.push(Wanted::contour(
                        &p.id,
                        &style.outline.name,
                        FlatPiece::chained(&parts, gap).drawn.moved(p.x, p.y),
                    ));
                    continue;
                }
                let Some(piece) = layout.pieces.get(p.piece) else {
                    unplanned(format!("{} has no piece", p.id));
                    continue;
                };
                wanted.extend(piece.dashes.iter().map(|&dash| {
                    Wanted::contour(
                        &p.id,
                        &style.fold.name,
                        Contour::open(dash).moved(p.x + dx, p.y + dy),
                    )
                }));
                wanted.push(Wanted::contour(
                    &p.id,
                    &style.outline.name,
                    piece.drawn.moved(p.x + dx, p.y + dy),
                ));
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
                wanted.push(Wanted::contour(&p.id, layer, c.path.moved(dx, dy)));
            }
        }
    }
    wanted
}
