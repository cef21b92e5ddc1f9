//! Story sticks: both edges and the side of a bar at true size, to lay stock against and mark it from.

use crate::geom::{Point, cot_deg, micron, sin_deg};
use crate::lattice::{Edge, End, EndShape, MarkEdges};

use super::paint::{
    FAINT, HAIRLINE, Hold, INK, Num, Paint, SMALL, THICK, THIN, Type, shortened, text_width,
};

/// Length of the bar that shows whether a page was printed at true size, mm.
const CHECK_BAR: f64 = 100.0;

/// A notch of a story stick; lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct StoryNotch {
    /// From the first end, along the centre line.
    pub at: f64,
    /// `at` as it is written.
    pub label: String,
    /// Which edge it is cut in.
    pub edge: Edge,
    /// Direction of its walls from the bar's axis, seen from its edge, degrees; 90 is square.
    pub walls_deg: f64,
    /// Along the bar.
    pub run: f64,
    /// From its edge to its floor.
    pub depth: f64,
}

/// Where a stick is cut through.
#[derive(Debug, Clone, PartialEq)]
pub struct StoryCut {
    /// From the first end, along the centre line, mm.
    pub at: f64,
    /// What is written at it.
    pub label: String,
}

/// The orientation mark of a bar, or of a piece of a stick. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StoryMark {
    /// From the first end, along the centre line.
    pub at: f64,
    /// In which edges.
    pub edges: MarkEdges,
    /// What it looks like.
    pub shape: MarkShape,
}

/// What an orientation mark looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MarkShape {
    /// A groove of this width across itself, mm, at this angle to the axis, degrees, seen from its edge.
    Groove(f64, f64),
    /// A cross in pencil.
    Cross,
}

/// A story stick, or the part of one that a page holds. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StoryView<'a> {
    /// A name that no other story stick of a document has: letters, digits and `-`.
    pub id: &'a str,
    /// What it is of.
    pub title: &'a str,
    /// What else to know.
    pub note: &'a str,
    /// From first to last end.
    pub length: f64,
    /// Across the bar as seen from the front.
    pub face: f64,
    /// From back to front.
    pub depth: f64,
    /// First and last end.
    pub ends: [End; 2],
    /// All notches.
    pub notches: &'a [StoryNotch],
    /// Where it is cut through.
    pub cuts: &'a [StoryCut],
    /// Its orientation marks.
    pub marks: &'a [StoryMark],
    /// Where it is continued: lines that lie on each other when pages are joined.
    pub joins: &'a [f64],
    /// The part that is drawn, from the first end.
    pub part: [f64; 2],
    /// Width of the picture.
    pub width: f64,
}

/// Width of the words beside the edges, mm.
const WORDS: f64 = 17.0;
/// Free on the right, mm.
const RIGHT: f64 = 3.0;
/// Between the edges and the side, mm.
const BETWEEN: f64 = 1.6;
/// Deeper bars are drawn without their side, mm.
const DEEPEST: f64 = 45.0;
/// Title and note, mm.
const HEAD: f64 = 13.0;
/// Least room of a row of figures that stand upright, and of one that lie, mm.
const UPRIGHT: f64 = 10.5;
const LEVEL: f64 = 4.2;
/// Colours of wood and of what is cut away.
const WOOD: &str = "#f3e4c3";
const AWAY: &str = "#ffffff";

/// How much of a bar a picture of this width shows, mm.
#[must_use]
pub fn story_room(width: f64) -> f64 {
    width - WORDS - RIGHT
}

