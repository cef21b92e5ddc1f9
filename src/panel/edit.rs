//! Changes a value in a maker's file; comments, layout and line ends stay as they are.

use std::ops::Range;

use toml_edit::{DocumentMut, Item, Value};

use super::{FROM_MEMORY, Faults, FileText};

/// The text of a file with a number put in the place of a key's value; a key that is not there is added at
/// the end of its table.
///
/// # Errors
/// There is no such table, or the key is written so that other bytes would change with its value.
pub(super) fn with_number(
    text: &FileText,
    key: &str,
    number: impl Into<Value>,
) -> Result<String, Faults> {
    let refused = |message: &str| {
        let hint = format!("write `{key}` on a line of its own in its table");
        text.fault(key, message, Some(hint))
    };
    let own = text.text.as_str();
    let mut document: DocumentMut = own
        .parse()
        .map_err(|_| refused("the file cannot be taken apart to change it"))?;
    let before = document.to_string();
    set(&mut document, key, number.into())
        .ok_or_else(|| refused("there is no table for this value"))?;
    let after = with_own_lines(own, &before, &document.to_string())
        .filter(|after| differs_in_value(text, key, after));
    after.ok_or_else(|| refused("this value cannot be changed without changing more"))
}

/// Sets or adds a key by its dotted path.
fn set(document: &mut DocumentMut, path: &str, mut fresh: Value) -> Option<()> {
    let mut table = document.as_item_mut();
    let (tables, key) = path.rsplit_once('.').unwrap_or(("", path));
    for key in tables.split('.').filter(|key| !key.is_empty()) {
        table = table.as_table_like_mut()?.get_mut(key)?;
    }
    let keys = table.as_table_like_mut()?;
    if let Some(item) = keys.get_mut(key) {
        let value = item.as_value_mut()?;
        *fresh.decor_mut() = value.decor().clone();
        *value = fresh;
        return Some(());
    }
    keys.insert(key, Item::Value(fresh));
    // Between braces the blank before the last one belongs to the last value.
    if let Some(inline) = table.as_inline_table_mut() {
        let mut values: Vec<&mut Value> = inline.iter_mut().map(|(_, value)| value).collect();
        if let [.., before, last] = values.as_mut_slice()
            && let Some(blank) = before.decor().suffix().cloned()
        {
            before.decor_mut().set_suffix("");
            last.decor_mut().set_suffix(blank);
        }
    }
    Some(())
}

/// The text of a file without an entry of the list `from_memory`, where it has one: a list that holds no other goes
/// with its line. Comments between the entries stay.
pub(super) fn without_entry(text: &FileText, entry: &str) -> String {
    let own = text.text.as_str();
    let mut items: Vec<Range<usize>> = (0..)
        .map_while(|at| text.spans.get(&format!("{FROM_MEMORY}[{at}]")).cloned())
        .collect();
    let named = |span: &Range<usize>| {
        let written = own.get(span.clone()).unwrap_or_default();
        written.trim_matches(['"', '\'']) == entry
    };
    let (Some(at), Some(list)) = (items.iter().position(named), text.spans.get(FROM_MEMORY)) else {
        return own.to_owned();
    };
    let item = items.remove(at);
    if items.is_empty() {
        return without(own, whole_lines(own, list));
    }
    const BLANKS: [char; 2] = [' ', '\t'];
    let head = own.get(..item.start).unwrap_or_default();
    let blanks = head.len() - head.trim_end_matches(BLANKS).len();
    let rest = own.get(item.end..).unwrap_or_default();
    let to_comma = rest.len() - rest.trim_start_matches(BLANKS).len();
    let Some(behind) = rest.get(to_comma..).and_then(|r| r.strip_prefix(',')) else {
        // The last one, without a comma: that of the one before it goes, unless it stands on another line.
        let before = at.checked_sub(1).and_then(|b| items.get(b));
        let gap = before.map(|last| last.end..item.start);
        let gap = gap.filter(|gap| !own.get(gap.clone()).unwrap_or("#").contains(['#', '\n']));
        let start = gap.map_or(item.start - blanks, |gap| gap.start);
        return without(own, start..item.end);
    };
    let end = own.len() - behind.len();
    let alone = head.trim_end_matches(BLANKS).ends_with('\n');
    let line_end = behind
        .find('\n')
        .filter(|&at| behind.get(..at).is_some_and(|b| b.trim().is_empty()));
    let gone = match line_end {
        // A line of its own goes with its end.
        Some(line_end) if alone => item.start - blanks..end + line_end + 1,
        // The first on its line: what follows takes its place.
        _ if alone || head.ends_with('[') => {
            let after = behind.len() - behind.trim_start_matches(BLANKS).len();
            item.start..end + after
        }
        _ => item.start - blanks..end,
    };
    without(own, gone)
}

