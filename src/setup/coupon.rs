//! The coupon: a comb of notches in small steps, and bars to press into them.
//!
//! A notch drawn w wide, cut with a path that takes in a cut of c, comes out w - c + c' wide where the cut
//! really is c'. It holds a bar of thickness b when w - c + c' = b, so c' = c + (b - w).

use std::fmt::Write;

use super::flat::{Edge, FlatPiece, SideNotch};
use crate::geom::{Contour, micron};

/// From notch to notch, mm: a beam's cut is finer than a cutter's (common practice, no source).
const BEAM_STEP: f64 = 0.02;
const CUTTER_STEP: f64 = 0.05;
/// Steps beyond the least and the greatest thickness.
const BEAM_STEPS: i32 = 10;
const CUTTER_STEPS: i32 = 6;
/// Fewer notches make no comb.
const FEWEST: usize = 3;
/// Every so many notches, and the first, have a mark in the opposite edge.
const MARKED: usize = 5;
/// Bars to try: a pressed one is worn.
const BARS: usize = 2;
/// Shortest bar that fingers can press, mm (from memory).
const SHORTEST_BAR: f64 = 40.0;

/// The notches of a coupon and what they were cut with. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Comb {
    /// Least and greatest thickness of the stock: what the bars measure.
    pub bar: [f64; 2],
    /// From one notch to the next.
    pub step: f64,
    /// Width of the cut (kerf or effective tool diameter) that the paths take in.
    pub cut: f64,
    /// Whether a beam cuts.
    pub beam: bool,
    /// Drawn width of each notch, narrowest first; notch 1 is the first of them.
    pub widths: Vec<f64>,
    /// Whether narrower notches were left out because beam or tool would not fit into them.
    pub shortened: bool,
}

impl Comb {
    /// The comb for stock of a measured thickness and a cut of a supposed width.
    ///
    /// # Errors
    /// Where beam or tool fits into too few notches: the widest cut that would do.
    pub fn new(bar: [f64; 2], cut: f64, beam: bool) -> Result<Self, f64> {
        let (step, beyond) = if beam {
            (BEAM_STEP, BEAM_STEPS)
        } else {
            (CUTTER_STEP, CUTTER_STEPS)
        };
        let half = beyond + (0.5 * (bar[1] - bar[0]) / step - 1e-6).ceil() as i32;
        let middle = 0.5 * (bar[0] + bar[1]);
        let all: Vec<f64> = (-half..=half)
            .map(|i| micron(middle + f64::from(i) * step))
            .collect();
        // A cutter may just fit. A beam's path needs two sides.
        let least = if beam { cut + step } else { cut };
        let widths: Vec<f64> = all.iter().copied().filter(|w| *w >= least - 1e-9).collect();
        if widths.len() < FEWEST {
            let widest = all.get(all.len() - FEWEST).copied().unwrap_or(0.0);
            return Err(widest - (least - cut));
        }
        Ok(Self {
            bar,
            step,
            cut,
            beam,
            shortened: widths.len() < all.len(),
            widths,
        })
    }

    /// Drawn width of a notch, from 1.
    #[must_use]
    pub fn width(&self, number: usize) -> Option<f64> {
        self.widths.get(number.checked_sub(1)?).copied()
    }

    /// Width of the cut that makes a notch hold a bar of this thickness without play.
    #[must_use]
    pub fn measured(&self, number: usize, bar: f64) -> Option<f64> {
        Some(micron(self.cut + (bar - self.width(number)?)))
    }

    /// The comb, then the bar, as side views of one depth; neither is shorter than `least`.
    #[must_use]
    pub fn pieces(&self, depth: f64, least: f64) -> Vec<FlatPiece> {
        let widest = self.widths.last().copied().unwrap_or(0.0);
        let land = (2.0 * self.bar[1]).max(4.0);
        let pitch = micron(widest + land);
        let count = self.widths.len() as f64;
        let length = (count * pitch + 2.0 * land).max(least);
        let first = 0.5 * (length - (count - 1.0) * pitch);
        let mut notches = Vec::new();
        for (i, w) in self.widths.iter().enumerate() {
            let at = micron(first + i as f64 * pitch);
            let mut cut = |w: f64, edge: Edge, depth: f64| {
                notches.push(SideNotch {
                    x0: at - 0.5 * w,
                    x1: at + 0.5 * w,
                    edge,
                    depth,
                });
            };
            cut(*w, Edge::Front, 0.5 * depth);
            if is_marked(i + 1) {
                cut(widest, Edge::Back, (depth / 6.0).min(2.0));
            }
        }
        let (low, high) = (self.widths.first().copied().unwrap_or(0.0), widest);
        let piece = |class: &str, length: f64, notches, remark: String| {
            let mut piece = FlatPiece {
                class: class.into(),
                length,
                depth,
                notches,
                drawn: Contour::polygon([]),
                remark,
            };
            piece.drawn = piece.outline();
            piece
        };
        let remark = format!("1 to {count}: {low} to {high} mm");
        vec![
            piece("comb", length, notches, remark),
            piece("bar", SHORTEST_BAR.max(least), Vec::new(), String::new()),
        ]
    }

