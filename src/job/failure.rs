//! Why a job stops, as other programs read it: what `--json` prints of it.

use serde::Serialize;

use super::JobError;
use crate::panel::{Faults, LoadError};
use crate::report::summary::CheckOut;
use crate::safety::Check;

/// Why a job stops, schema 1. Keys may be added; those here stay.
#[derive(Debug, Serialize)]
pub struct Failure {
    schema: u32,
    program: &'static str,
    error: ErrorOut,
}

#[derive(Debug, Serialize)]
struct ErrorOut {
    kind: &'static str,
    exit_status: u8,
    /// All of it in words.
    message: String,
    /// What is wrong in files, in the order of their lines.
    faults: Vec<FaultOut>,
    /// All checks, where one failed.
    checks: Vec<FailedOut>,
    /// What a folder is not that it says it is.
    findings: Vec<String>,
}

#[derive(Debug, Serialize)]
struct FaultOut {
    file: String,
    /// From 1.
    line: usize,
    /// Characters, from 1.
    column: usize,
    /// Dotted from the file's root; null where the file cannot be taken apart.
    key: Option<String>,
    message: String,
    hint: Option<String>,
}

#[derive(Debug, Serialize)]
struct FailedOut {
    #[serde(flatten)]
    check: CheckOut,
    /// `at least` or `at most`.
    bound: &'static str,
    helps: String,
}

impl Failure {
    /// That of an error.
    #[must_use]
    pub fn of(e: &JobError) -> Self {
        let (kind, faults, checks, findings): (_, &[Faults], &[Check], &[String]) = match e {
            JobError::Load(LoadError::Faults(list)) | JobError::Panel(list) => {
                ("files", list, &[], &[])
            }
            JobError::Load(LoadError::Io { .. }) => ("unread", &[], &[], &[]),
            JobError::Call(_) => ("call", &[], &[], &[]),
            JobError::Checks(checks) => ("checks", &[], checks, &[]),
            JobError::Proof(findings) => ("proof", &[], &[], findings),
            JobError::Unproven(_) => ("unproven", &[], &[], &[]),
            JobError::Deliver(_) => ("folder", &[], &[], &[]),
            JobError::Internal(_) => ("program", &[], &[], &[]),
        };
        Self {
            schema: 1,
            program: concat!("lapwright ", env!("CARGO_PKG_VERSION")),
            error: ErrorOut {
                kind,
                exit_status: e.exit_status(),
                message: e.to_string(),
                faults: faults.iter().flat_map(fault_rows).collect(),
                checks: checks.iter().map(failed).collect(),
                findings: findings.to_vec(),
            },
        }
    }

    /// Its bytes.
    ///
    /// # Errors
    /// What cannot be written as JSON; that is a fault of this program.
    pub fn json(&self) -> Result<Vec<u8>, JobError> {
        let mut text = serde_json::to_vec_pretty(self)
            .map_err(|e| JobError::Internal(format!("what is wrong, as JSON: {e}")))?;
        text.push(b'\n');
        Ok(text)
    }
}

fn fault_rows(faults: &Faults) -> Vec<FaultOut> {
    let places = faults.places();
    let rows = faults.list().iter().zip(places);
    rows.map(|(fault, place)| FaultOut {
        file: fault.file.clone(),
        line: place.line,
        column: place.column,
        key: place.key,
        message: fault.message.clone(),
        hint: fault.hint.clone(),
    })
    .collect()
}

fn failed(check: &Check) -> FailedOut {
    FailedOut {
        check: CheckOut::of(check),
        bound: check.bound.word(),
        helps: check.advice().to_string(),
    }
}
