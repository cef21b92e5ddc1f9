//! From bytes to words: a scan for what the parser would let slip, then the parser.
//!
//! The parser keeps values as `f32`, takes a bracket that is never closed as a remark to the end of the
//! file, drops over-long codes without a word unless told, and reads `G1.01` as `G1.1`. So the bytes are
//! scanned first, all four of its reports are taken as faults, and values are read again from the text.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use gcode::core::{
    BlockVisitor, CommandVisitor, ControlFlow, Diagnostics, HasDiagnostics, Number, ProgramVisitor,
    Span, TokenType, Value,
};

use super::{DialectRules, FAULT_LIMIT, ReplayFault, fault};
use crate::panel::RemarkStyle;

/// Digits and points in the number of a G or M code: `91.1` has four characters.
const CODE_LIMIT: usize = 5;

/// What may stand in a remark besides letters and digits.
const IN_REMARKS: &str = " .,-+=/";

/// Greatest line number (NISTIR 6556, 3.3.1).
const LINE_NUMBER_LIMIT: u32 = 99_999;

/// Greatest number, in the program's unit.
const NUMBER_LIMIT: f64 = 1e6;

/// A word of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Word {
    /// A G code, times ten.
    G(u32),
    /// An M code, times ten.
    M(u32),
    /// A tool number.
    T(u32),
    /// Any other letter with its value.
    Value(char, f64),
}

impl Word {
    /// An order of words, whichever: by letter, then by value.
    pub(super) fn order(&self, other: &Self) -> Ordering {
        let key = |w: &Self| match *w {
            Self::G(code) => ('G', f64::from(code)),
            Self::M(code) => ('M', f64::from(code)),
            Self::T(number) => ('T', f64::from(number)),
            Self::Value(letter, v) => (letter, v),
        };
        let ((a, v), (b, w)) = (key(self), key(other));
        a.cmp(&b).then(v.total_cmp(&w))
    }
}

impl fmt::Display for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::G(code) => write!(f, "G{}", f64::from(*code) / 10.0),
            Self::M(code) => write!(f, "M{}", f64::from(*code) / 10.0),
            Self::T(number) => write!(f, "T{number}"),
            Self::Value(letter, v) => write!(f, "{letter}{v}"),
        }
    }
}

/// The lines of a program that hold blocks, and the number of the first of them.
pub(super) struct Text<'b> {
    text: &'b str,
    first: usize,
}

/// Checks what the parser cannot be trusted with.
pub(super) fn scan<'b>(
    bytes: &'b [u8],
    rules: &DialectRules,
) -> Result<Text<'b>, Vec<ReplayFault>> {
    let Some((&last, _)) = bytes.split_last() else {
        return Err(vec![fault(
            "program-end",
            1,
            "the file is empty; a program must end with M2",
        )]);
    };
    let mut faults = Vec::new();
    let mut count = 0;
    let (mut blocks, mut first) = (bytes, 1);
    if rules.percent_lines {
        match bytes
            .strip_prefix(b"%\n")
            .and_then(|b| b.strip_suffix(b"%\n"))
        {
            Some(inner) if inner.last() == Some(&b'\n') => {
                (blocks, first) = (inner, 2);
                count = 1;
            }
            _ => faults.push(fault(
                "percent-lines",
                1,
                "the first and the last line must be % and nothing else",
            )),
        }
    }
    for line in blocks.split(|&b| b == b'\n') {
        count += 1;
        if let Err(f) = scan_line(line, count, rules) {
            faults.push(f);
            if faults.len() == FAULT_LIMIT {
                break;
            }
        }
    }
    if last != b'\n' {
        faults.push(fault(
            "cut-short",
            count,
            "the last line does not end; the file may be cut short",
        ));
    }
    match std::str::from_utf8(blocks) {
        Ok(text) if faults.is_empty() => Ok(Text { text, first }),
        Ok(_) => Err(faults),
        Err(_) => {
            if faults.is_empty() {
                faults.push(fault("character", 1, "not plain ASCII"));
            }
            Err(faults)
        }
    }
}

