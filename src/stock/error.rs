//! Why pieces cannot be nested.

use std::fmt;

use crate::geom::micron;

/// Why pieces cannot be nested on the stock. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub enum NestError {
    /// A number is no length, or out of range.
    BadLength {
        /// Which number: `gap between pieces`, `length of piece A1`.
        what: String,
        /// What it is.
        value: f64,
        /// Least and greatest that will do.
        range: [f64; 2],
    },
    /// The stock lists no blank at all.
    NoBlanks,
    /// The bars are deeper than the clear width of every blank.
    TooDeep {
        /// Depth of the bars.
        depth: f64,
        /// Clear width of the widest blank, trim and travel taken off.
        widest: f64,
    },
    /// A piece is longer than the clear length of every blank that is wide enough.
    TooLong {
        /// Its id.
        id: String,
        /// How long it is.
        length: f64,
        /// The longest piece that would fit, trim and travel taken off.
        longest: f64,
    },
    /// There are not enough blanks.
    NotEnough {
        /// How many pieces found no place.
        missing: u64,
        /// How many pieces there are.
        of: u64,
        /// How many blanks more would do, and of which size.
        more: u64,
        /// Name of that size of blank.
        blank: String,
        /// Whether it is proven that the blanks cannot hold the pieces; else no way was found.
        proven: bool,
    },
}

impl fmt::Display for NestError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadLength {
                what,
                value,
                range: [least, most],
            } => {
                write!(
                    f,
                    "{what} is {value} mm; it must be between {least} and {most} mm"
                )
            }
            Self::NoBlanks => write!(f, "the stock lists no strip or sheet"),
            Self::TooDeep { depth, widest } => write!(
                f,
                "bars {depth} mm deep do not fit across any strip or sheet: the widest is {widest} mm \
                 between its trimmed edges within the machine's travel"
            ),
            Self::TooLong {
                id,
                length,
                longest,
                ..
            } => write!(
                f,
                "piece {id} is {} mm long; the longest that fits the stock is {} mm, with \
                 trim and the machine's travel taken off",
                micron(*length),
                micron(*longest)
            ),
            Self::NotEnough {
                missing,
                of,
                more,
                blank,
                proven,
            } => {
                let how = if *proven {
                    "there is no room"
                } else {
                    "no room was found"
                };
                write!(
                    f,
                    "{how} for {missing} of {of} pieces; {more} more of {blank} would do"
                )
            }
        }
    }
}

impl std::error::Error for NestError {}
