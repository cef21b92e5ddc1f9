//! Every count of columns and rows that could do, the best first.

use super::asked::{Asked, Range};
use super::error::SizeError;
use super::found::{Closes, FoundSize, past, pitched, sized};
use super::round::decimals;
use super::tied::{Found, Left, Within};
use super::two::{self, Turned};
use crate::geom::{cos_deg, sin_deg, tan_deg, tidy};
use crate::lattice::GroundSize;
use crate::limits::FIT_SIZES;
use crate::panel::{Layout, Measured, OutlineShape, Panel, SurroundCut};

/// Most columns, and most rows: those of a panel file.
const MOST_SPACINGS: f64 = 100_000.0;
/// The pitch at which margins are measured, mm: so great that no side reaches a second bar.
const WIDE: f64 = 10_000.0;

/// The sizes that were found.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundSizes {
    /// How many counts of columns and rows close exactly, close by two widths of the surround, and miss.
    pub found: [usize; 3],
    /// The best of them, best first.
    pub best: Vec<FoundSize>,
}

/// The sizes for which a panel comes nearest to what is asked: exact ones first, then those for which the
/// surround takes up the rest with two widths, then those that miss, nearest first. At most `most`.
///
/// Of exact ones a square layout puts those first whose cells have the panel's own proportions, to a
/// percent; then those whose pitch has the fewest decimals, then those nearest to the panel's own pitch.
///
/// # Errors
/// [`SizeError`] says what would be right.
pub fn find_sizes(
    panel: &Panel,
    measured: impl Into<Measured>,
    asked: &Asked,
    most: usize,
) -> Result<FoundSizes, SizeError> {
    let measured = measured.into();
    let search = Search::new(panel, &measured, asked)?;
    let mut found = search.all()?;
    found.sort_by_key(|(_, key)| *key);
    let count = |closes| {
        found
            .iter()
            .filter(|(f, _)| f.found.closes == closes)
            .count()
    };
    let counts = [Closes::Exact, Closes::BySurround, Closes::Misses].map(count);
    let sound = found.iter().filter_map(|(f, _)| search.fit(f, &measured));
    let best: Vec<FoundSize> = sound.take(most).collect();
    if best.is_empty() {
        return Err(SizeError::Nothing);
    }
    Ok(FoundSizes {
        found: counts,
        best,
    })
}

/// A count of columns and rows with what was found for it.
#[derive(Debug, Clone, Copy)]
struct Counted {
    counts: [u32; 2],
    found: Found,
    angle: Option<f64>,
}

/// What is better comes first: how it closes, how well (proportions, likeness of the two widths, distance),
/// decimals, distance from the panel's own pitch in millionths, spacings.
type Key = (Closes, u64, u32, u64, [u32; 2]);

/// How a layout's steps depend on its pitches.
#[derive(Debug, Clone, Copy)]
enum Steps {
    /// One pitch sets both.
    Tied,
    /// A pitch each; the proportion of up to across that the panel has.
    Two(f64),
    /// One pitch, and an angle that may vary.
    Turned,
}

struct Search<'a> {
    panel: &'a Panel,
    asked: &'a Asked,
    steps: Steps,
    /// Steps across and up at a pitch of 1.
    k: [f64; 2],
    /// What the outline's rules add to the ground, across and up, mm.
    margin: [f64; 2],
    /// The panel's own pitches, moved into their ranges.
    near: [f64; 2],
}

impl<'a> Search<'a> {
    fn new(panel: &'a Panel, measured: &Measured, asked: &'a Asked) -> Result<Self, SizeError> {
        let layout = &panel.ground.layout;
        let own = layout.pitches().ok_or(SizeError::Free)?;
        let steps = match layout {
            Layout::Square { .. } => Steps::Two(own[1] / own[0]),
            Layout::Diamond { .. } if asked.angle.is_some() => Steps::Turned,
            _ => Steps::Tied,
        };
        if asked.angle.is_some() && !matches!(steps, Steps::Turned) {
            return Err(SizeError::NoAngle(layout.name()));
        }
        if matches!(panel.outline.shape, OutlineShape::Polygon { .. }) {
            return Err(SizeError::Polygon);
        }
        let surround = asked.surround.least;
        if asked.outer.iter().any(|&outer| outer <= 2.0 * surround) {
            let outer = asked.outer;
            return Err(SizeError::SurroundTooWide { surround, outer });
        }
        let wide = sized(panel, pitched(layout, [WIDE; 2], None), 1, 1);
        let wide = GroundSize::of(&wide, measured.clone()).map_err(SizeError::Lattice)?;
        let search = Self {
            panel,
            asked,
            steps,
            k: wide.step.map(|s| s / WIDE),
            margin: [0, 1].map(|i| wide.size[i] - wide.step[i]),
            near: [asked.pitch.nearest(own[0]), asked.pitch_up.nearest(own[1])],
        };
        for axis in 0..2 {
            let least = search.k(axis).least * search.pitch(axis).least
                + search.margin[axis]
                + 2.0 * (surround + search.ear());
            let outer = asked.outer[axis];
            if outer + asked.tolerance < least {
                return Err(SizeError::TooSmall { axis, outer, least });
            }
        }
        Ok(search)
    }

