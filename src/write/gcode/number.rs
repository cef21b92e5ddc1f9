//! Numbers of a program: coordinates as whole steps of a fixed grid, and their text.

use minijinja::Value;

use super::PostError;

/// Greatest number that a program may hold.
const LIMIT: f64 = 1e6;

/// The grid of coordinates that a dialect can write.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grid {
    decimals: usize,
    /// Steps in a millimetre.
    steps: i64,
}

impl Grid {
    pub(super) fn new(decimals: u8) -> Result<Self, PostError> {
        let steps = match decimals {
            3 => 1_000,
            4 => 10_000,
            _ => {
                return Err(PostError {
                    key: "number.decimals".into(),
                    line: None,
                    reason: format!("{decimals} decimals; 3 or 4 would be right"),
                });
            }
        };
        Ok(Self {
            decimals: usize::from(decimals),
            steps,
        })
    }

    /// Nearest step, halves away from 0.
    pub(super) fn cell(self, v: f64) -> Result<i64, String> {
        if !v.is_finite() {
            return Err("is not a number".into());
        }
        if v.abs() > LIMIT {
            return Err(format!("{v} is beyond {LIMIT}"));
        }
        // At most 1e10 steps: far inside i64.
        Ok((v * self.steps as f64).round() as i64)
    }

    /// Length in mm of that many steps.
    pub(super) fn mm(self, cell: i64) -> f64 {
        cell as f64 / self.steps as f64
    }

    /// One step, mm.
    pub(super) fn step(self) -> f64 {
        1.0 / self.steps as f64
    }

    /// With all decimals; 0 never carries a sign.
    pub(super) fn text(self, cell: i64) -> Value {
        Value::from(self.digits(cell))
    }

    fn digits(self, cell: i64) -> String {
        let sign = if cell < 0 { "-" } else { "" };
        let (whole, rest) = (cell.abs() / self.steps, cell.abs() % self.steps);
        format!("{sign}{whole}.{rest:0width$}", width = self.decimals)
    }

    /// A feed, a speed, a power or a time: not below 0, trailing noughts dropped.
    pub(super) fn short(self, v: f64) -> Result<Value, String> {
        if v < 0.0 {
            return Err(format!("{v} is below 0"));
        }
        let text = self.digits(self.cell(v)?);
        Ok(Value::from(
            text.trim_end_matches('0').trim_end_matches('.'),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(v: f64, decimals: u8) -> String {
        let grid = Grid::new(decimals).expect("3 or 4");
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
        let grid = Grid::new(3).expect("3 is right");
        for k in -5000..5000_i64 {
            let text = grid.digits(k * 7);
            let back: f64 = text.parse().expect("plain decimals");
            assert_eq!(back, grid.mm(k * 7), "{text}");
        }
    }

    #[test]
    fn what_is_no_number_is_refused() {
        let grid = Grid::new(3).expect("3 is right");
        for v in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1.1e6, -1.1e6] {
            assert!(grid.cell(v).is_err(), "{v} must not reach a machine");
        }
        assert!(grid.short(-1.0).is_err(), "a feed below 0 means nothing");
        assert!(
            Grid::new(2).is_err() && Grid::new(5).is_err(),
            "3 or 4 decimals"
        );
    }

    #[test]
    fn feeds_drop_their_noughts() {
        let grid = Grid::new(3).expect("3 is right");
        let short = |v| grid.short(v).expect("in range").to_string();
        assert_eq!(short(1200.0), "1200");
        assert_eq!(short(0.5), "0.5");
        assert_eq!(short(0.0), "0");
        assert_eq!(short(1_234.567_8), "1234.568");
    }
}
