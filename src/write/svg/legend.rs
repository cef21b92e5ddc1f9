//! The legend below the picture of a strip or sheet: what its marks mean, and what to mind.

use crate::geom::Point;
use crate::path::Head;

use super::many::notches_left_out;
use super::paint::{
    FAINT, HAIRLINE, INK, Num, Paint, SMALL, THIN, Type, shortened, text_width, wrapped,
};
use super::sheet::{GROOVE, HOLDS, MARGIN, PATH, SheetView, dashes, zero};

/// One entry of the legend.
enum Key {
    /// A line of this colour, width and end.
    Line(&'static str, f64, &'static str),
    Dot,
    Box(&'static str, bool),
    Saw,
    Zero,
}

/// What the marks mean, whether notches are `left_out`, and what to mind. Returns the page's height.
pub(super) fn legend(
    paint: &mut Paint,
    view: &SheetView<'_>,
    left_out: bool,
    page: f64,
    below: f64,
) -> f64 {
    let mut keys = vec![(Key::Box("#e9d2a4", false), "piece, finished size")];
    if view.trim > 0.0 {
        keys.push((Key::Box("#f7efdf", true), "trim: no piece lies there"));
    }
    let laser = view.program.map(|p| matches!(p.head, Head::Beam { .. }));
    if let Some(program) = view.program {
        let cutter = laser == Some(false);
        let what = if cutter {
            "path of the cutter's axis"
        } else {
            "path of the beam"
        };
        keys.push((Key::Line(PATH, HAIRLINE, "butt"), what));
        keys.push((Key::Dot, "where a cut begins"));
        if !program.holds.is_empty() {
            let what = if cutter {
                "tab, left standing"
            } else {
                "bridge, left uncut"
            };
            keys.push((Key::Line(HOLDS, 0.55, "round"), what));
        }
    }
    if !view.sheet.chains.is_empty() {
        let what = "groove, half deep: saw apart here, pare the ends to its walls";
        keys.push((Key::Saw, what));
    }
    if view.layout.has_folds(view.sheet) {
        keys.push((Key::Line(INK, THIN, "butt"), "dash of a fold, cut through"));
    }
    keys.push((Key::Zero, "zero of x and y"));
    let (left, right) = (paint.paper(MARGIN), page - paint.paper(MARGIN));
    let line = paint.paper(4.6);
    let (mut x, mut y) = (left, below + paint.paper(4.5));
    for (key, what) in keys {
        let width = paint.paper(7.0 + text_width(what, SMALL) + 3.0);
        if x + width > right && x > left {
            (x, y) = (left, y + line);
        }
        mark(paint, &key, Point::new(x, y));
        paint.text_centred(x + paint.paper(7.0), y, Type::new(SMALL), what);
        x += width;
    }
    let n = view.numbers;
    let size = format!(
        "{}: {} × {} × {}, grain along x.  Scale 1 : {}.  Lengths in {}.",
        view.sheet.stock,
        n.len(view.sheet.length),
        n.len(view.sheet.width),
        n.fine_with_unit(view.sheet.thickness),
        Num(paint.scale),
        n.unit_word()
    );
    let room = (right - left) / paint.scale;
    y += line;
    paint.text_centred(
        left,
        y,
        Type::new(SMALL),
        &shortened(&size, Type::new(SMALL), room),
    );
    if left_out {
        let kind = Type::new(SMALL);
        for text in wrapped(&notches_left_out(), kind, room) {
            y += line;
            paint.text_centred(left, y, kind, &text);
        }
    }
    let bold = Type::new(SMALL).bold();
    for text in wrapped(cautions(laser), bold, room) {
        y += line * 0.9;
        paint.text_centred(left, y, bold, &text);
    }
    y + paint.paper(MARGIN)
}

/// The usual cautions, by head.
pub(super) fn cautions(laser: Option<bool>) -> &'static str {
    match laser {
        Some(true) => {
            "Mind: the machine's manual, the workshop's rules and local codes come first. Guard eyes, ears \
             and lungs; brush off the bed; hold the work down. Try the path with the beam off first. Never \
             leave a beam alone. No unknown plastics."
        }
        Some(false) => {
            "Mind: the machine's manual, the workshop's rules and local codes come first. Guard eyes, ears \
             and lungs; brush off the bed; hold the work down. Try the path with the spindle off first."
        }
        None => {
            "Mind: the machine's manual, the workshop's rules and local codes come first. Guard eyes, ears \
             and lungs; hold the work down."
        }
    }
}

/// The mark of a legend's entry.
fn mark(paint: &mut Paint, key: &Key, at: Point) {
    let (w, h) = (paint.paper(5.5), paint.paper(2.6));
    let end = Point::new(at.x + w, at.y);
    match *key {
        Key::Line(ink, width, cap) => {
            paint.open_style(ink, width, "none", &format!("stroke-linecap=\"{cap}\""));
            paint.line(at, end, "");
            paint.close();
        }
        Key::Dot => {
            paint.open_style(PATH, HAIRLINE, "#ffffff", "");
            paint.line(at, end, "");
            paint.circle(Point::new(at.x + 0.5 * w, at.y), 0.4, "");
            paint.close();
        }
        Key::Box(fill, dashed) => {
            let dash = format!(
                "stroke-dasharray=\"{} {}\"",
                Num(paint.paper(1.0)),
                Num(paint.paper(0.6))
            );
            let (ink, dash) = if dashed {
                (FAINT, dash.as_str())
            } else {
                (INK, "")
            };
            paint.open_style(ink, THIN, fill, dash);
            paint.rect(Point::new(at.x, at.y - 0.5 * h), w, h, "");
            paint.close();
        }
        Key::Saw => {
            let (left, x) = (at.x + 0.25 * w, at.x + 0.5 * w);
            paint.open_style(INK, HAIRLINE, GROOVE, "");
            paint.rect(Point::new(left, at.y - 0.5 * h), 0.5 * w, h, "");
            paint.close();
            let dash = dashes(paint, "saw-key");
            paint.open_style(INK, THIN, "none", &dash);
            paint.line(
                Point::new(x, at.y - 0.6 * h),
                Point::new(x, at.y + 0.6 * h),
                "",
            );
            paint.close();
        }
        Key::Zero => {
            paint.open(&format!(
                "transform=\"translate({} {})\"",
                Num(at.x + 0.5 * w),
                Num(at.y)
            ));
            zero(paint);
            paint.close();
        }
    }
}
