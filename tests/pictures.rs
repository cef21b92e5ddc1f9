//! Pictures of panels and sheets: well-formed, and true to the plan.

#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use lapwright::document::Numbers;
use lapwright::geom::{Contour, Convex, Point, Vec2, Vertex};
use lapwright::non_empty::NonEmpty;
use lapwright::panel::{Blank, Stock};
use lapwright::path::{CutContour, CutKind, Head, Hold, Program};
use lapwright::setup::{
    BatchKind, Edge, FlatLayout, FlatPiece, FlatSheet, Lies, PlacementId, SideNotch,
};
use lapwright::stock::{NestItem, StockLimit, nest};
use lapwright::table::Table;
use lapwright::write::svg::{BarView, PanelView, SheetView, panel_svg, sheet_svg};

fn save(name: &str, svg: &[u8]) {
    let dir = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    fs::write(dir.join(name), svg).unwrap();
}

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Vec<Point> {
    [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        .map(|(x, y)| Point::new(x, y))
        .to_vec()
}

/// The sides of a mitred frame of this face: corners lie where the edges meet, moved out by it.
fn mitred(outline: &[Point], face: f64) -> Vec<Vec<Point>> {
    let n = outline.len();
    let along = |i: usize| {
        let d = outline[(i + 1) % n] - outline[i % n];
        d / d.hypot()
    };
    let corner = |i: usize| {
        let (u, v) = (along(i + n - 1), along(i));
        let out = Vec2::new(u.y + v.y, -u.x - v.x);
        outline[i % n] + out * (face / (1.0 + u.dot(v)))
    };
    (0..n)
        .map(|i| vec![corner(i), corner(i + 1), outline[(i + 1) % n], outline[i]])
        .collect()
}

/// Bars along these lines, cut to a rectangle with an overhang; joints where centre lines cross.
fn panel(
    size: (f64, f64),
    face: f64,
    overhang: f64,
    surround: Option<f64>,
    families: &[(u32, f64, f64, Vec<f64>)],
) -> PanelView {
    let ground = Convex::from_corners(rectangle(0.0, 0.0, size.0, size.1));
    let wide = Convex::from_corners(rectangle(
        -overhang,
        -overhang,
        size.0 + overhang,
        size.1 + overhang,
    ));
    let mut bars = Vec::new();
    let mut lines = Vec::new();
    for &(rank, dx, dy, ref offsets) in families {
        let along = Vec2::new(dx, dy) / dx.hypot(dy);
        let normal = Vec2::new(-along.y, along.x);
        for &offset in offsets {
            let thin = ground.within(normal, offset - 1e-7, offset + 1e-7);
            let (t0, t1) = thin.extent(along);
            let at = |t: f64| Point::ORIGIN + normal * offset + along * t;
            lines.push((normal, offset));
            let band = wide.within(normal, offset - 0.5 * face, offset + 0.5 * face);
            let class = ((b'A' + (t1 - t0) as u8 % 26) as char).to_string();
            bars.push(BarView {
                id: format!("{}{}", rank, bars.len()),
                class,
                corners: band.corners().to_vec(),
                centre: (at(t0), at(t1)),
                joints: Vec::new(),
                rank,
            });
        }
    }
    for (bar, &(n, d)) in bars.iter_mut().zip(&lines) {
        for &(m, e) in &lines {
            let det = n.cross(m);
            if det.abs() > 1e-9 {
                let p = Point::new((d * m.y - e * n.y) / det, (e * n.x - d * m.x) / det);
                bar.joints.push(p);
            }
        }
    }
    PanelView {
        name: "Check <panel> & friends".into(),
        notes: vec!["three-way, pitch 65, made twice".into()],
        width: size.0,
        height: size.1,
        surround: surround.map_or_else(Vec::new, |face| {
            mitred(&rectangle(0.0, 0.0, size.0, size.1), face)
        }),
        surround_word: "surround, mitred".into(),
        bars,
        infill: Vec::new(),
        infill_pieces: 0,
        cells: Vec::new(),
        outline: rectangle(0.0, 0.0, size.0, size.1),
        numbers: Numbers::MM,
    }
}

fn three_way() -> PanelView {
    let (w, h, step) = (333.75, 195.0, 65.0 * 0.75_f64.sqrt());
    let x0 = -2.0;
    let uprights = (1..=5).map(|k| -(x0 + step * f64::from(k))).collect();
    let slant = |sign: f64| -> Vec<f64> {
        // Through (x0, 32.5 + 65 k).
        let along = Vec2::new(0.75_f64.sqrt(), sign * 0.5);
        let normal = Vec2::new(-along.y, along.x);
        let range = if sign > 0.0 { -3..=2 } else { 0..=5 };
        range
            .map(|k| normal.dot(Vec2::new(x0, 32.5 + 65.0 * f64::from(k))))
            .collect()
    };
    let s = 0.75_f64.sqrt();
    panel(
        (w, h),
        4.0,
        25.0,
        Some(8.0),
        &[
            (1, s, 0.5, slant(1.0)),
            (2, 0.0, 1.0, uprights),
            (3, s, -0.5, slant(-1.0)),
        ],
    )
}

fn square(n: u32, pitch: f64, face: f64) -> PanelView {
    let size = (pitch * f64::from(n), pitch * f64::from(n));
    let at = |sign: f64| {
        (0..n)
            .map(|k| sign * pitch * (f64::from(k) + 0.5))
            .collect::<Vec<_>>()
    };
    panel(
        size,
        face,
        0.0,
        None,
        &[(1, 1.0, 0.0, at(1.0)), (2, 0.0, 1.0, at(-1.0))],
    )
}

/// A bar on its side with notches of `run` every `pitch` mm, in turn from either edge.
fn side_view(class: &str, length: f64, depth: f64, pitch: f64, run: f64) -> FlatPiece {
    let n = (length / pitch) as u32;
    let first = 0.5 * (length - f64::from(n - 1) * pitch);
    let notch = |k: u32| {
        let x = first + pitch * f64::from(k);
        let edge = if k.is_multiple_of(2) {
            Edge::Front
        } else {
            Edge::Back
        };
        SideNotch {
            x0: x - 0.5 * run,
            x1: x + 0.5 * run,
            edge,
            depth: 0.5 * depth,
        }
    };
    let notches: Vec<SideNotch> = (0..n).map(notch).collect();
    let mut corners = vec![Point::new(0.0, 0.0)];
    for n in notches.iter().filter(|n| n.edge == Edge::Back) {
        let at = [(n.x0, 0.0), (n.x0, n.depth), (n.x1, n.depth), (n.x1, 0.0)];
        corners.extend(at.map(|(x, y)| Point::new(x, y)));
    }
    corners.extend([Point::new(length, 0.0), Point::new(length, depth)]);
    for n in notches.iter().rev().filter(|n| n.edge == Edge::Front) {
        let z = depth - n.depth;
        let at = [(n.x1, depth), (n.x1, z), (n.x0, z), (n.x0, depth)];
        corners.extend(at.map(|(x, y)| Point::new(x, y)));
    }
    corners.push(Point::new(0.0, depth));
    let drawn = Contour::polygon(corners);
    FlatPiece {
        dashes: Vec::new(),
        lies: Lies::OnSide,
        class: class.into(),
        length,
        depth,
        notches,
        drawn,
        remark: String::new(),
        trimmed: 0.0,
        bitten: [[0.0; 2]; 2],
    }
}

/// A path round a piece at distance `r`, corners round, and one open cut into each notch.
fn path_round(
    piece: &FlatPiece,
    placement: PlacementId,
    x: f64,
    y: f64,
    r: f64,
) -> Vec<CutContour> {
    let (l, d) = (piece.length, piece.depth);
    let quarter = std::f64::consts::FRAC_PI_8.tan();
    let vertex = |px: f64, py: f64, bulge: f64| Vertex {
        at: Point::new(x + px, y + py),
        bulge,
    };
    let vertices = vec![
        vertex(0.0, -r, 0.0),
        vertex(l, -r, quarter),
        vertex(l + r, 0.0, 0.0),
        vertex(l + r, d, quarter),
        vertex(l, d + r, 0.0),
        vertex(0.0, d + r, quarter),
        vertex(-r, d, 0.0),
        vertex(-r, 0.0, quarter),
    ];
    let mut cuts = Vec::new();
    for n in &piece.notches {
        let (edge, floor) = match n.edge {
            Edge::Front => (d + r, d - n.depth + r),
            Edge::Back => (-r, n.depth - r),
        };
        let at = [
            (n.x0 + r, edge),
            (n.x0 + r, floor),
            (n.x1 - r, floor),
            (n.x1 - r, edge),
        ];
        let path = Contour::open(at.map(|(px, py)| Point::new(x + px, y + py)));
        cuts.push(CutContour {
            placement,
            kind: CutKind::Notch,
            path,
        });
    }
    let path = Contour {
        vertices,
        closed: true,
    };
    cuts.push(CutContour {
        placement,
        kind: CutKind::Outline,
        path,
    });
    cuts
}

/// A nested job and the path of its first sheet.
fn sheet(
    stock: &Stock,
    counts: &[(&str, f64, usize)],
    depth: f64,
    head: Head,
    gap: f64,
) -> (FlatLayout, Program) {
    let run = 3.0 + 2.0 * head.radius();
    let pieces: Table<FlatPiece> = counts
        .iter()
        .map(|&(c, length, _)| side_view(c, length, depth, 45.0, run))
        .collect();
    let mut items = Vec::new();
    for (piece, &(class, length, n)) in pieces.ids().zip(counts) {
        for k in 1..=n {
            items.push(NestItem {
                piece,
                id: format!("{class}{k}"),
                length,
            });
        }
    }
    let far = StockLimit {
        max_x: 5000.0,
        max_y: 5000.0,
    };
    let nested = nest(&items, depth, stock, gap, 3.0, far);
    let sheets: Table<FlatSheet> = nested.unwrap().sheets.into();
    let mut contours = Vec::new();
    let mut holds = Vec::new();
    for (k, p) in sheets.rows()[0].placements.entries() {
        let piece = &pieces[p.piece];
        let r = head.radius();
        contours.extend(path_round(piece, k, p.x, p.y, r));
        for x in [p.x + 12.0, p.x + piece.length - 12.0] {
            let (from, to) = (Point::new(x - 1.5, p.y - r), Point::new(x + 1.5, p.y - r));
            holds.push(Hold {
                placement: k,
                from,
                to,
                width: 3.0,
                height: 1.0,
            });
        }
    }
    let stem = "sheet-01".into();
    let program = Program {
        stem,
        notes: vec![],
        head,
        feed: 900.0,
        moves: vec![],
        holds,
        reliefs: Default::default(),
        contours,
    };
    (
        FlatLayout {
            job: "odd".into(),
            kind: BatchKind::Members,
            pieces,
            sheets,
        },
        program,
    )
}

fn beam() -> Head {
    Head::Beam {
        kerf: 0.2,
        power_percent: 60.0,
        power_word: 600.0,
    }
}

fn cutter() -> Head {
    Head::Cutter {
        diameter: 3.0,
        speed_rpm: 18000.0,
        spin_up_s: 2.0,
        plunge_feed: 200.0,
        safe_z: 12.0,
        tool_number: 1,
        tool_name: "3 mm straight".into(),
    }
}

fn blanks(trim: f64, length: f64, width: f64) -> Stock {
    let blank = Blank {
        name: "ply 600".into(),
        length,
        width,
        count: None,
    };
    Stock {
        thickness: Vec::new(),
        name: "ply".into(),
        trim,
        blanks: vec![blank],
    }
}

/// An element: name, attributes, and the names and attributes of the elements around it.
struct Element {
    name: String,
    attributes: BTreeMap<String, String>,
    within: Vec<BTreeMap<String, String>>,
    text: String,
}

impl Element {
    fn class(&self) -> &str {
        let of = |a: &BTreeMap<String, String>| a.get("class").map(String::len);
        let around = self.within.iter().rev().find(|a| of(a).is_some());
        around.map_or("", |a| a["class"].as_str())
    }

    fn around(&self, key: &str) -> Option<&str> {
        self.within
            .iter()
            .rev()
            .find_map(|a| a.get(key))
            .map(String::as_str)
    }

    fn number(&self, key: &str) -> f64 {
        self.attributes[key].parse().unwrap()
    }
}

/// Reads XML of the plain kind: a declaration, elements, text, references; no comments. Everything else
/// stops the test (Extensible Markup Language 1.0, sections 2.1, 2.4, 3.1 and 4.1).
fn parse(svg: &[u8]) -> Vec<Element> {
    let text = std::str::from_utf8(svg).unwrap();
    let mut rest = text
        .strip_prefix("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
        .unwrap();
    let mut open: Vec<usize> = Vec::new();
    let mut all: Vec<Element> = Vec::new();
    while !rest.trim().is_empty() {
        let at = rest.find('<').unwrap();
        let between = unescaped(&rest[..at]);
        match open.last() {
            Some(&i) => all[i].text.push_str(&between),
            None => assert!(
                between.trim().is_empty(),
                "text outside the root: {between}"
            ),
        }
        let end = rest.find('>').unwrap();
        let tag = &rest[at + 1..end];
        rest = &rest[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(
                all[open.pop().unwrap()].name,
                name,
                "tags are closed in order"
            );
            continue;
        }
        let (tag, empty) = tag.strip_suffix('/').map_or((tag, false), |t| (t, true));
        let (name, mut left) = tag.split_once(' ').unwrap_or((tag, ""));
        assert!(
            name.chars().all(|c| c.is_ascii_alphabetic()),
            "odd tag {tag}"
        );
        let mut attributes = BTreeMap::new();
        while !left.trim().is_empty() {
            let (key, value) = left.trim_start().split_once("=\"").unwrap();
            assert!(
                key.chars()
                    .all(|c| c.is_ascii_alphanumeric() || "-:".contains(c)),
                "{key}"
            );
            let (value, after) = value.split_once('"').unwrap();
            assert!(
                after.is_empty() || after.starts_with(' '),
                "attributes run together: {tag}"
            );
            assert!(!value.contains('<'), "{value}");
            let new = attributes
                .insert(key.to_string(), unescaped(value))
                .is_none();
            assert!(new, "{key} is there twice: {tag}");
            left = after;
        }
        assert!(!open.is_empty() || all.is_empty(), "a second root");
        let within = open.iter().map(|&i| all[i].attributes.clone()).collect();
        all.push(Element {
            name: name.into(),
            attributes,
            within,
            text: String::new(),
        });
        if !empty {
            open.push(all.len() - 1);
        }
    }
    assert!(open.is_empty(), "tags are left open");
    all
}

fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        out.push_str(&rest[..at]);
        let end = rest[at..].find(';').unwrap() + at;
        out.push(match &rest[at..=end] {
            "&amp;" => '&',
            "&lt;" => '<',
            "&gt;" => '>',
            "&quot;" => '"',
            "&#39;" => '\'',
            other => panic!("reference {other}"),
        });
        rest = &rest[end + 1..];
    }
    out.push_str(rest);
    out
}

