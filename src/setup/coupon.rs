//! Coupons: a comb of notches in small steps, and bars to try in them.
//!
//! A notch drawn w wide, cut with a path that takes in a cut of c, comes out w - c + c' wide where the cut
//! really is c'. It holds a bar of thickness b when w - c + c' = b, so c' = c + (b - w): that is what a
//! **kerf coupon** tells. Once the cut is known a notch comes out as drawn, and the one that a bar slides
//! into with hand pressure has the clearance w - b that joints should have: that is what a **fit coupon**
//! tells.
//!
//! Cut flat, a comb is one piece (`coupon/flat.rs`). Cut edge up, its notches are slots across the sticks of
//! a gang (`coupon/edge_up.rs`).

mod edge_up;
mod flat;

use std::fmt::{self, Write};

use serde::{Serialize, Serializer};

use crate::document::Numbers;
use crate::geom::micron;
use crate::non_empty::NonEmpty;

pub use edge_up::{COMB_STICKS, CombStick, StickSize, bar_length, comb_views};
pub use flat::{CombSize, least_height, least_land};

/// From notch to notch, mm: a beam's cut is finer than a cutter's (common practice, no source).
const BEAM_STEP: f64 = 0.02;
const CUTTER_STEP: f64 = 0.05;
/// Steps beyond the least and the greatest width that is looked for.
const BEAM_STEPS: i32 = 10;
const CUTTER_STEPS: i32 = 6;
/// Fewer notches make no comb.
const FEWEST: usize = 3;
/// Every so many notches, and the first, can be told from the others: cut flat by a mark in the opposite
/// edge, cut edge up by the mark before the first and more wood past every fifth.
const MARKED: usize = 5;
/// Bars to try: a pressed one is worn.
const BARS: usize = 2;
/// Shortest bar that fingers can press, mm (from memory).
const SHORTEST_BAR: f64 = 40.0;

/// What a coupon measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeasuredKey {
    /// The width of a beam's cut, in the material file.
    Kerf,
    /// A cutter's, in the machine file.
    Diameter,
    /// The play of joints, in the panel file.
    Clearance,
}

impl MeasuredKey {
    /// The key of the file.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Kerf => "laser.kerf",
            Self::Diameter => "router.tool.diameter",
            Self::Clearance => "cut.clearance",
        }
    }
}

impl fmt::Display for MeasuredKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl Serialize for MeasuredKey {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.word())
    }
}

/// What a coupon measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CouponKind {
    /// The width of the cut: a beam's kerf, or what a cutter really cuts.
    Kerf,
    /// The clearance that lets joints slide together with hand pressure.
    Fit,
}

impl CouponKind {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Kerf, Self::Fit];

    /// Word in `job.json`, and for whoever asks for one.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Kerf => "kerf",
            Self::Fit => "fit",
        }
    }

    /// What it is called; its files too, before their number.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Kerf => "kerf-coupon",
            Self::Fit => "fit-coupon",
        }
    }
}

/// What a comb is made for. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct CombSpec {
    /// What is measured.
    pub kind: CouponKind,
    /// Least and greatest thickness of the stock: what the bars measure.
    pub bar: [f64; 2],
    /// Width of the cut (kerf or effective tool diameter) that the paths take in.
    pub cut: f64,
    /// Whether a beam cuts.
    pub beam: bool,
    /// Cut edge up: the angle from a stick to the bar that crosses it, degrees; `None` where it is cut flat.
    pub crossing_deg: Option<f64>,
    /// Clearance that the panel asks for: the middle of a fit coupon.
    pub clearance: f64,
    /// Least and greatest clearance that the material bears.
    pub limits: [f64; 2],
}

/// The notches of a coupon and what they were cut with. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Comb {
    /// What it is made for.
    pub spec: CombSpec,
    /// From one notch to the next.
    pub step: f64,
    /// Drawn width of each notch, narrowest first; notch 1 is the first of them.
    pub widths: NonEmpty<f64>,
    /// Whether narrower notches were left out because beam or tool would not fit into them.
    pub shortened: bool,
}

impl Comb {
    /// The comb for stock of a measured thickness and a cut of a supposed width.
    ///
    /// # Errors
    /// Where beam or tool fits into too few notches: the widest cut that would do.
    pub fn new(spec: CombSpec) -> Result<Self, f64> {
        let (step, beyond) = if spec.beam {
            (BEAM_STEP, BEAM_STEPS)
        } else {
            (CUTTER_STEP, CUTTER_STEPS)
        };
        let [low, high] = spec.bar;
        let half = beyond + (0.5 * (high - low) / step - 1e-6).ceil() as i32;
        let middle = match spec.kind {
            CouponKind::Kerf => 0.5 * (low + high),
            CouponKind::Fit => 0.5 * (low + high) + spec.clearance,
        };
        let all: Vec<f64> = (-half..=half)
            .map(|i| micron(middle + f64::from(i) * step))
            .collect();
        // A cutter may just fit. A beam's path needs two sides.
        let least = if spec.beam { spec.cut + step } else { spec.cut };
        let widths = all.iter().copied().filter(|w| *w >= least - 1e-9);
        let enough = NonEmpty::of(widths).filter(|widths| widths.len() >= FEWEST);
        // There are more, for so many lie on either side of the middle.
        let widths = enough.ok_or_else(|| all[all.len() - FEWEST] - (least - spec.cut))?;
        Ok(Self {
            spec,
            step,
            shortened: widths.len() < all.len(),
            widths,
        })
    }

