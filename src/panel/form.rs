//! The form of a file: how much there is of it and how deep it goes, before it is parsed; and what the parser finds.

use std::ops::Range;

use super::fault::Fault;
use super::slips::slip;
use crate::limits::{FILE_KEYS, FILE_LINES, KEY_PARTS, NESTING};

/// Most faults of form that one file is told about: after a slip many more follow from it.
const MOST_FORM_FAULTS: usize = 20;

/// What a file has too much of.
#[derive(Debug)]
pub(super) struct Excess {
    /// Where the first that is too much stands, bytes.
    pub(super) span: Range<usize>,
    /// What is wrong.
    pub(super) message: String,
    /// What would be right.
    pub(super) hint: &'static str,
}

/// Finds the first place where a file goes beyond [`crate::limits`]. The file need not be sound: strings and
/// remarks are stepped over as TOML has them (toml.io, v1.0.0: comment, string), and what is in brackets is
/// not looked at.
pub(super) fn excess(text: &str) -> Option<Excess> {
    let bytes = text.as_bytes();
    let too_much = |at: usize, message: String, hint| {
        Some(Excess {
            span: at..at + 1,
            message,
            hint,
        })
    };
    if let Some((at, _)) = text.match_indices('\n').nth(FILE_LINES) {
        let message = format!("the file has more than {FILE_LINES} lines");
        return too_much(at, message, "write a shorter file");
    }
    let (mut at, mut depth, mut dots, mut keys) = (0, 0_usize, 0, 0);
    while let Some(&byte) = bytes.get(at) {
        match byte {
            b'#' => {
                at = from(bytes, at, |b| b == b'\n');
                continue;
            }
            b'"' | b'\'' => {
                at = after_string(bytes, at);
                continue;
            }
            b'\n' | b',' => dots = 0,
            b'[' | b'{' => {
                keys += usize::from(depth == 0);
                depth += 1;
                dots = 0;
            }
            b']' | b'}' => {
                depth = depth.saturating_sub(1);
                dots = 0;
            }
            b'=' => {
                keys += 1;
                dots = 0;
            }
            b'.' => dots += 1,
            _ => {}
        }
        if depth > NESTING {
            let message = format!("brackets lie more than {NESTING} deep in each other");
            return too_much(at, message, "close brackets where they end");
        }
        if dots >= KEY_PARTS {
            let message = format!("a key has more than {KEY_PARTS} parts");
            return too_much(
                at,
                message,
                "write [table] on a line of its own and its keys below",
            );
        }
        if keys > FILE_KEYS {
            let message = format!("the file has more than {FILE_KEYS} keys");
            return too_much(at, message, "write a shorter file");
        }
        at += 1;
    }
    None
}

/// The first byte from `at` on that is one of those looked for, or the end.
fn from(bytes: &[u8], at: usize, found: impl Fn(u8) -> bool) -> usize {
    let rest = bytes.get(at..).unwrap_or_default();
    at + rest.iter().position(|b| found(*b)).unwrap_or(rest.len())
}

/// The byte after the string that begins at `at`; a string of one line ends with its line at the latest.
fn after_string(bytes: &[u8], at: usize) -> usize {
    let quote = bytes.get(at).copied().unwrap_or_default();
    let three = [quote; 3];
    let many_lines = bytes.get(at..at + 3) == Some(&three);
    let escapes = quote == b'"';
    let mut at = at + if many_lines { 3 } else { 1 };
    while let Some(&byte) = bytes.get(at) {
        if byte == b'\\' && escapes {
            at += 2;
        } else if many_lines && bytes.get(at..at + 3) == Some(&three) {
            // A quote or two may stand right before the three that end it.
            return from(bytes, at, |b| b != quote);
        } else if !many_lines && (byte == quote || byte == b'\n') {
            return at + 1;
        } else {
            at += 1;
        }
    }
    bytes.len()
}

/// The first fault of form on each line: what follows on a line follows from the first slip.
pub(super) fn form_faults(file: &str, text: &str, form: Vec<toml::de::Error>) -> Vec<Fault> {
    let mut errors: Vec<_> = form
        .into_iter()
        .map(|e| (e.span().unwrap_or(0..0), e))
        .collect();
    errors.sort_by_key(|(span, _)| span.start);
    let mut faults = Vec::new();
    let mut reached = 0;
    let mut new_line = true;
    for (span, error) in errors {
        let between = text.as_bytes().get(reached..span.start).unwrap_or_default();
        new_line |= between.contains(&b'\n');
        reached = reached.max(span.start);
        if new_line && faults.len() < MOST_FORM_FAULTS {
            new_line = false;
            let mut fault = Fault::new(file, span, error.message());
            fault.hint = slip(text, fault.span.start);
            faults.push(fault);
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::BUILTIN;

    fn told(text: &str) -> String {
        excess(text).map_or_else(String::new, |e| e.message)
    }

    #[test]
    fn each_limit_holds_just_inside_and_not_just_beyond() {
        let list = |n: usize| format!("a = {}{}", "[".repeat(n), "]".repeat(n));
        let braces = |n: usize| format!("a = {}1{}", "{b=".repeat(n), "}".repeat(n));
        let dotted = |n: usize| format!("{} = 1", vec!["a"; n].join("."));
        let header = |n: usize| format!("[{}]", vec!["a"; n].join(" . "));
        let lines = |n: usize| "\n".repeat(n);
        let keys = |n: usize| "a=1\n".repeat(n);
        let headers = |n: usize| "[[a]]\n".repeat(n);
        for (make, limit) in [
            (&list as &dyn Fn(usize) -> String, NESTING),
            (&braces, NESTING),
            (&dotted, KEY_PARTS),
            (&header, KEY_PARTS),
            (&lines, FILE_LINES),
            (&keys, FILE_KEYS),
            (&headers, FILE_KEYS),
        ] {
            assert_eq!(told(&make(limit)), "");
            let beyond = told(&make(limit + 1));
            assert!(beyond.contains(&limit.to_string()), "{beyond}");
        }
    }

    #[test]
    fn strings_and_remarks_are_stepped_over() {
        let deep = "[".repeat(40) + &".".repeat(40);
        for text in [
            format!("a = 1 # {deep}\nb = 2"),
            format!("a = \"{deep}\""),
            format!("a = \"\\\"{deep}\""),
            format!("a = '{deep}\\'"),
            format!("a = \"\"\"\n{deep}\n\"quoted\" {deep}\\\"\"\"{deep}\"\"\"\""),
            format!("a = '''\n{deep}'\\''{deep}'''"),
            format!("\"{deep}\" = 1\n'{deep}' = 2"),
        ] {
            assert_eq!(told(&text), "", "{text}");
            assert_ne!(told(&format!("{text}\nb = {deep}")), "", "{text}");
        }
        // A string that is not closed ends with its line.
        assert_ne!(told(&format!("a = \"b\nc = {deep}")), "");
        assert_eq!(told("a = '''"), "");
        assert_eq!(told("a = \"\\"), "");
    }

    #[test]
    fn built_in_files_lie_well_within() {
        for file in BUILTIN {
            assert_eq!(told(file.text), "", "{}", file.name);
        }
    }
}
