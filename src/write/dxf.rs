//! DXF of a strip or sheet, or of one piece, in millimetres, as bytes.
//!
//! Every contour is one polyline with true arcs (bulges): LWPOLYLINE in release R2000 (AC1015), POLYLINE
//! with VERTEX in R12 (AC1009). Layer names and colours come from the
//! post-processor file; what is cut lies on its layers for cuts and nowhere else, and a layer with nothing on it is
//! not listed. A sheet's drawing reaches as far as its stock, that of a piece as far as what is cut of it; text tells
//! the operator, where it finds room, whether the size is the drawn one or the path of beam or tool. The `dxf` crate
//! lays the groups out, `complete` and `r12` take what the reference asks for and add what the crate leaves out. The
//! same plan gives the same bytes.

mod complete;
mod contours;
mod file;
mod label;
mod notes;
mod r12;

use std::collections::BTreeSet;
use std::{error, fmt};

use ::dxf::entities::{Entity, EntityType, LwPolyline, Polyline, Text, Vertex};
use ::dxf::enums::{AcadVersion, DrawingUnits, Units};
use ::dxf::tables::Layer;
use ::dxf::{Color, Drawing, LwPolylineVertex, Point};
use kurbo::Rect;

use crate::geom::{Contour, micron};
use crate::letters::{folded, western};
use crate::panel::{DxfLayer, DxfStyle, DxfVersion};
use crate::path::Note;

use file::Shown;
pub use file::{DxfContent, DxfFile, DxfParts, DxfSubject};
pub(crate) use notes::{BRIDGES, FOLDS, grooves, size};

/// Widest letter of a label or note, in text heights (from memory: the plain stroke fonts that DXF
/// readers fall back on are narrower than they are high).
pub(crate) const LETTER_WIDTH: f64 = 1.0;

/// Why a file cannot be written as DXF.
#[derive(Debug, Clone, PartialEq)]
pub enum DxfError {
    /// A layer of the post-processor file that DXF or the program cannot use.
    Layer {
        /// Its name.
        name: String,
        /// What is wrong and what would be right.
        what: &'static str,
    },
    /// What the plan names and has not.
    Missing {
        /// What that is.
        what: String,
    },
    /// A contour that cannot be cut.
    Contour {
        /// Member id of the placement.
        id: String,
        /// What is wrong.
        what: &'static str,
    },
    /// A sheet without length or width.
    Sheet {
        /// Its number.
        number: usize,
    },
    /// The library that lays out the groups failed.
    Library(String),
}

impl fmt::Display for DxfError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Layer { name, what } => write!(f, "DXF layer \"{name}\": {what}"),
            Self::Missing { what } => write!(f, "the plan is not whole: {what}"),
            Self::Contour { id, what } => write!(f, "contour of {id}: {what}"),
            Self::Sheet { number } => {
                write!(f, "sheet {number}: length and width must be greater than 0")
            }
            Self::Library(what) => write!(f, "DXF could not be laid out: {what}"),
        }
    }
}

impl error::Error for DxfError {}

/// Writes a file. `notes` are further lines for the operator, which stand on a sheet where they find room. Labels,
/// notes and a sheet's border lie on layers that are not cut.
///
/// # Errors
/// [`DxfError`] names the layer or contour that cannot be written.
pub fn write_dxf(file: &DxfFile<'_>, notes: &[Note]) -> Result<Vec<u8>, DxfError> {
    let shown = file.shown()?;
    let cuts = contours::cut(file, &shown)?;
    let mut contours = contours::border(file)?;
    if file.parts.cuts {
        contours.extend(cuts.iter().cloned());
    }
    let texts = lines(file, &shown, &cuts, notes)?;
    let drawn = contours.iter().map(|(layer, _)| *layer);
    let used: BTreeSet<&str> = drawn.chain(texts.iter().map(|(layer, _)| *layer)).collect();
    let layers: Vec<_> = layers(file.style)
        .into_iter()
        .filter(|(layer, _)| used.contains(layer.name.as_str()))
        .collect();
    check_layers(&layers, file.version)?;
    let mut paper = Paper::new(&layers, file.version);
    for (layer, contour) in &contours {
        paper.contour(layer, contour);
    }
    for (layer, line) in texts {
        paper.text(layer, &line);
    }
    paper.bytes(extent(file, &cuts)?)
}

