//! The words of one block, sorted: which codes, which values, and whether they may stand together.

use super::words::Word;
use super::{CoolantSwitch, ReplayFault, fault};
use crate::panel::{Park, PathMode};

/// Motion codes (table 4, group 1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Motion {
    Rapid,
    Straight,
    Arc {
        ccw: bool,
    },
    /// G80: no motion.
    None,
}

/// Spindle or beam codes (table 4, group 7 of the M codes).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum HeadSwitch {
    /// M3.
    On,
    /// M4: a laser's power then follows its speed.
    Follows,
    /// M5.
    Off,
}

/// A block, its words known and allowed together.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Block {
    pub motion: Option<Motion>,
    pub dwell: bool,
    /// Millimetres in the unit that the block chooses.
    pub unit: Option<f64>,
    pub plane_xy: bool,
    pub absolute: bool,
    pub per_minute: bool,
    pub no_cutter_offset: bool,
    pub no_length_offset: bool,
    /// G43: the tool's length is taken into account.
    pub length_offset: bool,
    /// 54 to 59 for G54 to G59.
    pub work_zero: Option<u32>,
    pub path_mode: Option<PathMode>,
    /// G91.1.
    pub relative_centres: bool,
    /// G53 or G28.
    pub park: Option<Park>,
    pub head: Option<HeadSwitch>,
    pub coolant: Option<CoolantSwitch>,
    pub tool_change: bool,
    /// M0.
    pub pause: bool,
    pub end: bool,
    pub tool: Option<u32>,
    pub f: Option<f64>,
    pub s: Option<f64>,
    pub p: Option<f64>,
    pub h: Option<f64>,
    pub axes: [Option<f64>; 3],
    pub centre: [Option<f64>; 2],
}

impl Block {
    /// Whether any of X, Y, Z is there.
    pub(super) fn has_axes(&self) -> bool {
        self.axes.iter().any(Option::is_some)
    }

    /// Sorts the words of a block.
    pub(super) fn sort(words: &[Word], line: usize) -> Result<Self, ReplayFault> {
        let mut block = Self::default();
        // Bits of the modal groups seen, G and M apart (NISTIR 6556, table 4).
        let (mut g_groups, mut m_groups) = (0_u32, 0_u32);
        if words.iter().filter(|w| matches!(w, Word::M(_))).count() > 4 {
            return Err(fault(
                "m-words",
                line,
                "more than four M words in one block",
            ));
        }
        let claim = |seen: &mut u32, group: u32, letter: char, code: u32| {
            if *seen & (1 << group) != 0 {
                let code = name(letter, code);
                let what = format!("{code} comes second of its modal group in one block");
                return Err(fault("modal-group", line, what));
            }
            *seen |= 1 << group;
            Ok(())
        };
        for &word in words {
            match word {
                Word::G(code) => {
                    let group = block.take_g(code).ok_or_else(|| unknown('G', code, line))?;
                    claim(&mut g_groups, group, 'G', code)?;
                }
                Word::M(code) => {
                    let group = block.take_m(code).ok_or_else(|| unknown('M', code, line))?;
                    claim(&mut m_groups, group, 'M', code)?;
                }
                Word::T(number) => {
                    if block.tool.replace(number).is_some() {
                        return Err(repeated('T', line));
                    }
                }
                Word::Value(letter, v) => {
                    let Some(place) = block.place(letter) else {
                        let what = format!("{letter}{v} is not among the words that are allowed");
                        return Err(fault("word", line, what));
                    };
                    if place.replace(v).is_some() {
                        return Err(repeated(letter, line));
                    }
                }
            }
        }
        block.check_together(line)?;
        Ok(block)
    }

    /// Notes a G code, in tenths, and tells its modal group; `None` where it is not allowed.
    fn take_g(&mut self, code: u32) -> Option<u32> {
        let group = match code {
            0 => self.set_motion(Motion::Rapid),
            10 => self.set_motion(Motion::Straight),
            20 => self.set_motion(Motion::Arc { ccw: false }),
            30 => self.set_motion(Motion::Arc { ccw: true }),
            800 => self.set_motion(Motion::None),
            40 => set(&mut self.dwell, 0),
            170 => set(&mut self.plane_xy, 2),
            900 => set(&mut self.absolute, 3),
            940 => set(&mut self.per_minute, 5),
            200 => self.set_unit(25.4),
            210 => self.set_unit(1.0),
            400 => set(&mut self.no_cutter_offset, 7),
            490 => set(&mut self.no_length_offset, 8),
            430 => set(&mut self.length_offset, 8),
            530 => self.set_park(Park::MachineFrame),
            280 => self.set_park(Park::Home),
            540 | 550 | 560 | 570 | 580 | 590 => {
                self.work_zero.get_or_insert(code / 10);
                12
            }
            610 => self.set_path_mode(PathMode::Exact),
            640 => self.set_path_mode(PathMode::Continuous),
            // Not in NISTIR 6556: a group that its table 4 leaves free.
            911 => set(&mut self.relative_centres, 4),
            _ => return None,
        };
        Some(group)
    }

