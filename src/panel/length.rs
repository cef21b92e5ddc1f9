//! Lengths with a unit, as a workshop writes them: `1 3/8 in`, `18.5 mm`, `3/4"`.

use std::fmt;

/// Most digits of one number: more than any length needs, few enough to stay exact as an integer.
const MOST_DIGITS: usize = 18;

/// Units and their size as a ratio of integers, in mm. 1 in = 25.4 mm exactly (international yard, 1959).
const UNITS: [(&[&str], u32, u32); 3] = [
    (&["mm"], 1, 1),
    (&["cm"], 10, 1),
    (&["in", "inch", "\"", "\u{2033}"], 254, 10),
];

/// Why a text is no length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LengthError {
    /// There is nothing.
    Empty,
    /// A number that stands alone.
    NoUnit(String),
    /// A unit that is not known here.
    UnknownUnit(String),
    /// No number where there should be one.
    NotANumber(String),
    /// A comma for the decimal point.
    Comma(String),
    /// A fraction of nought parts.
    ZeroParts,
    /// More digits than a length has.
    TooLong,
}

impl fmt::Display for LengthError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "a length is missing: write 65 or \"65 mm\""),
            Self::NoUnit(number) if number.contains('/') => {
                write!(
                    f,
                    "the unit is missing: write \"{number} in\" or \"{number} mm\""
                )
            }
            Self::NoUnit(number) => {
                write!(f, "the unit is missing: write {number} or \"{number} mm\"")
            }
            Self::UnknownUnit(unit) => write!(f, "unknown unit `{unit}`: write mm, cm or in"),
            Self::NotANumber(found) => write!(
                f,
                "`{found}` is not a number: write a length such as \"18.5 mm\" or \"1 3/8 in\""
            ),
            Self::Comma(right) => write!(f, "write decimals with a point: \"{right}\""),
            Self::ZeroParts => write!(f, "a fraction cannot have 0 below the line"),
            Self::TooLong => write!(f, "too many digits: {MOST_DIGITS} are the most"),
        }
    }
}

impl std::error::Error for LengthError {}

/// Reads a length with its unit, in mm: a decimal number, a fraction or a whole number and a fraction,
/// then mm, cm, in or the inch mark. A sign is taken; whether it is allowed is for the caller to say.
///
/// The result is the double nearest to the exact value as long as that is a ratio of integers below
/// 2^53, so `parse_length("1 3/8 in")` equals 34.925.
///
/// # Errors
/// [`LengthError`] says what would be right.
pub fn parse_length(text: &str) -> Result<f64, LengthError> {
    let text = text.trim();
    let (negative, text) = match text.strip_prefix('-') {
        Some(rest) => (true, rest.trim_start()),
        None => (false, text.strip_prefix('+').unwrap_or(text).trim_start()),
    };
    if text.is_empty() {
        return Err(LengthError::Empty);
    }
    let unit_at = text.find(|c: char| c.is_alphabetic() || c == '"' || c == '\u{2033}');
    let (number, unit) = text.split_at(unit_at.unwrap_or(text.len()));
    let number = number.trim_end();
    if number.contains(',') {
        return Err(LengthError::Comma(text.replace(',', ".")));
    }
    let (over, under) = ratio(number)?;
    if unit.is_empty() {
        let sign = if negative { "-" } else { "" };
        return Err(LengthError::NoUnit(shorten(&format!("{sign}{number}"))));
    }
    let folded = unit.trim().to_ascii_lowercase();
    let (_, times, per) = UNITS
        .iter()
        .find(|(names, ..)| names.contains(&folded.as_str()))
        .ok_or_else(|| LengthError::UnknownUnit(shorten(unit)))?;
    // Integers up to the last step, so that one division rounds once. 18 digits times 18 digits times
    // 254 stay below 2^128.
    let over = over * u128::from(*times);
    let under = under * u128::from(*per);
    let length = over as f64 / under as f64;
    Ok(if negative && length != 0.0 {
        -length
    } else {
        length
    })
}

/// A number as a ratio: `18.5`, `3/4`, `1 3/8`, `1-3/8`.
fn ratio(number: &str) -> Result<(u128, u128), LengthError> {
    let Some((top, under)) = number.split_once('/') else {
        return decimal(number);
    };
    let under = integer(under.trim())?;
    if under == 0 {
        return Err(LengthError::ZeroParts);
    }
    let top = top.trim_end();
    let (whole, over) = match top.split_once(['-', ' ']) {
        Some((whole, over)) => (integer(whole)?, integer(over.trim_start())?),
        None => (0, integer(top)?),
    };
    let over = whole
        .checked_mul(under)
        .and_then(|parts| parts.checked_add(over))
        .filter(|parts| *parts < 10_u128.pow(2 * MOST_DIGITS as u32))
        .ok_or(LengthError::TooLong)?;
    Ok((over, under))
}

