//! A step of assembly from the front: what is in already, what goes in, where glue and saw go.

use crate::geom::{Point, Vec2, bounds};
use crate::lattice::{Edge, MarkEdges};

use super::many::{DOTS_LEFT_OUT, Seen};
use super::paint::{
    FAINT, HAIRLINE, Hold, INK, Num, Paint, SMALL, THICK, THIN, Type, scale_for, shortened,
    text_width, wrapped,
};
use super::sheet::dashes;

/// What the picture of a step shows. Lengths are mm, seen from the front.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StepView {
    /// Line at the head; none where it is empty.
    pub title: String,
    /// What is done, a sentence or two each.
    pub text: Vec<String>,
    /// Outline of the trimmed ground, counter-clockwise.
    pub outline: Vec<Point>,
    /// What the legend calls the two tones; nothing where it leaves one out.
    pub tones: [&'static str; 2],
    /// Plans of what is in already, from the back to the front.
    pub before: Vec<Vec<Point>>,
    /// Plans of what goes in, and what they are called.
    pub going_in: Vec<Labelled>,
    /// Joints that get glue, and whether more than a dab.
    pub glue: Vec<(Point, bool)>,
    /// Lines to trim along.
    pub trims: Vec<(Point, Point)>,
    /// Orientation marks.
    pub marks: Vec<MarkView>,
    /// Joints of the panel: of very many, dots of glue that would lie on one another are left out.
    pub joints: usize,
}

/// The orientation mark of a bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkView {
    /// The end of the bar that it lies near, mm.
    pub end: Point,
    /// Unit vector along the bar, away from that end.
    pub inward: Vec2,
    /// In which edges it lies.
    pub edges: MarkEdges,
}

/// A piece with its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Labelled {
    /// Plan, counter-clockwise.
    pub plan: Vec<Point>,
    /// What is written on it; nothing where it is empty.
    pub name: String,
    /// Where its name may stand, the best place first.
    pub places: Vec<Point>,
}

/// Room for the picture alone, mm on paper.
const PAPER: [f64; 2] = [120.0, 110.0];
/// Margin of the page, mm on paper.
const MARGIN: f64 = 6.0;
/// Narrowest page, mm on paper.
const NARROWEST: f64 = 120.0;
/// From line to line of text, mm on paper.
const LINE: f64 = 3.9;
/// Heights that names may have, mm on paper.
const NAMES: [f64; 3] = [2.6, 2.0, 1.5];
/// What is in already, and what goes in.
const BEFORE: &str = "#dcdcdc";
/// See [`BEFORE`].
const GOING_IN: &str = "#8a5a28";
const GLUE: &str = "#1b6ca8";
const SAW: &str = "#b3261e";

/// Draws a step.
#[must_use]
pub fn step_svg(view: &StepView) -> Vec<u8> {
    let going = view.going_in.iter().map(|p| &p.plan);
    let points: Vec<Point> = (view.before.iter().chain(going).chain([&view.outline]))
        .flatten()
        .copied()
        .collect();
    let all = bounds(&points);
    let mut paint = Paint::new(scale_for([all.width(), all.height()], PAPER));
    let mm = |paper: f64| paper * paint.scale;
    let page = (all.width() + mm(2.0 * MARGIN)).max(mm(NARROWEST));
    let room = page / paint.scale - 2.0 * MARGIN;
    let x = mm(MARGIN);
    let mut y = mm(MARGIN);
    if !view.title.is_empty() {
        y += paint.paper(3.0);
        let kind = Type::new(3.8).bold();
        paint.text(x, y, kind, &shortened(&view.title, kind, room));
        y += paint.paper(3.0);
    }
    let origin = Point::new(0.5 * (page - all.width()) - all.x0, y + all.y1);
    paint.open_work(origin.x, origin.y);
    let left_out = work(&mut paint, view);
    marks(&mut paint, view);
    paint.close();
    let unnamed = names(&mut paint, view, origin);
    y = origin.y - all.y0 + paint.paper(LINE + 1.0);
    y = legend(&mut paint, view, Point::new(x, y), room);
    let kind = Type::new(SMALL);
    let mut lines: Vec<String> = view
        .text
        .iter()
        .flat_map(|t| wrapped(t, kind, room))
        .collect();
    if unnamed > 0 {
        lines.push(format!("{unnamed} pieces are too small for their name."));
    }
    if left_out {
        lines.extend(wrapped(DOTS_LEFT_OUT, kind, room));
    }
    for line in lines {
        paint.text(x, y, kind, &line);
        y += paint.paper(LINE);
    }
    let bottom = y + paint.paper(MARGIN - LINE + 1.0);
    paint.page(page, bottom, &view.title)
}

