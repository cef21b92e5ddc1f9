//! Strips and sheets with what lies on them.

use crate::non_empty::NonEmpty;
use crate::table::{Column, Id, Table};

/// A copy of a shape on a strip or sheet: its first end and back edge lie at (x, y). `S` tells shapes apart, `N` the
/// copies of one shape.
#[derive(Debug, Clone, PartialEq)]
pub struct NestPlace<S, N = String> {
    /// Its shape.
    pub piece: S,
    /// Member id; copies for further panels repeat it. Empty where sheets that are cut alike have copies of
    /// different members here: [`NestSheet::id_in`] tells them.
    pub id: N,
    /// Where the piece's first end lies, from the sheet's left end.
    pub x: f64,
    /// Where the lower edge of its row lies, from the sheet's lower edge.
    pub y: f64,
}

/// One strip or sheet with the pieces that are cut from it.
#[derive(Debug, Clone, PartialEq)]
pub struct NestSheet<S, N = String> {
    /// Number from 1, over all sheets of its layout; of sheets that are cut alike, the first one's.
    pub number: usize,
    /// Name of the blank in the stock file.
    pub stock: String,
    /// Along the grain, mm.
    pub length: f64,
    /// Across the grain, mm.
    pub width: f64,
    /// Thickness, mm: the face of pieces on their side, the depth of those on their back.
    pub thickness: f64,
    /// What can be sawn off it square across at the right end, over the full width: its length past the last piece
    /// and one gap, end trim included, at least 0, mm. It can go back into the stock file as it is.
    pub offcut: f64,
    /// The pieces, in rows.
    pub placements: Table<NestPlace<S, N>>,
    /// Pieces that stay joined end to end until a saw parts them, two or more in one row, from left to right, each in
    /// one chain at most.
    pub chains: Vec<NonEmpty<Id<NestPlace<S, N>>>>,
    /// Where several sheets are cut alike, the member ids of each; empty where there is only one.
    pub alike: Vec<Column<NestPlace<S, N>, N>>,
}
