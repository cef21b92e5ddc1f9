//! The panel from the front: which bar lies on top, which class it is of, and the sizes.

use std::collections::{BTreeMap, BTreeSet};

use kurbo::Rect;

use crate::document::Numbers;
use crate::geom::{Point, Vec2};

use super::badge::{badges, face_of};
use super::paint::{
    FAINT, HAIRLINE, Hold, INK, Num, Paint, SMALL, THICK, THIN, Type, scale_for, shortened,
    text_width,
};

/// A bar of the panel as the picture shows it. Lengths are mm, seen from the front.
#[derive(Debug, Clone, PartialEq)]
pub struct BarView {
    /// Member id.
    pub id: String,
    /// Class letter.
    pub class: String,
    /// Plan of the whole bar, overhang included, counter-clockwise.
    pub corners: Vec<Point>,
    /// Ends of its centre line at the outline.
    pub centre: (Point, Point),
    /// Joints on its centre line, in any order; badges keep clear of them.
    pub joints: Vec<Point>,
    /// Place in the joints, from 1 at the back.
    pub rank: u32,
}

/// What the picture of a panel shows.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelView {
    /// What the maker calls it.
    pub name: String,
    /// Lines under the name, such as the layout and how many are made.
    pub notes: Vec<String>,
    /// Width of the trimmed ground.
    pub width: f64,
    /// Height of the trimmed ground.
    pub height: f64,
    /// Sides of the surround: plan of each, counter-clockwise from the start of its outer edge.
    pub surround: Vec<Vec<Point>>,
    /// What the legend calls them.
    pub surround_word: String,
    /// The bars, in any order.
    pub bars: Vec<BarView>,
    /// Pieces of infill: plan of each, counter-clockwise.
    pub infill: Vec<Vec<Point>>,
    /// How many pieces of infill are made: two halves of a hinged piece are one.
    pub infill_pieces: usize,
    /// What is written in the middle of cells.
    pub cells: Vec<(Point, String)>,
    /// Outline of the trimmed ground, convex, counter-clockwise.
    pub outline: Vec<Point>,
    /// How lengths are written.
    pub numbers: Numbers,
}

/// Colour of infill.
const INFILL: &str = "#fbf6e6";
/// Room for the picture alone, mm on paper: what an A4 page leaves beside text and dimensions.
const PAPER: [f64; 2] = [162.0, 180.0];
/// Margin of the page and distance of a dimension from what it measures, mm on paper.
const MARGIN: f64 = 7.0;
/// See [`MARGIN`].
const AWAY: f64 = 6.5;
/// Narrowest page, mm on paper: the title block needs it.
const NARROWEST: f64 = 120.0;
/// Most lines that the list of classes takes.
const CLASS_LINES: usize = 4;

/// Draws the panel. Bars are painted from the back to the front, so the front bar runs through in every
/// joint; pieces of bars outside the outline are shown dashed.
#[must_use]
pub fn panel_svg(view: &PanelView) -> Vec<u8> {
    let ground = Rect::new(0.0, 0.0, view.width, view.height);
    // With the surround on.
    let overall = extent(ground, view.surround.iter().flatten());
    let over = overhang(view);
    let outside = over.iter().filter_map(|&i| view.bars.get(i));
    let all = extent(overall, outside.flat_map(|b| &b.corners));
    let size = [all.width(), all.height()];
    let mut paint = Paint::new(scale_for(size, PAPER));
    let mm = |paper: f64| paper * paint.scale;

    let dimensions = if view.surround.is_empty() { 1.0 } else { 2.0 };
    let left = mm(MARGIN + AWAY * dimensions + 2.0);
    let drawn = left + size[0] + mm(MARGIN + 2.0);
    let page = drawn.max(mm(NARROWEST));
    let top = mm(MARGIN + 6.5 + 4.0 * view.notes.len() as f64 + 3.0);
    let origin = Point::new(left + 0.5 * (page - drawn) - all.x0, top + all.y1);

    header(&mut paint, view, page);
    paint.open_work(origin.x, origin.y);
    bars_and_frame(&mut paint, view, &over);
    paint.close();
    for (at, text) in &view.cells {
        let (x, y) = (origin.x + at.x, origin.y - at.y);
        paint.text_centred(x, y, Type::new(SMALL).hold(Hold::Middle), text);
    }
    let unmarked = badges(&mut paint, view, origin);
    let below = sizes(&mut paint, view, origin, overall, all);
    let below = legend(&mut paint, view, !over.is_empty(), unmarked, page, below);
    let bottom = title_block(&mut paint, view, overall, page, below);
    paint.page(page, bottom, &view.name)
}

