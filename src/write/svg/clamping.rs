//! A gang in its datum corner: from above with axes, zero and the coordinates that the bench needs, from the
//! side, and what to do, line by line.

use kurbo::Rect;

use crate::document::Numbers;
use crate::geom::{Point, Vec2, bounds};
use crate::lattice::Edge;
use crate::panel::Units;
use crate::setup::{Corner, Gang, Seat};

use super::legend::cautions;
use super::paint::{
    HAIRLINE, Hold, INK, Num, Paint, SMALL, THICK, THIN, Type, hundredths, scale_for, text_width,
    wrapped,
};
use super::sheet::zero as zero_mark;

/// What the picture of a clamping shows.
#[derive(Debug, Clone, Copy)]
pub struct GangView<'a> {
    /// The clamping.
    pub gang: &'a Gang,
    /// The datum corner that it lies in.
    pub corner: &'a Corner,
    /// Whether the corner is milled for it.
    pub fresh: bool,
    /// Room that the job's programs need to the left, to the right, to the front and to the back of zero, mm.
    pub room: [f64; 4],
    /// Radius of the tool, mm.
    pub radius: f64,
    /// Lines at the head: the first is the title.
    pub title: &'a [String; 2],
    /// Number of the first step.
    pub first: usize,
    /// What to do, in order; numbered in the picture.
    pub steps: &'a [String],
    /// How lengths are written.
    pub numbers: Numbers,
}

/// Room for the view from above, mm on paper.
const PAPER: [f64; 2] = [250.0, 100.0];
/// Width of the page, mm on paper.
const PAGE: f64 = 277.0;
/// Margin of the page, mm on paper.
const MARGIN: f64 = 8.0;
/// Room above and below the view from above for words at the rails, mm on paper.
const ABOVE: f64 = 8.5;
const BELOW: f64 = 10.0;
/// Size of the lines of text, mm on paper.
const LINE: f64 = 3.2;
/// Colours of cuts, holds, rails, fence, kept sticks and others.
const CUT: &str = "#1d4e89";
const HOLD: &str = "#c8321e";
const RAIL: &str = "#cfc8bd";
const FENCE: &str = "#8a7d6d";
const KEPT: &str = "#e9d2a4";
const OTHER: &str = "#f7efdf";

/// Draws a clamping.
#[must_use]
pub fn gang_svg(view: &GangView<'_>) -> Vec<u8> {
    let drawn = extent(view);
    let size = drawn.size();
    let scale = scale_for([size.width, size.height], PAPER);
    let mut paint = Paint::new(scale);
    let page = paint.paper(PAGE);
    let mut y = paint.paper(MARGIN + 4.0);
    let left = paint.paper(MARGIN);
    for (k, line) in view.title.iter().enumerate() {
        let kind = if k == 0 {
            Type::new(4.6).bold()
        } else {
            Type::new(3.0).faint()
        };
        paint.text(left, y, kind, line);
        y += paint.paper(if k == 0 { 5.0 } else { 4.2 });
    }
    y += paint.paper(3.0);
    paint.text(left, y, Type::new(SMALL).faint(), "from above");
    let middle = 0.5 * (page - size.width) - drawn.x0;
    let zero = Point::new(middle, y + paint.paper(ABOVE) + drawn.y1);
    from_above(&mut paint, view, zero);
    axes(&mut paint, &drawn, zero, view.numbers);
    y = zero.y - drawn.y0 + paint.paper(BELOW + 8.0);
    for line in figures(view) {
        for line in wrapped(&line, Type::new(SMALL), PAGE - 2.0 * MARGIN) {
            paint.text(left, y, Type::new(SMALL), &line);
            y += paint.paper(3.8);
        }
    }
    y += paint.paper(3.0);
    paint.text(
        left,
        y,
        Type::new(SMALL).faint(),
        "from the side (heights twice as large)",
    );
    y += paint.paper(4.0);
    y = from_the_side(&mut paint, view, middle, y);
    y += paint.paper(7.0);
    let room = PAGE - 2.0 * MARGIN - 8.0;
    for (n, step) in (view.first..).zip(view.steps) {
        paint.text(left, y, Type::new(LINE).bold(), &format!("{n}"));
        for line in wrapped(step, Type::new(LINE), room) {
            paint.text(left + paint.paper(7.0), y, Type::new(LINE), &line);
            y += paint.paper(4.6);
        }
        y += paint.paper(0.8);
    }
    let bold = Type::new(SMALL).bold();
    for line in wrapped(cautions(Some(false)), bold, PAGE - 2.0 * MARGIN) {
        y += paint.paper(4.2);
        paint.text(left, y, bold, &line);
    }
    let [title, _] = view.title;
    let bottom = y + paint.paper(4.0);
    paint.page(page, bottom, title)
}

