//! Why files make no plan.

use crate::panel::{Faults, JobFiles};
use crate::path::PathError;
use crate::safety::Check;
use crate::stock::NestError;

/// Why files make no plan.
#[derive(Debug)]
pub enum PlanError {
    /// The files are sound but do not make a panel, or not one that can be cut.
    Panel(Vec<Faults>),
    /// Checks failed.
    Checks(Vec<Check>),
    /// Something that only a fault of this program brings about.
    Internal(String),
}

impl From<Faults> for PlanError {
    fn from(e: Faults) -> Self {
        Self::Panel(vec![e])
    }
}

/// Stock that does not do, told at the key that names it. `long` and `deep` say what would do.
pub(super) fn nest_fault(
    files: &JobFiles,
    key: &str,
    e: &NestError,
    long: impl FnOnce(f64) -> String,
    deep: String,
) -> PlanError {
    let hint = match e {
        NestError::TooLong { longest, .. } => long(*longest),
        NestError::TooDeep { .. } => deep,
        NestError::NotEnough { .. } => "more stock, or a smaller quantity".into(),
        _ => "mend the stock file".into(),
    };
    let fault = files.panel_text.fault(key, e.to_string(), Some(hint));
    fault.into()
}

/// Moves that do not go: notches or ends are too narrow for the tool.
pub(super) fn path_fault(files: &JobFiles, e: &PathError) -> PlanError {
    let (key, hint) = match e {
        PathError::NarrowNotch { .. } => ("cut.clearance", "a narrower tool"),
        PathError::NarrowEnd { .. } => ("infill.cut", "a narrower tool, or plain_ends = true"),
    };
    let fault = files
        .panel_text
        .fault(key, e.to_string(), Some(hint.into()));
    fault.into()
}
