//! The plan of a job: what is made, how it is cut, and the checks that need no file.

use super::edge_plan::EdgePlan;
use super::flat::FlatPlan;
use super::head::UPRIGHT;
use crate::assembly::Assembly;
use crate::document::Numbers;
use crate::infill::Infill;
use crate::kits::KitPlan;
use crate::lattice::{BarMark, DryFit, Lattice, Member};
use crate::panel::{JobFiles, Panel};
use crate::safety::Check;
use crate::setup::Comb;
use crate::surround::Surround;
use crate::table::Column;

/// What is made, how it is cut, and whether that is sound.
#[derive(Debug)]
pub struct Plan {
    /// The files that it was made from.
    pub files: JobFiles,
    /// What is made.
    pub product: Product,
    /// How its bars are cut, and what is cut beside them.
    pub cuts: Cuts,
    /// The checks so far; those of the files come when the bytes are there.
    pub checks: Vec<Check>,
    /// What the maker should know.
    pub warnings: Vec<String>,
}

/// What a job makes. What comes in several, such as the panels of an order, is a variant of its own here; stages that
/// draw, check, cut and assemble one panel stay as they are.
#[derive(Debug)]
pub enum Product {
    /// Panels, all alike.
    Panel(Box<PanelPlan>),
    /// A coupon in place of a panel.
    Coupon(Box<CouponPlan>),
}

/// A panel as it is drawn: nothing here depends on what lies where on the stock.
#[derive(Debug)]
pub struct Drawn {
    /// The ground.
    pub lattice: Lattice,
    /// The pieces in its cells, if the panel has any.
    pub infill: Option<Infill>,
    /// The frame round it, if the panel has one.
    pub surround: Option<Surround>,
}

impl Drawn {
    /// The bars of a surround that is lapped like the ground.
    #[must_use]
    pub fn ring(&self) -> Option<&Lattice> {
        let ring = self.surround.as_ref()?.ring.as_ref();
        ring.map(|ring| &ring.lattice)
    }
}

/// A panel, and how it goes together.
#[derive(Debug)]
pub struct PanelPlan {
    /// What it is.
    pub drawn: Drawn,
    /// How the intended shapes fit.
    pub meant: DryFit,
    /// How it is put together.
    pub assembly: Assembly,
}

impl PanelPlan {
    /// How the pieces are shared out; a kit for each panel where the panel file does not say.
    #[must_use]
    pub fn kits(&self, panel: &Panel) -> KitPlan {
        let Drawn {
            lattice,
            infill,
            surround,
        } = &self.drawn;
        KitPlan::of(panel, lattice, infill.as_ref(), surround.as_ref())
    }
}

/// A coupon, and what it is to tell of.
#[derive(Debug)]
pub struct CouponPlan {
    /// The notches.
    pub comb: Comb,
    /// The ground whose joints it is cut like; nothing of it is made.
    pub lattice: Lattice,
}

/// All that is cut.
#[derive(Debug)]
pub struct Cuts {
    /// How the bars are cut, and what infill lies among them.
    pub bars: Cutting,
    /// Infill that is cut flat by itself: of another wood, of another depth, or beside bars cut edge up.
    pub beside: Vec<FlatPlan>,
}

/// How the bars of a panel are cut. Bars that are cut by hand would be a variant of their own, with what is marked out
/// in place of programs.
#[derive(Debug)]
pub enum Cutting {
    /// On its side.
    Flat(Box<FlatPlan>),
    /// Joint edge up, in gangs.
    EdgeUp(Box<EdgePlan>),
}

impl Cuts {
    /// All that is cut flat: the bars, unless they are cut edge up, then infill.
    pub fn flats(&self) -> impl Iterator<Item = &FlatPlan> {
        self.flat().into_iter().chain(&self.beside)
    }

    /// How the bars are cut flat; `None` where they are cut edge up.
    #[must_use]
    pub fn flat(&self) -> Option<&FlatPlan> {
        match &self.bars {
            Cutting::Flat(flat) => Some(flat),
            Cutting::EdgeUp(_) => None,
        }
    }

    /// How the bars are cut edge up; `None` where they are cut flat.
    #[must_use]
    pub fn edge_up(&self) -> Option<&EdgePlan> {
        match &self.bars {
            Cutting::Flat(_) => None,
            Cutting::EdgeUp(edge) => Some(edge),
        }
    }

    /// How much wider the cuts of the bars are at one face of the stock than at the other, mm.
    #[must_use]
    pub(crate) fn flare(&self) -> f64 {
        match &self.bars {
            Cutting::Flat(flat) => flat.head.flare(),
            Cutting::EdgeUp(_) => UPRIGHT,
        }
    }

    /// Where the members bear their orientation marks; `None` where they are cut flat.
    #[must_use]
    pub fn member_marks(&self) -> Option<&Column<Member, BarMark>> {
        self.edge_up().map(|edge| &edge.marks.members)
    }
}

impl Plan {
    /// As the workshop sheet writes numbers, and its pictures and steps with it.
    #[must_use]
    pub fn sheet_numbers(&self) -> Numbers {
        Numbers::of(self.files.panel.workshop_sheet.units)
    }

    /// The panel that is made; `None` for a coupon.
    #[must_use]
    pub fn panel(&self) -> Option<&PanelPlan> {
        match &self.product {
            Product::Panel(panel) => Some(panel),
            Product::Coupon(_) => None,
        }
    }

    /// The notches of the coupon that is made; `None` for a panel.
    #[must_use]
    pub fn comb(&self) -> Option<&Comb> {
        match &self.product {
            Product::Panel(_) => None,
            Product::Coupon(coupon) => Some(&coupon.comb),
        }
    }

    /// The ground of the panel, or the one that a coupon is cut for.
    #[must_use]
    pub fn lattice(&self) -> &Lattice {
        match &self.product {
            Product::Panel(panel) => &panel.drawn.lattice,
            Product::Coupon(coupon) => &coupon.lattice,
        }
    }

    /// All that is cut flat: the bars, unless they are cut edge up, then infill.
    pub fn flats(&self) -> impl Iterator<Item = &FlatPlan> {
        self.cuts.flats()
    }

    /// How the bars are cut flat; `None` where they are cut edge up.
    #[must_use]
    pub fn flat(&self) -> Option<&FlatPlan> {
        self.cuts.flat()
    }

    /// How the bars are cut edge up; `None` where they are cut flat.
    #[must_use]
    pub fn edge_up(&self) -> Option<&EdgePlan> {
        self.cuts.edge_up()
    }

    /// Where the members bear their orientation marks; `None` where they are cut flat.
    #[must_use]
    pub fn member_marks(&self) -> Option<&Column<Member, BarMark>> {
        self.cuts.member_marks()
    }
}