    /// Drawn width of a notch, from 1.
    #[must_use]
    pub fn width(&self, number: usize) -> Option<f64> {
        self.widths.get(number.checked_sub(1)?).copied()
    }

    /// Narrowest and widest notch.
    #[must_use]
    pub fn range(&self) -> [f64; 2] {
        [*self.widths.first(), *self.widths.last()]
    }

    /// What a notch tells of a bar of this thickness: the width of the cut that makes it hold the bar
    /// without play, or the clearance that it has.
    #[must_use]
    pub fn tells(&self, number: usize, bar: f64) -> Option<f64> {
        let width = self.width(number)?;
        Some(micron(match self.spec.kind {
            CouponKind::Kerf => self.spec.cut + (bar - width),
            CouponKind::Fit => width - bar,
        }))
    }

    /// What the coupon was made with: the width of the cut, or the clearance.
    #[must_use]
    pub fn supposed(&self) -> f64 {
        micron(match self.spec.kind {
            CouponKind::Kerf => self.spec.cut,
            CouponKind::Fit => self.spec.clearance,
        })
    }

    /// Key that a reading is written to.
    #[must_use]
    pub fn key(&self) -> MeasuredKey {
        match (self.spec.kind, self.spec.beam) {
            (CouponKind::Kerf, true) => MeasuredKey::Kerf,
            (CouponKind::Kerf, false) => MeasuredKey::Diameter,
            (CouponKind::Fit, _) => MeasuredKey::Clearance,
        }
    }

    /// The notches in words.
    #[must_use]
    pub fn notches_in_words(&self, n: Numbers) -> String {
        let [low, high] = self.range();
        let (count, step) = (self.widths.len(), self.step);
        format!(
            "notches 1 to {count}, drawn {} to {} in steps of {}",
            n.finest(low),
            n.finest_with_unit(high),
            n.finest_with_unit(step)
        )
    }

    /// How many bars there are to try.
    #[must_use]
    pub fn bars(&self) -> usize {
        BARS
    }

    /// How it is read, in words, one step a line.
    #[must_use]
    pub fn how_to_read(&self) -> Vec<&'static str> {
        let edge_up = self.spec.crossing_deg.is_some();
        let mut lines = vec![if edge_up {
            "notch 1 is the narrowest, next to the mark; more wood stands past every fifth"
        } else {
            "notch 1 is the narrowest; marks in the back edge: 1 and every fifth"
        }];
        match self.spec.kind {
            CouponKind::Kerf => {
                if edge_up {
                    lines.push("leave the gang clamped, and lay a bar across it on its edge");
                }
                lines.push("from notch 1 on, the first that a bar presses into by hand: --notch");
                if self.spec.beam {
                    lines.push(
                        "a cut that flares: --notch is for the top face, --underside for the other",
                    );
                }
            }
            CouponKind::Fit => {
                if edge_up {
                    lines.extend([
                        "loosen the gang: the first and the last comb change places, so that the error of the fence \
                         shows",
                        "combs side by side, datum ends against the fence, clamp, and lay a bar across on its edge",
                    ]);
                }
                lines.extend([
                    "from the widest on, the last that a bar slides into with hand pressure: --notch",
                    "narrower still, the first that it binds in: --binds",
                ]);
            }
        }
        lines
    }

    /// What every notch tells, as comma-separated values (RFC 4180): its number, drawn width, whether it
    /// has a mark, and what is written down if it is the reading. That is empty where the stock's
    /// thickness is not known to a step, and where no cut is so narrow; a clearance beyond what the
    /// material bears is told as such.
    #[must_use]
    pub fn csv(&self) -> Vec<u8> {
        let told = match self.spec.kind {
            CouponKind::Kerf => "cut_mm",
            CouponKind::Fit => "clearance_mm,borne",
        };
        let mut out = format!("notch,drawn_mm,mark,{told}\r\n");
        let yes = |flag: bool| if flag { "yes" } else { "no" };
        for (i, w) in self.widths.iter().enumerate() {
            let (number, mark) = (i + 1, yes(is_marked(i + 1)));
            let read = self.known_bar().and_then(|bar| self.tells(number, bar));
            let told = match self.spec.kind {
                CouponKind::Kerf => {
                    let cut = read.filter(|cut| *cut > 0.0);
                    cut.map_or_else(String::new, |cut| cut.to_string())
                }
                CouponKind::Fit => {
                    let borne = |c: f64| format!("{c},{}", yes(self.is_borne(c)));
                    read.map_or_else(|| ",".into(), borne)
                }
            };
            // Writing to a string does not fail.
            let _ = write!(out, "{number},{w},{mark},{told}\r\n");
        }
        out.into_bytes()
    }

    /// Whether the material bears a clearance.
    #[must_use]
    pub fn is_borne(&self, clearance: f64) -> bool {
        let [least, most] = self.spec.limits;
        (least - 1e-9..=most + 1e-9).contains(&clearance)
    }

    /// Whether a notch can be the reading, as far as the bar's thickness is known: the material bears its
    /// clearance. Any notch of a kerf coupon can.
    #[must_use]
    pub fn is_borne_in(&self, number: usize) -> bool {
        let read = self.known_bar().and_then(|bar| self.tells(number, bar));
        self.spec.kind == CouponKind::Kerf || read.is_none_or(|c| self.is_borne(c))
    }

    /// Thickness of a bar where the stock's readings agree to half a step.
    #[must_use]
    pub fn known_bar(&self) -> Option<f64> {
        let [low, high] = self.spec.bar;
        (high - low <= 0.5 * self.step + 1e-9).then(|| micron(0.5 * (low + high)))
    }
}