fn scan_line(line: &[u8], number: usize, rules: &DialectRules) -> Result<(), ReplayFault> {
    let limit = rules.line_limit;
    if line.len() > limit {
        let what = format!("{} characters; at most {limit} are allowed", line.len());
        return Err(fault("line-length", number, what));
    }
    let brackets = rules.remarks == RemarkStyle::Brackets;
    let mut state = Scan::default();
    // Characters, and decimals after a point, of the number that follows a code's letter.
    let mut code: Option<(usize, Option<usize>)> = None;
    for &b in line {
        let c = char::from(b);
        if !(b' '..=b'~').contains(&b) {
            return Err(fault(
                "character",
                number,
                format!("byte {b:#04x}; only printable ASCII is allowed"),
            ));
        }
        state
            .take(c, brackets)
            .map_err(|(rule, what)| fault(rule, number, what))?;
        code = match (c, code) {
            _ if state.in_comment => None,
            ('G' | 'M' | 'T', _) => Some((0, None)),
            ('.', Some((n, _))) => Some((n + 1, Some(0))),
            ('0'..='9', Some((n, decimals))) => Some((n + 1, decimals.map(|d| d + 1))),
            (' ', same) => same,
            _ => None,
        };
        if code.is_some_and(|(n, decimals)| n > CODE_LIMIT || decimals > Some(1)) {
            return Err(fault("number", number, "the number of a code is too long"));
        }
    }
    if state.in_comment && brackets {
        return Err(fault(
            "comment",
            number,
            "a remark that does not end on its line",
        ));
    }
    Ok(())
}

/// Where in a line the scan stands.
#[derive(Default)]
struct Scan {
    in_comment: bool,
    had_comment: bool,
}

impl Scan {
    /// Takes the next character; `brackets` tells how remarks are marked. Else the rule that it breaks, and how.
    fn take(&mut self, c: char, brackets: bool) -> Result<(), (&'static str, String)> {
        let refuse = |rule, what: &str| Err((rule, what.to_owned()));
        match (c, self.in_comment) {
            ('(' | ')', _) if !brackets => {
                return refuse("character", "a round bracket; remarks follow a semicolon");
            }
            (';', false) if !brackets => self.in_comment = true,
            (';', _) if brackets => {
                return refuse("character", "a semicolon; remarks stand in round brackets");
            }
            (';', _) => return refuse("character", "a semicolon inside a remark"),
            ('(', true) => return refuse("comment", "a bracket inside a remark"),
            ('(', false) if self.had_comment => {
                return refuse("comment", "a second remark on one line");
            }
            ('(', false) => (self.in_comment, self.had_comment) = (true, true),
            (')', true) => self.in_comment = false,
            (')', false) => return refuse("comment", "a closing bracket without an opening one"),
            (c, true) if !(c.is_ascii_alphanumeric() || IN_REMARKS.contains(c)) => {
                let what = "letters, digits, blanks and .,-+=/ alone may stand in one";
                return Err(("comment", format!("{c:?} in a remark; {what}")));
            }
            (_, true) | ('A'..='Z' | '0'..='9' | '+' | '-' | '.' | ' ', false) => {}
            ('a'..='z', false) => {
                return Err(("character", format!("{c:?}; words have capital letters")));
            }
            _ => return Err(("character", format!("{c:?} has no meaning here"))),
        }
        Ok(())
    }
}

/// What takes a program block by block.
pub(super) trait Blocks {
    /// A line with its words, its number and its remarks; it has one of them at least.
    fn block(&mut self, words: &[Word], number: Option<u32>, remarks: &[String], line: usize);

    /// What is wrong so far.
    fn faults(&mut self) -> &mut Vec<ReplayFault>;
}

