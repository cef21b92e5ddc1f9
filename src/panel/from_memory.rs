//! Values that nobody has measured: a machine or material file lists their keys, and whatever tells such a value says so.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::reader::{Table, join, nearest};

/// The key of a machine or material file that lists them.
pub const FROM_MEMORY: &str = "from_memory";

/// What is told beside such a value.
pub const NOT_MEASURED: &str = "from memory, not measured on this machine";

/// The values of a file that nobody has measured, in the order of its list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FromMemory(Vec<Unmeasured>);

/// A value that nobody has measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unmeasured {
    /// Its key by its dotted path, such as `laser.kerf`.
    pub key: String,
    /// The value as the file writes it.
    pub written: String,
}

impl FromMemory {
    /// Whether the file lists this key, by its dotted path.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.0.iter().any(|value| value.key == key)
    }

    /// All of them.
    #[must_use]
    pub fn values(&self) -> &[Unmeasured] {
        &self.0
    }

    /// A text that tells a value, with the remark where the value of this key is from memory.
    #[must_use]
    pub fn told(&self, key: &str, text: impl Into<String>) -> String {
        told(self.has(key), text)
    }

    /// The list without one key.
    pub(super) fn without(&self, key: &str) -> Self {
        let mut rest = self.clone();
        rest.0.retain(|value| value.key != key);
        rest
    }
}

/// A text that tells a value, with the remark where the value is from memory.
#[must_use]
pub fn told(from_memory: bool, text: impl Into<String>) -> String {
    let text = text.into();
    if from_memory {
        format!("{text} - {NOT_MEASURED}")
    } else {
        text
    }
}

/// Takes the list: each entry must be a key of the file that has a value.
pub(super) fn read_from_memory(t: &mut Table<'_>) -> FromMemory {
    let items = t.optional(FROM_MEMORY).map(Spanned::get_ref);
    let items = items.and_then(|value| value.as_array());
    let spans: Vec<_> = match items {
        // Nothing is left of it: all has been measured.
        Some(items) if items.is_empty() => return FromMemory::default(),
        Some(items) => items.iter().map(Spanned::span).collect(),
        None if t.has(FROM_MEMORY) => Vec::new(),
        None => return FromMemory::default(),
    };
    let mark = t.mark();
    let entries = t.lines(FROM_MEMORY);
    let mut list = FromMemory::default();
    if t.mark() != mark {
        return list;
    }
    let values = t.values();
    if entries.len() > values.len() {
        let (listed, there) = (entries.len(), values.len());
        let message = format!("the list has {listed} keys, and the file only {there} with a value");
        let (span, hint) = (t.span_of(FROM_MEMORY), "list each key once".to_owned());
        t.report.following(span, message, hint);
        return list;
    }
    let mut met = BTreeSet::new();
    for (entry, span) in entries.into_iter().zip(spans) {
        if !met.insert(entry.clone()) {
            let message = format!("`{entry}` stands in the list twice");
            let hint = Some("leave one of them out".to_owned());
            t.report.fault(span, message, hint);
        } else if let Some(at) = values.get(&entry) {
            let written = t.report.written(at);
            list.0.push(Unmeasured {
                key: entry,
                written,
            });
        } else {
            let message = format!("`{entry}` is not a key of this file that has a value");
            let near = nearest(&entry, values.keys().map(String::as_str));
            let hint = near.map_or_else(
                || "list keys that stand in this file, such as \"laser.kerf\"".to_owned(),
                |near| format!("did you mean `{near}`?"),
            );
            // A key that is misspelt is told once, where it stands.
            t.report.following(span, message, hint);
        }
    }
    list
}

/// Where each value below a table stands, by its dotted path; tables and the items of lists have none of their own.
pub(super) fn collect_values(
    table: &DeTable<'_>,
    path: &str,
    spans: &mut BTreeMap<String, Range<usize>>,
) {
    for (key, value) in table {
        let path = join(path, key.get_ref());
        match value.get_ref() {
            DeValue::Table(inner) => collect_values(inner, &path, spans),
            DeValue::Array(items) if items.iter().any(|item| item.get_ref().is_table()) => {
                for (index, item) in items.iter().enumerate() {
                    if let DeValue::Table(inner) = item.get_ref() {
                        collect_values(inner, &format!("{path}[{index}]"), spans);
                    }
                }
            }
            _ => _ = spans.insert(path, value.span()),
        }
    }
}
