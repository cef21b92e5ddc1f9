//! What a coupon tells once it has been cut and tried.

use serde::Serialize;

use super::error::JobError;
use crate::geom::micron;
use crate::plan::Plan;
use crate::safety::{Check, clearance_checks, failed};
use crate::setup::{Comb, CouponKind, MeasuredKey};

/// What the maker found at the bench: notches by their number, from 1 at the narrow end.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tried {
    /// Kerf: the first notch that a bar presses into by hand, tried at the top face. Fit: the narrowest
    /// that a bar slides into with hand pressure.
    pub notch: usize,
    /// Kerf of a beam: the first that a bar presses into at the underside.
    pub underside: Option<usize>,
    /// Fit: the widest notch that a bar binds in.
    pub binds: Option<usize>,
    /// What the bar measures there, mm; else the material file's thickness.
    pub bar: Option<f64>,
}

/// A reading of a coupon. Lengths are mm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reading {
    /// Which coupon: `kerf` or `fit`.
    pub coupon: &'static str,
    /// What is measured.
    pub key: MeasuredKey,
    /// The notch that decides; of two faces the one that needs the wider.
    pub notch: usize,
    /// Its drawn width.
    pub drawn: f64,
    /// Thickness of the bar.
    pub bar: f64,
    /// Whether it is the first or the last notch of the comb: what is measured may lie beyond it.
    pub at_end: bool,
    /// What the coupon was made with.
    pub before: f64,
    /// What was read, good to a step.
    pub measured: f64,
    /// From notch to notch.
    pub step: f64,
    /// Kerf, both faces read: how much wider the cut is at one than at the other.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flare: Option<f64>,
    /// The face with the wider cut, where one is wider: `top` or `underside`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wider_face: Option<&'static str>,
    /// Fit: the clearance of the notch that binds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub binds: Option<f64>,
    /// Fit: least and greatest clearance that the material bears.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limits: Option<[f64; 2]>,
}

/// Most steps from the notch that a bar slides in to the one that it binds in (common practice, no source).
const FARTHEST: usize = 5;

fn call<T>(what: impl Into<String>) -> Result<T, JobError> {
    Err(JobError::Call(what.into()))
}

impl Reading {
    /// Reads the coupon of a plan.
    ///
    /// # Errors
    /// The plan is no coupon's, the comb has no such notch or not what the reading needs on either side
    /// of it, the bar's thickness is not known well enough, or no cut is so narrow. A clearance that the
    /// material does not bear fails the check `press` or `play`.
    pub fn of(plan: &Plan, tried: &Tried) -> Result<Self, JobError> {
        let Some(comb) = plan.comb() else {
            return call(
                "the folder holds a panel's job, not a coupon: name one that `lapwright coupon` made",
            );
        };
        let bar = bar(comb, tried.bar)?;
        let mut reading = match comb.spec.kind {
            CouponKind::Kerf => kerf(comb, tried, bar)?,
            CouponKind::Fit => fit(comb, tried, bar)?,
        };
        reading.at_end = [1, comb.widths.len()].contains(&reading.notch);
        if comb.spec.kind == CouponKind::Fit {
            let place = format!("notch {} of the fit coupon", reading.notch);
            let checks: Vec<Check> =
                clearance_checks(reading.measured, &plan.files.material, &place).into();
            if failed(&checks) {
                return Err(JobError::Checks(checks));
            }
        }
        Ok(reading)
    }
}

/// Drawn width of a notch.
fn width(comb: &Comb, notch: usize) -> Result<f64, JobError> {
    comb.width(notch).map_or_else(
        || {
            let last = comb.widths.len();
            let beyond = match comb.spec.kind {
                CouponKind::Kerf => format!(
                    "where a bar is loose in notch 1 the cut is wider than this comb can tell, where it \
                     enters none the cut is narrower: write a better {} by hand and cut a new coupon",
                    comb.key()
                ),
                CouponKind::Fit => format!(
                    "where a bar binds in all of them, or in none, the clearance lies beyond this comb: \
                     check {} with a kerf coupon first",
                    if comb.spec.beam { "the kerf" } else { "the cutter" }
                ),
            };
            call(format!(
                "there is no notch {notch}: the comb has notches 1 to {last}; {beyond}"
            ))
        },
        Ok,
    )
}