impl StoryView<'_> {
    /// Places of the notches of an edge with what is written there, each once.
    fn places(&self, edge: Edge) -> Vec<(f64, &str)> {
        let mut marks: Vec<(f64, &str)> = Vec::new();
        for notch in self.notches.iter().filter(|n| n.edge == edge) {
            if marks
                .last()
                .is_none_or(|(at, _)| micron(notch.at - at) > 0.0)
            {
                marks.push((notch.at, &notch.label));
            }
        }
        marks
    }

    /// Room for the figures of an edge, mm: they lie where they have room side by side, and on the page.
    fn figures(&self, edge: Edge) -> f64 {
        let marks = self.places(edge);
        let wide = marks.iter().map(|(_, text)| text_width(text, SMALL));
        let wide = wide.fold(0.0, f64::max) + 1.5;
        let close = marks.windows(2).any(|w| w[1].0 - w[0].0 < wide);
        let mut shown = marks.iter().filter(|m| self.shows(m.0));
        let off = shown.any(|m| WORDS + m.0 - self.part[0] + 0.5 * wide > self.width);
        match (marks.is_empty(), close || off) {
            (true, _) => 1.0,
            (_, true) => wide.max(UPRIGHT),
            (_, false) => LEVEL,
        }
    }

    /// Tops of front edge, side and back edge, and the bottom, mm.
    fn rows(&self) -> [f64; 4] {
        let front = HEAD + self.figures(Edge::Front);
        let side = front + self.face + BETWEEN;
        let back = match self.with_side() {
            true => side + self.depth + BETWEEN,
            false => side,
        };
        let cuts = if self.cuts.is_empty() { 0.0 } else { LEVEL };
        [
            front,
            side,
            back,
            back + self.face + self.figures(Edge::Back) + cuts + 1.0,
        ]
    }

    fn shows(&self, at: f64) -> bool {
        (self.part[0]..=self.part[1]).contains(&at)
    }

    fn with_side(&self) -> bool {
        self.depth <= DEEPEST
    }
}

/// Draws a story stick at true size.
#[must_use]
pub fn story_svg(view: &StoryView<'_>) -> Vec<u8> {
    let mut paint = Paint::new(1.0);
    let [front, side, back, bottom] = view.rows();
    head(&mut paint, view);
    for (y, height, word) in [
        (front, view.face, "front edge"),
        (side, view.depth, "side"),
        (back, view.face, "back edge"),
    ] {
        if word != "side" || view.with_side() {
            let kind = Type::new(SMALL).faint();
            paint.text_centred(0.0, y + 0.5 * height, kind, word);
        }
    }
    let x0 = WORDS - view.part[0];
    let clip = format!("clip-{}", view.id);
    let shown = view.part[1] - view.part[0];
    paint.raw(&format!("<defs><clipPath id=\"{clip}\">"));
    // A little more, for the lines of the ends.
    let corner = Point::new(WORDS - 0.5, HEAD - 1.0);
    paint.rect(corner, shown + 1.0, bottom - HEAD + 1.0, "");
    paint.raw("</clipPath></defs>");
    paint.open(&format!("clip-path=\"url(#{clip})\""));
    edge(&mut paint, view, Edge::Front, x0, front);
    if view.with_side() {
        the_side(&mut paint, view, x0, side);
    }
    edge(&mut paint, view, Edge::Back, x0, back);
    paint.close();
    figures(&mut paint, view, Edge::Front, x0, front);
    figures(&mut paint, view, Edge::Back, x0, back + view.face);
    let below = back + view.face;
    let dash = format!("stroke-dasharray=\"{} {}\"", Num(1.6), Num(0.8));
    paint.open_style(INK, THICK, "none", &dash);
    for cut in view.cuts.iter().filter(|c| view.shows(c.at)) {
        let x = x0 + cut.at;
        paint.line(
            Point::new(x, front - 0.8),
            Point::new(x, below + 0.8),
            "class=\"cut\"",
        );
    }
    paint.close();
    for cut in view.cuts.iter().filter(|c| view.shows(c.at)) {
        let kind = Type::new(2.2).hold(Hold::Middle);
        // Within the page, though the cut lies near its edge.
        let half = 0.5 * text_width(&cut.label, 2.2);
        let x = (x0 + cut.at).min(view.width - half).max(half);
        paint.text_centred(x, bottom - 2.4, kind, &cut.label);
    }
    let dots = format!("stroke-dasharray=\"{} {}\"", Num(0.3), Num(0.9));
    for (n, &at) in (1..).zip(view.joins) {
        if !view.shows(at) {
            continue;
        }
        let x = x0 + at;
        paint.open_style(INK, THICK, "none", &dots);
        paint.line(
            Point::new(x, HEAD - 0.6),
            Point::new(x, bottom),
            "class=\"join\"",
        );
        paint.close();
        paint.polygon(
            &[
                Point::new(x - 1.2, HEAD - 2.4),
                Point::new(x + 1.2, HEAD - 2.4),
                Point::new(x, HEAD - 0.6),
            ],
            &format!("fill=\"{INK}\""),
        );
        let kind = Type::new(2.2).hold(Hold::Middle);
        paint.text(x, HEAD - 2.8, kind, &format!("join {n}"));
    }
    paint.page(view.width, bottom, view.title)
}

