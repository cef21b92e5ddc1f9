//! Sheets to write and to spoil: invented sizes, real offsets.
#![allow(dead_code, reason = "each test program uses its own part")]

use cavalier_contours::polyline::{PlineSource, PlineSourceMut, Polyline};
use lapwright::geom::{Contour, Point, Vertex};
use lapwright::panel::{DxfLayer, DxfStyle};
use lapwright::path::{CutContour, CutKind, Head, Program};
use lapwright::setup::{
    BatchKind, Edge, FlatLayout, FlatPiece, FlatSheet, Lies, Placement, SideNotch,
};
use lapwright::table::{Id, Table};

/// Layers of an invented post-processor.
pub fn style() -> DxfStyle {
    let layer = |name: &str, color| DxfLayer {
        name: name.to_owned(),
        color,
    };
    DxfStyle {
        outline: layer("cut-outline", 1),
        notch: layer("cut-notch", 5),
        groove: layer("cut-groove", 4),
        fold: layer("cut-fold", 6),
        label: layer("no-cut-label", 3),
        note: layer("no-cut-note", 8),
        stock: layer("no-cut-stock", 9),
    }
}

/// The id of a row.
pub fn nth<T>(table: &Table<T>, index: usize) -> Id<T> {
    table.id(index).expect("a row")
}

/// A side view with notches that do not overlap, its outline drawn counter-clockwise.
pub fn piece(class: &str, length: f64, depth: f64, notches: Vec<SideNotch>) -> FlatPiece {
    let mut points = vec![(0.0, 0.0)];
    for n in notches.iter().filter(|n| n.edge == Edge::Back) {
        points.extend([(n.x0, 0.0), (n.x0, n.depth), (n.x1, n.depth), (n.x1, 0.0)]);
    }
    points.extend([(length, 0.0), (length, depth)]);
    for n in notches.iter().filter(|n| n.edge == Edge::Front).rev() {
        let floor = depth - n.depth;
        points.extend([(n.x1, depth), (n.x1, floor), (n.x0, floor), (n.x0, depth)]);
    }
    points.push((0.0, depth));
    let drawn = Contour::polygon(points.into_iter().map(Point::from));
    FlatPiece {
        lies: Lies::OnSide,
        class: class.to_owned(),
        length,
        depth,
        notches,
        dashes: Vec::new(),
        drawn,
        remark: String::new(),
        trimmed: 0.0,
        bitten: [[0.0; 2]; 2],
    }
}

/// Three rows of two classes on one sheet, at odd sizes.
pub fn layout() -> FlatLayout {
    let notch = |at: f64, edge| SideNotch {
        x0: at - 2.21,
        x1: at + 2.21,
        edge,
        depth: 13.1 / 2.0,
    };
    let row = |first: f64, edge| {
        (0..5)
            .map(|i| notch(first + 71.3 * f64::from(i), edge))
            .collect()
    };
    let mut b = piece("B", 331.7, 13.1, row(20.4, Edge::Back));
    b.remark = "square end: trim to 57 deg".to_owned();
    let pieces: Table<FlatPiece> = [piece("A", 340.25, 13.1, row(27.5, Edge::Front)), b]
        .into_iter()
        .collect();
    let place = |index, id: &str, x, y| Placement {
        piece: nth(&pieces, index),
        id: id.to_owned(),
        x,
        y,
    };
    let places = [
        place(0, "u1", 10.0, 10.0),
        place(1, "l1", 12.345_678_9, 30.1),
        place(0, "u2", 10.0 + 1.0 / 3.0, 50.2),
    ];
    FlatLayout {
        job: "odd".into(),
        kind: BatchKind::Members,
        pieces,
        sheets: vec![FlatSheet {
            number: 1,
            stock: "card 450 x 240".to_owned(),
            length: 450.0,
            width: 240.0,
            thickness: 4.37,
            offcut: 0.0,
            placements: places.into_iter().collect(),
            chains: vec![],
            alike: vec![],
        }]
        .into(),
    }
}

/// The contour offset by `r` to its right, arcs kept (reference: the `cavalier_contours` crate).
pub fn grown(contour: &Contour, r: f64) -> Contour {
    let mut line: Polyline<f64> = Polyline::new_closed();
    for v in &contour.vertices {
        line.add(v.at.x, v.at.y, v.bulge);
    }
    let grown = line.parallel_offset(-r);
    assert_eq!(grown.len(), 1, "one piece grows to one path");
    let vertices = grown[0]
        .iter_vertexes()
        .map(|v| Vertex {
            at: Point::new(v.x, v.y),
            bulge: v.bulge,
        })
        .collect();
    Contour {
        vertices,
        closed: true,
    }
}

fn program(head: Head, contours: Vec<CutContour>) -> Program {
    Program {
        stem: "sheet-01".to_owned(),
        notes: Vec::new(),
        head,
        feed: 600.0,
        moves: Vec::new(),
        holds: Vec::new(),
        reliefs: Default::default(),
        contours,
    }
}

/// One closed contour a piece, half the kerf outside.
pub fn laser(layout: &FlatLayout, kerf: f64) -> Program {
    let contours = layout.sheets.rows()[0].placements.entries().map(|(i, p)| {
        let drawn = layout.pieces[p.piece].drawn.moved(p.x, p.y);
        CutContour {
            placement: i,
            kind: CutKind::Outline,
            path: grown(&drawn, 0.5 * kerf),
        }
    });
    let head = Head::Beam {
        kerf,
        power_percent: 40.0,
        power_word: 400.0,
    };
    program(head, contours.collect())
}

/// Notches as open paths with a half circle along the floor, then plain outlines, a tool's radius
/// outside.
pub fn router(layout: &FlatLayout, diameter: f64) -> Program {
    let r = 0.5 * diameter;
    let mut contours = Vec::new();
    for (i, p) in layout.sheets.rows()[0].placements.entries() {
        let piece = &layout.pieces[p.piece];
        for n in &piece.notches {
            let (edge, floor, bulge) = match n.edge {
                Edge::Front => (piece.depth + 2.0 * r, piece.depth - n.depth + r, 1.0),
                Edge::Back => (-2.0 * r, n.depth - r, -1.0),
            };
            let v = |x: f64, y: f64, bulge| Vertex {
                at: Point::new(p.x + x, p.y + y),
                bulge,
            };
            let (x0, x1) = (n.x0 + r, n.x1 - r);
            let vertices = vec![
                v(x0, edge, 0.0),
                v(x0, floor, bulge * 0.3),
                v(x1, floor, 0.0),
                v(x1, edge, 0.0),
            ];
            let path = Contour {
                vertices,
                closed: false,
            };
            contours.push(CutContour {
                placement: i,
                kind: CutKind::Notch,
                path,
            });
        }
    }
    for (i, p) in layout.sheets.rows()[0].placements.entries() {
        let FlatPiece { length, depth, .. } = layout.pieces[p.piece];
        let corners = [(0.0, 0.0), (length, 0.0), (length, depth), (0.0, depth)];
        let plain = Contour::polygon(corners.map(Point::from)).moved(p.x, p.y);
        contours.push(CutContour {
            placement: i,
            kind: CutKind::Outline,
            path: grown(&plain, r),
        });
    }
    let head = Head::Cutter {
        diameter,
        speed_rpm: 18_000.0,
        spin_up_s: 2.0,
        plunge_feed: 200.0,
        safe_z: 10.0,
        tool_number: 1,
        tool_name: "straight cutter".to_owned(),
    };
    program(head, contours)
}