/// Everything that is drawn from above lies within.
fn extent(view: &GangView<'_>) -> Rect {
    let gang = view.gang;
    let mut points: Vec<Point> = view.corner.fence_band().to_vec();
    for hold in gang.holds() {
        points.extend(gang.band(hold));
    }
    for rail in rails(view) {
        points.extend([rail.origin(), Point::new(rail.x1, rail.y1)]);
    }
    for i in 0..gang.sticks() {
        points.push(gang.datum(i) + Vec2::new(gang.length, 0.0));
    }
    if view.fresh {
        points.extend(view.corner.touches().concat());
    }
    bounds(&points)
}

/// The outline of a stick in its place, pointed as its datum end is.
fn stick(gang: &Gang, i: usize) -> Vec<Point> {
    let (at, h) = (gang.datum(i), 0.5 * gang.face);
    let back = h * gang.point_cot;
    let p = |x: f64, y: f64| at + Vec2::new(x, y);
    let mut corners = vec![
        p(back, -h),
        p(gang.length, -h),
        p(gang.length, h),
        p(back, h),
    ];
    if back > 0.0 {
        corners.push(p(0.0, 0.0));
    }
    corners
}

fn from_above(paint: &mut Paint, view: &GangView<'_>, zero: Point) {
    let gang = view.gang;
    paint.open_work(zero.x, zero.y);
    paint.open_style(INK, HAIRLINE, FENCE, "class=\"fence\"");
    paint.polygon(&view.corner.fence_band(), "");
    paint.close();
    paint.open_style(INK, HAIRLINE, RAIL, "class=\"rails\"");
    for rail in rails(view) {
        paint.rect(rail.origin(), rail.width(), rail.height(), "");
    }
    paint.close();
    let seats = gang.loads.first();
    for (kept, fill) in [(true, KEPT), (false, OTHER)] {
        paint.open_style(
            INK,
            HAIRLINE,
            fill,
            "stroke-linejoin=\"round\" class=\"sticks\"",
        );
        for (i, seat) in seats.iter().enumerate() {
            if seat.is_kept() == kept {
                paint.polygon(&stick(gang, i), "");
            }
        }
        paint.close();
    }
    paint.open_style(
        "none",
        HAIRLINE,
        CUT,
        "fill-opacity=\"0.75\" class=\"slots\"",
    );
    for slot in &gang.slots {
        paint.polygon(&gang.slot_band(slot), "");
    }
    paint.close();
    if let Some(mark) = &gang.mark {
        paint.open_style(CUT, HAIRLINE, "#ffffff", "class=\"mark\"");
        paint.polygon(&gang.slot_band(mark), "");
        paint.close();
    }
    paint.open_style(HOLD, THIN, HOLD, "fill-opacity=\"0.25\" class=\"holds\"");
    for hold in gang.holds() {
        paint.polygon(&gang.band(hold), "");
    }
    paint.close();
    paint.close();
    if view.fresh {
        touches(paint, view, zero);
    }
    // The zero, as on the pictures of sheets.
    paint.open(&format!(
        "transform=\"translate({} {})\"",
        Num(zero.x),
        Num(zero.y)
    ));
    zero_mark(paint);
    paint.close();
    labels(paint, view, zero);
}

