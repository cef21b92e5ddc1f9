//! The fonts of the sheet: bytes that the program carries, never the system's.

use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::sync::Arc;

use krilla::text::{Font, KrillaGlyph};
use skrifa::charmap::Charmap;
use skrifa::metrics::GlyphMetrics;
use skrifa::prelude::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};
use usvg::fontdb::Database;

use super::shape::Shaper;

/// How a line of text looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Look {
    /// Height of the letters' square, mm.
    pub size: f64,
    pub bold: bool,
}

impl Look {
    pub(super) const fn new(size: f64) -> Self {
        Self { size, bold: false }
    }

    pub(super) const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// From one line to the next, mm.
    pub(super) fn line(self) -> f64 {
        1.32 * self.size
    }

    /// From the top of a line to its base line, mm.
    pub(super) fn ascent(self) -> f64 {
        0.98 * self.size
    }
}

/// A letter of printable ASCII, which all fonts have, or white space of it: nobody need look in a font.
pub(super) fn in_every_font(c: char) -> bool {
    c.is_ascii_graphic() || c.is_ascii_whitespace()
}

/// A font, and how wide its letters are.
struct Face {
    font: Font,
    shaper: Shaper,
    letters: Charmap<'static>,
    widths: GlyphMetrics<'static>,
    em: f64,
    /// Widths of ASCII, which nearly all texts are: looked up once.
    ascii: Vec<f64>,
}

impl Face {
    fn new(bytes: &'static [u8]) -> Option<Self> {
        let read = FontRef::new(bytes).ok()?;
        let font = Font::new(bytes.into(), 0)?;
        let em = f64::from(font.units_per_em());
        let mut face = Self {
            shaper: Shaper::new(bytes, font.units_per_em())?,
            font,
            letters: read.charmap(),
            widths: read.glyph_metrics(Size::unscaled(), LocationRef::default()),
            em,
            ascii: Vec::new(),
        };
        face.ascii = ('\0'..='\x7f').map(|c| face.looked_up(c)).collect();
        Some(face)
    }

    /// In parts of the letters' square.
    fn width(&self, c: char) -> f64 {
        let known = self.ascii.get(c as usize).copied();
        known.unwrap_or_else(|| self.looked_up(c))
    }

    fn looked_up(&self, c: char) -> f64 {
        let glyph = self.letters.map(c);
        let units = glyph.and_then(|g| self.widths.advance_width(g));
        f64::from(units.unwrap_or(0.0)) / self.em
    }
}

/// Plain and bold letters, and the same for pictures.
pub(super) struct Fonts {
    plain: Face,
    bold: Face,
    pictures: Arc<Database>,
    family: String,
    missing: RefCell<BTreeSet<char>>,
}

impl Fonts {
    /// `None` where the bytes are no fonts.
    pub(super) fn new() -> Option<Self> {
        let [plain, bold] = [
            dejavu::sans_condensed::regular(),
            dejavu::sans_condensed::bold(),
        ];
        let mut pictures = Database::new();
        for bytes in [plain, bold] {
            pictures.load_font_source(usvg::fontdb::Source::Binary(Arc::new(bytes)));
        }
        let family = pictures.faces().next()?.families.first()?.0.clone();
        pictures.set_sans_serif_family(&family);
        Some(Self {
            plain: Face::new(plain)?,
            bold: Face::new(bold)?,
            pictures: Arc::new(pictures),
            family,
            missing: RefCell::default(),
        })
    }

    fn face(&self, look: Look) -> &Face {
        if look.bold { &self.bold } else { &self.plain }
    }

    pub(super) fn font(&self, look: Look) -> Font {
        self.face(look).font.clone()
    }

    /// A line of text as glyphs of that font.
    pub(super) fn glyphs(&self, text: &str, look: Look) -> Vec<KrillaGlyph> {
        self.face(look).shaper.glyphs(text)
    }