/// Runs the parser over text that [`scan`] has passed, and `machine` over its blocks.
pub(super) fn parse<B: Blocks>(Text { text, first }: Text<'_>, machine: &mut B) {
    let mut reader = Reader {
        text,
        words: Vec::new(),
        remarks: Vec::new(),
        number: None,
        sink: Sink {
            faults: Vec::new(),
            first,
        },
        machine,
    };
    gcode::core::parse(text, &mut reader);
    let rest = std::mem::take(&mut reader.sink.faults);
    reader.machine.faults().extend(rest);
}

struct Reader<'t, 'm, B> {
    text: &'t str,
    /// Words of the block at hand.
    words: Vec<Word>,
    /// Remarks of the block at hand, without their marks.
    remarks: Vec<String>,
    /// Line number of the block at hand.
    number: Option<u32>,
    sink: Sink,
    machine: &'m mut B,
}

/// Takes all four reports of the parser as faults.
struct Sink {
    faults: Vec<ReplayFault>,
    /// Line of the file that the text begins on, from 1.
    first: usize,
}

impl Sink {
    fn line(&self, span: Span) -> usize {
        span.line + self.first
    }
}

impl Diagnostics for Sink {
    fn emit_unknown_content(&mut self, text: &str, span: Span) {
        let line = self.line(span);
        self.faults.push(fault(
            "syntax",
            line,
            format!("{text:?} has no meaning here"),
        ));
    }

    fn emit_unexpected(&mut self, actual: &str, expected: &[TokenType], span: Span) {
        let line = self.line(span);
        let names: Vec<&str> = expected.iter().map(|t| t.as_str()).collect();
        let what = format!(
            "{:?} where a {} should stand",
            actual.trim_end(),
            names.join(" or ")
        );
        self.faults.push(fault("syntax", line, what));
    }

    fn emit_parse_number_error(
        &mut self,
        value: &str,
        error: <Number as FromStr>::Err,
        span: Span,
    ) {
        let line = self.line(span);
        self.faults.push(fault(
            "number",
            line,
            format!("{value:?} is no code: {error}"),
        ));
    }

    fn emit_parse_int_error(&mut self, value: &str, error: std::num::ParseIntError, span: Span) {
        let line = self.line(span);
        self.faults
            .push(fault("number", line, format!("{value:?}: {error}")));
    }
}

impl<B> HasDiagnostics for Reader<'_, '_, B> {
    fn diagnostics(&mut self) -> &mut dyn Diagnostics {
        &mut self.sink
    }
}

impl<B: Blocks> ProgramVisitor for Reader<'_, '_, B> {
    fn start_block(&mut self) -> ControlFlow<impl BlockVisitor + '_> {
        if self.sink.faults.len() + self.machine.faults().len() >= FAULT_LIMIT {
            return ControlFlow::Break(());
        }
        self.words.clear();
        self.remarks.clear();
        self.number = None;
        ControlFlow::Continue(BlockReader(self))
    }
}

impl<B> Reader<'_, '_, B> {
    fn fault(&mut self, rule: &'static str, span: Span, what: impl Into<String>) {
        let line = self.sink.line(span);
        self.sink.faults.push(fault(rule, line, what));
    }

    /// What stands behind the letter of a word; nothing, which is no number, where the parser names no such place.
    fn behind_letter(&self, span: Span) -> &str {
        let text = self.text.get(span.start + 1..span.end());
        text.map_or("", str::trim)
    }

    /// Reads a word's value again, from its text.
    fn word(&mut self, letter: char, span: Span) {
        let text = self.behind_letter(span);
        match text.parse::<f64>() {
            Ok(v) if v.abs() <= NUMBER_LIMIT => self.words.push(Word::Value(letter, v)),
            Ok(_) => self.fault(
                "number",
                span,
                format!("{letter}{text} is beyond {NUMBER_LIMIT}"),
            ),
            Err(_) => self.fault(
                "number",
                span,
                format!("{letter}{text} holds no plain number"),
            ),
        }
    }
}

struct BlockReader<'r, 't, 'm, B>(&'r mut Reader<'t, 'm, B>);