fn points(element: &Element) -> Vec<Point> {
    let pair = |p: &str| {
        let (x, y) = p.split_once(',').unwrap();
        Point::new(x.parse().unwrap(), y.parse().unwrap())
    };
    element.attributes["points"].split(' ').map(pair).collect()
}

fn same(got: &[Point], want: &[Point]) {
    assert_eq!(got.len(), want.len());
    for (g, w) in got.iter().zip(want) {
        assert!(
            (*g - *w).hypot() < 1e-3,
            "{g:?} in the picture, {w:?} in the plan"
        );
    }
}

/// What holds for every picture: well-formed, sized in mm at the stated scale, short numbers, letters
/// on the page.
fn check(svg: &[u8]) -> Vec<Element> {
    let all = parse(svg);
    let root = &all[0];
    assert_eq!(root.name, "svg");
    let size: Vec<f64> = root.attributes["viewBox"]
        .split(' ')
        .map(|v| v.parse().unwrap())
        .collect();
    let mm = |key: &str| -> f64 {
        root.attributes[key]
            .strip_suffix("mm")
            .unwrap()
            .parse()
            .unwrap()
    };
    let scale = size[2] / mm("width");
    assert!(
        (size[3] / mm("height") - scale).abs() < 1e-3 * scale,
        "one scale both ways"
    );
    let stated = all.iter().any(|e| {
        e.text
            .ends_with(&format!("1 : {}", (scale * 10.0).round() / 10.0))
            || e.text
                .contains(&format!("Scale 1 : {}.", (scale * 10.0).round() / 10.0))
    });
    assert!(stated, "the picture states its scale {scale}");
    let text = std::str::from_utf8(svg).unwrap();
    for word in text.split(|c: char| !(c.is_ascii_alphanumeric() || "-.".contains(c))) {
        assert!(word != "-0" && word != "NaN" && word != "inf", "{word}");
        let digits = word
            .split_once('.')
            .filter(|w| w.1.bytes().all(|b| b.is_ascii_digit()));
        assert!(
            digits.is_none_or(|(_, d)| d.len() <= 3),
            "{word} has too many decimals"
        );
    }
    for e in all
        .iter()
        .filter(|e| e.name == "text" && !e.attributes.contains_key("text-anchor"))
    {
        // Half the size is a narrow guess at a letter's width.
        let end = e.number("x") + 0.5 * e.number("font-size") * e.text.chars().count() as f64;
        assert!(end < size[2], "runs off the page: {}", e.text);
        assert!(e.number("y") < size[3], "below the page: {}", e.text);
    }
    all
}

