//! R2000: what stands in its sections; handles and owners must agree.

use std::collections::HashSet;

use kurbo::Point;

use super::fault;
use super::groups::Groups;
use super::pairs::{Pair, handle};
use super::scan::{LayerRow, Line, Scan, Sections, Shape, Step, records, text};
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

/// Scans a whole file.
pub(super) fn scan(pairs: &[Pair<'_>]) -> Result<Scan, ReplayFault> {
    let mut scan = Scan::default();
    let mut handles = Handles::default();
    let mut sections = Sections::new(&SECTIONS, &HEADER);
    let mut table = None;
    let mut model_space = None;
    let mut in_block = false;
    for record in records(pairs) {
        let (head, mut groups) = record?;
        let record = groups.record;
        let refuse = |what: String| Err(fault("dxf-structure", head.line, what));
        let inside = table.is_some() || in_block;
        if sections.step(&mut scan, head, &mut groups, inside)? == Step::Taken {
            continue;
        }
        match (sections.open(), head.value) {
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
    sections.finish(pairs)?;
    handles.check(scan.variable("$HANDSEED", 5))?;
    Ok(scan)
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
        groups.value(100, "AcDbText")?;
        let text = text(groups)?;
        groups.value(100, "AcDbText")?;
        text
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
