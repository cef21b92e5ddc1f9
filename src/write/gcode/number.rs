//! Numbers of a program: coordinates as whole steps of a fixed grid, and their text.

use minijinja::Value;

use super::PostError;
use crate::geom::{ARC_RADII, ARC_RADII_INCH};
use crate::panel::{LengthUnit, NumberStyle};

/// Greatest number that a program may hold.
const LIMIT: f64 = 1e6;

/// The grid of coordinates that a dialect can write.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grid {
    decimals: usize,
    unit: LengthUnit,
    /// Steps in the unit.
    steps: i64,
}

impl Grid {
    pub(super) fn new(number: &NumberStyle) -> Result<Self, PostError> {
        let NumberStyle { unit, decimals, .. } = *number;
        let steps = match (unit, decimals) {
            (LengthUnit::Millimetre, 3) => 1_000,
            (LengthUnit::Millimetre | LengthUnit::Inch, 4) => 10_000,
            (LengthUnit::Inch, 5) => 100_000,
            _ => {
                let right = match unit {
                    LengthUnit::Millimetre => "3 or 4 of a millimetre",
                    LengthUnit::Inch => "4 or 5 of an inch",
                };
                return Err(PostError {
                    key: "number.decimals".into(),
                    line: None,
                    reason: format!("{decimals} decimals; {right} would be right"),
                });
            }
        };
        Ok(Self {
            decimals: usize::from(decimals),
            unit,
            steps,
        })
    }

    /// Nearest step to a length in mm, halves away from 0.
    pub(super) fn cell(self, mm: f64) -> Result<i64, String> {
        self.steps_of(mm, self.unit.mm())
    }

    fn steps_of(self, v: f64, unit: f64) -> Result<i64, String> {
        if !v.is_finite() {
            return Err("is not a number".into());
        }
        if v.abs() > LIMIT {
            return Err(format!("{v} is beyond {LIMIT}"));
        }
        // At most 1e11 steps: far inside i64.
        Ok((v / unit * self.steps as f64).round() as i64)
    }

    /// Length in mm of that many steps.
    pub(super) fn mm(self, cell: i64) -> f64 {
        cell as f64 / self.steps as f64 * self.unit.mm()
    }

    /// One step, mm.
    pub(super) fn step(self) -> f64 {
        self.unit.mm() / self.steps as f64
    }

    /// Agreement of the two radii of an arc that a controller asks for, mm (NISTIR 6556, 3.5.3.2).
    pub(super) fn arc_radii(self) -> f64 {
        match self.unit {
            LengthUnit::Millimetre => ARC_RADII,
            LengthUnit::Inch => ARC_RADII_INCH,
        }
    }

    /// With all decimals; 0 never carries a sign.
    pub(super) fn text(self, cell: i64) -> Value {
        Value::from(self.digits(cell))
    }

    fn digits(self, cell: i64) -> String {
        let mut text = String::new();
        self.push_digits(cell, &mut text);
        text
    }

    /// As [`Self::text`], added to `out`.
    pub(super) fn push_digits(self, cell: i64, out: &mut String) {
        /// Digits of the greatest whole number.
        const MOST: usize = 20;
        let mut digits = ['0'; MOST];
        let mut rest = cell.unsigned_abs();
        let mut count = 0;
        for digit in &mut digits {
            if rest == 0 && count > self.decimals {
                break;
            }
            *digit = char::from(b'0' + (rest % 10) as u8);
            rest /= 10;
            count += 1;
        }
        if cell < 0 {
            out.push('-');
        }
        for (place, digit) in digits.iter().take(count).enumerate().rev() {
            out.push(*digit);
            if place == self.decimals {
                out.push('.');
            }
        }
    }

    /// A feed in mm/min, in the program's unit; trailing noughts dropped.
    pub(super) fn feed(self, mm_per_min: f64) -> Result<Value, String> {
        self.short_of(mm_per_min, self.unit.mm()).map(Value::from)
    }

    /// As [`Self::feed`], as text.
    pub(super) fn feed_text(self, mm_per_min: f64) -> Result<String, String> {
        self.short_of(mm_per_min, self.unit.mm())
    }

    /// A speed, a power or a time, which have no length in them; trailing noughts dropped.
    pub(super) fn short(self, v: f64) -> Result<Value, String> {
        self.short_of(v, 1.0).map(Value::from)
    }

