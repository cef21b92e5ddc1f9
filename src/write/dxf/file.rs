//! What a DXF file shows, in which size and release, and what it is called.

use crate::panel::{CutWidth, DxfLayers, DxfStyle, DxfVersion};
use crate::path::CutPaths;
use crate::setup::{FlatLayout, FlatPiece, FlatSheet, PlacementId};

use super::DxfError;

/// What the name of a file says in which nothing is cut.
const NEVER_CUT: &str = "-never-cut";

/// One DXF file.
#[derive(Debug, Clone, Copy)]
pub struct DxfFile<'a> {
    /// Shapes and sheets of the job.
    pub layout: &'a FlatLayout,
    /// What is shown.
    pub subject: DxfSubject<'a>,
    /// What the contours stand for.
    pub content: DxfContent<'a>,
    /// What of all that is in this file.
    pub parts: DxfParts,
    /// Release.
    pub version: DxfVersion,
    /// Layers and colours.
    pub style: &'a DxfStyle,
}

/// What a file shows.
#[derive(Debug, Clone, Copy)]
pub enum DxfSubject<'a> {
    /// A sheet with all its pieces, its border and its lower left corner at the origin.
    Sheet(&'a FlatSheet),
    /// One piece alone, its first end and back edge at the origin, as it is cut in this place.
    Piece {
        /// A sheet that it lies on.
        sheet: &'a FlatSheet,
        /// Which of the sheet's placements it is.
        placement: PlacementId,
    },
}

impl<'a> DxfSubject<'a> {
    /// The sheet that is shown, or that the piece lies on.
    #[must_use]
    pub fn sheet(&self) -> &'a FlatSheet {
        match self {
            Self::Sheet(sheet) | Self::Piece { sheet, .. } => sheet,
        }
    }
}

/// What of a drawing is in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DxfParts {
    /// What is cut.
    pub cuts: bool,
    /// Labels of the pieces.
    pub labels: bool,
    /// Of a sheet: the border of the stock, and notes.
    pub border: bool,
}

impl DxfParts {
    /// The files of a drawing with these layers. R2000 marks layers that are never cut as not plotted (DXF reference,
    /// LAYER, group 290, which came with that release); R12 has no such mark, so that what is never cut lies in a
    /// file beside the one that is cut.
    #[must_use]
    pub fn files(layers: DxfLayers, version: DxfVersion) -> Vec<Self> {
        let whole = Self {
            cuts: true,
            labels: layers != DxfLayers::Cuts,
            border: layers == DxfLayers::All,
        };
        match version {
            DxfVersion::R2000 => vec![whole],
            DxfVersion::R12 => {
                let cut = Self {
                    cuts: true,
                    labels: false,
                    border: false,
                };
                let beside = Self {
                    cuts: false,
                    ..whole
                };
                let files = [Some(cut), whole.labels.then_some(beside)];
                files.into_iter().flatten().collect()
            }
        }
    }
}

/// What the contours of a file stand for.
#[derive(Debug, Clone, Copy)]
pub enum DxfContent<'a> {
    /// Finished outlines; the machine's own software takes care of kerf or tool.
    Drawn,
    /// The paths of beam or tool centre on the sheet, in order of cutting.
    Compensated(CutPaths<'a>),
}