/// Words beside what is drawn.
fn labels(paint: &mut Paint, view: &GangView<'_>, zero: Point) {
    let (gang, n) = (view.gang, view.numbers.decimals());
    let at = |p: Point| Point::new(zero.x + p.x, zero.y - p.y);
    let kind = Type::new(2.4).hold(Hold::Middle);
    let deg = Num(hundredths(gang.fence_deg));
    // Along the outer edge of either rail: where holds, mark and fence lie at its inner face.
    let faces = [(0.0, -gang.side()), (gang.second_face(), gang.side())];
    for (k, (face, out)) in faces.into_iter().enumerate() {
        let edge = face + out * gang.rail;
        let mut marks = Vec::new();
        if k == 1 {
            marks.push((
                gang.at(-0.5 * gang.rail, edge).x,
                format!("fence {deg}\u{b0}"),
            ));
        }
        for (number, hold) in (1..).zip(gang.holds()) {
            let [from, to] = hold.map(|d| gang.along_rails(d)[k]);
            let text = format!("hold {number}: {} to {}", n.len(from), n.len(to));
            marks.push((gang.at(0.5 * (hold[0] + hold[1]), edge).x, text));
        }
        if let (0, Some(mark)) = (k, &gang.mark) {
            let x = gang.along_rails(gang.from_fence(mark.at))[k];
            let text = format!("mark {}", n.len(x));
            marks.push((gang.at(gang.from_fence(mark.at), edge).x, text));
        }
        marks.sort_by(|a, b| a.0.total_cmp(&b.0));
        // From left to right; one that would run into its neighbour stands a row further out.
        let (mut free, mut row) = (f64::NEG_INFINITY, 0.0);
        for (x, text) in marks {
            let p = at(Point::new(x, edge));
            let half = 0.5 * paint.paper(text_width(&text, 2.4) + 1.6);
            row = if p.x - half < free && row == 0.0 {
                3.2
            } else {
                0.0
            };
            free = p.x + half;
            let y = if out > 0.0 {
                p.y - paint.paper(1.4 + row)
            } else {
                p.y + paint.paper(3.2 + row)
            };
            paint.text(p.x, y, kind, &text);
        }
    }
    let names = ["reference rail", "second rail"];
    for (rail, name) in rails(view).into_iter().zip(names) {
        let p = at(rail.center());
        let text = format!("{name}, {} thick", n.rough(gang.rail));
        let wide = paint.paper(text_width(&text, 2.4) + 1.6);
        let tall = paint.paper(3.0);
        paint.rect(
            Point::new(p.x - 0.5 * wide, p.y - 0.5 * tall),
            wide,
            tall,
            "fill=\"#ffffff\" fill-opacity=\"0.8\"",
        );
        paint.text_centred(p.x, p.y, kind, &text);
    }
    // What lies in each place, at the far end.
    let seats = gang.loads.first();
    let size = (0.8 * gang.face / paint.scale).min(2.4);
    if size >= 1.2 {
        for (i, seat) in seats.iter().enumerate() {
            let word = match seat {
                Seat::Kept(_) => continue,
                Seat::Spare(_) => "spare",
                Seat::Dummy => "dummy",
            };
            let p = at(gang.datum(i) + Vec2::new(gang.length, 0.0));
            paint.text_centred(p.x + paint.paper(1.0), p.y, Type::new(size), word);
        }
    }
}

/// The reference rail as it stands for all gangs of its fence, and the second one.
fn rails(view: &GangView<'_>) -> [Rect; 2] {
    [view.corner.rail_rect(), view.gang.rails(view.radius)[1]]
}