/// Thickness of the bar that was tried.
fn bar(comb: &Comb, measured: Option<f64>) -> Result<f64, JobError> {
    let [low, high] = comb.spec.bar;
    let Some(bar) = measured.or(comb.known_bar()) else {
        return call(format!(
            "the stock measures {low} to {high} mm, and a coupon reads to {} mm: measure the bar where \
             it was tried and add --bar MM",
            comb.step
        ));
    };
    // A fit is that of the panel's own notches, which are cut for the thickness in the material file.
    let (off, advice) = match comb.spec.kind {
        CouponKind::Kerf => (0.5, "--bar takes mm"),
        CouponKind::Fit => (
            0.5 * comb.step,
            "write the measured thickness into the material file and cut a new coupon",
        ),
    };
    if !(low - off - 1e-9..=high + off + 1e-9).contains(&bar) {
        return call(format!(
            "a bar of {bar} mm is not of this stock, {low} to {high} mm; {advice}"
        ));
    }
    Ok(bar)
}

fn kerf(comb: &Comb, tried: &Tried, bar: f64) -> Result<Reading, JobError> {
    let Tried {
        notch,
        underside,
        binds,
        ..
    } = *tried;
    if binds.is_some() {
        return call("a kerf coupon is read by one notch: leave --binds out");
    }
    if underside.is_some() && !comb.spec.beam {
        return call("a cutter has no flare: read one face and leave --underside out");
    }
    let top = width(comb, notch)?;
    let under = underside.map(|notch| width(comb, notch)).transpose()?;
    // The wider the drawn notch, the narrower the cut: the tighter face decides whether bars go in.
    let (drawn, tight) = match under {
        Some(under) if under > top => (under, underside.unwrap_or(notch)),
        _ => (top, notch),
    };
    let measured = micron(comb.spec.cut + (bar - drawn));
    if measured <= 0.0 {
        return call(format!(
            "a bar of {bar} mm in notch {tight}, drawn {drawn} mm, would mean a cut of {measured} mm, \
             and no cut is so narrow: read the first notch that the bar presses into"
        ));
    }
    let wider_face = under.filter(|under| *under != top).map(|under| {
        // The face that a narrower notch is enough for.
        if top < under { "top" } else { "underside" }
    });
    Ok(Reading {
        flare: under.map(|under| micron((under - top).abs())),
        wider_face,
        ..plain(comb, tight, drawn, bar, measured)
    })
}

fn fit(comb: &Comb, tried: &Tried, bar: f64) -> Result<Reading, JobError> {
    let notch = tried.notch;
    if tried.underside.is_some() {
        return call("a fit coupon is tried crosswise, through both faces: leave --underside out");
    }
    let drawn = width(comb, notch)?;
    let Some(binds) = tried.binds else {
        return call(
            "a fit coupon is read by two notches: add --binds NUMBER, the first that the bar binds in, \
             going narrower; where it slides even in notch 1, the fit lies beyond this comb: take the \
             clearance down in the panel file and cut a new coupon",
        );
    };
    let narrower = width(comb, binds)?;
    if binds >= notch {
        return call(format!(
            "a bar that slides in notch {notch} cannot bind in notch {binds}, which is no narrower: \
             notches are counted from notch 1, the narrowest"
        ));
    }
    if notch - binds > FARTHEST {
        return call(format!(
            "a bar that slides in notch {notch} and binds first in notch {binds} tells no fit: going \
             narrower notch by notch, the first that it binds in comes next or soon after"
        ));
    }
    Ok(Reading {
        binds: Some(micron(narrower - bar)),
        limits: Some(comb.spec.limits.map(micron)),
        ..plain(comb, notch, drawn, bar, micron(drawn - bar))
    })
}

fn plain(comb: &Comb, notch: usize, drawn: f64, bar: f64, measured: f64) -> Reading {
    Reading {
        coupon: comb.spec.kind.word(),
        key: comb.key(),
        notch,
        drawn,
        bar,
        at_end: false,
        before: comb.supposed(),
        measured,
        step: comb.step,
        flare: None,
        wider_face: None,
        binds: None,
        limits: None,
    }
}
