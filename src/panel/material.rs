//! The material file: what is cut, how it has measured, and what it can bear.

use super::from_memory::{FromMemory, read_from_memory};
use super::machine::WATTS;
use super::reader::Table;
use super::readings::{Measured, Milled};
use super::values::{BAR, Limits};

/// Least width of a router's tab in any material, mm: a narrower one is all bruised fibre (from memory).
pub const LEAST_TAB_WIDTH: f64 = 2.0;
/// Least height of a router's tab in any material, mm: the cutter's depth, the board's flatness and a dented
/// underside take some tenths of it (from memory).
pub const LEAST_TAB_HEIGHT: f64 = 0.5;
/// Least section of a router's tab in any material, mm²: that of the least width and height.
pub const LEAST_TAB_SECTION: f64 = LEAST_TAB_WIDTH * LEAST_TAB_HEIGHT;
/// Least width of a laser's bridge in any material, mm: a narrower one chars through (from memory).
pub const LEAST_BRIDGE_WIDTH: f64 = 0.3;
/// Least section of a laser's bridge in any material, mm²: air assist and extraction tear off a smaller one (from
/// memory).
pub const LEAST_BRIDGE_SECTION: f64 = 0.2;

/// A material. Lengths are mm, feeds mm/min.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// What the maker calls it.
    pub name: String,
    /// Measured thickness of flat stock, which becomes the face of the bars: least and greatest reading.
    pub thickness: [f64; 2],
    /// Sticks as milled and measured, for edge-up cutting; empty where nobody has measured them.
    pub milled: Vec<Milled>,
    /// Most that the face of a milled stick differs from one end to the other.
    pub taper: f64,
    /// Whether square-walled openings in a skew joint are too loose for it (hardwood).
    pub tight_joints: bool,
    /// Least clear distance between notches of different nodes.
    pub least_web: f64,
    /// Least height that a member keeps at a node.
    pub least_section: f64,
    /// How far a corner fillet may press into a bar's corner.
    pub crush: f64,
    /// Greatest press fit: how far below 0 a clearance may go.
    pub press: f64,
    /// Greatest clearance of a notch that still makes a joint.
    pub play: f64,
    /// How a laser cuts it, if it has been cleared for that.
    pub laser: Option<LaserCut>,
    /// Why it must not be lasered, where the file says so.
    pub laser_refused: Option<String>,
    /// How a router cuts it.
    pub router: Option<RouterCut>,
    /// Which of the file's values nobody has measured.
    pub from_memory: FromMemory,
}

impl Material {
    /// What whoever has a laser is told, where the file does not clear the material for one.
    #[must_use]
    pub fn not_for_a_beam(&self) -> Option<String> {
        let why = match (&self.laser, &self.laser_refused) {
            (Some(_), _) => return None,
            (None, Some(why)) => why.as_str(),
            (None, None) => "nobody has cleared it for a beam",
        };
        Some(format!("Keep {} away from any laser: {why}.", self.name))
    }

    /// All that has been measured of it.
    #[must_use]
    pub fn measured(&self) -> Measured {
        Measured {
            thickness: self.thickness,
            milled: self.milled.clone(),
        }
    }
}

/// How a laser cuts a material.
#[derive(Debug, Clone, PartialEq)]
pub struct LaserCut {
    /// Width of the cut, measured where it is narrower: at one face of the stock or the other.
    pub kerf: f64,
    /// How much wider the cut is at the other face.
    pub flare: f64,
    /// Feed of the cut.
    pub feed: f64,
    /// Power at the work of the laser that feed and power were found on, W.
    pub watts: Option<f64>,
    /// Power, percent of full.
    pub power_percent: f64,
    /// Uncut bridges that hold each piece.
    pub bridges: u32,
    /// Length of wood or card left at a bridge.
    pub bridge_width: f64,
    /// Least length of a bridge: none is made or counted that is shorter.
    pub least_bridge_width: f64,
    /// Least section of a bridge, length by thickness, mm².
    pub least_bridge_section: f64,
    /// Material left between neighbouring pieces.
    pub gap: f64,
}

/// How a router cuts a material.
#[derive(Debug, Clone, PartialEq)]
pub struct RouterCut {
    /// Spindle speed, rev/min.
    pub speed_rpm: f64,
    /// Feed of the cut.
    pub feed: f64,
    /// Feed straight down.
    pub plunge_feed: f64,
    /// Greatest depth of one pass.
    pub pass_depth: f64,
    /// Least and greatest chip load, mm per flute and turn.
    pub chip_load: [f64; 2],
    /// Tabs that hold each piece.
    pub tabs: u32,
    /// Length of a tab along the cut, as left standing.
    pub tab_width: f64,
    /// Height of a tab above the stock's underside.
    pub tab_height: f64,
    /// Least length of a tab along the cut: none is made or counted that is shorter.
    pub least_tab_width: f64,
    /// Least height of a tab.
    pub least_tab_height: f64,
    /// Least section of a tab, width by height, mm².
    pub least_tab_section: f64,
    /// Stress at which a hold breaks, pulled across the grain: the weakest way, N/mm².
    pub hold_strength: f64,
    /// Force of the cut on a square millimetre of chip, width by thickness, N/mm².
    pub cutting_force: f64,
    /// Material left between the cuts of neighbouring pieces.
    pub gap: f64,
    /// Which way the tool goes along the walls of a slot cut edge up.
    pub milling: Milling,
}

