//! What a file of ours may hold, group by group, and what this one holds.
//!
//! For the header, layers and entities the grammar is closed: a group that is not named here is a fault,
//! because it might turn, hide, widen or recolour what is cut (DXF reference: 60 hides, 62 recolours, 67
//! moves to paper space, 210 turns the plane over, 40 to 43 widen). Elsewhere no records but the usual
//! ones may stand, and handles and owners must agree.

use std::collections::HashSet;

use kurbo::Point;

use super::fault;
use super::pairs::{Pair, decimal, handle, whole};
use crate::geom::{Contour, Vertex};
use crate::replay::ReplayFault;

/// Sections in their order (DXF reference, "General file structure"); CLASSES is not needed.
const SECTIONS: [&str; 5] = ["HEADER", "TABLES", "BLOCKS", "ENTITIES", "OBJECTS"];

/// Header variables that may stand in a file (DXF reference, HEADER section).
const HEADER: [&str; 12] = [
    "$ACADVER",
    "$DWGCODEPAGE",
    "$INSBASE",
    "$EXTMIN",
    "$EXTMAX",
    "$LIMMIN",
    "$LIMMAX",
    "$LUNITS",
    "$LUPREC",
    "$HANDSEED",
    "$MEASUREMENT",
    "$INSUNITS",
];

/// What was found in a file.
#[derive(Debug, Default)]
pub(super) struct Scan {
    /// Header variables: name, group code, value.
    header: Vec<(String, u16, String)>,
    /// The layer table.
    pub(super) layers: Vec<LayerRow>,
    /// All entities, in the order of the file.
    pub(super) entities: Vec<Line>,
}

/// A row of the layer table.
#[derive(Debug)]
pub(super) struct LayerRow {
    pub(super) name: String,
    pub(super) color: i64,
    pub(super) flags: i64,
    pub(super) line: usize,
}

/// An entity, its layer, and the line of the file that it begins on.
#[derive(Debug)]
pub(super) struct Line {
    pub(super) layer: String,
    pub(super) shape: Shape,
    pub(super) line: usize,
}

/// LWPOLYLINE or TEXT.
#[derive(Debug)]
pub(super) enum Shape {
    Contour(Contour),
    Text {
        text: String,
        at: Point,
        height: f64,
    },
}

impl Scan {
    /// Value of a header variable under a group code.
    pub(super) fn variable(&self, name: &str, code: u16) -> Option<&str> {
        let found = self.header.iter().find(|(n, c, _)| n == name && *c == code);
        found.map(|(_, _, value)| value.as_str())
    }

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

/// Scans a whole file.
pub(super) fn scan(pairs: &[Pair<'_>]) -> Result<Scan, ReplayFault> {
    let mut scan = Scan::default();
    let mut handles = Handles::default();
    let mut sections = SECTIONS.into_iter();
    let mut section = "";
    let mut table = None;
    let mut model_space = None;
    let mut in_block = false;
    let mut ended = false;
    for record in pairs.chunk_by(|_, next| next.code != 0) {
        let mut groups = Groups { record, next: 0 };
        let head = groups.take(0, "a record")?;
        let refuse = |what: String| Err(fault("dxf-structure", head.line, what));
        if ended {
            return refuse("the file goes on after EOF".to_owned());
        }
        match (section, head.value) {
            ("", "SECTION") => {
                section = groups.take(2, "a section's name")?.value;
                if sections.next() != Some(section) {
                    return refuse(format!("section {section} is not expected here"));
                }
                if section == "HEADER" {
                    header(&mut scan, &mut groups)?;
                }
                groups.end()?;
            }
            ("", "EOF") => {
                groups.end()?;
                if let Some(lost) = sections.next() {
                    return refuse(format!("section {lost} is missing"));
                }
                ended = true;
            }
            ("", other) => return refuse(format!("{other} stands outside of the sections")),
            (_, "ENDSEC") if table.is_none() && !in_block => {
                groups.end()?;
                section = "";
            }
            ("TABLES", "TABLE") if table.is_none() => {
                table = Some(groups.take(2, "a table's name")?.value);
                handles.record(record, 5)?;
            }
            ("TABLES", "ENDTAB") if table.is_some() => {
                groups.end()?;
                table = None;
            }
            ("TABLES", kind @ ("VIEW" | "UCS")) => {
                return refuse(format!("a {kind} might turn the drawing"));
            }
            ("TABLES", kind) if table == Some(kind) => {
                let own = handles.record(record, if kind == "DIMSTYLE" { 105 } else { 5 })?;
                match kind {
                    "LAYER" => scan.layers.push(layer(&mut groups)?),
                    "LTYPE" if record.iter().any(|pair| pair.code == 49) => {
                        return refuse("a line type has gaps".to_owned());
                    }
                    "BLOCK_RECORD" if record.iter().any(|p| p.value == "*MODEL_SPACE") => {
                        model_space = Some(own);
                    }
                    _ => {}
                }
            }
            ("BLOCKS", kind @ ("BLOCK" | "ENDBLK")) if in_block == (kind == "ENDBLK") => {
                handles.record(record, 5)?;
                in_block = !in_block;
            }
            ("OBJECTS", "DICTIONARY") => {
                handles.record(record, 5)?;
            }
            ("ENTITIES", "LWPOLYLINE" | "TEXT") => {
                handles.record(record, 5)?;
                scan.entities.push(entity(head, &mut groups)?);
                if handles.owners.last().map(|(owner, _)| *owner) != model_space {
                    return refuse("an entity lies outside of model space".to_owned());
                }
            }
            (section, kind) => return refuse(format!("{kind} in section {section} is unknown")),
        }
    }
    if !ended {
        let line = pairs.last().map_or(1, |pair| pair.line);
        return Err(fault(
            "dxf-structure",
            line,
            "the file is cut short: no EOF".to_owned(),
        ));
    }
    handles.check(scan.variable("$HANDSEED", 5))?;
    Ok(scan)
}

/// The groups of one record, taken in order.
struct Groups<'a> {
    record: &'a [Pair<'a>],
    next: usize,
}

