//! Takes a file's tables apart key by key and gathers everything that is wrong with them.
//!
//! A getter always hands something back, so that reading goes on to the end of the file: after a fault it
//! is a stand-in, which never gets out, because a [`Reading`] hands out its value only where there is no
//! fault.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fault::{Fault, Faults};
use super::form::{excess, form_faults};
use super::from_memory::collect_values;
use super::length::shorten;
use crate::limits::{FILE_BYTES, TABLES};

/// What is being read: its name for people, its text, and what is wrong with it so far.
pub(super) struct Report<'t> {
    file: &'t str,
    faults: RefCell<Vec<Fault>>,
    text: &'t str,
    /// What follows from other faults, and is told where there are none.
    following: RefCell<Vec<Fault>>,
}

impl Report<'_> {
    /// Notes a fault that is told only where the file has no other.
    pub(super) fn following(&self, span: Range<usize>, message: String, hint: String) {
        let fault = Fault::new(self.file, span, message).with_hint(hint);
        self.following.borrow_mut().push(fault);
    }

    pub(super) fn fault(&self, span: Range<usize>, message: String, hint: Option<String>) {
        let mut fault = Fault::new(self.file, span, message);
        fault.hint = hint;
        self.faults.borrow_mut().push(fault);
    }

    /// How many faults there are so far.
    pub(super) fn count(&self) -> usize {
        self.faults.borrow().len()
    }

    /// How the file writes a value, short enough for a message.
    pub(super) fn written(&self, span: &Range<usize>) -> String {
        shorten(self.text.get(span.clone()).unwrap_or_default())
    }
}

/// A value read from a file, or what is wrong with it.
pub(super) struct Reading<T> {
    /// The value; a stand-in where `faults` has any.
    pub(super) value: T,
    /// What is wrong.
    pub(super) faults: Vec<Fault>,
    /// Whether the file could not even be taken apart: then `faults` holds faults of form alone.
    pub(super) broken: bool,
    /// Where each key's value stands, by its dotted path.
    pub(super) spans: BTreeMap<String, Range<usize>>,
}

impl<T> Reading<T> {
    /// The value, if nothing is wrong.
    ///
    /// # Errors
    /// All faults of the file.
    pub(super) fn done(self, file: &str, text: &str) -> Result<T, Faults> {
        if self.faults.is_empty() {
            Ok(self.value)
        } else {
            Err(Faults::new(file, text, self.faults))
        }
    }
}

/// The text of a file's bytes.
///
/// # Errors
/// The bytes are too many, not UTF-8, or nothing.
pub(super) fn text_of<'b>(file: &str, bytes: &'b [u8], advice: &str) -> Result<&'b str, Faults> {
    let one = |text: String, span: Range<usize>, message: String, hint: &str| {
        Faults::new(
            file,
            text,
            vec![Fault::new(file, span, message).with_hint(hint)],
        )
    };
    if bytes.len() > FILE_BYTES {
        let message = format!("the file is larger than {FILE_BYTES} bytes");
        return Err(one(String::new(), 0..0, message, advice));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        let byte = bytes.get(at).copied().unwrap_or_default();
        // Up to `at` the lossy text is the file's own, so the place is right.
        let lossy = String::from_utf8_lossy(bytes).into_owned();
        let message = format!("the file is not UTF-8 text: byte 0x{byte:02x}");
        one(lossy, at..at + 1, message, "save it as plain UTF-8 text")
    })?;
    if text.trim_start_matches('\u{feff}').trim().is_empty() {
        return Err(one(
            text.to_owned(),
            0..0,
            "the file is empty".to_owned(),
            advice,
        ));
    }
    Ok(text)
}