    fn short_of(self, v: f64, unit: f64) -> Result<String, String> {
        if v < 0.0 {
            return Err(format!("{v} is below 0"));
        }
        Ok(self.trimmed(self.steps_of(v, unit)?))
    }

    /// What a template has worked out, rounded to the dialect's decimals; trailing noughts dropped, and 0 never
    /// carries a sign.
    pub(super) fn worked_out(self, v: f64) -> Result<String, String> {
        Ok(self.trimmed(self.steps_of(v, 1.0)?))
    }

    fn trimmed(self, cell: i64) -> String {
        let text = self.digits(cell);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::grid_of;
    use super::*;

    fn written(v: f64, decimals: u8) -> String {
        let grid = grid_of(decimals).expect("3 or 4");
        grid.digits(grid.cell(v).expect("a number in range"))
    }

    #[test]
    fn halves_go_away_from_nought_and_nought_has_no_sign() {
        // 0.0625 and 0.00390625 are exact in binary, so that the half is a true half.
        assert_eq!(written(0.0625, 3), "0.063");
        assert_eq!(written(-0.0625, 3), "-0.063");
        assert_eq!(written(-0.0004, 3), "0.000");
        assert_eq!(written(-0.0, 4), "0.0000");
        assert_eq!(written(-12.5, 3), "-12.500");
        assert_eq!(written(349.750_06, 4), "349.7501");
        assert_eq!(written(999.9996, 3), "1000.000");
    }

    #[test]
    fn text_reads_back_as_the_same_step() {
        let grid = grid_of(3).expect("3 is right");
        for k in -5000..5000_i64 {
            let text = grid.digits(k * 7);
            let back: f64 = text.parse().expect("plain decimals");
            assert_eq!(back, grid.mm(k * 7), "{text}");
        }
    }

    #[test]
    fn what_is_no_number_is_refused() {
        let grid = grid_of(3).expect("3 is right");
        for v in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1.1e6, -1.1e6] {
            assert!(grid.cell(v).is_err(), "{v} must not reach a machine");
        }
        assert!(grid.short(-1.0).is_err(), "a feed below 0 means nothing");
        assert!(
            grid_of(2).is_err() && grid_of(5).is_err(),
            "3 or 4 decimals"
        );
    }

    /// 1 inch is 25.4 mm by definition; 1524 mm/min are 60 inches a minute.
    #[test]
    fn inches_are_converted_once_at_the_edge() {
        let number = |decimals| NumberStyle {
            unit: LengthUnit::Inch,
            decimals,
            chord_mm: None,
        };
        let inch = Grid::new(&number(4)).expect("4");
        let text = |v: f64| inch.digits(inch.cell(v).expect("in range"));
        assert_eq!(text(25.4), "1.0000");
        assert_eq!(text(-12.7), "-0.5000");
        assert_eq!(text(10.0), "0.3937");
        assert!((inch.step() - 0.002_54).abs() < 1e-15);
        assert!((inch.mm(inch.cell(10.0).expect("in range")) - 9.999_98).abs() < 1e-9);
        assert_eq!(inch.feed(1524.0).expect("in range").to_string(), "60");
        assert_eq!(inch.short(1524.0).expect("in range").to_string(), "1524");
        assert!((inch.arc_radii() - 0.005_08).abs() < 1e-15);
        let fine = Grid::new(&number(5)).expect("5");
        assert_eq!(fine.digits(fine.cell(10.0).expect("in range")), "0.39370");
        assert!(Grid::new(&number(3)).is_err() && Grid::new(&number(6)).is_err());
    }

    #[test]
    fn what_a_template_works_out_is_rounded_and_short() {
        let grid = grid_of(3).expect("3 is right");
        let text = |v| grid.worked_out(v).expect("in range");
        assert_eq!(text(2500.0), "2500");
        assert_eq!(text(-0.000_4), "0");
        assert_eq!(text(1.0 / 3.0), "0.333");
        assert_eq!(text(-2.0 / 3.0), "-0.667");
        assert_eq!(text(100.0), "100");
        for v in [f64::NAN, f64::INFINITY, 1e7] {
            assert!(grid.worked_out(v).is_err(), "{v}");
        }
    }

    #[test]
    fn feeds_drop_their_noughts() {
        let grid = grid_of(3).expect("3 is right");
        let short = |v| grid.short(v).expect("in range").to_string();
        assert_eq!(short(1200.0), "1200");
        assert_eq!(short(0.5), "0.5");
        assert_eq!(short(0.0), "0");
        assert_eq!(short(1_234.567_8), "1234.568");
    }
}