/// The layers of a style, those that are cut first, and whether they are.
fn layers(style: &DxfStyle) -> [(&DxfLayer, bool); 7] {
    let DxfStyle {
        outline,
        notch,
        groove,
        fold,
        label,
        note,
        stock,
    } = style;
    [
        (outline, true),
        (notch, true),
        (groove, true),
        (fold, true),
        (label, false),
        (note, false),
        (stock, false),
    ]
}

/// How far a drawing reaches: a sheet's as far as its stock, that of a piece as far as what is cut of it.
fn extent(file: &DxfFile<'_>, cuts: &[(&str, Contour)]) -> Result<Rect, DxfError> {
    match file.subject {
        DxfSubject::Sheet(sheet) => contours::stock(sheet),
        DxfSubject::Piece { .. } => contours::bounds(cuts),
    }
}

/// What the texts of a file are meant to say, with their layers, in their order.
///
/// # Errors
/// As [`write_dxf`].
pub(crate) fn texts<'a>(
    file: &'a DxfFile<'_>,
    notes: &[Note],
) -> Result<Vec<(&'a str, TextLine)>, DxfError> {
    let shown = file.shown()?;
    lines(file, &shown, &contours::cut(file, &shown)?, notes)
}

/// A text as the drawings of a release carry it, letter by letter. R2000 names a code page (DXF reference,
/// `$DWGCODEPAGE`), whose letters stay; R12 files of ours name none and have ASCII alone. What begins a code is
/// written otherwise: `^` a control character, `%%` a sign, `\` with `U+` a letter (DXF reference, TEXT).
pub(crate) fn carried(text: &str, version: DxfVersion) -> String {
    let text = match version {
        DxfVersion::R2000 => western(text),
        DxfVersion::R12 => folded(text),
    };
    let mut carried = String::new();
    for c in text.trim().chars() {
        match c {
            '\\' => carried.push('/'),
            '^' => carried.push(' '),
            '%' if carried.ends_with('%') => carried.push_str(" %"),
            c => carried.push(c),
        }
    }
    carried.trim().to_owned()
}

/// Labels of what is shown, then the notes where they find room.
fn lines<'a>(
    file: &'a DxfFile<'_>,
    shown: &[Shown<'_>],
    cuts: &[(&str, Contour)],
    notes: &[Note],
) -> Result<Vec<(&'a str, TextLine)>, DxfError> {
    let style = file.style;
    let mut lines = Vec::new();
    for Shown {
        piece, label, at, ..
    } in shown.iter().filter(|_| file.parts.labels)
    {
        let lettered = |text: &str| carried(text, file.version);
        for line in label::lines(piece, label, lettered).iter() {
            lines.push((style.label.name.as_str(), line.placed(at.0, at.1)));
        }
    }
    // On one piece there is no room for notes.
    if let (true, DxfSubject::Sheet(sheet)) = (file.parts.border, file.subject) {
        let room = notes::Room {
            stock: contours::stock(sheet)?,
            cut: contours::bounds(cuts)?,
        };
        let notes = notes::lines(file, sheet, notes, &room).into_iter();
        lines.extend(notes.map(|line| (style.note.name.as_str(), line.placed(0.0, 0.0))));
    }
    Ok(lines)
}

