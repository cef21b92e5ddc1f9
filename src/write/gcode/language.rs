//! What a template may say, checked before the template engine sees it.
//!
//! A post-processor file may come from anywhere, in a job folder too, and an engine of templates is a
//! programming language: its loops and lists take any memory, and its parser any stack. So the language is
//! closed. What it cannot say cannot run on, and what a template writes is at most as long as it is itself,
//! with a value in the place of each name or sum.
//!
//! ```text
//! template  = { text | "{{" ( name | sum ) "}}" | "{#" remark "#}" | choice }
//! choice    = "{%" "if" condition "%}" template
//!             { "{%" "elif" condition "%}" template } [ "{%" "else" "%}" template ] "{%" "endif" "%}"
//! condition = [ "not" ] name { ( "and" | "or" ) [ "not" ] name }
//! ```
//!
//! A `-` inside a mark drops the blanks beside it, as in `{%- endif %}`. A sum is arithmetic (`sum.rs`). The engine
//! never sees one: a name stands in its place, and what is behind that is worked out here.

use crate::limits::{CHOICE_NAMES, CHOICES, TEMPLATE};

use super::sum::Sum;

/// What names that stand for sums begin with; no template may use such a name itself.
const SUM_NAME: &str = "__sum";

/// A template that says nothing but what the language has.
#[derive(Debug, PartialEq)]
pub(super) struct Checked {
    /// Its text for the engine, line by line as it was, with a name for each sum.
    pub(super) text: String,
    /// The sums, in the order of their names.
    pub(super) sums: Vec<Sum>,
}

/// The sum that a name stands for, by its place in [`Checked::sums`].
pub(super) fn sum_of_name(name: &str) -> Option<usize> {
    name.strip_prefix(SUM_NAME)?.parse().ok()
}

/// What a template says that it may not.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Slip {
    /// Line of the template, from 1.
    pub(super) line: usize,
    /// What is wrong and what would be right.
    pub(super) reason: String,
}

/// Checks that a template says nothing but what the language has. Values that are not there, and choices in the
/// wrong order, are left to the engine.
///
/// # Errors
/// The first [`Slip`].
pub(super) fn check(source: &str) -> Result<Checked, Slip> {
    let length = source.chars().count();
    if length > TEMPLATE {
        return Err(Slip {
            line: 1,
            reason: format!("has {length} characters; at most {TEMPLATE} are allowed"),
        });
    }
    // For each choice that is open: where it began, and how many levels it takes.
    let mut open: Vec<(usize, usize)> = Vec::new();
    let mut checked = Checked {
        text: String::with_capacity(source.len()),
        sums: Vec::new(),
    };
    let mut at = 0;
    while let Some((start, [begin, end])) = next_mark(source, at) {
        let before = at;
        let slip = |reason: String| Slip {
            line: line_of(source, start),
            reason,
        };
        let inner = start + begin.len();
        let rest = source.get(inner..).unwrap_or_default();
        let Some(length) = rest.find(end) else {
            return Err(slip(format!("`{begin}` is not closed by `{end}`")));
        };
        let said = rest.get(..length).unwrap_or_default();
        at = inner + length + end.len();
        let (open_dash, said) = match said.strip_prefix('-') {
            Some(rest) => ("-", rest),
            None => ("", said),
        };
        let (close_dash, said) = match said.strip_suffix('-') {
            Some(rest) => ("-", rest),
            None => ("", said),
        };
        match begin {
            "{{" if !is_name(said.trim()) => {
                let sum = Sum::parse(said)
                    .map_err(|e| slip(format!("`{{{{ {} }}}}` {e}", short(said.trim()))))?;
                let name = format!("{SUM_NAME}{}", checked.sums.len());
                let lines = "\n".repeat(said.matches('\n').count());
                checked
                    .text
                    .push_str(source.get(before..start).unwrap_or_default());
                checked
                    .text
                    .push_str(&format!("{{{{{open_dash} {name} {lines}{close_dash}}}}}"));
                checked.sums.push(sum);
                continue;
            }
            "{%" => choice(said.trim(), start, &mut open).map_err(slip)?,
            _ => {}
        }
        checked
            .text
            .push_str(source.get(before..at).unwrap_or_default());
    }
    checked.text.push_str(source.get(at..).unwrap_or_default());
    match open.last() {
        Some(&(start, _)) => Err(Slip {
            line: line_of(source, start),
            reason: "`{% if %}` is not closed by `{% endif %}`".into(),
        }),
        None => Ok(checked),
    }
}

