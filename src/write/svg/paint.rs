//! Elements of a picture: numbers, text, shapes, and the page they stand on.

use std::fmt::Write as _;

use crate::geom::{Contour, Point};

pub(super) use super::num::Num;

/// Dark brown for lines and letters.
pub(super) const INK: &str = "#2e2218";
/// Grey brown for dimensions and remarks.
pub(super) const FAINT: &str = "#75675a";
/// Dimension text, notes and legends, mm on paper.
pub(super) const SMALL: f64 = 2.6;
/// Line widths, mm on paper.
pub(super) const HAIRLINE: f64 = 0.1;
/// See [`HAIRLINE`].
pub(super) const THIN: f64 = 0.18;
/// See [`HAIRLINE`].
pub(super) const THICK: f64 = 0.3;

/// Scales that a picture may have, as millimetres of work to one of paper.
const SCALES: [f64; 22] = [
    1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.5, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0,
    75.0, 100.0, 150.0, 200.0, 500.0,
];

/// The largest scale at which work of this size fits the paper; the smallest there is if none does.
pub(super) fn scale_for(work: [f64; 2], paper: [f64; 2]) -> f64 {
    let fits = |k: &&f64| work[0] <= paper[0] * **k && work[1] <= paper[1] * **k;
    SCALES.iter().find(fits).copied().unwrap_or(1000.0)
}

/// Text with the characters that XML keeps for itself written as references; what XML does not allow at
/// all becomes a replacement character.
pub(in crate::write) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c < ' ' || ('\u{7f}'..='\u{9f}').contains(&c) => out.push('\u{fffd}'),
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

/// About how wide a text stands at this size, on the wide side (no font is known here).
pub(super) fn text_width(text: &str, size: f64) -> f64 {
    let em = |c: char| match c {
        'i' | 'j' | 'l' | 't' | 'f' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | ' ' | '('
        | ')' => 0.36,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.95,
        c if c.is_ascii_uppercase() => 0.72,
        c if c < '\u{2e80}' => 0.62,
        _ => 1.0,
    };
    text.chars().map(em).sum::<f64>() * size
}

/// How much wider bold letters are than plain ones.
const BOLD: f64 = 1.13;

/// Width of a text of this look, on paper.
fn width_of(text: &str, kind: Type) -> f64 {
    let size = if kind.bold {
        BOLD * kind.size
    } else {
        kind.size
    };
    text_width(text, size)
}

/// A text broken between words into lines no wider than `room`, on paper; a longer word stands alone.
pub(super) fn wrapped(text: &str, kind: Type, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width_of(&format!("{line} {word}"), kind) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.into()),
        }
    }
    lines
}

/// The text, cut short with an ellipsis where it is wider than `room`, both on paper.
pub(super) fn shortened(text: &str, kind: Type, room: f64) -> String {
    if width_of(text, kind) <= room {
        return text.into();
    }
    let mut kept = String::new();
    let mut width = width_of("…", kind);
    for c in text.chars() {
        width += width_of(c.encode_utf8(&mut [0; 4]), kind);
        if width > room {
            break;
        }
        kept.push(c);
    }
    format!("{}…", kept.trim_end())
}

/// Rounded to two decimals, for a figure in a text.
pub(super) fn hundredths(v: f64) -> f64 {
    (v * 100.0).round() / 100.0
}

/// Where a text is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hold {
    Start,
    Middle,
    End,
}

/// How a text looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Type {
    /// Height of the letters' square, mm on paper.
    pub size: f64,
    pub bold: bool,
    pub hold: Hold,
    pub ink: &'static str,
}

impl Type {
    pub const fn new(size: f64) -> Self {
        Self {
            size,
            bold: false,
            hold: Hold::Start,
            ink: INK,
        }
    }

    pub const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    pub const fn faint(self) -> Self {
        Self { ink: FAINT, ..self }
    }

    pub const fn hold(self, hold: Hold) -> Self {
        Self { hold, ..self }
    }
}

/// A picture in the making. Sizes named "on paper" are multiplied by the scale as they are written; all
/// else is millimetres of the work.
pub(super) struct Paint {
    out: String,
    /// Millimetres of work to one of paper.
    pub scale: f64,
}

impl Paint {
    /// An empty picture.
    pub fn new(scale: f64) -> Self {
        Self {
            out: String::new(),
            scale,
        }
    }

    /// Millimetres on paper in units of the picture.
    pub fn paper(&self, mm: f64) -> f64 {
        mm * self.scale
    }