/// Refuses names that DXF cannot carry (DXF reference, symbol table names from R2000 on) and layers that
/// would run into one another. Release R12 takes fewer names (DXF reference of that release, symbol table
/// names, from memory).
fn check_layers(layers: &[(&DxfLayer, bool)], version: DxfVersion) -> Result<(), DxfError> {
    for (i, (layer, _)) in layers.iter().enumerate() {
        let refuse = |what| {
            Err(DxfError::Layer {
                name: layer.name.clone(),
                what,
            })
        };
        let name = layer.name.as_str();
        if name.is_empty() || name.len() > 255 || name.trim() != name {
            return refuse("a name has 1 to 255 letters and no blanks around it");
        }
        if name
            .bytes()
            .any(|b| !(0x20..0x7f).contains(&b) || b"<>/\\\":;?*|,=`^%".contains(&b))
        {
            return refuse("a name is printable ASCII without < > / \\ \" : ; ? * | , = ` ^ %");
        }
        let old = |b: u8| b.is_ascii_alphanumeric() || b"$-_".contains(&b);
        if version == DxfVersion::R12 && (name.len() > 31 || !name.bytes().all(old)) {
            return refuse("R12 takes names of 1 to 31 letters, digits, $, - and _");
        }
        if name == "0" || name.eq_ignore_ascii_case("defpoints") {
            return refuse("the name has a meaning of its own in DXF; choose another");
        }
        if layer.color == 0 {
            return refuse("a layer's colour is 1 to 255");
        }
        let mut others = layers.iter().take(i);
        if others.any(|(other, _)| other.is_called(name)) {
            return refuse("two layers have this name; DXF does not tell case apart");
        }
    }
    Ok(())
}

/// A line of text: its lower left corner, mm, and the height of its capitals.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct TextLine {
    pub(crate) text: String,
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) height: f64,
}

impl TextLine {
    /// Moved to where it stands, and rounded to what the file holds.
    fn placed(&self, dx: f64, dy: f64) -> Self {
        Self {
            text: self.text.clone(),
            x: micron(self.x + dx),
            y: micron(self.y + dy),
            height: micron(self.height),
        }
    }
}

/// The drawing as it fills up.
struct Paper {
    drawing: Drawing,
    version: DxfVersion,
}

impl Paper {
    fn new(layers: &[(&DxfLayer, bool)], version: DxfVersion) -> Self {
        let mut drawing = Drawing::new();
        drawing.header.version = match version {
            DxfVersion::R2000 => AcadVersion::R2000,
            DxfVersion::R12 => AcadVersion::R12,
        };
        drawing.header.default_drawing_units = Units::Millimeters;
        drawing.header.drawing_units = DrawingUnits::Metric;
        for (DxfLayer { name, color }, cut) in layers {
            drawing.add_layer(Layer {
                name: name.clone(),
                color: Color::from_index(*color),
                is_layer_plotted: *cut,
                ..Layer::default()
            });
        }
        Self { drawing, version }
    }

    /// Adds a polyline of the release's kind; coordinates and bulges are rounded by `contours`.
    fn contour(&mut self, layer: &str, contour: &Contour) {
        let specific = match self.version {
            DxfVersion::R2000 => {
                let vertices = contour.vertices.iter().map(|v| LwPolylineVertex {
                    x: v.at.x,
                    y: v.at.y,
                    bulge: v.bulge,
                    ..LwPolylineVertex::default()
                });
                let mut line = LwPolyline {
                    vertices: vertices.collect(),
                    ..LwPolyline::default()
                };
                line.set_is_closed(contour.closed);
                EntityType::LwPolyline(line)
            }
            DxfVersion::R12 => {
                let mut line = Polyline::default();
                line.set_is_closed(contour.closed);
                for v in &contour.vertices {
                    let vertex = Vertex {
                        location: Point::new(v.at.x, v.at.y, 0.0),
                        bulge: v.bulge,
                        ..Vertex::default()
                    };
                    line.add_vertex(&mut self.drawing, vertex);
                }
                EntityType::Polyline(line)
            }
        };
        self.add(layer, specific);
    }

    fn text(&mut self, layer: &str, line: &TextLine) {
        self.add(
            layer,
            EntityType::Text(Text {
                location: Point::new(line.x, line.y, 0.0),
                text_height: line.height,
                value: line.text.clone(),
                ..Text::default()
            }),
        );
    }

