//! The machine file: what stands in the workshop, with its limits.

/// A laser or a router and its limits. Lengths are mm, feeds mm/min.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// What the maker calls it.
    pub name: String,
    /// Travel in x, y and z; a laser's z is 0.
    pub travel: [f64; 3],
    /// Least and greatest feed of a cut.
    pub feed: [f64; 2],
    /// Speed of travel between cuts, for the estimate of time.
    pub travel_feed: f64,
    /// Beam or cutter.
    pub head: HeadKind,
}

/// Beam or cutter.
#[derive(Debug, Clone, PartialEq)]
pub enum HeadKind {
    /// A laser.
    Laser(Laser),
    /// A router.
    Router(Router),
}

/// A laser's limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Laser {
    /// Least and greatest power, percent.
    pub power_percent: [f64; 2],
    /// S word that means 100 percent.
    pub full_power_word: f64,
}

/// A router's limits and its tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Router {
    /// Least and greatest spindle speed, rev/min.
    pub speed_rpm: [f64; 2],
    /// Wait for the spindle to spin up, s.
    pub spin_up_s: f64,
    /// Greatest plunge feed, mm/min.
    pub plunge_feed: f64,
    /// Height above the stock's top at which travel is safe.
    pub safe_height: f64,
    /// How deep the tool may cut into the spoil board under the stock.
    pub spoil: f64,
    /// Pieces shorter than this cannot be held one by one.
    pub hold_length: f64,
    /// Height of clamps above the stock's top.
    pub clamp_height: f64,
    /// Error of the fence's direction, degrees.
    pub fence_error_deg: f64,
    /// Apex of a datum end off the centre line.
    pub apex_error: f64,
    /// End out of square, degrees.
    pub square_error_deg: f64,
    /// Fence directions the machine can take, degrees from +x: least and greatest.
    pub fence_deg: [f64; 2],
    /// What turns in the spindle.
    pub tool: Tool,
}

/// A straight cutter.
#[derive(Debug, Clone, PartialEq)]
pub struct Tool {
    /// What the maker calls it.
    pub name: String,
    /// Effective diameter, from a measured test slot.
    pub diameter: f64,
    /// Number of flutes.
    pub flutes: u32,
    /// Length of the cutting edge.
    pub flute_length: f64,
    /// From the collet's face to the tip.
    pub stick_out: f64,
    /// The number that the machine's tool table gives it.
    pub number: u32,
}
