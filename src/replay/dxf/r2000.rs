//! R2000: what may be drawn. Everything has a handle of its own and lies in model space.

use kurbo::Point;

use super::fault;
use super::frame::Handles;
use super::groups::Groups;
use super::pairs::Pair;
use super::scan::{Line, Shape, records, text};
use crate::geom::{Contour, Vertex};
use crate::replay::ReplayFault;

/// Scans what is drawn.
pub(super) fn entities(
    pairs: &[Pair<'_>],
    handles: &mut Handles,
) -> Result<Vec<Line>, ReplayFault> {
    records(pairs)
        .map(|record| {
            let (head, mut groups) = record?;
            entity(head, &mut groups, handles)
        })
        .collect()
}

fn entity(
    head: &Pair<'_>,
    groups: &mut Groups<'_>,
    handles: &mut Handles,
) -> Result<Line, ReplayFault> {
    handles.own(groups.take(5, "a handle")?)?;
    handles.model(groups.take(330, "an owner")?)?;
    groups.value(100, "AcDbEntity")?;
    let layer = groups.take(8, "a layer")?.value.to_owned();
    let shape = match head.value {
        "TEXT" => {
            groups.value(100, "AcDbText")?;
            let text = text(groups)?;
            groups.value(100, "AcDbText")?;
            text
        }
        "LWPOLYLINE" => contour(groups)?,
        other => {
            let what = format!("{other} is not expected among the entities");
            return Err(fault("dxf-structure", head.line, what));
        }
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
