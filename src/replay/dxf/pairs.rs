//! Bytes to group codes and values: text DXF, two lines a group (DXF reference, "Group codes").

use std::borrow::Cow;

use super::fault;
use crate::letters::{decoded_western, from_western};
use crate::panel::DxfVersion;
use crate::replay::ReplayFault;

/// A group code, its value as it stands, and the line of its code, from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Pair<'a> {
    pub(super) code: u16,
    pub(super) value: &'a str,
    pub(super) line: usize,
}

/// What ends a line.
const END: &str = "\r\n";

/// Reads a file's text. Stricter than the reference where our own files allow it: every line ended by CR LF, and
/// letters and signs that are seen alone, in R2000 of the code page that its header names, in R12 of ASCII.
pub(super) fn text(bytes: &[u8], version: DxfVersion) -> Result<Cow<'_, str>, ReplayFault> {
    let refuse = |line, what: &str| Err(fault("dxf-pairs", line, what.to_owned()));
    for (i, line) in bytes.split_inclusive(|b| *b == b'\n').enumerate() {
        let Some(line) = line.strip_suffix(END.as_bytes()) else {
            return refuse(i + 1, "the line has no end: the file is cut short");
        };
        match (from_western(line), version) {
            (Some(_), DxfVersion::R2000) => {}
            (Some(text), DxfVersion::R12) if text.is_ascii() => {}
            (_, DxfVersion::R2000) => {
                return refuse(
                    i + 1,
                    "only letters and signs of code page 1252 are allowed",
                );
            }
            (_, DxfVersion::R12) => return refuse(i + 1, "only printable ASCII is allowed"),
        }
    }
    Ok(decoded_western(bytes))
}

/// Splits a text into groups: no blank code, nothing after the last group.
pub(super) fn pairs(text: &str) -> Result<Vec<Pair<'_>>, ReplayFault> {
    let refuse = |line, what: &str| Err(fault("dxf-pairs", line, what.to_owned()));
    let mut pairs = Vec::with_capacity(text.matches('\n').count() / 2);
    let mut lines = text.split_terminator(END);
    let mut line = 1;
    while let Some(code) = lines.next() {
        let Some(value) = lines.next() else {
            return refuse(line, "the file ends within a group");
        };
        let code = code.trim_start();
        let digits = !code.is_empty() && code.bytes().all(|b| b.is_ascii_digit());
        match code.parse() {
            Ok(code) if digits => pairs.push(Pair { code, value, line }),
            _ => return refuse(line, "a group code is a whole number"),
        }
        line += 2;
    }
    Ok(pairs)
}

/// Whether a group holds a whole number, which blanks may stand before (DXF reference, "Group codes").
pub(super) fn is_whole(code: u16) -> bool {
    matches!(code, 60..=79 | 90..=99 | 160..=179 | 270..=289 | 370..=389)
}

/// A plain decimal number with digits on both sides of its point; no exponent, no minus nought.
pub(super) fn decimal(value: &str) -> Option<f64> {
    let (whole, part) = value.strip_prefix('-').unwrap_or(value).split_once('.')?;
    let digits = |s: &str| !s.is_empty() && s.len() <= 20 && s.bytes().all(|b| b.is_ascii_digit());
    let number: f64 = (digits(whole) && digits(part)).then(|| value.parse().ok())??;
    (number != 0.0 || number.is_sign_positive()).then_some(number)
}

/// A whole number, blanks before it allowed; no minus nought.
pub(super) fn whole(value: &str) -> Option<i64> {
    let value = value.trim_start();
    let digits = value.strip_prefix('-').unwrap_or(value);
    let plain = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    (plain && value != "-0").then(|| value.parse().ok())?
}

/// A handle: hexadecimal, capital letters, without leading noughts (DXF reference, group 5).
pub(super) fn handle(value: &str) -> Option<u64> {
    let plain = value
        .bytes()
        .all(|b| matches!(b, b'0'..=b'9' | b'A'..=b'F'));
    let number = plain.then(|| u64::from_str_radix(value, 16).ok())??;
    (value == "0" || !value.starts_with('0')).then_some(number)
}

#[cfg(test)]
mod tests {
    use super::DxfVersion::{R12, R2000};
    use super::*;

    #[test]
    fn groups_are_two_lines() {
        let two = text(b"  0\r\nEOF\r\n 10\r\n1.5\r\n", R12).expect("lines");
        let two = pairs(&two).expect("two groups");
        assert_eq!(
            two[1],
            Pair {
                code: 10,
                value: "1.5",
                line: 3
            },
            "the second group"
        );
        for bad in [
            &b"  0\r\nEOF"[..],
            b"  0\r\n",
            b"  0\nEOF\n",
            b"\r\nEOF\r\n",
            b"+5\r\nA\r\n",
            b"  0\r\n\x81\r\n",
            b"\xa00\r\nEOF\r\n",
            b"\xb2\r\nEOF\r\n",
        ] {
            for version in [R2000, R12] {
                let read = text(bad, version).and_then(|text| pairs(&text).map(|_| ()));
                assert!(read.is_err(), "{bad:?}, {version:?}");
            }
        }
    }

    /// Windows-1252: FC is u with two dots. An R12 file of ours names no code page.
    #[test]
    fn letters_are_those_of_the_code_page() {
        let read = text(b"  1\r\nK\xfcche\r\n", R2000).expect("lines");
        let read = pairs(&read).expect("a group");
        assert_eq!(read[0].value, "K\u{fc}che", "as it stands");
        assert!(text(b"  1\r\nK\xfcche\r\n", R12).is_err(), "no code page");
        let utf8 = text("  1\r\nK\u{fc}che\r\n".as_bytes(), R2000).expect("lines");
        let other = "  1\r\nK\u{c3}\u{bc}che\r\n";
        assert_eq!(utf8, other, "other letters than were meant");
    }

    #[test]
    fn numbers_are_plain() {
        assert_eq!(decimal("-12.5"), Some(-12.5), "a decimal");
        for bad in [
            "", "1", ".5", "5.", "-0.0", "1e3", "1.0e3", "nan", "+1.0", " 1.0", "1.0.0", "--1.0",
        ] {
            assert_eq!(decimal(bad), None, "{bad:?}");
        }
        assert_eq!(
            (whole("     7"), whole("-7"), whole("7.0"), whole("")),
            (Some(7), Some(-7), None, None),
            "whole"
        );
        assert_eq!(
            (
                handle("1F"),
                handle("0"),
                handle("01"),
                handle("1f"),
                handle("")
            ),
            (Some(31), Some(0), None, None, None),
            "handles"
        );
    }
}
