//! Numbers, counts, words and texts of a table, each with its bounds.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::DeValue;

use super::length::{parse_length, shorten};
use super::reader::{Table, nearest};
use super::readings::extremes;
use crate::limits::{LIST, TEXT};

/// The least and greatest a number may be.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    low: f64,
    low_is_out: bool,
    high: f64,
    unit: &'static str,
}

/// The unit in which a number may also be a string with a unit of its own.
const MM: &str = "mm";

impl Limits {
    /// More than 0, up to `high`.
    pub(super) const fn above_zero(high: f64, unit: &'static str) -> Self {
        Self {
            low: 0.0,
            low_is_out: true,
            high,
            unit,
        }
    }

    /// From `low` to `high`, both allowed.
    pub(super) const fn within(low: f64, high: f64, unit: &'static str) -> Self {
        Self {
            low,
            low_is_out: false,
            high,
            unit,
        }
    }

    /// A length of more than 0, up to `high` mm.
    pub(super) const fn size(high: f64) -> Self {
        Self::above_zero(high, MM)
    }

    /// A length from 0 to `high` mm.
    pub(super) const fn size_or_none(high: f64) -> Self {
        Self::within(0.0, high, MM)
    }

    fn hold(&self, v: f64) -> bool {
        v <= self.high
            && if self.low_is_out {
                v > self.low
            } else {
                v >= self.low
            }
    }

    fn words(&self) -> String {
        let Self {
            low, high, unit, ..
        } = self;
        if self.low_is_out {
            format!("more than {low} and at most {high} {unit}")
        } else {
            format!("from {low} to {high} {unit}")
        }
    }

    fn is_length(&self) -> bool {
        self.unit == MM
    }

    fn what(&self) -> String {
        if self.is_length() {
            "a length".to_owned()
        } else {
            format!("a number ({})", self.unit)
        }
    }
}

pub(super) const BAR: Limits = Limits::size(500.0);

pub(super) const PITCH: Limits = Limits::size(10_000.0);

pub(super) const KERF: Limits = Limits::size_or_none(20.0);

impl<'t> Table<'t> {
    /// A number that must be there.
    pub(super) fn number(&mut self, key: &'static str, limits: &Limits) -> f64 {
        let example = if limits.is_length() {
            format!("{key} = 12, or {key} = \"1/2 in\"")
        } else {
            format!("{key} = {} # {}", limits.high.min(10.0), limits.unit)
        };
        let value = self.required(key, example);
        value.map_or(1.0, |value| self.number_in(key, value, limits))
    }

    /// A number that may be left out.
    pub(super) fn number_opt(&mut self, key: &'static str, limits: &Limits) -> Option<f64> {
        let value = self.optional(key);
        value.map(|value| self.number_in(key, value, limits))
    }

    /// A number that stands for `default` where it is left out.
    pub(super) fn number_or(&mut self, key: &'static str, default: f64, limits: &Limits) -> f64 {
        self.number_opt(key, limits).unwrap_or(default)
    }