fn check_panel(name: &str, view: &PanelView) -> Vec<Element> {
    let svg = panel_svg(view);
    save(name, &svg);
    assert_eq!(svg, panel_svg(view), "the same panel gives the same bytes");
    let all = check(&svg);
    // Back to front, and every bar's plan as it is in the plan.
    let bars: Vec<&Element> = all
        .iter()
        .filter(|e| e.class() == "bars" && e.name == "polygon")
        .collect();
    let ranks: Vec<u32> = bars
        .iter()
        .map(|e| e.around("data-rank").unwrap().parse().unwrap())
        .collect();
    assert!(ranks.is_sorted(), "a front bar lies under a back bar");
    let mut want: Vec<&BarView> = view.bars.iter().collect();
    want.sort_by_key(|b| b.rank);
    assert_eq!(bars.len(), want.len());
    for (element, bar) in bars.iter().zip(want) {
        same(&points(element), &bar.corners);
        assert!(
            element.around("clip-path").is_some(),
            "overhang is shown as such"
        );
    }
    let outline: Vec<&Element> = all.iter().filter(|e| e.class() == "outline").collect();
    same(&points(outline[0]), &view.outline);
    all
}

#[test]
fn the_check_panel_is_drawn_as_it_is() {
    let view = three_way();
    let all = check_panel("three-way.svg", &view);
    // Mitred frame: its four sides make up the ring, and meet in the ring's corners.
    let sides: Vec<Vec<Point>> = all
        .iter()
        .filter(|e| e.class() == "surround")
        .map(points)
        .collect();
    assert_eq!(sides.len(), 4);
    let area: f64 = sides
        .iter()
        .map(|s| Contour::polygon(s.clone()).area())
        .sum();
    assert!(
        (area - (349.75 * 211.0 - 333.75 * 195.0)).abs() < 1e-6,
        "frame of {area} mm²"
    );
    for (k, (x, y)) in [(-8.0, -8.0), (341.75, -8.0), (341.75, 203.0), (-8.0, 203.0)]
        .iter()
        .enumerate()
    {
        assert_eq!(sides[k][0], Point::new(*x, *y));
        assert_eq!(sides[(k + 3) % 4][1], sides[k][0], "mitre {k}");
    }
    // Sizes as in the plan: practice writes 349.7 for the overall width.
    let texts: Vec<&str> = all
        .iter()
        .filter(|e| e.name == "text")
        .map(|e| e.text.as_str())
        .collect();
    for size in [
        "333.75",
        "195",
        "349.75",
        "211",
        "333.75 × 195",
        "349.75 × 211",
    ] {
        assert!(texts.contains(&size), "{size} is missing");
    }
    assert_eq!(
        texts[0], "Check <panel> & friends",
        "names come through unharmed"
    );
    let dashed = all
        .iter()
        .filter(|e| e.class() == "overhang" && e.name == "polygon")
        .count();
    assert_eq!(dashed, 17, "every member runs past the outline");
}

