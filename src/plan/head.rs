//! The head of the machine and how it cuts a material: the one place where a machine's row and a material's meet.

use std::sync::Arc;

use super::chains::Joining;
use super::error::PlanError;
use crate::panel::{
    CutBy, CutWidth, Elsewhere, HeadKind, JobFiles, Laser, LaserCut, Material, Method, OwnMachine,
    Router, RouterCut,
};
use crate::path::{
    CLEAR, LaserSettings, Note, PathError, Program, RouterSettings, laser_program, router_program,
    through,
};
use crate::safety::{Bites, Check, HoldNeeds, laser_checks, router_checks};
use crate::setup::{FlatPiece, FlatSheet, SAW_ROOM, parting_gap};
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
    /// With what a machine elsewhere has: no program is written for it.
    Elsewhere(Elsewhere),
}

/// A laser that cuts a material.
#[derive(Debug, Clone, PartialEq)]
pub struct LaserHead {
    /// The machine, and the dialect of its controller.
    pub own: Arc<OwnMachine>,
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
    /// The machine, and the dialect of its controller.
    pub own: Arc<OwnMachine>,
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
            (Method::EdgeUp, CuttingHead::Laser(_) | CuttingHead::Elsewhere(_)) => Err(
                PlanError::Internal("edge-up cutting without a router".into()),
            ),
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
        let own = match &files.cut_by {
            CutBy::Own(own) => own,
            CutBy::Elsewhere(elsewhere) => return Ok(Self::Elsewhere(*elsewhere)),
        };
        match (&own.machine.head, &material.laser, &material.router) {
            (HeadKind::Laser(laser), Some(cut), _) => {
                Ok(Self::Laser(LaserHead::of(files, own, material, laser, cut)))
            }
            (HeadKind::Router(router), _, Some(cut)) => Ok(Self::Router(Box::new(RouterHead::of(
                files, own, router, cut,
            )))),
            (HeadKind::Laser(_), None, _) | (HeadKind::Router(_), _, None) => {
                Err(PlanError::Internal("no head for this material".into()))
            }
        }
    }

    /// Half the kerf, or the tool's radius, mm; 0 where nothing says how wide the cut is.
    pub(crate) fn radius(&self) -> f64 {
        match self {
            Self::Elsewhere(cut) => cut.radius(),
            Self::Laser(head) => 0.5 * head.set.kerf,
            Self::Router(head) => head.radius(),
        }
    }

    /// Whether it is a beam.
    pub(super) fn is_beam(&self) -> bool {
        match self {
            Self::Laser(_) => true,
            Self::Router(_) => false,
            Self::Elsewhere(cut) => matches!(cut.width, Some(CutWidth::Kerf(_))),
        }
    }

    /// How much wider the cut is at one face of the stock than at the other, mm.
    pub(super) fn flare(&self) -> f64 {
        match self {
            Self::Laser(head) => head.cut.flare,
            Self::Router(_) | Self::Elsewhere(_) => UPRIGHT,
        }
    }

    /// What a hold is to leave standing along the cut, mm; `None` where no holds are planned.
    pub(super) fn hold_width(&self) -> Option<f64> {
        match self {
            Self::Laser(head) => Some(head.set.bridge_width),
            Self::Router(head) => Some(head.set.tab_width),
            Self::Elsewhere(_) => None,
        }
    }

    /// The shortest piece that it holds one by one, mm: a beam cuts pieces of any length, and what is held elsewhere is
    /// for its operator to see.
    pub(super) fn shortest(&self) -> f64 {
        match self {
            Self::Laser(_) | Self::Elsewhere(_) => 0.0,
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
            Self::Elsewhere(cut) => cut.spacing(),
        }
    }

    /// How far the outlines of all pieces stay away from the edges of the stock, mm: the head's centre runs outside of
    /// them, and must stay over it.
    pub(super) fn margin(&self) -> f64 {
        match self {
            Self::Laser(_) | Self::Router(_) => 2.0 * self.radius() + 1.0,
            Self::Elsewhere(cut) => cut.margin(),
        }
    }

    /// What is left between the cuts of neighbouring pieces: a beam's cuts lie within the gap, a
    /// tool's beside it, but for the way that its notches reach into it.
    pub(super) fn strip(&self) -> f64 {
        match self {
            Self::Laser(head) => head.set.gap - 2.0 * (head.set.kerf + head.cut.flare),
            Self::Router(head) => head.set.gap - CLEAR,
            Self::Elsewhere(cut) => cut.gap,
        }
    }

    /// How pieces that are too short to be held stay joined; `None` where pieces of any length are cut.
    pub(super) fn joining(&self, material: &Material) -> Option<Joining> {
        match self {
            Self::Laser(_) | Self::Elsewhere(_) => None,
            Self::Router(head) => Some(Joining {
                hold: head.router.hold_length,
                gap: head.set.parting_gap,
                least_bridge: material.least_section,
            }),
        }
    }

    /// The checks of head and feeds where a material is cut flat; `shortest` is the shortest of what must be held,
    /// and its name. Of a head elsewhere they are for its operator.
    pub(super) fn checks(
        &self,
        material: &Material,
        shortest: Option<(f64, String)>,
    ) -> Vec<Check> {
        match self {
            Self::Laser(head) => laser_checks(&head.own.machine, &head.laser, &head.cut),
            Self::Router(head) => {
                let RouterHead {
                    own,
                    router,
                    cut,
                    set,
                } = head.as_ref();
                let thickness = material.thickness[1];
                let lowest = set.passes(thickness).into_iter().fold(thickness, f64::min);
                let deepest = thickness - lowest;
                router_checks(&own.machine, router, cut, thickness, deepest, shortest)
            }
            Self::Elsewhere(_) => Vec::new(),
        }
    }

    /// What the holds of pieces cut flat from a material must be; `None` where none are planned.
    pub(super) fn hold_needs(&self, material: &Material) -> Option<HoldNeeds> {
        match self {
            Self::Laser(head) => Some(HoldNeeds::of_bridges(&head.cut)),
            Self::Router(head) => Some(head.hold_needs(material)),
            Self::Elsewhere(_) => None,
        }
    }

    /// The head that programs are written for.
    ///
    /// # Errors
    /// The cut elsewhere for which there are none.
    pub(super) fn for_programs(&self) -> Result<ProgramHead<'_>, &Elsewhere> {
        match self {
            Self::Laser(head) => Ok(ProgramHead::Laser(head)),
            Self::Router(head) => Ok(ProgramHead::Router(head)),
            Self::Elsewhere(cut) => Err(cut),
        }
    }
}

