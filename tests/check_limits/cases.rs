//! For every check, a number in one of a job's files: the last one that passes and the first that fails.

use lapwright::panel::SourceKind::{self, Machine, Material, Panel, Pattern, Stock};
use lapwright::safety::CheckId;

/// A change to the text of one of a job's files: what stands there, and what is put in its place.
pub type Edit = (SourceKind, &'static str, &'static str);

/// A limit met from both sides, in a built-in panel's own files.
pub struct Case {
    /// The check.
    pub id: CheckId,
    /// The built-in panel.
    pub panel: &'static str,
    /// Changes that both sides share.
    pub common: &'static [Edit],
    /// Where the number stands: file, text, and the text with `{}` for the number.
    pub number: Edit,
    /// The last number that passes.
    pub inside: &'static str,
    /// The first number that fails.
    pub outside: &'static str,
    /// The least step of this number in a file.
    pub step: f64,
}

/// A case without shared changes.
const fn case(
    id: CheckId,
    panel: &'static str,
    number: Edit,
    [inside, outside]: [&'static str; 2],
    step: f64,
) -> Case {
    Case {
        id,
        panel,
        common: &[],
        number,
        inside,
        outside,
        step,
    }
}

/// A case with shared changes.
const fn with(common: &'static [Edit], case: Case) -> Case {
    Case { common, ..case }
}

/// A hundredth of the width of a hair: lengths.
const MM: f64 = 0.001;

const SPIN_UP: &str = "spin_up_s = 4 ";
const FLAT: &str = "method = \"flat\"                       # on its side, both edges in one setup";
const EDGE_UP: &str = "method = \"edge-up\"";
const CORNERED: &str = "method = \"flat\"\nrelief = \"corner\"";
const UNRELIEVED: &str = "method = \"flat\"\nrelief = \"none\"";

/// A three-way lattice of 2.8 mm bars in the router's soft plywood: its middle bars are relieved in both
/// edges of every joint.
const THREE_WAY_ROUTED: &[Edit] = &[
    (Panel, "layout = \"square\"", "layout = \"three-way\""),
    (Panel, "pitch_across = 60", "pitch = 60"),
    (
        Panel,
        "pitch_up = 45                         # mm between level bars\n",
        "",
    ),
    (Panel, "rows = 5", "rows = 3"),
    (Panel, "overhang = 15", "overhang = 40"),
    (Material, "tight_joints = true", "tight_joints = false"),
    (Panel, FLAT, CORNERED),
];

/// Two small lattices: six uprights of 195, eight level bars of 180.
const SHORT_PIECES: &[Edit] = &[
    (Panel, "machine = ", "quantity = 2\nmachine = "),
    (Panel, "columns = 4", "columns = 2"),
    (Panel, "rows = 5", "rows = 3"),
];

/// The same in 2 mm hardwood with a tool of 1.5 mm, too short to be held.
const THIN_PIECES: &[Edit] = &[
    (Panel, "machine = ", "quantity = 2\nmachine = "),
    (Panel, "columns = 4", "columns = 2"),
    (Panel, "rows = 5", "rows = 3"),
    (Panel, "face = 4 ", "face = 2 "),
    (Machine, "diameter = 3.0", "diameter = 1.5"),
    (Machine, "hold_length = 80", "hold_length = 300"),
    (Stock, "thickness = 4 ", "thickness = [2, 4] "),
];

/// A lattice whose lowest falling bar runs into the lower left corner and just reaches the first upright.
const CORNER_STUB: &[Edit] = &[
    (Panel, "left = \"inner-edge\"", "left = { clear = 18 }"),
    (Panel, "overhang = 8", "overhang = 0"),
    // Wide enough that the beam has room in what the bar's end leaves of the notch.
    (Panel, "clearance = 0.05", "clearance = 0.4"),
    (Material, "play = 0.3", "play = 1"),
];

/// Three pieces that meet at 120 degrees, the first of another face, made by hand.
const THREE_MEET: &[Edit] = &[
    (Panel, "cut = \"blanks\"", "cut = \"by-hand\""),
    (Panel, "leave_cut_cells = false", "leave_cut_cells = true"),
    (
        Pattern,
        "each = true                           # laid for every corner, which then is corner 1\n",
        "",
    ),
    (
        Pattern,
        "[[rule.hinge]]                        # two that can be made as one, locked by the third (common practice, no source)\n\
         from = \"corner 1\"                     # the other end of the first\n\
         at = \"incentre\"                       # where they meet: sawn nearly through here, and folded\n\
         to = \"corner 3\"                       # the other end of the second\n",
        "[[rule.piece]]\nfrom = \"corner 2\"\nto = \"incentre\"\nstart = \"bar\"\nend = \"seam\"\n\
         [[rule.piece]]\nfrom = \"corner 3\"\nto = \"incentre\"\nstart = \"bar\"\nend = \"seam\"\n",
    ),
];

/// Level bars with a notch of 4.05 at every upright, close to each other and to their ends.
const DENSE_TEETH: &[Edit] = &[
    (Panel, "columns = 4", "columns = 20"),
    (Panel, "left = { clear = 15 }", "left = { clear = 5 }"),
    (Panel, "right = { clear = 15 }", "right = { clear = 5 }"),
    (Panel, "overhang = 15", "overhang = 0"),
    (Material, "least_web = 3", "least_web = 1"),
    // Reliefs would take the wood between them.
    (Panel, FLAT, UNRELIEVED),
    (Material, "crush = 0.05", "crush = 1"),
];

/// All limits that a job's files can reach.
pub const CASES: &[Case] = &[
    case(
        CheckId::Bridges,
        "plain-window",
        (Material, "bridges = 2", "bridges = {}"),
        ["2", "1"],
        1.0,
    ),
    // Narrower and lower holds break (from memory).
    case(
        CheckId::Bridges,
        "plain-window",
        (Material, "bridge_width = 0.5", "bridge_width = {}"),
        ["0.3", "0.299"],
        MM,
    ),
    // Chip load = feed / (speed × flutes), the usual formula of machining handbooks: 16000 rev/min and
    // two flutes at 0.02 and 0.06 mm are 640 and 1920 mm/min.
    case(
        CheckId::ChipLoad,
        "router-square",
        (Material, "feed = 1200", "feed = {}"),
        ["640", "639"],
        1.0,
    ),
    case(
        CheckId::ChipLoad,
        "router-square",
        (Material, "feed = 1200", "feed = {}"),
        ["1920", "1921"],
        1.0,
    ),
    // hypot(r - c/2, r) - r with r = 0.075 and c = 0.05 is 0.01514; with r = 1.5, 0.60375.
    case(
        CheckId::CornerFillet,
        "plain-window",
        (Material, "crush = 0.1 ", "crush = {} "),
        ["0.016", "0.015"],
        MM,
    ),
    with(
        &[(Panel, FLAT, UNRELIEVED)],
        case(
            CheckId::CornerFillet,
            "router-square",
            (Material, "crush = 0.05", "crush = {}"),
            ["0.604", "0.603"],
            MM,
        ),
    ),
    case(
        CheckId::CutFeed,
        "plain-window",
        (Machine, "feed = [60, 12000]", "feed = [60, {}]"),
        ["900", "899"],
        1.0,
    ),
    case(
        CheckId::CutFeed,
        "plain-window",
        (Machine, "feed = [60, 12000]", "feed = [{}, 12000]"),
        ["900", "901"],
        1.0,
    ),
    case(
        CheckId::CutFeed,
        "router-square",
        (Machine, "feed = [50, 3000]", "feed = [50, {}]"),
        ["1200", "1199"],
        1.0,
    ),
    // Stock 4, 0.2 into the spoil board, and 1 to spare.
    case(
        CheckId::FluteLength,
        "router-square",
        (Machine, "flute_length = 15", "flute_length = {}"),
        ["5.2", "5.199"],
        MM,
    ),
    // Shortest piece: an upright, 5 × 45 + 2 × 15 + 2 × 15.
    case(
        CheckId::HoldLength,
        "router-square",
        (Machine, "hold_length = 80", "hold_length = {}"),
        ["285", "285.001"],
        MM,
    ),
    // Level bars of 2 × 60 + 4 × 15 are joined in pairs, 3 mm apart: 363. A third does not fit the strip.
    with(
        SHORT_PIECES,
        case(
            CheckId::HoldLength,
            "router-square",
            (Machine, "hold_length = 80", "hold_length = {}"),
            ["363", "363.001"],
            MM,
        ),
    ),
    // tan a = w1 sin p / (w2 + w1 cos p): at 120 degrees 2 w2 makes square ends, and more makes them re-entrant.
    with(
        THREE_MEET,
        case(
            CheckId::InfillEnd,
            "hemp-leaf-card",
            (
                Pattern,
                "end = \"seam\"                          # meets the other two",
                "end = \"seam\"\nface = {}",
            ),
            ["2", "2.001"],
            MM,
        ),
    ),
    // Half of the thickness, in thousandths, stays below a groove: of 1.999 it is 1, of 1.998 0.999.
    with(
        THIN_PIECES,
        case(
            CheckId::GrooveWood,
            "router-square",
            (Material, "thickness = 4.0", "thickness = {}"),
            ["1.999", "1.998"],
            MM,
        ),
    ),
    case(
        CheckId::LaserPower,
        "plain-window",
        (
            Machine,
            "power_percent = [5, 100]",
            "power_percent = [5, {}]",
        ),
        ["60", "59.999"],
        0.001,
    ),
    case(
        CheckId::LaserPower,
        "plain-window",
        (
            Machine,
            "power_percent = [5, 100]",
            "power_percent = [{}, 100]",
        ),
        ["60", "60.001"],
        0.001,
    ),
    // The bar's upper edge leaves the bottom side at the upright's outer face where the side is clear by
    // pitch / 2 - face / (2 cos 30) - face / 2 × tan 30 = 13 - 1.299.
    with(
        CORNER_STUB,
        case(
            CheckId::MemberHeld,
            "three-way-card",
            (Panel, "bottom = \"centres\"", "bottom = { clear = {} }"),
            ["11.701", "11.7"],
            MM,
        ),
    ),
    // 4.2 mm in three passes of 1.4.
    case(
        CheckId::PassDepth,
        "router-square",
        (Machine, "diameter = 3.0", "diameter = {}"),
        ["1.4", "1.399"],
        MM,
    ),
    case(
        CheckId::Play,
        "plain-window",
        (Panel, "clearance = 0.05", "clearance = {}"),
        ["0.3", "0.301"],
        MM,
    ),
    // Two kerfs of 0.15 within the gap, 0.5 to keep.
    case(
        CheckId::Strip,
        "plain-window",
        (Material, "gap = 2 ", "gap = {} "),
        ["0.8", "0.799"],
        MM,
    ),
    // Notch cuts begin 0.5 from the piece's edge, in the strip.
    case(
        CheckId::Strip,
        "router-square",
        (Material, "gap = 2 ", "gap = {} "),
        ["1", "0.999"],
        MM,
    ),
    case(
        CheckId::PlungeFeed,
        "router-square",
        (Machine, "plunge_feed = 600", "plunge_feed = {}"),
        ["300", "299"],
        1.0,
    ),
    case(
        CheckId::Press,
        "plain-window",
        (Panel, "clearance = 0.05", "clearance = {}"),
        ["-0.05", "-0.051"],
        MM,
    ),
    case(
        CheckId::Press,
        "router-square",
        (Panel, "clearance = 0.05", "clearance = {}"),
        ["-0.02", "-0.021"],
        MM,
    ),
    // Clamps 8, and 1 to spare.
    case(
        CheckId::SafeHeight,
        "router-square",
        (Machine, "safe_height = 12", "safe_height = {}"),
        ["9", "8.999"],
        MM,
    ),
    // Half the depth, 1.5 to keep; a third of it in a three-way lattice.
    case(
        CheckId::Section,
        "plain-window",
        (Panel, "depth = 12", "depth = {}"),
        ["3", "2.999"],
        MM,
    ),
    case(
        CheckId::Section,
        "three-way-card",
        (Panel, "depth = 9", "depth = {}"),
        ["4.5", "4.499"],
        MM,
    ),
    // A floor relieved with a tool of 2.4 is bitten by r (1 - 1/√2) = 0.35147: 6 less that is 5.64853.
    with(
        &[
            (Panel, FLAT, CORNERED),
            (Machine, "diameter = 3.0", "diameter = 2.4"),
        ],
        case(
            CheckId::Section,
            "router-square",
            (Material, "least_section = 3", "least_section = {}"),
            ["5.648", "5.649"],
            MM,
        ),
    ),
    // Corners take a chord of r √2 each off the floor of 4.05: a tool of 2.51 leaves 0.5003 of it.
    with(
        &[(Panel, FLAT, CORNERED)],
        case(
            CheckId::Seat,
            "router-square",
            (Machine, "diameter = 3.0", "diameter = {}"),
            ["2.51", "2.511"],
            MM,
        ),
    ),
    // A third of 12, bitten from both edges: 4 - 2 × 0.43934 = 3.12132.
    with(
        THREE_WAY_ROUTED,
        case(
            CheckId::Section,
            "router-square",
            (Material, "least_section = 3", "least_section = {}"),
            ["3.121", "3.122"],
            MM,
        ),
    ),
    // A level bar over one spacing of 30 and 9 at either end: 48.
    with(
        &[(Panel, "columns = 5", "columns = 1")],
        case(
            CheckId::ShortMember,
            "plain-window",
            (Panel, "depth = 12", "depth = {}"),
            ["48", "48.001"],
            MM,
        ),
    ),
    // Face and clearance: 4.05.
    case(
        CheckId::SlotWidth,
        "router-square",
        (Machine, "diameter = 3.0", "diameter = {}"),
        ["4.05", "4.051"],
        MM,
    ),
    case(
        CheckId::SpinUp,
        "router-square",
        (Machine, "spin_up_s = 4", "spin_up_s = {}"),
        ["2", "1.999"],
        MM,
    ),
    case(
        CheckId::SpindleSpeed,
        "router-square",
        (
            Machine,
            "speed_rpm = [8000, 24000]",
            "speed_rpm = [8000, {}]",
        ),
        ["16000", "15999"],
        1.0,
    ),
    case(
        CheckId::SpindleSpeed,
        "router-square",
        (
            Machine,
            "speed_rpm = [8000, 24000]",
            "speed_rpm = [{}, 24000]",
        ),
        ["16000", "16001"],
        1.0,
    ),
    // The check panel's uprights are floored from both edges: 0.05 either way of 12.
    case(
        CheckId::StickDepth,
        "check",
        (
            Material,
            "[router]",
            "[[milled]]\nface = 4\ndepth = [12, {}]\n[router]",
        ),
        ["12.05", "12.051"],
        MM,
    ),
    case(
        CheckId::StickDepth,
        "check",
        (
            Material,
            "[router]",
            "[[milled]]\nface = 4\ndepth = [{}, 12]\n[router]",
        ),
        ["11.95", "11.949"],
        MM,
    ),
    // Half-laps are floored from one edge: 0.3, as for a face.
    with(
        &[(Panel, FLAT, EDGE_UP)],
        case(
            CheckId::StickDepth,
            "router-square",
            (
                Material,
                "[router]",
                "[[milled]]\nface = 4\ndepth = [12, {}]\n[router]",
            ),
            ["12.3", "12.301"],
            MM,
        ),
    ),
    with(
        &[(Panel, FLAT, EDGE_UP)],
        case(
            CheckId::StickDepth,
            "router-square",
            (
                Material,
                "[router]",
                "[[milled]]\nface = 4\ndepth = [{}, 12]\n[router]",
            ),
            ["11.7", "11.699"],
            MM,
        ),
    ),
    // A middle member of a stick of 12.03 keeps 12 / 3 - 0.03.
    with(
        &[(
            Material,
            "[router]",
            "[[milled]]\nface = 4\ndepth = [12, 12.03, 11.99]\n[router]",
        )],
        case(
            CheckId::Section,
            "check",
            (Material, "least_section = 3", "least_section = {}"),
            ["3.97", "3.971"],
            MM,
        ),
    ),
    // Clamps 8 on stock 4, 1 to spare, and the tip 0.2 below the stock.
    case(
        CheckId::StickOut,
        "router-square",
        (Machine, "stick_out = 25", "stick_out = {}"),
        ["13.2", "13.199"],
        MM,
    ),
    case(
        CheckId::Tabs,
        "router-square",
        (Material, "tabs = 3", "tabs = {}"),
        ["2", "1"],
        1.0,
    ),
    case(
        CheckId::Tabs,
        "router-square",
        (Material, "tab_width = 4", "tab_width = {}"),
        ["2", "1.999"],
        MM,
    ),
    case(
        CheckId::Tabs,
        "router-square",
        (Material, "tab_height = 0.8", "tab_height = {}"),
        ["0.5", "0.499"],
        MM,
    ),
    // The tabs are 4 wide and 0.8 high.
    case(
        CheckId::Tabs,
        "router-square",
        (Material, "least_tab_width = 2 ", "least_tab_width = {} "),
        ["4", "4.001"],
        MM,
    ),
    case(
        CheckId::Tabs,
        "router-square",
        (
            Material,
            "least_tab_height = 0.5 ",
            "least_tab_height = {} ",
        ),
        ["0.8", "0.801"],
        MM,
    ),
    case(
        CheckId::Tabs,
        "router-square",
        (
            Material,
            "least_tab_section = 1.0 ",
            "least_tab_section = {} ",
        ),
        ["3.2", "3.201"],
        MM,
    ),
    // Bridges of 0.5 in card of 1.5.
    case(
        CheckId::Bridges,
        "plain-window",
        (
            Material,
            "least_bridge_width = 0.3 ",
            "least_bridge_width = {} ",
        ),
        ["0.5", "0.501"],
        MM,
    ),
    case(
        CheckId::Bridges,
        "plain-window",
        (
            Material,
            "least_bridge_section = 0.4 ",
            "least_bridge_section = {} ",
        ),
        ["0.75", "0.751"],
        MM,
    ),
    // F = k b h (after Kienzle): 80 N/mm² by a pass of 4.2 / 3 by a chip of 1200 / (16000 · 2), three times over, is
    // 12.6 N; three tabs of 4 by 0.8 are 9.6 mm².
    case(
        CheckId::HoldForce,
        "router-square",
        (Material, "hold_strength = 5 ", "hold_strength = {} "),
        ["1.313", "1.312"],
        0.001,
    ),
    case(
        CheckId::HoldForce,
        "router-square",
        (Material, "cutting_force = 80 ", "cutting_force = {} "),
        ["304.7", "304.8"],
        0.1,
    ),
    // Two rails at 200 N and a friction of 0.3 hold with 120 N: three times k by a pass of 8 / 6 by 0.0375.
    case(
        CheckId::HoldForce,
        "check",
        (Material, "cutting_force = 80 ", "cutting_force = {} "),
        ["800", "800.1"],
        0.1,
    ),
    // Between notches of 4.05 and at ends without overhang: the least tab of 2 and 0.5 of wood on either side.
    with(
        DENSE_TEETH,
        case(
            CheckId::Tabs,
            "router-square",
            (Panel, "pitch_across = 60", "pitch_across = {}"),
            ["7.05", "7.049"],
            MM,
        ),
    ),
    // A pitch less the notch of 1.55; 1 to keep, at the ends too.
    with(
        &[
            (Panel, "bottom = { clear = 9 }", "bottom = { clear = 2 }"),
            (Panel, "top = { clear = 9 }", "top = { clear = 2 }"),
        ],
        case(
            CheckId::Web,
            "plain-window",
            (Panel, "pitch_up = 24", "pitch_up = {}"),
            ["2.55", "2.549"],
            MM,
        ),
    ),
    // The end of an upright, from a notch that reaches 0.775 to either side; 1 to keep.
    case(
        CheckId::Web,
        "plain-window",
        (Panel, "bottom = { clear = 9 }", "bottom = { clear = {} }"),
        ["1.775", "1.774"],
        MM,
    ),
    // Mirrored notches at 60 degrees: a sliver stands where face |cos 60| exceeds the other bars' mean
    // width, here 4 / 2 against 1.95 + 0.05.
    with(
        &[
            (
                Panel,
                "face = 4 ",
                "faces = { rising = 4, upright = 1.95, falling = 1.95 } ",
            ),
            (Machine, "diameter = 3.0", "diameter = 1.5"),
        ],
        case(
            CheckId::Wedge,
            "check",
            (Panel, "upright = 1.95", "upright = {}"),
            ["1.95", "1.949"],
            MM,
        ),
    ),
    // Edge up. A gang of three: 0.1 / sin 60 = 0.11547 for clearance and crush; fences take
    // 2 * 3 * 4 * 0.02 degrees / sin² 60 = 0.01117, square ends 4 tan 0.2 degrees = 0.01396, and seating
    // 0.07823 / sin 60 the rest.
    with(
        &[(Panel, "spares = 1", "spares = 1\ngang = 3")],
        case(
            CheckId::Parting,
            "check",
            (Machine, "seating = 0.03", "seating = {}"),
            ["0.078", "0.079"],
            MM,
        ),
    ),
    // Rails 0.3 lower than sticks of 12, and at least half as high.
    case(
        CheckId::BattenHeight,
        "check",
        (Machine, SPIN_UP, "batten_height = {}\nspin_up_s = 4 "),
        ["11.7", "11.701"],
        MM,
    ),
    case(
        CheckId::BattenHeight,
        "check",
        (Machine, SPIN_UP, "batten_height = {}\nspin_up_s = 4 "),
        ["6", "5.999"],
        MM,
    ),
    // Battens of 11.7, the groove of 0.2 below the bed, and 1.
    case(
        CheckId::FluteLength,
        "check",
        (Machine, "flute_length = 15", "flute_length = {}"),
        ["12.9", "12.899"],
        MM,
    ),
    case(
        CheckId::Bed,
        "check",
        (Panel, "spares = 1", "spares = 1\nbed = {}"),
        ["0.3", "0.301"],
        MM,
    ),
    // The second rail: from 1 past the fence, 40 cot 60 back, to 2 past the far end of stick 10, whose middle lies
    // 38 cot 60 back: 455 + 2 - 1 + 4 cot 60.
    case(
        CheckId::RailLength,
        "check",
        (Machine, SPIN_UP, "rail_length = {}\nspin_up_s = 4 "),
        ["458.31", "458.309"],
        MM,
    ),
    case(
        CheckId::FenceAngle,
        "check",
        (Machine, "fence_deg = [20, 160]", "fence_deg = [20, {}]"),
        ["120", "119.999"],
        0.001,
    ),
    // Uprights of 24 pitches on sticks of 1675, twenty times 3 * 4 + 2 * 35.875.
    with(
        &[
            (Panel, "spares = 1", "spares = 1\ngang = 3"),
            (Panel, "rows = 3 ", "rows = 24 "),
            (Panel, "limit = 500", "limit = 2000"),
            (Machine, "travel = [600,", "travel = [3000,"),
            (Stock, "length = 560", "length = 3000"),
        ],
        case(
            CheckId::GangSlender,
            "check",
            (Machine, SPIN_UP, "rail = {}\nspin_up_s = 4 "),
            ["35.875", "35.874"],
            MM,
        ),
    ),
    // Three sticks of 4 between rails of 30.
    case(
        CheckId::GangWidth,
        "check",
        (Machine, SPIN_UP, "clamp_width = {}\nspin_up_s = 4 "),
        ["72", "71.999"],
        MM,
    ),
    // Where zero may stand, path and wood: three sticks of 4 and a rail of 30 on either side of zero, one side a hand.
    case(
        CheckId::Reach,
        "check",
        (Machine, "400, 80]", "{}, 80]"),
        ["84", "83.999"],
        MM,
    ),
    // Ten sticks of 4: the second rail ends 70 from zero, to either side.
    case(
        CheckId::Reach,
        "check",
        (
            Machine,
            "feed = [50,",
            "bed = { y = [-100, {}] }\nzero = { y = [45, 100] }\nfeed = [50,",
        ),
        ["115", "114.999"],
        MM,
    ),
    case(
        CheckId::Reach,
        "check",
        (
            Machine,
            "feed = [50,",
            "zero = { y = [0, {}] }\nfeed = [50,",
        ),
        ["70", "69.999"],
        MM,
    ),
    case(
        CheckId::Reach,
        "check",
        (
            Machine,
            "feed = [50,",
            "zero = { y = [{}, 400] }\nfeed = [50,",
        ),
        ["330", "330.001"],
        MM,
    ),
    // The tip goes 0.2 below the board, and 12 above sticks of 12.
    case(
        CheckId::Reach,
        "check",
        (
            Machine,
            "travel = [600, 400, 80]",
            "travel = [600, 400, {}]",
        ),
        ["24.2", "24.199"],
        MM,
    ),
    // A card of 420 by 297.
    case(
        CheckId::Reach,
        "plain-window",
        (Machine, "feed = [60,", "bed = { x = [0, {}] }\nfeed = [60,"),
        ["420", "419.999"],
        MM,
    ),
    case(
        CheckId::Reach,
        "plain-window",
        (
            Machine,
            "feed = [60,",
            "bed = { y = [100, 420] }\nzero = { y = [0, {}] }\nfeed = [60,",
        ),
        ["100", "99.999"],
        MM,
    ),
    // 25 sin 60, less half a slot of 4.05, half of 4 cos 60, and 5 beside the hold.
    case(
        CheckId::HoldRoom,
        "check",
        (Machine, SPIN_UP, "hold_width = {}\nspin_up_s = 4 "),
        ["13.625", "13.626"],
        MM,
    ),
    with(
        &[(Panel, "tail = 25", "tail = 60")],
        case(
            CheckId::MarkRoom,
            "check",
            (Machine, SPIN_UP, "hold_width = {}\nspin_up_s = 4 "),
            ["21.749", "21.75"],
            MM,
        ),
    ),
    // Thick enough for screws.
    case(
        CheckId::Rail,
        "check",
        (Machine, SPIN_UP, "rail = {}\nspin_up_s = 4 "),
        ["30", "29.999"],
        MM,
    ),
];
