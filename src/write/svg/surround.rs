//! The sides of a surround, one of each class: plan with mitres and pins, and the view from outside.

use crate::document::Numbers;
use crate::geom::{Contour, Point, Vec2};

use super::paint::{
    HAIRLINE, Hold, INK, Num, Paint, SMALL, THIN, Type, scale_for, shortened, wrapped,
};
use super::sheet::dashes;

/// What the picture of a surround shows. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct SurroundView {
    /// Lines at the head: the first is the title.
    pub title: Vec<String>,
    /// One side of each class.
    pub sides: Vec<SideView>,
    /// What the maker should know.
    pub remarks: Vec<String>,
    /// How lengths are written.
    pub numbers: Numbers,
}

/// A side of a surround, lying along x with its outer edge down, its start at the left.
#[derive(Debug, Clone, PartialEq)]
pub struct SideView {
    /// How many there are, and which.
    pub title: String,
    /// How it is cut.
    pub remark: String,
    /// Plan from the front, counter-clockwise.
    pub plan: Vec<Point>,
    /// View from outside: length by depth, its back down.
    pub outside: Contour,
    /// Dimensions along the plan's outer and inner edge: from x, to x.
    pub long: [f64; 2],
    /// See [`Self::long`].
    pub short: [f64; 2],
    /// Face and depth.
    pub size: [f64; 2],
    /// Pins: where each enters the outer edge, and how far it reaches in.
    pub pins: Vec<PinView>,
}

/// A pin of a side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PinView {
    /// From the plan's left end.
    pub x: f64,
    /// Above the back.
    pub height: f64,
    /// How far it reaches in from the outer edge.
    pub length: f64,
    /// Of the hole.
    pub hole: f64,
}

/// Room for the longest side, mm on paper.
const PAPER: [f64; 2] = [162.0, 60.0];
/// Margin of the page, and room for a dimension, mm on paper.
const MARGIN: f64 = 7.0;
/// See [`MARGIN`].
const AWAY: f64 = 6.0;
/// Narrowest page, mm on paper.
const NARROWEST: f64 = 150.0;
/// From line to line of text, mm on paper.
const LINE: f64 = 4.4;

/// Draws the sides of a surround, one below the other.
#[must_use]
pub fn surround_svg(view: &SurroundView) -> Vec<u8> {
    let longest = view
        .sides
        .iter()
        .map(|s| s.long[1] - s.long[0])
        .fold(1.0, f64::max);
    let mut paint = Paint::new(scale_for([longest, 1.0], PAPER));
    let mm = |paper: f64| paper * paint.scale;
    let page = (longest + mm(2.0 * MARGIN + 2.0 * AWAY)).max(mm(NARROWEST));
    let room = page / paint.scale - 2.0 * MARGIN;
    let mut y = mm(MARGIN + 3.4);
    for (k, line) in view.title.iter().enumerate() {
        let kind = match k {
            0 => Type::new(4.6).bold(),
            _ => Type::new(3.0).faint(),
        };
        paint.text(paint.paper(MARGIN), y, kind, &shortened(line, kind, room));
        y += paint.paper(if k == 0 { 5.4 } else { LINE });
    }
    for side in &view.sides {
        y += paint.paper(3.0);
        let kind = Type::new(3.0).bold();
        paint.text(
            paint.paper(MARGIN),
            y,
            kind,
            &shortened(&side.title, kind, room),
        );
        y += paint.paper(LINE);
        let kind = Type::new(SMALL);
        for line in wrapped(&side.remark, kind, room) {
            paint.text(paint.paper(MARGIN), y, kind, &line);
            y += paint.paper(0.9 * LINE);
        }
        y = draw(&mut paint, side, view.numbers, page, y);
    }
    y += paint.paper(2.0);
    let kind = Type::new(SMALL);
    for line in view
        .remarks
        .iter()
        .flat_map(|text| wrapped(text, kind, room))
    {
        paint.text(paint.paper(MARGIN), y, kind, &line);
        y += paint.paper(0.9 * LINE);
    }
    let scale = format!(
        "Scale 1 : {}.  Lengths in {}.",
        Num(paint.scale),
        view.numbers.unit_word()
    );
    paint.text(paint.paper(MARGIN), y, kind, &scale);
    let title = view.title.first().map_or("", String::as_str);
    let bottom = y + paint.paper(MARGIN);
    paint.page(page, bottom, title)
}

/// A side from the front and, below it, from outside. Returns how far down it goes.
fn draw(paint: &mut Paint, side: &SideView, n: Numbers, page: f64, top: f64) -> f64 {
    let [face, depth] = side.size;
    let left = 0.5 * (page - (side.long[1] - side.long[0])) - side.long[0];
    let away = paint.paper(AWAY);
    let text = |v: f64| n.len(v);
    // The inner edge lies up, its dimension above it.
    let plan = Point::new(left, top + away + face);
    let x = |v: f64| left + v;
    shape(paint, plan, |paint| {
        paint.polygon(&side.plan, "class=\"surround-plan\"");
    });
    let [a, b] = side.short;
    paint.dimension_level(
        x(a),
        x(b),
        plan.y - face - 0.6 * away,
        plan.y - face,
        &text(b - a),
    );
    pins(paint, side, plan);
    let [a, b] = side.long;
    let below = plan.y + 0.8 * away;
    paint.dimension_level(x(a), x(b), below, plan.y, &text(b - a));
    let outside = Point::new(left, below + 0.5 * away + depth);
    shape(paint, outside, |paint| {
        paint.contour(&side.outside, 0.0, 0.0, "class=\"surround-outside\"");
    });
    paint.open_style(INK, HAIRLINE, "#ffffff", "class=\"surround-holes\"");
    for pin in &side.pins {
        let radius = 0.5 * pin.hole / paint.scale;
        paint.circle(Point::new(x(pin.x), outside.y - pin.height), radius, "");
    }
    paint.close();
    let kind = Type::new(SMALL - 0.3).hold(Hold::Start);
    paint.text_centred(
        x(b) + paint.paper(1.5),
        outside.y - 0.5 * depth,
        kind,
        &text(depth),
    );
    paint.text_centred(
        x(b) + paint.paper(1.5),
        plan.y - 0.5 * face,
        kind,
        &text(face),
    );
    outside.y + paint.paper(3.0)
}

fn shape(paint: &mut Paint, at: Point, inside: impl FnOnce(&mut Paint)) {
    paint.open_work(at.x, at.y);
    paint.open_style(INK, THIN, "#e2d3b8", "stroke-linejoin=\"round\"");
    inside(paint);
    paint.close();
    paint.close();
}

/// Each pin's axis, from a little outside to where it ends.
fn pins(paint: &mut Paint, side: &SideView, plan: Point) {
    let dash = dashes(paint, "surround-pins");
    paint.open_style(INK, HAIRLINE, "none", &dash);
    for pin in &side.pins {
        let start = Point::new(plan.x + pin.x, plan.y + paint.paper(1.0));
        paint.line(
            start,
            start - Vec2::new(0.0, pin.length + paint.paper(1.0)),
            "",
        );
    }
    paint.close();
}