    /// How pictures are read: with these fonts and no others.
    pub(super) fn for_pictures(&self) -> usvg::Options<'static> {
        usvg::Options {
            fontdb: Arc::clone(&self.pictures),
            font_family: self.family.clone(),
            ..usvg::Options::default()
        }
    }

    /// Width of a text, mm.
    pub(super) fn width(&self, text: &str, look: Look) -> f64 {
        let face = self.face(look);
        look.size * text.chars().map(|c| face.width(c)).sum::<f64>()
    }

    /// Whether both fonts have this character, or it is white space.
    fn known(&self, c: char) -> bool {
        let has = |face: &Face| face.letters.map(c).is_some_and(|g| g.to_u32() != 0);
        in_every_font(c) || [&self.plain, &self.bold].into_iter().all(has)
    }

    /// Whether the fonts have all letters of a text.
    pub(super) fn have(&self, text: &str) -> bool {
        text.chars().all(|c| self.known(c))
    }

    /// The text with a question mark for each character that the fonts do not have.
    pub(super) fn printable<'t>(&self, text: &'t str) -> Cow<'t, str> {
        if self.have(text) {
            return Cow::Borrowed(text);
        }
        let one = |c: char| {
            if self.known(c) {
                return c;
            }
            self.missing.borrow_mut().insert(c);
            '?'
        };
        Cow::Owned(text.chars().map(one).collect())
    }

    /// What [`Fonts::printable`] has replaced so far.
    pub(super) fn missing(&self) -> BTreeSet<char> {
        self.missing.borrow().clone()
    }

    /// A text broken into lines no wider than `room`, mm; a word that is wider is broken within.
    pub(super) fn lines(&self, text: &str, look: Look, room: f64) -> Vec<String> {
        let face = self.face(look);
        let mut lines: Vec<String> = Vec::new();
        // The line so far, and its width in parts of the letters' square, summed up from its first letter on.
        let (mut line, mut width) = (String::new(), 0.0);
        for word in self.printable(text).split_whitespace() {
            let gap = if line.is_empty() { "" } else { " " };
            let more = gap.chars().chain(word.chars());
            let longer = more.fold(width, |sum, c| sum + face.width(c));
            if look.size * longer <= room {
                line.push_str(gap);
                line.push_str(word);
                width = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
                width = 0.0;
            }
            for c in word.chars() {
                let longer = width + face.width(c);
                if look.size * longer > room && !line.is_empty() {
                    lines.push(std::mem::replace(&mut line, c.to_string()));
                    width = face.width(c);
                } else {
                    line.push(c);
                    width = longer;
                }
            }
        }
        lines.push(line);
        lines
    }

    /// A text cut short with an ellipsis where it is wider than `room`, mm.
    pub(super) fn shortened(&self, text: &str, look: Look, room: f64) -> String {
        let text = self.printable(text);
        if self.width(&text, look) <= room {
            return text.into_owned();
        }
        let mut kept = String::new();
        for c in text.chars() {
            kept.push(c);
            if self.width(&kept, look) + self.width("…", look) > room {
                kept.pop();
                break;
            }
        }
        format!("{}…", kept.trim_end())
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    /// What nobody looks for in a font is there in both.
    #[test]
    fn both_fonts_have_all_plain_letters() {
        let fonts = Fonts::new().unwrap();
        let plain: Vec<char> = (0..=0x7fu8)
            .map(char::from)
            .filter(|&c| in_every_font(c))
            .collect();
        assert_eq!(plain.len(), 94 + 5, "graphic ASCII, and its white space");
        for face in [&fonts.plain, &fonts.bold] {
            for c in plain.iter().filter(|c| c.is_ascii_graphic()) {
                assert!(face.letters.map(*c).is_some_and(|g| g.to_u32() != 0), "{c}");
            }
        }
        assert!(!in_every_font('\u{7f}') && !in_every_font('é') && fonts.have("é × °"));
    }

    #[test]
    fn a_letter_that_a_font_lacks_becomes_a_question_mark() {
        let fonts = Fonts::new().unwrap();
        assert!(matches!(fonts.printable("a × b"), Cow::Borrowed("a × b")));
        assert_eq!(fonts.printable("組 × b\u{1}"), "? × b?");
        assert_eq!(fonts.missing(), BTreeSet::from(['\u{1}', '組']));
    }
}