    fn number_in(&self, key: &str, value: &Spanned<DeValue<'_>>, limits: &Limits) -> f64 {
        let say = |message: String| self.report.fault(value.span(), message, None);
        let number = match value.get_ref() {
            DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix())
                .map_or(f64::INFINITY, |whole| whole as f64),
            DeValue::Float(f) => f.as_str().parse().unwrap_or(f64::NAN),
            DeValue::String(text) if limits.is_length() => match parse_length(text) {
                Ok(length) => length,
                Err(error) => {
                    say(format!("`{key}`: {error}"));
                    return 1.0;
                }
            },
            _ => {
                let hint = if limits.is_length() {
                    format!("write {key} = 12 (mm), or {key} = \"1/2 in\"")
                } else {
                    format!("write a number without quotes, {}", limits.words())
                };
                self.wrong_type(key, value, &limits.what(), hint);
                return 1.0;
            }
        };
        if number.is_nan() {
            say(format!(
                "`{key}` must be {}, but is not a number",
                limits.words()
            ));
        } else if !limits.hold(number) {
            let written = self.report.written(&value.span());
            say(format!(
                "`{key}` must be {}, but is {written}",
                limits.words()
            ));
        } else {
            // No minus nought.
            return number + 0.0;
        }
        1.0
    }

    /// Several numbers in square brackets.
    fn numbers(
        &mut self,
        key: &'static str,
        value: &'t Spanned<DeValue<'t>>,
        counts: RangeInclusive<usize>,
        example: &str,
        limits: &Limits,
    ) -> Option<Vec<f64>> {
        match value.get_ref() {
            DeValue::Array(items) if counts.contains(&items.len()) => Some(
                items
                    .iter()
                    .map(|item| self.number_in(key, item, limits))
                    .collect(),
            ),
            DeValue::Array(items) => {
                let message = format!("`{key}` has {} numbers in its brackets", items.len());
                self.report
                    .fault(value.span(), message, Some(format!("write {example}")));
                None
            }
            _ => {
                let what = "numbers in square brackets";
                self.wrong_type(key, value, what, format!("write {example}"));
                None
            }
        }
    }

    /// Least and greatest, as `[1, 2]`.
    pub(super) fn range(&mut self, key: &'static str, limits: &Limits) -> [f64; 2] {
        let example = format!("{key} = [least, greatest]");
        let value = self.required(key, example.clone());
        value.map_or([1.0; 2], |value| {
            self.range_in(key, value, &example, limits)
        })
    }

    /// Numbers in ascending order, at least one.
    pub(super) fn ascending(&mut self, key: &'static str, limits: &Limits) -> Vec<f64> {
        let example = format!("{key} = [0, 40, 90]");
        let Some(value) = self.required(key, example.clone()) else {
            return Vec::new();
        };
        let before = self.report.count();
        let list = self.numbers(key, value, 1..=LIST, &example, limits);
        let list = list.unwrap_or_default();
        if let Some(pair) = list.windows(2).find(|pair| pair[0] >= pair[1])
            && self.report.count() == before
        {
            let message = format!("{} follows {} in `{key}`", pair[1], pair[0]);
            self.fault(
                key,
                message,
                "list them from the least to the greatest, each once",
            );
        }
        list
    }

    /// Least and greatest, or `default`.
    pub(super) fn range_or(
        &mut self,
        key: &'static str,
        default: [f64; 2],
        limits: &Limits,
    ) -> [f64; 2] {
        let example = format!("{key} = [least, greatest]");
        let value = self.optional(key);
        value.map_or(default, |value| self.range_in(key, value, &example, limits))
    }

    /// Least and greatest of what has been measured: one number for both, the two in this order, or a
    /// list of readings in any order.
    pub(super) fn readings(&mut self, key: &'static str, limits: &Limits) -> [f64; 2] {
        const MOST: usize = 100;
        let example =
            format!("{key} = 4, {key} = [least, greatest], or a list of three readings or more");
        let Some(value) = self.required(key, example.clone()) else {
            return [1.0; 2];
        };
        match value.get_ref() {
            DeValue::Array(items) if items.len() > 2 => {
                let list = self.numbers(key, value, 3..=MOST, &example, limits);
                list.and_then(|list| extremes(&list)).unwrap_or([1.0; 2])
            }
            DeValue::Array(_) => self.range_in(key, value, &example, limits),
            _ => [self.number_in(key, value, limits); 2],
        }
    }

    fn range_in(
        &mut self,
        key: &'static str,
        value: &'t Spanned<DeValue<'t>>,
        example: &str,
        limits: &Limits,
    ) -> [f64; 2] {
        let before = self.report.count();
        match self.numbers(key, value, 2..=2, example, limits).as_deref() {
            Some(&[least, greatest]) => {
                if least > greatest && self.report.count() == before {
                    self.fault(key, format!("`{key}` must name the least first"), example);
                }
                [least, greatest]
            }
            _ => [1.0; 2],
        }
    }

    /// Two or three lengths in square brackets; the third is 0 where it is left out.
    pub(super) fn two_or_three(&mut self, key: &'static str, limits: &Limits) -> [f64; 3] {
        let example = format!("{key} = [600, 400] or {key} = [600, 400, 80]");
        let Some(value) = self.required(key, example.clone()) else {
            return [1.0; 3];
        };
        match self.numbers(key, value, 2..=3, &example, limits).as_deref() {
            Some(&[x, y]) => [x, y, 0.0],
            Some(&[x, y, z]) => [x, y, z],
            _ => [1.0; 3],
        }
    }

    /// A whole number that must be there.
    pub(super) fn count(&mut self, key: &'static str, limits: RangeInclusive<u32>) -> u32 {
        let value = self.required(key, format!("{key} = {}", limits.end().min(&4)));
        value.map_or(1, |value| self.count_in(key, value, limits))
    }

    /// A whole number that may be left out.
    pub(super) fn count_opt(
        &mut self,
        key: &'static str,
        limits: RangeInclusive<u32>,
    ) -> Option<u32> {
        let value = self.optional(key);
        value.map(|value| self.count_in(key, value, limits))
    }

    fn count_in(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        limits: RangeInclusive<u32>,
    ) -> u32 {
        let (low, high) = limits.into_inner();
        if let DeValue::Integer(i) = value.get_ref() {
            let whole = i128::from_str_radix(i.as_str(), i.radix()).ok();
            if let Some(count) = whole.and_then(|whole| u32::try_from(whole).ok())
                && (low..=high).contains(&count)
            {
                return count;
            }
            let written = self.report.written(&value.span());
            let message = format!("`{key}` must be from {low} to {high}, but is {written}");
            self.report.fault(value.span(), message, None);
        } else {
            let hint =
                format!("write a whole number from {low} to {high}, without point and quotes");
            self.wrong_type(key, value, "a whole number", hint);
        }
        1
    }

    /// One line of text that must be there, such as a name: not blank, no control characters.
    pub(super) fn line(&mut self, key: &'static str) -> String {
        let value = self.required(key, format!("{key} = \"...\""));
        value.map_or_else(String::new, |value| self.line_in(key, value))
    }

    /// One line of text that may be left out.
    pub(super) fn line_opt(&mut self, key: &'static str) -> Option<String> {
        let value = self.optional(key);
        value.map(|value| self.line_in(key, value))
    }

    fn line_in(&self, key: &str, value: &Spanned<DeValue<'_>>) -> String {
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_type(
                key,
                value,
                "text",
                format!("write {key} = \"...\", with quotes"),
            );
            return String::new();
        };
        let wrong = if text.trim().is_empty() {
            "is blank"
        } else if text.chars().any(|c| c.is_control() || turns_writing(c)) {
            "has a control character or more than one line"
        } else if text.chars().count() > TEXT {
            &format!("is longer than {TEXT} characters")
        } else {
            return text.trim().to_owned();
        };
        let hint = format!("write one short line: {key} = \"...\"");
        self.report
            .fault(value.span(), format!("`{key}` {wrong}"), Some(hint));
        String::new()
    }

    /// Lines of text in square brackets, at least one, which must be there.
    pub(super) fn lines(&mut self, key: &'static str) -> Vec<String> {
        let example = format!("{key} = [\"...\", \"...\"]");
        let Some(value) = self.required(key, example.clone()) else {
            return Vec::new();
        };
        match value.get_ref().as_array() {
            Some(items) if items.len() > LIST => {
                let message = format!("`{key}` has {} texts; {LIST} are the most", items.len());
                self.fault(key, message, "write a shorter list");
                Vec::new()
            }
            Some(items) if !items.is_empty() => {
                items.iter().map(|item| self.line_in(key, item)).collect()
            }
            _ => {
                let what = "a list of texts in quotes";
                self.wrong_type(key, value, what, format!("write {example}"));
                Vec::new()
            }
        }
    }

    /// Text of any number of lines, which may be empty and must be there.
    pub(super) fn block(&mut self, key: &'static str) -> String {
        let value = self.required(key, format!("{key} = \"...\""));
        value.map_or_else(String::new, |value| self.block_in(key, value))
    }

    /// Text of any number of lines, empty where it is left out.
    pub(super) fn block_or_empty(&mut self, key: &'static str) -> String {
        let value = self.optional(key);
        value.map_or_else(String::new, |value| self.block_in(key, value))
    }

    fn block_in(&self, key: &str, value: &Spanned<DeValue<'_>>) -> String {
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_type(
                key,
                value,
                "text",
                format!("write {key} = \"...\", with quotes"),
            );
            return String::new();
        };
        text.to_owned()
    }

    /// One of a few words that must be there. `None` only after a fault.
    pub(super) fn choice<T: Copy>(
        &mut self,
        key: &'static str,
        words: &[(&str, T)],
        also: &str,
    ) -> Option<T> {
        let value = self.required(key, format!("{key} = {}", list(words, also)))?;
        self.choice_in(key, value, words, also)
    }

    /// One of a few words that may be left out.
    pub(super) fn choice_opt<T: Copy>(
        &mut self,
        key: &'static str,
        words: &[(&str, T)],
    ) -> Option<T> {
        let value = self.optional(key)?;
        self.choice_in(key, value, words, "")
    }

    fn choice_in<T: Copy>(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        words: &[(&str, T)],
        also: &str,
    ) -> Option<T> {
        let Some(text) = value.get_ref().as_str() else {
            let hint = format!("write {}", list(words, also));
            self.wrong_type(key, value, "one of a few words in quotes", hint);
            return None;
        };
        let found = words.iter().find(|(word, _)| *word == text);
        if found.is_none() {
            let near = nearest(text, words.iter().map(|(word, _)| *word));
            let near = near
                .map(|near| format!("did you mean \"{near}\"? "))
                .unwrap_or_default();
            let message = format!("`{key}` cannot be \"{}\"", shorten(text));
            let hint = format!("{near}write {}", list(words, also));
            self.report.fault(value.span(), message, Some(hint));
        }
        found.map(|(_, choice)| *choice)
    }

    /// True or false.
    pub(super) fn flag_or(&mut self, key: &'static str, default: bool) -> bool {
        let value = self.optional(key);
        value.map_or(default, |value| self.flag_in(key, value))
    }

    /// True or false, which must be there.
    pub(super) fn flag(&mut self, key: &'static str) -> bool {
        let value = self.required(key, format!("{key} = true, or {key} = false"));
        value.is_some_and(|value| self.flag_in(key, value))
    }

    fn flag_in(&self, key: &str, value: &Spanned<DeValue<'_>>) -> bool {
        value.get_ref().as_bool().unwrap_or_else(|| {
            let hint = format!("write {key} = true or {key} = false, without quotes");
            self.wrong_type(key, value, "true or false", hint);
            false
        })
    }
}

fn list<T>(words: &[(&str, T)], also: &str) -> String {
    let mut quoted: Vec<String> = words
        .iter()
        .map(|(word, _)| format!("\"{word}\""))
        .collect();
    if !also.is_empty() {
        quoted.push(also.to_owned());
    }
    let last = quoted.pop().unwrap_or_default();
    if quoted.is_empty() {
        last
    } else {
        format!("{} or {last}", quoted.join(", "))
    }
}

/// Whether a character has no shape and turns the direction of what follows: what a label shows would
/// not be what it says (Unicode Standard Annex 9, 2.1 to 2.6).
fn turns_writing(c: char) -> bool {
    matches!(c, '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}
