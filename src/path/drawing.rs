//! What a sheet is drawn with that is cut elsewhere: paths without moves.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::flat_laser::closed_path;
use super::program::{all_on_sheet, contours_of};
use super::{CutContour, CutKind, Head, Note, PathError, Program};
use crate::geom::{Contour, Point};
use crate::panel::{CutWidth, Relief};
use crate::setup::{FlatPiece, FlatSheet, PieceId};
use crate::table::Table;

/// The drawings of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetDrawing {
    /// What is told on them.
    pub notes: Vec<Note>,
    /// The paths, where it is known how wide the cut is; else finished outlines are all that is drawn.
    pub paths: Option<DrawnPaths>,
}

/// The paths of a cut of known width round the pieces of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnPaths {
    /// How wide the cut is.
    pub width: CutWidth,
    /// The paths, in order of the placements.
    pub contours: Vec<CutContour>,
    /// Centres of the cuts that relieve inside corners, for each piece that is on the sheet, in its own frame.
    pub reliefs: BTreeMap<PieceId, Vec<Point>>,
}

/// Paths as drawings show them, whoever cuts along them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutPaths<'a> {
    /// How wide the cut is.
    pub width: CutWidth,
    /// The paths, in order of cutting.
    pub contours: &'a [CutContour],
}

impl CutPaths<'_> {
    /// Whether all placements that are named are those of the sheet.
    ///
    /// # Errors
    /// What is named and is not there.
    pub fn check(&self, sheet: &FlatSheet) -> Result<(), String> {
        all_on_sheet(contours_of(self.contours), sheet)
    }
}

impl DrawnPaths {
    /// A closed path round every piece of a sheet, after the dashes of its fold; inside corners relieved as asked.
    ///
    /// # Errors
    /// A notch or an end that the cut does not fit into.
    pub fn of(
        pieces: &Table<FlatPiece>,
        sheet: &FlatSheet,
        width: CutWidth,
        relief: Relief,
    ) -> Result<Self, PathError> {
        let mut closed: BTreeMap<PieceId, Contour> = BTreeMap::new();
        let mut reliefs = BTreeMap::new();
        let mut contours = Vec::new();
        for (placement, place) in sheet.placements.entries() {
            let piece = &pieces[place.piece];
            let path = match closed.entry(place.piece) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(new) => {
                    let (path, own) = closed_path(piece, width.radius(), relief)?;
                    reliefs.insert(place.piece, own);
                    new.insert(path)
                }
            };
            let dashes = piece
                .dashes
                .iter()
                .map(|&dash| (CutKind::Fold, Contour::open(dash)));
            let outline = std::iter::once((CutKind::Outline, path.clone()));
            contours.extend(dashes.chain(outline).map(|(kind, path)| CutContour {
                placement,
                kind,
                path: path.moved(place.x, place.y),
            }));
        }
        Ok(Self {
            width,
            contours,
            reliefs,
        })
    }

    /// As drawings show them.
    #[must_use]
    pub fn shown(&self) -> CutPaths<'_> {
        CutPaths {
            width: self.width,
            contours: &self.contours,
        }
    }
}

impl Program {
    /// Its paths as drawings show them.
    #[must_use]
    pub fn shown(&self) -> CutPaths<'_> {
        let width = match self.head {
            Head::Beam { kerf, .. } => CutWidth::Kerf(kerf),
            Head::Cutter { diameter, .. } => CutWidth::Tool(diameter),
        };
        CutPaths {
            width,
            contours: &self.contours,
        }
    }
}
