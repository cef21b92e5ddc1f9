//! Why there is no size for an opening, and what would be right.

use std::fmt;

use crate::lattice::LatticeError;

/// Why no size can be found. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub enum SizeError {
    /// A free layout has no steps to count.
    Free,
    /// The panel lists the sides of its outline.
    Polygon,
    /// The layout has no angle that could vary.
    NoAngle(&'static str),
    /// A surround that leaves nothing of the panel.
    SurroundTooWide {
        /// Its least width.
        surround: f64,
        /// Width and height of the panel.
        outer: [f64; 2],
    },
    /// Not even one cell goes in.
    TooSmall {
        /// Across (0) or up (1).
        axis: usize,
        /// The size of the panel there.
        outer: f64,
        /// What one spacing needs at the least pitch and surround.
        least: f64,
    },
    /// A range so wide that too many sizes would have to be tried.
    TooMany {
        /// How many.
        sizes: f64,
        /// How many are tried at the most.
        limit: f64,
    },
    /// No count of columns and rows makes a sound ground.
    Nothing,
    /// The ground is wrong in itself.
    Lattice(Vec<LatticeError>),
}

impl fmt::Display for SizeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Free => write!(
                f,
                "a free layout says where its bars lie, so there is no pitch to fit: take a named layout, \
                 or set ground.width and ground.height yourself"
            ),
            Self::Polygon => write!(
                f,
                "this panel lists the sides of its outline; only a rectangle (left, right, bottom, top) \
                 can be fitted to an opening"
            ),
            Self::NoAngle(layout) => write!(
                f,
                "--angle is for the diamond layout: the angles of {layout} are set"
            ),
            Self::SurroundTooWide { surround, outer } => write!(
                f,
                "a surround {surround} wide on both sides leaves nothing of a panel of {} x {} mm: it must \
                 be narrower than {}",
                outer[0],
                outer[1],
                0.5 * outer[0].min(outer[1])
            ),
            Self::TooSmall { axis, outer, least } => {
                let (what, spacing) = if *axis == 0 {
                    ("wide", "column")
                } else {
                    ("high", "row")
                };
                write!(
                    f,
                    "a panel {outer:.2} mm {what} is smaller than one cell: one {spacing} at the least \
                     pitch and surround asked for needs {least:.2} mm; ask for a smaller pitch or a \
                     narrower surround"
                )
            }
            Self::TooMany { sizes, limit } => write!(
                f,
                "{sizes:.0} counts of columns and rows would have to be tried, and {limit:.0} are the most: \
                 narrow the range of pitches"
            ),
            Self::Nothing => write!(
                f,
                "no size makes a sound ground: the bars lie too close at every pitch of the range, or a \
                 side of the outline would run along a bar; ask for a greater pitch"
            ),
            Self::Lattice(faults) => {
                for (i, fault) in faults.iter().enumerate() {
                    let line = if i > 0 { "\n" } else { "" };
                    write!(f, "{line}{}: {fault}; {}", fault.key(), fault.hint())?;
                }
                Ok(())
            }
        }
    }
}

impl std::error::Error for SizeError {}
