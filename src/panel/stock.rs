//! The stock file: strips and sheets on hand.

/// The raw stock. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Stock {
    /// What the maker calls it.
    pub name: String,
    /// Left uncut at both ends and both long edges.
    pub trim: f64,
    /// The sizes on hand, in the order of the file.
    pub blanks: Vec<Blank>,
}

/// One size of strip or sheet; the grain runs along its length.
#[derive(Debug, Clone, PartialEq)]
pub struct Blank {
    /// What the maker calls it.
    pub name: String,
    /// Along the grain.
    pub length: f64,
    /// Across the grain.
    pub width: f64,
    /// How many there are; `None` where more can be bought.
    pub count: Option<u32>,
}
