//! Strips and sheets with the pieces that lie on them.

/// A copy of a piece on a sheet: its first end and back edge lie at (x, y).
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// Index into the shapes that are nested.
    pub piece: usize,
    /// Member id; copies for further panels repeat it. Empty where sheets that are cut alike have copies of
    /// different members here: [`FlatSheet::id_in`] tells them.
    pub id: String,
    /// Where the piece's first end lies, from the sheet's left end.
    pub x: f64,
    /// Where the lower edge of its row lies, from the sheet's lower edge.
    pub y: f64,
}

/// One strip or sheet with the pieces that are cut from it.
#[derive(Debug, Clone, PartialEq)]
pub struct FlatSheet {
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
    /// The pieces, in rows.
    pub placements: Vec<Placement>,
    /// Pieces that stay joined end to end until a saw parts them: indices of placements in one row, from
    /// left to right, each placement in one chain at most.
    pub chains: Vec<Vec<usize>>,
    /// Where several sheets are cut alike, the member ids of each in the order of the placements; empty where
    /// there is only one.
    pub alike: Vec<Vec<String>>,
}