impl<'a> Groups<'a> {
    fn peek(&self) -> Option<&'a Pair<'a>> {
        self.record.get(self.next)
    }

    fn here(&self) -> usize {
        let pair = self.peek().or_else(|| self.record.last());
        pair.map_or(1, |pair| pair.line)
    }

    fn take(&mut self, code: u16, what: &str) -> Result<&'a Pair<'a>, ReplayFault> {
        match self.peek() {
            Some(pair) if pair.code == code => {
                self.next += 1;
                Ok(pair)
            }
            _ => {
                let what = format!("expected {what} (group {code})");
                Err(fault("dxf-structure", self.here(), what))
            }
        }
    }

    fn value(&mut self, code: u16, value: &str) -> Result<(), ReplayFault> {
        let pair = self.take(code, value)?;
        if pair.value.trim_start() == value {
            return Ok(());
        }
        let what = format!(
            "expected {value} under group {code}, found \"{}\"",
            pair.value
        );
        Err(fault("dxf-structure", pair.line, what))
    }

    fn decimal(&mut self, code: u16, what: &str) -> Result<f64, ReplayFault> {
        let pair = self.take(code, what)?;
        let what = || {
            fault(
                "dxf-structure",
                pair.line,
                format!("{what} is no plain number"),
            )
        };
        decimal(pair.value).ok_or_else(what)
    }

    fn whole(&mut self, code: u16, what: &str) -> Result<i64, ReplayFault> {
        let pair = self.take(code, what)?;
        let what = || {
            fault(
                "dxf-structure",
                pair.line,
                format!("{what} is no whole number"),
            )
        };
        whole(pair.value).ok_or_else(what)
    }

    fn end(&self) -> Result<(), ReplayFault> {
        match self.peek() {
            None => Ok(()),
            Some(pair) => {
                let what = format!("group {} is not expected here", pair.code);
                Err(fault("dxf-structure", pair.line, what))
            }
        }
    }
}

fn header(scan: &mut Scan, groups: &mut Groups<'_>) -> Result<(), ReplayFault> {
    while groups.peek().is_some() {
        let name = groups.take(9, "a header variable")?;
        let refuse = |line, what: &str| {
            let what = format!("{} {what}", name.value);
            Err(fault("dxf-structure", line, what))
        };
        if !HEADER.contains(&name.value) {
            return refuse(name.line, "is not expected in the header");
        }
        let first = groups.next;
        while let Some(pair) = groups.peek().filter(|pair| pair.code != 9) {
            if scan.variable(name.value, pair.code).is_some() {
                return refuse(pair.line, "is said twice");
            }
            scan.header
                .push((name.value.to_owned(), pair.code, pair.value.to_owned()));
            groups.next += 1;
        }
        if groups.next == first {
            return refuse(name.line, "has no value");
        }
    }
    Ok(())
}

/// DXF reference, LAYER: 2 name, 70 flags, 62 colour, 6 line type, 290 whether it is plotted.
fn layer(groups: &mut Groups<'_>) -> Result<LayerRow, ReplayFault> {
    groups.take(5, "a handle")?;
    groups.take(330, "an owner")?;
    groups.value(100, "AcDbSymbolTableRecord")?;
    groups.value(100, "AcDbLayerTableRecord")?;
    let name = groups.take(2, "a layer's name")?;
    let flags = groups.whole(70, "a layer's flags")?;
    let color = groups.whole(62, "a layer's colour")?;
    groups.value(6, "CONTINUOUS")?;
    groups.value(290, "1")?;
    groups.end()?;
    Ok(LayerRow {
        name: name.value.to_owned(),
        color,
        flags,
        line: name.line,
    })
}

