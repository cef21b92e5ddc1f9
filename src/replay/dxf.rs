//! Reads a DXF file back from its bytes and proves it against the plan.
//!
//! Two readers work side by side: a plain scan of the group codes that knows only what may stand in a
//! file of ours (`scan`, and `frame` for all that stands round what is drawn), and the `dxf` crate, which
//! skips without a word what it does not know. Both must find the same entities, and these must be those
//! of the plan: nothing more, nothing less, in their order, on their layers, every corner, bulge and
//! letter in place. Nothing here is taken from the writer but what it is meant to write.
//!
//! A proven file may differ from the one that is written in this alone: how its handles are numbered,
//! which corner a closed contour starts at, the last decimal of a number, blanks before a group code or a
//! whole number.

mod compare;
mod frame;
mod groups;
mod notes;
mod pairs;
mod r12;
mod r2000;
mod scan;
mod wanted;

use ::dxf::Drawing;
use ::dxf::entities::EntityType;
use kurbo::{Point, Rect};

use super::ReplayFault;
use crate::geom::Contour;
use crate::panel::{DxfLayer, DxfStyle};
use crate::path::Note;
use crate::write::dxf::{DxfFile, DxfSubject, carried};

use frame::ListedLayer;
use scan::{Scan, Shape, covered};
use wanted::{Wanted, What, wanted};

/// Greatest difference of a coordinate from the plan, mm: twice the rounding of the file.
const CORNER: f64 = 1e-6;

/// What a proven file holds.
#[derive(Debug, Clone, PartialEq)]
pub struct DxfProof {
    /// Layers with something on them, those that are cut first.
    pub layers: Vec<DxfLayer>,
    /// Contours on layers that are cut.
    pub contours: usize,
    /// Their length, arcs included, mm.
    pub cut_length: f64,
    /// Area within the closed ones, mm², summed.
    pub area: f64,
}

/// Proves that `bytes` hold what `file` describes; `notes` are what it tells besides, as it was written.
///
/// # Errors
/// Every fault found. A file that cannot be read as groups of our kind has one fault, at its first line
/// that is wrong.
pub fn prove_dxf(
    bytes: &[u8],
    file: &DxfFile<'_>,
    notes: &[Note],
) -> Result<DxfProof, Vec<ReplayFault>> {
    // What is named is there, here and in all that follows.
    let whole = file.check().map_err(|what| vec![missing("dxf-plan", what)]);
    whole?;
    let mut faults = Vec::new();
    let cuts = wanted::cuts(file);
    let cut = wanted::bounds(&cuts).ok_or_else(|| {
        let what = "nothing is planned to be cut".to_owned();
        vec![missing("dxf-plan", what)]
    })?;
    let wanted = wanted(file, cuts, notes, &mut faults);
    let layers = layers(file.style, &wanted);
    let one = |fault| vec![fault];
    let text = pairs::text(bytes, file.version).map_err(one)?;
    let scanned = pairs::pairs(&text).and_then(|p| scan::scan(&p, file.version, &layers));
    let scan = scanned.map_err(one)?;
    let mut proof = Proof {
        scan: &scan,
        file,
        style: file.style,
        cut,
        faults,
    };
    proof.second_reader(bytes);
    proof.entities(&wanted);
    proof.labels();
    proof.notes();
    proof.extent();
    if proof.faults.is_empty() {
        let layers = layers.iter().map(|listed| listed.layer.clone()).collect();
        Ok(proof.cuts(layers))
    } else {
        Err(proof.faults)
    }
}