    /// Notes an M code, in tenths, and tells its modal group; `None` where it is not allowed.
    fn take_m(&mut self, code: u32) -> Option<u32> {
        let group = match code {
            0 => set(&mut self.pause, 4),
            20 | 300 => set(&mut self.end, 4),
            60 => set(&mut self.tool_change, 6),
            30 => self.set_head(HeadSwitch::On),
            40 => self.set_head(HeadSwitch::Follows),
            50 => self.set_head(HeadSwitch::Off),
            70 => self.set_coolant(CoolantSwitch::M7),
            80 => self.set_coolant(CoolantSwitch::M8),
            90 => self.set_coolant(CoolantSwitch::Off),
            _ => return None,
        };
        Some(group)
    }

    fn set_motion(&mut self, motion: Motion) -> u32 {
        self.motion.get_or_insert(motion);
        1
    }

    fn set_unit(&mut self, mm: f64) -> u32 {
        self.unit.get_or_insert(mm);
        6
    }

    fn set_head(&mut self, switch: HeadSwitch) -> u32 {
        self.head.get_or_insert(switch);
        7
    }

    fn set_coolant(&mut self, switch: CoolantSwitch) -> u32 {
        self.coolant.get_or_insert(switch);
        8
    }

    fn set_path_mode(&mut self, mode: PathMode) -> u32 {
        self.path_mode.get_or_insert(mode);
        13
    }

    fn set_park(&mut self, park: Park) -> u32 {
        self.park.get_or_insert(park);
        0
    }

    fn place(&mut self, letter: char) -> Option<&mut Option<f64>> {
        let [x, y, z] = &mut self.axes;
        let [i, j] = &mut self.centre;
        match letter {
            'X' => Some(x),
            'Y' => Some(y),
            'Z' => Some(z),
            'I' => Some(i),
            'J' => Some(j),
            'F' => Some(&mut self.f),
            'S' => Some(&mut self.s),
            'P' => Some(&mut self.p),
            'H' => Some(&mut self.h),
            _ => None,
        }
    }

    /// Rules on words that must, or must not, stand in one block.
    fn check_together(&self, line: usize) -> Result<(), ReplayFault> {
        let moves = self.has_axes() || self.centre.iter().any(Option::is_some);
        if self.dwell {
            if moves || self.motion.is_some() {
                return Err(fault("dwell", line, "G4 shares its block with a motion"));
            }
            match self.p {
                None => return Err(fault("dwell", line, "G4 without P, the time to wait")),
                Some(p) if p < 0.0 => return Err(fault("dwell", line, format!("P{p} is below 0"))),
                Some(_) => {}
            }
        } else if self.p.is_some() {
            return Err(fault("unused-word", line, "P without G4"));
        }
        if self.h.is_some() && !self.length_offset {
            return Err(fault("unused-word", line, "H without G43"));
        }
        if self.motion == Some(Motion::None) && moves {
            return Err(fault(
                "motion-mode",
                line,
                "axis words beside G80, which cancels motion",
            ));
        }
        if self.unit.is_some() && self.f.is_some() {
            return Err(fault("modes", line, "F in the block that changes its unit"));
        }
        if self.f.is_some_and(|f| f <= 0.0) {
            return Err(fault("feed", line, "a feed must be above 0"));
        }
        if self.s.is_some_and(|s| s < 0.0) {
            return Err(fault("spindle", line, "S is below 0"));
        }
        Ok(())
    }
}

fn set(flag: &mut bool, group: u32) -> u32 {
    *flag = true;
    group
}

fn name(letter: char, tenths: u32) -> String {
    let (major, minor) = (tenths / 10, tenths % 10);
    if minor == 0 {
        format!("{letter}{major}")
    } else {
        format!("{letter}{major}.{minor}")
    }
}

fn unknown(letter: char, tenths: u32, line: usize) -> ReplayFault {
    let what = format!(
        "{} is not among the words that are allowed",
        name(letter, tenths)
    );
    fault("word", line, what)
}

fn repeated(letter: char, line: usize) -> ReplayFault {
    fault(
        "repeated-word",
        line,
        format!("{letter} stands twice in one block"),
    )
}
