//! Reads a DXF file back from its bytes and proves it against the plan.
//!
//! Two readers work side by side: a plain scan of the group codes that knows only what may stand in a
//! file of ours (`scan`), and the `dxf` crate, which skips without a word what it does not know. Both
//! must find the same entities, and these must be those of the plan: nothing more, nothing less, on
//! their layers, in their order, every corner and bulge in place. Nothing here is taken from the writer.

mod compare;
mod pairs;
mod scan;

use ::dxf::Drawing;
use ::dxf::entities::EntityType;
use kurbo::Point;

use super::ReplayFault;
use crate::geom::{Contour, FLATTEN};
use crate::panel::{DxfLayer, DxfStyle};
use crate::path::{CutKind, Head};
use crate::setup::{FlatLayout, FlatSheet};
use crate::write::dxf::{DxfContent, LETTER_WIDTH};

use compare::same;
use scan::{Line, Scan, Shape};

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

/// Proves that `bytes` hold one sheet as planned. `content` tells what the contours must be.
///
/// # Errors
/// Every fault found. A file that cannot be read as groups of our kind has one fault, at its first line
/// that is wrong.
pub fn prove_dxf(
    bytes: &[u8],
    layout: &FlatLayout,
    sheet: &FlatSheet,
    content: DxfContent<'_>,
    style: &DxfStyle,
) -> Result<DxfProof, Vec<ReplayFault>> {
    let scanned = pairs::pairs(bytes).and_then(|pairs| scan::scan(&pairs));
    let scan = scanned.map_err(|fault| vec![fault])?;
    let mut proof = Proof {
        scan: &scan,
        style,
        faults: Vec::new(),
    };
    proof.header();
    proof.layers();
    proof.second_reader(bytes);
    proof.strays();
    proof.border(sheet);
    let done = proof.cuts(layout, sheet, content);
    proof.labels(layout, sheet);
    proof.notes(content);
    proof.extent(sheet);
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
    style: &'a DxfStyle,
    faults: Vec<ReplayFault>,
}