/// The rectangle that holds `start` and the points.
fn extent<'a>(start: Rect, points: impl Iterator<Item = &'a Point>) -> Rect {
    points.fold(start, |all, &p| all.union_pt(p))
}

/// Name and notes at the head of the page.
fn header(paint: &mut Paint, view: &PanelView, page: f64) {
    let (x, room) = (paint.paper(MARGIN), page / paint.scale - 2.0 * MARGIN);
    let y = paint.paper(MARGIN + 3.6);
    let kind = Type::new(5.0).bold();
    paint.text(x, y, kind, &shortened(&view.name, kind, room));
    for (k, note) in view.notes.iter().enumerate() {
        let y = y + paint.paper(5.0 + 4.0 * k as f64);
        let kind = Type::new(SMALL + 0.4).faint();
        paint.text(x, y, kind, &shortened(note, kind, room));
    }
}

/// Bars that run past the outline, by index.
fn overhang(view: &PanelView) -> BTreeSet<usize> {
    let ends = view.outline.iter().cycle().skip(1);
    let edges: Vec<(Point, Vec2)> = view
        .outline
        .iter()
        .zip(ends)
        .map(|(&a, &b)| (a, b - a))
        .collect();
    // Further right of an edge than round-off.
    let outside = |p: &Point| {
        edges
            .iter()
            .any(|&(a, along)| along.cross(*p - a) < -1e-3 * along.hypot())
    };
    let bars = view.bars.iter().enumerate();
    bars.filter(|(_, bar)| bar.corners.iter().any(outside))
        .map(|(i, _)| i)
        .collect()
}

/// Colour of a bar: the further to the front, the lighter. The steps keep their order in grey.
fn wood(rank: u32, ranks: u32) -> String {
    const BACK: [u32; 3] = [0xb9, 0x85, 0x4d];
    const FRONT: [u32; 3] = [0xf4, 0xe3, 0xc0];
    let steps = ranks.saturating_sub(1).max(1);
    let step = rank.saturating_sub(1).min(steps);
    let mix = |k: usize| (BACK[k] * (steps - step) + FRONT[k] * step) / steps;
    format!("#{:02x}{:02x}{:02x}", mix(0), mix(1), mix(2))
}

/// The ranks that bars have, back to front.
fn ranks(view: &PanelView) -> BTreeSet<u32> {
    view.bars.iter().map(|b| b.rank).collect()
}

/// Bars by rank, back to front; of one rank in the order given.
fn by_rank(view: &PanelView) -> BTreeMap<u32, Vec<&BarView>> {
    let mut layers: BTreeMap<u32, Vec<&BarView>> = BTreeMap::new();
    for bar in &view.bars {
        layers.entry(bar.rank).or_default().push(bar);
    }
    layers
}

fn bars_and_frame(paint: &mut Paint, view: &PanelView, over: &BTreeSet<usize>) {
    if !over.is_empty() {
        let dash = format!(
            "stroke-dasharray=\"{} {}\" class=\"overhang\"",
            Num(paint.paper(1.1)),
            Num(paint.paper(0.8))
        );
        paint.open_style(
            FAINT,
            HAIRLINE,
            "#faf5ea",
            &format!("fill-opacity=\"0.8\" {dash}"),
        );
        for bar in over.iter().filter_map(|&i| view.bars.get(i)) {
            paint.polygon(&bar.corners, "");
        }
        paint.close();
    }
    paint.open_style(
        INK,
        THIN,
        "#e2d3b8",
        "stroke-linejoin=\"round\" class=\"surround\"",
    );
    for side in &view.surround {
        paint.polygon(side, "");
    }
    paint.close();
    for side in &view.surround {
        if let [o0, o1, i1, i0] = side[..] {
            paint.open_style("#b59f7c", HAIRLINE, "none", "");
            for share in [0.35, 0.7] {
                paint.line(o0 + (i0 - o0) * share, o1 + (i1 - o1) * share, "");
            }
            paint.close();
        }
    }
    paint.polygon(&view.outline, "fill=\"#ffffff\"");
    paint.raw("<clipPath id=\"panel-ground\">");
    paint.polygon(&view.outline, "");
    paint.raw("</clipPath>");
    paint.open("clip-path=\"url(#panel-ground)\"");
    if !view.infill.is_empty() {
        let class = "stroke-linejoin=\"round\" class=\"infill\"";
        paint.open_style(INK, HAIRLINE, INFILL, class);
        for piece in &view.infill {
            paint.polygon(piece, "");
        }
        paint.close();
    }
    let front = ranks(view).last().copied().unwrap_or(1);
    for (rank, bars) in by_rank(view) {
        let class = format!("stroke-linejoin=\"round\" class=\"bars\" data-rank=\"{rank}\"");
        // Narrow bars take a finer line, so that their tone is still seen.
        let face = bars
            .iter()
            .map(|b| face_of(b))
            .fold(f64::INFINITY, f64::min);
        let line = THIN.min(0.12 * face / paint.scale);
        paint.open_style(INK, line, &wood(rank, front), &class);
        for bar in &bars {
            paint.polygon(&bar.corners, "");
        }
        paint.close();
        grain(paint, &bars);
    }
    paint.close();
    paint.open_style(
        INK,
        THICK,
        "none",
        "stroke-linejoin=\"miter\" class=\"outline\"",
    );
    paint.polygon(&view.outline, "");
    paint.close();
}

