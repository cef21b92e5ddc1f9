//! Which lines can reach wood, and where they cross: found along each bar, never by comparing all pairs.

use super::bars::Bar;
use super::family::Family;
use super::joint::square_run;
use super::nodes::{Crossing, Lines, cross};
use super::outline::Outline;

/// How far along a bar the longest notch reaches from its joint, either way, mm.
fn notch_reach(own: &Family, families: &[Family]) -> f64 {
    let others = families.iter().filter(|f| own.angle_to(f) != 0.0);
    others
        .map(|f| 0.5 * square_run(f.face, own.face, own.angle_to(f)))
        .fold(0.0, f64::max)
}

/// All lines whose bars could reach wood.
pub(super) fn active_lines(families: &[Family], outline: &Outline, overhang: f64) -> Lines {
    let widest = families.iter().map(|f| f.face).fold(0.0, f64::max);
    // Every line of a joint counts in it, also of one whose notch alone reaches the wood.
    let reach = families
        .iter()
        .map(|f| notch_reach(f, families))
        .fold(widest, f64::max);
    let ranges: Vec<_> = families
        .iter()
        .map(|f| {
            let (lo, hi) = outline.region.extent(f.normal());
            // Wood runs past the outline by the overhang, or by the tip of a skew end.
            let tip = if overhang > 0.0 {
                overhang
            } else {
                widest * 20.0
            };
            f.lines_between(lo - tip - reach, hi + tip + reach)
        })
        .collect();
    Lines::new(&ranges)
}

/// Every crossing of a member's line, once.
pub(super) fn crossings(
    families: &[Family],
    bars: &[Bar],
    lines: &Lines,
    bar_of_line: &[Option<usize>],
) -> Vec<Crossing> {
    // How far beyond its ends a joint's notches can still touch a bar's wood: as far as it is looked at, for
    // all lines of the joint alike.
    let reaches: Vec<f64> = families.iter().map(|f| notch_reach(f, families)).collect();
    let window = |bar: &Bar| {
        let reach = reaches.get(bar.family).copied().unwrap_or(0.0) + 1.0;
        // Wood runs past the ends of the centre line where they are skew.
        let axis = families[bar.family].axis();
        let (wood, body) = (bar.wood.extent(axis), bar.body.extent(axis));
        let (lo, hi) = (wood.0.min(body.0), wood.1.max(body.1));
        (lo - bar.origin - reach, hi - bar.origin + reach)
    };
    let windows: Vec<(f64, f64)> = bars.iter().map(window).collect();
    let mut out = Vec::new();
    for (bar, &(lo, hi)) in bars.iter().zip(&windows) {
        let own = &families[bar.family];
        for (o, other) in families.iter().enumerate() {
            // Families in one direction have no crossings.
            if o == bar.family || own.angle_to(other) == 0.0 {
                continue;
            }
            let along = other.normal().dot(own.axis());
            let fixed = other.normal().dot(own.normal()) * bar.offset;
            let reach = [lo, hi].map(|s| fixed + along * (bar.origin + s));
            for index in other.lines_between(reach[0].min(reach[1]), reach[0].max(reach[1])) {
                let Some(line) = lines.number(o, index) else {
                    continue;
                };
                let (own_along, other_along, at) =
                    cross(own, bar.offset, other, other.offset(index));
                if let Some(b) = bar_of_line[line]
                    && line < bar.line
                {
                    // The other bar has already found this crossing if it lies in its own window.
                    let (lo, hi) = windows[b];
                    if (lo..=hi).contains(&(other_along - bars[b].origin)) {
                        continue;
                    }
                }
                out.push(Crossing {
                    lines: [bar.line, line],
                    along: [own_along, other_along],
                    at,
                });
            }
        }
    }
    out
}