    /// The least and greatest step at a pitch of 1.
    fn k(&self, axis: usize) -> Range {
        match (self.steps, self.asked.angle) {
            (Steps::Turned, Some(angle)) if axis == 0 => Range {
                least: cos_deg(angle.greatest),
                greatest: cos_deg(angle.least),
            },
            (Steps::Turned, Some(angle)) => Range {
                least: sin_deg(angle.least),
                greatest: sin_deg(angle.greatest),
            },
            _ => Range::only(self.k[axis]),
        }
    }

    fn pitch(&self, axis: usize) -> Range {
        match (axis, self.steps) {
            (1, Steps::Two(_)) => self.asked.pitch_up,
            _ => self.asked.pitch,
        }
    }

    /// Half of what a panel has one way without any spacing: what that would leave on each side, mm.
    fn bare(&self) -> [f64; 2] {
        [0, 1].map(|i| 0.5 * (self.asked.outer[i] - self.margin[i]) - self.ear())
    }

    /// How far the sides of a lapped surround stand out beyond those that they cross, mm: the play of the
    /// notch, half of it at either wall, and the ear.
    fn ear(&self) -> f64 {
        match self.panel.surround.as_ref().map(|s| s.cut) {
            Some(SurroundCut::Laps { ear }) => ear + 0.5 * self.panel.cut.clearance,
            Some(SurroundCut::ByHand(_)) | None => 0.0,
        }
    }

    /// Counts of spacings that could do, one way: those that go in, and one more and less.
    fn spacings(&self, axis: usize) -> [f64; 2] {
        let room = |width: f64| 2.0 * (self.bare()[axis] - width);
        let (k, pitch, surround) = (self.k(axis), self.pitch(axis), self.asked.surround);
        let fewest = (room(surround.greatest) / (k.greatest * pitch.greatest)).floor();
        let most = (room(surround.least) / (k.least * pitch.least)).ceil();
        [fewest, most].map(|n| n.clamp(1.0, MOST_SPACINGS))
    }

    fn all(&self) -> Result<Vec<(Counted, Key)>, SizeError> {
        let ranges = [self.spacings(0), self.spacings(1)];
        let sizes: f64 = ranges.iter().map(|r| r[1] - r[0] + 1.0).product();
        if sizes > f64::from(FIT_SIZES) {
            let limit = f64::from(FIT_SIZES);
            return Err(SizeError::TooMany { sizes, limit });
        }
        let [columns, rows] = ranges.map(|r| r[0] as u32..=r[1] as u32);
        let counts = columns.flat_map(|c| rows.clone().map(move |r| [c, r]));
        Ok(counts
            .map(|counts| {
                let (found, angle) = self.found(counts);
                let counted = Counted {
                    counts,
                    found,
                    angle,
                };
                (counted, self.key(&counted))
            })
            .collect())
    }

    /// What a pitch leaves, for counts of columns and rows.
    fn left(&self, counts: [u32; 2]) -> Left {
        Left {
            at: self.bare(),
            slope: [0, 1].map(|i| 0.5 * f64::from(counts[i]) * self.k[i]),
        }
    }