/// The layers of a file in their order, those that are cut first: each that something is meant to lie on.
fn layers<'a>(style: &'a DxfStyle, wanted: &[Wanted<'_>]) -> Vec<ListedLayer<'a>> {
    let cut = [&style.outline, &style.notch, &style.groove, &style.fold];
    let never = [&style.label, &style.note, &style.stock];
    let listed = |cut| move |layer| ListedLayer { layer, cut };
    let all = cut.into_iter().map(listed(true));
    let all = all.chain(never.into_iter().map(listed(false)));
    all.filter(|listed| wanted.iter().any(|w| w.layer == listed.layer.name))
        .collect()
}

fn fault(rule: &'static str, line: usize, what: String) -> ReplayFault {
    ReplayFault {
        rule,
        line: Some(line),
        what,
    }
}

fn missing(rule: &'static str, what: String) -> ReplayFault {
    ReplayFault {
        rule,
        line: None,
        what,
    }
}

/// The faults as they gather.
struct Proof<'a> {
    scan: &'a Scan,
    file: &'a DxfFile<'a>,
    style: &'a DxfStyle,
    /// How far all that is cut reaches, in this file or the one beside it.
    cut: Rect,
    faults: Vec<ReplayFault>,
}

impl Proof<'_> {
    /// The `dxf` crate must read the very entities that the scan has found.
    fn second_reader(&mut self, bytes: &[u8]) {
        let drawing = match Drawing::load(&mut &bytes[..]) {
            Ok(drawing) => drawing,
            Err(e) => {
                self.faults.push(missing(
                    "dxf-reader",
                    format!("the file cannot be read: {e}"),
                ));
                return;
            }
        };
        let (read, scanned) = (drawing.entities().count(), self.scan.entities.len());
        if read != scanned {
            let what = format!("one reader finds {read} entities, the other {scanned}");
            self.faults.push(missing("dxf-reader", what));
        }
        for (entity, found) in drawing.entities().zip(&self.scan.entities) {
            let same = match (&entity.specific, &found.shape) {
                (EntityType::LwPolyline(line), Shape::Contour(contour)) => {
                    let corners = line.vertices.iter().map(|v| (v.x, v.y, v.bulge));
                    line.is_closed() == contour.closed && are_corners(corners, contour)
                }
                (EntityType::Polyline(line), Shape::Contour(contour)) => {
                    let corners = line
                        .vertices()
                        .map(|v| (v.location.x, v.location.y, v.bulge));
                    let plain = !line.is_3d_polyline()
                        && line.thickness == 0.0
                        && line.default_starting_width == 0.0
                        && line.default_ending_width == 0.0;
                    plain && line.is_closed() == contour.closed && are_corners(corners, contour)
                }
                (EntityType::Text(a), Shape::Text { text, at, height }) => {
                    a.value == *text
                        && a.location.x == at.x
                        && a.location.y == at.y
                        && a.text_height == *height
                }
                _ => false,
            };
            if !same || entity.common.layer != found.layer {
                let what = "the two readers disagree on this entity".to_owned();
                self.faults.push(fault("dxf-reader", found.line, what));
            }
        }
        if drawing.blocks().any(|block| !block.entities.is_empty()) {
            self.faults.push(missing(
                "dxf-entity",
                "an entity hides in a block".to_owned(),
            ));
        }
    }

    /// What is drawn is what is planned, one by one.
    fn entities(&mut self, wanted: &[Wanted<'_>]) {
        let found = &self.scan.entities;
        let first = self.faults.len();
        for (line, wanted) in found.iter().zip(wanted) {
            if let Err((rule, what)) = wanted.is(line) {
                self.faults.push(fault(rule, line.line, what));
            }
        }
        if found.len() == wanted.len() {
            return;
        }
        // One that is missing shifts all that come after it.
        self.faults.truncate(first + 1);
        let texts = |line: &&scan::Line| matches!(line.shape, Shape::Text { .. });
        let there = found.iter().filter(texts).count();
        let planned = wanted.iter().filter(|w| matches!(w.what, What::Text(_)));
        let planned = planned.count();
        let contours = [found.len() - there, wanted.len() - planned];
        for (kind, [there, planned]) in [("contours", contours), ("texts", [there, planned])] {
            if there != planned {
                let what = format!("{there} {kind} are drawn, {planned} planned");
                self.faults.push(missing("dxf-count", what));
            }
        }
    }

    /// What is cut: contours, but for a sheet's border.
    fn cuts(&self, layers: Vec<DxfLayer>) -> DxfProof {
        let mut proof = DxfProof {
            layers,
            contours: 0,
            cut_length: 0.0,
            area: 0.0,
        };
        for entity in &self.scan.entities {
            match &entity.shape {
                Shape::Contour(contour) if entity.layer != self.style.stock.name => {
                    proof.contours += 1;
                    proof.cut_length += contour.length();
                    proof.area += contour.area().abs();
                }
                _ => {}
            }
        }
        proof
    }

    /// Class letter and member on the label layer, inside the piece, for every piece in turn; of a piece
    /// alone the class letter.
    fn labels(&mut self) {
        let file = self.file;
        let placements = &file.subject.sheet().placements;
        let mut wanted = Vec::new();
        for (i, p) in placements.entries().filter(|_| file.parts.labels) {
            let piece = &file.layout.pieces[p.piece];
            let (label, at) = match file.subject {
                DxfSubject::Sheet(_) => (piece.label(&p.id), (p.x, p.y)),
                DxfSubject::Piece { placement, .. } if placement == i => {
                    (piece.class.clone(), (0.0, 0.0))
                }
                // Of a piece alone the others are no part.
                DxfSubject::Piece { .. } => continue,
            };
            let [label, remark] = [&label, &piece.remark].map(|text| carried(text, file.version));
            wanted.push((label, at, piece));
            if !remark.is_empty() {
                wanted.push((remark, at, piece));
            }
        }
        let found: Vec<_> = self.scan.texts(&self.style.label.name).collect();
        if found.len() != wanted.len() {
            let what = format!("{} labels, {} planned", found.len(), wanted.len());
            self.faults.push(missing("dxf-count", what));
        }
        for ((line, text, at, height), (label, origin, piece)) in found.into_iter().zip(wanted) {
            let at = Point::new(at.x - origin.0, at.y - origin.1);
            let Rect { x0, y0, x1, y1 } = covered(text, at, height);
            let inside = x0.min(y0) >= -CORNER && x1 <= piece.length + CORNER;
            if text != label {
                let what = format!("label \"{text}\" where \"{label}\" is planned");
                self.faults.push(fault("dxf-label", line, what));
            } else if !(inside && y1 <= piece.depth + CORNER) {
                let what = format!("label \"{text}\" reaches out of its piece");
                self.faults.push(fault("dxf-label", line, what));
            }
        }
    }

    /// $EXTMIN and $EXTMAX are those of a sheet's stock, or of what is cut of a piece, and hold everything drawn; so do
    /// the limits, and the file opens with all of it in view, twice as wide as high, and a tenth more.
    fn extent(&mut self) {
        let extent = match self.file.subject {
            DxfSubject::Sheet(sheet) => Rect::new(0.0, 0.0, sheet.length, sheet.width),
            DxfSubject::Piece { .. } => self.cut,
        };
        for entity in &self.scan.entities {
            let all = extent.union(entity.bounds());
            let beyond = [
                extent.x0 - all.x0,
                extent.y0 - all.y0,
                all.x1 - extent.x1,
                all.y1 - extent.y1,
            ];
            let beyond = beyond.into_iter().fold(0.0, f64::max);
            if beyond.is_nan() || beyond > CORNER {
                let what = format!("this reaches {beyond} mm beyond the drawing");
                self.faults.push(fault("dxf-extent", entity.line, what));
            }
        }
        for figure in &self.scan.figures {
            let wanted = match figure.name {
                "min-x" => extent.x0,
                "min-y" => extent.y0,
                "max-x" => extent.x1,
                "max-y" => extent.y1,
                "mid-x" => extent.center().x,
                "mid-y" => extent.center().y,
                "view" => 1.1 * extent.height().max(0.5 * extent.width()),
                _ => f64::NAN,
            };
            let off = (figure.value - wanted).abs();
            if off.is_nan() || off > CORNER {
                let what = format!("{} stands where the drawing has {wanted}", figure.value);
                self.faults.push(fault("dxf-header", figure.line, what));
            }
        }
    }
}

/// Whether the corners that one reader finds are those of the other.
fn are_corners(found: impl Iterator<Item = (f64, f64, f64)>, contour: &Contour) -> bool {
    found.eq(contour.vertices.iter().map(|v| (v.at.x, v.at.y, v.bulge)))
}
