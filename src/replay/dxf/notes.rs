//! What the notes of a file must say.

use super::scan::covered;
use super::{CORNER, Proof, fault};
use crate::panel::CutWidth;
use crate::setup::{BatchKind, FlatSheet};
use crate::write::dxf::DxfContent;

/// Least height of a note, mm: the smallest of the nominal sizes of lettering of ISO 3098 that can be read at arm's
/// length (from memory).
const SMALLEST: f64 = 2.5;

impl Proof<'_> {
    /// Notes stand clear of all that is cut, in letters that can be read; the first says what the drawing is, and one
    /// in which size and unit. A sheet may have none, and a piece has none: then they are in
    /// the notes beside the files alone.
    pub(super) fn notes(&mut self) {
        let notes: Vec<_> = self.scan.texts(&self.style.note.name).collect();
        let Some(&(first, ..)) = notes.first() else {
            return;
        };
        for (line, text, at, height) in &notes {
            let shared = covered(text, *at, *height).intersect(self.cut);
            if shared.width() > 0.0 && shared.height() > 0.0 {
                let what = format!("note \"{text}\" lies on what is cut");
                self.faults.push(fault("dxf-note", *line, what));
            }
            if *height < SMALLEST - CORNER {
                let what = format!("note \"{text}\" is {height} mm high: too small to be read");
                self.faults.push(fault("dxf-note", *line, what));
            }
        }
        // A note may be broken into lines.
        let lines: Vec<&str> = notes.iter().map(|(_, text, ..)| *text).collect();
        let text = lines.join(" ");
        let subject = subject(self.file.layout.kind, self.file.subject.sheet());
        if !text.starts_with(&subject) {
            let what = format!("note \"{text}\" does not begin \"{subject}\"");
            self.faults.push(fault("dxf-note", first, what));
        }
        let (kind, width) = match self.file.content {
            DxfContent::Drawn => ("Size: drawn, unit mm", None),
            DxfContent::Compensated(paths) => match paths.width {
                CutWidth::Kerf(kerf) => ("Size: kerf-compensated, unit mm", Some(kerf)),
                CutWidth::Tool(diameter) => ("Size: tool-compensated, unit mm", Some(diameter)),
            },
        };
        let size = text.split_once(kind).map(|(_, told)| {
            let again = told.split_once("compensate again");
            again.map_or(told, |(size, _)| size)
        });
        let says_width = |told: &str| {
            width.is_none_or(|width| {
                let mut words = told.split(' ').filter_map(|word| word.parse::<f64>().ok());
                words.any(|number| (number - width).abs() <= CORNER)
            })
        };
        if !size.is_some_and(says_width) {
            let what = format!("no note says \"{kind}\" with kerf or tool");
            self.faults.push(fault("dxf-note", first, what));
        }
    }
}

/// How the first note of a sheet must begin.
fn subject(batch: BatchKind, sheet: &FlatSheet) -> String {
    let (batch, s) = match batch {
        BatchKind::Infill(None) => ("Infill, ".to_owned(), 's'),
        BatchKind::Infill(Some(number)) => (format!("Infill {number}, "), 's'),
        BatchKind::Members | BatchKind::Coupon(_) => (String::new(), 'S'),
    };
    match (sheet.number, sheet.alike.len()) {
        (number, 0 | 1) => format!("{batch}{s}heet {number}: "),
        (first, loads) => {
            let last = first + loads - 1;
            format!("{batch}{s}heets {first} to {last}, cut {loads} times, a new sheet each: ")
        }
    }
}
