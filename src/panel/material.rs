//! The material file: what is cut, how it has measured, and what it can bear.

/// A material. Lengths are mm, feeds mm/min.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// What the maker calls it.
    pub name: String,
    /// Measured thickness of flat stock, which becomes the face of the bars: least and greatest reading.
    pub thickness: [f64; 2],
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
    /// How a laser cuts it, if it has been cleared for that.
    pub laser: Option<LaserCut>,
    /// Why it must not be lasered, where the file says so.
    pub laser_refused: Option<String>,
    /// How a router cuts it.
    pub router: Option<RouterCut>,
}

/// How a laser cuts a material.
#[derive(Debug, Clone, PartialEq)]
pub struct LaserCut {
    /// Width of the cut, measured.
    pub kerf: f64,
    /// Feed of the cut.
    pub feed: f64,
    /// Power, percent of full.
    pub power_percent: f64,
    /// Uncut bridges that hold each piece.
    pub bridges: u32,
    /// Length of wood or card left at a bridge.
    pub bridge_width: f64,
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
    /// Material left between the cuts of neighbouring pieces.
    pub gap: f64,
}
