//! A strip or sheet with the pieces that are cut from it, the path of the head and what it leaves
//! standing.

use crate::document::Numbers;
use crate::geom::Point;
use crate::path::{CutKind, Program};
use crate::setup::{FlatLayout, FlatPiece, FlatSheet, Placement};

use super::legend::legend;
use super::many::Seen;
use super::paint::{
    FAINT, HAIRLINE, Hold, INK, Num, Paint, SMALL, THICK, THIN, Type, scale_for, shortened,
    text_width,
};

/// What the picture of a strip or sheet shows.
#[derive(Debug, Clone, Copy)]
pub struct SheetView<'a> {
    /// The shapes.
    pub layout: &'a FlatLayout,
    /// The strip or sheet.
    pub sheet: &'a FlatSheet,
    /// Left uncut all round, mm.
    pub trim: f64,
    /// The path, where there is one.
    pub program: Option<&'a Program>,
    /// Lines at the head: the first is the title.
    pub title: &'a [String],
    /// How lengths are written.
    pub numbers: Numbers,
    /// Joints of the panel: of very many, notches that cannot be seen on paper are left out.
    pub joints: usize,
}

/// Room for the sheet alone, mm on paper: what a broad A4 page leaves beside text and dimensions.
const PAPER: [f64; 2] = [245.0, 125.0];
/// Margin of the page, and distance of a dimension from the sheet, mm on paper.
pub(super) const MARGIN: f64 = 7.0;
/// See [`MARGIN`].
const AWAY: f64 = 6.0;
/// Between the parts of a strip that is drawn in several, mm on paper: a line of figures stands there.
const BETWEEN: f64 = 7.5;
/// Most parts that a strip is drawn in.
const MOST_PARTS: u32 = 6;
/// Narrowest page, mm on paper.
const NARROWEST: f64 = 170.0;
/// Largest and smallest letters on a piece, mm on paper.
const LETTERS: [f64; 2] = [3.2, 1.3];
/// Colour of the path: dark enough to print black.
pub(super) const PATH: &str = "#1d4e89";
/// Colour of grooves, where a saw parts pieces that are cut joined.
pub(super) const GROOVE: &str = "#c9a86a";
/// Colour of bridges and tabs.
pub(super) const HOLDS: &str = "#c8321e";

/// Draws a strip or sheet. A long strip is drawn in several parts, one below the other.
#[must_use]
pub fn sheet_svg(view: &SheetView<'_>) -> Vec<u8> {
    let (parts, scale) = parts_and_scale(view.sheet);
    let mut paint = Paint::new(scale);
    let part = view.sheet.length / f64::from(parts);
    let mm = |paper: f64| paper * scale;
    let left = mm(MARGIN + AWAY + 3.0);
    let drawn = left + part + mm(MARGIN + 3.0);
    let page = drawn.max(mm(NARROWEST));
    let left = left + 0.5 * (page - drawn);
    let top = header(&mut paint, view, page);

    let step = view.sheet.width + mm(BETWEEN);
    let first = Point::new(left, top + view.sheet.width);
    let left_out;
    if parts == 1 {
        paint.open(&format!(
            "transform=\"translate({} {})\"",
            Num(first.x),
            Num(first.y)
        ));
        left_out = drawing(&mut paint, view);
        paint.close();
    } else {
        // Drawn once, then shown part by part.
        let id = view.sheet.number;
        paint.raw(&format!("<defs>\n<g id=\"sheet-{id}-whole\">"));
        left_out = drawing(&mut paint, view);
        paint.raw("</g>");
        for k in 0..parts {
            let x = part * f64::from(k);
            paint.raw(&format!("<clipPath id=\"sheet-{id}-part-{}\">", k + 1));
            // A little more at the edges, for the border and the mark of the zero.
            let slack = mm(1.8);
            let x0 = if k == 0 { x - slack } else { x };
            let x1 = if k + 1 == parts {
                x + part + slack
            } else {
                x + part
            };
            let corner = Point::new(x0, -view.sheet.width - slack);
            paint.rect(corner, x1 - x0, view.sheet.width + 2.0 * slack, "");
            paint.raw("</clipPath>");
        }
        paint.raw("</defs>");
        for k in 0..parts {
            show_part(
                &mut paint,
                view,
                k,
                parts,
                Point::new(first.x, first.y + step * f64::from(k)),
            );
        }
    }
    let bottom = first.y + step * f64::from(parts - 1);
    let below = sizes(&mut paint, view, first, bottom, parts);
    let below = legend(&mut paint, view, left_out, page, below);
    let title = view.title.first().map_or("", String::as_str);
    paint.page(page, below, title)
}

