//! Flat cutting: the stock lies on its side and the side view of every piece is cut out of it.

use std::collections::BTreeSet;

use kurbo::Vec2;
use nalgebra::Rotation3;

use super::CouponKind;
use crate::geom::{Contour, Frame, Point, frame};
pub use crate::lattice::Edge;
use crate::stock::{NestPlace, NestSheet};
use crate::table::{Id, Table};

/// A square-walled notch in the side view of a piece: x along the piece from its first end, z from
/// the back edge, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideNotch {
    /// Least x; below 0 where the notch runs out of the end.
    pub x0: f64,
    /// Greatest x; beyond the length where the notch runs out of the end.
    pub x1: f64,
    /// Which edge it is cut in.
    pub edge: Edge,
    /// Distance from that edge to the floor.
    pub depth: f64,
}

/// How a piece lies on the stock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lies {
    /// On its side: its back edge along the lower edge of its row, the stock as thick as its face.
    OnSide,
    /// On its back, front up: its right side, as seen from the front from its first end, along the lower
    /// edge of its row, the stock as thick as the piece is deep.
    OnBack,
}

/// A piece as it lies on the stock: length by depth, with its notches, or its plan. All copies of a class
/// share one.
#[derive(Debug, Clone, PartialEq)]
pub struct FlatPiece {
    /// Class letter, which is also the label.
    pub class: String,
    /// How it lies.
    pub lies: Lies,
    /// Along the bar.
    pub length: f64,
    /// Across the row: on its side from the back edge (0) to the front edge, on its back its face.
    pub depth: f64,
    /// Notches, in order of x.
    pub notches: Vec<SideNotch>,
    /// Dashes cut through at which it is folded, from the back edge up: both ends of the beam's path.
    pub dashes: Vec<[Point; 2]>,
    /// Finished outline as drawn, sharp corners, counter-clockwise: x along, y across the row.
    pub drawn: Contour,
    /// A second line for the label, such as a hand-trimmed skew end; empty if there is none.
    pub remark: String,
    /// How much of both ends is waste, trimmed off after glue-up.
    pub trimmed: f64,
    /// How far in from the back edge, and from the front edge, reliefs take wood past the first end, and past
    /// the last: where pieces stay joined end to end it is missing between them.
    pub bitten: [[f64; 2]; 2],
}

/// A piece of a layout.
pub type PieceId = Id<FlatPiece>;

/// A copy of a piece on a strip or sheet.
pub type Placement = NestPlace<PieceId>;

/// A placement of a sheet.
pub type PlacementId = Id<Placement>;

/// A strip or sheet with the pieces that are cut from it.
pub type FlatSheet = NestSheet<PieceId>;

/// A sheet of a layout.
pub type SheetId = Id<FlatSheet>;

impl FlatPiece {
    /// Carries the frame of a piece (x along from its first end, y across the face to the left, z from the back edge) to
    /// that of stock of this thickness, mm, on which it lies at `place`. On its side its height lies along y, and
    /// its right side up.
    #[must_use]
    pub fn to_setup(&self, place: &Placement, thickness: f64) -> Frame {
        let Placement { x, y, .. } = *place;
        match self.lies {
            Lies::OnSide => frame::frame(frame::on_its_side(), [x, y, 0.5 * thickness]),
            Lies::OnBack => frame::frame(Rotation3::identity(), [x, y + 0.5 * self.depth, 0.0]),
        }
    }
}

/// A side of a piece as it lies on the stock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// The lower edge of its row: the back edge of a piece on its side.
    Lower,
    /// The last end, on the right.
    Last,
    /// The upper edge of its row: the front edge of a piece on its side.
    Upper,
    /// The first end, on the left.
    First,
}

/// A concave corner of an outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InsideCorner {
    /// Where it is, mm.
    pub at: Point,
    /// Unit vector into the waste, midway between its walls.
    pub into: Vec2,
    /// Sine and cosine of half the angle between its walls, on the side of the waste.
    pub half: [f64; 2],
}

impl InsideCorner {
    /// Centre of a round of radius `r`, mm, that touches both walls.
    #[must_use]
    pub fn centre(&self, r: f64) -> Point {
        self.at + self.into * (r / self.half[0])
    }

