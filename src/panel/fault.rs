//! Faults of a file as its maker sees them: line, caret, what is wrong and what would be right.

use std::fmt;
use std::ops::Range;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{
    AnnotationKind, Element, Level, Origin, Renderer, Snippet, normalize_untrusted_str,
};

use super::keys::Keys;

/// How many faults of one file are written out; of the others only the number is.
const SHOWN: usize = 50;

/// A longer line (bytes) is named by its number alone.
const LONGEST_LINE: usize = 4096;

/// One thing that is wrong in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The file, as the maker knows it.
    pub file: String,
    /// Where in the file's text, in bytes.
    pub span: Range<usize>,
    /// What is wrong.
    pub message: String,
    /// What would be right.
    pub hint: Option<String>,
    /// A word or two beside the caret.
    pub label: Option<String>,
}

impl Fault {
    /// A fault without hint and label.
    #[must_use]
    pub fn new(file: impl Into<String>, span: Range<usize>, message: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            span,
            message: message.into(),
            hint: None,
            label: None,
        }
    }

    /// The same with a word on what would be right.
    #[must_use]
    pub fn with_hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// The same with a word beside the caret.
    #[must_use]
    pub fn with_label(mut self, label: impl Into<String>) -> Self {
        self.label = Some(label.into());
        self
    }
}

/// Where a fault is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FaultPlace {
    /// Line, from 1.
    pub line: usize,
    /// Character of the line, from 1.
    pub column: usize,
    /// The key that it is about, dotted from the file's root, where the file can be taken apart.
    pub key: Option<String>,
}

/// All faults of one file, in the order of its lines, with the text that they point into.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults {
    file: String,
    text: String,
    list: Vec<Fault>,
}

impl Faults {
    /// Puts the faults of a file in order. `text` may be empty where the file has none to show.
    #[must_use]
    pub fn new(file: impl Into<String>, text: impl Into<String>, mut list: Vec<Fault>) -> Self {
        list.sort_by_key(|fault| (fault.span.start, fault.span.end));
        Self {
            file: file.into(),
            text: text.into(),
            list,
        }
    }

    /// The file, as the maker knows it.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The faults.
    #[must_use]
    pub fn list(&self) -> &[Fault] {
        &self.list
    }

    /// The line of each fault, from 1, in the order of [`Self::list`].
    #[must_use]
    pub fn lines(&self) -> Vec<usize> {
        // The faults are in order, so that one walk through the text meets them all.
        let mut number = 1;
        let mut reached = 0;
        let line_of = |fault: &Fault| {
            let start = border(&self.text, fault.span.start);
            number += self
                .text
                .get(reached..start)
                .unwrap_or_default()
                .matches('\n')
                .count();
            reached = start;
            number
        };
        self.list.iter().map(line_of).collect()
    }

    /// Where each fault is, in the order of [`Self::list`].
    #[must_use]
    pub fn places(&self) -> Vec<FaultPlace> {
        let keys = Keys::of(&self.text);
        let one = |(fault, line): (&Fault, usize)| FaultPlace {
            line,
            column: place(&self.text, &fault.span).column(),
            key: keys.at(&fault.span),
        };
        self.list.iter().zip(self.lines()).map(one).collect()
    }

    /// Adds faults of the same file.
    pub fn extend(&mut self, more: impl IntoIterator<Item = Fault>) {
        self.list.extend(more);
        self.list
            .sort_by_key(|fault| (fault.span.start, fault.span.end));
    }
}

/// The line that a span begins on.
pub(super) struct Place<'t> {
    /// Text without its line end.
    pub(super) line: &'t str,
    /// The part of the span on this line, in bytes from the line's start, on character borders.
    span: Range<usize>,
}

impl Place<'_> {
    /// Where on the line the span begins, in characters from 1.
    fn column(&self) -> usize {
        let before = self.line.get(..self.span.start).unwrap_or_default();
        before.chars().count() + 1
    }
}

/// Finds the line of a span; any span is taken, a wrong one is moved to the nearest place in the text.
pub(super) fn place<'t>(text: &'t str, span: &Range<usize>) -> Place<'t> {
    let start = border(text, span.start);
    let end = border(text, span.end).max(start);
    let before = text.get(..start).unwrap_or_default();
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    let rest = text.get(line_start..).unwrap_or_default();
    let line = rest.split('\n').next().unwrap_or_default();
    let line = line.strip_suffix('\r').unwrap_or(line);
    let from = (start - line_start).min(line.len());
    let to = (end - line_start).min(line.len());
    Place {
        line,
        span: from..to,
    }
}