/// In how many parts a strip is drawn, and at what scale: as large as the page allows, in as few parts
/// as come near to that.
fn parts_and_scale(sheet: &FlatSheet) -> (u32, f64) {
    let whole = scale_for([sheet.length, sheet.width], PAPER);
    let mut best = (1, whole);
    for parts in 2..=MOST_PARTS {
        let n = f64::from(parts);
        let tall = (PAPER[1] - BETWEEN * (n - 1.0)) / n;
        let scale = scale_for([sheet.length / n, sheet.width], [PAPER[0], tall]);
        if scale * 1.4 < best.1 {
            best = (parts, scale);
        }
    }
    best
}

/// Title and notes. Returns how far down they go.
fn header(paint: &mut Paint, view: &SheetView<'_>, page: f64) -> f64 {
    let (x, room) = (paint.paper(MARGIN), page / paint.scale - 2.0 * MARGIN);
    let mut y = paint.paper(MARGIN + 3.4);
    for (k, line) in view.title.iter().enumerate() {
        let kind = if k == 0 {
            Type::new(4.6).bold()
        } else {
            Type::new(3.0).faint()
        };
        paint.text(x, y, kind, &shortened(line, kind, room));
        y += paint.paper(if k == 0 { 5.0 } else { 4.0 });
    }
    y + paint.paper(1.0)
}

/// The sheet in its own frame: its lower left corner at the origin, y down for text. Returns whether notches have been
/// left out.
fn drawing(paint: &mut Paint, view: &SheetView<'_>) -> bool {
    let seen = Seen::new(view.joints, paint.scale);
    let sheet = view.sheet;
    paint.open_work(0.0, 0.0);
    paint.open_style(INK, THICK, "#f7efdf", "class=\"sheet\"");
    paint.polygon(&rectangle(0.0, 0.0, sheet.length, sheet.width), "");
    paint.close();
    if view.trim > 0.0 && 2.0 * view.trim < sheet.length.min(sheet.width) {
        let dash = format!(
            "stroke-dasharray=\"{} {}\" class=\"trim\"",
            Num(paint.paper(1.4)),
            Num(paint.paper(0.8))
        );
        paint.open_style(FAINT, HAIRLINE, "#fffdf8", &dash);
        let (t, l, w) = (view.trim, sheet.length, sheet.width);
        paint.polygon(&rectangle(t, t, l - t, w - t), "");
        paint.close();
    }
    paint.open_style(
        INK,
        THIN,
        "#e9d2a4",
        "stroke-linejoin=\"round\" class=\"pieces\"",
    );
    let simpler = (view.layout.pieces).column(|_, piece| seen.simpler(&piece.drawn));
    let mut left_out = false;
    for p in &sheet.placements {
        let drawn = simpler[p.piece].as_ref();
        left_out |= drawn.is_some();
        let drawn = drawn.unwrap_or(&view.layout.pieces[p.piece].drawn);
        paint.contour(drawn, p.x, p.y, "");
    }
    paint.close();
    grooves(paint, view);
    folds(paint, view);
    if let Some(program) = view.program {
        left_out |= path(paint, program, seen);
    }
    paint.close();
    letters(paint, view);
    zero(paint);
    left_out
}

/// Grooves between pieces that stay joined, each with the line along which they are sawn apart.
fn grooves(paint: &mut Paint, view: &SheetView<'_>) {
    let partings = view.sheet.partings(&view.layout.pieces);
    if partings.is_empty() {
        return;
    }
    paint.open_style(INK, HAIRLINE, GROOVE, "class=\"grooves\"");
    for parting in &partings {
        let r = parting.groove;
        paint.polygon(&rectangle(r.x0, r.y0, r.x1, r.y1), "");
    }
    paint.close();
    let dash = dashes(paint, "saw");
    paint.open_style(INK, THIN, "none", &dash);
    let beyond = paint.paper(1.0);
    for parting in &partings {
        let (r, x) = (parting.groove, parting.groove.center().x);
        paint.line(
            Point::new(x, r.y0 - beyond),
            Point::new(x, r.y1 + beyond),
            "",
        );
    }
    paint.close();
}

