//! What can be wrong with a surround, and at which key of the panel file.

use std::fmt;

/// A surround that cannot be made as asked for. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub enum SurroundError {
    /// Sides wider than the opening that they go round.
    WiderThanOpening {
        /// Face of a side.
        width: f64,
        /// The least size of the trimmed ground.
        narrowest: f64,
    },
    /// A side that is shorter than its mitre is long.
    MitreLonger {
        /// Name of the side.
        side: String,
        /// Its outer edge.
        long: f64,
        /// Its longer mitre.
        mitre: f64,
        /// The widest face that would do.
        most: f64,
    },
    /// Laps of one side that run into each other.
    NotchesMeet {
        /// Name of the side.
        side: String,
        /// Wood between them; 0 or less.
        web: f64,
    },
    /// Lengths of stock that are shorter than a side.
    StockTooShort {
        /// The longest side.
        longest: f64,
        /// A length of stock.
        length: f64,
        /// A length that would do.
        least: f64,
    },
    /// Sides that meet beyond their corners.
    EarsMeet {
        /// Name of a side.
        side: String,
        /// Name of the other one, which is no neighbour.
        other: String,
    },
}

impl SurroundError {
    /// The key of the panel file at which it is told.
    #[must_use]
    pub fn key(&self) -> &'static str {
        match self {
            Self::WiderThanOpening { .. } | Self::MitreLonger { .. } => "surround.width",
            Self::NotchesMeet { .. } => "surround.cut",
            Self::StockTooShort { .. } => "surround.stock_length",
            Self::EarsMeet { .. } => "surround.ear",
        }
    }

    /// What would be right.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::WiderThanOpening { narrowest, .. } => format!("at most {narrowest:.2}"),
            Self::MitreLonger { most, side, .. } => {
                format!("at most {most:.2}, or a longer {side} side of the outline")
            }
            Self::NotchesMeet { side, .. } => {
                format!("a longer {side} side of the outline; or cut = \"by-hand\"")
            }
            Self::StockTooShort { least, .. } => format!("at least {least:.1}"),
            Self::EarsMeet { .. } => {
                "a shorter `ear`, or a longer side of the outline between them".into()
            }
        }
    }
}

impl fmt::Display for SurroundError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WiderThanOpening { width, narrowest } => write!(
                f,
                "a surround {width} wide is wider than the ground that it goes round, {narrowest:.2}"
            ),
            Self::MitreLonger {
                side, long, mitre, ..
            } => write!(
                f,
                "the {side} side is {long:.2} mm long, less than its mitre of {mitre:.2}: there is nothing \
                 to hold it by"
            ),
            Self::NotchesMeet { side, .. } => write!(
                f,
                "the laps at both ends of the {side} side run into each other"
            ),
            Self::StockTooShort {
                longest, length, ..
            } => write!(
                f,
                "the longest side of the surround is {longest:.1} mm: a length of {length} with its ends \
                 trimmed and sawn does not hold it"
            ),
            Self::EarsMeet { side, other } => write!(
                f,
                "the ears of the {side} side and the {other} side run into each other"
            ),
        }
    }
}

impl std::error::Error for SurroundError {}