#[test]
fn badges_keep_clear_of_joints_and_of_each_other() {
    let view = three_way();
    let all = check_panel("three-way.svg", &view);
    let marks: Vec<&Element> = all
        .iter()
        .filter(|e| e.class() == "badges" && e.name == "circle")
        .collect();
    assert_eq!(marks.len(), view.bars.len());
    // Where the ground's origin lies on the page.
    let work = all.iter().find(|e| {
        e.attributes
            .get("transform")
            .is_some_and(|t| t.contains("scale"))
    });
    let shift = &work.unwrap().attributes["transform"];
    let shift: Vec<f64> = shift["translate(".len()..shift.find(')').unwrap()]
        .split(' ')
        .map(|v| v.parse().unwrap())
        .collect();
    let at: Vec<Point> = marks
        .iter()
        .map(|m| Point::new(m.number("cx") - shift[0], shift[1] - m.number("cy")))
        .collect();
    let r = marks[0].number("r");
    for (k, (p, bar)) in at.iter().zip(&view.bars).enumerate() {
        let (a, b) = bar.centre;
        let off = (b - a).cross(*p - a) / (b - a).hypot();
        assert!(off.abs() < 2e-3, "badge {k} lies {off} mm beside its bar");
        for joint in &bar.joints {
            assert!((*joint - *p).hypot() > r + 2.0, "badge {k} lies on a joint");
        }
        for q in &at[..k] {
            assert!((*q - *p).hypot() > 2.0 * r, "badge {k} lies on another");
        }
    }
}