/// How far the finished outlines of pieces of a material lie apart on a sheet, mm; `None` where no head cuts it.
pub(crate) fn outlines_apart(files: &JobFiles, material: &Material) -> Option<f64> {
    CuttingHead::of(files, material)
        .ok()
        .map(|head| head.spacing())
}

/// A head that programs are written for.
#[derive(Clone, Copy)]
pub(super) enum ProgramHead<'a> {
    /// With a beam.
    Laser(&'a LaserHead),
    /// With a cutter.
    Router(&'a RouterHead),
}

impl ProgramHead<'_> {
    /// The machine, and the dialect of its controller.
    pub(super) fn own(&self) -> &OwnMachine {
        match self {
            Self::Laser(head) => &head.own,
            Self::Router(head) => &head.own,
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
    fn of(
        files: &JobFiles,
        own: &Arc<OwnMachine>,
        material: &Material,
        laser: &Laser,
        cut: &LaserCut,
    ) -> Self {
        let power_percent = laser.percent_for(cut);
        Self {
            own: own.clone(),
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
                step: own.post.gcode.number.step(),
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
    fn of(files: &JobFiles, own: &Arc<OwnMachine>, router: &Router, cut: &RouterCut) -> Self {
        Self {
            own: own.clone(),
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
                step: own.post.gcode.number.step(),
            },
        }
    }

    /// What is done with pieces that are cut joined end to end.
    pub(crate) fn sawing(&self) -> String {
        format!(
            "joined pieces: saw them apart in the grooves with a kerf of at most {:.2} mm, then pare off what is \
             left flush with the grooves' walls",
            (self.set.parting_gap - SAW_ROOM).max(0.0)
        )
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