/// The bar that shows whether a page was printed at true size, by itself.
#[must_use]
pub fn check_bar_svg() -> Vec<u8> {
    let mut paint = Paint::new(1.0);
    bar(&mut paint, Point::new(1.0, 4.0));
    paint.page(CHECK_BAR + 60.0, 8.0, "check bar")
}

fn head(paint: &mut Paint, view: &StoryView<'_>) {
    let from = view.width - CHECK_BAR - 50.0;
    let kind = Type::new(3.4).bold();
    paint.text(0.0, 3.2, kind, &shortened(view.title, kind, from - 3.0));
    let kind = Type::new(2.4).faint();
    paint.text(
        0.0,
        6.6,
        kind,
        &shortened(view.note, kind, view.width - RIGHT),
    );
    bar(paint, Point::new(from, 2.2));
}

fn bar(paint: &mut Paint, at: Point) {
    paint.open_style(INK, THIN, "none", "class=\"check-bar\"");
    paint.line(at, Point::new(at.x + CHECK_BAR, at.y), "");
    for k in 0..=10 {
        let x = at.x + 10.0 * f64::from(k);
        let half = if k % 10 == 0 { 1.8 } else { 0.8 };
        paint.line(Point::new(x, at.y - half), Point::new(x, at.y + half), "");
    }
    paint.close();
    let kind = Type::new(SMALL);
    paint.text_centred(at.x + CHECK_BAR + 2.0, at.y, kind, "100 mm: print at 100 %");
}

/// How far along the axis a line of this direction runs for 1 across it.
fn slant(deg: f64) -> f64 {
    if deg == 90.0 { 0.0 } else { cot_deg(deg) }
}