#[test]
fn bars_without_room_go_without_a_letter() {
    let view = square(60, 12.0, 2.0);
    let all = check_panel("dense.svg", &view);
    assert_eq!(all.iter().filter(|e| e.class() == "badges").count(), 0);
    let says = |e: &Element| e.text == "120 bars are too close to others for a letter.";
    assert!(all.iter().any(says), "and the legend says so");
    assert!(
        !all.iter().any(|e| e.class() == "surround"),
        "no surround was asked for"
    );
}

#[test]
fn a_hexagon_gets_six_mitres() {
    let r = 120.0;
    let corner = |k: u32| {
        let a = (60.0 * f64::from(k)).to_radians();
        Point::new(r + r * a.cos(), r * 0.75_f64.sqrt() + r * a.sin())
    };
    let outline: Vec<Point> = (0..6).map(corner).collect();
    let mut view = square(6, 40.0, 5.0);
    view.outline.clone_from(&outline);
    (view.width, view.height) = (2.0 * r, 2.0 * r * 0.75_f64.sqrt());
    view.surround = mitred(&outline, 9.0);
    view.name =
        "A name that is so long that no page of any size would ever have the room to hold it"
            .into();
    let all = check_panel("hexagon.svg", &view);
    let sides: Vec<Vec<Point>> = all
        .iter()
        .filter(|e| e.class() == "surround")
        .map(points)
        .collect();
    assert_eq!(sides.len(), 6);
    // A regular hexagon of inner radius r cos 30 + 9: 2 sqrt 3 times the square of that.
    let inner = r * 0.75_f64.sqrt();
    let ring = 12.0_f64.sqrt() * ((inner + 9.0).powi(2) - inner.powi(2));
    let area: f64 = sides
        .iter()
        .map(|s| Contour::polygon(s.clone()).area())
        .sum();
    assert!((area - ring).abs() < 1.0, "{area} against {ring}");
    // Corner to corner it grows by 9 / cos 30 at either end.
    let wide = 2.0 * (r + 9.0 / 0.75_f64.sqrt());
    let text = format!("{:.2} × {:.2}", wide, 2.0 * (inner + 9.0));
    assert!(all.iter().any(|e| e.text == text), "{text} is missing");
}

