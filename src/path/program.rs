//! A program of moves that no dialect has touched yet.

use std::collections::BTreeMap;

use super::Note;
use crate::geom::{Contour, Point, REPLAY, arc_of};
use crate::setup::{FlatSheet, PieceId, PlacementId};

/// One move or switch. Lengths are mm in the setup's frame: the sheet's lower left corner at x = y = 0;
/// z = 0 is the bed under the stock, so that floors are exact.
#[derive(Debug, Clone, PartialEq)]
pub enum Move {
    /// A remark for the operator: plain ASCII without brackets or semicolons.
    Remark(String),
    /// Travel in the plane, beam off or tool at the safe height.
    Travel(Point),
    /// Beam on at the setup's power (laser).
    BeamOn,
    /// Beam off (laser).
    BeamOff,
    /// Straight up to the safe height (router).
    Raise,
    /// Straight down, or up to a tab's top, to this z at plunge feed (router).
    Plunge(f64),
    /// Straight cut at the cutting feed.
    Line(Point),
    /// Arc cut of less than a full turn at the cutting feed.
    Arc {
        /// End of the arc.
        to: Point,
        /// Its centre.
        centre: Point,
        /// Counter-clockwise, seen from above.
        ccw: bool,
    },
}

/// Head settings of one program.
#[derive(Debug, Clone, PartialEq)]
pub enum Head {
    /// A laser's beam.
    Beam {
        /// Width of the cut.
        kerf: f64,
        /// Power, percent of full.
        power_percent: f64,
        /// S word for that power.
        power_word: f64,
    },
    /// A router's cutter.
    Cutter {
        /// Effective diameter.
        diameter: f64,
        /// Spindle speed, rev/min.
        speed_rpm: f64,
        /// Wait after the spindle starts, s.
        spin_up_s: f64,
        /// Feed straight down, mm/min.
        plunge_feed: f64,
        /// z of safe travel above the bed.
        safe_z: f64,
        /// Tool table number.
        tool_number: u32,
        /// What the maker calls the tool.
        tool_name: String,
    },
}

impl Head {
    /// Half the kerf or the tool's radius, mm.
    #[must_use]
    pub fn radius(&self) -> f64 {
        match self {
            Self::Beam { kerf, .. } => 0.5 * kerf,
            Self::Cutter { diameter, .. } => 0.5 * diameter,
        }
    }
}

/// Adds the segments of a path as cuts; the head is at its first corner.
pub(super) fn push_contour(moves: &mut Vec<Move>, path: &Contour) {
    for (a, bulge, b) in path.segments() {
        if bulge == 0.0 {
            if a != b {
                moves.push(Move::Line(b));
            }
        } else {
            let (centre, _) = arc_of(a, bulge, b);
            moves.push(Move::Arc {
                to: b,
                centre,
                ccw: bulge > 0.0,
            });
        }
    }
}

/// A whole program for one sheet, in one clamping.
#[derive(Debug, Clone, PartialEq)]
pub struct Program {
    /// File name without ending, such as `demo-window-sheet-01`.
    pub stem: String,
    /// What the operator reads first.
    pub notes: Vec<Note>,
    /// Beam or cutter.
    pub head: Head,
    /// Cutting feed, mm/min.
    pub feed: f64,
    /// The moves, from head start to head stop (both left to the writer).
    pub moves: Vec<Move>,
    /// What the head leaves standing on purpose: bridges and tabs.
    pub holds: Vec<Hold>,
    /// Centres of the cuts that relieve inside corners, for each piece that is on the sheet, in its own frame.
    pub reliefs: BTreeMap<PieceId, Vec<Point>>,
    /// The paths as contours for DXF, in order of cutting.
    pub contours: Vec<CutContour>,
}

impl Program {
    /// Whether all placements that it names are those of its sheet.
    ///
    /// # Errors
    /// What is named and is not there.
    pub fn check(&self, sheet: &FlatSheet) -> Result<(), String> {
        let holds = self.holds.iter().map(|hold| ("a hold", hold.placement));
        all_on_sheet(holds.chain(contours_of(&self.contours)), sheet)?;
        // A hold without extent would stand whatever is cut.
        let holds_nothing = |hold: &&Hold| {
            let long = (hold.to - hold.from).hypot();
            let sizes = [long, hold.width, hold.height];
            !sizes.iter().all(|v| v.is_finite() && *v > REPLAY)
        };
        match self.holds.iter().find(holds_nothing) {
            None => Ok(()),
            Some(hold) => Err(format!(
                "a hold of placement {} is {} mm wide and {} high: it holds nothing",
                hold.placement.index(),
                hold.width,
                hold.height
            )),
        }
    }
}

/// Contours by what a complaint calls them.
pub(super) fn contours_of(
    contours: &[CutContour],
) -> impl Iterator<Item = (&'static str, PlacementId)> + '_ {
    contours
        .iter()
        .map(|contour| ("a contour", contour.placement))
}

/// Whether all placements that are named are those of a sheet; else what is not.
pub(super) fn all_on_sheet(
    mut named: impl Iterator<Item = (&'static str, PlacementId)>,
    sheet: &FlatSheet,
) -> Result<(), String> {
    match named.find(|(_, id)| sheet.placements.get(*id).is_none()) {
        None => Ok(()),
        Some((what, id)) => {
            let id = id.index();
            Err(format!(
                "{what} belongs to placement {id}, which the sheet does not have"
            ))
        }
    }
}

/// A bridge (laser) or tab (router) that holds a piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// The placement that it holds.
    pub placement: PlacementId,
    /// Ends of its middle line on the path, in the sheet's frame.
    pub from: Point,
    /// See `from`.
    pub to: Point,
    /// Width left standing along the piece's edge.
    pub width: f64,
    /// Height left standing above the bed; the whole thickness for a laser's bridge.
    pub height: f64,
}

/// What a contour is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CutKind {
    /// Round a piece, through the stock.
    Outline,
    /// Laser: a dash of a line along which a piece is folded, cut through as an open path.
    Fold,
    /// Router: a notch, cut as an open path.
    Notch,
    /// Router: a groove half as deep as the stock between two pieces that stay joined, cut as an open path.
    Groove,
}

/// A path of beam or tool centre.
#[derive(Debug, Clone, PartialEq)]
pub struct CutContour {
    /// The placement that it belongs to; of pieces that stay joined the first one, on the left.
    pub placement: PlacementId,
    /// What it is.
    pub kind: CutKind,
    /// Its shape in the sheet's frame, kerf or tool radius taken in.
    pub path: Contour,
}
