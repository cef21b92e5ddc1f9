//! R12: what may be drawn. Nothing has a handle.

use kurbo::Point;

use super::fault;
use super::groups::Groups;
use super::pairs::Pair;
use super::scan::{Line, Shape, records, text};
use crate::geom::{Contour, Vertex};
use crate::replay::ReplayFault;

/// A polyline whose vertices still come.
struct Open {
    layer: String,
    closed: bool,
    vertices: Vec<Vertex>,
    line: usize,
}

/// Scans what is drawn: texts, and polylines with their vertices and the SEQEND that ends them, all on
/// one layer.
pub(super) fn entities(pairs: &[Pair<'_>]) -> Result<Vec<Line>, ReplayFault> {
    let mut found = Vec::new();
    let mut polyline: Option<Open> = None;
    for record in records(pairs) {
        let (head, mut groups) = record?;
        match (head.value, polyline.take()) {
            ("TEXT", None) => {
                let layer = groups.take(8, "a layer")?.value.to_owned();
                let shape = text(&mut groups)?;
                let line = head.line;
                found.push(Line { layer, shape, line });
            }
            ("POLYLINE", None) => polyline = Some(begin(head, &mut groups)?),
            ("VERTEX", Some(mut open)) => {
                groups.value(8, &open.layer)?;
                open.vertices.push(vertex(&mut groups)?);
                polyline = Some(open);
            }
            ("SEQEND", Some(open)) => {
                groups.value(8, &open.layer)?;
                found.push(Line {
                    layer: open.layer,
                    shape: Shape::Contour(Contour {
                        vertices: open.vertices,
                        closed: open.closed,
                    }),
                    line: open.line,
                });
            }
            (kind, _) => {
                let what = format!("{kind} is not expected here among the entities");
                return Err(fault("dxf-structure", head.line, what));
            }
        }
        groups.end()?;
    }
    match polyline {
        None => Ok(found),
        Some(open) => {
            let what = "this polyline has no SEQEND".to_owned();
            Err(fault("dxf-structure", open.line, what))
        }
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