/// A decimal number as a ratio.
fn decimal(number: &str) -> Result<(u128, u128), LengthError> {
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    if whole.is_empty() && part.is_empty() {
        return Err(LengthError::NotANumber(shorten(number)));
    }
    let digits = [whole, part].concat();
    if !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(LengthError::NotANumber(shorten(number)));
    }
    Ok((
        integer(&digits)?,
        10_u128.pow(part.len().min(MOST_DIGITS) as u32),
    ))
}

/// A whole number without a sign.
fn integer(digits: &str) -> Result<u128, LengthError> {
    if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(LengthError::NotANumber(shorten(digits)));
    }
    if digits.len() > MOST_DIGITS {
        return Err(LengthError::TooLong);
    }
    digits.parse().map_err(|_| LengthError::TooLong)
}

/// As much of a text as a message can hold.
pub(super) fn shorten(text: &str) -> String {
    const MOST: usize = 40;
    let text = text.trim();
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(MOST).collect();
    short.push_str("...");
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    // 1 in = 25.4 mm exactly (international yard, 1959); the products are worked out by hand.
    #[test]
    fn inches_and_fractions_are_exact() {
        for (text, mm) in [
            ("1 in", 25.4),
            ("1 3/8 in", 34.925),
            ("1-3/8 in", 34.925),
            ("1  3 / 8 in", 34.925),
            ("3/4 in", 19.05),
            ("3/4\"", 19.05),
            ("3/4 \u{2033}", 19.05),
            ("1.5in", 38.1),
            (".5 inch", 12.7),
            ("5/64 IN", 1.984375),
            ("18.5 mm", 18.5),
            ("18.5mm", 18.5),
            ("65.mm", 65.0),
            ("  65   mm ", 65.0),
            ("1.5 cm", 15.0),
            ("1/2 mm", 0.5),
            ("0.05 mm", 0.05),
            ("+2 mm", 2.0),
            ("-0.02 mm", -0.02),
            ("-1 1/2 in", -38.1),
            ("0.1 in", 2.54),
            ("333.75 mm", 333.75),
        ] {
            assert_eq!(parse_length(text), Ok(mm), "{text}");
        }
        assert!(
            parse_length("-0 mm").is_ok_and(|v| v.is_sign_positive()),
            "no minus nought"
        );
    }

    #[test]
    fn what_is_no_length_is_told_what_would_be_right() {
        for (text, word) in [
            ("65", "the unit is missing: write 65 or \"65 mm\""),
            ("-0.1", "the unit is missing: write -0.1 or \"-0.1 mm\""),
            (
                "1 3/8",
                "the unit is missing: write \"1 3/8 in\" or \"1 3/8 mm\"",
            ),
            ("", "a length is missing: write 65 or \"65 mm\""),
            ("  ", "a length is missing: write 65 or \"65 mm\""),
            ("-", "a length is missing: write 65 or \"65 mm\""),
            ("65 ft", "unknown unit `ft`: write mm, cm or in"),
            ("65 m m", "unknown unit `m m`: write mm, cm or in"),
            ("65 mm2", "unknown unit `mm2`: write mm, cm or in"),
            ("18,5 mm", "write decimals with a point: \"18.5 mm\""),
            ("1/0 in", "a fraction cannot have 0 below the line"),
            ("9999999999999999999 mm", "too many digits: 18 are the most"),
            (
                "0.0000000000000000001 mm",
                "too many digits: 18 are the most",
            ),
            (
                "999999999999999999 999999999999999999/999999999999999999 in",
                "",
            ),
        ] {
            match parse_length(text) {
                Err(error) => assert_eq!(error.to_string(), word, "{text}"),
                Ok(mm) => assert!(word.is_empty() && mm.is_finite(), "{text} gave {mm}"),
            }
        }
        for text in [
            "mm",
            "in",
            "abc",
            "1.2.3 mm",
            "1/2/3 mm",
            "--1 mm",
            "/2 in",
            "1/ in",
            ". mm",
            "1 2 3/4 in",
            "1e3 mm",
            "0x1 mm",
            "nan mm",
            "inf mm",
            "\u{0}",
            "½ in",
            "1 -3/8 in",
            "- -1 in",
        ] {
            assert!(parse_length(text).is_err(), "{text}");
        }
    }
}