impl DxfFile<'_> {
    /// The file's name: subject, size, whether nothing of it is cut, and for a release without a unit the unit and the release.
    #[must_use]
    pub fn name(&self) -> String {
        let stem = match self.subject {
            DxfSubject::Sheet(sheet) => self.layout.stem(sheet),
            DxfSubject::Piece { sheet, placement } => {
                let piece = self.piece_at(sheet, placement);
                format!("{}-piece-{}", self.layout.job, piece.class)
            }
        };
        let size = match self.content {
            DxfContent::Drawn => "drawn-size",
            DxfContent::Compensated(paths) => match paths.width {
                CutWidth::Kerf(_) => "kerf-compensated",
                CutWidth::Tool(_) => "tool-compensated",
            },
        };
        let version = match self.version {
            DxfVersion::R2000 => "",
            DxfVersion::R12 => "-mm-r12",
        };
        let part = if self.parts.cuts { "" } else { NEVER_CUT };
        format!("{stem}-{size}{part}{version}.dxf")
    }

    /// The name of the file that holds what is cut of this drawing: this one's, or that of the one beside it.
    #[must_use]
    pub fn cut_name(&self) -> String {
        let parts = DxfParts {
            cuts: true,
            ..self.parts
        };
        DxfFile { parts, ..*self }.name()
    }

    fn piece_at(&self, sheet: &FlatSheet, placement: PlacementId) -> &FlatPiece {
        &self.layout.pieces[sheet.placements[placement].piece]
    }

    /// The piece that is shown alone; `None` for a sheet.
    #[must_use]
    pub fn piece(&self) -> Option<&FlatPiece> {
        match self.subject {
            DxfSubject::Sheet(_) => None,
            DxfSubject::Piece { sheet, placement } => Some(self.piece_at(sheet, placement)),
        }
    }

    /// Whether all that is named is there: pieces, placements, and what the paths say of them.
    ///
    /// # Errors
    /// What is not.
    pub(crate) fn check(&self) -> Result<(), String> {
        let sheet = self.subject.sheet();
        self.layout.check(sheet)?;
        if let DxfSubject::Piece { placement, .. } = self.subject
            && sheet.placements.get(placement).is_none()
        {
            let place = placement.index();
            return Err(format!("placement {place}, which is shown, is not there"));
        }
        match self.content {
            DxfContent::Drawn => Ok(()),
            DxfContent::Compensated(paths) => paths.check(sheet),
        }
    }

    /// Whether grooves are shown, where a saw parts pieces that are cut joined.
    #[must_use]
    pub fn has_grooves(&self) -> bool {
        match self.subject {
            DxfSubject::Sheet(sheet) => !sheet.chains.is_empty(),
            DxfSubject::Piece { .. } => false,
        }
    }

    /// Whether a piece that is shown is folded along dashes.
    #[must_use]
    pub fn has_folds(&self) -> bool {
        match self.subject {
            DxfSubject::Sheet(sheet) => self.layout.has_folds(sheet),
            DxfSubject::Piece { sheet, placement } => {
                self.piece_at(sheet, placement).fold().is_some()
            }
        }
    }

    /// How often the file is to be cut.
    #[must_use]
    pub fn count(&self) -> usize {
        match self.subject {
            DxfSubject::Sheet(sheet) => sheet.loads(),
            DxfSubject::Piece { sheet, placement } => {
                self.layout.copies(sheet.placements[placement].piece)
            }
        }
    }

    /// All pieces that are shown, in the order of the sheet's placements.
    ///
    /// # Errors
    /// What the plan names and has not.
    pub(super) fn shown(&self) -> Result<Vec<Shown<'_>>, DxfError> {
        self.check().map_err(|what| DxfError::Missing { what })?;
        let sheet = self.subject.sheet();
        let placements: Vec<PlacementId> = match self.subject {
            DxfSubject::Sheet(_) => sheet.placements.ids().collect(),
            DxfSubject::Piece { placement, .. } => vec![placement],
        };
        let one = |placement: PlacementId| {
            let p = &sheet.placements[placement];
            let piece = &self.layout.pieces[p.piece];
            let (label, at) = match self.subject {
                DxfSubject::Sheet(_) => (piece.label(&p.id), (p.x, p.y)),
                DxfSubject::Piece { .. } => (piece.class.clone(), (0.0, 0.0)),
            };
            Shown {
                placement,
                id: &p.id,
                piece,
                label,
                at,
                path_moved: (at.0 - p.x, at.1 - p.y),
            }
        };
        Ok(placements.into_iter().map(one).collect())
    }
}

/// A piece in a file.
pub(super) struct Shown<'a> {
    pub(super) placement: PlacementId,
    /// Member id of the placement.
    pub(super) id: &'a str,
    pub(super) piece: &'a FlatPiece,
    pub(super) label: String,
    /// Where its first end and back edge stand, mm.
    pub(super) at: (f64, f64),
    /// How the paths of the sheet's program are moved to it, mm.
    pub(super) path_moved: (f64, f64),
}
