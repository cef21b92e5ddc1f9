//! Letters that every machine has, and those of one code page: marks folded away, and short plain names for files.

use std::borrow::Cow;

use encoding_rs::WINDOWS_1252;
use sha2::{Digest, Sha256};

/// Most characters of a short name, what tells two long ones apart left out: a small display shows some thirty.
const SHORT: usize = 24;

/// Text in printable ASCII: letters with marks lose them, other letters are written as they sound, and what has no such
/// form is left out.
#[must_use]
pub fn folded(text: &str) -> String {
    let blank = |c: char| if c.is_whitespace() { ' ' } else { c };
    let text: String = text.chars().map(blank).collect();
    let ascii = deunicode::deunicode_with_tofu(&text, "");
    ascii.chars().filter(|c| matches!(c, ' '..='~')).collect()
}

/// Whether code page 1252 (WHATWG Encoding Standard, index windows-1252) has a letter or sign that is seen, or the
/// common blank.
fn is_western(c: char) -> bool {
    match c {
        ' '..='~' => true,
        // A blank that is wider or does not break, and a hyphen that is not seen.
        '\u{a0}' | '\u{ad}' => false,
        c => !c.is_control() && !WINDOWS_1252.encode(c.encode_utf8(&mut [0; 4])).2,
    }
}

/// Text in the letters and signs of code page 1252: what it has stays, all else is [`folded`].
#[must_use]
pub fn western(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let runs = chars.chunk_by(|a, b| is_western(*a) == is_western(*b));
    let one = |run: &[char]| {
        let text: String = run.iter().collect();
        let held = run.iter().all(|c| is_western(*c));
        if held { text } else { folded(&text) }
    };
    runs.map(one).collect()
}

/// Text as bytes of code page 1252; `None` where it lacks a letter.
#[must_use]
pub fn western_bytes(text: &str) -> Option<Vec<u8>> {
    let (bytes, _, lacking) = WINDOWS_1252.encode(text);
    (!lacking).then(|| bytes.into_owned())
}

/// Bytes of code page 1252 as text, whatever they mean: each is one character.
#[must_use]
pub fn decoded_western(bytes: &[u8]) -> Cow<'_, str> {
    WINDOWS_1252.decode_without_bom_handling(bytes).0
}

/// A line of bytes of code page 1252 as text; `None` where one is no letter or sign that is seen.
#[must_use]
pub fn from_western(bytes: &[u8]) -> Option<Cow<'_, str>> {
    let text = decoded_western(bytes);
    text.chars().all(is_western).then_some(text)
}

/// Signs that a remark holds besides letters, digits and single blanks.
pub const REMARK_SIGNS: &str = ".,-+=/";

/// Text as a remark of a program holds it: letters without marks, digits, single blanks and [`REMARK_SIGNS`], for
/// other signs mean something to some controller (common practice, no source). They are said in words or by those
/// signs; and nothing in it reads `MSG`, for a remark that begins so is shown in another way (NISTIR 6556, 3.3.3,
/// from memory), and any remark may be broken into several.
#[must_use]
pub fn remark(text: &str) -> String {
    let mut said = String::new();
    for c in folded(text).chars() {
        match c {
            'A'..='Z' | 'a'..='z' | '0'..='9' | ' ' => said.push(c),
            c if REMARK_SIGNS.contains(c) => said.push(c),
            ':' => said.push_str(" - "),
            ';' => said.push(','),
            '!' | '?' => said.push('.'),
            '\\' | '|' => said.push('/'),
            '_' | '~' => said.push('-'),
            '*' => said.push_str(" x "),
            '%' => said.push_str(" percent "),
            '&' => said.push_str(" and "),
            '@' => said.push_str(" at "),
            '#' => said.push_str(" no. "),
            '<' => said.push_str(" less than "),
            '>' => said.push_str(" more than "),
            // Quotation marks, and the apostrophe within a word.
            '\'' | '"' | '`' => {}
            _ => said.push(' '),
        }
    }
    let said: Vec<&str> = said.split_ascii_whitespace().collect();
    without_msg(&said.join(" ").replace(" ,", ","))
}

/// Parts every `MSG`, however its letters are written, by a hyphen.
fn without_msg(text: &str) -> String {
    let mut out = String::new();
    let lower = text.to_ascii_lowercase();
    for (at, c) in text.char_indices() {
        out.push(c);
        // The text is ASCII, so that any byte is a character.
        if lower.get(at..).is_some_and(|rest| rest.starts_with("msg")) {
            out.push('-');
        }
    }
    out
}

