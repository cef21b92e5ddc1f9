//! The notes on a sheet: what it is, which size its contours have, which layers are cut. They stand on the stock
//! beside all that is cut, or in the notes beside the files alone.

use kurbo::Rect;

use super::{DxfContent, DxfFile, LETTER_WIDTH, TextLine, carried};
use crate::document::capital;
use crate::geom::micron;
use crate::panel::{CutWidth, DxfStyle, DxfVersion};
use crate::path::{CutKind, Note, NoteKind};
use crate::setup::{FlatSheet, groove_floor};

/// Heights of a note that are tried, mm: nominal sizes of lettering of ISO 3098 (from memory).
pub(crate) const HEIGHTS: [f64; 3] = [5.0, 3.5, 2.5];
/// Distance from line to line, in heights.
const PITCH: f64 = 1.75;
/// Free space to the edges of the stock and to what is cut, mm.
const GAP: f64 = 4.0;

/// Fewest letters of a line, so that it can be read.
const FEWEST: usize = 40;
/// Most letters of a line: what DXF text holds in every release (DXF reference, group 1: 255).
const LONGEST: usize = 250;

/// Where the other notes are, where only the first find room.
const MORE: &str = "More: notes.txt beside this file.";

/// The stock, and how much of it is cut.
pub(super) struct Room {
    pub(super) stock: Rect,
    pub(super) cut: Rect,
}

impl Room {
    /// The stretches of stock above, right of, below and left of all that is cut.
    fn bands(&self) -> [Rect; 4] {
        let (stock, cut) = (self.stock.inset(-GAP), self.cut.inset(GAP));
        [
            Rect {
                y0: cut.y1,
                ..stock
            },
            Rect {
                x0: cut.x1,
                ..stock
            },
            Rect {
                y1: cut.y0,
                ..stock
            },
            Rect {
                x1: cut.x0,
                ..stock
            },
        ]
    }
}

/// Our own notes, then those of the caller, one below the other, as high as they find room; else those alone that say
/// what this is, in which size, whose, and that no beam may cut it, the last of them first to be left out; else none.
pub(super) fn lines(
    file: &DxfFile<'_>,
    sheet: &FlatSheet,
    more: &[Note],
    room: &Room,
) -> Vec<TextLine> {
    let own = own(file, sheet);
    let further: Vec<&str> = more.iter().map(|note| note.text.as_str()).collect();
    let whose = further.first().copied();
    let carried = |text: &str| carried(text, file.version);
    let first = own.iter().take(2).map(String::as_str).chain(whose);
    let first: Vec<String> = first.map(carried).collect();
    let no_beam = more.iter().filter(|note| note.kind == NoteKind::NoBeam);
    let no_beam = no_beam.map(|note| carried(&note.text));
    let with_more = |texts: Vec<String>| [texts, vec![carried(MORE)]].concat();
    let few = with_more(first.iter().cloned().chain(no_beam).collect());
    let fewest = with_more(first);
    let all = own.iter().map(String::as_str).chain(further);
    let all: Vec<String> = all.map(carried).collect();
    let bands = room.bands();
    let set = |texts: &[String]| {
        let tries = HEIGHTS
            .iter()
            .flat_map(|&height| bands.map(|band| (height, band)));
        let mut tries = tries.into_iter();
        tries.find_map(|(height, band)| set_in(band, height, texts))
    };
    let sets = [&all, &few, &fewest];
    sets.into_iter()
        .find_map(|texts| set(texts))
        .unwrap_or_default()
}

/// The lines in a stretch of stock, from its upper left corner on; `None` where it is too small.
fn set_in(band: Rect, height: f64, texts: &[String]) -> Option<Vec<TextLine>> {
    let fits = |letters: &usize| *letters as f64 * LETTER_WIDTH * height <= band.width();
    let most = (FEWEST..=LONGEST).rev().find(fits)?;
    let mut top = band.y1;
    let mut lines = Vec::new();
    for text in texts.iter().flat_map(|text| wrapped(text, most)) {
        let y = top - height;
        lines.push(TextLine {
            text,
            x: band.x0,
            y,
            height,
        });
        top -= PITCH * height;
    }
    let lowest = lines.last().map(|line| line.y);
    lowest.is_some_and(|y| y >= band.y0).then_some(lines)
}