/// Whether a notch, from 1, has a mark.
#[must_use]
pub fn is_marked(number: usize) -> bool {
    number == 1 || number.is_multiple_of(MARKED)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    fn comb(kind: CouponKind, bar: [f64; 2], cut: f64, beam: bool) -> Result<Comb, f64> {
        Comb::new(CombSpec {
            kind,
            bar,
            cut,
            beam,
            crossing_deg: None,
            clearance: 0.07,
            limits: [-0.05, 0.2],
        })
    }

    pub(super) fn kerf(bar: [f64; 2], cut: f64, beam: bool) -> Comb {
        comb(CouponKind::Kerf, bar, cut, beam).expect("a comb")
    }

    #[test]
    fn notches_run_from_thinnest_to_thickest_and_beyond() {
        let comb = kerf([2.9, 3.1], 0.2, true);
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
        let comb = kerf([4.0; 2], 3.0, false);
        assert_eq!(comb.widths.len(), 13);
        assert_eq!((comb.width(1), comb.width(13)), (Some(3.7), Some(4.3)));
        assert_eq!(comb.known_bar(), Some(4.0));
    }

    #[test]
    fn notches_of_a_fit_coupon_lie_about_face_and_clearance() {
        let fit = |bar, beam| comb(CouponKind::Fit, bar, 0.2, beam).expect("a comb");
        let beam = fit([3.0; 2], true);
        // By hand: 3.07 in the middle of 21, 0.2 either side.
        assert_eq!(beam.width(11), Some(3.07));
        assert_eq!((beam.width(1), beam.width(21)), (Some(2.87), Some(3.27)));
        assert_eq!(beam.tells(11, 3.0), Some(0.07));
        assert_eq!(beam.tells(1, 3.0), Some(-0.13));
        assert_eq!(beam.tells(11, 3.05), Some(0.02), "a thicker bar has less");
        let cutter = fit([4.0; 2], false);
        assert_eq!(
            (cutter.width(1), cutter.width(13)),
            (Some(3.77), Some(4.37))
        );
        // What the material bears, limits belonging to the inside.
        let borne = [-0.051, -0.05, 0.2, 0.201].map(|c| beam.is_borne(c));
        assert_eq!(borne, [false, true, true, false]);
    }

    #[test]
    fn a_cutter_as_wide_as_the_bars_leaves_the_wider_half() {
        let half = kerf([3.0; 2], 3.0, false);
        assert_eq!((half.width(1), half.widths.len()), (Some(3.0), 7));
        assert!(half.shortened);
        // Three notches at 3.2, 3.25 and 3.3, and no fewer.
        let narrow = |cut| comb(CouponKind::Kerf, [3.0; 2], cut, false);
        assert!(narrow(3.2).is_ok());
        assert_eq!(narrow(3.201), Err(3.2));
    }

    #[test]
    fn a_wider_notch_means_a_narrower_cut() {
        let comb = kerf([3.0; 2], 0.2, true);
        // Notch 11 is drawn 3.0: the cut is as supposed. Notch 12 had to be 0.02 wider.
        assert_eq!(comb.tells(11, 3.0), Some(0.2));
        assert_eq!(comb.tells(12, 3.0), Some(0.18));
        assert_eq!(comb.tells(9, 3.0), Some(0.24));
        // A thicker bar in the same notch: the cut is wider.
        assert_eq!(comb.tells(11, 3.05), Some(0.25));
    }
}
