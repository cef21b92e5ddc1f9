//! The gap between the walls of a notch and the bars that fill it, at one height.

use super::void::Void;
use crate::geom::{SLIVER, cot_deg};

/// A notch and the bar that fills it: the bar's edges cross the notched bar's centre line at
/// `at ± half_run`, the notch's walls at `at ± half_notch`.
pub(super) struct Filler {
    pub(super) at: f64,
    pub(super) half_run: f64,
    pub(super) lean: f64,
    pub(super) half_notch: f64,
    pub(super) notch_lean: f64,
    pub(super) z0: f64,
    pub(super) z1: f64,
    pub(super) filled: bool,
}

/// Greatest distance along the bar between a wall and the nearest filler, across the face, at one
/// height. Voids that meet are one; a wall that belongs to an empty notch does not count. The bar is cut from
/// `span.0` to `span.1`.
pub(super) fn widest_gap(voids: &[Void], notches: &[&Filler], half: f64, span: (f64, f64)) -> f64 {
    let lines: Vec<(f64, f64)> = (notches.iter())
        .flat_map(|f| [(f.at - f.half_run, f.lean), (f.at + f.half_run, f.lean)])
        .chain(
            voids
                .iter()
                .flat_map(|v| [v.lo, v.hi].map(|x| (x, cot_deg(v.angle_deg)))),
        )
        .collect();
    // The gap is linear between the heights where two of these lines cross, so its greatest value is
    // at one of them or at the bar's faces.
    let mut places = vec![-half, half];
    for (i, a) in lines.iter().enumerate() {
        for b in &lines[i + 1..] {
            let y = (b.0 - a.0) / (a.1 - b.1);
            if y.abs() < half {
                places.push(y);
            }
        }
    }
    let mut greatest: f64 = 0.0;
    for y in places {
        let mut open: Vec<(f64, f64)> = voids
            .iter()
            .map(|v| [v.lo, v.hi].map(|x| x + y * cot_deg(v.angle_deg)))
            .map(|[lo, hi]| (lo, hi))
            .collect();
        open.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut merged: Vec<(f64, f64)> = Vec::new();
        for (lo, hi) in open {
            match merged.last_mut() {
                Some(last) if lo <= last.1 + SLIVER => last.1 = last.1.max(hi),
                _ => merged.push((lo, hi)),
            }
        }
        for (lo, hi) in merged {
            let inside = |f: &&Filler| (lo..=hi).contains(&(f.at + y * f.lean));
            let fillers: Vec<&Filler> = notches
                .iter()
                .copied()
                .filter(|f| f.filled)
                .filter(inside)
                .collect();
            if fillers.is_empty() {
                continue;
            }
            let edge = |side: f64| {
                fillers
                    .iter()
                    .map(move |f| f.at + side * f.half_run + y * f.lean)
            };
            // A notch that runs out of the bar's end has no wall there.
            if lo > span.0 && wall_is_filled(notches, lo, -1.0, y) {
                greatest = greatest.max(edge(-1.0).fold(f64::INFINITY, f64::min) - lo);
            }
            if hi < span.1 && wall_is_filled(notches, hi, 1.0, y) {
                greatest = greatest.max(hi - edge(1.0).fold(f64::NEG_INFINITY, f64::max));
            }
        }
    }
    greatest
}

/// Whether the notch whose wall lies nearest to `x` is one that a bar fills.
fn wall_is_filled(notches: &[&Filler], x: f64, side: f64, y: f64) -> bool {
    let off = |f: &&Filler| (f.at + side * f.half_notch + y * f.notch_lean - x).abs();
    let nearest = notches.iter().map(off).fold(f64::INFINITY, f64::min);
    notches
        .iter()
        .any(|f| f.filled && off(f) <= nearest + SLIVER)
}
