//! Reads a DXF file back from its bytes and proves it against the plan.
//!
//! Two readers work side by side: a plain scan of the group codes that knows only what may stand in a
//! file of ours (`scan`), and the `dxf` crate, which skips without a word what it does not know. Both
//! must find the same entities, and these must be those of the plan: nothing more, nothing less, on
//! their layers, in their order, every corner and bulge in place. Nothing here is taken from the writer.

mod compare;
mod groups;
mod notes;
mod pairs;
mod r12;
mod r2000;
mod scan;
mod wanted;

use ::dxf::Drawing;
use ::dxf::entities::EntityType;
use kurbo::Point;

use super::ReplayFault;
use crate::geom::{Contour, FLATTEN};
use crate::panel::{DxfLayer, DxfStyle, DxfVersion};
use crate::setup::FlatSheet;
use crate::write::dxf::{DxfFile, DxfSubject, LETTER_WIDTH};

use compare::same;
use scan::{Line, Scan, Shape};
use wanted::wanted;

/// Greatest difference of a coordinate from the plan, mm: twice the rounding of the file.
const CORNER: f64 = 1e-6;

/// What a proven file holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DxfProof {
    /// Contours on the outline and notch layers.
    pub contours: usize,
    /// Their length, arcs included, mm.
    pub cut_length: f64,
    /// Area within the closed ones, mm², summed.
    pub area: f64,
}

/// Proves that `bytes` hold what `file` describes.
///
/// # Errors
/// Every fault found. A file that cannot be read as groups of our kind has one fault, at its first line
/// that is wrong.
pub fn prove_dxf(bytes: &[u8], file: &DxfFile<'_>) -> Result<DxfProof, Vec<ReplayFault>> {
    let scanned = pairs::pairs(bytes).and_then(|pairs| scan::scan(&pairs, file.version));
    let scan = scanned.map_err(|fault| vec![fault])?;
    let mut proof = Proof {
        scan: &scan,
        file,
        style: file.style,
        faults: Vec::new(),
    };
    proof.header();
    proof.layers();
    proof.second_reader(bytes);
    proof.strays();
    proof.border();
    let done = proof.cuts();
    proof.labels();
    proof.notes();
    proof.extent();
    if proof.faults.is_empty() {
        Ok(done)
    } else {
        Err(proof.faults)
    }
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
    faults: Vec<ReplayFault>,
}

impl<'a> Proof<'a> {
    /// DXF reference, HEADER: release, unit ($INSUNITS 4 is millimetres), metric ($MEASUREMENT 1); R12
    /// knows no unit.
    fn header(&mut self) {
        let wanted = match self.file.version {
            DxfVersion::R2000 => &[
                ("$ACADVER", 1, "AC1015"),
                ("$INSUNITS", 70, "4"),
                ("$MEASUREMENT", 70, "1"),
            ][..],
            DxfVersion::R12 => &[("$ACADVER", 1, "AC1009")],
        };
        for &(name, code, value) in wanted {
            let found = self.scan.variable(name, code);
            if found != Some(value) {
                let found = found.unwrap_or("nothing");
                self.faults.push(missing(
                    "dxf-header",
                    format!("{name} is {found}, not {value}"),
                ));
            }
        }
    }

    /// Whether the file shows pieces that stay joined.
    fn joined(&self) -> bool {
        matches!(self.file.subject, DxfSubject::Sheet(sheet) if !sheet.chains.is_empty())
    }

    /// Whether a piece that the file shows is folded along dashes.
    fn folded(&self) -> bool {
        let placements = &self.file.subject.sheet().placements;
        let shown = match self.file.subject {
            DxfSubject::Sheet(_) => Some(&placements[..]),
            DxfSubject::Piece { placement, .. } => placements.get(placement..=placement),
        };
        self.file.layout.has_folds(shown.unwrap_or_default())
    }

