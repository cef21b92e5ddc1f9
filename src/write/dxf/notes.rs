//! The notes below a sheet: what it is, which size its contours have, which layers are cut.

use super::{DxfContent, TextLine, label};
use crate::geom::micron;
use crate::panel::DxfStyle;
use crate::path::Head;
use crate::setup::FlatSheet;

/// Height of a note, mm.
const HEIGHT: f64 = 4.0;
/// Distance from line to line, mm.
const PITCH: f64 = 7.0;
/// Free space below the sheet, mm.
const GAP: f64 = 8.0;

/// Our own notes, then those of the caller, set below the sheet.
pub(super) fn lines(
    sheet: &FlatSheet,
    content: DxfContent<'_>,
    style: &DxfStyle,
    more: &[String],
) -> Vec<TextLine> {
    let own = own(sheet, content, style);
    let texts = own
        .iter()
        .chain(more)
        .map(|text| plain(text))
        .filter(|text| !text.is_empty());
    let mut y = -GAP - HEIGHT;
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

fn own(sheet: &FlatSheet, content: DxfContent<'_>, style: &DxfStyle) -> Vec<String> {
    let (length, width, thick) = (
        micron(sheet.length),
        micron(sheet.width),
        micron(sheet.thickness),
    );
    let size = match content {
        DxfContent::Drawn => {
            "Size: drawn, unit mm. Contours are the finished outlines; kerf or tool \
            diameter is not taken in."
                .to_owned()
        }
        DxfContent::Compensated(program) => match program.head {
            Head::Beam { kerf, .. } => format!(
                "Size: kerf-compensated, unit mm. Contours are the path of the beam's centre for a \
                 kerf of {} mm; do not compensate again.",
                micron(kerf)
            ),
            Head::Cutter { diameter, .. } => format!(
                "Size: tool-compensated, unit mm. Contours are the path of the tool's centre for a \
                 tool diameter of {} mm; do not compensate again.",
                micron(diameter)
            ),
        },
    };
    let DxfStyle {
        outline,
        notch,
        label,
        note,
        stock,
    } = style;
    let cut = match content {
        DxfContent::Drawn => format!("Cut layer {}.", outline.name),
        DxfContent::Compensated(_) => {
            format!(
                "Cut layers {} and {}, in the order of the file.",
                notch.name, outline.name
            )
        }
    };
    vec![
        format!(
            "Sheet {}: {}, {length} x {width} x {thick} mm",
            sheet.number, sheet.stock
        ),
        size,
        format!(
            "{cut} Never cut layers {}, {} and {}.",
            label.name, note.name, stock.name
        ),
        "Bridges and tabs are not drawn: see that no piece can drop or lift when it is cut free."
            .to_owned(),
    ]
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
}
