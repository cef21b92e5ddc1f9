//! Checks of what holds pieces while they are cut: how many holds, how large, and what they bear.

use super::check::{Check, Status, Unit};
use super::check_id::CheckId;
use crate::geom::SAME_FIGURE;
use crate::non_empty::NonEmpty;
use crate::panel::{LaserCut, RouterCut, Tool};
use crate::path::{Head, Hold, LEAST_HOLDS, Program};
use crate::setup::{FlatLayout, FlatSheet, PlacementId};

/// Greatest share of the stock's thickness that a tab may have (from memory): a higher one is not sawn through
/// cleanly, and hides whether the cut went through.
pub const MOST_TAB: f64 = 0.75;
/// How many times the force of the cut a hold must bear: cutters dull, the nearest hold takes most of the load, and
/// grain runs out of a hold's sides (from memory).
const FORCE_FACTOR: f64 = 3.0;
/// Least force with which a gang is pressed against its reference rail, N: what the steps tell the maker.
const SIDE_PRESSURE: f64 = 200.0;
/// Friction of planed wood on wood (from memory).
const FRICTION: f64 = 0.3;

/// Greatest force of a cut, N: specific cutting force by width by thickness of the chip, F = k b h, the cutting force
/// of machining handbooks (after Kienzle; from memory), for every tooth in the cut. The chip is as wide as a pass is
/// deep, `step` mm, and at its thickest the feed of a tooth; of the teeth no more than half are in a slot at once.
#[must_use]
pub fn cut_force(cut: &RouterCut, tool: &Tool, step: f64) -> f64 {
    let chip = cut.feed / (cut.speed_rpm * f64::from(tool.flutes));
    cut.cutting_force * step * chip * f64::from(tool.flutes.div_ceil(2))
}

/// Depth of each of the equal passes that a cut `deepest` mm down takes, mm.
#[must_use]
pub(super) fn pass_step(cut: &RouterCut, deepest: f64) -> f64 {
    deepest / (deepest / cut.pass_depth - 1e-9).ceil().max(1.0)
}

/// What the holds of a material must be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoldNeeds {
    /// Least width, mm.
    width: f64,
    /// Least height, mm; 0 for a beam, whose bridges are as high as the stock.
    height: f64,
    /// Least section of each, mm².
    section: f64,
    /// What they break at, N/mm².
    strength: f64,
    /// What they must bear, N; 0 for a beam, which pulls at nothing.
    force: f64,
}

impl HoldNeeds {
    /// Of bridges.
    #[must_use]
    pub fn of_bridges(cut: &LaserCut) -> Self {
        Self {
            width: cut.least_bridge_width,
            height: 0.0,
            section: cut.least_bridge_section,
            strength: 0.0,
            force: 0.0,
        }
    }

    /// Of tabs, where the tip goes `deepest` mm down from the stock's top.
    #[must_use]
    pub fn of_tabs(cut: &RouterCut, tool: &Tool, deepest: f64) -> Self {
        Self {
            width: cut.least_tab_width,
            height: cut.least_tab_height,
            section: cut.least_tab_section,
            strength: cut.hold_strength,
            force: FORCE_FACTOR * cut_force(cut, tool, pass_step(cut, deepest)),
        }
    }

    /// Section of all holds of a piece that bears the force, mm².
    #[must_use]
    pub fn section_in_all(&self) -> f64 {
        if self.force > 0.0 {
            self.force / self.strength
        } else {
            0.0
        }
    }

    /// Whether a hold in stock of this thickness, mm, is large enough to count.
    fn is_met_by(&self, hold: &Hold, beam: bool, thickness: f64) -> bool {
        // A tab as high as the stock would be no cut at all.
        let most = MOST_TAB * thickness;
        hold.width >= self.width - SAME_FIGURE
            && hold.height >= self.height - SAME_FIGURE
            && hold.width * hold.height >= self.section - SAME_FIGURE
            && (beam || hold.height <= most + SAME_FIGURE)
    }
}

