//! The notes below a drawing: what it is, which size its contours have, which layers are cut.

use super::{DxfContent, DxfFile, TextLine, label};
use crate::geom::micron;
use crate::panel::{DxfStyle, DxfVersion};
use crate::path::{Head, Note};
use crate::setup::{FlatSheet, groove_floor};

/// Height of a note, mm.
const HEIGHT: f64 = 4.0;
/// Distance from line to line, mm.
const PITCH: f64 = 7.0;
/// Free space below what is drawn, mm.
const GAP: f64 = 8.0;

/// Most letters of a line: what DXF text holds in every release (DXF reference, group 1: 255).
const LONGEST: usize = 250;

/// Our own notes, then those of the caller, one below the other; the first hangs below `top`.
pub(super) fn lines(file: &DxfFile<'_>, more: &[Note], top: f64) -> Vec<TextLine> {
    let own = own(file);
    let texts = own
        .iter()
        .chain(more.iter().map(|note| &note.text))
        .map(|text| plain(text))
        .flat_map(|text| wrapped(&text));
    let mut y = top.min(0.0) - GAP - HEIGHT;
    let mut lines = Vec::new();
    for text in texts {
        lines.push(TextLine {
            text,
            x: 0.0,
            y,
            height: HEIGHT,
        });
        y -= PITCH;
    }
    lines
}

fn own(file: &DxfFile<'_>) -> Vec<String> {
    let sheet = file.subject.sheet();
    let thick = micron(sheet.thickness);
    let what = match file.piece() {
        None => {
            let (length, width) = (micron(sheet.length), micron(sheet.width));
            let size = format!("{}, {length} x {width} x {thick} mm", sheet.stock);
            match sheet.loads() {
                1 => format!("Sheet {}: {size}", sheet.number),
                loads => format!(
                    "Sheets {}, cut {loads} times, a new sheet each: {size}",
                    sheet.numbers()
                ),
            }
        }
        Some(piece) => {
            let (length, depth) = (micron(piece.length), micron(piece.depth));
            format!(
                "Piece {}: cut {} in all, each {length} x {depth} x {thick} mm",
                piece.class,
                file.count()
            )
        }
    };
    let DxfStyle {
        outline,
        notch,
        groove,
        fold,
        label,
        note,
        stock,
    } = file.style;
    let cut = match file.content {
        DxfContent::Drawn => format!("Cut layer {}.", outline.name),
        DxfContent::Compensated(_) => {
            format!(
                "Cut layers {} and {}, in the order of the file.",
                notch.name, outline.name
            )
        }
    };
    let mut lines = vec![
        what,
        format!("Size: {}", size(file.content)),
        format!(
            "{cut} Never cut layers {}, {} and {}.",
            label.name, note.name, stock.name
        ),
    ];
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
        DxfContent::Compensated(program) => match program.head {
            Head::Beam { kerf, .. } => format!(
                "kerf-compensated, unit mm. Contours are the path of the beam's centre for a \
                 kerf of {} mm; do not compensate again.",
                micron(kerf)
            ),
            Head::Cutter { diameter, .. } => format!(
                "tool-compensated, unit mm. Contours are the path of the tool's centre for a \
                 tool diameter of {} mm; do not compensate again.",
                micron(diameter)
            ),
        },
    }
}

/// The text in lines of at most [`LONGEST`] letters, broken at blanks where there are any. `text` is
/// ASCII.
fn wrapped(text: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut rest = text.trim();
    while let Some((first, _)) = rest.split_at_checked(LONGEST) {
        let at = first.rfind(' ').unwrap_or(LONGEST);
        let (line, after) = rest.split_at(at);
        lines.push(line.trim_end().to_owned());
        rest = after.trim_start();
    }
    if !rest.is_empty() {
        lines.push(rest.to_owned());
    }
    lines
}

/// The text with everything that DXF text does not carry letter by letter replaced by `?`.
fn plain(text: &str) -> String {
    let one = |c: char| if c == '\t' { ' ' } else { c };
    let plain: String = text
        .trim()
        .chars()
        .map(one)
        .map(|c| {
            if label::is_plain(c.encode_utf8(&mut [0; 4])) {
                c
            } else {
                '?'
            }
        })
        .collect();
    plain.replace("%%", "??")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_stay_letter_by_letter() {
        assert_eq!(
            plain(" K\u{fc}che 50%%d ^J \\P "),
            "K?che 50??d ?J ?P",
            "codes become marks"
        );
        assert!(label::is_plain(&plain("%%%%\u{7f}\n")), "no code survives");
    }

    #[test]
    fn long_notes_are_broken_into_lines() {
        let word = "stock ";
        let text = word.repeat(100);
        let lines = wrapped(&text);
        assert!(lines.iter().all(|line| line.len() <= 255), "{lines:?}");
        assert_eq!(lines.join(" "), text.trim(), "no word is lost or broken");
        let solid = "x".repeat(600);
        let lines = wrapped(&solid);
        assert!(
            lines
                .iter()
                .all(|line| !line.is_empty() && line.len() <= 255),
            "{lines:?}"
        );
        assert_eq!(lines.concat(), solid, "no letter is lost");
        assert!(wrapped("  ").is_empty(), "a blank note is none");
    }
}
