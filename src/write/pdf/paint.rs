//! Leaves as pages of a PDF, which counts in points of 1/72 inch.

use krilla::color::rgb;
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect, Size, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla_svg::{SurfaceExt, SvgSettings};

use super::flow::{FAINT, Flowed, INK, Item};
use super::fonts::{Fonts, Look};
use super::picture::Picture;
use super::{MARGIN, PdfError};

/// Points in a millimetre.
const POINTS: f64 = 72.0 / 25.4;
/// Letters at the head of a page.
const HEAD: Look = Look::new(2.7);

fn pt(mm: f64) -> f32 {
    (mm * POINTS) as f32
}

fn refused(what: &str) -> PdfError {
    PdfError::Writer(what.to_owned())
}

fn colour(ink: &str) -> rgb::Color {
    let part = |k: usize| {
        let digits = ink.get(2 * k..2 * k + 2).unwrap_or("00");
        u8::from_str_radix(digits, 16).unwrap_or(0)
    };
    rgb::Color::new(part(0), part(1), part(2))
}

fn fill(ink: &str) -> Fill {
    Fill {
        paint: colour(ink).into(),
        opacity: NormalizedF32::ONE,
        ..Fill::default()
    }
}

/// Paints all leaves.
pub(super) fn paint(title: &str, flowed: &Flowed, fonts: &Fonts) -> Result<Vec<u8>, PdfError> {
    let mut pdf = krilla::Document::new();
    let count = flowed.leaves.len();
    for (k, leaf) in flowed.leaves.iter().enumerate() {
        let size = PageSettings::from_wh(pt(leaf.size[0]), pt(leaf.size[1]));
        let mut page = pdf.start_page_with(size.ok_or_else(|| refused("no such page"))?);
        let mut surface = page.surface();
        let right = leaf.size[0] - MARGIN[0];
        let number = format!("page {} of {count}", k + 1);
        let from = right - fonts.width(&number, HEAD);
        let base = MARGIN[1] + HEAD.ascent();
        let name = fonts.shortened(title, HEAD.bold(), from - MARGIN[0] - 6.0);
        let rule = MARGIN[1] + HEAD.line() + 0.6;
        let head = [
            text([MARGIN[0], base], HEAD.bold(), INK, name),
            text([from, base], HEAD, INK, number),
            Item::Line {
                from: [MARGIN[0], rule],
                to: [right, rule],
                width: 0.15,
                ink: FAINT,
            },
        ];
        for item in head.iter().chain(&leaf.items) {
            one(&mut surface, item, fonts, &flowed.pictures)?;
        }
        surface.finish();
        page.finish();
    }
    let mut outline = Outline::new();
    for (text, leaf, y) in &flowed.marks {
        let place = XyzDestination::new(*leaf, Point::from_xy(0.0, pt(*y)));
        outline.push_child(OutlineNode::new(text.clone(), place));
    }
    pdf.set_outline(outline);
    let told = Metadata::new()
        .title(title.to_owned())
        .language("en".to_owned());
    pdf.set_metadata(told);
    pdf.finish().map_err(|e| refused(&e.to_string()))
}

fn text(at: [f64; 2], look: Look, ink: &'static str, text: String) -> Item {
    Item::Text {
        at,
        look,
        ink,
        text,
    }
}

fn one(
    surface: &mut Surface<'_>,
    item: &Item,
    fonts: &Fonts,
    pictures: &[Picture],
) -> Result<(), PdfError> {
    match item {
        Item::Text {
            at,
            look,
            ink,
            text,
        } => {
            surface.set_stroke(None);
            surface.set_fill(Some(fill(ink)));
            let at = Point::from_xy(pt(at[0]), pt(at[1]));
            let (glyphs, font) = (fonts.glyphs(text, *look), fonts.font(*look));
            surface.draw_glyphs(at, &glyphs, font, text, pt(look.size), false);
        }
        Item::Line {
            from,
            to,
            width,
            ink,
        } => {
            let mut line = PathBuilder::new();
            line.move_to(pt(from[0]), pt(from[1]));
            line.line_to(pt(to[0]), pt(to[1]));
            let line = line
                .finish()
                .ok_or_else(|| refused("a line without length"))?;
            surface.set_fill(None);
            surface.set_stroke(Some(Stroke {
                paint: colour(ink).into(),
                width: pt(*width),
                ..Stroke::default()
            }));
            surface.draw_path(&line);
        }
        Item::Fill { at, size, ink } => {
            let rect = Rect::from_xywh(pt(at[0]), pt(at[1]), pt(size[0]), pt(size[1]));
            let mut path = PathBuilder::new();
            path.push_rect(rect.ok_or_else(|| refused("a rectangle without size"))?);
            let path = path.finish().ok_or_else(|| refused("an empty shape"))?;
            surface.set_stroke(None);
            surface.set_fill(Some(fill(ink)));
            surface.draw_path(&path);
        }
        Item::Picture { index, at, size } => {
            let picture = pictures.get(*index).ok_or_else(|| refused("no picture"))?;
            let size = Size::from_wh(pt(size[0]), pt(size[1]));
            let size = size.ok_or_else(|| refused("a picture without size"))?;
            surface.push_transform(&Transform::from_translate(pt(at[0]), pt(at[1])));
            let drawn = surface.draw_svg(&picture.tree, size, SvgSettings::default());
            surface.pop();
            drawn.ok_or_else(|| refused("a picture that cannot be drawn"))?;
        }
    }
    Ok(())
}