/// Dashes along which pieces are folded.
fn folds(paint: &mut Paint, view: &SheetView<'_>) {
    if !view.layout.has_folds(view.sheet) {
        return;
    }
    paint.open_style(INK, THIN, "none", "class=\"folds\"");
    for p in &view.sheet.placements {
        for dash in &view.layout.pieces[p.piece].dashes {
            let [from, to] = dash.map(|q| Point::new(q.x + p.x, q.y + p.y));
            paint.line(from, to, "");
        }
    }
    paint.close();
}

/// Dashes of a line to saw along.
pub(super) fn dashes(paint: &Paint, class: &str) -> String {
    let (on, off) = (Num(paint.paper(0.9)), Num(paint.paper(0.5)));
    format!("stroke-dasharray=\"{on} {off}\" class=\"{class}\"")
}

/// The path of the head, where it begins each cut, and what it leaves standing. Returns whether notches have been left
/// out.
fn path(paint: &mut Paint, program: &Program, seen: Seen) -> bool {
    let mut left_out = false;
    paint.open_style(PATH, HAIRLINE, "none", "class=\"path\"");
    for cut in &program.contours {
        let simpler = seen.simpler(&cut.path);
        left_out |= simpler.is_some();
        paint.contour(simpler.as_ref().unwrap_or(&cut.path), 0.0, 0.0, "");
    }
    paint.close();
    paint.open_style(
        HOLDS,
        0.55,
        "none",
        "stroke-linecap=\"round\" class=\"holds\"",
    );
    for hold in &program.holds {
        paint.line(hold.from, hold.to, "");
    }
    paint.close();
    paint.open_style(PATH, HAIRLINE, "#ffffff", "class=\"entries\"");
    for cut in program
        .contours
        .iter()
        .filter(|cut| cut.kind != CutKind::Fold)
    {
        if let Some(first) = cut.path.vertices.first() {
            paint.circle(first.at, 0.4, "");
        }
    }
    paint.close();
    left_out
}

/// Class letter and member id on every piece that has room for them.
fn letters(paint: &mut Paint, view: &SheetView<'_>) {
    let room = view.layout.pieces.column(|_, piece| clear(piece));
    for p in &view.sheet.placements {
        let piece = &view.layout.pieces[p.piece];
        // Notches may leave no room for letters.
        let Some(clear) = &room[p.piece] else {
            continue;
        };
        let mut size = (0.62 * (clear.z1 - clear.z0) / paint.scale).min(LETTERS[0]);
        if size < LETTERS[1] {
            // Letters on a thin piece stand over its edges; where there are notches, they would stand in them.
            if !piece.notches.is_empty() {
                continue;
            }
            size = LETTERS[1];
        }
        let wide = (clear.x1 - clear.x0) / paint.scale - 0.8;
        let Some(text) = label(piece, p)
            .into_iter()
            .find(|t| text_width(t, size) <= wide)
        else {
            continue;
        };
        let (x, y) = (
            p.x + 0.5 * (clear.x0 + clear.x1),
            p.y + 0.5 * (clear.z0 + clear.z1),
        );
        paint.text_centred(x, -y, Type::new(size).hold(Hold::Middle), &text);
    }
}

/// What may stand on a piece, the fullest first.
fn label(piece: &FlatPiece, p: &Placement) -> Vec<String> {
    vec![
        piece.label(&p.id).replacen(' ', "  ", 1),
        piece.class.clone(),
    ]
}

/// Clear wood on a side view: x along the piece, z from its back edge.
struct Clear {
    x0: f64,
    x1: f64,
    z0: f64,
    z1: f64,
}

