//! The head of the machine and how it cuts a material: the one place where a machine's row and a material's meet.

use super::chains::Joining;
use super::error::PlanError;
use crate::panel::{
    HeadKind, JobFiles, Laser, LaserCut, Machine, Material, Method, Router, RouterCut,
};
use crate::path::{
    CLEAR, LaserSettings, Note, PathError, Program, RouterSettings, laser_program, router_program,
    through,
};
use crate::safety::{Bites, Check, HoldNeeds, laser_checks, router_checks};
use crate::setup::{FlatPiece, FlatSheet, parting_gap};
use crate::table::Table;

/// What cuts a wood: the machine's head with its limits, and the material's row for it. Whoever holds one asks the
/// files no more which head there is, nor whether the material knows it.
///
/// What is cut by hand has no head. It is planned without one, as a variant of its own where the ways of cutting are
/// listed (`Way`, [`super::Cutting`]): whatever takes a head is not called for it.
#[derive(Debug, Clone, PartialEq)]
pub enum CuttingHead {
    /// With a beam.
    Laser(LaserHead),
    /// With a cutter.
    Router(Box<RouterHead>),
}

/// A laser that cuts a material.
#[derive(Debug, Clone, PartialEq)]
pub struct LaserHead {
    /// The machine's row.
    pub laser: Laser,
    /// The material's.
    pub cut: LaserCut,
    /// What follows from both for paths.
    pub set: LaserSettings,
}

/// A router that cuts a material.
#[derive(Debug, Clone, PartialEq)]
pub struct RouterHead {
    /// The machine's row.
    pub router: Router,
    /// The material's.
    pub cut: RouterCut,
    /// What follows from both for paths.
    pub set: RouterSettings,
}

/// How the bars of a panel are cut: its method, with the head that this takes.
#[derive(Debug)]
pub(super) enum Way {
    /// On their sides.
    Flat(CuttingHead),
    /// Joint edge up, in gangs.
    EdgeUp(Box<RouterHead>),
}

impl Way {
    /// By the panel's method, in the bars' own material.
    ///
    /// # Errors
    /// Files that do not go together, which their reader has refused.
    pub(super) fn of(files: &JobFiles) -> Result<Self, PlanError> {
        let head = CuttingHead::of(files, &files.material)?;
        match (files.panel.cut.method, head) {
            (Method::Flat, head) => Ok(Self::Flat(head)),
            (Method::EdgeUp, CuttingHead::Router(head)) => Ok(Self::EdgeUp(head)),
            (Method::EdgeUp, CuttingHead::Laser(_)) => Err(PlanError::Internal(
                "edge-up cutting without a router".into(),
            )),
        }
    }

    /// What relief takes from the walls and floors of a notch: edge up there is none.
    pub(super) fn bites(&self, files: &JobFiles) -> Bites {
        match self {
            Self::Flat(head) => head.bites(files),
            Self::EdgeUp(_) => Bites::default(),
        }
    }

    /// How much wider the cut is at one face of the stock than at the other, mm.
    pub(super) fn flare(&self) -> f64 {
        match self {
            Self::Flat(head) => head.flare(),
            Self::EdgeUp(_) => UPRIGHT,
        }
    }
}

/// The flare of a cutter's walls, mm.
pub(super) const UPRIGHT: f64 = 0.0;

impl CuttingHead {
    /// The machine's head with a material's row for it.
    ///
    /// # Errors
    /// A material without such a row, which the reader of the files has refused.
    pub(super) fn of(files: &JobFiles, material: &Material) -> Result<Self, PlanError> {
        match (&files.machine.head, &material.laser, &material.router) {
            (HeadKind::Laser(laser), Some(cut), _) => {
                Ok(Self::Laser(LaserHead::of(files, material, laser, cut)))
            }
            (HeadKind::Router(router), _, Some(cut)) => {
                Ok(Self::Router(Box::new(RouterHead::of(files, router, cut))))
            }
            (HeadKind::Laser(_), None, _) | (HeadKind::Router(_), _, None) => {
                Err(PlanError::Internal("no head for this material".into()))
            }
        }
    }

    /// Half the kerf, or the tool's radius, mm.
    pub(crate) fn radius(&self) -> f64 {
        match self {
            Self::Laser(head) => 0.5 * head.set.kerf,
            Self::Router(head) => head.radius(),
        }
    }

    /// Whether it is a beam.
    pub(super) fn is_beam(&self) -> bool {
        matches!(self, Self::Laser(_))
    }

    /// How much wider the cut is at one face of the stock than at the other, mm.
    pub(super) fn flare(&self) -> f64 {
        match self {
            Self::Laser(head) => head.cut.flare,
            Self::Router(_) => UPRIGHT,
        }
    }

    /// What a hold is to leave standing along the cut, mm.
    pub(super) fn hold_width(&self) -> f64 {
        match self {
            Self::Laser(head) => head.set.bridge_width,
            Self::Router(head) => head.set.tab_width,
        }
    }

    /// The shortest piece that it holds one by one, mm: a beam cuts pieces of any length.
    pub(super) fn shortest(&self) -> f64 {
        match self {
            Self::Laser(_) => 0.0,
            Self::Router(head) => head.router.hold_length,
        }
    }

    /// What relief takes from the walls and floors of a notch.
    pub(super) fn bites(&self, files: &JobFiles) -> Bites {
        let relief = files.panel.cut.relief;
        Bites {
            wall: self.radius() * relief.wall_bite(),
            floor: self.radius() * relief.floor_bite(),
        }
    }

