//! The ends of sticks that lie against the fence, twice as large as they are, and how they are made and checked.

use crate::document::Numbers;
use crate::geom::{Point, Vec2, cos_deg, cot_deg, sin_deg};
use crate::setup::GangStick;

use super::paint::{HAIRLINE, Hold, INK, Num, Paint, SMALL, THIN, Type, hundredths, wrapped};

/// A class of sticks and the directions of the fences that its ends lie against.
#[derive(Debug, Clone)]
pub struct DatumEndView<'a> {
    /// The class.
    pub stick: &'a GangStick,
    /// Directions of the fences, degrees from the sticks.
    pub fences: Vec<f64>,
}

/// Width of the page, mm on paper.
const PAGE: f64 = 180.0;
/// Margin of the page, mm on paper.
const MARGIN: f64 = 8.0;
/// How much larger than it is everything is drawn.
const TIMES: f64 = 2.0;
/// How much of a stick is drawn, mm.
const SHOWN: f64 = 18.0;
/// Thickness of the fence as drawn, mm.
const FENCE: f64 = 5.0;
/// Room for one end, mm on paper.
const CELL: f64 = 80.0;

/// Draws the datum ends of these classes at 2 : 1, with these lines below.
#[must_use]
pub fn datum_ends_svg(
    title: &str,
    views: &[DatumEndView<'_>],
    lines: &[String],
    n: Numbers,
) -> Vec<u8> {
    let mut paint = Paint::new(1.0 / TIMES);
    let left = paint.paper(MARGIN);
    let mut y = paint.paper(MARGIN + 4.0);
    paint.text(left, y, Type::new(4.6).bold(), title);
    y += paint.paper(5.0);
    let scale = Type::new(3.0).faint();
    paint.text(left, y, scale, "2 : 1, from above; upper edge towards you");
    let columns = (((PAGE - 2.0 * MARGIN) / CELL).floor() as usize).max(1);
    for view in views {
        y += paint.paper(8.0);
        let stick = view.stick;
        let shape = if stick.pointed() {
            format!(
                "pointed at {} degrees from both sides",
                Num(hundredths(stick.point_deg))
            )
        } else {
            "square".to_owned()
        };
        let head = format!("sticks {}, {} wide: {shape}", stick.id, n.len(stick.face));
        paint.text(left, y, Type::new(3.2).bold(), &head);
        for row in view.fences.chunks(columns) {
            let tall = 2.0 * stick.face + 2.0;
            let middle = y + 0.5 * tall + paint.paper(6.0);
            for (k, &deg) in row.iter().enumerate() {
                let x = left + paint.paper(CELL * k as f64 + 22.0);
                end(&mut paint, stick, deg, Point::new(x, middle), n);
            }
            y = middle + 0.5 * tall + paint.paper(8.0);
        }
    }
    y += paint.paper(2.0);
    for (n, line) in lines.iter().enumerate() {
        y += paint.paper(1.0);
        paint.text(left, y, Type::new(3.2).bold(), &format!("{}", n + 1));
        for line in wrapped(line, Type::new(3.2), PAGE - 2.0 * MARGIN - 8.0) {
            paint.text(left + paint.paper(7.0), y, Type::new(3.2), &line);
            y += paint.paper(4.6);
        }
    }
    let (page, bottom) = (paint.paper(PAGE), y + paint.paper(4.0));
    paint.page(page, bottom, title)
}

/// One end against a fence of this direction, its centre line through `at`.
fn end(paint: &mut Paint, stick: &GangStick, deg: f64, at: Point, n: Numbers) {
    let half = 0.5 * stick.face;
    let offset = if stick.pointed() {
        0.0
    } else {
        half * cot_deg(deg).abs()
    };
    let back = if stick.pointed() {
        half * cot_deg(stick.point_deg)
    } else {
        0.0
    };
    paint.open_work(at.x, at.y);
    let along = Vec2::new(cos_deg(deg), sin_deg(deg));
    let away = Vec2::new(sin_deg(deg), -cos_deg(deg));
    let reach = (2.0 * half + 1.0) / sin_deg(deg);
    let foot = Vec2::new(-offset, 0.0);
    let fence = [
        foot - along * reach,
        foot + along * reach,
        foot + along * reach - away * FENCE,
        foot - along * reach - away * FENCE,
    ];
    paint.open_style(INK, HAIRLINE, "#8a7d6d", "class=\"fence\"");
    paint.polygon(&fence.map(Vec2::to_point), "");
    paint.close();
    let mut corners = vec![
        Point::new(back, -half),
        Point::new(SHOWN, -half),
        Point::new(SHOWN, half),
        Point::new(back, half),
    ];
    if back > 0.0 {
        corners.push(Point::ORIGIN);
    }
    paint.open_style(
        INK,
        THIN,
        "#e9d2a4",
        "stroke-linejoin=\"round\" class=\"stick\"",
    );
    paint.polygon(&corners, "");
    paint.close();
    paint.open_style(INK, HAIRLINE, "none", "stroke-dasharray=\"2 0.6 0.4 0.6\"");
    paint.line(Point::new(-offset, 0.0), Point::new(SHOWN, 0.0), "");
    paint.close();
    paint.close();
    let kind = Type::new(SMALL).hold(Hold::Start);
    // Past the fence, which may lean over the stick.
    let beside = at.x + reach * cos_deg(deg).abs() + 1.0;
    paint.text(
        beside,
        at.y - half - paint.paper(1.5),
        kind,
        &format!("fence {}\u{b0}", Num(hundredths(deg))),
    );
    let touch = if stick.pointed() {
        "the point touches".to_owned()
    } else if offset < 1e-9 {
        "the whole end touches".to_owned()
    } else {
        format!("a corner touches; {} on the centre line", n.len(offset))
    };
    paint.text(beside, at.y + half + paint.paper(3.5), kind, &touch);
}