    /// Where that round touches the walls.
    #[must_use]
    pub fn touches(&self, r: f64) -> [Point; 2] {
        let [sin, cos] = self.half;
        let along = r * cos / sin;
        let (u, v) = (self.into, Vec2::new(-self.into.y, self.into.x));
        [1.0, -1.0].map(|side| self.at + (u * cos + v * (side * sin)) * along)
    }
}

/// What lies on the sheets of a layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BatchKind {
    /// The members of the panels, and what infill lies among them.
    Members,
    /// Infill alone; where it is of several woods, with the number of its own among them, from 1.
    Infill(Option<usize>),
    /// The comb and the bars of a coupon.
    Coupon(CouponKind),
}

impl BatchKind {
    /// What the files of its sheets are called, before their number.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Self::Members => "sheet".to_owned(),
            Self::Infill(None) => "infill".to_owned(),
            Self::Infill(Some(number)) => format!("infill-{number}"),
            Self::Coupon(kind) => kind.name().to_owned(),
        }
    }

    /// Which batch a sheet is of, in words before its number: nothing where it is of the bars.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Members | Self::Coupon(_) => String::new(),
            Self::Infill(None) => "infill, ".to_owned(),
            Self::Infill(Some(number)) => format!("infill {number}, "),
        }
    }
}

/// All sheets of what is cut flat from one wood.
#[derive(Debug, Clone, PartialEq)]
pub struct FlatLayout {
    /// What the panel's files are called.
    pub job: String,
    /// What lies on its sheets.
    pub kind: BatchKind,
    /// One shape a class.
    pub pieces: Table<FlatPiece>,
    /// The sheets in order, those that are cut alike once.
    pub sheets: Table<FlatSheet>,
}

impl FlatLayout {
    /// What the files of a sheet are called, without ending: `demo-window-sheet-01`.
    #[must_use]
    pub fn stem(&self, sheet: &FlatSheet) -> String {
        format!("{}-{}-{:02}", self.job, self.kind.name(), sheet.number)
    }

    /// Which of its sheets one is, in words: `sheet 1 of 3`, `infill 2, sheets 2 to 3 of 3`.
    #[must_use]
    pub fn title(&self, sheet: &FlatSheet) -> String {
        let batch = self.kind.words();
        let s = if sheet.loads() > 1 { "s" } else { "" };
        let of: usize = self.sheets.iter().map(FlatSheet::loads).sum();
        format!("{batch}sheet{s} {} of {of}", sheet.numbers())
    }

    /// Whether all that a sheet names is there: the pieces of the layout, and its own placements, each in one chain at
    /// most, with an id on every sheet that is cut alike.
    ///
    /// # Errors
    /// What is not.
    pub fn check(&self, sheet: &FlatSheet) -> Result<(), String> {
        for (id, place) in sheet.placements.entries() {
            if self.pieces.get(place.piece).is_none() {
                let (place, piece) = (id.index(), place.piece.index());
                return Err(format!(
                    "placement {place} is of piece {piece}, which the layout does not have"
                ));
            }
        }
        let mut joined = BTreeSet::new();
        for &id in sheet.chains.iter().flat_map(|chain| chain.iter()) {
            if sheet.placements.get(id).is_none() {
                let place = id.index();
                return Err(format!("placement {place}, which is joined, is not there"));
            }
            if !joined.insert(id) {
                return Err(format!("placement {} is joined twice", id.index()));
            }
        }
        let places = sheet.placements.len();
        match sheet.alike.iter().find(|ids| ids.values().len() != places) {
            None => Ok(()),
            Some(ids) => Err(format!(
                "{} ids for {places} placements of a sheet that is cut alike",
                ids.values().len()
            )),
        }
    }

    /// Whether any piece of a sheet is folded along dashes.
    #[must_use]
    pub fn has_folds(&self, sheet: &FlatSheet) -> bool {
        let mut pieces = sheet.placements.iter().map(|p| &self.pieces[p.piece]);
        pieces.any(|piece| piece.fold().is_some())
    }

    /// How many copies of a piece lie on all sheets.
    #[must_use]
    pub fn copies(&self, piece: PieceId) -> usize {
        let of = |sheet: &FlatSheet| {
            let own = sheet.placements.iter().filter(|p| p.piece == piece);
            own.count() * sheet.loads()
        };
        self.sheets.iter().map(of).sum()
    }
}
