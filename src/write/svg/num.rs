//! Numbers of a picture.

use std::fmt::{Display, Formatter, Result, Write as _};

/// A number with at most three decimals, no trailing noughts and no minus nought.
pub(super) struct Num(pub f64);

impl Num {
    /// Its characters, from the end of a row of them on, and where they begin.
    fn characters(&self) -> ([u8; 24], usize) {
        let thousandths = (self.0 * 1000.0).round();
        // Nothing in a picture lies beyond some kilometres; anything else is drawn at nought.
        let whole = if thousandths.abs() < 1e15 {
            thousandths as i64
        } else {
            0
        };
        let mut rest = whole.unsigned_abs();
        // At most 15 digits, a point and a sign.
        let (mut row, mut at) = ([0; 24], 24);
        let mut put = |c: u8| {
            at -= 1;
            row[at] = c;
        };
        let mut decimals = false;
        for _ in 0..3 {
            let digit = (rest % 10) as u8;
            decimals |= digit > 0;
            if decimals {
                put(b'0' + digit);
            }
            rest /= 10;
        }
        if decimals {
            put(b'.');
        }
        loop {
            put(b'0' + (rest % 10) as u8);
            rest /= 10;
            if rest == 0 {
                break;
            }
        }
        if whole < 0 {
            put(b'-');
        }
        (row, at)
    }

    /// Writes it at the end of a text: without the detour of formatting, of which a picture has very many.
    pub(super) fn push_to(&self, out: &mut String) {
        let (row, from) = self.characters();
        out.extend(row.iter().skip(from).map(|&c| char::from(c)));
    }
}

impl Display for Num {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        let (row, from) = self.characters();
        let mut characters = row.iter().skip(from);
        characters.try_for_each(|&c| f.write_char(char::from(c)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        let written = [
            0.0,
            -0.0,
            -0.0004,
            0.0005,
            12.5,
            -3.25,
            333.75,
            1e-9,
            100.0,
            7.001,
            f64::NAN,
            -123_456_789_012.345,
            1e12,
        ];
        let want = [
            "0",
            "0",
            "0",
            "0.001",
            "12.5",
            "-3.25",
            "333.75",
            "0",
            "100",
            "7.001",
            "0",
            "-123456789012.345",
            "0",
        ];
        for (v, want) in written.into_iter().zip(want) {
            assert_eq!(Num(v).to_string(), want, "{v}");
            let mut text = String::from("x=");
            Num(v).push_to(&mut text);
            assert_eq!(text, format!("x={want}"), "{v}");
        }
    }
}
