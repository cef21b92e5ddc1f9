//! The lines of a program as they grow: numbered, and no longer than the dialect allows.

use crate::limits::{PROGRAM_BYTES, TEMPLATE_LINES};
use crate::panel::{GcodeDialect, LineNumbers};

use super::PostError;
use super::template::Key;

/// The key of the table that line numbers come from.
const NUMBERS_KEY: &str = "line_numbers";

/// A program's lines so far.
pub(super) struct Lines {
    limit: usize,
    most_bytes: usize,
    percent: bool,
    numbers: Option<LineNumbers>,
    /// Number of the next line.
    next: u32,
    out: Vec<u8>,
    /// Key of the template that wrote each line.
    keys: Vec<&'static str>,
}

impl Lines {
    pub(super) fn new(dialect: &GcodeDialect) -> Self {
        Self {
            limit: dialect.line_limit,
            most_bytes: PROGRAM_BYTES,
            percent: dialect.percent_lines,
            numbers: dialect.line_numbers,
            next: dialect.line_numbers.map_or(0, |n| n.start),
            out: Vec::new(),
            keys: Vec::new(),
        }
    }

    /// A line of nothing but `%`, where the dialect has it.
    pub(super) fn percent(&mut self) {
        if self.percent {
            self.out.extend_from_slice(b"%\n");
            self.keys.push("gcode.percent_lines");
        }
    }

    /// Characters that are left on a line that has its number and `taken` more.
    pub(super) fn room(&self, taken: usize) -> usize {
        let number = self
            .numbers
            .map_or(0, |n| format!("N{} ", n.greatest).len());
        self.limit.saturating_sub(number + taken)
    }

    /// Adds the lines of a rendered template, or says why a controller could not read them.
    pub(super) fn push(&mut self, key: Key, text: &str) -> Result<(), PostError> {
        for (index, line) in text.lines().enumerate() {
            let line = line.trim_end_matches(' ');
            if line.is_empty() {
                continue;
            }
            let fault = |reason: String| PostError {
                key: key.path().into(),
                line: Some(index + 1),
                reason,
            };
            if index >= TEMPLATE_LINES {
                return Err(fault(format!("writes more than {TEMPLATE_LINES} lines")));
            }
            if let Some(c) = line.chars().find(|c| !matches!(c, ' '..='~')) {
                return Err(fault(format!(
                    "writes {c:?}; only printable ASCII is allowed"
                )));
            }
            let number = self.number()?;
            let long = number.len() + line.len();
            if long > self.limit {
                return Err(fault(format!(
                    "writes a line of {long} characters; at most {} are allowed: {number}{line}",
                    self.limit
                )));
            }
            if self.out.len() + long >= self.most_bytes {
                return Err(fault(format!(
                    "the program would have more than {} bytes; write shorter templates, or make fewer \
                     pieces from smaller stock",
                    self.most_bytes
                )));
            }
            self.out.extend_from_slice(number.as_bytes());
            self.out.extend_from_slice(line.as_bytes());
            self.out.push(b'\n');
            self.keys.push(key.path());
        }
        Ok(())
    }

    /// The line number that comes first, with a blank after it.
    fn number(&mut self) -> Result<String, PostError> {
        let Some(LineNumbers { step, greatest, .. }) = self.numbers else {
            return Ok(String::new());
        };
        let number = self.next;
        if number > greatest {
            return Err(PostError {
                key: NUMBERS_KEY.into(),
                line: None,
                reason: format!(
                    "the program has more lines than numbers: the next would be N{number}, and the \
                     greatest is N{greatest}; a smaller step makes room"
                ),
            });
        }
        self.next = number.saturating_add(step);
        Ok(format!("N{number} "))
    }

    pub(super) fn done(self) -> (Vec<u8>, Vec<&'static str>) {
        (self.out, self.keys)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::{JobFiles, Post};

    fn post() -> Post {
        JobFiles::builtin_panel("demo")
            .expect("built in")
            .own()
            .expect("a machine")
            .post
            .clone()
    }

    #[test]
    fn a_template_writes_so_many_lines_and_no_more() {
        let post = post();
        let lines = |n: usize| Lines::new(&post.gcode).push(Key::Begin, &"G21\n".repeat(n));
        assert_eq!(lines(TEMPLATE_LINES), Ok(()));
        let e = lines(TEMPLATE_LINES + 1).expect_err("a line more");
        assert_eq!((e.key.as_str(), e.line), ("gcode.begin", Some(41)), "{e}");
    }

    #[test]
    fn a_program_has_so_many_bytes_and_no_more() {
        let post = post();
        let mut lines = Lines::new(&post.gcode);
        lines.most_bytes = 12;
        lines.push(Key::Line, "G1 X1\nG1 X2").expect("12 bytes");
        let e = lines.push(Key::Line, "M2").expect_err("15 bytes");
        assert!(e.reason.contains("more than 12 bytes"), "{e}");
        assert_eq!(lines.done().0, b"G1 X1\nG1 X2\n");
    }
}