/// Takes a file apart with `take`.
pub(super) fn read<T>(
    file: &str,
    text: &str,
    take: impl FnOnce(&mut Table<'_>) -> T,
) -> Reading<T> {
    let excess = excess(text);
    // What goes too deep must not reach the parser.
    let parsed = if excess.is_some() { "" } else { text };
    let (root, form) = DeTable::parse_recoverable(parsed);
    let report = Report {
        file,
        faults: RefCell::default(),
        text,
        following: RefCell::default(),
    };
    let mut table = Table::new(&report, String::new(), 0..0, Some(root.get_ref()));
    let value = take(&mut table);
    table.finish();
    let mut spans = BTreeMap::new();
    collect_spans(root.get_ref(), "", &mut spans);
    let mut faults = report.faults.into_inner();
    if faults.is_empty() {
        faults = report.following.into_inner();
    }
    if let Some(excess) = excess {
        let fault = Fault::new(file, excess.span, excess.message).with_hint(excess.hint);
        return Reading {
            value,
            faults: vec![fault],
            broken: true,
            spans,
        };
    }
    if !form.is_empty() {
        faults = form_faults(file, text, form);
        return Reading {
            value,
            faults,
            broken: true,
            spans,
        };
    }
    Reading {
        value,
        faults,
        broken: false,
        spans,
    }
}

fn collect_spans(table: &DeTable<'_>, path: &str, spans: &mut BTreeMap<String, Range<usize>>) {
    for (key, value) in table {
        let path = join(path, key.get_ref());
        match value.get_ref() {
            DeValue::Table(inner) => collect_spans(inner, &path, spans),
            DeValue::Array(items) => {
                for (index, item) in items.iter().enumerate() {
                    let path = format!("{path}[{index}]");
                    if let DeValue::Table(inner) = item.get_ref() {
                        collect_spans(inner, &path, spans);
                    }
                    spans.insert(path, item.span());
                }
            }
            _ => {}
        }
        spans.insert(path, value.span());
    }
}

pub(super) fn join(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}

/// A key that should be there.
struct Missing {
    key: &'static str,
    message: String,
    hint: String,
}

/// A table whose keys are taken by name.
pub(super) struct Table<'t> {
    pub(super) report: &'t Report<'t>,
    path: String,
    span: Range<usize>,
    /// `None` where there is no such table; whoever needs it has said so already.
    keys: Option<&'t DeTable<'t>>,
    asked: Vec<&'static str>,
    missing: Vec<Missing>,
    misplaced: Vec<(&'static str, String)>,
}

impl<'t> Table<'t> {
    fn new(
        report: &'t Report<'t>,
        path: String,
        span: Range<usize>,
        keys: Option<&'t DeTable<'t>>,
    ) -> Self {
        let (asked, missing, misplaced) = Default::default();
        Self {
            report,
            path,
            span,
            keys,
            asked,
            missing,
            misplaced,
        }
    }

    /// The table's name in a message.
    fn title(&self) -> String {
        if self.path.is_empty() {
            "at the top of the file".to_owned()
        } else {
            format!("in [{}]", self.path)
        }
    }

    fn find(&self, key: &str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.keys.and_then(|keys| keys.get(key))
    }

    pub(super) fn optional(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.asked.push(key);
        self.find(key)
    }

    pub(super) fn required(
        &mut self,
        key: &'static str,
        example: String,
    ) -> Option<&'t Spanned<DeValue<'t>>> {
        let found = self.optional(key);
        if found.is_none() && self.keys.is_some() {
            let message = format!("`{key}` is missing {}", self.title());
            let hint = format!("add a line such as: {example}");
            self.missing.push(Missing { key, message, hint });
        }
        found
    }

    /// Whether the file has this key.
    pub(super) fn has(&self, key: &str) -> bool {
        self.find(key).is_some()
    }

    /// Whether the file has a table under this key.
    pub(super) fn has_table(&self, key: &str) -> bool {
        self.find(key)
            .is_some_and(|value| value.get_ref().is_table())
    }

    /// Whether the file has a list under this key.
    pub(super) fn has_list(&self, key: &str) -> bool {
        self.find(key)
            .is_some_and(|value| value.get_ref().is_array())
    }

    /// Where the value of a key stands, or else the table.
    pub(super) fn span_of(&self, key: &str) -> Range<usize> {
        self.find(key)
            .map_or_else(|| self.span.clone(), Spanned::span)
    }

    /// Notes a fault at the value of a key, or at the table where it has no such key.
    pub(super) fn fault(&self, key: &str, message: impl Into<String>, hint: impl Into<String>) {
        self.report
            .fault(self.span_of(key), message.into(), Some(hint.into()));
    }

    /// Where the value of each key that has one stands, by its dotted path from this table; tables and the items of
    /// lists have none of their own.
    pub(super) fn values(&self) -> BTreeMap<String, Range<usize>> {
        let mut spans = BTreeMap::new();
        if let Some(keys) = self.keys {
            collect_values(keys, "", &mut spans);
        }
        spans
    }

    /// A mark for [`Self::sound_since`].
    pub(super) fn mark(&self) -> usize {
        self.report.count()
    }

    /// Whether all that was read since the mark is sound, so that a comparison of values means something.
    pub(super) fn sound_since(&self, mark: usize) -> bool {
        self.keys.is_some() && self.report.count() == mark && self.missing.is_empty()
    }

    /// Lets a key stand without reading it, where another fault has already said what is wrong.
    pub(super) fn known(&mut self, key: &'static str) {
        self.asked.push(key);
    }

    /// Names a key that belongs elsewhere, with the reason why it is wrong here.
    pub(super) fn misplaced(&mut self, key: &'static str, reason: impl Into<String>) {
        self.misplaced.push((key, reason.into()));
    }

    pub(super) fn wrong_type(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        what: &str,
        hint: String,
    ) {
        let found = kind_of(value.get_ref());
        let message = format!("`{key}` must be {what}, but is {found}");
        self.report.fault(value.span(), message, Some(hint));
    }

    /// Notes what was not taken and what was not found; nothing is read from the table after this.
    fn finish(&self) {
        let Some(keys) = self.keys else { return };
        let missing: Vec<&str> = self.missing.iter().map(|m| m.key).collect();
        let mut meant = Vec::new();
        for (key, _) in keys {
            let name: &str = key.get_ref();
            if self.asked.contains(&name) {
                continue;
            }
            let near = nearest(name, missing.iter().copied())
                .or_else(|| nearest(name, self.asked.iter().copied()));
            let hint = if let Some((_, reason)) = self.misplaced.iter().find(|(k, _)| *k == name) {
                reason.clone()
            } else if let Some(near) = near {
                meant.push(near);
                format!("did you mean `{near}`?")
            } else {
                format!("keys here: {}", self.asked.join(", "))
            };
            let message = format!("unknown key `{}` {}", shorten(name), self.title());
            self.report.fault(key.span(), message, Some(hint));
        }
        for Missing { key, message, hint } in &self.missing {
            // A key that is only misspelt is one fault, not two.
            if !meant.contains(key) {
                self.report
                    .fault(self.span.clone(), message.clone(), Some(hint.clone()));
            }
        }
    }

    /// A table that must be there.
    pub(super) fn table<R>(
        &mut self,
        key: &'static str,
        take: impl FnOnce(&mut Table<'t>) -> R,
    ) -> R {
        let value = self.optional(key);
        if value.is_none() && self.keys.is_some() {
            let header = format!("[{}]", join(&self.path, key));
            let message = format!("the table {header} is missing");
            let hint = format!("add {header} on a line of its own and its keys below");
            self.missing.push(Missing { key, message, hint });
        }
        self.inner(key, value, take)
    }

    /// A table that may be left out.
    pub(super) fn table_opt<R>(
        &mut self,
        key: &'static str,
        take: impl FnOnce(&mut Table<'t>) -> R,
    ) -> Option<R> {
        let value = self.optional(key)?;
        Some(self.inner(key, Some(value), take))
    }

    /// A table that may be left out and then is empty: all its keys must have defaults.
    pub(super) fn table_or_empty<R>(
        &mut self,
        key: &'static str,
        take: impl FnOnce(&mut Table<'t>) -> R,
    ) -> R {
        let value = self.optional(key);
        self.inner(key, value, take)
    }

    fn inner<R>(
        &self,
        key: &str,
        value: Option<&'t Spanned<DeValue<'t>>>,
        take: impl FnOnce(&mut Table<'t>) -> R,
    ) -> R {
        let path = join(&self.path, key);
        let keys = value.and_then(|value| {
            let keys = value.get_ref().as_table();
            if keys.is_none() {
                let hint = format!("write [{path}] on a line of its own and its keys below");
                self.wrong_type(key, value, "a table", hint);
            }
            keys
        });
        let span = value.map_or_else(|| self.span.clone(), Spanned::span);
        let mut table = Table::new(self.report, path, span, keys);
        let result = take(&mut table);
        table.finish();
        result
    }

    /// Tables of one kind, which may be left out.
    pub(super) fn tables_opt<R>(
        &mut self,
        key: &'static str,
        take: impl FnMut(&mut Table<'t>) -> R,
    ) -> Vec<R> {
        if self.has(key) {
            self.tables(key, take)
        } else {
            self.known(key);
            Vec::new()
        }
    }

    /// Tables of one kind, at least one: `[[key]]`.
    pub(super) fn tables<R>(
        &mut self,
        key: &'static str,
        mut take: impl FnMut(&mut Table<'t>) -> R,
    ) -> Vec<R> {
        let header = format!("[[{}]]", join(&self.path, key));
        let Some(value) = self.required(key, header.clone()) else {
            return Vec::new();
        };
        let Some(items) = value.get_ref().as_array().filter(|items| !items.is_empty()) else {
            let hint = format!("write {header} on a line of its own and its keys below");
            self.wrong_type(key, value, "one table or more", hint);
            return Vec::new();
        };
        if items.len() > TABLES {
            let message = format!(
                "there are {} of {header}, but {TABLES} are the most",
                items.len()
            );
            let hint = "leave out those that are not needed".to_owned();
            self.report.fault(value.span(), message, Some(hint));
            return Vec::new();
        }
        items
            .iter()
            .map(|item| self.inner(key, Some(item), &mut take))
            .collect()
    }
}

fn kind_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number with a point",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(items) if items.is_empty() => "an empty list",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// The word that a misspelt one is nearest to: at most two letters off, or a third of its length.
pub(super) fn nearest<'w>(word: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let length = word.chars().count();
    if length > 100 {
        return None;
    }
    words
        .map(|known| (strsim::damerau_levenshtein(word, known), known))
        .filter(|(off, known)| {
            let length = length.min(known.chars().count());
            *off <= 2.max(length / 3) && *off < length
        })
        .min_by_key(|(off, _)| *off)
        .map(|(_, known)| known)
}
