//! Which key of a TOML file stands at a place of its text.

use std::ops::Range;

use toml_edit::{Document, Item, TableLike, Value};

/// All keys of a file, each with the stretch of text from its name to the end of its value, in bytes.
pub(super) struct Keys(Vec<(Range<usize>, String)>);

impl Keys {
    /// Those of a text; none where it cannot be taken apart.
    pub(super) fn of(text: &str) -> Self {
        let mut keys = Self(Vec::new());
        if let Ok(document) = Document::parse(text) {
            keys.table(document.as_table(), "");
        }
        keys
    }

    /// The innermost key that a stretch of the text lies in.
    pub(super) fn at(&self, span: &Range<usize>) -> Option<String> {
        let within =
            (self.0.iter()).filter(|(whole, _)| whole.start <= span.start && span.end <= whole.end);
        let innermost = within.min_by_key(|(whole, _)| whole.len());
        innermost.map(|(_, key)| key.clone())
    }

    fn table(&mut self, table: &dyn TableLike, path: &str) {
        for (name, item) in table.iter() {
            let path = match path {
                "" => name.to_owned(),
                path => format!("{path}.{name}"),
            };
            let key = table.key(name).and_then(toml_edit::Key::span);
            let stretch = [key, item.span()].into_iter().flatten();
            if let Some(whole) = stretch.reduce(|a, b| a.start.min(b.start)..a.end.max(b.end)) {
                self.0.push((whole, path.clone()));
            }
            self.item(item, &path);
        }
    }

    fn item(&mut self, item: &Item, path: &str) {
        if let Some(table) = item.as_table_like() {
            self.table(table, path);
        }
        if let Some(tables) = item.as_array_of_tables() {
            for (index, table) in tables.iter().enumerate() {
                self.table(table, &format!("{path}[{index}]"));
            }
        }
        let array = item.as_array();
        let inline = array.into_iter().flat_map(|a| a.iter().enumerate());
        for (index, value) in inline {
            if let Value::InlineTable(table) = value {
                self.table(table, &format!("{path}[{index}]"));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_innermost_key_is_found() {
        let text = "name = \"x\"\nstock = { a = 1, b = [2, 3] }\n[cut]\nmethod = 'flat'\n[[infill.feature]]\npattern = \"p\"\n";
        let keys = Keys::of(text);
        for (needle, key) in [
            ("\"x\"", "name"),
            ("1", "stock.a"),
            ("[2, 3]", "stock.b"),
            ("method", "cut.method"),
            ("'flat'", "cut.method"),
            ("\"p\"", "infill.feature[0].pattern"),
        ] {
            let start = text.find(needle).unwrap_or_default();
            let found = keys.at(&(start..start + needle.len()));
            assert_eq!(found.as_deref(), Some(key), "{needle}");
        }
        assert_eq!(Keys::of("a = [").at(&(0..1)), None);
        assert_eq!(keys.at(&(text.len()..text.len())), None);
    }
}