impl Proof<'_> {
    /// DXF reference, HEADER: release, unit ($INSUNITS 4 is millimetres), metric ($MEASUREMENT 1).
    fn header(&mut self) {
        let wanted = [
            ("$ACADVER", 1, "AC1015"),
            ("$INSUNITS", 70, "4"),
            ("$MEASUREMENT", 70, "1"),
        ];
        for (name, code, value) in wanted {
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

    /// The layer table holds our five and "0", on, thawed, in their colours.
    fn layers(&mut self) {
        let DxfStyle {
            outline,
            notch,
            label,
            note,
            stock,
        } = self.style;
        let ours = [outline, notch, label, note, stock];
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
        for name in ours
            .map(|known| known.name.as_str())
            .into_iter()
            .chain(["0"])
        {
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
                    line.is_closed() == contour.closed
                        && line.vertices.len() == contour.vertices.len()
                        && line
                            .vertices
                            .iter()
                            .zip(&contour.vertices)
                            .all(|(a, b)| a.x == b.at.x && a.y == b.at.y && a.bulge == b.bulge)
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
            outline,
            notch,
            label,
            note,
            stock,
        } = self.style;
        for entity in &self.scan.entities {
            let on = |known: &DxfLayer| known.name == entity.layer;
            let (kind, expected) = match entity.shape {
                Shape::Contour(_) => ("contour", on(outline) || on(notch) || on(stock)),
                Shape::Text { .. } => ("text", on(label) || on(note)),
            };
            if !expected {
                let what = format!("a {kind} lies on layer \"{}\"", entity.layer);
                self.faults.push(fault("dxf-layer", entity.line, what));
            }
        }
    }

    /// The sheet's border, once, on its layer.
    fn border(&mut self, sheet: &FlatSheet) {
        let (x, y) = (sheet.length, sheet.width);
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
        if count != 1 {
            self.faults.push(missing(
                "dxf-count",
                format!("{count} sheet borders, not 1"),
            ));
        }
    }

    /// The contours that are cut, one by one in the order of the plan.
    fn cuts(
        &mut self,
        layout: &FlatLayout,
        sheet: &FlatSheet,
        content: DxfContent<'_>,
    ) -> DxfProof {
        let wanted = self.wanted(layout, sheet, content);
        let style = self.style;
        let cut = |line: &&Line| {
            let ours = line.layer == style.outline.name || line.layer == style.notch.name;
            ours && matches!(line.shape, Shape::Contour(_))
        };
        let found: Vec<&Line> = self.scan.entities.iter().filter(cut).collect();
        for layer in [&style.outline.name, &style.notch.name] {
            let planned = wanted.iter().filter(|w| w.layer == *layer).count();
            let there = found.iter().filter(|line| line.layer == *layer).count();
            if planned != there {
                let what = format!("{there} contours on layer \"{layer}\", {planned} planned");
                self.faults.push(missing("dxf-count", what));
            }
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

    fn wanted<'b>(
        &mut self,
        layout: &FlatLayout,
        sheet: &'b FlatSheet,
        content: DxfContent<'_>,
    ) -> Vec<Wanted<'b>>
    where
        Self: 'b,
    {
        let mut wanted = Vec::new();
        let mut unplanned = |what: String| self.faults.push(missing("dxf-plan", what));
        match content {
            DxfContent::Drawn => {
                for p in &sheet.placements {
                    let Some(piece) = layout.pieces.get(p.piece) else {
                        unplanned(format!("{} has no piece", p.id));
                        continue;
                    };
                    let contour = piece.drawn.moved(p.x, p.y);
                    let layer = self.style.outline.name.clone();
                    wanted.push(Wanted {
                        id: &p.id,
                        layer,
                        contour,
                    });
                }
            }
            DxfContent::Compensated(program) => {
                for c in &program.contours {
                    let Some(p) = sheet.placements.get(c.placement) else {
                        unplanned(format!("a contour belongs to placement {}", c.placement));
                        continue;
                    };
                    let layer = match c.kind {
                        CutKind::Outline => self.style.outline.name.clone(),
                        CutKind::Notch => self.style.notch.name.clone(),
                    };
                    wanted.push(Wanted {
                        id: &p.id,
                        layer,
                        contour: c.path.clone(),
                    });
                }
            }
        }
        wanted
    }

    /// Class letter and member on the label layer, inside the piece, for every piece in turn.
    fn labels(&mut self, layout: &FlatLayout, sheet: &FlatSheet) {
        let mut wanted = Vec::new();
        for p in &sheet.placements {
            let Some(piece) = layout.pieces.get(p.piece) else {
                continue;
            };
            wanted.push((format!("{} {}", piece.class, p.id), p, piece));
            if !piece.remark.trim().is_empty() {
                wanted.push((piece.remark.trim().to_owned(), p, piece));
            }
        }
        let found: Vec<_> = self.scan.texts(&self.style.label.name).collect();
        if found.len() != wanted.len() {
            let what = format!("{} labels, {} planned", found.len(), wanted.len());
            self.faults.push(missing("dxf-count", what));
        }
        for ((line, text, at, height), (label, p, piece)) in found.into_iter().zip(wanted) {
            let (x0, y0) = (at.x - p.x, at.y - p.y);
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

    /// Notes stand outside of the sheet, and one says in which size the contours are.
    fn notes(&mut self, content: DxfContent<'_>) {
        let mut size = None;
        for (line, text, at, height) in self.scan.texts(&self.style.note.name) {
            if at.y + height > 0.0 {
                let what = format!("note \"{text}\" lies on the sheet");
                self.faults.push(fault("dxf-note", line, what));
            }
            if size.is_none() && text.starts_with("Size: ") {
                size = Some((line, text));
            }
        }
        let Some((line, text)) = size else {
            let what = "no note says whether the size is drawn or compensated".to_owned();
            self.faults.push(missing("dxf-note", what));
            return;
        };
        let (kind, width) = match content {
            DxfContent::Drawn => ("Size: drawn, unit mm", None),
            DxfContent::Compensated(program) => match program.head {
                Head::Beam { kerf, .. } => ("Size: kerf-compensated, unit mm", Some(kerf)),
                Head::Cutter { diameter, .. } => {
                    ("Size: tool-compensated, unit mm", Some(diameter))
                }
            },
        };
        let says_width = width.is_none_or(|width| {
            let mut words = text.split(' ').filter_map(|word| word.parse::<f64>().ok());
            words.any(|number| (number - width).abs() <= CORNER)
        });
        if !text.starts_with(kind) || !says_width {
            let what = format!("note \"{text}\" does not say \"{kind}\" with kerf or tool");
            self.faults.push(fault("dxf-note", line, what));
        }
    }

    /// $EXTMIN and $EXTMAX hold everything drawn, and no more.
    fn extent(&mut self, sheet: &FlatSheet) {
        let (mut low, mut high) = ([0.0_f64; 2], [sheet.length, sheet.width]);
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

/// A contour of the plan and the layer it belongs on.
struct Wanted<'a> {
    id: &'a str,
    layer: String,
    contour: Contour,
}