/// The text of a file without the words `(from memory)`, and what they go on to say in the same brackets, in the
/// comment behind the value of a key.
pub(super) fn without_remark(text: &FileText, key: &str) -> String {
    const REMARK: &str = "(from memory";
    let own = text.text.as_str();
    let found = || {
        let from = text.spans.get(key)?.end;
        let line = own.get(from..)?.lines().next()?;
        if !line.trim_start().starts_with('#') {
            return None;
        }
        let at = line.find(REMARK)?;
        let rest = line.get(at + REMARK.len()..)?;
        if !rest.starts_with([')', ':', ',', ';']) {
            return None;
        }
        let end = at + REMARK.len() + rest.find(')')? + 1;
        let start = line.get(..at)?.trim_end_matches(' ').len();
        Some(from + start..from + end)
    };
    match found() {
        Some(gone) => without(own, gone),
        None => own.to_owned(),
    }
}

fn without(text: &str, gone: Range<usize>) -> String {
    let (head, tail) = (text.get(..gone.start), text.get(gone.end..));
    head.zip(tail)
        .map_or_else(|| text.to_owned(), |(head, tail)| head.to_owned() + tail)
}

/// The lines that a value stands on, with the end of the last one.
fn whole_lines(text: &str, value: &Range<usize>) -> Range<usize> {
    let before = text.get(..value.start).unwrap_or_default();
    let after = text.get(value.end..).unwrap_or_default();
    let mark = if before.starts_with('\u{feff}') {
        '\u{feff}'.len_utf8()
    } else {
        0
    };
    let start = before.rfind('\n').map_or(mark, |at| at + 1);
    let end = after.find('\n').map_or(text.len(), |at| value.end + at + 1);
    start..end
}

/// The changed document with the file's own bytes in every line that did not change: a document writes
/// each line end as `\n`, and one at the end of the file. `before` is the file as the document writes it.
fn with_own_lines(own: &str, before: &str, after: &str) -> Option<String> {
    const MARK: char = '\u{feff}';
    let lines =
        |text: &'_ str| -> Vec<String> { text.split_inclusive('\n').map(str::to_owned).collect() };
    let (unmarked, mark) = match own.strip_prefix(MARK) {
        Some(rest) => (rest, "\u{feff}"),
        None => (own, ""),
    };
    let (mut own, before, after) = (lines(unmarked), lines(before), lines(after));
    if own.len() != before.len() {
        return None;
    }
    let alike = |pairs: &mut dyn Iterator<Item = (&String, &String)>| {
        pairs.take_while(|(a, b)| a == b).count()
    };
    let head = alike(&mut before.iter().zip(&after));
    let rest = before.len().min(after.len()) - head;
    let tail = alike(&mut before.iter().rev().zip(after.iter().rev())).min(rest);
    let end_of = |line: &str| {
        let body = line.trim_end_matches(['\r', '\n']);
        line.get(body.len()..).unwrap_or_default().to_owned()
    };
    let common = own.first().map_or_else(|| "\n".to_owned(), |l| end_of(l));
    let old = head..own.len() - tail;
    let mut new = Vec::new();
    for (i, line) in after[head..after.len() - tail].iter().enumerate() {
        let end = match own.get(head + i).filter(|_| head + i < old.end) {
            Some(line) => end_of(line),
            None => common.clone(),
        };
        new.push(line.trim_end_matches('\n').to_owned() + &end);
    }
    // A line added after one without an end: the end moves between them.
    if old.is_empty()
        && let Some(last) = own.get_mut(..head).and_then(<[String]>::last_mut)
        && !last.ends_with('\n')
    {
        last.push_str(&common);
        new.iter_mut()
            .for_each(|line| line.truncate(line.trim_end().len()));
    }
    own.splice(old, new);
    Some(mark.to_owned() + &own.concat())
}