fn own(file: &DxfFile<'_>, sheet: &FlatSheet) -> Vec<String> {
    let [length, width, thick] = [sheet.length, sheet.width, sheet.thickness].map(micron);
    let size = format!("{}, {length} x {width} x {thick} mm", sheet.stock);
    let which = match sheet.loads() {
        1 => format!("sheet {}", sheet.number),
        loads => format!(
            "sheets {}, cut {loads} times, a new sheet each",
            sheet.numbers()
        ),
    };
    let which = capital(&(file.layout.kind.words() + &which));
    let what = format!("{which}: {size}");
    let mut lines = vec![
        what,
        format!("Size: {}", self::size(file.content)),
        cut_and_not(file),
    ];
    let DxfStyle { groove, fold, .. } = file.style;
    if file.has_grooves() {
        lines.push(format!(
            "Layer {}: {} Cut the grooves before the outlines.",
            groove.name,
            grooves(sheet)
        ));
    }
    if file.has_folds() {
        lines.push(format!("Layer {}: {FOLDS}", fold.name));
    }
    if file.version == DxfVersion::R12 {
        lines.push("DXF R12 holds no unit: take every figure as mm.".to_owned());
    }
    lines.push(BRIDGES.to_owned());
    lines
}

/// Which layers are cut, and which never.
fn cut_and_not(file: &DxfFile<'_>) -> String {
    if !file.parts.cuts {
        let cut = file.cut_name();
        return format!("Nothing in this file is cut: what is cut is in {cut}.");
    }
    let DxfStyle {
        outline,
        notch,
        label,
        note,
        stock,
        ..
    } = file.style;
    let notched = match file.content {
        DxfContent::Drawn => false,
        DxfContent::Compensated(paths) => {
            let mut paths = paths.contours.iter();
            paths.any(|path| path.kind == CutKind::Notch)
        }
    };
    let cut = match (file.content, notched) {
        (DxfContent::Drawn, _) => format!("Cut layer {}.", outline.name),
        (DxfContent::Compensated(_), false) => {
            format!("Cut layer {}, in the order of the file.", outline.name)
        }
        (DxfContent::Compensated(_), true) => format!(
            "Cut layers {} and {}, in the order of the file.",
            notch.name, outline.name
        ),
    };
    format!(
        "{cut} Never cut layers {}, {} and {}.",
        label.name, note.name, stock.name
    )
}

/// The note on bridges and tabs.
pub(crate) const BRIDGES: &str =
    "Bridges and tabs are not drawn: see that no piece can drop or lift when it is cut free.";

/// The note on the dashes of folds.
pub(crate) const FOLDS: &str = "cut: dashes along which pieces are folded, cut through along their line, \
                                before the outlines; what is between them stays.";

/// The note on grooves between pieces that stay joined.
pub(crate) fn grooves(sheet: &FlatSheet) -> String {
    format!(
        "grooves, cut only down to {} mm above the stock's underside; they join pieces too short to be \
         held. Saw the pieces apart in them, then pare the ends to the grooves' walls.",
        micron(groove_floor(sheet.thickness))
    )
}

/// Which size its contours have, in which unit.
pub(crate) fn size(content: DxfContent<'_>) -> String {
    match content {
        DxfContent::Drawn => "drawn, unit mm. Contours are the finished outlines; kerf or tool \
            diameter is not taken in."
            .to_owned(),
        DxfContent::Compensated(paths) => match paths.width {
            CutWidth::Kerf(kerf) => format!(
                "kerf-compensated, unit mm. Contours are the path of the beam's centre for a \
                 kerf of {} mm; do not compensate again.",
                micron(kerf)
            ),
            CutWidth::Tool(diameter) => format!(
                "tool-compensated, unit mm. Contours are the path of the tool's centre for a \
                 tool diameter of {} mm; do not compensate again.",
                micron(diameter)
            ),
        },
    }
}