    /// What lies between two neighbouring pieces: their cuts, a beam's within the gap, a tool's on
    /// either side of it.
    pub(super) fn spacing(&self) -> f64 {
        match self {
            Self::Laser(head) => head.set.gap,
            Self::Router(head) => head.set.gap + 2.0 * head.set.diameter,
        }
    }

    /// What is left between the cuts of neighbouring pieces: a beam's cuts lie within the gap, a
    /// tool's beside it, but for the way that its notches reach into it.
    pub(super) fn strip(&self) -> f64 {
        match self {
            Self::Laser(head) => head.set.gap - 2.0 * (head.set.kerf + head.cut.flare),
            Self::Router(head) => head.set.gap - CLEAR,
        }
    }

    /// How pieces that are too short to be held stay joined; `None` for a beam, which cuts pieces of any length.
    pub(super) fn joining(&self, material: &Material) -> Option<Joining> {
        match self {
            Self::Laser(_) => None,
            Self::Router(head) => Some(Joining {
                hold: head.router.hold_length,
                gap: head.set.parting_gap,
                least_bridge: material.least_section,
            }),
        }
    }

    /// The checks of head and feeds where a material is cut flat; `shortest` is the shortest of what must be held,
    /// and its name.
    pub(super) fn checks(
        &self,
        machine: &Machine,
        material: &Material,
        shortest: Option<(f64, String)>,
    ) -> Vec<Check> {
        match self {
            Self::Laser(head) => laser_checks(machine, &head.laser, &head.cut),
            Self::Router(head) => {
                let RouterHead { router, cut, set } = head.as_ref();
                let thickness = material.thickness[1];
                let lowest = set.passes(thickness).into_iter().fold(thickness, f64::min);
                let deepest = thickness - lowest;
                router_checks(machine, router, cut, thickness, deepest, shortest)
            }
        }
    }

    /// What the holds of pieces cut flat from a material must be.
    pub(super) fn hold_needs(&self, material: &Material) -> HoldNeeds {
        match self {
            Self::Laser(head) => HoldNeeds::of_bridges(&head.cut),
            Self::Router(head) => head.hold_needs(material),
        }
    }

    /// The program of a sheet.
    ///
    /// # Errors
    /// A notch or an end that beam or cutter does not fit into.
    pub(super) fn program(
        &self,
        pieces: &Table<FlatPiece>,
        sheet: &FlatSheet,
        stem: String,
        notes: Vec<Note>,
    ) -> Result<Program, PathError> {
        match self {
            Self::Laser(head) => laser_program(pieces, sheet, &head.set, stem, notes),
            Self::Router(head) => router_program(pieces, sheet, &head.set, stem, notes),
        }
    }
}

impl LaserHead {
    fn of(files: &JobFiles, material: &Material, laser: &Laser, cut: &LaserCut) -> Self {
        let power_percent = laser.percent_for(cut);
        Self {
            laser: laser.clone(),
            cut: cut.clone(),
            set: LaserSettings {
                kerf: cut.kerf,
                feed: cut.feed,
                power_percent,
                power_word: power_percent / 100.0 * laser.full_power_word,
                bridges: cut.bridges,
                bridge_width: cut.bridge_width,
                least_bridge_width: cut
                    .least_bridge_width
                    .max(cut.least_bridge_section / material.thickness[0]),
                gap: cut.gap,
                relief: files.panel.cut.relief,
                step: files.post.gcode.number.step(),
            },
        }
    }

    /// A percentage of a laser's power says nothing for another laser: both files must tell their watts.
    pub(super) fn watts_unknown(&self) -> Option<String> {
        let silent = match (self.laser.watts, self.cut.watts) {
            (None, Some(_)) => "machine",
            (Some(_), None) => "material",
            (None, None) | (Some(_), Some(_)) => return None,
        };
        Some(format!(
            "the {silent} file does not say its watts: {} percent of this laser's power is taken as it stands",
            self.cut.power_percent
        ))
    }
}

impl RouterHead {
    fn of(files: &JobFiles, router: &Router, cut: &RouterCut) -> Self {
        Self {
            router: router.clone(),
            cut: cut.clone(),
            set: RouterSettings {
                diameter: router.tool.diameter,
                feed: cut.feed,
                plunge_feed: cut.plunge_feed,
                speed_rpm: cut.speed_rpm,
                spin_up_s: router.spin_up_s,
                pass_depth: cut.pass_depth,
                spoil: router.spoil,
                safe_height: router.safe_height,
                tabs: cut.tabs,
                tab_width: cut.tab_width,
                least_tab_width: cut
                    .least_tab_width
                    .max(cut.least_tab_section / cut.tab_height),
                tab_height: cut.tab_height,
                gap: cut.gap,
                parting_gap: parting_gap(router.tool.diameter, router.saw_kerf),
                relief: files.panel.cut.relief,
                tool_number: router.tool.number,
                tool_name: router.tool.name.clone(),
                milling: cut.milling,
                step: files.post.gcode.number.step(),
            },
        }
    }

    /// The tool's radius, mm.
    pub(super) fn radius(&self) -> f64 {
        0.5 * self.set.diameter
    }

    /// What the tabs of pieces cut flat from a material must be.
    pub(super) fn hold_needs(&self, material: &Material) -> HoldNeeds {
        let deepest = material.thickness[1] + through(self.router.spoil);
        HoldNeeds::of_tabs(&self.cut, &self.router.tool, deepest)
    }
}