/// Whether everything on a sheet is held: the least number of holds that stand on a piece, or on pieces that
/// stay joined, and the least force that breaks the holds of one, or the wood between two that are joined. What is
/// narrower, lower or of less section than the least is no hold.
#[must_use]
pub fn hold_checks(
    layout: &FlatLayout,
    sheet: &FlatSheet,
    program: &Program,
    needs: &HoldNeeds,
) -> Vec<Check> {
    let beam = matches!(program.head, Head::Beam { .. });
    let mut count = sheet.placements.column(|_, _| 0usize);
    let mut section = sheet.placements.column(|_, _| 0.0);
    let sound = |hold: &&Hold| needs.is_met_by(hold, beam, sheet.thickness);
    for hold in program.holds.iter().filter(sound) {
        count[hold.placement] += 1;
        section[hold.placement] += hold.width * hold.height;
    }
    let runs = sheet.runs();
    let name = |&id: &PlacementId| {
        let at = &sheet.placements[id];
        layout.pieces[at.piece].named(&at.id)
    };
    let names = |run: &NonEmpty<PlacementId>| run.iter().map(name).collect::<Vec<_>>().join(" + ");
    let counted = |run: &NonEmpty<PlacementId>| -> usize { run.iter().map(|&id| count[id]).sum() };
    let Some(run) = runs.iter().min_by_key(|run| counted(run)) else {
        // Nothing lies on the sheet, so that nothing is to be held.
        return Vec::new();
    };
    let number = Check::at_least(
        if beam {
            CheckId::Bridges
        } else {
            CheckId::Tabs
        },
        counted(run) as f64,
        f64::from(LEAST_HOLDS),
        Unit::Holds,
        format!("{}, piece {}", program.stem, names(run)),
    );
    if beam || number.status == Status::Fail {
        return vec![number];
    }
    let mut checks = vec![number];
    let held = runs.iter().map(|run| {
        let section: f64 = run.iter().map(|&id| section[id]).sum();
        (section, format!("tabs of piece {}", names(run)))
    });
    let joined = sheet.partings(&layout.pieces).into_iter().map(|parting| {
        let between = [parting.left, parting.right]
            .map(|id| name(&id))
            .join(" + ");
        let section = parting.bridge.height() * parting.floor;
        (section, format!("the wood between {between}"))
    });
    if let Some((section, place)) = held.chain(joined).min_by(|a, b| a.0.total_cmp(&b.0)) {
        checks.push(Check::at_least(
            CheckId::HoldForce,
            section * needs.strength,
            needs.force,
            Unit::Newtons,
            format!(
                "{}, {place}, at {FORCE_FACTOR} times the force of the cut",
                program.stem
            ),
        ));
    }
    checks
}

/// Whether friction between the rails holds the sticks of a gang along them: `deepest` is the deepest cut, mm.
#[must_use]
pub fn gang_force_check(cut: &RouterCut, tool: &Tool, deepest: f64) -> Check {
    Check::at_least(
        CheckId::HoldForce,
        2.0 * FRICTION * SIDE_PRESSURE,
        FORCE_FACTOR * cut_force(cut, tool, pass_step(cut, deepest)),
        Unit::Newtons,
        format!(
            "sticks pressed between the rails with {SIDE_PRESSURE} N, at {FORCE_FACTOR} times the force of the cut"
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::{HeadKind, JobFiles};

    /// By hand, F = k b h: 80 N/mm² on a chip 1.4 mm wide and 1200 / (16000 · 2) mm thick, one tooth of two in the
    /// slot; of three teeth two, each with two thirds of the chip.
    #[test]
    fn the_force_of_a_cut_is_that_of_its_chip() {
        let files = JobFiles::builtin_panel("router-square").expect("a built-in panel");
        let Some(HeadKind::Router(router)) = files.own().map(|own| &own.machine.head) else {
            unreachable!("a router's panel")
        };
        let cut = files.material.router.clone().expect("for a router");
        assert!((pass_step(&cut, 4.2) - 1.4).abs() < 1e-12, "three passes");
        let mut tool = router.tool.clone();
        assert!((cut_force(&cut, &tool, 1.4) - 4.2).abs() < 1e-9);
        tool.flutes = 3;
        assert!((cut_force(&cut, &tool, 1.4) - 5.6).abs() < 1e-9);
        // Three times the force over a strength of 5.
        tool.flutes = 2;
        let needs = HoldNeeds::of_tabs(&cut, &tool, 4.2);
        assert!((needs.section_in_all() - 2.52).abs() < 1e-9, "{needs:?}");
    }
}
