//! R12: what stands in its sections. Nothing has a handle, and nothing of a later release may stand.

use kurbo::Point;

use super::fault;
use super::groups::Groups;
use super::pairs::Pair;
use super::scan::{LayerRow, Line, Scan, Sections, Shape, Step, records, text};
use crate::geom::{Contour, Vertex};
use crate::replay::ReplayFault;

/// Sections in their order (DXF reference of release 12, from memory).
const SECTIONS: [&str; 4] = ["HEADER", "TABLES", "BLOCKS", "ENTITIES"];

/// Header variables that may stand in a file; none holds a unit.
const HEADER: [&str; 8] = [
    "$ACADVER", "$INSBASE", "$EXTMIN", "$EXTMAX", "$LIMMIN", "$LIMMAX", "$LUNITS", "$LUPREC",
];

/// Tables that may stand, each once; VIEW and UCS might turn the drawing.
const TABLES: [&str; 4] = ["VPORT", "LTYPE", "LAYER", "STYLE"];

/// A table that is open: its name, its line, rows announced, rows found.
struct Table<'a> {
    name: &'a str,
    line: usize,
    announced: i64,
    found: i64,
}

/// A polyline whose vertices still come.
struct Open {
    layer: String,
    closed: bool,
    vertices: Vec<Vertex>,
    line: usize,
}

/// Scans a whole file.
pub(super) fn scan(pairs: &[Pair<'_>]) -> Result<Scan, ReplayFault> {
    let mut scan = Scan::default();
    let mut sections = Sections::new(&SECTIONS, &HEADER);
    let mut tables = TABLES.iter();
    let mut table: Option<Table<'_>> = None;
    let mut polyline: Option<Open> = None;
    for record in records(pairs) {
        let (head, mut groups) = record?;
        let refuse = |what: String| Err(fault("dxf-structure", head.line, what));
        let inside = table.is_some() || polyline.is_some();
        if sections.step(&mut scan, head, &mut groups, inside)? == Step::Taken {
            continue;
        }
        match (sections.open(), head.value) {
            ("TABLES", "TABLE") if table.is_none() => {
                let name = groups.take(2, "a table's name")?.value;
                if tables.next() != Some(&name) {
                    return refuse(format!("table {name} is not expected here"));
                }
                table = Some(Table {
                    name,
                    line: head.line,
                    announced: groups.whole(70, "the number of rows")?,
                    found: 0,
                });
                groups.end()?;
            }
            ("TABLES", "ENDTAB") if table.is_some() => {
                groups.end()?;
                if let Some(t) = table.take()
                    && t.announced != t.found
                {
                    let what = format!("{} rows announced, {} found", t.announced, t.found);
                    return Err(fault("dxf-structure", t.line, what));
                }
            }
            ("TABLES", kind) => match &mut table {
                Some(t) if t.name == kind => {
                    t.found += 1;
                    row(&mut scan, head, &mut groups)?;
                }
                _ => return refuse(format!("{kind} is not expected in this table")),
            },
            ("ENTITIES", "TEXT") if polyline.is_none() => {
                let layer = groups.take(8, "a layer")?.value.to_owned();
                let shape = text(&mut groups)?;
                groups.end()?;
                scan.entities.push(Line {
                    layer,
                    shape,
                    line: head.line,
                });
            }
            ("ENTITIES", "POLYLINE") if polyline.is_none() => {
                polyline = Some(begin(head, &mut groups)?);
            }
            ("ENTITIES", kind @ ("VERTEX" | "SEQEND")) => {
                let Some(mut open) = polyline.take() else {
                    return refuse(format!("a {kind} outside of a polyline"));
                };
                groups.value(8, &open.layer)?;
                if kind == "VERTEX" {
                    open.vertices.push(vertex(&mut groups)?);
                    polyline = Some(open);
                } else {
                    scan.entities.push(Line {
                        layer: open.layer,
                        shape: Shape::Contour(Contour {
                            vertices: open.vertices,
                            closed: open.closed,
                        }),
                        line: open.line,
                    });
                }
                groups.end()?;
            }
            (section, kind) => {
                return refuse(format!("{kind} is not expected here in section {section}"));
            }
        }
    }
    sections.finish(pairs)?;
    match tables.next() {
        None => Ok(scan),
        Some(lost) => Err(super::missing(
            "dxf-structure",
            format!("table {lost} is missing"),
        )),
    }
}

/// A row of a table. LTYPE: continuous, no gaps (group 49). LAYER: 2 name, 70 flags, 62 colour, 6 line
/// type.
fn row(scan: &mut Scan, head: &Pair<'_>, groups: &mut Groups<'_>) -> Result<(), ReplayFault> {
    let refuse = |what: &str| Err(fault("dxf-structure", head.line, what.to_owned()));
    // Markers, owners and handles of later releases.
    if groups
        .record
        .iter()
        .any(|p| matches!(p.code, 5 | 100 | 330))
    {
        return refuse("a group of a later release");
    }
    match head.value {
        "LAYER" => {
            let name = groups.take(2, "a layer's name")?;
            let flags = groups.whole(70, "a layer's flags")?;
            let color = groups.whole(62, "a layer's colour")?;
            groups.value(6, "CONTINUOUS")?;
            groups.end()?;
            scan.layers.push(LayerRow {
                name: name.value.to_owned(),
                color,
                flags,
                line: name.line,
            });
            Ok(())
        }
        "LTYPE" => {
            groups.value(2, "CONTINUOUS")?;
            if groups.record.iter().any(|pair| pair.code == 49) {
                return refuse("a line type has gaps");
            }
            Ok(())
        }
        _ => Ok(()),
    }
}

/// POLYLINE: 8 layer, 66 vertices follow, 10, 20, 30 without meaning but for the height, 70 flags (1
/// closed).
fn begin(head: &Pair<'_>, groups: &mut Groups<'_>) -> Result<Open, ReplayFault> {
    let layer = groups.take(8, "a layer")?.value.to_owned();
    groups.value(66, "1")?;
    for code in [10, 20, 30] {
        groups.value(code, "0.0")?;
    }
    let flags = groups.whole(70, "the flags of a contour")?;
    groups.end()?;
    if !matches!(flags, 0 | 1) {
        let what = format!("contour with the flags {flags}");
        return Err(fault("dxf-structure", head.line, what));
    }
    Ok(Open {
        layer,
        closed: flags == 1,
        vertices: Vec::new(),
        line: head.line,
    })
}

/// VERTEX, after its layer: 10, 20 corner, 30 height, and for an arc 42 bulge.
fn vertex(groups: &mut Groups<'_>) -> Result<Vertex, ReplayFault> {
    let x = groups.decimal(10, "x of a corner")?;
    let y = groups.decimal(20, "y of a corner")?;
    groups.value(30, "0.0")?;
    let bent = groups.peek().is_some_and(|pair| pair.code == 42);
    let bulge = if bent {
        groups.decimal(42, "a bulge")?
    } else {
        0.0
    };
    Ok(Vertex {
        at: Point::new(x, y),
        bulge,
    })
}
