//! A check, as it stands in `job.json` and in what is said of a job that stops.

use serde::Serialize;

use crate::geom::{micron, tidy};
use crate::safety::Check;

#[derive(Debug, Clone, Serialize)]
pub(crate) struct CheckOut {
    id: &'static str,
    status: &'static str,
    value: f64,
    limit: f64,
    unit: &'static str,
    #[serde(rename = "where")]
    place: String,
}

impl CheckOut {
    pub(crate) fn of(c: &Check) -> Self {
        // JSON has no infinity; a check without a bound has its value twice.
        let finite = |v: f64| {
            if v.is_finite() {
                micron(v)
            } else {
                tidy(micron(c.value))
            }
        };
        Self {
            id: c.id.word(),
            status: c.status.word(),
            value: micron(c.value),
            limit: finite(c.limit),
            unit: c.unit.word(),
            place: c.place.clone(),
        }
    }
}