/// Where the cutter's centre is jogged to while the battens are set: a cross and a letter each.
fn touches(paint: &mut Paint, view: &GangView<'_>, zero: Point) {
    let arm = paint.paper(1.2);
    for (letter, p) in "ABCD".chars().zip(view.corner.touches().concat()) {
        let at = Point::new(zero.x + p.x, zero.y - p.y);
        paint.open_style(HOLD, THIN, "none", "class=\"touch\"");
        paint.line(at - Vec2::new(arm, 0.0), at + Vec2::new(arm, 0.0), "");
        paint.line(at - Vec2::new(0.0, arm), at + Vec2::new(0.0, arm), "");
        paint.close();
        let beside = Type::new(2.4).bold();
        paint.text(
            at.x + 1.2 * arm,
            at.y - 0.5 * arm,
            beside,
            &letter.to_string(),
        );
    }
}

/// What the picture's letters and lines lie at, in the setup's coordinates.
fn figures(view: &GangView<'_>) -> Vec<String> {
    let (gang, corner, n) = (view.gang, view.corner, view.numbers.decimals());
    let place = |p: Point| format!("x {} y {}", n.len(p.x), n.len(p.y));
    let [past, far] = corner
        .fence()
        .map(|along| place(corner.by_fence(along, 0.0)));
    let mut lines = vec![format!(
        "Faces: reference rail y 0, x {} to {}; fence from {past} through x 0 y 0 to {far}; second rail y {}.",
        n.len(corner.rail[0]),
        n.len(corner.rail[1]),
        n.len(gang.second_face()),
    )];
    if view.fresh {
        let touches = corner.touches().concat();
        let at = "ABCD".chars().zip(touches);
        let at: Vec<String> = at
            .map(|(letter, p)| format!("{letter} {}", place(p)))
            .collect();
        lines.push(format!(
            "The cutter's centre while the battens are set: {}.",
            at.join("; ")
        ));
    }
    lines.push(
        "Holds and mark: x at the inner faces of the rails, not at their outer edges.".to_owned(),
    );
    let [left, right, front, back] = view.room.map(|mm| n.rough(mm));
    lines.push(format!(
        "Room that the cutter's centre needs from zero, for all programs of the job: {left} to the left, {right} \
         to the right, {front} to the front, {back} to the back."
    ));
    lines
}

/// The axes through zero, below and on the left of what is drawn, with a tick every 10 mm and a figure every 50; or
/// every half inch, and every two.
fn axes(paint: &mut Paint, drawn: &Rect, zero: Point, n: Numbers) {
    let (tick, fifth) = match n.units {
        Units::Mm => (10.0, 5),
        Units::Inch => (12.7, 4),
    };
    let (small, tall) = (paint.paper(0.9), paint.paper(1.8));
    let line = zero.y - drawn.y0 + paint.paper(BELOW);
    let side = zero.x + drawn.x0 - paint.paper(6.0);
    let ticks = |lo: f64, hi: f64| ((lo / tick).ceil() as i32)..=((hi / tick).floor() as i32);
    paint.open_style(INK, HAIRLINE, "none", "class=\"axes\"");
    paint.line(
        Point::new(zero.x + drawn.x0, line),
        Point::new(zero.x + drawn.x1, line),
        "",
    );
    for k in ticks(drawn.x0, drawn.x1) {
        let x = zero.x + tick * f64::from(k);
        let long = if k % fifth == 0 { tall } else { small };
        paint.line(Point::new(x, line), Point::new(x, line - long), "");
    }
    paint.line(
        Point::new(side, zero.y - drawn.y1),
        Point::new(side, zero.y - drawn.y0),
        "",
    );
    for k in ticks(drawn.y0, drawn.y1) {
        let y = zero.y - tick * f64::from(k);
        let long = if k % fifth == 0 { tall } else { small };
        paint.line(Point::new(side, y), Point::new(side + long, y), "");
    }
    paint.close();
    let kind = Type::new(2.2).faint();
    // Whole millimetres, or whole inches.
    let figure = |k: i32| n.rough(tick * f64::from(k));
    for k in ticks(drawn.x0, drawn.x1).filter(|k| k % fifth == 0) {
        let x = zero.x + tick * f64::from(k);
        let under = line + paint.paper(2.6);
        paint.text(x, under, kind.hold(Hold::Middle), &figure(k));
    }
    for k in ticks(drawn.y0, drawn.y1).filter(|k| k % fifth == 0) {
        let y = zero.y - tick * f64::from(k);
        let end = side - paint.paper(0.8);
        paint.text(end, y + paint.paper(0.8), kind.hold(Hold::End), &figure(k));
    }
    let name = Type::new(2.6).bold();
    paint.text(
        zero.x + drawn.x1 + paint.paper(1.5),
        line + paint.paper(0.9),
        name,
        "x",
    );
    paint.text(
        side,
        zero.y - drawn.y1 - paint.paper(1.5),
        name.hold(Hold::Middle),
        "y",
    );
}

