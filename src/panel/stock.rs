//! The stock file: strips and sheets on hand.

use super::reader::Table;
use super::values::Limits;

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

/// Takes a stock file's keys.
pub(super) fn read_stock(t: &mut Table<'_>) -> Stock {
    let name = t.name();
    let trim = t.number_or("trim", 0.0, &Limits::size_or_none(1000.0));
    let blanks = t.tables("blank", |b| {
        let mark = b.mark();
        let blank = Blank {
            name: b.name(),
            length: b.number("length", &Limits::size(100_000.0)),
            width: b.number("width", &Limits::size(100_000.0)),
            count: b.count_opt("count", 0..=1_000_000),
        };
        let sound = b.sound_since(mark);
        for (key, size) in [("length", blank.length), ("width", blank.width)] {
            if sound && size <= 2.0 * trim {
                let message = format!("`{key}` leaves nothing between the trims of {trim} mm");
                b.fault(key, message, "make the blank larger or `trim` smaller");
            }
        }
        blank
    });
    Stock { name, trim, blanks }
}
