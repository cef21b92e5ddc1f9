//! Tables: widths of columns, and rows that break over pages under a head that is repeated.

use super::flow::{FAINT, Flow, INK, ROUND_OFF, SHADE};
use super::fonts::{Fonts, Look};
use crate::document::{Cells, Table};

/// Letters of cells and heads.
const CELL: Look = Look::new(2.9);
const HEAD: Look = CELL.bold();
/// Free on both sides of a cell's text, and above and below it, mm.
const PAD: [f64; 2] = [1.4, 0.7];
/// A row taller than this breaks rather than move to the next page, as a share of the page.
const TALL: f64 = 0.3;

/// Widths of the columns, mm, together no more than `room`: as wide as their texts, or else narrowed from
/// the widest down, but no column below its longest word, or its longest number, which may have blanks in it, as
/// long as there is room for that.
fn widths(table: &Table, fonts: &Fonts, room: f64) -> Vec<f64> {
    let n = table.columns.len().max(1);
    let clear = room - 2.0 * PAD[0] * n as f64;
    type Measure<'a> = &'a dyn Fn(&str, Look) -> f64;
    let of = |i: usize, heads: Measure<'_>, cells: Measure<'_>| {
        let head = table.columns.get(i).map_or(0.0, |c| heads(&c.head, HEAD));
        let own = table.rows.iter().filter_map(|row| row.get(i));
        own.map(|c| cells(c, CELL)).fold(head, f64::max)
    };
    let whole = |text: &str, look: Look| fonts.width(text, look);
    let word = |text: &str, look: Look| {
        let words = text.split_whitespace();
        words.map(|w| fonts.width(w, look)).fold(0.0, f64::max)
    };
    let unbroken = |i: usize| -> Measure<'_> {
        match table.columns.get(i).map(|c| c.cells) {
            Some(Cells::Numbers) => &whole,
            _ => &word,
        }
    };
    let wanted: Vec<f64> = (0..n).map(|i| of(i, &whole, &whole) + 0.01).collect();
    let least: Vec<f64> = (0..n).map(|i| of(i, &word, unbroken(i)) + 0.01).collect();
    let level = |floor: &[f64]| {
        // The width to which the widest are cut down: found by halving, always the same number of times.
        let (mut low, mut high) = (0.0, clear.max(1.0));
        let cut = |most: f64| -> Vec<f64> {
            let pairs = wanted.iter().zip(floor);
            pairs.map(|(w, f)| w.min(most).max(*f)).collect()
        };
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if cut(middle).iter().sum::<f64>() <= clear {
                low = middle;
            } else {
                high = middle;
            }
        }
        cut(low)
    };
    let cut = if wanted.iter().sum::<f64>() <= clear {
        wanted.clone()
    } else if least.iter().sum::<f64>() <= clear {
        level(&least)
    } else {
        level(&vec![0.0; n])
    };
    cut.iter().map(|w| w + 2.0 * PAD[0]).collect()
}

/// A row whose cells are broken into lines.
struct Row {
    cells: Vec<Vec<String>>,
}

impl Row {
    fn new<'a>(
        texts: impl Iterator<Item = &'a str>,
        widths: &[f64],
        fonts: &Fonts,
        look: Look,
    ) -> Self {
        let pairs = texts.zip(widths);
        let lines = |(text, width): (&str, &f64)| fonts.lines(text, look, width - 2.0 * PAD[0]);
        Self {
            cells: pairs.map(lines).collect(),
        }
    }

    fn lines(&self) -> usize {
        self.cells.iter().map(Vec::len).max().unwrap_or(1)
    }

    fn height(&self) -> f64 {
        height(self.lines())
    }

    /// Takes off the first lines.
    fn take(&mut self, lines: usize) -> Self {
        let cells = self.cells.iter_mut();
        Self {
            cells: cells
                .map(|cell| cell.drain(..lines.min(cell.len())).collect())
                .collect(),
        }
    }
}

fn height(lines: usize) -> f64 {
    lines as f64 * CELL.line() + 2.0 * PAD[1]
}

/// A table whose widths are settled.
struct Laid<'a> {
    table: &'a Table,
    widths: Vec<f64>,
    head: Row,
}

impl Laid<'_> {
    fn row(&self, flow: &mut Flow<'_>, row: &Row, look: Look, ink: &'static str) {
        let (mut x, y) = (flow.left(), flow.y);
        for ((cell, width), column) in row.cells.iter().zip(&self.widths).zip(&self.table.columns) {
            for (k, line) in cell.iter().enumerate() {
                let free = width - 2.0 * PAD[0] - flow.fonts.width(line, look);
                let right = match column.cells {
                    Cells::Numbers => free,
                    Cells::Texts => 0.0,
                };
                let at = x + PAD[0] + right;
                let base = y + PAD[1] + look.ascent() + k as f64 * CELL.line();
                flow.text([at, base], look, ink, line.clone());
            }
            x += width;
        }
        flow.y += row.height();
        flow.line([flow.left(), flow.y], [x, flow.y], 0.1, FAINT);
    }

    fn heads(&self, flow: &mut Flow<'_>) {
        let width = self.widths.iter().sum();
        flow.fill([flow.left(), flow.y], [width, self.head.height()], SHADE);
        self.row(flow, &self.head, HEAD, INK);
    }
}

/// What a table needs at least where it begins: caption, heads and its first rows.
pub(super) fn least_height(table: &Table, fonts: &Fonts, room: f64) -> f64 {
    let widths = widths(table, fonts, room);
    let head = heads_of(table, &widths, fonts).height();
    let row = |row: &Vec<String>| {
        let row = Row::new(row.iter().map(String::as_str), &widths, fonts, CELL);
        row.height().min(height(3))
    };
    let first: f64 = table.rows.iter().take(3).map(row).sum();
    caption_height(table, fonts, room) + head + first
}

fn caption_height(table: &Table, fonts: &Fonts, room: f64) -> f64 {
    if table.caption.is_empty() {
        return 0.0;
    }
    fonts.lines(&table.caption, HEAD, room).len() as f64 * HEAD.line() + 1.0
}

fn heads_of(table: &Table, widths: &[f64], fonts: &Fonts) -> Row {
    Row::new(
        table.columns.iter().map(|c| c.head.as_str()),
        widths,
        fonts,
        HEAD,
    )
}

/// Sets a table.
pub(super) fn table(flow: &mut Flow<'_>, table: &Table) {
    let room = flow.room()[0];
    let widths = widths(table, flow.fonts, room);
    flow.need(least_height(table, flow.fonts, room));
    if !table.caption.is_empty() {
        flow.paragraph(&table.caption, HEAD, INK, 0.0);
        flow.y += 1.0;
    }
    let laid = Laid {
        head: heads_of(table, &widths, flow.fonts),
        table,
        widths,
    };
    laid.heads(flow);
    for cells in &table.rows {
        let texts = cells.iter().map(String::as_str);
        let mut row = Row::new(texts, &laid.widths, flow.fonts, CELL);
        loop {
            let free = flow.free() + ROUND_OFF;
            if row.height() <= free {
                laid.row(flow, &row, CELL, INK);
                break;
            }
            let fit = ((free - 2.0 * PAD[1]) / CELL.line()).floor();
            if row.height() > TALL * flow.room()[1] && fit >= 2.0 {
                // At least two, at most what a page holds.
                let part = row.take(fit as usize);
                laid.row(flow, &part, CELL, INK);
            }
            flow.leaf();
            laid.heads(flow);
        }
    }
}