    fn found(&self, counts: [u32; 2]) -> (Found, Option<f64>) {
        let Asked {
            pitch,
            surround,
            tolerance,
            ..
        } = *self.asked;
        let within = Within {
            pitch,
            surround,
            tolerance,
            near: self.near[0],
        };
        let tied = |left: &Left| {
            (left.exact(within))
                .or_else(|| left.by_surround(within))
                .unwrap_or_else(|| left.nearest(within))
        };
        match (self.steps, self.asked.angle, &self.panel.ground.layout) {
            (Steps::Two(ratio), ..) => {
                let (left, pitch) = (self.left(counts), [pitch, self.asked.pitch_up]);
                let exact = two::exact(&left, pitch, surround, tolerance, ratio);
                let nearest = || two::nearest(&left, pitch, surround, ratio);
                (exact.unwrap_or_else(nearest), None)
            }
            (Steps::Turned, Some(angle), &Layout::Diamond { angle_deg, .. }) => {
                let turned = Turned {
                    counts: counts.map(f64::from),
                    at: self.bare(),
                    angle,
                    own: angle_deg,
                };
                if let Some((found, angle)) = turned.exact(within) {
                    return (found, Some(angle));
                }
                // Nothing closes between the ends; the nearest of them and the panel's own.
                let off = |(found, angle): &(Found, f64)| {
                    let left = turned.left(*angle).of(found.pitch);
                    let off = [0, 1].map(|i| (left[i] - found.surround[i]).abs());
                    (found.closes, off[0].max(off[1]))
                };
                let at = |a: f64| (tied(&turned.left(a)), a);
                let better = |best: (Found, f64), other: (Found, f64)| {
                    let (a, b) = (off(&other), off(&best));
                    let order = a.0.cmp(&b.0).then(a.1.total_cmp(&b.1));
                    if order.is_lt() { other } else { best }
                };
                let own = at(angle.nearest(angle_deg));
                let ends = [angle.least, angle.greatest].map(at);
                let (found, angle) = ends.into_iter().fold(own, better);
                (found, Some(angle))
            }
            _ => (tied(&self.left(counts)), None),
        }
    }

    fn key(&self, counted: &Counted) -> Key {
        let Counted {
            counts,
            found,
            angle,
        } = counted;
        let ([across, up], widths) = (found.pitch, found.surround);
        let parts = |v: f64, of: f64| (v.abs() * of).round() as u64;
        let log = |ratio: f64| libm::log(ratio);
        let how_well = match (found.closes, self.steps, &self.panel.ground.layout) {
            (Closes::Exact, Steps::Two(ratio), _) => parts(log(up / (across * ratio)), 100.0),
            (Closes::Exact, _, Layout::Diamond { angle_deg, .. }) => {
                let angle = angle.unwrap_or(*angle_deg);
                parts(log(tan_deg(angle) / tan_deg(*angle_deg)), 100.0)
            }
            (Closes::Exact, ..) => 0,
            (Closes::BySurround, ..) => parts(widths[0] - widths[1], 10.0),
            (Closes::Misses, ..) => {
                let left = match (angle, self.steps) {
                    (Some(angle), _) => Turned {
                        counts: counts.map(f64::from),
                        at: self.bare(),
                        angle: Range::only(*angle),
                        own: *angle,
                    }
                    .left(*angle),
                    _ => self.left(*counts),
                }
                .of(found.pitch);
                let off = [0, 1].map(|i| 2.0 * (left[i] - widths[i]).abs());
                parts(off[0].max(off[1]), 100.0)
            }
        };
        let odd = match (self.steps, angle) {
            (Steps::Two(_), _) => decimals(across) + decimals(up),
            (_, Some(angle)) => decimals(across) + decimals(*angle),
            _ => decimals(across),
        };
        let far = parts(log(across / self.near[0]), 1e6);
        (found.closes, how_well, odd, far, *counts)
    }

    /// The size as the lattice module comes to it; `None` where it makes no sound ground.
    fn fit(&self, counted: &Counted, measured: &Measured) -> Option<FoundSize> {
        let Counted {
            counts: [columns, rows],
            found,
            angle,
        } = *counted;
        let layout = pitched(&self.panel.ground.layout, found.pitch, angle);
        let panel = sized(self.panel, layout.clone(), columns, rows);
        let size = GroundSize::of(&panel, measured.clone()).ok()?.size;
        let left = [0, 1].map(|i| 0.5 * (self.asked.outer[i] - size[i]) - self.ear());
        let tied = match (self.steps, angle) {
            (Steps::Tied, _) => Some(self.left(counted.counts)),
            _ => None,
        };
        let width = found.surround[0].min(found.surround[1]);
        let past = match found.closes {
            Closes::BySurround => past(self.panel, left, width, self.asked.tolerance),
            Closes::Exact | Closes::Misses => Some([0.0; 2]),
        };
        Some(FoundSize {
            columns,
            rows,
            layout,
            surround: found.surround,
            closes: found.closes,
            ground: size,
            left: left.map(tidy),
            off: [0, 1].map(|i| tidy(2.0 * (left[i] - found.surround[i]))),
            past,
            gives: tied.map(|left| left.gives(width)),
        })
    }
}
