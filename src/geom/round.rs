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

/// Steps by which a number may miss a whole step and still be on it: round-off.
const ON_STEP: f64 = 1e-9;

/// The greatest whole number of steps that is not above `v`.
#[must_use]
pub fn step_below(v: f64, step: f64) -> f64 {
    tidy((v / step + ON_STEP).floor() * step)
}

/// The least whole number of steps that is not below `v`.
#[must_use]
pub fn step_above(v: f64, step: f64) -> f64 {
    tidy((v / step - ON_STEP).ceil() * step)
}

/// The whole number of steps nearest to `v`; of two that are as near the lesser.
#[must_use]
pub fn step_near(v: f64, step: f64) -> f64 {
    tidy((v / step - 0.5 - ON_STEP).ceil() * step)
}

/// Whether `v` is a whole number of steps.
#[must_use]
pub fn is_on_step(v: f64, step: f64) -> bool {
    let steps = v / step;
    (steps - steps.round()).abs() <= 1e3 * ON_STEP
}
