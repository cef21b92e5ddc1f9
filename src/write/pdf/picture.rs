//! Pictures as the PDF takes them.

use usvg::Tree;

use super::PdfError;
use super::fonts::Fonts;
use crate::document::Figure;

/// Points of an SVG in a millimetre: 96 to the inch (CSS 2.2, 4.3.2).
const DOTS: f64 = 96.0 / 25.4;

/// A picture that has been read.
pub(super) struct Picture {
    pub(super) tree: Tree,
    /// Width and height, mm.
    pub(super) size: [f64; 2],
}

impl Picture {
    pub(super) fn read(figure: &Figure, fonts: &Fonts) -> Result<Self, PdfError> {
        let wrong = |why: String| PdfError::Picture(figure.alt.clone(), why);
        let svg = std::str::from_utf8(&figure.svg).map_err(|e| wrong(e.to_string()))?;
        // Only texts hold letters that a font may lack: markup is ASCII.
        let svg = fonts.printable(svg);
        let tree = Tree::from_str(&svg, &fonts.for_pictures()).map_err(|e| wrong(e.to_string()))?;
        let size = [tree.size().width(), tree.size().height()].map(|v| f64::from(v) / DOTS);
        Ok(Self { tree, size })
    }
}