    /// Closes the picture: puts it on a white page of this size (units) under its title.
    pub fn page(self, width: f64, height: f64, title: &str) -> Vec<u8> {
        let (w, h) = (Num(width), Num(height));
        let (paper_w, paper_h) = (Num(width / self.scale), Num(height / self.scale));
        let mut svg = String::with_capacity(self.out.len() + 512);
        svg.push_str("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
        // Writing to a string cannot fail.
        let _ = writeln!(
            svg,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" \
             version=\"1.1\" width=\"{paper_w}mm\" height=\"{paper_h}mm\" viewBox=\"0 0 {w} {h}\" \
             font-family=\"sans-serif\">\n<title>{}</title>\n\
             <rect width=\"{w}\" height=\"{h}\" fill=\"#ffffff\"/>",
            escaped(title)
        );
        svg.push_str(&self.out);
        svg.push_str("</svg>\n");
        svg.into_bytes()
    }

    /// Writes markup as it is.
    pub fn raw(&mut self, markup: &str) {
        self.out.push_str(markup);
        self.out.push('\n');
    }

    /// Opens a group.
    pub fn open(&mut self, attributes: &str) {
        let _ = writeln!(self.out, "<g {attributes}>");
    }

    /// Opens a group for shapes of the work: its origin at (x, y) of the page, y up.
    pub fn open_work(&mut self, x: f64, y: f64) {
        let _ = writeln!(
            self.out,
            "<g transform=\"translate({} {}) scale(1 -1)\">",
            Num(x),
            Num(y)
        );
    }

    /// Opens a group with this stroke, width on paper, and fill.
    pub fn open_style(&mut self, stroke: &str, width: f64, fill: &str, more: &str) {
        let width = Num(self.paper(width));
        let gap = if more.is_empty() { "" } else { " " };
        let _ = writeln!(
            self.out,
            "<g stroke=\"{stroke}\" stroke-width=\"{width}\" fill=\"{fill}\"{gap}{more}>"
        );
    }

    /// Closes a group.
    pub fn close(&mut self) {
        self.out.push_str("</g>\n");
    }

    /// Writes markup and numbers in turn: each text, then its number.
    fn put<const N: usize>(&mut self, parts: [(&str, f64); N]) {
        for (text, number) in parts {
            self.out.push_str(text);
            Num(number).push_to(&mut self.out);
        }
    }

    /// Ends an element that has a value open.
    fn end(&mut self, attributes: &str) {
        self.out.push('"');
        if !attributes.is_empty() {
            self.out.push(' ');
            self.out.push_str(attributes);
        }
        self.out.push_str("/>\n");
    }

    /// A closed polygon.
    pub fn polygon(&mut self, points: &[Point], attributes: &str) {
        self.out.push_str("<polygon points=\"");
        for (k, p) in points.iter().enumerate() {
            let gap = if k == 0 { "" } else { " " };
            self.put([(gap, p.x), (",", p.y)]);
        }
        self.end(attributes);
    }

    /// A straight line.
    pub fn line(&mut self, a: Point, b: Point, attributes: &str) {
        self.put([
            ("<line x1=\"", a.x),
            ("\" y1=\"", a.y),
            ("\" x2=\"", b.x),
            ("\" y2=\"", b.y),
        ]);
        self.end(attributes);
    }

    /// A circle; the radius is on paper.
    pub fn circle(&mut self, at: Point, radius: f64, attributes: &str) {
        let radius = self.paper(radius);
        self.put([
            ("<circle cx=\"", at.x),
            ("\" cy=\"", at.y),
            ("\" r=\"", radius),
        ]);
        self.end(attributes);
    }

    /// An upright rectangle from its corner of least x and y.
    pub fn rect(&mut self, at: Point, width: f64, height: f64, attributes: &str) {
        self.put([
            ("<rect x=\"", at.x),
            ("\" y=\"", at.y),
            ("\" width=\"", width),
            ("\" height=\"", height),
        ]);
        self.end(attributes);
    }

    /// A contour of lines and arcs moved by (dx, dy), inside a group of the work (y up), where a
    /// counter-clockwise arc is one of positive sweep.
    pub fn contour(&mut self, contour: &Contour, dx: f64, dy: f64, attributes: &str) {
        self.out.push_str("<path d=\"");
        for (k, (a, bulge, b)) in contour.segments().enumerate() {
            if k == 0 {
                self.put([("M", a.x + dx), (" ", a.y + dy)]);
            }
            let (x, y) = (b.x + dx, b.y + dy);
            if bulge == 0.0 {
                self.put([("L", x), (" ", y)]);
            } else {
                // r = chord (1 + bulge²) / (4 |bulge|); more than a half turn where |bulge| > 1.
                let r = (b - a).hypot() * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
                let turn = match (bulge.abs() > 1.0, bulge > 0.0) {
                    (false, false) => " 0 0 0 ",
                    (false, true) => " 0 0 1 ",
                    (true, false) => " 0 1 0 ",
                    (true, true) => " 0 1 1 ",
                };
                self.put([("A", r), (" ", r), (turn, x), (" ", y)]);
            }
        }
        if contour.closed {
            self.out.push('Z');
        }
        self.end(attributes);
    }

    /// A text with its base line at (x, y), y down.
    pub fn text(&mut self, x: f64, y: f64, kind: Type, text: &str) {
        self.text_with(x, y, kind, text, "");
    }

    /// A text whose letters stand about half above and half below y, y down.
    pub fn text_centred(&mut self, x: f64, y: f64, kind: Type, text: &str) {
        self.text(x, y + self.paper(0.36 * kind.size), kind, text);
    }

    /// A text that reads upwards, its letters half left and half right of x.
    pub fn text_upwards(&mut self, x: f64, y: f64, kind: Type, text: &str) {
        let x = x + self.paper(0.36 * kind.size);
        let turn = format!(" transform=\"rotate(-90 {} {})\"", Num(x), Num(y));
        self.text_with(x, y, kind, text, &turn);
    }

    fn text_with(&mut self, x: f64, y: f64, kind: Type, text: &str, more: &str) {
        let anchor = match kind.hold {
            Hold::Start => "",
            Hold::Middle => " text-anchor=\"middle\"",
            Hold::End => " text-anchor=\"end\"",
        };
        let weight = if kind.bold {
            " font-weight=\"bold\""
        } else {
            ""
        };
        let _ = writeln!(
            self.out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"{anchor}{weight}{more}>{}</text>",
            Num(x),
            Num(y),
            Num(self.paper(kind.size)),
            kind.ink,
            escaped(text)
        );
    }

    /// A level dimension: from x0 to x1 at height y (y down), its extension lines from `edge`.
    pub fn dimension_level(&mut self, x0: f64, x1: f64, y: f64, edge: f64, text: &str) {
        self.open_style(FAINT, HAIRLINE, "none", "");
        let (near, past) = (
            self.paper(1.0) * (y - edge).signum(),
            self.paper(1.2) * (y - edge).signum(),
        );
        for x in [x0, x1] {
            self.line(Point::new(x, edge + near), Point::new(x, y + past), "");
            self.tick(Point::new(x, y));
        }
        self.line(Point::new(x0, y), Point::new(x1, y), "");
        self.close();
        let kind = Type::new(SMALL).hold(Hold::Middle);
        let middle = 0.5 * (x0 + x1);
        self.clearing(
            Point::new(middle, y),
            text_width(text, SMALL) + 1.6,
            SMALL + 0.4,
        );
        self.text_centred(middle, y, kind, text);
    }

    /// An upright dimension: from y0 to y1 (y down) at x, its extension lines from `edge`.
    pub fn dimension_upright(&mut self, y0: f64, y1: f64, x: f64, edge: f64, text: &str) {
        self.open_style(FAINT, HAIRLINE, "none", "");
        let (near, past) = (
            self.paper(1.0) * (x - edge).signum(),
            self.paper(1.2) * (x - edge).signum(),
        );
        for y in [y0, y1] {
            self.line(Point::new(edge + near, y), Point::new(x + past, y), "");
            self.tick(Point::new(x, y));
        }
        self.line(Point::new(x, y0), Point::new(x, y1), "");
        self.close();
        let kind = Type::new(SMALL).hold(Hold::Middle);
        let middle = 0.5 * (y0 + y1);
        self.clearing(
            Point::new(x, middle),
            SMALL + 0.4,
            text_width(text, SMALL) + 1.6,
        );
        self.text_upwards(x, middle, kind, text);
    }

    /// The slanting tick at the end of a dimension.
    fn tick(&mut self, at: Point) {
        let d = self.paper(0.9);
        let stroke = format!("stroke-width=\"{}\"", Num(self.paper(THICK)));
        self.line(
            Point::new(at.x - d, at.y + d),
            Point::new(at.x + d, at.y - d),
            &stroke,
        );
    }

    /// White ground under a text, sizes on paper.
    fn clearing(&mut self, middle: Point, width: f64, height: f64) {
        let (w, h) = (self.paper(width), self.paper(height));
        let at = Point::new(middle.x - 0.5 * w, middle.y - 0.5 * h);
        self.rect(at, w, h, "fill=\"#ffffff\"");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_become_markup() {
        assert_eq!(
            escaped("a<b> & \"c\"\u{0}'"),
            "a&lt;b&gt; &amp; &quot;c&quot;\u{fffd}&#39;"
        );
    }

    #[test]
    fn long_text_is_cut_to_its_room() {
        let short = shortened("a rather long name for a panel", Type::new(3.0), 20.0);
        assert!(
            short.ends_with('…') && text_width(&short, 3.0) <= 20.0,
            "{short}"
        );
        assert_eq!(shortened("short", Type::new(3.0), 20.0), "short");
    }

    #[test]
    fn the_scale_is_the_largest_that_fits() {
        assert_eq!(scale_for([150.0, 80.0], [150.0, 80.0]), 1.0);
        assert_eq!(scale_for([349.75, 211.0], [160.0, 185.0]), 2.5);
        assert_eq!(scale_for([1e6, 1.0], [160.0, 185.0]), 1000.0);
    }
}
