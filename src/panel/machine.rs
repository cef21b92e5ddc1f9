//! The machine file: what stands in the workshop, with its limits.

use super::LaserCut;
use super::from_memory::{FromMemory, read_from_memory};
use super::reader::Table;
use super::values::{KERF, Limits};

/// A laser or a router and its limits. Lengths are mm, feeds mm/min.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// What the maker calls it.
    pub name: String,
    /// Travel in x, y and z; a laser's z is 0. Places on the machine are told from its lower left corner.
    pub travel: [f64; 3],
    /// Where zero may stand in x and y, from the travel's lower left corner: least and greatest.
    pub zero: [[f64; 2]; 2],
    /// Where stock may lie in x and y, from the travel's lower left corner: least and greatest.
    pub bed: [[f64; 2]; 2],
    /// Least and greatest feed of a cut.
    pub feed: [f64; 2],
    /// Speed of travel between cuts, for the estimate of time.
    pub travel_feed: f64,
    /// Beam or cutter.
    pub head: HeadKind,
    /// Which of the file's values nobody has measured.
    pub from_memory: FromMemory,
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
    /// Power of the beam at the work, at 100 percent, W; `None` where the file does not say.
    pub watts: Option<f64>,
    /// Least and greatest power, percent.
    pub power_percent: [f64; 2],
    /// S word that means 100 percent.
    pub full_power_word: f64,
}

impl Machine {
    /// How near to the travel's lower left corner zero can stand, in x and y, where it is the lower left
    /// corner of a blank on the bed.
    #[must_use]
    pub fn least_zero(&self) -> [f64; 2] {
        [0, 1].map(|axis| self.zero[axis][0].max(self.bed[axis][0]).max(0.0))
    }

    /// How long something on the bed can be that the head reaches from end to end, in x and y.
    #[must_use]
    pub fn room(&self) -> [f64; 2] {
        [0, 1].map(|axis| self.travel[axis].min(self.bed[axis][1] - self.bed[axis][0]))
    }

    /// The feed of an air run: that of travel, within the range of feeds.
    #[must_use]
    pub fn air_feed(&self) -> f64 {
        self.travel_feed.max(self.feed[0]).min(self.feed[1])
    }
}

impl Laser {
    /// The power, percent of this laser's full one, that brings the work as many watts as a material asks
    /// for: percent × watts of the laser that it was found on / watts of this one. Where either file does
    /// not say its watts, the material's own percentage.
    #[must_use]
    pub fn percent_for(&self, cut: &LaserCut) -> f64 {
        match (cut.watts, self.watts) {
            (Some(found_on), Some(here)) if found_on != here => cut.power_percent * found_on / here,
            _ => cut.power_percent,
        }
    }
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
    /// Kerf of the saw that parts pieces which were cut joined.
    pub saw_kerf: f64,
    /// Height of clamps above the stock's top.
    pub clamp_height: f64,
    /// Error of the fence's direction, degrees.
    pub fence_error_deg: f64,
    /// Apex of a datum end off the centre line.
    pub apex_error: f64,
    /// End out of square, degrees.
    pub square_error_deg: f64,
    /// How far the milled face of a reference rail is from straight.
    pub rail_bow: f64,
    /// Widest gap at a datum end that seating leaves unseen.
    pub seating: f64,
    /// Fence directions the machine can take, degrees from +x: least and greatest.
    pub fence_deg: [f64; 2],
    /// Thickness of the sacrificial rails on both sides of a gang.
    pub rail: f64,
    /// Longest rail on hand; `None` where any can be had.
    pub rail_length: Option<f64>,
    /// Height of fence and rails; `None` for a little less than the sticks' depth.
    pub batten_height: Option<f64>,
    /// Width of the bars that hold a gang down.
    pub hold_width: f64,
    /// Widest gang that the side clamps take, rails included.
    pub clamp_width: f64,
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
    /// The number that the machine's tool table gives it; not 0, which calls for no tool (NISTIR 6556, 3.7.3, from memory).
    pub number: u32,
}

/// Bounds that no workshop's machine passes; a number outside them is a slip.
const TRAVEL: Limits = Limits::size(100_000.0);
/// A place on the bed, which may reach past the travel.
const PLACE: Limits = Limits::within(-100_000.0, 100_000.0, "mm");
const FEED: Limits = Limits::above_zero(200_000.0, "mm/min");
const SPEED: Limits = Limits::above_zero(200_000.0, "rev/min");
const HEIGHT: Limits = Limits::size(1000.0);
const HEIGHT_OR_NONE: Limits = Limits::size_or_none(1000.0);
const PERCENT: Limits = Limits::within(0.0, 100.0, "percent");
pub(super) const WATTS: Limits = Limits::above_zero(100_000.0, "W");
/// No straight cutter is thinner (from memory).
const DIAMETER: Limits = Limits::within(0.1, 100.0, "mm");
/// A narrower bar across a gang bends, and dents the sticks (from memory).
const HOLD_WIDTH: Limits = Limits::within(3.0, 200.0, "mm");
const SMALL_ANGLE: Limits = Limits::within(0.0, 10.0, "degrees");

/// Kerf of a fine saw, mm (from memory).
const SAW_KERF: f64 = 1.0;

