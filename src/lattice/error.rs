//! What can be wrong with a lattice, and at which key of the panel file.

use std::fmt;

/// A lattice that cannot be built as asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum LatticeError {
    /// More joints than the limit.
    TooManyJoints {
        /// How many the panel would have, about.
        joints: f64,
        /// The limit in force.
        limit: u64,
    },
    /// A side through the joint centres runs along a bar.
    SideAlongLine {
        /// Name of the side.
        side: String,
        /// Name of the family.
        family: String,
    },
    /// A side would rip a bar lengthwise.
    SideRipsBar {
        /// Name of the side.
        side: String,
        /// Name of the family.
        family: String,
        /// Half the bar's face, mm: the least clear distance.
        half_face: f64,
    },
    /// A polygon of fewer than three sides.
    FewSides {
        /// How many.
        sides: usize,
    },
    /// A side without length.
    ZeroSide {
        /// Name of the side.
        side: String,
    },
    /// A corner that turns right, or not at all.
    NotConvex {
        /// Name of the side that starts at the corner.
        side: String,
        /// By how much it turns left, degrees.
        turn: f64,
    },
    /// The corners run clockwise.
    WrongWay,
    /// The sides go round more than once.
    Winds,
    /// The other sides leave nothing of one.
    SideLost {
        /// Name of the side.
        side: String,
    },
    /// More families than there are letters: two would call their members alike.
    ManyFamilies {
        /// How many.
        families: usize,
    },
    /// Bars of two families in one direction lie in each other.
    FamiliesMeet {
        /// Name of the first.
        family: String,
        /// Name of the second.
        other: String,
        /// From centre line to centre line, mm.
        apart: f64,
    },
    /// Families that cross at too small an angle.
    Shallow {
        /// Name of the first.
        family: String,
        /// Name of the second.
        other: String,
        /// The angle at which they cross, degrees.
        angle: f64,
        /// The least that is allowed, degrees.
        least: f64,
    },
    /// The sides leave no area.
    NoArea {
        /// Width that is left, mm.
        width: f64,
        /// Height that is left, mm.
        height: f64,
    },
    /// No line of any family, or of one of them, passes through the outline.
    NoMembers {
        /// Name of a family without members.
        family: String,
    },
    /// The overhang does not reach past the skew end and the trim kerf.
    ShortOverhang {
        /// The overhang, mm.
        overhang: f64,
        /// The least that does, mm.
        least: f64,
        /// Name of the family.
        family: String,
    },
    /// Bars of one family lie in each other.
    BarsMeet {
        /// Name of the family.
        family: String,
        /// Key of the panel file that says how far apart its bars lie.
        key: String,
        /// From centre line to centre line, mm.
        apart: f64,
        /// Width of the bars, mm.
        face: f64,
    },
    /// A notch is as wide as the distance to the next.
    NotchesMeet {
        /// Member at which it happens.
        member: String,
        /// Key of the panel file that says how far apart its notches lie.
        key: String,
        /// Wood between the two notches, mm (negative: overlap).
        web: f64,
        /// Length of a notch along the bar, mm.
        run: f64,
    },
    /// A face and a clearance that leave no notch.
    NoNotch {
        /// Name of the family that the notch is for.
        family: String,
        /// Face + clearance, mm.
        width: f64,
    },
    /// A drawn face too far from the stock's measured thickness.
    FaceOff {
        /// Name of the family.
        family: String,
        /// Drawn face, mm.
        drawn: f64,
        /// Measured least and greatest, mm.
        measured: [f64; 2],
        /// How far off it may be, mm.
        limit: f64,
        /// Sticks have measured so, for edge-up cutting; else flat stock.
        sticks: bool,
    },
}

impl LatticeError {
    /// Key of the panel file that the error is about.
    #[must_use]
    pub fn key(&self) -> String {
        match self {
            Self::TooManyJoints { .. } => "ground".into(),
            Self::SideAlongLine { side, .. } | Self::SideRipsBar { side, .. } => side_key(side),
            Self::NoArea { .. } | Self::NoMembers { .. } => "outline".into(),
            Self::FewSides { .. } | Self::WrongWay | Self::Winds => "outline.side".into(),
            Self::ZeroSide { side } | Self::NotConvex { side, .. } | Self::SideLost { side } => {
                side_key(side)
            }
            Self::ManyFamilies { .. } | Self::FamiliesMeet { .. } | Self::Shallow { .. } => {
                "ground.family".into()
            }
            Self::ShortOverhang { .. } => "outline.overhang".into(),
            Self::BarsMeet { key, .. } | Self::NotchesMeet { key, .. } => key.clone(),
            Self::NoNotch { .. } => "cut.clearance".into(),
            Self::FaceOff { .. } => "ground.face".into(),
        }
    }