#[test]
fn ten_thousand_bars_are_drawn() {
    let mut view = square(2, 40.0, 1.0);
    let bar = view.bars[0].clone();
    view.bars = (0..10_000)
        .map(|k| BarView {
            id: format!("A{k}"),
            class: format!("C{}", k % 700),
            ..bar.clone()
        })
        .collect();
    let all = check_panel("many.svg", &view);
    let says = all.iter().find(|e| e.text.contains("more classes"));
    assert!(says.is_some(), "the list of classes is cut short");
}

/// Points of a path as drawn: ends of its pieces, and the middle of every arc.
///
/// Arcs by SVG 1.1, appendix F.6.5 (end points to centre), for equal radii and no rotation.
fn walk(d: &str) -> (Vec<Point>, bool) {
    let mut out = Vec::new();
    let closed = d.ends_with('Z');
    let spaced: String = d
        .chars()
        .flat_map(|c| {
            if c.is_ascii_alphabetic() {
                vec![' ', c, ' ']
            } else {
                vec![c]
            }
        })
        .collect();
    let mut words = spaced.split_whitespace().peekable();
    let mut at = Point::ORIGIN;
    while let Some(command) = words.next() {
        let mut next = || -> f64 { words.next().unwrap().parse().unwrap() };
        match command {
            "M" | "L" => at = Point::new(next(), next()),
            "A" => {
                let (rx, ry, turn) = (next(), next(), next());
                assert!(rx == ry && turn == 0.0);
                let (long, sweep) = (next() == 1.0, next() == 1.0);
                let to = Point::new(next(), next());
                let half = (at - to) / 2.0;
                let square = (rx * rx - half.hypot2()).max(0.0);
                let sign = if long == sweep { -1.0 } else { 1.0 };
                let across = Vec2::new(half.y, -half.x) * (sign * (square / half.hypot2()).sqrt());
                let centre = at.midpoint(to) + across;
                let chord = to - at;
                // The arc's middle: of the two points of the circle across the chord, the one on the
                // side that flags ask for.
                let out_ = Vec2::new(chord.y, -chord.x) / chord.hypot() * rx;
                out.push(if sweep { centre + out_ } else { centre - out_ });
                at = to;
            }
            "Z" => break,
            other => panic!("command {other}"),
        }
        out.push(at);
    }
    (out, closed)
}