/// All pieces, lines to trim along and glue. Returns whether dots of glue have been left out.
fn work(paint: &mut Paint, view: &StepView) -> bool {
    paint.open_style("#9a9a9a", HAIRLINE, BEFORE, "class=\"step-before\"");
    for plan in &view.before {
        paint.polygon(plan, "");
    }
    paint.close();
    paint.open_style(INK, HAIRLINE, GOING_IN, "class=\"step-going-in\"");
    for piece in view.going_in.iter().filter(|p| !p.plan.is_empty()) {
        paint.polygon(&piece.plan, "");
    }
    paint.close();
    let dash = dashes(paint, "step-outline");
    paint.open_style(FAINT, HAIRLINE, "none", &dash);
    paint.polygon(&view.outline, "");
    paint.close();
    paint.open_style(SAW, THICK, "none", "class=\"step-trims\"");
    for &(a, b) in &view.trims {
        paint.line(a, b, "");
    }
    paint.close();
    let (seen, mut left_out) = (Seen::new(view.joints, paint.scale), false);
    for (more, class) in [(false, "step-glue"), (true, "step-glue-more")] {
        paint.open_style("#ffffff", HAIRLINE, GLUE, &format!("class=\"{class}\""));
        let all = view.glue.iter().filter(|dot| dot.1 == more);
        let drawn = seen.dots(all.clone().map(|dot| dot.0), paint.paper(dot(more)));
        left_out |= drawn.len() < all.count();
        for at in drawn {
            paint.circle(at, dot(more), "");
        }
        paint.close();
    }
    left_out
}

/// Radius of the dot of a joint that gets a dab of glue, or more, mm on paper.
fn dot(more: bool) -> f64 {
    if more { 1.1 } else { 0.6 }
}

/// Half the size of the sign of a mark, mm on paper.
const SIGN: f64 = 0.8;

/// Where the sign of a mark stands: at the end of its bar.
fn sign(paint: &Paint, mark: &MarkView) -> Point {
    mark.end + mark.inward * paint.paper(SIGN)
}

/// A sign at each end that bears a mark: black for one in front, white for one at the back, half and half for
/// both.
fn marks(paint: &mut Paint, view: &StepView) {
    if view.marks.is_empty() {
        return;
    }
    paint.open_style(INK, THIN, "none", "class=\"step-marks\"");
    for mark in &view.marks {
        let (at, half) = (sign(paint, mark), paint.paper(SIGN));
        let (along, across) = (
            mark.inward * half,
            Vec2::new(-mark.inward.y, mark.inward.x) * half,
        );
        let square = |low: f64| {
            [(-1.0, low), (1.0, low), (1.0, 1.0), (-1.0, 1.0)]
                .map(|(a, b)| at + along * a + across * b)
        };
        let (fill, black) = (mark_fill(mark.edges), format!("fill=\"{INK}\""));
        let fill = format!("class=\"mark-{}\" fill=\"{fill}\"", mark.edges.word());
        paint.polygon(&square(-1.0), &fill);
        if mark.edges == MarkEdges::Both {
            paint.polygon(&square(0.0), &black);
        }
    }
    paint.close();
}

fn mark_fill(edges: MarkEdges) -> &'static str {
    match edges {
        MarkEdges::One(Edge::Front) => INK,
        MarkEdges::One(Edge::Back) | MarkEdges::Both => "#ffffff",
    }
}

/// Writes the names, each on a plate at the first of its places that is free; gives how many found none.
fn names(paint: &mut Paint, view: &StepView, origin: Point) -> usize {
    let named: Vec<&Labelled> = view
        .going_in
        .iter()
        .filter(|p| !p.name.is_empty())
        .collect();
    let mut best: Option<(f64, Vec<(Point, &str)>)> = None;
    for size in NAMES {
        let placed = placed(paint, view, &named, size);
        if best.as_ref().is_none_or(|(_, b)| placed.len() > b.len()) {
            best = Some((size, placed));
        }
    }
    let Some((size, placed)) = best else { return 0 };
    let plate = |name: &str| (text_width(name, size) + 0.8, size + 0.5);
    paint.open_style(INK, 0.5 * HAIRLINE, "#ffffff", "class=\"step-names\"");
    for (at, name) in &placed {
        let (w, h) = plate(name);
        let (w, h) = (paint.paper(w), paint.paper(h));
        let corner = Point::new(origin.x + at.x - 0.5 * w, origin.y - at.y - 0.5 * h);
        paint.rect(corner, w, h, "");
    }
    paint.close();
    for (at, name) in &placed {
        let kind = Type::new(size).hold(Hold::Middle);
        paint.text_centred(origin.x + at.x, origin.y - at.y, kind, name);
    }
    named.len() - placed.len()
}

