//! Round numbers: a pitch with few decimals is easier to set, to mark and to check.

use super::asked::Range;
use crate::geom::{micron, tidy};

/// Most decimals of a pitch, a width or an angle.
const MOST_DECIMALS: i32 = 5;
/// Round-off in units of the last decimal: a border this near to a round number does not exclude it.
const ROUND_OFF: f64 = 1e-7;

/// The number of a range with the fewest decimals; of several the nearest to `near`. Where the range is
/// too narrow for any, `near` moved into it.
pub(super) fn roundest(range: Range, near: f64) -> f64 {
    for decimals in 0..=MOST_DECIMALS {
        let scale = f64::from(10_i32.pow(decimals as u32));
        let least = (range.least * scale - ROUND_OFF).ceil();
        let greatest = (range.greatest * scale + ROUND_OFF).floor();
        if least <= greatest {
            return tidy((near * scale).round().max(least).min(greatest) / scale);
        }
    }
    micron(range.nearest(near))
}

/// How many decimals a number has, up to six.
pub(super) fn decimals(value: f64) -> u32 {
    let shown = format!("{:.6}", value.abs());
    let noughts = shown.bytes().rev().take_while(|digit| *digit == b'0');
    // Those behind the point, which stands before six digits.
    6 - noughts.count() as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fewest_decimals_win_then_the_nearest() {
        let range = |least, greatest| Range { least, greatest };
        assert_eq!(roundest(range(59.7, 61.2), 59.9), 60.0);
        assert_eq!(roundest(range(59.7, 61.2), 61.19), 61.0);
        assert_eq!(roundest(range(63.52, 63.64), 63.53), 63.6);
        assert_eq!(roundest(range(63.521, 63.529), 63.5), 63.521);
        assert_eq!(roundest(range(0.1 + 0.2, 0.3), 0.3), 0.3);
        assert_eq!(roundest(range(1.23456789, 1.23456789), 9.0), 1.234568);
        assert_eq!(roundest(range(-0.2, 0.3), -0.1), 0.0);
        for (value, many) in [(60.0, 0), (63.6, 1), (8.25, 2), (0.000001, 6)] {
            assert_eq!(decimals(value), many, "{value}");
        }
    }
}