/// Where letters go on a piece: between two notches, on the longest stretch; of stretches about as
/// long, the one nearest to the middle. `None` where notches leave nothing.
fn clear(piece: &FlatPiece) -> Option<Clear> {
    let mut stretches = Vec::new();
    let [mut from, to] = piece.full_span();
    let mut notches: Vec<(f64, f64)> = piece.notches.iter().map(|n| (n.x0, n.x1)).collect();
    notches.extend(piece.fold().map(|x| (x, x)));
    notches.sort_by(|a, b| a.0.total_cmp(&b.0));
    notches.push((to, to));
    for (x0, x1) in notches {
        if x0 > from {
            stretches.push((from, x0));
        }
        from = from.max(x1);
    }
    let longest = stretches.iter().map(|s| s.1 - s.0).fold(0.0, f64::max);
    let off = |s: &(f64, f64)| (0.5 * (s.0 + s.1 - piece.length)).abs();
    let (x0, x1) = stretches
        .into_iter()
        .filter(|s| s.1 - s.0 >= 0.9 * longest)
        .min_by(|a, b| off(a).total_cmp(&off(b)))?;
    Some(Clear {
        x0,
        x1,
        z0: 0.0,
        z1: piece.depth,
    })
}

/// The corner that the machine is set to zero at.
pub(super) fn zero(paint: &mut Paint) {
    let r = paint.paper(1.3);
    paint.open_style(INK, THIN, "#ffffff", "class=\"zero\"");
    paint.circle(Point::ORIGIN, 1.3, "");
    let quarter = |x: f64, y: f64| {
        format!(
            "<path d=\"M0 0L{} 0A{r} {r} 0 0 1 0 {}Z\" fill=\"{INK}\"/>",
            Num(x),
            Num(y),
            r = Num(r)
        )
    };
    paint.raw(&quarter(r, r));
    paint.raw(&quarter(-r, -r));
    paint.close();
}

/// One part of a strip that is drawn in several; `corner` is where its lower left corner goes.
fn show_part(paint: &mut Paint, view: &SheetView<'_>, k: u32, parts: u32, corner: Point) {
    let part = view.sheet.length / f64::from(parts);
    let (from, to) = (part * f64::from(k), part * f64::from(k + 1));
    paint.open(&format!(
        "transform=\"translate({} {})\"",
        Num(corner.x - from),
        Num(corner.y)
    ));
    paint.raw(&format!(
        "<g clip-path=\"url(#sheet-{id}-part-{})\"><use xlink:href=\"#sheet-{id}-whole\"/></g>",
        k + 1,
        id = view.sheet.number
    ));
    paint.close();
    // The cut ends, with the distance from the strip's left end.
    let ends = [
        (k > 0, corner.x, from),
        (k + 1 < parts, corner.x + part, to),
    ];
    let kind = Type::new(2.2).faint().hold(Hold::Middle);
    for (_, x, at) in ends.into_iter().filter(|e| e.0) {
        let dash = format!("stroke-dasharray=\"{0} {0}\"", Num(paint.paper(0.6)));
        paint.open_style(INK, THIN, "none", &dash);
        let beyond = paint.paper(1.2);
        paint.line(
            Point::new(x, corner.y + beyond),
            Point::new(x, corner.y - view.sheet.width - beyond),
            "",
        );
        paint.close();
        let text = view.numbers.decimals().rough(at);
        paint.text_centred(x, corner.y + paint.paper(2.9), kind, &text);
    }
}

/// Length and width of the sheet. Returns how far down they go.
fn sizes(paint: &mut Paint, view: &SheetView<'_>, first: Point, bottom: f64, parts: u32) -> f64 {
    let (length, width) = (view.sheet.length, view.sheet.width);
    let away = paint.paper(AWAY);
    paint.dimension_upright(
        first.y,
        first.y - width,
        first.x - away,
        first.x,
        &view.numbers.len(width),
    );
    if parts == 1 {
        let (x0, x1) = (first.x, first.x + length);
        paint.dimension_level(x0, x1, bottom + away, bottom, &view.numbers.len(length));
        bottom + away + paint.paper(2.0)
    } else {
        let text = format!("{} long, drawn in {parts} parts", view.numbers.len(length));
        paint.text(first.x, bottom + paint.paper(8.0), Type::new(SMALL), &text);
        bottom + paint.paper(9.0)
    }
}

/// Corners of an upright rectangle, counter-clockwise.
fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> [Point; 4] {
    [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Point::new(x, y))
}