/// The character border at or before a byte of the text.
fn border(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// One fault with its source line.
fn render(fault: &Fault, line: usize, text: &str, renderer: &Renderer) -> String {
    let place = place(text, &fault.span);
    let where_: Element<'_> = if text.is_empty() {
        Origin::path(fault.file.as_str()).into()
    } else if place.line.len() > LONGEST_LINE {
        Origin::path(fault.file.as_str())
            .line(line)
            .char_column(place.column())
            .into()
    } else {
        let mark = AnnotationKind::Primary
            .span(place.span)
            .label(fault.label.as_deref());
        Snippet::source(place.line)
            .path(fault.file.as_str())
            .line_start(line)
            .annotation(mark)
            .into()
    };
    let mut group = Level::ERROR
        .primary_title(fault.message.as_str())
        .element(where_);
    if let Some(hint) = &fault.hint {
        group = group.element(Level::HELP.message(normalize_untrusted_str(hint)));
    }
    renderer.render(&[group])
}

impl Faults {
    /// As they are displayed, with colours for a terminal (ECMA-48).
    #[must_use]
    pub fn coloured(&self) -> String {
        let mut out = String::new();
        // A string takes all that is written to it.
        let _ = self.report(&mut out, Renderer::styled());
        out
    }

    fn report(&self, f: &mut impl fmt::Write, renderer: Renderer) -> fmt::Result {
        let renderer = renderer.decor_style(DecorStyle::Ascii);
        let shown = self.list.iter().zip(self.lines()).take(SHOWN);
        for (index, (fault, line)) in shown.enumerate() {
            if index > 0 {
                write!(f, "\n\n")?;
            }
            f.write_str(&render(fault, line, &self.text, &renderer))?;
        }
        let file = normalize_untrusted_str(&self.file);
        if self.list.len() > SHOWN {
            write!(
                f,
                "\n\n{file}: {} faults, the first {SHOWN} shown",
                self.list.len()
            )?;
        } else if self.list.len() > 1 {
            write!(f, "\n\n{file}: {} faults", self.list.len())?;
        }
        Ok(())
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.report(f, Renderer::plain())
    }
}

impl std::error::Error for Faults {}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "name = \"x\"\n\n[ground]\npitch = -65 # Abstand über alles\ndepth = 1\n";

    fn at(needle: &str) -> Range<usize> {
        let start = TEXT.find(needle).unwrap_or_default();
        start..start + needle.len()
    }

    #[test]
    fn a_fault_shows_line_caret_and_hint() {
        let fault = Fault::new("a.toml", at("-65"), "`pitch` is -65")
            .with_hint("write more than 0")
            .with_label("here");
        let shown = Faults::new("a.toml", TEXT, vec![fault]).to_string();
        assert_eq!(
            shown,
            "error: `pitch` is -65\n --> a.toml:4:9\n  |\n4 | pitch = -65 # Abstand über alles\n  \
             |         ^^^ here\n  |\n  = help: write more than 0"
        );
    }

    #[test]
    fn faults_are_told_in_the_order_of_the_lines() {
        let late = Fault::new("a.toml", at("depth"), "late");
        let early = Fault::new("a.toml", at("name"), "early");
        let mut faults = Faults::new("a.toml", TEXT, vec![late, early]);
        faults.extend([Fault::new("a.toml", at("pitch"), "between")]);
        assert_eq!(faults.lines(), [1, 4, 5]);
        assert!(faults.to_string().ends_with("a.toml: 3 faults"), "{faults}");
    }

    #[test]
    fn any_span_is_shown_somewhere() {
        let inside_a_character = TEXT.find('ü').unwrap_or_default() + 1;
        for span in [
            0..0,
            inside_a_character..inside_a_character + 1,
            Range { start: 5, end: 2 },
            999..1200,
            0..9999,
        ] {
            let faults = Faults::new("a.toml", TEXT, vec![Fault::new("a.toml", span, "wrong")]);
            assert!(faults.to_string().starts_with("error: wrong\n"), "{faults}");
        }
        let no_text = Faults::new("a.toml", "", vec![Fault::new("a.toml", 7..9, "wrong")]);
        assert_eq!(no_text.to_string(), "error: wrong\n--> a.toml");
    }

    #[test]
    fn a_long_report_is_cut_off_and_a_long_line_is_only_named() {
        let many = vec![Fault::new("a.toml", 0..1, "wrong"); SHOWN + 1];
        let shown = Faults::new("a.toml", TEXT, many).to_string();
        assert!(
            shown.ends_with("a.toml: 51 faults, the first 50 shown"),
            "{shown}"
        );
        assert_eq!(shown.matches("error: wrong").count(), SHOWN);

        let text = format!("\n{}", "é".repeat(LONGEST_LINE));
        let fault = Fault::new("a.toml", 21..23, "wrong");
        let shown = Faults::new("a.toml", text, vec![fault]).to_string();
        assert_eq!(shown, "error: wrong\n--> a.toml:2:11");
    }
}