/// The same points from the plan.
fn want(contour: &Contour, dx: f64, dy: f64) -> Vec<Point> {
    let mut out = vec![contour.vertices[0].at + Vec2::new(dx, dy)];
    for (a, bulge, b) in contour.segments() {
        if bulge != 0.0 {
            // Bulge is the arc's height over half its chord, to the right of travel where positive.
            let chord = b - a;
            let right = Vec2::new(chord.y, -chord.x);
            out.push(a.midpoint(b) + right * (0.5 * bulge) + Vec2::new(dx, dy));
        }
        out.push(b + Vec2::new(dx, dy));
    }
    out
}

fn check_sheet(name: &str, view: &SheetView<'_>) -> Vec<Element> {
    let svg = sheet_svg(view);
    save(name, &svg);
    assert_eq!(svg, sheet_svg(view), "the same sheet gives the same bytes");
    let all = check(&svg);
    let of = |class: &str, name: &str| -> Vec<&Element> {
        all.iter()
            .filter(|e| e.class() == class && e.name == name)
            .collect()
    };
    let pieces = of("pieces", "path");
    assert_eq!(pieces.len(), view.sheet.placements.len());
    for (element, p) in pieces.iter().zip(&view.sheet.placements) {
        let (got, closed) = walk(&element.attributes["d"]);
        assert!(closed);
        same(&got, &want(&view.layout.pieces[p.piece].drawn, p.x, p.y));
    }
    let Some(program) = view.program else {
        assert!(of("path", "path").is_empty());
        return all;
    };
    let cuts = of("path", "path");
    let entries = of("entries", "circle");
    assert_eq!(cuts.len(), program.contours.len());
    for ((element, entry), cut) in cuts.iter().zip(&entries).zip(&program.contours) {
        let (got, closed) = walk(&element.attributes["d"]);
        assert_eq!(closed, cut.path.closed);
        same(&got, &want(&cut.path, 0.0, 0.0));
        same(
            &[Point::new(entry.number("cx"), entry.number("cy"))],
            &got[..1],
        );
    }
    let holds = of("holds", "line");
    assert_eq!(holds.len(), program.holds.len());
    for (element, hold) in holds.iter().zip(&program.holds) {
        let ends = [("x1", "y1"), ("x2", "y2")]
            .map(|(x, y)| Point::new(element.number(x), element.number(y)));
        same(&ends, &[hold.from, hold.to]);
    }
    all
}

const CLASSES: [(&str, f64, usize); 3] = [("A", 333.75, 9), ("B", 195.0, 12), ("C", 90.0, 8)];

fn title() -> [String; 2] {
    [
        "Garden screen <1> & sheet 1 of 2".into(),
        "birch ply 3 mm, run once".into(),
    ]
}

#[test]
fn a_sheet_is_drawn_as_it_is() {
    let (layout, program) = sheet(&blanks(8.0, 600.0, 300.0), &CLASSES, 18.0, beam(), 3.0);
    let title = title();
    let view = SheetView {
        layout: &layout,
        sheet: &layout.sheets.rows()[0],
        trim: 8.0,
        program: Some(&program),
        title: &title,
        numbers: Numbers::MM,
        joints: 0,
    };
    let all = check_sheet("sheet.svg", &view);
    for p in &layout.sheets.rows()[0].placements {
        let label = format!("{}  {}", layout.pieces[p.piece].class, p.id);
        assert!(all.iter().any(|e| e.text == label), "{label} is written");
    }
    let corner = |e: &&Element| e.class() == "trim";
    same(
        &points(all.iter().find(corner).unwrap()),
        &rectangle(8.0, 8.0, 592.0, 292.0),
    );
    assert!(all.iter().any(|e| e.text.contains("Never leave a beam alone") || e.text.contains("leave a beam")));
    let plain = check_sheet(
        "plain-sheet.svg",
        &SheetView {
            program: None,
            trim: 0.0,
            ..view
        },
    );
    assert!(
        !plain
            .iter()
            .any(|e| e.class() == "trim" || e.text.contains("beam"))
    );
}

