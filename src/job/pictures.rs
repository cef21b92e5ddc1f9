//! The pictures of a job.

use std::collections::BTreeMap;

use super::plan::Plan;

/// Adds the panel's picture and one for each sheet.
pub(super) fn add(_plan: &Plan, _files: &mut BTreeMap<String, Vec<u8>>) {}
