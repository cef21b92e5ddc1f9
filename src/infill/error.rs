//! What can be wrong with infill, and at which key of the panel file.

use std::fmt;

/// Infill that cannot be made as asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum InfillError {
    /// No cell is whole within the outline.
    NoWholeCell,
    /// A pattern without a rule for a cell's shape.
    WrongShape {
        /// Key that names the pattern.
        key: String,
        /// Name of the pattern.
        pattern: String,
        /// The first such cell.
        cell: String,
        /// Its shape.
        shape: String,
        /// The shapes that the pattern fits.
        fits: String,
    },
    /// A feature names a cell that there is not.
    UnknownCell {
        /// Key of the list.
        key: String,
        /// The name.
        cell: String,
        /// The last cell's id.
        last: String,
    },
    /// No cell is chosen by a feature.
    NoCell {
        /// Key of the choice.
        key: String,
    },
    /// Two features choose one cell.
    TwoPatterns {
        /// Key of the later feature.
        key: String,
        /// The cell.
        cell: String,
        /// Which feature has it already, from 1.
        earlier: usize,
    },
    /// Bars that leave no room for a pattern.
    NoRoom {
        /// Key that names the pattern.
        key: String,
        /// The cell.
        cell: String,
    },
    /// A pattern that cannot be laid in a cell.
    Unsound {
        /// Key that names the pattern.
        key: String,
        /// Name of the pattern.
        pattern: String,
        /// The cell.
        cell: String,
        /// Why, in words.
        why: String,
    },
    /// More pieces than a job may have.
    TooMany {
        /// The most.
        limit: u64,
    },
    /// A piece shorter than can be held.
    TooShort {
        /// Class of the piece.
        class: String,
        /// The first cell that has it.
        cell: String,
        /// Its length, mm.
        length: f64,
        /// The least, mm.
        least: f64,
        /// Whether that is its length from the notch of a re-entrant end.
        notched: bool,
        /// Whether the outline has cut it.
        trimmed: bool,
    },
    /// A strip that the outline leaves of a piece is too narrow to make.
    TooNarrow {
        /// Class of the piece.
        class: String,
        /// The first cell that has it.
        cell: String,
        /// Its width, mm.
        width: f64,
        /// The least, mm.
        least: f64,
    },
}

impl InfillError {
    /// The key of the panel file at which it is told.
    #[must_use]
    pub fn key(&self) -> String {
        match self {
            Self::NoWholeCell | Self::TooMany { .. } => "infill.pattern".into(),
            Self::WrongShape { key, .. }
            | Self::UnknownCell { key, .. }
            | Self::NoCell { key }
            | Self::TwoPatterns { key, .. }
            | Self::NoRoom { key, .. }
            | Self::Unsound { key, .. } => key.clone(),
            Self::TooShort { .. } => "infill.least_length".into(),
            Self::TooNarrow { .. } => "infill.face".into(),
        }
    }

    /// What would be right.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::NoWholeCell => "a larger ground, a smaller pitch, or no [infill]".into(),
            Self::WrongShape { fits, .. } => {
                format!("it fits: {fits}; give other cells a pattern by [[infill.feature]]")
            }
            Self::UnknownCell { last, .. } => {
                format!("cells are cell-1 to {last}, row by row from the lower left")
            }
            Self::NoCell { .. } => {
                "a region takes the cells whose middle lies in it; make it larger".into()
            }
            Self::TwoPatterns { .. } => "take the cell out of one of the two".into(),
            Self::NoRoom { .. } => "narrower bars, or \"plain\" for this cell".into(),
            Self::TooMany { .. } => "a pattern of fewer pieces, or a larger pitch".into(),
            Self::Unsound { .. } => "mend the pattern, or choose another for this cell".into(),
            Self::TooShort { trimmed: true, .. } => {
                "leave_cut_cells = true leaves cells empty that the outline cuts; or \"plain\" for this cell, \
                 or a lower least_length if you can hold it"
                    .into()
            }
            Self::TooShort { .. } => {
                "a larger pitch, another pattern, or a lower least_length if you can hold it".into()
            }
            Self::TooNarrow { .. } => {
                "move the outline, or leave_cut_cells = true; or \"plain\" for this cell".into()
            }
        }
    }
}

impl fmt::Display for InfillError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoWholeCell => write!(
                f,
                "the outline is smaller than one cell: there is no whole cell to fill"
            ),
            Self::WrongShape {
                pattern,
                cell,
                shape,
                ..
            } => write!(f, "\"{pattern}\" does not fit {cell}, a {shape}"),
            Self::UnknownCell { cell, .. } => write!(f, "there is no cell \"{cell}\""),
            Self::NoCell { .. } => write!(f, "this feature has no cell"),
            Self::TwoPatterns { cell, earlier, .. } => {
                write!(f, "{cell} has a pattern already, from feature {earlier}")
            }
            Self::NoRoom { cell, .. } => {
                write!(f, "the bars round {cell} leave no room for a pattern")
            }
            Self::TooMany { limit } => {
                write!(f, "the infill has more than {limit} pieces")
            }
            Self::Unsound {
                pattern, cell, why, ..
            } => write!(f, "\"{pattern}\" cannot be laid in {cell}: {why}"),
            Self::TooShort {
                class,
                cell,
                length,
                least,
                notched,
                ..
            } => {
                let from = if *notched {
                    " from the notch in its end"
                } else {
                    ""
                };
                write!(
                    f,
                    "piece {class} in {cell} is {length:.2} mm long{from}, too short to hold (least {least})"
                )
            }
            Self::TooNarrow {
                class,
                cell,
                width,
                least,
            } => write!(
                f,
                "the outline leaves a strip of piece {class} in {cell}, {width:.3} mm wide (least {least})"
            ),
        }
    }
}

impl std::error::Error for InfillError {}
