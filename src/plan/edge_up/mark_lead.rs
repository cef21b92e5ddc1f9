//! The least lead with which the orientation mark finds room, for sticks that have none.

use super::gang_stick::{Notched, gang_stick};
use crate::geom::micron;
use crate::lattice::Lattice;
use crate::panel::{JobFiles, Panel};
use crate::plan::stick_stock::stick_limit;
use crate::safety::{Check, CheckId, Status};
use crate::setup::{BenchSize, GangRules, gangs, mark_room};
use crate::stock::{StickClass, plan_sticks};

/// A lead is told in so many steps a mm.
const STEPS: f64 = 100.0;
/// Most leads that are tried, each longer by what the one before lacked: another lead may put other pieces first.
const TRIES: usize = 12;
/// Leads that differ by less than this part of a step are one.
const SAME_STEP: f64 = 1e-6;
/// Room that lacks no more than round-off, mm.
const ROUND_OFF: f64 = 1e-9;

/// Tells a failed `mark-room` among the checks of a class of sticks the least lead that helps.
pub(super) fn tell(
    files: &JobFiles,
    lattice: &Lattice,
    class: &StickClass,
    rules: &GangRules,
    checks: &mut [Check],
) {
    let told = checks.iter_mut().filter(|c| c.id == CheckId::MarkRoom);
    for check in told {
        if check.status == Status::Fail {
            check.helps = Task::of(files, lattice, rules, class).advice();
        }
    }
}

/// A class of sticks whose mark finds no room.
struct Task<'a> {
    files: &'a JobFiles,
    lattice: &'a Lattice,
    rules: &'a GangRules,
    bench: BenchSize,
    class: &'a StickClass,
    /// The family whose own ends set the lead, where it is not the common one.
    own_ends: Option<&'a str>,
}

impl<'a> Task<'a> {
    fn of(
        files: &'a JobFiles,
        lattice: &'a Lattice,
        rules: &'a GangRules,
        class: &'a StickClass,
    ) -> Self {
        let families = class.families.iter().map(|&f| &lattice.families[f]);
        let own = families.map(|family| {
            let ends = &files.panel.sticks.ends;
            ends.iter().find(|(name, _)| *name == family.name)
        });
        // One family that follows the common lead is enough for all.
        let own: Option<Vec<_>> = own.collect();
        Self {
            files,
            lattice,
            rules,
            bench: BenchSize {
                rail: rules.rail,
                hold: rules.hold,
                radius: rules.radius,
            },
            class,
            own_ends: own.and_then(|own| own.first().map(|(name, _)| name.as_str())),
        }
    }

    fn advice(&self) -> Option<String> {
        let lead = micron(self.least()?);
        let what = match self.own_ends {
            None => format!("a longer lead in [sticks], lead = {lead} or more"),
            Some(name) => {
                format!("longer ends of {name} in [sticks], ends.{name} = {lead} or more")
            }
        };
        Some(format!(
            "{what}; or an overhang: the orientation mark finds no place beside hold and notches where it would \
             not show"
        ))
    }

    /// The least lead in whole steps, mm; `None` where none helps within the sticks' limit. A longer lead than is
    /// asked for may do with other pieces first before it is felt, so that what lacks is no measure by itself: all
    /// between a lead that does not help and one that does is halved.
    fn least(&self) -> Option<f64> {
        let mut fails = (self.asked() * STEPS).floor() as i64;
        let mut passes = self.longer()?;
        while passes - fails > 1 {
            let middle = fails + (passes - fails) / 2;
            if self.fits(middle) {
                passes = middle;
            } else {
                fails = middle;
            }
        }
        Some(passes as f64 / STEPS)
    }

    /// A lead that helps, in steps.
    fn longer(&self) -> Option<i64> {
        let mut lead = self.class.lead;
        let mut room = self.room(lead)?;
        for _ in 0..TRIES {
            let steps = ((lead - room) * STEPS - SAME_STEP).ceil() as i64;
            lead = steps as f64 / STEPS;
            room = self.room(lead)?;
            if room >= -ROUND_OFF {
                return Some(steps);
            }
        }
        None
    }

    /// The lead that the panel asks for, mm.
    fn asked(&self) -> f64 {
        let sticks = &self.files.panel.sticks;
        let own = sticks
            .ends
            .iter()
            .find(|(name, _)| Some(name.as_str()) == self.own_ends);
        own.map_or(sticks.lead, |(_, ends)| *ends)
    }

    fn fits(&self, steps: i64) -> bool {
        let room = self.room(steps as f64 / STEPS);
        room.is_some_and(|room| room >= -ROUND_OFF)
    }

    /// The room for the mark with this lead, mm; below 0 where it does not suffice. Of sticks of the same
    /// families, the least.
    fn room(&self, lead: f64) -> Option<f64> {
        let panel = self.panel(lead);
        let limit = stick_limit(self.files, self.lattice, self.rules.travel[0], self.bench);
        let sticks = plan_sticks(self.lattice, &panel, limit).ok()?;
        let alike = |class: &StickClass| {
            class
                .families
                .iter()
                .any(|f| self.class.families.contains(f))
        };
        let classes = sticks.classes.entries().filter(|(_, class)| alike(class));
        let mut room = f64::INFINITY;
        for (id, _) in classes {
            let stick = gang_stick(Notched::Members(self.lattice), &sticks, id).ok()?;
            let gangs = gangs(&stick, self.rules);
            room = room.min(mark_room(&stick, &gangs.map(|g| g), self.rules.radius).room());
        }
        Some(room)
    }

    /// The panel with another lead.
    fn panel(&self, lead: f64) -> Panel {
        let mut panel = self.files.panel.clone();
        match self.own_ends {
            None => panel.sticks.lead = lead,
            Some(name) => {
                let own = panel.sticks.ends.iter_mut().filter(|(n, _)| n == name);
                own.for_each(|(_, ends)| *ends = lead);
            }
        }
        panel
    }
}
