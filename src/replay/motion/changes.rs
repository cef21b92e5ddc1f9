//! What stands round the moves: tool and its length, a stop for the operator, air or coolant, and where the head is
//! parked.

use super::Check;
use crate::panel::{Coolant, Park};
use crate::path::Head;
use crate::replay::gcode_read::CoolantSwitch;

impl Check<'_> {
    pub(super) fn tool(&mut self, number: u32) {
        match self.program.head {
            Head::Cutter { tool_number, .. } if tool_number == number => {}
            Head::Cutter { tool_number, .. } => {
                self.say(
                    "tool",
                    format!("T{number}; the plan has tool {tool_number}"),
                );
            }
            Head::Beam { .. } => self.say("tool", format!("T{number} in a laser's program")),
        }
    }

    pub(super) fn change(&mut self, number: u32) {
        self.tool(number);
        if self.head_on || !self.off_stated {
            self.say("change-unsafe", "M6 before M5 has stopped the spindle");
        }
        // Where z is the nose's until G43 counts the tool's length, nothing may move before the change: it is made
        // where the operator has left the head.
        let stands = self.words.length_offset && !self.gone;
        if !stands && !self.height.is_some_and(|z| self.is_safe(z)) {
            self.say("change-unsafe", "M6 below the safe height");
        }
        if self.has_cut || !self.tool_due {
            self.say(
                "change-unsafe",
                "M6 again; the tool is changed once, before the first cut",
            );
        }
        self.tool_due = false;
        self.moved_by_others();
    }

    /// A change or a stop may have moved the head.
    fn moved_by_others(&mut self) {
        self.height = None;
    }

    /// The length that counts is that of the plan's tool.
    pub(super) fn length(&mut self, number: u32) {
        match self.program.head {
            Head::Cutter { tool_number, .. } if tool_number == number => {}
            Head::Cutter { tool_number, .. } => {
                let what = format!("H{number}; the plan has tool {tool_number}");
                self.say("tool", what);
            }
            Head::Beam { .. } => self.say("tool", format!("H{number} in a laser's program")),
        }
    }

    /// The operator acts on a machine whose head is off and clear of the work.
    pub(super) fn pause(&mut self) {
        if self.head_on || !self.off_stated {
            self.say(
                "pause-low",
                "M0 before M5 has made sure that the head is off",
            );
        }
        let stands = !self.gone || self.laser();
        if !stands && !self.height.is_some_and(|z| self.is_safe(z)) {
            self.say("pause-low", "M0 below the safe height");
        }
        // Where a dialect has no M6, the operator changes the tool here.
        self.tool_due = false;
        self.moved_by_others();
    }

    pub(super) fn switch_coolant(&mut self, switch: CoolantSwitch) {
        match switch {
            CoolantSwitch::M7 => self.cooled.m7 = true,
            CoolantSwitch::M8 => self.cooled.m8 = true,
            CoolantSwitch::Off => self.cooled = Coolant::default(),
        }
    }

    /// All that is announced is on in a cut.
    pub(super) fn cooled_in_cut(&mut self) {
        if self.coolant_due && self.cooled != self.words.coolant {
            self.say(
                "coolant-off-cut",
                "a cut before M7 or M8 has switched on what the dialect announces",
            );
            // Said once.
            self.coolant_due = false;
        }
    }

    pub(super) fn cooled_at_end(&mut self) {
        if self.cooled.any() {
            self.say(
                "coolant-on-end",
                "air or coolant is on at the end; switch it off by M9 before M2",
            );
        }
    }

    /// The head leaves the work from the safe height; where it then stands is the machine's own affair.
    pub(super) fn park(&mut self, by: Park, axes: [Option<f64>; 3]) {
        let code = by.code();
        if self.head_on || !self.off_stated {
            let what = format!("{code} before M5 has made sure that the head is off");
            self.say("park-low", what);
        }
        let leaves = !self.laser() && !self.parked;
        if leaves && !self.height.is_some_and(|z| self.is_safe(z)) {
            self.say("park-low", format!("{code} from below the safe height"));
        }
        let [x, y, z] = axes;
        match by {
            Park::MachineFrame => {
                for (axis, place) in [x, y].into_iter().enumerate() {
                    let travel = self.limits.travel[axis];
                    // Which way the machine counts from its own zero is not known.
                    if place.is_some_and(|v| v.abs() > travel + self.rounding) {
                        let name = ["x", "y"][axis];
                        let what = format!("G53 beyond the machine's {travel:.3} along {name}");
                        self.say("travel", what);
                    }
                }
            }
            Park::Home => {
                if let Some(z) = z {
                    if !self.is_safe(z) {
                        self.say("park-low", "G28 by way of a place below the safe height");
                    }
                    self.no_higher(z);
                    self.extent([0.0, 0.0, z]);
                }
            }
        }
        self.parked = true;
    }
}