fn entity(head: &Pair<'_>, groups: &mut Groups<'_>) -> Result<Line, ReplayFault> {
    groups.take(5, "a handle")?;
    groups.take(330, "an owner")?;
    groups.value(100, "AcDbEntity")?;
    let layer = groups.take(8, "a layer")?.value.to_owned();
    let shape = if head.value == "TEXT" {
        text(groups)?
    } else {
        contour(groups)?
    };
    groups.end()?;
    Ok(Line {
        layer,
        shape,
        line: head.line,
    })
}

/// DXF reference, LWPOLYLINE: 90 number of corners, 70 flags (1 closed), then 10, 20 and, for an arc, 42
/// of every corner.
fn contour(groups: &mut Groups<'_>) -> Result<Shape, ReplayFault> {
    groups.value(100, "AcDbPolyline")?;
    let line = groups.here();
    let count = groups.whole(90, "the number of corners")?;
    let flags = groups.whole(70, "the flags of a contour")?;
    let mut vertices = Vec::with_capacity(groups.record.len() / 2);
    while groups.peek().is_some() {
        let x = groups.decimal(10, "x of a corner")?;
        let y = groups.decimal(20, "y of a corner")?;
        let bent = groups.peek().is_some_and(|pair| pair.code == 42);
        let bulge = if bent {
            groups.decimal(42, "a bulge")?
        } else {
            0.0
        };
        vertices.push(Vertex {
            at: Point::new(x, y),
            bulge,
        });
    }
    if usize::try_from(count) != Ok(vertices.len()) {
        let what = format!("{count} corners announced, {} found", vertices.len());
        return Err(fault("dxf-structure", line, what));
    }
    match flags {
        0 | 1 => Ok(Shape::Contour(Contour {
            vertices,
            closed: flags == 1,
        })),
        _ => Err(fault(
            "dxf-structure",
            line,
            format!("contour with the flags {flags}"),
        )),
    }
}

/// DXF reference, TEXT: 10, 20, 30 lower left corner, 40 height, 1 the text.
fn text(groups: &mut Groups<'_>) -> Result<Shape, ReplayFault> {
    groups.value(100, "AcDbText")?;
    let x = groups.decimal(10, "x of a text")?;
    let y = groups.decimal(20, "y of a text")?;
    groups.value(30, "0.0")?;
    let line = groups.here();
    let height = groups.decimal(40, "the height of a text")?;
    let text = groups.take(1, "a text")?.value.to_owned();
    groups.value(100, "AcDbText")?;
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

/// Handles and owners (DXF reference, groups 5, 105 and 330).
#[derive(Debug, Default)]
struct Handles {
    known: HashSet<u64>,
    /// Owner and its line.
    owners: Vec<(u64, usize)>,
}

impl Handles {
    /// Takes down handle and owner of a record; gives back the handle.
    fn record(&mut self, record: &[Pair<'_>], code: u16) -> Result<u64, ReplayFault> {
        let line = record.first().map_or(1, |pair| pair.line);
        let only = |code: u16, what: &str| {
            let mut found = record.iter().filter(|pair| pair.code == code);
            match (
                found.next().and_then(|pair| handle(pair.value)),
                found.next(),
            ) {
                (Some(handle), None) => Ok(handle),
                _ => Err(fault(
                    "dxf-structure",
                    line,
                    format!("{what} (group {code}) is not right"),
                )),
            }
        };
        let own = only(code, "its handle")?;
        if !self.known.insert(own) {
            return Err(fault(
                "dxf-structure",
                line,
                "its handle is taken".to_owned(),
            ));
        }
        self.owners.push((only(330, "its owner")?, line));
        Ok(own)
    }

    fn check(&self, seed: Option<&str>) -> Result<(), ReplayFault> {
        let greatest = self.known.iter().max().copied().unwrap_or_default();
        if seed.and_then(handle).is_none_or(|seed| seed <= greatest) {
            let what = "$HANDSEED does not lie above all handles".to_owned();
            return Err(ReplayFault {
                rule: "dxf-structure",
                line: None,
                what,
            });
        }
        let lost = self
            .owners
            .iter()
            .find(|(owner, _)| *owner != 0 && !self.known.contains(owner));
        match lost {
            None => Ok(()),
            Some(&(_, line)) => Err(fault(
                "dxf-structure",
                line,
                "its owner is not in the file".to_owned(),
            )),
        }
    }
}