/// A stick from the side, its upper edge up, with the floors of slots and mark. Returns how far down
/// it goes.
fn from_the_side(paint: &mut Paint, view: &GangView<'_>, left: f64, top: f64) -> f64 {
    let gang = view.gang;
    let tall = 2.0;
    let bed = top + tall * gang.depth + paint.paper(2.0);
    let x = left + gang.offset;
    paint.open(&format!(
        "transform=\"translate({} {}) scale(1 -{tall})\"",
        Num(x),
        Num(bed)
    ));
    paint.open_style(INK, HAIRLINE, KEPT, "class=\"stick\"");
    paint.rect(Point::ORIGIN, gang.length, gang.depth, "");
    paint.close();
    let s = gang.along().y;
    for cut in gang.slots.iter().chain(&gang.mark) {
        let half = 0.5 * cut.width / s;
        paint.open_style(CUT, HAIRLINE, "#ffffff", "class=\"slot\"");
        paint.rect(
            Point::new(cut.at - half, cut.floor),
            2.0 * half,
            gang.depth - cut.floor,
            "",
        );
        paint.close();
    }
    paint.close();
    let bench = paint.paper(6.0);
    paint.open_style(INK, THICK, "none", "class=\"bed\"");
    paint.line(
        Point::new(x - bench, bed),
        Point::new(x + gang.length + bench, bed),
        "",
    );
    paint.close();
    let kind = Type::new(2.4).hold(Hold::Middle);
    let [up, down] = match gang.edge {
        Edge::Front => ["front edge up", "back edge on the bed, z 0"],
        Edge::Back => ["back edge up", "front edge on the bed, z 0"],
    };
    let head = bed - tall * gang.depth - paint.paper(1.4);
    paint.text(x, head, Type::new(2.4), up);
    let below = bed + paint.paper(4.0);
    let far = x + gang.length - paint.paper(text_width(down, 2.4));
    paint.text(far, bed + paint.paper(12.0), Type::new(2.4).faint(), down);
    // Each height of a floor once, where it is first met; side by side, never one over the other.
    let mut floors: Vec<(f64, f64)> = Vec::new();
    for slot in gang.cuts() {
        if !floors.iter().any(|f| (f.1 - slot.floor).abs() < 1e-6) {
            floors.push((slot.at, slot.floor));
        }
    }
    floors.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free = f64::NEG_INFINITY;
    for (at, floor) in floors {
        let text = format!("floor z {}", view.numbers.finest(floor));
        let half = 0.5 * paint.paper(text_width(&text, 2.4) + 2.0);
        let middle = (x + at).max(free + half);
        paint.text(middle, below, kind, &text);
        free = middle + half;
    }
    // Distances of the slots along the sticks.
    let mut ats: Vec<f64> = gang.slots.iter().map(|s| s.at).collect();
    ats.sort_by(f64::total_cmp);
    ats.dedup_by(|b, a| *b - *a < 1e-6);
    let y = below + paint.paper(4.5);
    let mut last = f64::NEG_INFINITY;
    for at in ats {
        let text = view.numbers.decimals().len(at);
        let wide = paint.paper(text_width(&text, 2.2) + 1.2);
        if at - last >= wide {
            paint.text(x + at, y, Type::new(2.2).faint().hold(Hold::Middle), &text);
            last = at;
        }
    }
    y + paint.paper(4.5)
}
