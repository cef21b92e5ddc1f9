//! Rounding before a number is written or compared, without a minus nought.

/// Rounds to 1e-6 (mm or degrees): what `job.json` holds.
#[must_use]
pub fn micron(v: f64) -> f64 {
    tidy((v * 1e6).round() / 1e6)
}

/// Turns -0 into 0 and leaves every other number alone.
#[must_use]
pub fn tidy(v: f64) -> f64 {
    if v == 0.0 { 0.0 } else { v }
}
