//! Slips in the form of a file, as people make them, and what would be right.

use super::fault::{Place, place};

/// What may be meant where a fault of form stands, or on its line.
pub(super) fn slip(text: &str, at: usize) -> Option<String> {
    let Place { line, .. } = place(text, &(at..at));
    decimal_comma(text, at)
        .or_else(|| typographic_quotes(line))
        .or_else(|| backslash(line))
        .or_else(|| unit_without_quotes(line))
        .or_else(|| comma_in_number(line))
}

/// A fault of form that stands at a comma between two digits.
fn decimal_comma(text: &str, at: usize) -> Option<String> {
    let (before, after) = text.split_at_checked(at)?;
    let after = after.strip_prefix(',').or_else(|| {
        let digits = before.strip_suffix(',').map(str::len)?;
        text.get(digits + 1..)
    })?;
    let before = before.trim_end_matches(',');
    let whole = &before[before.trim_end_matches(|c: char| c.is_ascii_digit()).len()..];
    let part = &after[..after.len() - after.trim_start_matches(|c: char| c.is_ascii_digit()).len()];
    (!whole.is_empty() && !part.is_empty()).then(|| decimal_point(whole, part))
}

fn decimal_point(whole: &str, part: &str) -> String {
    format!("a decimal point, not a comma: {whole}.{part}")
}

fn typographic_quotes(line: &str) -> Option<String> {
    const QUOTES: [char; 9] = ['“', '”', '„', '‟', '‘', '’', '«', '»', '″'];
    let quote = outside_quotes(line).chars().find(|c| QUOTES.contains(c))?;
    Some(format!("straight quotes, \" or ', in place of {quote}"))
}

fn backslash(line: &str) -> Option<String> {
    let (_, rest) = line.split_once('"')?;
    let inside = rest.split('"').next().unwrap_or_default();
    inside.contains('\\').then(|| {
        let slashes = inside.replace('\\', "/");
        format!("`/` between folders: \"{slashes}\"; a text with \\ in it stands in single quotes")
    })
}

/// `9mm` or `9 mm` as a value.
fn unit_without_quotes(line: &str) -> Option<String> {
    let bare = outside_quotes(line);
    let (_, value) = bare.rsplit_once(['=', '['])?;
    let value = value.trim().trim_end_matches([',', ']', '}', ' ']);
    let digits = value.trim_start_matches(|c: char| c.is_ascii_digit() || ".,/ ".contains(c));
    let number = value.strip_suffix(digits)?.trim();
    let unit = ["mm", "cm", "in", "deg", "degrees"].contains(&digits);
    (unit && !number.is_empty()).then(|| match digits {
        "deg" | "degrees" => format!("the number alone: {number}"),
        "mm" => format!("{number} alone, which is mm, or \"{number} mm\" in quotes"),
        unit => format!("\"{number} {unit}\" in quotes"),
    })
}

fn comma_in_number(line: &str) -> Option<String> {
    let bare = outside_quotes(line);
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    bare.match_indices(',').find_map(|(at, _)| {
        let (before, after) = (bare.get(..at)?, bare.get(at + 1..)?);
        if !digit(before.chars().last()) || !digit(after.chars().next()) {
            return None;
        }
        let whole = before.rsplit(|c: char| !c.is_ascii_digit()).next()?;
        let part = after.split(|c: char| !c.is_ascii_digit()).next()?;
        Some(decimal_point(whole, part))
    })
}

/// A line without what stands in straight quotes, and without its comment; as many characters as before.
fn outside_quotes(line: &str) -> String {
    let mut open: Option<char> = None;
    let mut out = String::new();
    for c in line.chars() {
        match open {
            Some(quote) => {
                out.push(' ');
                if c == quote {
                    open = None;
                }
            }
            None if c == '"' || c == '\'' => {
                open = Some(c);
                out.push(' ');
            }
            None if c == '#' => break,
            None => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn common_slips_are_known() {
        for (line, right) in [
            (
                "face = 9mm # x",
                Some("9 alone, which is mm, or \"9 mm\" in quotes"),
            ),
            ("a = { clear = 1 3/8 in }", Some("\"1 3/8 in\" in quotes")),
            ("angle = 30 degrees", Some("the number alone: 30")),
            (
                "name = “window”",
                Some("straight quotes, \" or ', in place of “"),
            ),
            (
                "left = { clear = 9,5 }",
                Some("a decimal point, not a comma: 9.5"),
            ),
            (
                "stock = \"mine\\card.toml\"",
                Some(
                    "`/` between folders: \"mine/card.toml\"; a text with \\ in it stands in single quotes",
                ),
            ),
            ("name = \"9mm, 9,5 and “so”\" oops", None),
            ("face = wide", None),
            ("", None),
        ] {
            assert_eq!(slip(line, line.len()).as_deref(), right, "{line}");
        }
        let text = "a = 1\nb = 9mm\nc = 2\n";
        assert!(slip(text, 10).is_some_and(|hint| hint.contains("9 mm")));
        assert_eq!(slip(text, 2), None);
        assert_eq!(slip("é", 1), None);
    }
}
