//! What a dialect promises, as far as the replay holds a program to it.

use crate::geom::{ARC_RADII, ARC_RADII_INCH};
use crate::panel::{GcodeDialect, LengthUnit, LineNumbers, RemarkStyle, Words};

/// What a program of a dialect may hold, and must. See [`crate::panel::GcodeDialect`] for each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DialectRules {
    /// A laser's program; else a router's.
    pub laser: bool,
    /// The beam goes on by M4, and never by M3.
    pub power_follows_speed: bool,
    /// How remarks are marked.
    pub remarks: RemarkStyle,
    /// Characters that a line may have.
    pub line_limit: usize,
    /// The program stands between two lines of `%`.
    pub percent_lines: bool,
    /// Every line has its number, and no other.
    pub line_numbers: Option<LineNumbers>,
    /// The tool is called for once, before the first cut: by T and M6, or where a pause is announced by M0; else M6
    /// never stands.
    pub tool_change: bool,
    /// Words beyond those of every dialect.
    pub words: Words,
    /// The unit that the program must choose.
    pub unit: LengthUnit,
    /// One step of a coordinate's last decimal, mm.
    pub step: f64,
    /// An air run: its first straight move may start anywhere in x and y.
    pub air_run: bool,
    /// Without arcs: how far straight cuts may lie outside an arc of the plan, mm.
    pub chord: Option<f64>,
}

impl DialectRules {
    /// The rules of a dialect.
    #[must_use]
    pub fn of(dialect: &GcodeDialect) -> Self {
        Self {
            laser: dialect.drives_laser,
            power_follows_speed: dialect.power_follows_speed,
            remarks: dialect.remarks,
            line_limit: dialect.line_limit,
            percent_lines: dialect.percent_lines,
            line_numbers: dialect.line_numbers,
            tool_change: !dialect.templates.tool_change.trim().is_empty(),
            words: dialect.words,
            unit: dialect.number.unit,
            step: dialect.number.step(),
            air_run: false,
            chord: dialect.number.chord_mm,
        }
    }

    /// The rules of the same dialect for an air run.
    #[must_use]
    pub fn for_air_run(mut self) -> Self {
        self.air_run = true;
        self
    }

    /// Agreement of the two radii of an arc, mm (NISTIR 6556, 3.5.3.2).
    #[must_use]
    pub fn arc_radii(&self) -> f64 {
        match self.unit {
            LengthUnit::Millimetre => ARC_RADII,
            LengthUnit::Inch => ARC_RADII_INCH,
        }
    }
}