    /// The layers that are cut: those of grooves and folds only where there are some.
    fn cut_layers(&self) -> Vec<&'a DxfLayer> {
        let style = self.style;
        let mut layers = vec![&style.outline, &style.notch];
        layers.extend(self.joined().then_some(&style.groove));
        layers.extend(self.folded().then_some(&style.fold));
        layers
    }

    /// The layer table holds ours and "0", on, thawed, in their colours.
    fn layers(&mut self) {
        let DxfStyle {
            label, note, stock, ..
        } = self.style;
        let mut ours = self.cut_layers();
        ours.extend([label, note, stock]);
        for layer in &self.scan.layers {
            let wanted = ours.iter().find(|known| known.name == layer.name);
            let what = match wanted {
                None if layer.name == "0" => continue,
                None => format!("unknown layer \"{}\"", layer.name),
                Some(known) if layer.color != i64::from(known.color) => {
                    format!("layer \"{}\" has the colour {}", layer.name, layer.color)
                }
                Some(_) if layer.flags != 0 => {
                    format!("layer \"{}\" is frozen or locked", layer.name)
                }
                Some(_) => continue,
            };
            self.faults.push(fault("dxf-layer", layer.line, what));
        }
        for name in ours.iter().map(|known| known.name.as_str()).chain(["0"]) {
            let count = self
                .scan
                .layers
                .iter()
                .filter(|layer| layer.name == name)
                .count();
            if count != 1 {
                let what = format!("layer \"{name}\" stands {count} times in the table, not once");
                self.faults.push(missing("dxf-layer", what));
            }
        }
    }

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

    /// Contours lie on the layers for contours, texts on those for texts.
    fn strays(&mut self) {
        let DxfStyle {
            label, note, stock, ..
        } = self.style;
        let cut = self.cut_layers();
        for entity in &self.scan.entities {
            let on = |known: &DxfLayer| known.name == entity.layer;
            let (kind, expected) = match entity.shape {
                Shape::Contour(_) => ("contour", on(stock) || cut.iter().any(|known| on(known))),
                Shape::Text { .. } => ("text", on(label) || on(note)),
            };
            if !expected {
                let what = format!("a {kind} lies on layer \"{}\"", entity.layer);
                self.faults.push(fault("dxf-layer", entity.line, what));
            }
        }
    }

    /// The sheet's border, once, on its layer; none in the file of a piece.
    fn border(&mut self) {
        let FlatSheet { length, width, .. } = self.file.subject.sheet();
        let (x, y) = (*length, *width);
        let wanted = Contour::polygon([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)].map(Point::from));
        let mut count = 0;
        for entity in self
            .scan
            .entities
            .iter()
            .filter(|e| e.layer == self.style.stock.name)
        {
            let Shape::Contour(contour) = &entity.shape else {
                continue;
            };
            count += 1;
            if let Err(what) = same(contour, &wanted) {
                self.faults
                    .push(fault("dxf-contour", entity.line, format!("border: {what}")));
            }
        }
        let planned = match self.file.subject {
            DxfSubject::Sheet(_) => 1,
            DxfSubject::Piece { .. } => 0,
        };
        if count != planned {
            self.faults.push(missing(
                "dxf-count",
                format!("{count} sheet borders, not {planned}"),
            ));
        }
    }

    /// The contours that are cut, one by one in the order of the plan.
    fn cuts(&mut self) -> DxfProof {
        let wanted = wanted(self.file, &mut self.faults);
        let layers = self.cut_layers();
        let cut = |line: &&Line| {
            let ours = layers.iter().any(|layer| line.layer == layer.name);
            ours && matches!(line.shape, Shape::Contour(_))
        };
        let found: Vec<&Line> = self.scan.entities.iter().filter(cut).collect();
        for layer in layers.iter().map(|layer| &layer.name) {
            let planned = wanted.iter().filter(|w| w.layer == *layer).count();
            let there = found.iter().filter(|line| line.layer == *layer).count();
            if planned != there {
                let what = format!("{there} contours on layer \"{layer}\", {planned} planned");
                self.faults.push(missing("dxf-count", what));
            }
        }
        if wanted.is_empty() {
            let what = "nothing is planned to be cut".to_owned();
            self.faults.push(missing("dxf-plan", what));
        }
        let mut proof = DxfProof {
            contours: found.len(),
            cut_length: 0.0,
            area: 0.0,
        };
        for (line, wanted) in found.iter().zip(&wanted) {
            let Shape::Contour(contour) = &line.shape else {
                continue;
            };
            proof.cut_length += contour.length();
            proof.area += contour.area().abs();
            let mut refuse = |what: String| {
                let what = format!("contour of {}: {what}", wanted.id);
                self.faults.push(fault("dxf-contour", line.line, what));
            };
            if line.layer != wanted.layer {
                refuse(format!(
                    "on layer \"{}\", planned on \"{}\"",
                    line.layer, wanted.layer
                ));
            } else if let Err(what) = same(contour, &wanted.contour) {
                refuse(what);
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
        for (i, p) in placements.iter().enumerate() {
            let Some(piece) = file.layout.pieces.get(p.piece) else {
                continue;
            };
            let (label, at) = match file.subject {
                DxfSubject::Sheet(_) => (piece.label(&p.id), (p.x, p.y)),
                DxfSubject::Piece { placement, .. } if placement == i => {
                    (piece.class.clone(), (0.0, 0.0))
                }
                DxfSubject::Piece { .. } => continue,
            };
            wanted.push((label, at, piece));
            if !piece.remark.trim().is_empty() {
                wanted.push((piece.remark.trim().to_owned(), at, piece));
            }
        }
        let found: Vec<_> = self.scan.texts(&self.style.label.name).collect();
        if found.len() != wanted.len() {
            let what = format!("{} labels, {} planned", found.len(), wanted.len());
            self.faults.push(missing("dxf-count", what));
        }
        for ((line, text, at, height), (label, origin, piece)) in found.into_iter().zip(wanted) {
            let (x0, y0) = (at.x - origin.0, at.y - origin.1);
            let (x1, y1) = (x0 + text.len() as f64 * LETTER_WIDTH * height, y0 + height);
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

    /// $EXTMIN and $EXTMAX hold everything drawn, and no more.
    fn extent(&mut self) {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let mut reach = |p: Point| {
            low = [low[0].min(p.x), low[1].min(p.y)];
            high = [high[0].max(p.x), high[1].max(p.y)];
        };
        for entity in &self.scan.entities {
            match &entity.shape {
                Shape::Contour(contour) => {
                    contour.flatten(FLATTEN).into_iter().for_each(&mut reach)
                }
                Shape::Text { text, at, height } => {
                    reach(*at);
                    let width = text.len() as f64 * LETTER_WIDTH * height;
                    reach(Point::new(at.x + width, at.y + height));
                }
            }
        }
        for (name, wanted) in [("$EXTMIN", low), ("$EXTMAX", high)] {
            for (code, wanted) in [10, 20].into_iter().zip(wanted) {
                let found = self.scan.variable(name, code).and_then(pairs::decimal);
                // Chords lie up to FLATTEN inside of their arcs.
                if !found.is_some_and(|v| (v - wanted).abs() <= FLATTEN + CORNER) {
                    let what = format!("{name} (group {code}) does not fit what is drawn");
                    self.faults.push(missing("dxf-header", what));
                }
            }
        }
    }
}

/// Whether the corners that one reader finds are those of the other.
fn are_corners(found: impl Iterator<Item = (f64, f64, f64)>, contour: &Contour) -> bool {
    found.eq(contour.vertices.iter().map(|v| (v.at.x, v.at.y, v.bulge)))
}
