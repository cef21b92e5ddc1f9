//! Labels on pages, to print at full size and cut apart.

use crate::geom::Point;
use crate::panel::Paper;
use crate::write::labels::Label;

use super::paint::{HAIRLINE, Hold, INK, Paint, SMALL, Type, shortened, text_width};

/// Margin that printers leave, mm (from memory).
const MARGIN: f64 = 9.0;
/// Between the edge of a label and what stands on it, mm.
const PAD: f64 = 3.5;

/// How labels lie on a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LabelGrid {
    /// Labels side by side.
    pub across: usize,
    /// Labels one above the other.
    pub down: usize,
    /// Height of the line that stands out, mm.
    head: f64,
}

/// Eight to a page: what a kit holds.
pub const KIT_GRID: LabelGrid = LabelGrid {
    across: 2,
    down: 4,
    head: 6.5,
};
/// Twenty-four to a page: a bundle of one class.
pub const BUNDLE_GRID: LabelGrid = LabelGrid {
    across: 3,
    down: 8,
    head: 9.0,
};

/// Columns of pieces on the label of a kit.
const COLUMNS: usize = 4;
/// From line to line, mm.
const LINE: f64 = 4.4;

/// One picture for each page of labels, in their order: row by row from the top.
#[must_use]
pub fn labels_svg(labels: &[Label], grid: LabelGrid, paper: Paper, title: &str) -> Vec<Vec<u8>> {
    let [width, height] = paper.size();
    let per_page = grid.across * grid.down;
    let pages = labels.len().div_ceil(per_page);
    let page = |(number, labels): (usize, &[Label])| {
        let mut paint = Paint::new(1.0);
        let size = [
            (width - 2.0 * MARGIN) / grid.across as f64,
            (height - 2.0 * MARGIN) / grid.down as f64,
        ];
        for (k, label) in labels.iter().enumerate() {
            let at = Point::new(
                MARGIN + size[0] * (k % grid.across) as f64,
                MARGIN + size[1] * (k / grid.across) as f64,
            );
            draw(&mut paint, label, grid, at, size);
        }
        let foot = format!(
            "{title}: page {number} of {pages}. Print at full size (100 percent), cut on the lines."
        );
        let kind = Type::new(SMALL).faint();
        let room = width - 2.0 * MARGIN;
        paint.text(
            MARGIN,
            height - 0.4 * MARGIN,
            kind,
            &shortened(&foot, kind, room),
        );
        paint.page(width, height, title)
    };
    (1..).zip(labels.chunks(per_page)).map(page).collect()
}

fn draw(paint: &mut Paint, label: &Label, grid: LabelGrid, at: Point, size: [f64; 2]) {
    let frame = format!("fill=\"none\" stroke=\"{INK}\" stroke-width=\"{HAIRLINE}\"");
    paint.rect(at, size[0], size[1], &frame);
    let (left, room) = (at.x + PAD, size[0] - 2.0 * PAD);
    let mut y = at.y + PAD + 0.75 * grid.head;
    // A long head is set smaller, so that it stays whole.
    let wide = text_width(&label.head, grid.head);
    let head = Type::new(grid.head * (room / wide).min(1.0)).bold();
    paint.text(left, y, head, &shortened(&label.head, head, room));
    for line in &label.lines {
        y += LINE;
        let kind = Type::new(3.2);
        paint.text(left, y, kind, &shortened(line, kind, room));
    }
    y += 1.2;
    let column = room / COLUMNS as f64;
    let rows = label.pieces.len().div_ceil(COLUMNS).max(1);
    for (k, piece) in label.pieces.iter().enumerate() {
        // Down one column, then the next.
        let (c, r) = (k / rows, k % rows);
        let kind = Type::new(3.4).hold(Hold::Start);
        let text = shortened(piece, kind, column - 1.0);
        paint.text(
            left + column * c as f64,
            y + LINE * (r + 1) as f64,
            kind,
            &text,
        );
    }
}
