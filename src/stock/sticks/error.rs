//! Why no sticks can be planned.

use std::fmt;

use crate::geom::micron;

/// What a stick is too long for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitOf {
    /// The limit in the panel file.
    Panel,
    /// The longest strip.
    Stock,
    /// The machine's travel, or its bed.
    Travel,
}

/// Why no sticks can be planned. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub enum SticksError {
    /// A member needs a longer stick than there may be.
    TooLong {
        /// Id of the member.
        member: String,
        /// How many joints it has.
        joints: usize,
        /// What it needs, lead and tail included.
        length: f64,
        /// The longest stick.
        longest: f64,
        /// How many joints would fit on it, lead and tail taken off.
        longest_joints: usize,
        /// What sets the limit.
        of: LimitOf,
        /// What the machine must reach beside the stick.
        beside: f64,
    },
    /// The wood before the first or past the last joint ends in the notch.
    ShortEnd {
        /// Id of a member that it is too short for.
        member: String,
        /// Name of its family.
        family: String,
        /// The key that says how long it is.
        key: String,
        /// Whether it is the lead; else the tail.
        lead: bool,
        /// How long it is.
        length: f64,
        /// How far the notch reaches from its joint.
        reach: f64,
    },
    /// A member has no notch at all.
    NoJoint {
        /// Its id.
        member: String,
    },
}

impl SticksError {
    /// The key of the panel file that is at fault.
    #[must_use]
    pub fn key(&self) -> String {
        match self {
            Self::TooLong { of, .. } => match of {
                LimitOf::Panel => "sticks.limit",
                LimitOf::Stock => "stock",
                LimitOf::Travel => "machine",
            }
            .into(),
            Self::ShortEnd { key, .. } => key.clone(),
            Self::NoJoint { .. } => "outline".into(),
        }
    }

    /// What would be right.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::TooLong {
                length, of, beside, ..
            } => {
                let (more, least) = match of {
                    LimitOf::Panel => ("a greater limit", *length),
                    LimitOf::Stock => ("longer strips", *length),
                    LimitOf::Travel => (
                        "a machine with more travel, or a longer bed",
                        length + beside,
                    ),
                };
                format!(
                    "{more} ({} mm at least), less lead and tail, or a smaller panel",
                    up(least)
                )
            }
            Self::ShortEnd { key, reach, .. } => {
                let key = key.rsplit('.').next().unwrap_or(key);
                format!("write {key} = {} or more", up(*reach))
            }
            Self::NoJoint { .. } => "an outline in which every bar crosses another".into(),
        }
    }
}

impl SticksError {
    /// Whether one mending would do for both.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        std::mem::discriminant(self) == std::mem::discriminant(other) && self.key() == other.key()
    }

    /// What the mending depends on, mm.
    pub(super) fn how_far(&self) -> f64 {
        match self {
            Self::TooLong { length, .. } => *length,
            Self::ShortEnd { reach, .. } => *reach,
            Self::NoJoint { .. } => 0.0,
        }
    }
}

/// Rounded up to 0.01 mm, so that what is told will do.
fn up(mm: f64) -> f64 {
    (mm * 100.0 - 1e-6).ceil() / 100.0
}

/// Rounded down to 0.01 mm.
fn down(mm: f64) -> f64 {
    (mm * 100.0 + 1e-6).floor() / 100.0
}

impl fmt::Display for SticksError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong {
                member,
                joints,
                length,
                longest,
                longest_joints,
                of,
                ..
            } => {
                let of = match of {
                    LimitOf::Panel => "the limit allows",
                    LimitOf::Stock => "the trimmed stock allows",
                    LimitOf::Travel => {
                        "the machine's travel and bed allow beside fence and stagger"
                    }
                };
                let room = match longest_joints {
                    1 => "1 joint".to_owned(),
                    n => format!("{n} joints"),
                };
                write!(
                    f,
                    "member {member} with {joints} joints needs a stick of {} mm, lead and tail included; \
                     the longest that {of} is {} mm, which has room for {room}",
                    up(*length),
                    down(*longest)
                )
            }
            Self::ShortEnd {
                member,
                family,
                lead,
                length,
                reach,
                ..
            } => {
                let (end, which, side) = if *lead {
                    ("lead", "first", "before")
                } else {
                    ("tail", "last", "past")
                };
                write!(
                    f,
                    "the {end} of the {family} bars leaves {} mm of wood {side} the {which} joint of member \
                     {member}, whose notch reaches {} mm from it",
                    micron(*length),
                    up(*reach)
                )
            }
            Self::NoJoint { member } => {
                write!(
                    f,
                    "member {member} crosses no other bar, so no stick is notched for it"
                )
            }
        }
    }
}

impl std::error::Error for SticksError {}
