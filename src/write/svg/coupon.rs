//! A coupon: the comb with the number and the width of every notch, the bar, and how to read it.

use crate::document::Numbers;
use crate::geom::Point;
use crate::setup::{Comb, FlatPiece, is_marked};

use super::paint::{Hold, INK, Num, Paint, SMALL, THIN, Type, scale_for, shortened, text_width};

/// What the picture of a coupon shows.
#[derive(Debug, Clone, Copy)]
pub struct CouponView<'a> {
    /// Its notches.
    pub comb: &'a Comb,
    /// The comb, then the bar, as side views.
    pub pieces: &'a [FlatPiece],
    /// Where each notch lies along the comb, from its first end, mm.
    pub middles: &'a [f64],
    /// Lines at the head: the first is the title.
    pub title: &'a [String],
    /// Whether it says below how it is read.
    pub words: bool,
    /// How lengths are written.
    pub numbers: Numbers,
}

/// Room for the comb alone, mm on paper.
const PAPER: [f64; 2] = [250.0, 60.0];
/// Margin of the page, mm on paper.
const MARGIN: f64 = 7.0;
/// Narrowest page, mm on paper.
const NARROWEST: f64 = 170.0;
/// Largest and smallest figures at a notch, mm on paper.
const FIGURES: [f64; 2] = [2.4, 1.3];
/// From line to line of text, mm on paper.
const LINE: f64 = 4.4;

/// Draws a coupon: front edge, and so the open notches, upwards.
#[must_use]
pub fn coupon_svg(view: &CouponView<'_>) -> Vec<u8> {
    let longest = view.pieces.iter().map(|p| p.length).fold(1.0, f64::max);
    let deepest = view.pieces.iter().map(|p| p.depth).fold(1.0, f64::max);
    let scale = scale_for([longest, deepest], PAPER);
    let mut paint = Paint::new(scale);
    let mm = |paper: f64| paper * scale;
    let page = (longest + mm(2.0 * MARGIN)).max(mm(NARROWEST));
    let room = page / scale - 2.0 * MARGIN;
    let mut y = mm(MARGIN + 3.4);
    for (k, line) in view.title.iter().enumerate() {
        let kind = match k {
            0 => Type::new(4.6).bold(),
            _ => Type::new(3.0).faint(),
        };
        paint.text(mm(MARGIN), y, kind, &shortened(line, kind, room));
        y += mm(if k == 0 { 5.4 } else { LINE });
    }
    let mut pieces = view.pieces.iter();
    if let Some(piece) = pieces.next() {
        // The widths stand upright over the notches, the numbers between them and the comb.
        let tall = text_width("0.0000", FIGURES[0]) + 4.4;
        y += mm(tall) + piece.depth;
        comb(
            &mut paint,
            view,
            piece,
            Point::new(0.5 * (page - piece.length), y),
        );
        y += mm(5.5);
    }
    if let Some(piece) = pieces.next() {
        y += piece.depth;
        let left = 0.5 * (page - longest);
        shape(&mut paint, piece, Point::new(left, y));
        let text = format!("bar, {} of them", view.comb.bars());
        let at = left + piece.length + mm(2.0);
        paint.text_centred(at, y - 0.5 * piece.depth, Type::new(SMALL), &text);
    }
    y += mm(LINE + 1.5);
    let words = view.comb.notches_in_words(view.numbers);
    let lines = std::iter::once(words.as_str()).chain(view.comb.how_to_read());
    for line in lines.filter(|_| view.words) {
        let kind = Type::new(3.0);
        paint.text(mm(MARGIN), y, kind, &shortened(line, kind, room));
        y += mm(LINE);
    }
    if (1..=view.comb.widths.len()).any(|n| !view.comb.is_borne_in(n)) {
        let [least, most] = view.comb.spec.limits;
        let grey = format!(
            "grey widths: no reading, the material bears a clearance of {} to {}",
            view.numbers.fine(least),
            view.numbers.fine_with_unit(most)
        );
        paint.text(
            mm(MARGIN),
            y,
            Type::new(3.0).faint(),
            &shortened(&grey, Type::new(3.0), room),
        );
        y += mm(LINE);
    }
    let scale = format!(
        "Scale 1 : {}.  Lengths in {}.",
        Num(paint.scale),
        view.numbers.unit_word()
    );
    paint.text(mm(MARGIN), y, Type::new(SMALL), &scale);
    let title = view.title.first().map_or("", String::as_str);
    paint.page(page, y + mm(MARGIN), title)
}

fn shape(paint: &mut Paint, piece: &FlatPiece, corner: Point) {
    paint.open_work(corner.x, corner.y);
    paint.open_style(
        INK,
        THIN,
        "#e9d2a4",
        "stroke-linejoin=\"round\" class=\"pieces\"",
    );
    paint.contour(&piece.drawn, 0.0, 0.0, "");
    paint.close();
    paint.close();
}

/// The comb, its lower left corner at `corner`, with the figures of every notch that has room for them,
/// of the marked ones at least.
fn comb(paint: &mut Paint, view: &CouponView<'_>, piece: &FlatPiece, corner: Point) {
    let CouponView { comb, middles, .. } = *view;
    shape(paint, piece, corner);
    let pitch = middles
        .windows(2)
        .map(|w| w[1] - w[0])
        .fold(f64::INFINITY, f64::min);
    let size = (0.75 * pitch / paint.scale).min(FIGURES[0]);
    let (all, size) = (size >= FIGURES[1], size.max(FIGURES[1]));
    let top = corner.y - piece.depth;
    paint.open("class=\"notches\"");
    for ((i, middle), width) in middles.iter().enumerate().zip(&comb.widths) {
        let (number, x) = (i + 1, corner.x + middle);
        let marked = is_marked(number);
        if !(all || marked) {
            continue;
        }
        let plain = Type::new(size);
        let kind = if marked { plain.bold() } else { plain };
        let text = number.to_string();
        let over = top - paint.paper(1.9);
        paint.text_centred(x, over, kind.hold(Hold::Middle), &text);
        let over = top - paint.paper(3.6);
        let borne = comb.is_borne_in(number);
        let figures = if borne { plain } else { plain.faint() };
        paint.text_upwards(x, over, figures, &view.numbers.finest(*width));
        if marked {
            let under = corner.y + paint.paper(2.4);
            paint.text_centred(x, under, kind.hold(Hold::Middle), &text);
        }
    }
    paint.close();
}
