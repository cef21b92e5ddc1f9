//! Texts as glyphs: kerned and joined as the font wants it. The font is read once, not for every line.

use std::cell::RefCell;
use std::rc::Rc;

use krilla::text::{GlyphId, KrillaGlyph};
use rustybuzz::{Direction, Face, Script, ShapePlan, UnicodeBuffer};

/// What turns texts into glyphs of one font.
pub(super) struct Shaper {
    face: Face<'static>,
    /// How texts of a direction and script are shaped, of those met so far.
    plans: RefCell<Vec<(Direction, Script, Rc<ShapePlan>)>>,
    /// Units of the font in the letters' square.
    em: f32,
}

impl Shaper {
    /// `None` where the bytes are no font.
    pub(super) fn new(bytes: &'static [u8], em: f32) -> Option<Self> {
        Some(Self {
            face: Face::from_slice(bytes, 0)?,
            plans: RefCell::default(),
            em,
        })
    }

    /// The plan for texts of a direction and script.
    fn plan(&self, direction: Direction, script: Script) -> Rc<ShapePlan> {
        let mut plans = self.plans.borrow_mut();
        let known = plans
            .iter()
            .find(|(d, s, _)| (*d, *s) == (direction, script));
        if let Some((_, _, plan)) = known {
            return Rc::clone(plan);
        }
        // Digits and signs alone belong to no script.
        let named = (script != rustybuzz::script::UNKNOWN).then_some(script);
        let plan = Rc::new(ShapePlan::new(&self.face, direction, named, None, &[]));
        plans.push((direction, script, Rc::clone(&plan)));
        plan
    }

    /// A line of text as glyphs, each with the part of the text that it stands for; direction and script are those of
    /// its letters.
    pub(super) fn glyphs(&self, text: &str) -> Vec<KrillaGlyph> {
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        let plan = self.plan(buffer.direction(), buffer.script());
        let shaped = rustybuzz::shape_with_plan(&self.face, &plan, buffer);
        // Where the letters begin that become a glyph, or some glyphs, together: one's end is where the next begins.
        let mut starts: Vec<usize> = (shaped.glyph_infos().iter())
            .map(|glyph| glyph.cluster as usize)
            .collect();
        starts.sort_unstable();
        let end = |start: usize| {
            let next = starts.partition_point(|&other| other <= start);
            starts.get(next).copied().unwrap_or(text.len())
        };
        let part = |units: i32| units as f32 / self.em;
        let places = shaped.glyph_positions();
        let one = |(glyph, place): (&rustybuzz::GlyphInfo, &rustybuzz::GlyphPosition)| {
            let start = glyph.cluster as usize;
            KrillaGlyph::new(
                GlyphId::new(glyph.glyph_id),
                part(place.x_advance),
                part(place.x_offset),
                part(place.y_offset),
                part(place.y_advance),
                start..end(start),
                None,
            )
        };
        shaped.glyph_infos().iter().zip(places).map(one).collect()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests")]
mod tests {
    use krilla::Document;
    use krilla::geom::Point;
    use krilla::surface::Surface;
    use krilla::text::{Font, TextDirection};

    use super::*;

    fn pdf(draw: impl FnOnce(&mut Surface<'_>)) -> Vec<u8> {
        let mut document = Document::new();
        let mut page = document.start_page();
        let mut surface = page.surface();
        draw(&mut surface);
        surface.finish();
        page.finish();
        document.finish().unwrap()
    }

    /// The PDF's writer shapes texts itself, and reads the font for each: the same bytes.
    #[test]
    fn texts_are_shaped_as_the_writer_would() {
        let bytes = dejavu::sans_condensed::regular();
        let font = Font::new(bytes.into(), 0).unwrap();
        let shaper = Shaper::new(bytes, font.units_per_em()).unwrap();
        let at = Point::from_xy(20.0, 40.0);
        let plain = pdf(|_| {});
        for text in [
            "AVAVA To Yes. 12.5 mm",
            "office, fluted, affine",
            "1234567890",
            "\u{2610} 1",
            "Füße e\u{301} × 30°",
            "שלום עולם",
            "مرحبا",
            "مرحبا 12 mm",
            "Привет Ελλάδα",
            "?",
        ] {
            let own =
                pdf(|s| s.draw_glyphs(at, &shaper.glyphs(text), font.clone(), text, 9.0, false));
            let direct = |s: &mut Surface<'_>| {
                s.draw_text(at, font.clone(), 9.0, text, false, TextDirection::Auto);
            };
            assert!(own == pdf(direct), "{text}");
            assert_ne!(own, plain, "{text} is drawn");
        }
        assert!(shaper.glyphs("").is_empty());
        let plans = shaper.plans.borrow().len();
        assert!(
            (4..=7).contains(&plans),
            "one for a script and direction: {plans}"
        );
    }
}
