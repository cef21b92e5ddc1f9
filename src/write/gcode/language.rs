//! What a template may say, checked before the template engine sees it.
//!
//! A post-processor file may come from anywhere, in a job folder too, and an engine of templates is a
//! programming language: its loops and lists take any memory, and its parser any stack. So the language is
//! closed. What it cannot say cannot run on, and what a template writes is at most as long as it is itself,
//! with a value in the place of each name.
//!
//! ```text
//! template  = { text | "{{" name "}}" | "{#" remark "#}" | choice }
//! choice    = "{%" "if" condition "%}" template
//!             { "{%" "elif" condition "%}" template } [ "{%" "else" "%}" template ] "{%" "endif" "%}"
//! condition = [ "not" ] name { ( "and" | "or" ) [ "not" ] name }
//! ```
//!
//! A `-` inside a mark drops the blanks beside it, as in `{%- endif %}`.

use crate::limits::{CHOICE_NAMES, CHOICES, TEMPLATE};

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
pub(super) fn check(source: &str) -> Result<(), Slip> {
    let length = source.chars().count();
    if length > TEMPLATE {
        return Err(Slip {
            line: 1,
            reason: format!("has {length} characters; at most {TEMPLATE} are allowed"),
        });
    }
    // For each choice that is open: where it began, and how many levels it takes.
    let mut open: Vec<(usize, usize)> = Vec::new();
    let mut at = 0;
    while let Some((start, [begin, end])) = next_mark(source, at) {
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
        let said = said.strip_prefix('-').unwrap_or(said);
        let said = said.strip_suffix('-').unwrap_or(said).trim();
        match begin {
            "{{" if !is_name(said) => {
                return Err(slip(format!(
                    "`{{{{ {} }}}}` is more than the name of a value, and no more is allowed there",
                    short(said)
                )));
            }
            "{%" => choice(said, start, &mut open).map_err(slip)?,
            _ => {}
        }
    }
    match open.last() {
        Some(&(start, _)) => Err(Slip {
            line: line_of(source, start),
            reason: "`{% if %}` is not closed by `{% endif %}`".into(),
        }),
        None => Ok(()),
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
fn is_name(word: &str) -> bool {
    let own = ["not", "and", "or", "in", "is", "if", "else"];
    word.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_')
        && word.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        && !own.contains(&word)
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
            "{#- a remark {{ with }} { marks } -#}\nM2",
            "{%- if a -%}1{%- elif not b and c or not d -%}2{%- else -%}3{%- endif -%}",
            "} %} }} { a lone brace is text }",
            "%\nG21",
        ] {
            assert_eq!(check(source), Ok(()), "{source}");
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
            "x * 3",
            "x ~ x",
            "x | upper",
            "x()",
            "x[0]",
            "x.y",
            "\"x\" * 9",
            "[x]",
            "(x)",
            "-1",
            "{x",
            "x y",
            "1",
            "",
            "not x",
            "x if y else z",
        ] {
            let slip = refused(&format!("G1\n\nX{{{{ {said} }}}}"));
            assert_eq!(slip.line, 3, "{said}: {}", slip.reason);
        }
        assert!(refused("X{{ x").reason.contains("not closed"));
        assert!(refused("X{% if x %}\n").reason.contains("endif"));
        assert!(refused("{{{ x }}}").reason.contains("more than the name"));
    }

    #[test]
    fn limits_are_those_that_are_named() {
        let long = |n: usize| "x".repeat(n);
        assert_eq!(check(&long(TEMPLATE)), Ok(()));
        assert!(
            refused(&long(TEMPLATE + 1))
                .reason
                .contains("2001 characters")
        );
        let deep = |n: usize| "{% if a %}".repeat(n) + &"{% endif %}".repeat(n);
        assert_eq!(check(&deep(CHOICES)), Ok(()));
        assert!(refused(&deep(CHOICES + 1)).reason.contains("8 deep"));
        let chain = |n: usize| format!("{{% if a %}}{}{{% endif %}}", "{% elif a %}".repeat(n - 1));
        assert_eq!(check(&chain(CHOICES)), Ok(()));
        assert!(refused(&chain(CHOICES + 1)).reason.contains("8 deep"));
        let wide = |n: usize| format!("{{% if {} %}}{{% endif %}}", vec!["a"; n].join(" and "));
        assert_eq!(check(&wide(CHOICE_NAMES)), Ok(()));
        assert!(
            refused(&wide(CHOICE_NAMES + 1))
                .reason
                .contains("at most 8 names")
        );
    }
}
