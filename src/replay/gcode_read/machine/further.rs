//! Words that only some dialects have: each is taken where the dialect announces it, and has its rule.

use super::super::block::{Block, HeadSwitch, Motion};
use super::super::{CoolantSwitch, EventKind, ReplayFault, fault};
use super::{FLOAT, Machine};
use crate::panel::Park;

/// Greatest number of a tool.
const TOOL_LIMIT: f64 = 99_999.0;

/// Whether the tool's length is taken into account.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Length {
    /// Nothing has been said of it.
    Unsaid,
    /// G49: it is not.
    Off,
    /// G43: it is.
    On,
    /// G49 after G43.
    Ended,
}

impl Machine<'_> {
    /// Nothing stands that the dialect does not announce.
    pub(super) fn announced(&self, block: &Block, line: usize) -> Result<(), ReplayFault> {
        let words = self.rules.words;
        let zero = block.work_zero.filter(|zero| *zero != words.work_zero);
        if let Some(zero) = zero {
            let what = format!(
                "G{zero}; this dialect's work zero is G{}, see `work_zero` in [words]",
                words.work_zero
            );
            return Err(fault("dialect", line, what));
        }
        let mode = block.path_mode.filter(|m| Some(*m) != words.path_mode);
        let park = block.park.filter(|p| Some(*p) != words.park);
        let coolant = match block.coolant {
            Some(CoolantSwitch::M7) if !words.coolant.m7 => Some("M7"),
            Some(CoolantSwitch::M8) if !words.coolant.m8 => Some("M8"),
            Some(CoolantSwitch::Off) if !words.coolant.any() => Some("M9"),
            _ => None,
        };
        let unsaid = [
            (mode.map(|m| m.code()), "path_mode"),
            (park.map(|p| p.code()), "park"),
            (coolant, "coolant"),
            (
                (block.length_offset && !words.length_offset).then_some("G43"),
                "length_offset",
            ),
            (
                (block.relative_centres && !words.relative_centres).then_some("G91.1"),
                "relative_centres",
            ),
            ((block.pause && !words.pause).then_some("M0"), "pause"),
        ];
        for (code, key) in unsaid {
            if let Some(code) = code {
                let what =
                    format!("{code}; this dialect does not announce it by `{key}` in [words]");
                return Err(fault("dialect", line, what));
            }
        }
        self.after_parking(block, line)
    }

    /// Once the head is parked nothing stands but what parks it further, switches off and ends.
    fn after_parking(&self, block: &Block, line: usize) -> Result<(), ReplayFault> {
        let allowed = Block {
            head: block.head.filter(|h| *h == HeadSwitch::Off),
            coolant: block.coolant.filter(|c| *c == CoolantSwitch::Off),
            end: block.end,
            ..Block::default()
        };
        if self.parked && block.park.is_none() && *block != allowed {
            let what = "a block after the head is parked that does more than switch off and end; where it then \
                        stands is not known";
            return Err(fault("park", line, what));
        }
        Ok(())
    }

    /// Air or coolant switched.
    pub(super) fn coolant(&mut self, block: &Block, line: usize) {
        if let Some(switch) = block.coolant {
            self.cooled = switch != CoolantSwitch::Off;
            self.push(line, EventKind::Coolant(switch));
        }
    }

    /// Nothing blows or runs where hands are at the cutter: before M6 or M0.
    pub(super) fn hands_off(&self, code: &str, line: usize) -> Result<(), ReplayFault> {
        if self.cooled {
            let what = format!("{code} while air or coolant is on");
            return Err(fault("pause", line, what));
        }
        Ok(())
    }

    /// G43 and G49 (NISTIR 6556, 3.5.11).
    pub(super) fn length(&mut self, block: &Block, line: usize) -> Result<(), ReplayFault> {
        let refuse = |what: &str| Err(fault("length-offset", line, what));
        if block.tool_change && self.length == Length::On {
            return refuse("M6 after G43, whose length would be that of another tool");
        }
        if block.no_length_offset {
            self.length = match self.length {
                Length::Unsaid | Length::Off => Length::Off,
                Length::On | Length::Ended => Length::Ended,
            };
        }
        if !block.length_offset {
            return Ok(());
        }
        if matches!(self.length, Length::On | Length::Ended) {
            return refuse("G43 again; the tool's length is taken into account once");
        }
        if self.rules.tool_change && !self.rules.air_run && !self.changed {
            return refuse("G43 before the tool is changed");
        }
        let alone = Block {
            length_offset: true,
            h: block.h,
            ..Block::default()
        };
        let whole = |h: f64| h.fract() == 0.0 && (0.0..=TOOL_LIMIT).contains(&h);
        match block.h {
            Some(h) if whole(h) && *block == alone => {
                self.length = Length::On;
                // Whole, and from 0 to TOOL_LIMIT.
                let number = h as u32;
                self.push(line, EventKind::LengthOffset { number });
                Ok(())
            }
            Some(h) if whole(h) => refuse("G43 shares its block with more than its H"),
            Some(h) => refuse(&format!("H{h} is no tool's number")),
            None => refuse("G43 without H, the tool whose length counts"),
        }
    }

    /// A move may be made only while the tool's length counts, where the dialect says that it does: else z would be
    /// that of the spindle's nose.
    pub(super) fn length_counts(&self, line: usize) -> Result<(), ReplayFault> {
        if self.rules.words.length_offset && self.length != Length::On {
            let what = "a move while G43 does not take the tool's length into account";
            return Err(fault("length-offset", line, what));
        }
        Ok(())
    }

    /// M0 (3.6.1): the operator may change the tool, and move the head.
    pub(super) fn pause(&mut self, block: &Block, line: usize) -> Result<(), ReplayFault> {
        if !block.pause {
            return Ok(());
        }
        let alone = Block {
            pause: true,
            ..Block::default()
        };
        if *block != alone {
            return Err(fault("pause", line, "M0 shares its block with other words"));
        }
        if self.head_on {
            return Err(fault("pause", line, "M0 while spindle or beam is on"));
        }
        self.hands_off("M0", line)?;
        self.push(line, EventKind::Pause);
        self.moved_by_others();
        Ok(())
    }

    /// A change or a stop may have moved all axes (3.6.3); a laser's z is no axis of its program.
    pub(super) fn moved_by_others(&mut self) {
        self.known = [false, false, self.rules.laser];
        self.changed = true;
    }

    /// G53 (3.5.12) and G28 (3.5.8).
    pub(super) fn park(&mut self, by: Park, block: &Block, line: usize) -> Result<(), ReplayFault> {
        let refuse = |what: String| Err(fault("park", line, what));
        let code = by.code();
        let alone = Block {
            park: Some(by),
            motion: block.motion,
            axes: block.axes,
            ..Block::default()
        };
        let unit = self.modes(line)?;
        if *block != alone {
            return refuse(format!("{code} shares its block with other words"));
        }
        if self.head_on {
            return refuse(format!("{code} while spindle or beam is on"));
        }
        match by {
            Park::MachineFrame if self.motion != Motion::Rapid => {
                return refuse("G53 without G0".into());
            }
            Park::Home if block.motion.is_some() => {
                return refuse("G28 shares its block with a motion code".into());
            }
            _ => {}
        }
        // Home is reached by way of a place of the program, whose z hangs on the tool's length.
        if by == Park::Home && self.rules.words.length_offset && self.length != Length::On {
            return refuse("G28 while G43 does not take the tool's length into account".into());
        }
        let axes = block.axes.map(|v| v.map(|v| v * unit));
        let [x, y, z] = axes;
        let first = !self.rules.laser && !self.parked;
        let right = match (first, by) {
            (true, Park::MachineFrame) => {
                x.is_none() && y.is_none() && z.is_some_and(|z| z.abs() <= FLOAT)
            }
            (true, Park::Home) => x.is_none() && y.is_none() && z.is_some(),
            (false, Park::MachineFrame) => z.is_none() && (x.is_some() || y.is_some()),
            (false, Park::Home) => {
                z.is_none() && [x, y].iter().all(|v| v.is_some_and(|v| v.abs() <= FLOAT))
            }
        };
        if !right {
            let wanted = match (first, by) {
                (true, Park::MachineFrame) => {
                    "a cutter goes up first: Z0 alone, the top of its travel"
                }
                (true, Park::Home) => "a cutter goes up first: Z alone",
                (false, Park::MachineFrame) => "X and Y alone are moved",
                (false, Park::Home) => "by way of the zero: X0 Y0, and no Z",
            };
            return refuse(format!("{code}: {wanted}"));
        }
        self.push(line, EventKind::Park { by, axes });
        self.parked = true;
        self.known = [false; 3];
        Ok(())
    }
}