/// Whether the file differs from `after` in the key's value and nowhere else; for a key that was not
/// there, whether all of the file is still there around it.
fn differs_in_value(text: &FileText, key: &str, after: &str) -> bool {
    let own = text.text.as_str();
    let (before, behind) = match text.spans.get(key) {
        Some(span) => (own.get(..span.start), own.get(span.end..)),
        None => {
            let same = own.bytes().zip(after.bytes());
            let head = same.take_while(|(a, b)| a == b).count();
            let head = (0..=head).rev().find(|&at| own.is_char_boundary(at));
            (own.get(..head.unwrap_or(0)), own.get(head.unwrap_or(0)..))
        }
    };
    let (Some(before), Some(behind)) = (before, behind) else {
        return false;
    };
    after.len() >= before.len() + behind.len()
        && after.starts_with(before)
        && after.ends_with(behind)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file's text and spans, as they are read.
    fn file(text: &str) -> FileText {
        let (root, _) = toml::de::DeTable::parse_recoverable(text);
        let mut spans = std::collections::BTreeMap::new();
        if let Some(toml::de::DeValue::Table(laser)) =
            root.get_ref().get("laser").map(toml::Spanned::get_ref)
            && let Some(kerf) = laser.get("kerf")
        {
            spans.insert("laser.kerf".to_owned(), kerf.span());
        }
        FileText {
            file: "m.toml".into(),
            text: text.into(),
            spans,
        }
    }

    #[test]
    fn every_byte_but_the_value_stays() {
        // Each with `@` where the value stands.
        let files = [
            "# c\n[laser] # t\nkerf = @   # kerf = 7\nfeed = 3\n\n# before\n[router]\nx = 1\n",
            "# c\r\n\r\n[laser]\r\n\tkerf=@\t# mm\r\nfeed = 3\r\n",
            "# mixed\r\n[laser]\nkerf = @\r\nfeed = 3\n\r\n\n",
            "\u{feff}# marked\n[laser]\nkerf = @\n",
            "\u{feff}laser.kerf = @ # first line\r\n",
            "[laser]\nfeed = 3\nkerf = @",
            "[laser]\nkerf = @ # no line end",
            "laser = { kerf = @ , feed= 3 }  # y\n",
            "laser = { feed = 3,\r\n  # c\r\n  kerf = @ }\r\n",
            "\"laser\".'kerf' = @\n",
            "s = '''\r\na\r\nb'''\n[laser]\nkerf = @\r\n",
            "[[b]]\nx=1\n[laser]\nkerf=@\n[[b]]\nx=2 # ä\n[laser.sub]\nz=1\n   # end\n\n",
        ];
        for pattern in files {
            for was in ["0.2", "\"0.2 mm\"", "\"1/64 in\"", "1", "2e-1"] {
                let text = pattern.replace('@', was);
                for (number, written) in [(0.11, "0.11"), (0.035, "0.035"), (-0.25, "-0.25")] {
                    let after = with_number(&file(&text), "laser.kerf", number).expect("changed");
                    assert_eq!(after, pattern.replace('@', written));
                }
            }
        }
    }

    #[test]
    fn a_key_that_is_not_there_gets_a_line_in_its_table() {
        // Each with `@` where the line goes.
        let files = [
            (
                "[laser]\nkerf = 2 # k\n@\n# before\n[router]\nx = 1\n",
                "flare = 0.06\n",
            ),
            (
                "# c\r\n[laser]\r\nkerf = 2 # k\r\n@\r\n[router]\r\n",
                "flare = 0.06\r\n",
            ),
            ("[laser]\nkerf = 2@", "\nflare = 0.06"),
            ("a = 1\r\n[laser]\r\nkerf = 2 # end@", "\r\nflare = 0.06"),
            ("laser = { kerf = 0.2@ } # l\n", ", flare = 0.06"),
            ("laser = {kerf = 0.2@}\n", ", flare = 0.06"),
            ("laser = { a = 1,\n kerf = 0.2@\n}\n", ", flare = 0.06"),
            ("laser.kerf = 2\n@", "laser.flare = 0.06\n"),
        ];
        for (pattern, line) in files {
            let text = pattern.replace('@', "");
            let after = with_number(&file(&text), "laser.flare", 0.06).expect("added");
            assert_eq!(after, pattern.replace('@', line));
        }
    }

    /// A file's text with the spans of its list `from_memory` and of `kerf`.
    fn listed(text: &str) -> FileText {
        let reading = super::super::reader::read("m.toml", text, |_| ());
        FileText {
            file: "m.toml".into(),
            text: text.into(),
            spans: reading.spans,
        }
    }

    #[test]
    fn an_entry_goes_and_all_else_stays() {
        for (before, after) in [
            (
                "from_memory = [\"a\", \"kerf\", \"b\"]\n",
                "from_memory = [\"a\", \"b\"]\n",
            ),
            (
                "from_memory = [\"kerf\", \"b\"]\n",
                "from_memory = [\"b\"]\n",
            ),
            ("from_memory = [ 'a', 'kerf' ]\n", "from_memory = [ 'a' ]\n"),
            (
                "from_memory = [\n  \"a\", \"kerf\",\n  \"b\",\n]\n",
                "from_memory = [\n  \"a\",\n  \"b\",\n]\n",
            ),
            (
                "from_memory = [\r\n  \"kerf\", \"a\",\r\n]\r\n",
                "from_memory = [\r\n  \"a\",\r\n]\r\n",
            ),
            (
                "from_memory = [\n  \"a\",\n  \"kerf\",\n]\n",
                "from_memory = [\n  \"a\",\n]\n",
            ),
            (
                "from_memory = [\r\n  \"kerf\", # k\r\n  \"a\", # a\r\n]\r\n",
                "from_memory = [\r\n  # k\r\n  \"a\", # a\r\n]\r\n",
            ),
            (
                "from_memory = [\n  \"a\", # a\n  \"kerf\" # k\n]\n",
                "from_memory = [\n  \"a\", # a\n # k\n]\n",
            ),
            (
                "x = 1\nfrom_memory = [\"kerf\"] # all\ny = 2\n",
                "x = 1\ny = 2\n",
            ),
            ("x = 1\r\nfrom_memory = [\r\n \"kerf\",\r\n]", "x = 1\r\n"),
            (
                "\u{feff}from_memory = [\"kerf\"]\nx = 1\n",
                "\u{feff}x = 1\n",
            ),
            ("from_memory = [\"a\"]\n", "from_memory = [\"a\"]\n"),
            ("x = 1\n", "x = 1\n"),
        ] {
            assert_eq!(without_entry(&listed(before), "kerf"), after);
            let parsed = after.trim_start_matches('\u{feff}').parse::<DocumentMut>();
            assert!(parsed.is_ok(), "{after}");
        }
    }

    #[test]
    fn only_the_remark_behind_the_value_goes() {
        for (before, after) in [
            ("kerf = 1 # mm (from memory)\n", "kerf = 1 # mm\n"),
            (
                "kerf = 1 # mm (from memory: read it), cold\r\n",
                "kerf = 1 # mm, cold\r\n",
            ),
            (
                "kerf = 1 # not (from memory at all)\n",
                "kerf = 1 # not (from memory at all)\n",
            ),
            (
                "kerf = 1\n# mm (from memory)\n",
                "kerf = 1\n# mm (from memory)\n",
            ),
            (
                "x = 2 # (from memory)\nkerf = 1 # mm\n",
                "x = 2 # (from memory)\nkerf = 1 # mm\n",
            ),
        ] {
            assert_eq!(without_remark(&listed(before), "kerf"), after);
        }
    }

    #[test]
    fn what_would_change_more_is_refused() {
        // The document would lose the blank before the point.
        let spaced = file("laser.feed = 3\nlaser . kerf = 2\n");
        assert!(with_number(&spaced, "laser.kerf", 0.1).is_err());
        assert!(with_number(&file("a = 1\n"), "laser.kerf", 0.1).is_err());
        assert!(with_number(&file("laser = 1\n"), "laser.kerf", 0.1).is_err());
        assert!(with_number(&file("laser = {}\nlaser = 1\n"), "laser.kerf", 0.1).is_err());
    }
}