    /// What would be right.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::TooManyJoints { .. } => {
                "check columns, rows and pitch for a nought too many; if it is meant, raise \
                 joint_limit at the top of the panel file"
                    .into()
            }
            Self::SideAlongLine { side, .. } => format!(
                "use \"inner-edge\", or {{ clear = d }} with d short of the next bar, for {side}"
            ),
            Self::SideRipsBar { half_face, .. } => {
                format!("clear by at least half the face, {half_face:.3} mm")
            }
            Self::FewSides { .. } => "at least three sides".into(),
            Self::ZeroSide { .. } => "leave the corner out, or move it".into(),
            Self::NotConvex { .. } => {
                "corners that turn left throughout: a convex outline, counter-clockwise".into()
            }
            Self::Winds => "list the corners in the order of a walk once round the outline".into(),
            Self::WrongWay => "list the corners the other way round, counter-clockwise".into(),
            Self::SideLost { .. } => "leave this side out, or move it inwards".into(),
            Self::ManyFamilies { .. } => {
                "at most 26 families: bars in one direction can be one family with its bars listed"
                    .into()
            }
            Self::FamiliesMeet { .. } => {
                "one family with its bars listed, or bars further apart".into()
            }
            Self::Shallow { least, .. } => {
                format!("one direction for both, or directions at least {least} degrees apart")
            }
            Self::NoArea { .. } => {
                "a larger outline: more columns or rows, or a larger pitch".into()
            }
            Self::NoMembers { .. } => "a larger outline, or bars that pass through it".into(),
            Self::ShortOverhang { least, .. } => {
                format!("at least {:.1}", (least * 10.0).ceil() / 10.0)
            }
            Self::BarsMeet { face, .. } => {
                format!("bars further apart: well above their width, {face:.3} mm")
            }
            Self::NotchesMeet { run, .. } => {
                format!(
                    "joints further apart along the bar: a pitch well above the length of a notch, \
                     {run:.3} mm"
                )
            }
            Self::NoNotch { .. } => "a clearance that leaves a notch".into(),
            Self::FaceOff {
                measured,
                sticks: true,
                ..
            } => format!(
                "draw the face as the sticks have measured ({:.3} to {:.3}), or add a [[milled]] table to \
                 the material file for sticks of this face",
                measured[0], measured[1]
            ),
            Self::FaceOff { measured, .. } => format!(
                "draw the face as the stock has measured ({:.3} to {:.3}), or set scale_model = true \
                 to take the stock's",
                measured[0], measured[1]
            ),
        }
    }
}

/// A side in a sentence.
fn named(side: &str) -> String {
    if side.starts_with("side ") {
        format!("{side} of the outline")
    } else {
        format!("the {side} side")
    }
}

/// Where a side's rule stands: `outline.left`, or `outline.side[0]` for `side 1`.
fn side_key(side: &str) -> String {
    let number = side
        .strip_prefix("side ")
        .and_then(|n| n.parse::<usize>().ok());
    match number {
        Some(n) => format!("outline.side[{}]", n.saturating_sub(1)),
        None => format!("outline.{side}"),
    }
}

impl fmt::Display for LatticeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooManyJoints { joints, limit } => {
                write!(
                    f,
                    "this panel would have about {joints:.0} joints; the limit is {limit}"
                )
            }
            Self::SideAlongLine { side, family } => {
                write!(
                    f,
                    "{} runs along the centre line of a bar ({family})",
                    named(side)
                )
            }
            Self::SideRipsBar { side, family, .. } => {
                write!(
                    f,
                    "{} would rip a bar of the {family} family lengthwise",
                    named(side)
                )
            }
            Self::NoArea { width, height } => {
                write!(f, "the outline is empty: {width:.3} by {height:.3} mm")
            }
            Self::FewSides { sides } => write!(f, "an outline of {sides} sides"),
            Self::ZeroSide { side } => write!(f, "{side} of the outline has no length"),
            Self::NotConvex { side, turn } => write!(
                f,
                "the outline is not convex: it turns left by {turn:.3} degrees where {side} starts"
            ),
            Self::WrongWay => write!(f, "the corners of the outline run clockwise"),
            Self::Winds => write!(f, "sides of the outline cross each other"),
            Self::SideLost { side } => {
                write!(f, "the other sides of the outline leave nothing of {side}")
            }
            Self::ManyFamilies { families } => write!(
                f,
                "{families} families of bars: each needs a letter of its own for the names of its bars"
            ),
            Self::FamiliesMeet {
                family,
                other,
                apart,
            } => write!(
                f,
                "bars of the families {family} and {other} run side by side, {apart:.3} mm apart: they \
                 would lie in each other"
            ),
            Self::Shallow {
                family,
                other,
                angle,
                ..
            } => write!(
                f,
                "bars of the families {family} and {other} cross at {angle:.3} degrees"
            ),
            Self::NoMembers { family } => {
                write!(f, "the outline misses every line of the {family} family")
            }
            Self::ShortOverhang {
                overhang,
                least,
                family,
            } => write!(
                f,
                "an overhang of {overhang:.3} mm does not reach past the trim of a {family} bar, which \
                 takes {least:.3}"
            ),
            Self::BarsMeet {
                family,
                apart,
                face,
                ..
            } => write!(
                f,
                "{family} bars {face:.3} mm wide lie {apart:.3} mm apart: they would lie in each other"
            ),
            Self::NotchesMeet { member, web, .. } => write!(
                f,
                "notches of neighbouring joints meet at member {member}: {web:.3} mm of wood between them"
            ),
            Self::NoNotch { family, width } => {
                write!(
                    f,
                    "face and clearance leave a notch {width:.3} mm wide for the {family} bars"
                )
            }
            Self::FaceOff {
                family,
                drawn,
                measured,
                limit,
                sticks,
            } => write!(
                f,
                "the {family} bars are drawn {drawn:.3} mm wide, {} measured {:.3} to {:.3}: more than \
                 {limit} off",
                if *sticks {
                    "the sticks have"
                } else {
                    "the stock has"
                },
                measured[0],
                measured[1]
            ),
        }
    }
}

impl std::error::Error for LatticeError {}
