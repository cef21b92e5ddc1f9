//! A size that was found.

use super::asked::Range;
use super::round::roundest;
use crate::geom::micron;
use crate::panel::{Layout, OutlineShape, Panel, SideRule, Sides, Size, Surround};

/// How a size closes the opening, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Closes {
    /// With a surround of one width all round.
    Exact,
    /// With a surround of one width left and right and another at bottom and top.
    BySurround,
    /// Not at all: something is left over, or lacking.
    Misses,
}

impl Closes {
    /// Word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Exact => "exact",
            Self::BySurround => "by-surround",
            Self::Misses => "misses",
        }
    }
}

/// What gives where one pitch sets width and height: with a surround of the width `surround`, this pitch
/// closes one way, and so much is left for the surround on each side the other way. mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gives {
    /// The surround there.
    pub surround: f64,
    /// The pitch that closes.
    pub pitch: f64,
    /// What is left on each side the other way; negative where it lacks.
    pub left: f64,
}

/// A size for the panel. Lengths are mm, pairs are across and up.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundSize {
    /// Spacings across.
    pub columns: u32,
    /// Spacings up.
    pub rows: u32,
    /// The layout with its pitch, pitches or angle.
    pub layout: Layout,
    /// Width of the surround left and right, and at bottom and top; 0 for none.
    pub surround: [f64; 2],
    /// How it closes.
    pub closes: Closes,
    /// Size of the trimmed ground, as the lattice module comes to it.
    pub ground: [f64; 2],
    /// What the ground leaves for the surround on each side, left and right, bottom and top.
    pub left: [f64; 2],
    /// How much narrower and lower the whole panel is than asked for; negative where it is larger.
    pub off: [f64; 2],
    /// Where the widths of the surround differ: how far the ground has to run on past its sides, left and
    /// right, bottom and top, for the narrower width all round to close as well. `None` where a side along
    /// the inner edge would have to: its joints would show as open notches.
    pub past: Option<[f64; 2]>,
    /// Where one pitch sets both: what gives if the width is closed, and if the height is.
    pub gives: Option<[Gives; 2]>,
}

impl FoundSize {
    /// The greater of what the panel is off across and up.
    #[must_use]
    pub fn miss(&self) -> f64 {
        self.off[0].abs().max(self.off[1].abs())
    }

    /// The width of the surround all round, once the ground runs on by [`FoundSize::past`].
    #[must_use]
    pub fn width(&self) -> f64 {
        self.surround[0].min(self.surround[1])
    }

    /// The panel with this size, its surround of one width all round.
    #[must_use]
    pub fn applied(&self, panel: &Panel) -> Panel {
        let mut panel = sized(panel, self.layout.clone(), self.columns, self.rows);
        if self.width() > 0.0 {
            let depth = panel.ground.depth;
            let surround = panel.surround.take();
            let surround = surround.unwrap_or_else(|| Surround::mitred(self.width(), depth));
            panel.surround = Some(Surround {
                width: self.width(),
                ..surround
            });
        }
        if let (Some(past), OutlineShape::Rectangle { sides, .. }) =
            (self.past, &mut panel.outline.shape)
        {
            for (axis, by) in past.into_iter().enumerate().filter(|(_, by)| *by > 0.0) {
                for side in facing(sides, axis) {
                    *side = further(*side, by);
                }
            }
        }
        panel
    }
}

/// Left and right, or bottom and top.
fn facing(sides: &mut Sides, axis: usize) -> [&mut SideRule; 2] {
    if axis == 0 {
        [&mut sides.left, &mut sides.right]
    } else {
        [&mut sides.bottom, &mut sides.top]
    }
}

/// A side's rule, its side `by` mm further out; one along the inner edge stays.
fn further(rule: SideRule, by: f64) -> SideRule {
    match rule {
        SideRule::Centres => SideRule::Clear(by),
        SideRule::Clear(d) => SideRule::Clear(micron(d + by)),
        SideRule::InnerEdge => rule,
    }
}

/// How far the ground runs on past its sides; see [`FoundSize::past`].
pub(super) fn past(panel: &Panel, left: [f64; 2], width: f64, tolerance: f64) -> Option<[f64; 2]> {
    let by = left.map(|l| {
        let over = (l - width).max(0.0);
        // What the tolerance lets pass needs no other outline.
        if 2.0 * over <= tolerance {
            0.0
        } else {
            roundest(Range::about(over, 0.25 * tolerance), over)
        }
    });
    let OutlineShape::Rectangle { sides, .. } = &panel.outline.shape else {
        return None;
    };
    let mut sides = *sides;
    let moves = |axis: usize, sides: &mut Sides| {
        facing(sides, axis)
            .iter()
            .all(|s| **s != SideRule::InnerEdge)
    };
    let sound = (0..2).all(|axis| by[axis] == 0.0 || moves(axis, &mut sides));
    sound.then_some(by)
}

/// A panel with another size.
pub(super) fn sized(panel: &Panel, layout: Layout, columns: u32, rows: u32) -> Panel {
    let mut panel = panel.clone();
    panel.ground.layout = layout;
    if let OutlineShape::Rectangle { size, .. } = &mut panel.outline.shape {
        *size = Size::Spacings { columns, rows };
    }
    panel
}

/// A layout with other pitches; with another angle, for a diamond.
pub(super) fn pitched(layout: &Layout, to: [f64; 2], angle: Option<f64>) -> Layout {
    let mut layout = layout.clone();
    match &mut layout {
        Layout::Square {
            pitch_across,
            pitch_up,
        } => [*pitch_across, *pitch_up] = to,
        Layout::Diamond {
            pitch, angle_deg, ..
        } => {
            *pitch = to[0];
            *angle_deg = angle.unwrap_or(*angle_deg);
        }
        Layout::ThreeWay { pitch, .. }
        | Layout::OpenThreeWay { pitch, .. }
        | Layout::EightPoint { pitch } => *pitch = to[0],
        Layout::Free(_) => {}
    }
    layout
}
