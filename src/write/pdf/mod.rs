//! The workshop sheet as PDF: vectors, subset fonts of our own, no clock.
//!
//! Blocks of the document flow onto leaves (`flow.rs`, tables in `table.rs`), and the leaves are painted
//! (`paint.rs`). Lengths are mm from the upper left corner of a leaf, y down; what the PDF counts in is met
//! in `paint.rs` alone.

mod flow;
mod fonts;
mod paint;
mod picture;
mod shape;
mod table;

use std::collections::BTreeSet;
use std::fmt;

use crate::document::Document;

/// A document as PDF.
#[derive(Debug, Clone, PartialEq)]
pub struct Pdf {
    /// The file.
    pub bytes: Vec<u8>,
    /// Characters that the fonts do not have: a question mark stands for each.
    pub missing: BTreeSet<char>,
}

/// Why a document cannot be written.
#[derive(Debug, Clone, PartialEq)]
pub enum PdfError {
    /// The fonts that the program carries cannot be read.
    Fonts,
    /// A picture cannot be read: what it shows, and what its reader says.
    Picture(String, String),
    /// A picture to measure from is larger than the page's room: what it shows, its width and height and
    /// those of the room, mm.
    TooLarge {
        /// What it shows.
        what: String,
        /// Its width and height, mm.
        size: [f64; 2],
        /// Width and height of the page's room, mm.
        room: [f64; 2],
    },
    /// The PDF's writer refused.
    Writer(String),
}

impl fmt::Display for PdfError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Fonts => write!(f, "the sheet's fonts cannot be read"),
            Self::Picture(what, why) => write!(f, "the picture \"{what}\" cannot be read: {why}"),
            Self::TooLarge { what, size, room } => write!(
                f,
                "the picture \"{what}\" is {:.1} x {:.1} mm, and the page has room for {:.1} x {:.1} at \
                 true size",
                size[0], size[1], room[0], room[1]
            ),
            Self::Writer(why) => write!(f, "the PDF cannot be written: {why}"),
        }
    }
}

impl std::error::Error for PdfError {}

/// Writes a document.
///
/// # Errors
/// A picture to measure from that is larger than the page, a picture that is no SVG of ours, and what the
/// PDF's writer refuses.
pub fn pdf(document: &Document) -> Result<Pdf, PdfError> {
    let fonts = fonts::Fonts::new().ok_or(PdfError::Fonts)?;
    let flowed = flow::flow(document, &fonts)?;
    let bytes = paint::paint(&document.title, &flowed, &fonts)?;
    Ok(Pdf {
        bytes,
        missing: fonts.missing(),
    })
}

/// Whether the fonts have all letters of a text, so that no question mark stands for one.
#[must_use]
pub fn prints(text: &str) -> bool {
    text.chars().all(fonts::in_every_font) || fonts::Fonts::new().is_some_and(|f| f.have(text))
}

/// Free of anything printed, mm: left and right, top and bottom.
const MARGIN: [f64; 2] = [10.0, 10.0];
/// Height of the line at the head of every page, within the top margin's end, mm.
const HEAD: f64 = 7.0;

/// The room that a leaf has for blocks, mm: what a picture at true size may take.
#[must_use]
pub fn room(leaf: [f64; 2]) -> [f64; 2] {
    [leaf[0] - 2.0 * MARGIN[0], leaf[1] - 2.0 * MARGIN[1] - HEAD]
}