/// Two fine lines along each bar, where it is drawn wide enough for them.
fn grain(paint: &mut Paint, bars: &[&BarView]) {
    paint.open_style("#5f4526", 0.07, "none", "stroke-opacity=\"0.55\"");
    for bar in bars {
        let (a, b) = bar.centre;
        let face = face_of(bar);
        if face < paint.paper(1.4) || a == b {
            continue;
        }
        let along = (b - a) / (b - a).hypot();
        let across = Vec2::new(-along.y, along.x);
        for share in [-0.22, 0.16] {
            paint.line(a + across * (share * face), b + across * (share * face), "");
        }
    }
    paint.close();
}

/// The dimensions: the ground next to the picture, the overall size outside it. Returns how far down
/// they go.
fn sizes(paint: &mut Paint, view: &PanelView, origin: Point, overall: Rect, all: Rect) -> f64 {
    let (x, y) = (|x: f64| origin.x + x, |y: f64| origin.y - y);
    let (below, beside) = (y(overall.y0), x(overall.x0));
    let (bottom, left) = (y(all.y0), x(all.x0));
    let away = paint.paper(AWAY);
    let (w, h) = (view.width, view.height);
    let length_text = |mm: f64| view.numbers.len(mm);
    paint.dimension_level(x(0.0), x(w), bottom + away, below, &length_text(w));
    paint.dimension_upright(y(0.0), y(h), left - away, beside, &length_text(h));
    if view.surround.is_empty() {
        return bottom + away;
    }
    let twice = 2.0 * away;
    let (x0, x1) = (x(overall.x0), x(overall.x1));
    paint.dimension_level(x0, x1, bottom + twice, below, &length_text(overall.width()));
    let (y0, y1) = (y(overall.y0), y(overall.y1));
    paint.dimension_upright(y0, y1, left - twice, beside, &length_text(overall.height()));
    bottom + twice
}

/// What the tones, the dashes and the letters mean. Returns how far down it goes.
fn legend(
    paint: &mut Paint,
    view: &PanelView,
    over: bool,
    unmarked: usize,
    page: f64,
    below: f64,
) -> f64 {
    let ranks: Vec<u32> = ranks(view).into_iter().collect();
    let front = ranks.last().copied().unwrap_or(1);
    let mut keys: Vec<(String, String)> = Vec::new();
    for (k, &rank) in ranks.iter().enumerate().rev() {
        let place = match (k, ranks.len()) {
            (_, 1) => "bar".into(),
            (0, _) => "back bar".into(),
            (k, n) if k + 1 == n => "front bar: on top in every joint".into(),
            (_, 3) => "middle bar".into(),
            (k, _) => format!("bar {} from the back", k + 1),
        };
        keys.push((format!("fill=\"{}\"", wood(rank, front)), place));
    }
    if !view.surround.is_empty() {
        keys.push(("fill=\"#e2d3b8\"".into(), view.surround_word.clone()));
    }
    if !view.infill.is_empty() {
        keys.push((format!("fill=\"{INFILL}\""), "infill".into()));
    }
    if over {
        let dash = format!("{} {}", Num(paint.paper(0.8)), Num(paint.paper(0.5)));
        let look = format!("fill=\"#faf5ea\" stroke-dasharray=\"{dash}\"");
        keys.push((look, "overhang: trimmed after glue-up".into()));
    }
    let (left, right) = (paint.paper(MARGIN), page - paint.paper(MARGIN));
    let line = paint.paper(4.6);
    let (mut x, mut y) = (left, below + paint.paper(8.5));
    for (look, what) in keys {
        let width = paint.paper(7.0 + text_width(&what, SMALL) + 3.0);
        if x + width > right && x > left {
            (x, y) = (left, y + line);
        }
        let (w, h) = (paint.paper(5.5), paint.paper(2.6));
        let edge = Num(paint.paper(THIN));
        let look = format!("{look} stroke=\"{INK}\" stroke-width=\"{edge}\"");
        paint.rect(Point::new(x, y - 0.5 * h), w, h, &look);
        paint.text_centred(x + paint.paper(7.0), y, Type::new(SMALL), &what);
        x += width;
    }
    for text in class_lines(view, unmarked, (right - left) / paint.scale) {
        y += line;
        paint.text_centred(left, y, Type::new(SMALL), &text);
    }
    y + paint.paper(1.5)
}