#[test]
fn grooves_show_where_joined_pieces_are_sawn_apart() {
    let (mut layout, _) = sheet(&blanks(8.0, 600.0, 300.0), &CLASSES, 18.0, cutter(), 8.0);
    let title = title();
    // Two pieces of one row, the second moved up to 3 mm from the first.
    let first = layout.sheets.id(0).unwrap();
    let places = &mut layout.sheets[first].placements;
    let pair = (places.ids())
        .flat_map(|a| places.ids().map(move |b| (a, b)))
        .find(|&(a, b)| places[a].y == places[b].y && places[a].x < places[b].x);
    let (left, right) = pair.expect("a row of two");
    let end = places[left].x + layout.pieces[places[left].piece].length;
    let y = places[left].y;
    places[right].x = end + 3.0;
    layout.sheets[first]
        .chains
        .extend(NonEmpty::of([left, right]));
    let view = SheetView {
        layout: &layout,
        sheet: &layout.sheets.rows()[0],
        trim: 8.0,
        program: None,
        title: &title,
        numbers: Numbers::MM,
        joints: 0,
    };
    let all = check_sheet("joined.svg", &view);
    let grooves: Vec<&Element> = all.iter().filter(|e| e.class() == "grooves").collect();
    assert_eq!(grooves.len(), 1, "one parting place");
    same(&points(grooves[0]), &rectangle(end, y, end + 3.0, y + 18.0));
    let saw: Vec<&Element> = all.iter().filter(|e| e.class() == "saw").collect();
    assert_eq!(saw.len(), 1, "one line to saw along");
    let (line, middle) = (saw[0], end + 1.5);
    for x in ["x1", "x2"] {
        assert!((line.number(x) - middle).abs() < 2e-3, "in the middle");
    }
    assert!(
        line.number("y1") < y && line.number("y2") > y + 18.0,
        "seen on both sides"
    );
    assert!(
        all.iter().any(|e| e.text.contains("saw apart here")),
        "the legend says so"
    );
    let plain = SheetView {
        sheet: &FlatSheet {
            chains: vec![],
            ..layout.sheets.rows()[0].clone()
        },
        ..view
    };
    let all = check_sheet("not-joined.svg", &plain);
    assert!(
        !all.iter().any(|e| e.text.contains("saw")),
        "nothing to saw"
    );
}

#[test]
fn a_long_strip_is_drawn_in_parts() {
    let (layout, program) = sheet(&blanks(6.0, 2400.0, 30.0), &CLASSES, 14.0, cutter(), 8.0);
    let title = title();
    let view = SheetView {
        layout: &layout,
        sheet: &layout.sheets.rows()[0],
        trim: 6.0,
        program: Some(&program),
        title: &title,
        numbers: Numbers::MM,
        joints: 0,
    };
    let all = check_sheet("strip.svg", &view);
    let shown: Vec<&Element> = all.iter().filter(|e| e.name == "use").collect();
    assert!(shown.len() > 1, "2.4 m by 30 mm is no shape for a page");
    let whole = all
        .iter()
        .find(|e| e.attributes.get("id").is_some_and(|i| i == "sheet-1-whole"));
    assert!(
        whole.is_some_and(|e| e.name == "g"),
        "what the parts show is there"
    );
    assert!(
        shown
            .iter()
            .all(|e| e.attributes["xlink:href"] == "#sheet-1-whole")
    );
    // The clips of the parts join up from end to end.
    let clips: Vec<(f64, f64)> = all
        .iter()
        .filter(|e| e.name == "rect" && e.around("id").is_some_and(|i| i.contains("part")))
        .map(|e| (e.number("x"), e.number("x") + e.number("width")))
        .collect();
    assert_eq!(clips.len(), shown.len());
    assert!(
        clips[0].0 < 0.0 && clips[clips.len() - 1].1 > 2400.0,
        "both ends are seen"
    );
    assert!(
        clips.windows(2).all(|w| (w[0].1 - w[1].0).abs() < 2e-3),
        "nothing is left out between"
    );
}

#[test]
fn arcs_turn_the_way_they_are_cut() {
    // Three quarters of a circle one way, a half the other: large arcs and both senses.
    let three_quarters = (0.375 * std::f64::consts::PI).tan();
    let at = |x: f64, y: f64, bulge: f64| Vertex {
        at: Point::new(x, y),
        bulge,
    };
    let path = Contour {
        vertices: vec![
            at(10.0, 10.0, three_quarters),
            at(30.0, 10.0, -1.0),
            at(60.0, 10.0, 0.2),
        ],
        closed: true,
    };
    let (mut layout, mut program) =
        sheet(&blanks(8.0, 600.0, 300.0), &CLASSES, 18.0, cutter(), 3.0);
    let piece = layout.pieces.id(0).unwrap();
    layout.pieces[piece].drawn = path.clone();
    program.contours.push(CutContour {
        placement: layout.sheets.rows()[0].placements.id(0).unwrap(),
        kind: CutKind::Outline,
        path,
    });
    let view = SheetView {
        layout: &layout,
        sheet: &layout.sheets.rows()[0],
        trim: 8.0,
        program: Some(&program),
        title: &[],
        numbers: Numbers::MM,
        joints: 0,
    };
    check_sheet("arcs.svg", &view);
}
