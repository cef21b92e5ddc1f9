//! What a check is.

use std::fmt;

use super::advice::advice;
use super::check_id::CheckId;

/// How a check came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Within its limit.
    Pass,
    /// Worth a look; does not stop the job.
    Warn,
    /// Beyond its limit: nothing is written.
    Fail,
}

impl Status {
    /// Word in `job.json`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Warn => "warn",
            Self::Fail => "fail",
        }
    }
}

/// On which side of its limit a value passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// At the limit or above.
    Least,
    /// At the limit or below.
    Most,
}

impl Bound {
    /// In words, before the limit.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Least => "at least",
            Self::Most => "at most",
        }
    }
}

/// What a check counts or measures in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Cubic millimetres.
    CubicMm,
    /// Millimetres a minute.
    MmPerMin,
    /// Turns a minute.
    RevPerMin,
    /// Seconds.
    Seconds,
    /// Hundredths of the full power.
    Percent,
    /// Newtons.
    Newtons,
    /// Degrees.
    Degrees,
    /// Bridges or tabs.
    Holds,
    /// Joints of a bar.
    Joints,
    /// Faults of a file.
    Faults,
    /// Words of a dialect.
    Words,
    /// Lengths as multiples of a width.
    TimesWidth,
}

impl Unit {
    /// As it stands behind a number on paper and in `job.json`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::CubicMm => "mm3",
            Self::MmPerMin => "mm/min",
            Self::RevPerMin => "rev/min",
            Self::Seconds => "s",
            Self::Percent => "%",
            Self::Newtons => "N",
            Self::Degrees => "degrees",
            Self::Holds => "holds",
            Self::Joints => "joints",
            Self::Faults => "faults",
            Self::Words => "words",
            Self::TimesWidth => "times its width",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// One check.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// Which check.
    pub id: CheckId,
    /// How it came out.
    pub status: Status,
    /// What was found, in `unit`.
    pub value: f64,
    /// What it is held against.
    pub limit: f64,
    /// On which side of the limit it passes.
    pub bound: Bound,
    /// Unit of value and limit.
    pub unit: Unit,
    /// Where it was found.
    pub place: String,
    /// What helps in this very case, where that was found; else [`advice`] tells what helps in general.
    pub helps: Option<String>,
}

/// Slack for the round-off of sums, in the check's own unit: never enough to matter to a cut.
const ROUND_OFF: f64 = 1e-9;

impl Check {
    /// Fails where `value` is below `limit`, or is no number.
    #[must_use]
    pub fn at_least(
        id: CheckId,
        value: f64,
        limit: f64,
        unit: Unit,
        place: impl Into<String>,
    ) -> Self {
        // Written so that a value that is no number fails.
        let status = if value >= limit - ROUND_OFF {
            Status::Pass
        } else {
            Status::Fail
        };
        Self {
            id,
            status,
            value,
            limit,
            bound: Bound::Least,
            unit,
            place: place.into(),
            helps: None,
        }
    }

    /// Fails where `value` is above `limit`, or is no number.
    #[must_use]
    pub fn at_most(
        id: CheckId,
        value: f64,
        limit: f64,
        unit: Unit,
        place: impl Into<String>,
    ) -> Self {
        let status = if value <= limit + ROUND_OFF {
            Status::Pass
        } else {
            Status::Fail
        };
        Self {
            id,
            status,
            value,
            limit,
            bound: Bound::Most,
            unit,
            place: place.into(),
            helps: None,
        }
    }

    /// Fails where `value` is outside `range`; the limit told is the nearer end.
    #[must_use]
    pub fn within(
        id: CheckId,
        value: f64,
        range: [f64; 2],
        unit: Unit,
        place: impl Into<String>,
    ) -> Self {
        let [least, most] = range;
        if value - least < most - value {
            Self::at_least(id, value, least, unit, place)
        } else {
            Self::at_most(id, value, most, unit, place)
        }
    }

    /// What to change where it fails, plain text, one line.
    #[must_use]
    pub fn advice(&self) -> &str {
        self.helps.as_deref().unwrap_or_else(|| advice(self.id))
    }

    /// The check with a fail turned into a warning, where the maker has accepted it in the panel file.
    #[must_use]
    pub fn accepted(mut self) -> Self {
        if self.status == Status::Fail {
            self.status = Status::Warn;
        }
        self
    }
}

/// Whether any check failed.
#[must_use]
pub fn failed(checks: &[Check]) -> bool {
    checks.iter().any(|c| c.status == Status::Fail)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_fails() {
        assert_eq!(
            Check::at_least(CheckId::Web, f64::NAN, 1.0, Unit::Mm, "").status,
            Status::Fail
        );
        assert_eq!(
            Check::at_most(CheckId::Web, f64::NAN, 1.0, Unit::Mm, "").status,
            Status::Fail
        );
        assert_eq!(
            Check::within(CheckId::Web, f64::NAN, [0.0, 1.0], Unit::Mm, "").status,
            Status::Fail
        );
    }

    #[test]
    fn limits_belong_to_the_inside() {
        let range = [8000.0, 24000.0];
        for (v, status) in [
            (7999.9, Status::Fail),
            (8000.0, Status::Pass),
            (24000.0, Status::Pass),
            (24000.1, Status::Fail),
        ] {
            assert_eq!(
                Check::within(CheckId::SpindleSpeed, v, range, Unit::RevPerMin, "").status,
                status,
                "{v}"
            );
        }
    }
}