    fn add(&mut self, layer: &str, specific: EntityType) {
        let mut entity = Entity::new(specific);
        entity.common.layer = layer.to_owned();
        self.drawing.add_entity(entity);
    }

    /// The drawing with how far it reaches, mm.
    fn bytes(mut self, Rect { x0, y0, x1, y1 }: Rect) -> Result<Vec<u8>, DxfError> {
        self.drawing.header.minimum_drawing_limits = Point::new(micron(x0), micron(y0), 0.0);
        self.drawing.header.maximum_drawing_limits = Point::new(micron(x1), micron(y1), 0.0);
        self.drawing.header.minimum_drawing_extents = Point::new(micron(x0), micron(y0), 0.0);
        self.drawing.header.maximum_drawing_extents = Point::new(micron(x1), micron(y1), 0.0);
        for view in self.drawing.view_ports_mut() {
            // The drawing opens with all of it in view.
            view.view_center = Point::new(micron(0.5 * (x0 + x1)), micron(0.5 * (y0 + y1)), 0.0);
            view.view_height = micron((y1 - y0).max(0.5 * (x1 - x0)) * 1.1);
            view.view_port_aspect_ratio = 2.0;
        }
        let mut saved = Vec::new();
        self.drawing
            .save(&mut saved)
            .map_err(|e| DxfError::Library(e.to_string()))?;
        drop(self.drawing);
        let whole = match self.version {
            DxfVersion::R2000 => complete::complete(&saved),
            DxfVersion::R12 => r12::complete(&saved),
        };
        whole.map_err(|what| DxfError::Library(what.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::DxfVersion::{R12, R2000};
    use super::*;

    fn check_layers(style: &DxfStyle, version: DxfVersion) -> Result<(), DxfError> {
        super::check_layers(&layers(style), version)
    }

    fn style() -> DxfStyle {
        let layer = |name: &str, color| DxfLayer {
            name: name.into(),
            color,
        };
        DxfStyle {
            outline: layer("cut-outline", 1),
            notch: layer("cut-notch", 5),
            groove: layer("cut-groove", 4),
            fold: layer("cut-fold", 6),
            label: layer("label", 3),
            note: layer("note", 8),
            stock: layer("stock", 9),
        }
    }

    #[test]
    fn layers_that_dxf_cannot_tell_apart_are_refused() {
        for version in [R2000, R12] {
            let sound = check_layers(&style(), version);
            assert_eq!(sound, Ok(()), "seven plain layers, {version:?}");
        }
        let mut same = style();
        same.note.name = "CUT-Outline".into();
        // DXF reference: symbol names are not case-sensitive.
        assert!(
            check_layers(&same, R2000).is_err(),
            "a note must not land on the outline layer"
        );
        for bad in [
            "",
            "0",
            "DEFPOINTS",
            "a|b",
            "Zierkante \u{e4}",
            "tab\there",
            " x",
        ] {
            let mut s = style();
            s.label.name = bad.into();
            assert!(check_layers(&s, R2000).is_err(), "layer name {bad:?}");
        }
        let mut by_block = style();
        by_block.stock.color = 0;
        assert!(
            check_layers(&by_block, R2000).is_err(),
            "0 is no colour but \"as the block\""
        );
        for (name, old) in [
            ("a layer", false),
            ("abcdefghijklmnopqrstuvwxyz-_$12", true),
            ("abcdefghijklmnopqrstuvwxyz-_$123", false),
        ] {
            let mut s = style();
            s.stock.name = name.into();
            assert_eq!(check_layers(&s, R2000), Ok(()), "{name} in R2000");
            assert_eq!(check_layers(&s, R12).is_ok(), old, "{name} in R12");
        }
    }

    #[test]
    fn errors_name_the_place() {
        let e = DxfError::Contour {
            id: "r3".into(),
            what: "an outline must be closed",
        };
        assert_eq!(e.to_string(), "contour of r3: an outline must be closed");
    }
}