impl<B> HasDiagnostics for BlockReader<'_, '_, '_, B> {
    fn diagnostics(&mut self) -> &mut dyn Diagnostics {
        &mut self.0.sink
    }
}

impl<B: Blocks> BlockVisitor for BlockReader<'_, '_, '_, B> {
    fn line_number(&mut self, n: u32, span: Span) {
        let text = self.0.behind_letter(span);
        if self.0.number.is_some() || !self.0.words.is_empty() {
            self.0.fault(
                "line-number",
                span,
                "a line number is the first word of its block",
            );
        } else if n > LINE_NUMBER_LIMIT || text.parse() != Ok(n) || text.starts_with('+') {
            let what = format!("N{text}; a line number is whole, from 0 to {LINE_NUMBER_LIMIT}");
            self.0.fault("line-number", span, what);
        }
        self.0.number = Some(n);
    }

    fn comment(&mut self, value: &str, span: Span) {
        let text = bare(value);
        let begin = text.trim_start().get(..3);
        if begin.is_some_and(|b| b.eq_ignore_ascii_case("MSG")) {
            let what = "a remark that begins with MSG, which is a message";
            self.0.fault("comment", span, what);
        }
        self.0.remarks.push(text.to_owned());
    }

    fn program_number(&mut self, number: u32, span: Span) {
        self.0.fault(
            "word",
            span,
            format!("O{number} is not among the words that are allowed"),
        );
    }

    fn program_delimiter(&mut self, span: Span) {
        self.0
            .fault("word", span, "% is not among the words that are allowed");
    }

    fn word_address(&mut self, letter: char, _rounded: Value<'_>, span: Span) {
        self.0.word(letter, span);
    }

    fn start_general_code(&mut self, number: Number) -> ControlFlow<impl CommandVisitor + '_> {
        self.0.words.push(Word::G(tenths(number)));
        ControlFlow::Continue(CodeReader(&mut *self.0))
    }

    fn start_miscellaneous_code(
        &mut self,
        number: Number,
    ) -> ControlFlow<impl CommandVisitor + '_> {
        self.0.words.push(Word::M(tenths(number)));
        ControlFlow::Continue(CodeReader(&mut *self.0))
    }

    fn start_tool_change_code(&mut self, number: Number) -> ControlFlow<impl CommandVisitor + '_> {
        // A tool number with decimals is none: it falls through to no tool that a program names.
        let word = match number.minor() {
            None => Word::T(number.major()),
            Some(_) => Word::Value('T', f64::from(tenths(number)) / 10.0),
        };
        self.0.words.push(word);
        ControlFlow::Continue(CodeReader(&mut *self.0))
    }

    fn end_line(self, span: Span) {
        let line = self.0.sink.line(span);
        let Reader {
            words,
            number,
            remarks,
            machine,
            ..
        } = self.0;
        machine.block(words, *number, remarks, line);
    }
}

/// A code's number times ten. The scan keeps it under a million.
fn tenths(number: Number) -> u32 {
    number.major() * 10 + number.minor().map_or(0, |m| m.get())
}

struct CodeReader<'r, 't, 'm, B>(&'r mut Reader<'t, 'm, B>);

impl<B> HasDiagnostics for CodeReader<'_, '_, '_, B> {
    fn diagnostics(&mut self) -> &mut dyn Diagnostics {
        &mut self.0.sink
    }
}

impl<B> CommandVisitor for CodeReader<'_, '_, '_, B> {
    fn argument(&mut self, letter: char, _rounded: Value<'_>, span: Span) {
        self.0.word(letter, span);
    }
}

/// A remark without its marks.
fn bare(remark: &str) -> &str {
    let inner = remark.strip_prefix(';').or_else(|| {
        let inner = remark.strip_prefix('(')?;
        Some(inner.strip_suffix(')').unwrap_or(inner))
    });
    inner.unwrap_or(remark).trim()
}