/// A place for every name that finds one at this size.
fn placed<'a>(
    paint: &Paint,
    view: &StepView,
    named: &[&'a Labelled],
    size: f64,
) -> Vec<(Point, &'a str)> {
    let signs = view.marks.iter().map(|mark| sign(paint, mark));
    let mut taken: Vec<(Point, f64)> = signs.map(|at| (at, paint.paper(2.0 * SIGN))).collect();
    let mut found = Vec::new();
    let tall = paint.paper(size + 0.8);
    for piece in named {
        let wide = paint.paper(text_width(&piece.name, size) + 1.2);
        let free = |at: &&Point| {
            let apart = |(other, w): &(Point, f64)| {
                (other.x - at.x).abs() >= 0.5 * (w + wide) || (other.y - at.y).abs() >= tall
            };
            taken.iter().all(apart)
        };
        if let Some(&at) = piece.places.iter().find(free) {
            taken.push((at, wide));
            found.push((at, piece.name.as_str()));
        }
    }
    found
}

/// How an entry of the legend is drawn.
#[derive(Clone, Copy)]
enum Key {
    Tone(&'static str),
    Mark(MarkEdges),
    /// Of glue, and whether more than a dab.
    Dot(bool),
}

/// What there is to be told in the legend.
fn keys(view: &StepView) -> Vec<(Key, &'static str)> {
    let mut keys: Vec<(Key, &str)> = Vec::new();
    if !view.before.is_empty() {
        keys.push((Key::Tone(BEFORE), view.tones[0]));
    }
    if !view.going_in.is_empty() {
        keys.push((Key::Tone(GOING_IN), view.tones[1]));
    }
    for (more, what) in [(false, "glue"), (true, "more glue")] {
        if view.glue.iter().any(|dot| dot.1 == more) {
            keys.push((Key::Dot(more), what));
        }
    }
    if !view.trims.is_empty() {
        keys.push((Key::Tone(SAW), "trim here"));
    }
    let mut signs: Vec<MarkEdges> = view.marks.iter().map(|mark| mark.edges).collect();
    signs.sort_unstable();
    signs.dedup();
    keys.extend(signs.into_iter().map(|edges| {
        let what = match edges {
            MarkEdges::One(Edge::Front) => "mark in front",
            MarkEdges::One(Edge::Back) => "mark at the back",
            MarkEdges::Both => "mark in both edges",
        };
        (Key::Mark(edges), what)
    }));
    keys.retain(|(_, what)| !what.is_empty());
    keys
}

/// Draws the sign of an entry, its left end in the middle of its height at `at`.
fn key(paint: &mut Paint, key: Key, at: Point) {
    let (w, h) = (paint.paper(4.0), paint.paper(2.2));
    let fill = match key {
        Key::Tone(fill) => fill,
        Key::Mark(edges) => mark_fill(edges),
        Key::Dot(more) => {
            let middle = Point::new(at.x + 0.5 * w, at.y);
            return paint.circle(middle, dot(more), &format!("fill=\"{GLUE}\""));
        }
    };
    let edge = Num(paint.paper(THIN));
    let look = format!("fill=\"{fill}\" stroke=\"{INK}\" stroke-width=\"{edge}\"");
    paint.rect(Point::new(at.x, at.y - 0.5 * h), w, h, &look);
    if let Key::Mark(MarkEdges::Both) = key {
        paint.rect(at, w, 0.5 * h, &format!("fill=\"{INK}\""));
    }
}

/// What the tones and signs mean, in one line or more. Returns how far down it goes.
fn legend(paint: &mut Paint, view: &StepView, at: Point, room: f64) -> f64 {
    let (mut x, mut y) = (at.x, at.y);
    for (sign, what) in keys(view) {
        let needed = paint.paper(5.2 + text_width(what, SMALL));
        if x > at.x && x + needed > at.x + room * paint.scale {
            (x, y) = (at.x, y + paint.paper(LINE));
        }
        key(paint, sign, Point::new(x, y));
        paint.text_centred(x + paint.paper(5.2), y, Type::new(SMALL), what);
        x += paint.paper(5.2 + text_width(what, SMALL) + 3.0);
    }
    let kind = Type::new(SMALL).faint();
    let scale = format!("Scale 1 : {}, from the front", Num(paint.scale));
    if x > at.x && x + paint.paper(text_width(&scale, SMALL)) > at.x + room * paint.scale {
        (x, y) = (at.x, y + paint.paper(LINE));
    }
    let left = room - (x - at.x) / paint.scale;
    paint.text_centred(x, y, kind, &shortened(&scale, kind, left.max(1.0)));
    y + paint.paper(LINE + 1.0)
}