    /// Which of [`Self::pieces`] is cut how often: its index and the id of each copy.
    #[must_use]
    pub fn copies(&self) -> Vec<(usize, String)> {
        let bars = (1..=BARS).map(|i| (1, format!("bar-{i}")));
        std::iter::once((0, "comb-1".to_owned()))
            .chain(bars)
            .collect()
    }

    /// What the operator reads at the head of the program.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let low = self.widths.first().copied().unwrap_or(0.0);
        let high = self.widths.last().copied().unwrap_or(0.0);
        vec![
            format!(
                "coupon: notches 1 to {}, drawn {low} to {high} mm in steps of {} mm",
                self.widths.len(),
                self.step
            ),
            "marks in the back edge: notch 1 and every fifth; notch 1 is narrowest".into(),
            "read: the first notch that a bar presses into crosswise by hand".into(),
        ]
    }

    /// What every notch tells, as comma-separated values (RFC 4180): its number, drawn width, whether it
    /// has a mark, and the width of the cut if a bar presses into it. Empty where the stock's thickness
    /// is not known to a step, or where no cut is so narrow.
    #[must_use]
    pub fn csv(&self) -> Vec<u8> {
        let mut out = String::from("notch,drawn_mm,mark,cut_mm\r\n");
        for (i, w) in self.widths.iter().enumerate() {
            let cut = self
                .known_bar()
                .and_then(|bar| self.measured(i + 1, bar))
                .filter(|cut| *cut > 0.0)
                .map_or_else(String::new, |cut| cut.to_string());
            let mark = if is_marked(i + 1) { "yes" } else { "no" };
            // Writing to a string does not fail.
            let _ = write!(out, "{},{w},{mark},{cut}\r\n", i + 1);
        }
        out.into_bytes()
    }

    /// Thickness of a bar where the stock's readings agree to half a step.
    #[must_use]
    pub fn known_bar(&self) -> Option<f64> {
        let [low, high] = self.bar;
        (high - low <= 0.5 * self.step + 1e-9).then(|| micron(0.5 * (low + high)))
    }
}

/// Whether a notch, from 1, has a mark.
fn is_marked(number: usize) -> bool {
    number == 1 || number.is_multiple_of(MARKED)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notches_run_from_thinnest_to_thickest_and_beyond() {
        let comb = Comb::new([2.9, 3.1], 0.2, true).expect("a comb");
        // By hand: 0.1 either side of 3.0 is five steps of 0.02, and ten beyond.
        assert_eq!(comb.widths.len(), 31);
        assert_eq!((comb.width(1), comb.width(31)), (Some(2.7), Some(3.3)));
        assert_eq!((comb.width(0), comb.width(32)), (None, None));
        assert_eq!(
            comb.known_bar(),
            None,
            "readings 0.2 apart tell no thickness"
        );
        assert!(!comb.shortened);
        let comb = Comb::new([4.0; 2], 3.0, false).expect("a comb");
        assert_eq!(comb.widths.len(), 13);
        assert_eq!((comb.width(1), comb.width(13)), (Some(3.7), Some(4.3)));
        assert_eq!(comb.known_bar(), Some(4.0));
    }

    #[test]
    fn a_cutter_as_wide_as_the_bars_leaves_the_wider_half() {
        let comb = Comb::new([3.0; 2], 3.0, false).expect("a comb");
        assert_eq!((comb.width(1), comb.widths.len()), (Some(3.0), 7));
        assert!(comb.shortened);
        // Three notches at 3.2, 3.25 and 3.3, and no fewer.
        assert!(Comb::new([3.0; 2], 3.2, false).is_ok());
        assert_eq!(Comb::new([3.0; 2], 3.201, false), Err(3.2));
    }

    #[test]
    fn a_wider_notch_means_a_narrower_cut() {
        let comb = Comb::new([3.0; 2], 0.2, true).expect("a comb");
        // Notch 11 is drawn 3.0: the cut is as supposed. Notch 12 had to be 0.02 wider.
        assert_eq!(comb.measured(11, 3.0), Some(0.2));
        assert_eq!(comb.measured(12, 3.0), Some(0.18));
        assert_eq!(comb.measured(9, 3.0), Some(0.24));
        // A thicker bar in the same notch: the cut is wider.
        assert_eq!(comb.measured(11, 3.05), Some(0.25));
    }

    #[test]
    fn marks_tell_one_end_from_the_other() {
        let comb = Comb::new([1.5; 2], 0.15, true).expect("a comb");
        let pieces = comb.pieces(12.0, 0.0);
        let at = |edge: Edge| -> Vec<f64> {
            let on = pieces[0].notches.iter().filter(|n| n.edge == edge);
            on.map(|n| 0.5 * (n.x0 + n.x1)).collect()
        };
        let (front, back) = (at(Edge::Front), at(Edge::Back));
        assert_eq!((front.len(), back.len()), (21, 5));
        for (mark, number) in back.iter().zip([1, 5, 10, 15, 20]) {
            assert!(
                (mark - front[number - 1]).abs() < 1e-9,
                "under notch {number}"
            );
        }
        assert!(pieces[1].notches.is_empty());
        assert_eq!(comb.pieces(12.0, 500.0)[0].length, 500.0);
    }
}
