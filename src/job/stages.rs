//! The first stage of a job: its dialect tried, then its plan.

use super::error::JobError;
use crate::panel::JobFiles;
use crate::plan::Plan;
use crate::replay::dialect::try_dialect;
use crate::setup::CouponKind;

/// Tries the dialect of a job, then plans it. `progress` is told what is being done.
///
/// # Errors
/// A dialect that makes no sound program, files that make no panel, and checks that fail: nothing can be written from
/// either.
pub fn plan(files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, JobError> {
    try_dialect(&files)?;
    Ok(crate::plan::plan(files, progress)?)
}

/// As [`plan`], without a search for what helps where a piece cannot be held.
///
/// # Errors
/// As [`plan`].
pub(super) fn planned(files: JobFiles, progress: &mut dyn FnMut(&str)) -> Result<Plan, JobError> {
    try_dialect(&files)?;
    Ok(crate::plan::planned(files, progress)?)
}

/// As [`plan`], of a coupon for the machine, material, stock and post-processor of a panel.
///
/// # Errors
/// As [`plan`].
pub fn coupon_plan(
    files: JobFiles,
    kind: CouponKind,
    progress: &mut dyn FnMut(&str),
) -> Result<Plan, JobError> {
    try_dialect(&files)?;
    Ok(crate::plan::coupon_plan(files, kind, progress)?)
}