/// How many bars there are of each class, in lines of this width on paper.
fn class_lines(view: &PanelView, unmarked: usize, room: f64) -> Vec<String> {
    // Short letters before long ones: Z before AA.
    let mut counts: BTreeMap<(usize, &str), usize> = BTreeMap::new();
    for bar in &view.bars {
        *counts
            .entry((bar.class.chars().count(), &bar.class))
            .or_default() += 1;
    }
    let mut lines = vec![String::from("Bars alike:")];
    let mut left_out = 0;
    for ((_, class), n) in counts {
        let entry = format!("{n} × {class}");
        let full = lines.len() == CLASS_LINES;
        let Some(last) = lines.last_mut() else { break };
        let wide = text_width(&format!("{last}    {entry}"), SMALL) > room - 30.0 * f64::from(full);
        if left_out > 0 || (wide && full) {
            left_out += 1;
        } else if wide {
            lines.push(entry);
        } else {
            last.push_str(if last.ends_with(':') { " " } else { "  ·  " });
            last.push_str(&entry);
        }
    }
    if let Some(last) = lines.last_mut().filter(|_| left_out > 0) {
        last.push_str(&format!("  ·  and {left_out} more classes"));
    }
    if unmarked > 0 {
        lines.push(format!(
            "{unmarked} bars are too close to others for a letter."
        ));
    }
    lines
}

/// The block at the foot of the page. Returns the page's height.
fn title_block(paint: &mut Paint, view: &PanelView, overall: Rect, page: f64, below: f64) -> f64 {
    // The dimensions tell fractions; here is no room for them.
    let n = view.numbers.decimals();
    let size = |w: f64, h: f64| format!("{} × {}", n.len(w), n.len(h));
    let mut cells = vec![("Ground", size(view.width, view.height))];
    if !view.surround.is_empty() {
        cells.push(("With surround", size(overall.width(), overall.height())));
    }
    cells.push(("Bars", view.bars.len().to_string()));
    if !view.infill.is_empty() {
        cells.push(("Infill pieces", view.infill_pieces.to_string()));
    }
    cells.push(("View", "from the front".into()));
    cells.push(("Scale", format!("1 : {}", Num(paint.scale))));
    cells.push(("Lengths", n.unit_word().into()));
    let (x0, x1) = (paint.paper(MARGIN), page - paint.paper(MARGIN));
    let (y, height) = (below + paint.paper(3.0), paint.paper(9.0));
    let widest = |c: &(&str, String)| text_width(&c.1, SMALL + 0.4).max(text_width(c.0, 2.0)) + 3.0;
    let total: f64 = cells.iter().map(widest).sum();
    let stretch = (x1 - x0) / total;
    paint.open_style(INK, THIN, "none", "");
    paint.rect(Point::new(x0, y), x1 - x0, height, "");
    let mut x = x0;
    for cell in cells.iter().take(cells.len() - 1) {
        x += widest(cell) * stretch;
        paint.line(Point::new(x, y), Point::new(x, y + height), "");
    }
    paint.close();
    let mut x = x0;
    for cell in &cells {
        let inner = x + paint.paper(1.2);
        paint.text(inner, y + paint.paper(3.1), Type::new(2.0).faint(), cell.0);
        paint.text(inner, y + paint.paper(7.2), Type::new(SMALL + 0.4), &cell.1);
        x += widest(cell) * stretch;
    }
    y + height + paint.paper(MARGIN)
}
