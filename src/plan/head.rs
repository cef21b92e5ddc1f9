//! How the head of the machine cuts a material.

use super::error::PlanError;
use super::joined::Joining;
use crate::panel::{HeadKind, JobFiles, Machine, Material};
use crate::path::{CLEAR, LaserSettings, RouterSettings, through};
use crate::safety::{Bites, Check, HoldNeeds, laser_checks, router_checks};
use crate::setup::parting_gap;

/// How the machine's head cuts this material.
#[derive(Debug)]
pub(super) enum HeadSettings {
    /// With a beam.
    Laser(LaserSettings),
    /// With a cutter.
    Router(RouterSettings),
}

impl HeadSettings {
    /// The settings for a material: the reader has seen to it that it knows the machine's head.
    pub(super) fn of(files: &JobFiles, material: &Material) -> Result<Self, PlanError> {
        let cut = &files.panel.cut;
        let step = files.post.gcode.number.step();
        match (&files.machine.head, material) {
            (HeadKind::Laser(laser), material) => {
                let set = material.laser.as_ref().ok_or_else(unknown_head)?;
                let power_percent = laser.percent_for(set);
                Ok(Self::Laser(LaserSettings {
                    kerf: set.kerf,
                    feed: set.feed,
                    power_percent,
                    power_word: power_percent / 100.0 * laser.full_power_word,
                    bridges: set.bridges,
                    bridge_width: set.bridge_width,
                    least_bridge_width: set
                        .least_bridge_width
                        .max(set.least_bridge_section / material.thickness[0]),
                    gap: set.gap,
                    relief: cut.relief,
                    step,
                }))
            }
            (HeadKind::Router(router), material) => {
                let set = material.router.as_ref().ok_or_else(unknown_head)?;
                Ok(Self::Router(RouterSettings {
                    diameter: router.tool.diameter,
                    feed: set.feed,
                    plunge_feed: set.plunge_feed,
                    speed_rpm: set.speed_rpm,
                    spin_up_s: router.spin_up_s,
                    pass_depth: set.pass_depth,
                    spoil: router.spoil,
                    safe_height: router.safe_height,
                    tabs: set.tabs,
                    tab_width: set.tab_width,
                    least_tab_width: set
                        .least_tab_width
                        .max(set.least_tab_section / set.tab_height),
                    tab_height: set.tab_height,
                    gap: set.gap,
                    parting_gap: parting_gap(router.tool.diameter, router.saw_kerf),
                    relief: cut.relief,
                    tool_number: router.tool.number,
                    tool_name: router.tool.name.clone(),
                    milling: set.milling,
                    step,
                }))
            }
        }
    }

    /// Half the kerf, or the tool's radius, mm.
    pub(super) fn radius(&self) -> f64 {
        match self {
            Self::Laser(set) => 0.5 * set.kerf,
            Self::Router(set) => 0.5 * set.diameter,
        }
    }

    /// What a hold is to leave standing along the cut, mm.
    pub(super) fn hold_width(&self) -> f64 {
        match self {
            Self::Laser(set) => set.bridge_width,
            Self::Router(set) => set.tab_width,
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
            Self::Laser(set) => set.gap,
            Self::Router(set) => set.gap + 2.0 * set.diameter,
        }
    }

    /// What is left between the cuts of neighbouring pieces: a beam's cuts lie within the gap, a
    /// tool's beside it, but for the way that its notches reach into it.
    pub(super) fn strip(&self, machine: &Machine, material: &Material) -> f64 {
        match self {
            Self::Laser(set) => set.gap - 2.0 * (set.kerf + flare(machine, material)),
            Self::Router(set) => set.gap - CLEAR,
        }
    }

    /// How pieces that are too short to be held stay joined; a beam cuts pieces of any length.
    pub(super) fn joining(&self, machine: &Machine, material: &Material) -> Option<Joining> {
        match (self, &machine.head) {
            (Self::Router(set), HeadKind::Router(router)) => Some(Joining {
                hold: router.hold_length,
                gap: set.parting_gap,
                least_bridge: material.least_section,
            }),
            _ => None,
        }
    }

    pub(super) fn checks(
        &self,
        machine: &Machine,
        material: &Material,
        shortest: Option<(f64, String)>,
    ) -> Vec<Check> {
        match (self, &machine.head) {
            (Self::Laser(_), HeadKind::Laser(laser)) => {
                let cut = material.laser.as_ref();
                cut.map_or_else(Vec::new, |cut| laser_checks(machine, laser, cut))
            }
            (Self::Router(set), HeadKind::Router(router)) => {
                let Some(cut) = &material.router else {
                    return Vec::new();
                };
                let thickness = material.thickness[1];
                let passes = set.passes(thickness);
                let deepest = thickness - passes.last().copied().unwrap_or(0.0);
                router_checks(machine, router, cut, thickness, deepest, shortest)
            }
            _ => Vec::new(),
        }
    }
}

/// How much wider the cut is at one face of the stock than at the other, mm.
pub(super) fn flare(machine: &Machine, material: &Material) -> f64 {
    match (&machine.head, &material.laser) {
        (HeadKind::Laser(_), Some(laser)) => laser.flare,
        _ => 0.0,
    }
}

/// What the holds of pieces cut flat from a material must be.
pub(super) fn hold_needs(machine: &Machine, material: &Material) -> Result<HoldNeeds, PlanError> {
    match (&machine.head, &material.laser, &material.router) {
        (HeadKind::Laser(_), Some(cut), _) => Ok(HoldNeeds::of_bridges(cut)),
        (HeadKind::Router(router), _, Some(cut)) => {
            let thickness = material.thickness[1];
            let deepest = thickness + through(router.spoil);
            Ok(HoldNeeds::of_tabs(cut, &router.tool, deepest))
        }
        _ => Err(unknown_head()),
    }
}

fn unknown_head() -> PlanError {
    PlanError::Internal("no head for this material".into())
}

/// What only a fault of this program brings about: files for edge-up cutting name a router.
pub(super) fn no_router() -> PlanError {
    PlanError::Internal("edge-up cutting without a router".into())
}
