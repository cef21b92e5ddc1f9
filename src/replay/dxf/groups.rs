//! The groups of one record, taken in the order in which they must stand.

use super::fault;
use super::pairs::{Pair, decimal, is_whole, whole};
use crate::replay::ReplayFault;

/// The groups of one record, taken in order.
pub(super) struct Groups<'a> {
    pub(super) record: &'a [Pair<'a>],
    pub(super) next: usize,
}

impl<'a> Groups<'a> {
    pub(super) fn peek(&self) -> Option<&'a Pair<'a>> {
        self.record.get(self.next)
    }

    pub(super) fn here(&self) -> usize {
        let pair = self.peek().or_else(|| self.record.last());
        pair.map_or(1, |pair| pair.line)
    }

    pub(super) fn take(&mut self, code: u16, what: &str) -> Result<&'a Pair<'a>, ReplayFault> {
        match self.peek() {
            Some(pair) if pair.code == code => {
                self.next += 1;
                Ok(pair)
            }
            _ => {
                let what = format!("expected {what} (group {code})");
                Err(fault("dxf-structure", self.here(), what))
            }
        }
    }

    pub(super) fn value(&mut self, code: u16, value: &str) -> Result<(), ReplayFault> {
        let pair = self.take(code, value)?;
        let found = if is_whole(code) {
            pair.value.trim_start()
        } else {
            pair.value
        };
        if found == value {
            return Ok(());
        }
        let what = format!(
            "expected {value} under group {code}, found \"{}\"",
            pair.value
        );
        Err(fault("dxf-structure", pair.line, what))
    }

    pub(super) fn decimal(&mut self, code: u16, what: &str) -> Result<f64, ReplayFault> {
        let pair = self.take(code, what)?;
        let what = || {
            fault(
                "dxf-structure",
                pair.line,
                format!("{what} is no plain number"),
            )
        };
        decimal(pair.value).ok_or_else(what)
    }

    pub(super) fn whole(&mut self, code: u16, what: &str) -> Result<i64, ReplayFault> {
        let pair = self.take(code, what)?;
        let what = || {
            fault(
                "dxf-structure",
                pair.line,
                format!("{what} is no whole number"),
            )
        };
        whole(pair.value).ok_or_else(what)
    }

    pub(super) fn end(&self) -> Result<(), ReplayFault> {
        match self.peek() {
            None => Ok(()),
            Some(pair) => {
                let what = format!("group {} is not expected here", pair.code);
                Err(fault("dxf-structure", pair.line, what))
            }
        }
    }
}
