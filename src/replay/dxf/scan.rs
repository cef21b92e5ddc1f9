//! What a file of ours may hold, group by group, and what this one holds.
//!
//! The grammar is closed: a group that is not named here, in the releases' own modules or in their frames is a
//! fault, because it might turn, hide, widen or recolour what is cut (DXF reference: 60 hides, 62
//! recolours, 67 moves to paper space, 210 turns the plane over, 40 to 43 widen).

use kurbo::{Point, Rect};

use super::frame::{Figure, Frame, ListedLayer, Reading};
use super::groups::Groups;
use super::pairs::Pair;
use super::{fault, r12, r2000};
use crate::geom::Contour;
use crate::panel::DxfVersion;
use crate::replay::ReplayFault;
use crate::write::dxf::LETTER_WIDTH;

/// What was found in a file.
#[derive(Debug)]
pub(super) struct Scan {
    /// All entities, in the order of the file.
    pub(super) entities: Vec<Line>,
    /// The numbers round them that follow from the plan.
    pub(super) figures: Vec<Figure>,
}

/// An entity, its layer, and the line of the file that it begins on.
#[derive(Debug)]
pub(super) struct Line {
    pub(super) layer: String,
    pub(super) shape: Shape,
    pub(super) line: usize,
}

/// A polyline or a TEXT.
#[derive(Debug)]
pub(super) enum Shape {
    Contour(Contour),
    Text {
        text: String,
        at: Point,
        height: f64,
    },
}

impl Line {
    /// What it covers; of a text as [`covered`] has it.
    pub(super) fn bounds(&self) -> Rect {
        match &self.shape {
            Shape::Contour(contour) => contour.bounds(),
            Shape::Text { text, at, height } => covered(text, *at, *height),
        }
    }
}

/// What a text covers from its lower left corner on, its letters as wide as [`LETTER_WIDTH`], mm.
pub(super) fn covered(text: &str, at: Point, height: f64) -> Rect {
    let width = text.chars().count() as f64 * LETTER_WIDTH * height;
    Rect::new(at.x, at.y, at.x + width, at.y + height)
}

impl Scan {
    /// Texts on a layer: line, text, lower left corner, height.
    pub(super) fn texts<'a>(
        &'a self,
        layer: &'a str,
    ) -> impl Iterator<Item = (usize, &'a str, Point, f64)> {
        self.entities
            .iter()
            .filter(move |e| e.layer == layer)
            .filter_map(|e| match &e.shape {
                Shape::Text { text, at, height } => Some((e.line, text.as_str(), *at, *height)),
                Shape::Contour(_) => None,
            })
    }
}

/// Scans a whole file of a release, with these layers.
pub(super) fn scan(
    pairs: &[Pair<'_>],
    version: DxfVersion,
    layers: &[ListedLayer<'_>],
) -> Result<Scan, ReplayFault> {
    let frame = Frame::new(version, layers)?;
    let mut reading = Reading::default();
    let mut rest = pairs.iter();
    reading.follow(&frame.head, &mut rest)?;
    let left = rest.as_slice();
    let end = left.iter().position(|p| p.code == 0 && p.value == "ENDSEC");
    let (drawn, tail) = left.split_at(end.unwrap_or(left.len()));
    let entities = match version {
        DxfVersion::R2000 => r2000::entities(drawn, &mut reading.handles)?,
        DxfVersion::R12 => r12::entities(drawn)?,
    };
    let mut rest = tail.iter();
    reading.follow(&frame.tail, &mut rest)?;
    if let Some(more) = rest.next() {
        let what = "the file goes on after EOF".to_owned();
        return Err(fault("dxf-structure", more.line, what));
    }
    reading.handles.check()?;
    Ok(Scan {
        entities,
        figures: reading.figures,
    })
}

/// DXF reference, TEXT: 10, 20, 30 lower left corner, 40 height, 1 the text.
pub(super) fn text(groups: &mut Groups<'_>) -> Result<Shape, ReplayFault> {
    let x = groups.decimal(10, "x of a text")?;
    let y = groups.decimal(20, "y of a text")?;
    groups.value(30, "0.0")?;
    let line = groups.here();
    let height = groups.decimal(40, "the height of a text")?;
    let text = groups.take(1, "a text")?.value.to_owned();
    if height <= 0.0 || text.trim().is_empty() {
        return Err(fault(
            "dxf-structure",
            line,
            "a text without height or letters".to_owned(),
        ));
    }
    Ok(Shape::Text {
        text,
        at: Point::new(x, y),
        height,
    })
}

/// A record of the file in turn, its first pair and its groups.
pub(super) fn records<'a>(
    pairs: &'a [Pair<'a>],
) -> impl Iterator<Item = Result<(&'a Pair<'a>, Groups<'a>), ReplayFault>> {
    pairs.chunk_by(|_, next| next.code != 0).map(|record| {
        let mut groups = Groups { record, next: 0 };
        let head = groups.take(0, "a record")?;
        Ok((head, groups))
    })
}
