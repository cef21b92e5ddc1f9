//! DXF of one strip or sheet, release R2000 (AC1015), in millimetres, as bytes.
//!
//! Every contour is one LWPOLYLINE with true arcs (bulges). Layer names and colours come from the
//! post-processor file; what is cut lies on its outline and notch layers and nowhere else. Text tells
//! the operator whether the size is the drawn one or the path of beam or tool. The `dxf` crate lays the
//! groups out, `complete` adds what it leaves out. The same plan gives the same bytes.

mod complete;
mod contours;
mod label;
mod notes;

use std::{error, fmt};

use ::dxf::entities::{Entity, EntityType, LwPolyline, Text};
use ::dxf::enums::{AcadVersion, DrawingUnits, Units};
use ::dxf::tables::Layer;
use ::dxf::{Color, Drawing, LwPolylineVertex, Point};
use kurbo::Rect;

use crate::geom::{Contour, micron};
use crate::panel::{DxfLayer, DxfStyle};
use crate::path::Program;
use crate::setup::{FlatLayout, FlatSheet};

/// Widest letter of a label or note, in text heights (from memory: the plain stroke fonts that DXF
/// readers fall back on are narrower than they are high).
pub(crate) const LETTER_WIDTH: f64 = 1.0;

/// What the contours of a file stand for.
#[derive(Debug, Clone, Copy)]
pub enum DxfContent<'a> {
    /// Finished outlines; the machine's own software takes care of kerf or tool.
    Drawn,
    /// The program's paths of beam or tool centre, in order of cutting.
    Compensated(&'a Program),
}

/// Why a sheet cannot be written as DXF.
#[derive(Debug, Clone, PartialEq)]
pub enum DxfError {
    /// A layer of the post-processor file that DXF or the program cannot use.
    Layer {
        /// Its name.
        name: String,
        /// What is wrong and what would be right.
        what: &'static str,
    },
    /// A label that DXF would not carry letter by letter.
    Label {
        /// The label.
        text: String,
    },
    /// A placement that names no piece, or a path that names no placement.
    Missing {
        /// What is named.
        what: &'static str,
        /// The index that it is named by.
        index: usize,
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
            Self::Label { text } => {
                write!(
                    f,
                    "label \"{text}\": DXF labels take printable ASCII without ^, %% or \\"
                )
            }
            Self::Missing { what, index } => write!(f, "no {what} has the index {index}"),
            Self::Contour { id, what } => write!(f, "contour of {id}: {what}"),
            Self::Sheet { number } => {
                write!(f, "sheet {number}: length and width must be greater than 0")
            }
            Self::Library(what) => write!(f, "DXF could not be laid out: {what}"),
        }
    }
}

impl error::Error for DxfError {}

/// Writes one sheet of `layout`. `notes` are further lines for the operator; what DXF text cannot carry
/// in them becomes `?`. Labels, notes and the sheet's border lie on layers that are not cut.
///
/// # Errors
/// [`DxfError`] names the layer, label or contour that cannot be written.
pub fn sheet_dxf(
    layout: &FlatLayout,
    sheet: &FlatSheet,
    content: DxfContent<'_>,
    style: &DxfStyle,
    notes: &[String],
) -> Result<Vec<u8>, DxfError> {
    check_layers(style)?;
    if !(sheet.length > 0.0 && sheet.width > 0.0 && (sheet.length + sheet.width).is_finite()) {
        return Err(DxfError::Sheet {
            number: sheet.number,
        });
    }
    let mut paper = Paper::new(style, sheet);
    paper.contour(&style.stock.name, &contours::border(sheet));
    for (layer, contour) in contours::cut(layout, sheet, content, style)? {
        paper.contour(layer, &contour);
    }
    for placement in &sheet.placements {
        // `contours::cut` has refused placements without a piece in either kind of content.
        let Some(piece) = layout.pieces.get(placement.piece) else {
            continue;
        };
        for line in label::lines(piece, &placement.id) {
            if !label::is_plain(&line.text) {
                return Err(DxfError::Label { text: line.text });
            }
            paper.text(&style.label.name, &line.moved(placement.x, placement.y));
        }
    }
    for line in notes::lines(sheet, content, style, notes) {
        paper.text(&style.note.name, &line);
    }
    paper.bytes()
}

