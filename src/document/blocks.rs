//! What a document is made of.

use crate::panel::Paper;

/// A document for the bench, in English.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// What it is of; at the head of every page.
    pub title: String,
    /// What it is printed on.
    pub paper: Paper,
    /// Its parts, in order.
    pub sections: Vec<Section>,
}

/// A part with a heading of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// What it is about.
    pub title: String,
    /// How the paper lies.
    pub page: Page,
    /// What it holds, in order.
    pub blocks: Vec<Block>,
}

/// How the paper lies. A section whose paper lies another way than that before it begins a new page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Page {
    /// The short edge at the top.
    Upright,
    /// The long edge at the top.
    Broad,
}

/// A piece of a section.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A smaller heading; it stays with what follows.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// A paragraph that must not be overlooked.
    Caution(String),
    /// What to do, in order, each with a box to tick; numbered from the first number on.
    Steps(usize, Vec<String>),
    /// Points in no order.
    List(Vec<String>),
    /// Rows and columns.
    Table(Table),
    /// A picture.
    Figure(Figure),
}

/// A table.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What it tells.
    pub caption: String,
    /// Its columns; the first one names the row.
    pub columns: Vec<Column>,
    /// Its rows, each with a cell for every column.
    pub rows: Vec<Vec<String>>,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its head.
    pub head: String,
    /// What it holds.
    pub cells: Cells,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cells {
    /// Words, or sizes that are told as words: they stand on the left.
    Texts,
    /// Numbers: they stand on the right.
    Numbers,
}

impl Column {
    /// A column of words.
    #[must_use]
    pub fn texts(head: impl Into<String>) -> Self {
        Self {
            head: head.into(),
            cells: Cells::Texts,
        }
    }

    /// A column of numbers.
    #[must_use]
    pub fn numbers(head: impl Into<String>) -> Self {
        Self {
            head: head.into(),
            cells: Cells::Numbers,
        }
    }
}

impl Table {
    /// A table without rows.
    #[must_use]
    pub fn new(caption: impl Into<String>, columns: impl IntoIterator<Item = Column>) -> Self {
        Self {
            caption: caption.into(),
            columns: columns.into_iter().collect(),
            rows: Vec::new(),
        }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }
}

/// A picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// The picture, as one of our own SVG writers makes it: its size is in mm.
    pub svg: Vec<u8>,
    /// What it shows, for those who cannot see it.
    pub alt: String,
    /// What stands below it; may be empty.
    pub caption: String,
    /// How large it is drawn.
    pub size: Size,
}

/// How large a picture is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// No larger than it is; smaller where the page has no room for it.
    Fit,
    /// As large as it is: a picture to measure from. Where the page has no room for it, the document
    /// cannot be written.
    True,
}