/// Which way a cutter goes along a wall (a cutter that turns clockwise, seen from above).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Milling {
    /// The wall on its left: teeth cut against the feed.
    Conventional,
    /// The wall on its right: teeth cut with the feed.
    Climb,
}

/// A beam is some hundredths wide at its focus at best (from memory); what is narrower is a slip, and less than
/// half of it would be lost in the last decimal of a program.
const LEAST_KERF: Limits = Limits::within(0.02, 5.0, "mm");
const FEED: Limits = Limits::above_zero(200_000.0, "mm/min");
const GAP: Limits = Limits::size_or_none(1000.0);
/// What a material can state as its strength, N/mm²: from cork to the densest board (from memory).
const STRENGTH: Limits = Limits::within(0.5, 100.0, "N/mm2");
/// What a cut can state as its force, N/mm²: less than 20 is claimed of no wood that a router cuts (from memory).
const FORCE: Limits = Limits::within(20.0, 1000.0, "N/mm2");
/// Of a material that does not state them: weaker than, and as hard to cut as, any that the program carries (from
/// memory).
const CAUTIOUS_STRENGTH: f64 = 2.5;
const CAUTIOUS_FORCE: f64 = 100.0;

/// Takes a material file's keys.
pub(super) fn read_material(t: &mut Table<'_>) -> Material {
    let material = Material {
        name: t.name(),
        thickness: t.readings("thickness", &BAR),
        milled: t.tables_opt("milled", |m| Milled {
            face: m.readings("face", &BAR),
            depth: m.readings("depth", &BAR),
        }),
        taper: t.number_or("taper", 0.01, &Limits::size_or_none(0.5)),
        tight_joints: t.flag("tight_joints"),
        least_web: t.number("least_web", &Limits::size_or_none(100.0)),
        least_section: t.number("least_section", &Limits::size_or_none(100.0)),
        crush: t.number_or("crush", 0.05, &Limits::size_or_none(2.0)),
        press: t.number_or("press", 0.0, &Limits::size_or_none(2.0)),
        play: t.number_or("play", 0.2, &Limits::size_or_none(2.0)),
        laser: t.table_opt("laser", read_laser_cut),
        laser_refused: t.line_opt("laser_refused"),
        router: t.table_opt("router", read_router_cut),
        from_memory: read_from_memory(t),
    };
    if material.laser.is_some() && material.laser_refused.is_some() {
        let message = "the file both refuses a laser and says how to cut with it";
        t.fault(
            "laser",
            message,
            "leave out [laser] or, only if it is safe, laser_refused",
        );
    }
    material
}

fn read_laser_cut(t: &mut Table<'_>) -> LaserCut {
    LaserCut {
        kerf: t.number("kerf", &LEAST_KERF),
        flare: t.number_or("flare", 0.0, &Limits::size_or_none(5.0)),
        feed: t.number("feed", &FEED),
        watts: t.number_opt("watts", &WATTS),
        power_percent: t.number("power_percent", &Limits::above_zero(100.0, "percent")),
        bridges: t.count("bridges", 0..=100),
        bridge_width: t.number("bridge_width", &Limits::size(50.0)),
        least_bridge_width: least(t, "least_bridge_width", LEAST_BRIDGE_WIDTH, 50.0, "mm"),
        least_bridge_section: least(
            t,
            "least_bridge_section",
            LEAST_BRIDGE_SECTION,
            1000.0,
            "mm2",
        ),
        gap: t.number("gap", &GAP),
    }
}

/// A least size that a file may raise above the program's own and never lower.
fn least(t: &mut Table<'_>, key: &'static str, floor: f64, most: f64, unit: &'static str) -> f64 {
    t.number_or(key, floor, &Limits::within(floor, most, unit))
}

fn read_router_cut(t: &mut Table<'_>) -> RouterCut {
    RouterCut {
        speed_rpm: t.number("speed_rpm", &Limits::above_zero(200_000.0, "rev/min")),
        feed: t.number("feed", &FEED),
        plunge_feed: t.number("plunge_feed", &FEED),
        pass_depth: t.number("pass_depth", &Limits::within(0.05, 100.0, "mm")),
        chip_load: t.range("chip_load", &Limits::size(5.0)),
        tabs: t.count("tabs", 0..=100),
        tab_width: t.number("tab_width", &Limits::size(100.0)),
        tab_height: t.number("tab_height", &Limits::size(100.0)),
        least_tab_width: least(t, "least_tab_width", LEAST_TAB_WIDTH, 100.0, "mm"),
        least_tab_height: least(t, "least_tab_height", LEAST_TAB_HEIGHT, 100.0, "mm"),
        least_tab_section: least(t, "least_tab_section", LEAST_TAB_SECTION, 1000.0, "mm2"),
        hold_strength: t.number_or("hold_strength", CAUTIOUS_STRENGTH, &STRENGTH),
        cutting_force: t.number_or("cutting_force", CAUTIOUS_FORCE, &FORCE),
        gap: t.number("gap", &GAP),
        milling: {
            let ways = [
                ("conventional", Milling::Conventional),
                ("climb", Milling::Climb),
            ];
            t.choice_opt("milling", &ways)
                .unwrap_or(Milling::Conventional)
        },
    }
}