/// Bytes in hexadecimal, two small digits each.
pub(crate) fn hex<'b>(bytes: impl IntoIterator<Item = &'b u8>) -> String {
    bytes
        .into_iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// A name in small letters, digits and single hyphens, at most 24 characters of it, as files are called; `None` where
/// the name has neither letter nor digit. Where more is lost than capitals and spaces, which may tell two names apart, the
/// first four hexadecimal digits of the name's SHA-256 (FIPS 180-4) follow.
#[must_use]
pub fn short_name(name: &str) -> Option<String> {
    let plain = folded(name).to_ascii_lowercase();
    let words: Vec<&str> = plain
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let whole = words.join("-");
    if whole.is_empty() {
        return None;
    }
    let mut short = String::new();
    for word in &words {
        let hyphen = usize::from(!short.is_empty());
        if short.len() + hyphen + word.len() > SHORT {
            break;
        }
        if hyphen == 1 {
            short.push('-');
        }
        short.push_str(word);
    }
    if short.is_empty() {
        // The text is ASCII, so that any byte is a character.
        short.push_str(whole.get(..SHORT).unwrap_or(&whole));
    }
    let same = name.split(' ').collect::<Vec<_>>().join("-");
    if short != same.to_lowercase() {
        let digest = Sha256::digest(name.as_bytes());
        short.push('-');
        short.push_str(&hex(digest.iter().take(2)));
    }
    Some(short)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_lose_their_marks() {
        // What the letters are without their marks, and how German and Japanese ones are commonly written.
        assert_eq!(folded("Größe é ñ ø 5"), "Grosse e n o 5");
        assert!(
            folded("組子")
                .chars()
                .all(|c| c.is_ascii_graphic() || c == ' ')
        );
        assert_eq!(folded("a\u{7}\nb"), "a b");
    }

    #[test]
    fn a_code_page_keeps_the_letters_that_it_has() {
        // Windows-1252 as the WHATWG Encoding Standard lists it: 80 is the euro sign, 8A S with caron, FC u with
        // two dots; 81, 8D, 8F, 90 and 9D are controls, and it has no Cyrillic, no o with two strokes.
        assert_eq!(
            western("K\u{fc}che \u{160}5 \u{20ac}"),
            "K\u{fc}che \u{160}5 \u{20ac}"
        );
        assert_eq!(
            western("\u{419} \u{151} u\u{308} a\u{a0}b\u{ad}c"),
            "I o u a bc"
        );
        assert_eq!(
            western_bytes("\u{20ac}\u{160}\u{fc}").as_deref(),
            Some(&b"\x80\x8a\xfc"[..])
        );
        assert_eq!(western_bytes("\u{151}"), None);
        assert_eq!(
            from_western(b"\x80\x8a\xfc").as_deref(),
            Some("\u{20ac}\u{160}\u{fc}")
        );
        for bad in b"\x00\x09\x0a\x1f\x7f\x81\x8d\x8f\x90\x9d\xa0\xad" {
            assert_eq!(from_western(&[b'a', *bad]), None, "{bad:#04x}");
        }
        let all: String = (' '..='\u{2fff}').collect();
        let held = western_bytes(&western(&all)).expect("every letter is in the code page");
        // 95 of ASCII; of the upper half all but five controls, the blank and the hyphen that are not seen.
        let distinct: std::collections::BTreeSet<u8> = held.iter().copied().collect();
        assert_eq!(distinct.len(), 95 + 128 - 7);
        assert_eq!(from_western(&held).as_deref(), Some(western(&all).as_str()));
    }

    #[test]
    fn a_remark_holds_letters_digits_and_six_signs() {
        assert_eq!(
            remark("demo window: sheet 1 of 1"),
            "demo window - sheet 1 of 1"
        );
        assert_eq!(
            remark("Größe 5 % (weiß); now!"),
            "Grosse 5 percent weiss, now."
        );
        assert_eq!(remark("4 × 12 °, ½ \"x\"\n~$^{}"), "4 x 12 deg, 1/2 x -");
        assert_eq!(remark("MSG, stop; xMsG msg"), "M-SG, stop, xM-sG m-sg");
        let all: String = (' '..='\u{2fff}').collect();
        let held = |c: char| c.is_ascii_alphanumeric() || c == ' ' || REMARK_SIGNS.contains(c);
        assert!(remark(&all).chars().all(held));
        assert_eq!(
            remark(&remark(&all)),
            remark(&all),
            "what is plain stays as it is"
        );
    }

    #[test]
    fn a_plain_name_is_kept_and_any_other_told_apart() {
        assert_eq!(short_name("demo window").as_deref(), Some("demo-window"));
        assert_eq!(short_name("Demo Window").as_deref(), Some("demo-window"));
        // SHA-256 of `window, 2`, of `window; 2` and of 30 letters a: computed by sha256sum (GNU coreutils).
        assert_eq!(short_name("window, 2").as_deref(), Some("window-2-5a7a"));
        assert_eq!(short_name("window; 2").as_deref(), Some("window-2-bc00"));
        let long = "a".repeat(30);
        let cut = format!("{}-3a54", "a".repeat(24));
        assert_eq!(short_name(&long), Some(cut));
        assert_eq!(
            short_name("a panel for the stair window, left").as_deref(),
            Some("a-panel-for-the-stair-f337")
        );
    }

    #[test]
    fn a_name_of_signs_alone_has_none() {
        for name in ["!?", "-", "", "\u{200b}", "...", "( )"] {
            assert_eq!(short_name(name), None, "{name:?}");
        }
    }
}