/// The text in lines of at most so many letters, broken at blanks where there are any.
fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut rest = text.trim();
    while let Some((end, next)) = rest.char_indices().nth(most) {
        let (first, _) = rest.split_at(end);
        let at = match next {
            ' ' => end,
            _ => first.rfind(' ').unwrap_or(end),
        };
        let (line, after) = rest.split_at(at);
        lines.push(line.trim_end().to_owned());
        rest = after.trim_start();
    }
    if !rest.is_empty() {
        lines.push(rest.to_owned());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_stay_letter_by_letter() {
        use DxfVersion::{R12, R2000};
        // DXF reference, TEXT: %%d degrees, %%c diameter, ^J a line's end, \U+nnnn a letter.
        let text = " K\u{fc}che 50%%d ^J %%%c \\U+00F6 ";
        assert_eq!(carried(text, R2000), "K\u{fc}che 50% %d  J % % %c /U+00F6");
        assert_eq!(carried(text, R12), "Kuche 50% %d  J % % %c /U+00F6");
        let all: String = ('\0'..='\u{2fff}').chain(['%'; 5]).collect();
        for version in [R2000, R12] {
            let carried = carried(&all, version);
            assert!(!carried.contains(['^', '\\']) && !carried.contains("%%"));
            assert!(!carried.chars().any(char::is_control));
            assert_eq!(carried.is_ascii(), version == R12);
        }
    }

    /// A sheet of 420 x 297 mm of which so much is cut.
    fn room(cut: Rect) -> Room {
        let stock = Rect::new(0.0, 0.0, 420.0, 297.0);
        Room { stock, cut }
    }

    fn set(room: &Room, texts: &[String]) -> Option<(Rect, f64)> {
        let tries = HEIGHTS
            .iter()
            .flat_map(|&height| room.bands().map(|band| (height, band)));
        let mut tries = tries.into_iter();
        let lines = tries.find_map(|(height, band)| set_in(band, height, texts))?;
        let covers = lines.iter().map(|line| {
            let width = line.text.chars().count() as f64 * LETTER_WIDTH * line.height;
            Rect::new(line.x, line.y, line.x + width, line.y + line.height)
        });
        let height = lines.first()?.height;
        Some((covers.reduce(|a, b| a.union(b))?, height))
    }

    #[test]
    fn notes_stand_on_the_stock_clear_of_what_is_cut() {
        let texts = vec!["Hold the stock down and brush the bed off.".to_owned(); 9];
        for cut in [
            Rect::new(8.0, 8.0, 412.0, 120.0),
            Rect::new(8.0, 150.0, 412.0, 289.0),
            Rect::new(8.0, 8.0, 180.0, 289.0),
            Rect::new(230.0, 8.0, 412.0, 289.0),
            // Less room: smaller letters.
            Rect::new(8.0, 8.0, 412.0, 240.0),
            Rect::new(8.0, 8.0, 300.0, 289.0),
        ] {
            let room = room(cut);
            let Some((covers, height)) = set(&room, &texts) else {
                unreachable!("there is room beside {cut:?}")
            };
            assert!(HEIGHTS.contains(&height), "{height} mm high");
            assert_eq!(
                covers.union(room.stock),
                room.stock,
                "{covers:?} on the stock"
            );
            let shared = covers.intersect(cut);
            assert_eq!(shared.area(), 0.0, "{covers:?} clear of {cut:?}");
        }
        let full = room(Rect::new(8.0, 8.0, 412.0, 289.0));
        assert_eq!(set(&full, &texts), None, "no room is left");
        let narrow = room(Rect::new(8.0, 8.0, 330.0, 270.0));
        assert_eq!(
            set(&narrow, &texts),
            None,
            "nor enough for letters that can be read"
        );
    }

    #[test]
    fn long_notes_are_broken_into_lines() {
        let word = "stock ";
        let text = word.repeat(100);
        let lines = wrapped(&text, LONGEST);
        assert!(lines.iter().all(|line| line.len() <= 255), "{lines:?}");
        assert_eq!(lines.join(" "), text.trim(), "no word is lost or broken");
        let solid = "x".repeat(600);
        let lines = wrapped(&solid, LONGEST);
        assert!(
            lines
                .iter()
                .all(|line| !line.is_empty() && line.len() <= 255),
            "{lines:?}"
        );
        assert_eq!(lines.concat(), solid, "no letter is lost");
        assert!(wrapped("  ", LONGEST).is_empty(), "a blank note is none");
    }
}