/// Refuses names that DXF cannot carry (DXF reference, symbol table names from R2000 on) and layers that
/// would run into one another.
fn check_layers(style: &DxfStyle) -> Result<(), DxfError> {
    let DxfStyle {
        outline,
        notch,
        label,
        note,
        stock,
    } = style;
    let layers = [outline, notch, label, note, stock];
    for (i, layer) in layers.iter().enumerate() {
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
        if name == "0" || name.eq_ignore_ascii_case("defpoints") {
            return refuse("the name has a meaning of its own in DXF; choose another");
        }
        if layer.color == 0 {
            return refuse("a layer's colour is 1 to 255");
        }
        if layers
            .iter()
            .take(i)
            .any(|other| other.name.eq_ignore_ascii_case(name))
        {
            return refuse("two layers have this name; DXF does not tell case apart");
        }
    }
    Ok(())
}

/// A line of text: its lower left corner, mm, and the height of its capitals.
#[derive(Debug, Clone, PartialEq)]
struct TextLine {
    text: String,
    x: f64,
    y: f64,
    height: f64,
}

impl TextLine {
    fn moved(mut self, dx: f64, dy: f64) -> Self {
        self.x += dx;
        self.y += dy;
        self
    }
}

/// The drawing as it fills up, and how far it reaches.
struct Paper {
    drawing: Drawing,
    extent: Rect,
}

impl Paper {
    fn new(style: &DxfStyle, sheet: &FlatSheet) -> Self {
        let mut drawing = Drawing::new();
        drawing.header.version = AcadVersion::R2000;
        drawing.header.default_drawing_units = Units::Millimeters;
        drawing.header.drawing_units = DrawingUnits::Metric;
        drawing.header.maximum_drawing_limits =
            Point::new(micron(sheet.length), micron(sheet.width), 0.0);
        let DxfStyle {
            outline,
            notch,
            label,
            note,
            stock,
        } = style;
        for DxfLayer { name, color } in [outline, notch, label, note, stock] {
            drawing.add_layer(Layer {
                name: name.clone(),
                color: Color::from_index(*color),
                ..Layer::default()
            });
        }
        Self {
            drawing,
            extent: Rect::new(0.0, 0.0, sheet.length, sheet.width),
        }
    }

    /// Adds an LWPOLYLINE; coordinates and bulges are rounded by `contours`.
    fn contour(&mut self, layer: &str, contour: &Contour) {
        self.extent = self.extent.union(contours::bounds(contour));
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
        self.add(layer, EntityType::LwPolyline(line));
    }

    fn text(&mut self, layer: &str, line: &TextLine) {
        let TextLine { text, x, y, height } = line;
        let (x, y, height) = (micron(*x), micron(*y), micron(*height));
        let width = text.len() as f64 * LETTER_WIDTH * height;
        self.extent = self.extent.union(Rect::new(x, y, x + width, y + height));
        self.add(
            layer,
            EntityType::Text(Text {
                location: Point::new(x, y, 0.0),
                text_height: height,
                value: text.clone(),
                ..Text::default()
            }),
        );
    }

    fn add(&mut self, layer: &str, specific: EntityType) {
        let mut entity = Entity::new(specific);
        entity.common.layer = layer.to_owned();
        self.drawing.add_entity(entity);
    }

    fn bytes(mut self) -> Result<Vec<u8>, DxfError> {
        let Rect { x0, y0, x1, y1 } = self.extent;
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
        complete::complete(&saved).map_err(|what| DxfError::Library(what.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn style() -> DxfStyle {
        let layer = |name: &str, color| DxfLayer {
            name: name.into(),
            color,
        };
        DxfStyle {
            outline: layer("cut-outline", 1),
            notch: layer("cut-notch", 5),
            label: layer("label", 3),
            note: layer("note", 8),
            stock: layer("stock", 9),
        }
    }

    #[test]
    fn layers_that_dxf_cannot_tell_apart_are_refused() {
        assert_eq!(check_layers(&style()), Ok(()), "five plain layers");
        let mut same = style();
        same.note.name = "CUT-Outline".into();
        // DXF reference: symbol names are not case-sensitive.
        assert!(
            check_layers(&same).is_err(),
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
            assert!(check_layers(&s).is_err(), "layer name {bad:?}");
        }
        let mut by_block = style();
        by_block.stock.color = 0;
        assert!(
            check_layers(&by_block).is_err(),
            "0 is no colour but \"as the block\""
        );
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
