//! How a router cuts: its settings, the heights of its passes, its head.

use std::collections::BTreeMap;

use super::note::Note;
use super::program::{Head, Move, Program};
use crate::geom::{is_on_step, step_below, step_near};
use crate::panel::{Milling, Relief};
use crate::setup::groove_floor;

/// Greatest distance between strokes that clear a wide notch or slot, in tool radii.
pub(super) const STROKE: f64 = 1.6;
/// How far below the stock's underside the last pass goes, if the spoil board allows it, mm.
pub const THROUGH: f64 = 0.2;

/// How far below the bed the last pass of a through cut goes, mm, where the tip may cut `spoil` mm into the board.
#[must_use]
pub fn through(spoil: f64) -> f64 {
    THROUGH.min(spoil)
}

/// How a router cuts a sheet. Lengths are mm, feeds mm/min.
#[derive(Debug, Clone, PartialEq)]
pub struct RouterSettings {
    /// Effective tool diameter.
    pub diameter: f64,
    /// Cutting feed.
    pub feed: f64,
    /// Feed straight down.
    pub plunge_feed: f64,
    /// Spindle speed, rev/min.
    pub speed_rpm: f64,
    /// Wait for the spindle, s.
    pub spin_up_s: f64,
    /// Greatest depth of a pass.
    pub pass_depth: f64,
    /// How deep the tool may cut into the spoil board.
    pub spoil: f64,
    /// Safe height above the stock's top.
    pub safe_height: f64,
    /// Tabs a piece.
    pub tabs: u32,
    /// Wood left at a tab.
    pub tab_width: f64,
    /// No tab is made narrower than this to find room.
    pub least_tab_width: f64,
    /// Height of a tab.
    pub tab_height: f64,
    /// Material between the cuts of neighbouring pieces.
    pub gap: f64,
    /// Between the ends of pieces that stay joined: the width of the groove there.
    pub parting_gap: f64,
    /// How inside corners are relieved.
    pub relief: Relief,
    /// Tool table number.
    pub tool_number: u32,
    /// What the maker calls the tool.
    pub tool_name: String,
    /// Which way the tool goes along the walls of a slot.
    pub milling: Milling,
    /// One step of a coordinate's last decimal in the programs.
    pub step: f64,
}

impl RouterSettings {
    /// How far below the bed the last pass of a through cut goes, mm.
    #[must_use]
    pub fn through(&self) -> f64 {
        through(self.spoil)
    }

    /// The head of a program that travels clear above stock of this height, mm.
    pub(super) fn head(&self, top: f64) -> Head {
        Head::Cutter {
            diameter: self.diameter,
            speed_rpm: self.speed_rpm,
            spin_up_s: self.spin_up_s,
            plunge_feed: self.plunge_feed,
            safe_z: top + self.safe_height,
            tool_number: self.tool_number,
            tool_name: self.tool_name.clone(),
        }
    }

    /// A program of edge-up cutting, for wood up to this height, mm.
    pub(super) fn bench_program(
        &self,
        top: f64,
        stem: String,
        notes: Vec<Note>,
        moves: Vec<Move>,
    ) -> Program {
        Program {
            stem,
            notes,
            head: self.head(top),
            feed: self.feed,
            moves,
            holds: Vec::new(),
            reliefs: BTreeMap::new(),
            contours: Vec::new(),
        }
    }

    /// z of each pass above the bed, from the top down, equal steps of at most the pass depth.
    #[must_use]
    pub fn passes(&self, thickness: f64) -> Vec<f64> {
        self.steps(thickness, thickness + self.through())
    }

    /// z of each pass of a groove between joined pieces, from the top down to half the thickness.
    #[must_use]
    pub fn groove_passes(&self, thickness: f64) -> Vec<f64> {
        self.steps(thickness, thickness - groove_floor(thickness))
    }

    /// z of each pass of a cut from `top` down to `floor`: the last is the floor itself. One in the wood is
    /// brought to the program's decimals so that two bars which part there share nothing: one keeps the wood
    /// below `floor`, the other, turned over, that below `top - floor`. Where `top` is a whole number of steps
    /// the two nearest steps sum to it, and of two that are as near each takes the lower; else both take the
    /// step below.
    pub(super) fn down_to(&self, top: f64, floor: f64) -> Vec<f64> {
        let mut steps = self.steps(top, top - floor);
        if let Some(last) = steps.last_mut() {
            *last = if floor <= 0.0 {
                floor
            } else if is_on_step(top, self.step) {
                step_near(floor, self.step)
            } else {
                step_below(floor, self.step)
            };
        }
        steps
    }

    /// Equal steps of at most the pass depth from `top` down by `total`, in whole micrometres.
    fn steps(&self, top: f64, total: f64) -> Vec<f64> {
        let count = (total / self.pass_depth - 1e-9).ceil().max(1.0);
        (1..=count as u32)
            .map(|k| top - total * f64::from(k) / count)
            .map(|z| (z * 1e3).round() / 1e3)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(pass_depth: f64) -> RouterSettings {
        RouterSettings {
            diameter: 3.0,
            feed: 1200.0,
            plunge_feed: 300.0,
            speed_rpm: 16_000.0,
            spin_up_s: 4.0,
            pass_depth,
            spoil: 0.3,
            safe_height: 12.0,
            tabs: 2,
            tab_width: 4.0,
            least_tab_width: 2.0,
            tab_height: 0.8,
            gap: 2.0,
            parting_gap: 3.0,
            relief: Relief::None,
            tool_number: 1,
            tool_name: String::new(),
            milling: Milling::Climb,
            step: 1e-3,
        }
    }

    #[test]
    fn passes_end_on_the_floor() {
        let down_to = |top, floor, step| settings(step).down_to(top, floor);
        assert_eq!(down_to(12.0, 4.0, 3.0), [9.333, 6.667, 4.0]);
        assert_eq!(down_to(12.0, 11.5, 3.0), [11.5]);
        assert_eq!(down_to(12.0, -0.123_4, 1.5).last(), Some(&-0.123_4));
    }

    /// Two bars part at z: one keeps the wood below its floor, the other, turned over, the wood above its own.
    #[test]
    fn floors_of_one_interface_overlap_in_no_dialect() {
        for (top, step) in [
            (17.3, 1e-3),
            (17.3, 1e-4),
            (17.3, 25.4e-4),
            (17.3, 25.4e-5),
            (13.493_75, 1e-3),
        ] {
            let set = RouterSettings {
                step,
                ..settings(1.5)
            };
            let floor = |z: f64| {
                let last = *set.down_to(top, z).last().expect("a pass");
                let steps = last / step;
                assert!(
                    (steps - steps.round()).abs() < 1e-6,
                    "{last} is written exactly"
                );
                assert!((z - step..z + 0.5 * step).contains(&last), "{last} of {z}");
                last
            };
            for eighths in 1..8 {
                let z = top * f64::from(eighths) / 8.0;
                assert!(floor(z) + floor(top - z) <= top + 1e-9, "{z} by {step}");
            }
        }
        // 17.3 / 8 lies half-way between two thousandths: both bars take the lower.
        let set = settings(1.5);
        assert_eq!(set.down_to(17.3, 2.1625).last(), Some(&2.162));
        assert_eq!(set.down_to(17.3, 15.1375).last(), Some(&15.137));
    }
}