/// The next mark from a byte on: where it stands, how it begins and how it ends.
fn next_mark(source: &str, from: usize) -> Option<(usize, [&'static str; 2])> {
    let marks = [["{{", "}}"], ["{%", "%}"], ["{#", "#}"]];
    let rest = source.get(from..)?;
    let found = marks.iter().filter_map(|mark| {
        let at = rest.find(mark[0])?;
        Some((from + at, *mark))
    });
    found.min_by_key(|(at, _)| *at)
}

/// Takes one `{% ... %}`, which began at `start`.
fn choice(said: &str, start: usize, open: &mut Vec<(usize, usize)>) -> Result<(), String> {
    let mut words = said.split_ascii_whitespace();
    let word = words.next().unwrap_or_default();
    let rest: Vec<&str> = words.collect();
    match (word, rest.as_slice()) {
        ("if", names) => {
            condition(names)?;
            open.push((start, 1));
        }
        ("elif", names) => {
            condition(names)?;
            let (_, levels) = open.last_mut().ok_or_else(|| without_if(word))?;
            *levels += 1;
        }
        ("else", []) if !open.is_empty() => {}
        ("endif", []) if !open.is_empty() => {
            open.pop();
        }
        ("else" | "endif", []) => return Err(without_if(word)),
        _ => {
            return Err(format!(
                "`{{% {} %}}` is not allowed; a template has values, `{{% if name %}}`, \
                 `{{% elif name %}}`, `{{% else %}}` and `{{% endif %}}`",
                short(said)
            ));
        }
    }
    if open.iter().map(|(_, levels)| levels).sum::<usize>() > CHOICES {
        return Err(format!(
            "choices lie more than {CHOICES} deep in each other"
        ));
    }
    Ok(())
}

fn without_if(word: &str) -> String {
    format!("`{{% {word} %}}` has no `{{% if %}}` before it")
}

/// Names with `and` or `or` between them, each with or without a `not`.
fn condition(words: &[&str]) -> Result<(), String> {
    let wrong = || {
        format!(
            "a choice hangs on names with `not`, `and`, `or` alone, but this one on `{}`",
            short(&words.join(" "))
        )
    };
    let mut names = 0;
    let mut rest = words;
    loop {
        rest = match rest {
            ["not", name, rest @ ..] | [name, rest @ ..] if is_name(name) => rest,
            _ => return Err(wrong()),
        };
        names += 1;
        if names > CHOICE_NAMES {
            return Err(format!(
                "a choice hangs on at most {CHOICE_NAMES} names, but this one on more"
            ));
        }
        rest = match rest {
            [] => return Ok(()),
            ["and" | "or", rest @ ..] => rest,
            _ => return Err(wrong()),
        };
    }
}

/// Whether a word can be the name of a value: letters, digits and `_`, and none of the language's own words.
pub(super) fn is_name(word: &str) -> bool {
    let own = ["not", "and", "or", "in", "is", "if", "else"];
    word.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_')
        && word.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        && !own.contains(&word)
        && !word.starts_with(SUM_NAME)
}

fn line_of(source: &str, at: usize) -> usize {
    source.get(..at).unwrap_or_default().matches('\n').count() + 1
}

/// Short enough for a message.
fn short(said: &str) -> String {
    const MOST: usize = 40;
    if said.chars().count() <= MOST {
        return said.to_owned();
    }
    let mut short: String = said.chars().take(MOST).collect();
    short.push_str(" ...");
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(source: &str) -> Slip {
        check(source).expect_err(&short(source))
    }

    #[test]
    fn what_dialects_need_is_allowed() {
        for source in [
            "",
            "G1 X{{ x }} Y{{y}}{% if feed_changed %} F{{ feed }}{% endif %}",
            "P{{ dwell }}",
            "{#- a remark {{ with }} { marks } -#}\nM2",
            "{%- if a -%}1{%- elif not b and c or not d -%}2{%- else -%}3{%- endif -%}",
            "} %} }} { a lone brace is text }",
            "%\nG21",
        ] {
            let checked = check(source).expect(source);
            assert_eq!(checked.text, source, "the engine gets it as it is");
            assert_eq!(checked.sums, vec![], "{source}");
        }
    }

    #[test]
    fn all_else_is_refused_with_its_line() {
        for said in [
            "for a in range(9)",
            "endfor",
            "set a = [1]",
            "set a = a ~ a",
            "macro f()",
            "call f()",
            "filter upper",
            "block b",
            "extends \"x\"",
            "include \"x\"",
            "import \"x\" as x",
            "with a = 1",
            "do a()",
            "autoescape true",
            "raw",
            "break",
            "if",
            "if a == 1",
            "if (a)",
            "if a and",
            "if not not a",
            "if a | upper",
            "if a.b",
            "if a b",
            "elif a",
            "else",
            "endif",
            "else if a",
            "",
        ] {
            let slip = refused(&format!("G1\n{{% {said} %}}"));
            assert_eq!(slip.line, 2, "{said}: {}", slip.reason);
        }
        for said in [
            "x ~ x",
            "__sum0",
            "[1] + [1]",
            "x | upper",
            "x()",
            "x[0]",
            "x.y",
            "\"x\" * 9",
            "[x]",
            "{x",
            "x y",
            "",
            "not x",
            "x if y else z",
            "x * y * 'z'",
        ] {
            let slip = refused(&format!("G1\n\nX{{{{ {said} }}}}"));
            assert_eq!(slip.line, 3, "{said}: {}", slip.reason);
        }
        assert!(refused("X{{ x").reason.contains("not closed"));
        assert!(refused("X{% if x %}\n").reason.contains("endif"));
        assert!(refused("{{{ x }}}").reason.contains("neither the name"));
    }

    /// The engine sees names in the place of sums, on the same lines and with the same blanks dropped.
    #[test]
    fn a_sum_is_kept_from_the_engine() {
        let checked =
            check("G4 P{{ dwell * 1000 }}\nX{{-(x\n+ 1) -}} Y{{ y }}{{ -1 }}").expect("sound");
        assert_eq!(
            checked.text,
            "G4 P{{ __sum0 }}\nX{{- __sum1 \n-}} Y{{ y }}{{ __sum2 }}"
        );
        assert_eq!(checked.sums.len(), 3);
        assert_eq!(sum_of_name("__sum12"), Some(12));
        assert_eq!(sum_of_name("sum12"), None);
    }

    /// Loops, lists and names of a template's own are not in the language, so that nothing can be doubled.
    #[test]
    fn a_list_that_is_doubled_is_refused() {
        let doubled = format!(
            "{{% set l = [1] %}}{}{{{{ l }}}}",
            "{% set l = l + l %}".repeat(32)
        );
        let slip = refused(&doubled);
        assert_eq!(slip.line, 1);
        assert!(
            slip.reason.contains("`{% set l = [1] %}` is not allowed"),
            "{}",
            slip.reason
        );
        let looped = "G21\n{% for i in x %}{% set l = l + l %}{% endfor %}";
        assert!(
            refused(looped)
                .reason
                .contains("`{% for i in x %}` is not allowed")
        );
        let sum = format!("{{{{ {}x{} }}}}", "(".repeat(32), " + x)".repeat(32));
        assert!(refused(&sum).reason.contains("brackets more than 4 deep"));
    }

    #[test]
    fn limits_are_those_that_are_named() {
        let long = |n: usize| "x".repeat(n);
        assert!(check(&long(TEMPLATE)).is_ok());
        assert!(
            refused(&long(TEMPLATE + 1))
                .reason
                .contains("2001 characters")
        );
        let deep = |n: usize| "{% if a %}".repeat(n) + &"{% endif %}".repeat(n);
        assert!(check(&deep(CHOICES)).is_ok());
        assert!(refused(&deep(CHOICES + 1)).reason.contains("8 deep"));
        let chain = |n: usize| format!("{{% if a %}}{}{{% endif %}}", "{% elif a %}".repeat(n - 1));
        assert!(check(&chain(CHOICES)).is_ok());
        assert!(refused(&chain(CHOICES + 1)).reason.contains("8 deep"));
        let wide = |n: usize| format!("{{% if {} %}}{{% endif %}}", vec!["a"; n].join(" and "));
        assert!(check(&wide(CHOICE_NAMES)).is_ok());
        assert!(
            refused(&wide(CHOICE_NAMES + 1))
                .reason
                .contains("at most 8 names")
        );
    }
}