/// Takes a machine file's keys.
pub(super) fn read_machine(t: &mut Table<'_>) -> Machine {
    let name = t.name();
    let mark = t.mark();
    let travel = t.two_or_three("travel", &Limits::size_or_none(100_000.0));
    if travel.iter().take(2).any(|v| *v == 0.0) {
        t.fault(
            "travel",
            "`travel` in x and y must be more than 0",
            "write travel = [600, 400]",
        );
    }
    let zero = t.table_opt("zero", |z| read_zero(z, mark, travel));
    let whole = [[0.0, travel[0]], [0.0, travel[1]]];
    let bed = t.table_opt("bed", |b| read_bed(b, mark, whole));
    let feed = t.range("feed", &FEED);
    let travel_feed = t.number("travel_feed", &FEED);
    let head = match (t.has("laser"), t.has("router")) {
        (true, true) => {
            let hint = "write a file for each head: a job is cut with one of them";
            t.fault(
                "router",
                "a machine has [laser] or [router], not both",
                hint,
            );
            t.table("laser", read_laser);
            HeadKind::Router(t.table("router", read_router))
        }
        (_, true) => {
            if t.has_table("router") && travel[2] == 0.0 {
                let hint = "write travel = [600, 400, 80], the third for z";
                t.fault("travel", "a router's `travel` needs a third number", hint);
            }
            HeadKind::Router(t.table("router", read_router))
        }
        (true, false) => HeadKind::Laser(t.table("laser", read_laser)),
        (false, false) => {
            let message = "the file says neither [laser] nor [router]";
            t.fault(
                "",
                message,
                "add [laser] or [router] on a line of its own and its keys below",
            );
            t.known("laser");
            t.known("router");
            HeadKind::Laser(Laser {
                watts: None,
                power_percent: [1.0; 2],
                full_power_word: 1.0,
            })
        }
    };
    Machine {
        name,
        travel,
        zero: zero.unwrap_or(whole),
        bed: bed.unwrap_or(whole),
        feed,
        travel_feed,
        head,
        from_memory: read_from_memory(t),
    }
}

/// Where zero may stand: within the travel, which was read after `mark`.
fn read_zero(t: &mut Table<'_>, mark: usize, travel: [f64; 3]) -> [[f64; 2]; 2] {
    [("x", travel[0]), ("y", travel[1])].map(|(key, most)| {
        let range = t.range_or(key, [0.0, most], &Limits::size_or_none(100_000.0));
        if t.sound_since(mark) && range[1] > most {
            let message = format!("zero cannot stand at {} in a travel of {most}", range[1]);
            let hint = format!("write {key} = [least, greatest], from 0 to {most}");
            t.fault(key, message, hint);
        }
        range
    })
}

/// Where stock may lie: `whole` is the travel, which was read after `mark`.
fn read_bed(t: &mut Table<'_>, mark: usize, whole: [[f64; 2]; 2]) -> [[f64; 2]; 2] {
    [("x", whole[0]), ("y", whole[1])].map(|(key, whole)| {
        let range = t.range_or(key, whole, &PLACE);
        if t.sound_since(mark) && range[0] >= range[1] {
            let message = format!("the bed in {key} must be more than 0 long");
            t.fault(key, message, "write where it begins and where it ends");
        } else if t.sound_since(mark) && (range[0] >= whole[1] || range[1] <= whole[0]) {
            let message = format!("the bed in {key} lies beside the travel, 0 to {}", whole[1]);
            t.fault(key, message, "count from the travel's lower left corner");
        }
        range
    })
}

fn read_laser(t: &mut Table<'_>) -> Laser {
    Laser {
        watts: t.number_opt("watts", &WATTS),
        power_percent: t.range_or("power_percent", [0.0, 100.0], &PERCENT),
        full_power_word: t.number("full_power_word", &Limits::above_zero(1e6, "as S")),
    }
}

fn read_router(t: &mut Table<'_>) -> Router {
    Router {
        speed_rpm: t.range("speed_rpm", &SPEED),
        spin_up_s: t.number("spin_up_s", &Limits::within(0.0, 600.0, "s")),
        plunge_feed: t.number("plunge_feed", &FEED),
        safe_height: t.number("safe_height", &HEIGHT),
        spoil: t.number("spoil", &Limits::size_or_none(100.0)),
        hold_length: t.number("hold_length", &TRAVEL),
        saw_kerf: t.number_or("saw_kerf", SAW_KERF, &KERF),
        clamp_height: t.number("clamp_height", &HEIGHT_OR_NONE),
        fence_error_deg: t.number("fence_error_deg", &SMALL_ANGLE),
        apex_error: t.number_or("apex_error", 0.0, &Limits::size_or_none(10.0)),
        square_error_deg: t.number_or("square_error_deg", 0.0, &SMALL_ANGLE),
        fence_deg: t.range_or(
            "fence_deg",
            [20.0, 160.0],
            &Limits::within(1.0, 179.0, "degrees"),
        ),
        rail_bow: t.number_or("rail_bow", 0.01, &Limits::size_or_none(10.0)),
        seating: t.number_or("seating", 0.03, &Limits::size_or_none(10.0)),
        rail: t.number_or("rail", 30.0, &Limits::size(200.0)),
        rail_length: t.number_opt("rail_length", &TRAVEL),
        batten_height: t.number_opt("batten_height", &Limits::size(500.0)),
        hold_width: t.number_or("hold_width", 12.0, &HOLD_WIDTH),
        clamp_width: t.number_or("clamp_width", 150.0, &TRAVEL),
        tool: t.table("tool", read_tool),
    }
}

fn read_tool(t: &mut Table<'_>) -> Tool {
    Tool {
        name: t.name(),
        diameter: t.number("diameter", &DIAMETER),
        flutes: t.count("flutes", 1..=12),
        flute_length: t.number("flute_length", &Limits::size(500.0)),
        stick_out: t.number("stick_out", &Limits::size(500.0)),
        number: t.count_opt("number", 1..=9999).unwrap_or(1),
    }
}