/// The bar as seen from an edge, its notches of that edge in it.
fn edge(paint: &mut Paint, view: &StoryView<'_>, edge: Edge, x0: f64, top: f64) {
    let half = 0.5 * view.face;
    let middle = top + half;
    let place = |x: f64, y: f64| Point::new(x0 + x, middle - y);
    // Seen from the back edge, the bar is turned over about its long axis.
    let seen = if edge == Edge::Front { 1.0 } else { -1.0 };
    let end = |end: &End, x: f64, inward: f64| -> Vec<Point> {
        let lean = slant(end.angle_deg);
        match end.shape {
            EndShape::Square => vec![place(x, half), place(x, -half)],
            EndShape::Skew => [half, -half]
                .map(|y| place(x + seen * y * lean, y))
                .to_vec(),
            EndShape::Point => [half, 0.0, -half]
                .map(|y| place(x + inward * y.abs() * lean.abs(), y))
                .to_vec(),
        }
    };
    let mut outline = end(&view.ends[0], 0.0, 1.0);
    let mut last = end(&view.ends[1], view.length, -1.0);
    last.reverse();
    outline.extend(last);
    paint.open_style(INK, THIN, WOOD, "");
    paint.polygon(&outline, "");
    paint.close();
    let own = view.notches.iter().filter(|n| n.edge == edge);
    let shapes = own.map(|notch| {
        let lean = slant(notch.walls_deg);
        let wall = |x: f64, y: f64| place(notch.at + x + y * lean, y);
        let r = 0.5 * notch.run;
        [
            wall(-r, half),
            wall(-r, -half),
            wall(r, -half),
            wall(r, half),
        ]
    });
    let shapes: Vec<_> = shapes.collect();
    // The lines last: notches of one place lie across each other.
    paint.open(&format!("fill=\"{AWAY}\""));
    shapes.iter().for_each(|shape| paint.polygon(shape, ""));
    paint.close();
    let class = format!("class=\"notches-{}\"", edge.word());
    paint.open_style(INK, THIN, "none", &class);
    shapes.iter().for_each(|shape| paint.polygon(shape, ""));
    paint.close();
    let own: Vec<&StoryMark> = view.marks.iter().filter(|m| m.edges.has(edge)).collect();
    if own.is_empty() {
        return;
    }
    let class = format!("class=\"marks-{}\"", edge.word());
    paint.open_style(INK, 2.0 * THICK, "none", &class);
    let groove = format!("class=\"groove\" fill=\"{INK}\" stroke=\"none\"");
    for mark in own {
        let at = |x: f64, y: f64| place(mark.at + x, y);
        match mark.shape {
            MarkShape::Groove(width, deg) => {
                let (r, lean) = (0.5 * width / sin_deg(deg), half * slant(deg));
                let shape = [
                    at(lean - r, half),
                    at(-lean - r, -half),
                    at(r - lean, -half),
                    at(r + lean, half),
                ];
                paint.polygon(&shape, &groove);
            }
            MarkShape::Cross => {
                let r = half.min(CROSS);
                paint.line(at(-r, half), at(r, -half), "class=\"cross\"");
                paint.line(at(-r, -half), at(r, half), "class=\"cross\"");
            }
        }
    }
    paint.close();
}

/// Half the length of a cross along the bar at most, mm.
const CROSS: f64 = 2.0;

/// The bar as seen from its side, front edge up: how deep the notches are.
fn the_side(paint: &mut Paint, view: &StoryView<'_>, x0: f64, top: f64) {
    paint.open_style(INK, THIN, WOOD, "");
    paint.rect(Point::new(x0, top), view.length, view.depth, "");
    paint.close();
    paint.open_style(FAINT, HAIRLINE, AWAY, "");
    for notch in view.notches {
        let y = match notch.edge {
            Edge::Front => top,
            Edge::Back => top + view.depth - notch.depth,
        };
        let corner = Point::new(x0 + notch.at - 0.5 * notch.run, y);
        paint.rect(corner, notch.run, notch.depth, "");
    }
    paint.close();
}

/// Running dimensions of an edge's notches, at their middles, from the first end.
fn figures(paint: &mut Paint, view: &StoryView<'_>, edge: Edge, x0: f64, y: f64) {
    let room = view.figures(edge);
    let out = if edge == Edge::Front { -1.0 } else { 1.0 };
    let kind = Type::new(SMALL).hold(Hold::Middle);
    paint.open_style(INK, HAIRLINE, "none", "");
    let marks = view.places(edge);
    for &(at, _) in marks.iter().filter(|m| view.shows(m.0)) {
        let x = x0 + at;
        paint.line(Point::new(x, y), Point::new(x, y + out * 1.2), "");
    }
    paint.close();
    for &(at, text) in marks.iter().filter(|m| view.shows(m.0)) {
        let (x, middle) = (x0 + at, y + out * (0.5 * room + 0.6));
        if room > LEVEL {
            paint.text_upwards(x, middle, kind, text);
        } else {
            paint.text_centred(x, middle, kind, text);
        }
    }
}
