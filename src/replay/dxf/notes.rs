//! What the notes of a file must say.

use super::{CORNER, Proof, fault, missing};
use crate::path::Head;
use crate::write::dxf::{DxfContent, DxfSubject};

impl Proof<'_> {
    /// Notes stand below what is drawn; the first says what it is, and one in which size and unit.
    pub(super) fn notes(&mut self) {
        let content = self.file.content;
        let mut first = None;
        let mut size = None;
        for (line, text, at, height) in self.scan.texts(&self.style.note.name) {
            if at.y + height > 0.0 {
                let what = format!("note \"{text}\" lies on the sheet");
                self.faults.push(fault("dxf-note", line, what));
            }
            first = first.or(Some((line, text)));
            if size.is_none() && text.starts_with("Size: ") {
                size = Some((line, text));
            }
        }
        let subject = self.subject();
        match first {
            Some((_, text)) if text.starts_with(&subject) => {}
            Some((line, text)) => {
                let what = format!("note \"{text}\" does not begin \"{subject}\"");
                self.faults.push(fault("dxf-note", line, what));
            }
            None => self
                .faults
                .push(missing("dxf-note", "no note says what is shown".to_owned())),
        }
        let Some((line, text)) = size else {
            let what = "no note says whether the size is drawn or compensated".to_owned();
            self.faults.push(missing("dxf-note", what));
            return;
        };
        let (kind, width) = match content {
            DxfContent::Drawn => ("Size: drawn, unit mm", None),
            DxfContent::Compensated(program) => match program.head {
                Head::Beam { kerf, .. } => ("Size: kerf-compensated, unit mm", Some(kerf)),
                Head::Cutter { diameter, .. } => {
                    ("Size: tool-compensated, unit mm", Some(diameter))
                }
            },
        };
        let says_width = width.is_none_or(|width| {
            let mut words = text.split(' ').filter_map(|word| word.parse::<f64>().ok());
            words.any(|number| (number - width).abs() <= CORNER)
        });
        if !text.starts_with(kind) || !says_width {
            let what = format!("note \"{text}\" does not say \"{kind}\" with kerf or tool");
            self.faults.push(fault("dxf-note", line, what));
        }
    }

    /// How the first note must begin.
    fn subject(&self) -> String {
        let sheet = self.file.subject.sheet();
        match self.file.subject {
            DxfSubject::Sheet(_) => match (sheet.number, sheet.alike.len()) {
                (number, 0 | 1) => format!("Sheet {number}: "),
                (first, loads) => {
                    let last = first + loads - 1;
                    format!("Sheets {first} to {last}, cut {loads} times, a new sheet each: ")
                }
            },
            DxfSubject::Piece { placement, .. } => {
                let piece = sheet.placements[placement].piece;
                let layout = self.file.layout;
                let class = &layout.pieces[piece].class;
                let all = layout.sheets.iter().flat_map(|sheet| {
                    let own = sheet.placements.iter();
                    own.flat_map(|p| std::iter::repeat_n(p.piece, sheet.alike.len().max(1)))
                });
                let count = all.filter(|&p| p == piece).count();
                format!("Piece {class}: cut {count} in all, ")
            }
        }
    }
}
