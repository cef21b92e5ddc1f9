//! The panel file: what the maker asks for.

/// A panel as asked for. Lengths are mm, angles degrees.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// What the maker calls it.
    pub name: String,
    /// What its files are called: the name in small letters, digits and hyphens ([`crate::letters::short_name`]).
    pub short_name: String,
    /// How many panels are made in one job.
    pub quantity: u32,
    /// How they are shared out into kits, if the file says.
    pub kits: Option<super::Kits>,
    /// The lattice.
    pub ground: Ground,
    /// Where the lattice is cut off.
    pub outline: Outline,
    /// The frame round the ground, if there is one.
    pub surround: Option<super::Surround>,
    /// The pieces that fill the cells, if there are any.
    pub infill: Option<super::Infill>,
    /// How the members are cut.
    pub cut: Cut,
    /// How members batch into sticks (edge-up cutting).
    pub sticks: Sticks,
    /// How the workshop sheet is printed.
    pub workshop_sheet: WorkshopSheet,
    /// Most joints the program works on before it asks (a slip of a zero is caught here).
    pub joint_limit: u64,
}

/// The lattice as asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground {
    /// Which ready-made set of families.
    pub layout: Layout,
    /// Size of the bars from front to back.
    pub depth: f64,
    /// Face and rank of each family, in the layout's own order ([`Layout::family_names`]).
    pub families: Vec<FamilySpec>,
}

/// One family of parallel bars as asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct FamilySpec {
    /// `upright`, `level`, `rising`, `falling`; a free family has a name of the maker's.
    pub name: String,
    /// Width of the bars as seen from the front.
    pub face: f64,
    /// Order in the joints: 1 lies at the back.
    pub rank: u32,
}

/// A ready-made set of families and its pitches; or families written out.
#[derive(Debug, Clone, PartialEq)]
pub enum Layout {
    /// Families at 0 and 90 degrees, own pitch for each.
    Square {
        /// Distance between uprights.
        pitch_across: f64,
        /// Distance between level bars.
        pitch_up: f64,
    },
    /// Two families that rise and fall at the same angle.
    Diamond {
        /// Distance from joint to joint along every member.
        pitch: f64,
        /// Angle of the rising bars from the level, degrees; the falling ones mirror it.
        angle_deg: f64,
        /// Whether the lower left corner of the joint centres is a joint.
        corner_joint: bool,
    },
    /// Families at 90, 30 and 150 degrees, all meeting in every node.
    ThreeWay {
        /// Distance from joint to joint along every member.
        pitch: f64,
        /// Whether the lower left corner of the joint centres is a joint; else the first upright has
        /// its joints half a pitch above the bottom side.
        corner_joint: bool,
    },
    /// The same directions, shifted so that only two meet in any joint.
    OpenThreeWay {
        /// Distance from joint to joint along every member.
        pitch: f64,
        /// Whether the lower left corner of the joint centres is a joint; else the first upright has
        /// its joints half a pitch above the bottom side.
        corner_joint: bool,
    },
    /// Families at 0, 45, 90 and 135 degrees, four to a node, two in the middle of every cell.
    EightPoint {
        /// Distance between uprights, and between level bars.
        pitch: f64,
    },
    /// Families written out.
    Free(Vec<FreeFamily>),
}

/// A family written out.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeFamily {
    /// Direction of its bars, degrees counter-clockwise from the level.
    pub direction_deg: f64,
    /// Where its bars lie.
    pub lines: FreeLines,
}

/// Where the bars of a free family lie: distances from the ground's zero, to the left of the bars'
/// direction (for an upright family to the right, along x).
#[derive(Debug, Clone, PartialEq)]
pub enum FreeLines {
    /// One bar at `first` and more on either side, `pitch` apart.
    Even {
        /// Distance of one bar.
        first: f64,
        /// Distance between neighbouring bars.
        pitch: f64,
    },
    /// These, ascending.
    Listed(Vec<f64>),
}

impl Layout {
    /// Name in the panel file.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Square { .. } => "square",
            Self::Diamond { .. } => "diamond",
            Self::ThreeWay { .. } => "three-way",
            Self::OpenThreeWay { .. } => "open-three-way",
            Self::EightPoint { .. } => "eight-point",
            Self::Free(_) => "free",
        }
    }

    /// Pitches across and up, mm, the same twice where one sets both; `None` for free families.
    #[must_use]
    pub fn pitches(&self) -> Option<[f64; 2]> {
        match *self {
            Self::Square {
                pitch_across,
                pitch_up,
            } => Some([pitch_across, pitch_up]),
            Self::Diamond { pitch, .. }
            | Self::ThreeWay { pitch, .. }
            | Self::OpenThreeWay { pitch, .. }
            | Self::EightPoint { pitch } => Some([pitch; 2]),
            Self::Free(_) => None,
        }
    }

    /// Names of the layout's families in the order of [`Ground::families`]; a free layout names its own.
    #[must_use]
    pub fn family_names(&self) -> &'static [&'static str] {
        match self {
            Self::Square { .. } => &["upright", "level"],
            Self::Diamond { .. } => &["rising", "falling"],
            Self::ThreeWay { .. } | Self::OpenThreeWay { .. } => &["rising", "upright", "falling"],
            Self::EightPoint { .. } => &["upright", "level", "rising", "falling"],
            Self::Free(_) => &[],
        }
    }
}

/// Where the lattice is cut off.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// Its sides.
    pub shape: OutlineShape,
    /// How far members run past the outline, along the member, until they are trimmed after glue-up;
    /// 0 where they are cut to the outline.
    pub overhang: f64,
    /// Kerf of the saw that trims the glued panel.
    pub trim_kerf: f64,
}

/// A rectangle of so many spacings, or any convex polygon.
#[derive(Debug, Clone, PartialEq)]
pub enum OutlineShape {
    /// A rectangle from the ground's zero.
    Rectangle {
        /// How far its outermost joint centres lie apart.
        size: Size,
        /// How each side meets the joints there.
        sides: Sides,
    },
    /// A convex polygon, counter-clockwise.
    Polygon {
        /// Its sides; each ends where the next starts.
        sides: Vec<PolygonSide>,
        /// Whether corners are counted in the layout's own steps, not in mm.
        in_steps: bool,
    },
}

/// How far the outermost joint centres of a rectangle lie apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    /// In the layout's own steps ([`Layout`]): columns across, rows up.
    Spacings {
        /// From the left to the right outermost joint centres.
        columns: u32,
        /// From the bottom to the top outermost joint centres.
        rows: u32,
    },
    /// In mm, for free families.
    Millimetres {
        /// From left to right.
        width: f64,
        /// From bottom to top.
        height: f64,
    },
}

/// One side of a polygon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PolygonSide {
    /// The corner of the joint centres that it starts from.
    pub from: [f64; 2],
    /// How it meets the joints there.
    pub rule: SideRule,
}

/// The sides of a rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sides {
    /// Left side, upright.
    pub left: SideRule,
    /// Right side, upright.
    pub right: SideRule,
    /// Bottom side, level.
    pub bottom: SideRule,
    /// Top side, level.
    pub top: SideRule,
}

/// How a side of the outline meets the joints there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SideRule {
    /// Through the joint centres.
    Centres,
    /// Along the inner edge of the joints: half a face inside the centres.
    InnerEdge,
    /// This far outside the outermost centres.
    Clear(f64),
}

/// How the members are cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Flat on the side, or edge up in a gang.
    pub method: Method,
    /// A scale model: the face is the card's real thickness.
    pub scale_model: bool,
    /// Play across every notch, both walls together; negative for a press fit.
    pub clearance: f64,
    /// Bars whose sizes differ by no more are the same piece, mm and degrees.
    pub same_piece: f64,
    /// Whether joints with the triangular openings of square-walled notches are accepted in hardwood.
    pub loose_joints: bool,
    /// How inside corners are relieved.
    pub relief: Relief,
    /// Sizes in which DXF files are written, each in files of its own.
    pub dxf: &'static [DxfSize],
    /// Releases in which DXF files are written, each in files of its own.
    pub dxf_version: &'static [DxfVersion],
    /// What a DXF file shows.
    pub dxf_files: &'static [DxfScope],
    /// What a DXF file holds beside what is cut.
    pub dxf_layers: DxfLayers,
}

/// The two ways to cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// On its side; walls square to the stock.
    Flat,
    /// Joint edge up, in a gang against an angled fence.
    EdgeUp,
}

/// How an inside corner is relieved so that a square edge seats.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relief {
    /// Into the corner, along its bisector: bites a little off wall and floor.
    Corner,
    /// Along the floor, into the wall: the floor stays whole, so that bars seat at their depth.
    Floor,
    /// Along the wall, into the floor: the wall stays whole.
    Wall,
    /// Not at all: the fillet of tool or beam stays.
    None,
}

impl Relief {
    /// How far the round bites into the wall, in its radii. Into the corner: 1 - 1 / √2.
    #[must_use]
    pub fn wall_bite(self) -> f64 {
        match self {
            Self::Corner => 1.0 - std::f64::consts::FRAC_1_SQRT_2,
            Self::Floor => 1.0,
            Self::Wall | Self::None => 0.0,
        }
    }

    /// How far the round bites into the floor, in its radii.
    #[must_use]
    pub fn floor_bite(self) -> f64 {
        match self {
            Self::Corner => 1.0 - std::f64::consts::FRAC_1_SQRT_2,
            Self::Wall => 1.0,
            Self::Floor | Self::None => 0.0,
        }
    }

    /// How much of the floor's length each corner takes, in the round's radii: the chord at the floor.
    #[must_use]
    pub fn floor_lost(self) -> f64 {
        match self {
            Self::Corner => std::f64::consts::SQRT_2,
            Self::Wall => 2.0,
            Self::Floor | Self::None => 0.0,
        }
    }
}

/// The size of the contours of a DXF file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DxfSize {
    /// The finished sizes: the machine's own software takes care of the kerf.
    Drawn,
    /// The path of beam or tool, kerf taken in.
    Compensated,
}

/// The release of a DXF file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DxfVersion {
    /// AC1015: contours are LWPOLYLINE, the header says millimetres.
    R2000,
    /// AC1009, for old machines: contours are POLYLINE with VERTEX, the header knows no unit.
    R12,
}

/// What one DXF file shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DxfScope {
    /// A strip or sheet with all its pieces.
    Sheet,
    /// One piece of a class, at the origin.
    Piece,
}

/// What a DXF file holds beside what is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DxfLayers {
    /// Nothing.
    Cuts,
    /// Labels of the pieces.
    Labels,
    /// Labels, and of a sheet the border of the stock and notes.
    All,
}

/// How members batch into sticks (design of edge-up cutting).
#[derive(Debug, Clone, PartialEq)]
pub struct Sticks {
    /// Least wood before a piece's first joint.
    pub lead: f64,
    /// Least wood past a piece's last joint.
    pub tail: f64,
    /// Lead and tail of single families, where they differ: (family name, length at both ends).
    pub ends: Vec<(String, f64)>,
    /// Kerf of the saw that cuts sticks apart.
    pub saw_kerf: f64,
    /// Longest stick.
    pub limit: Option<f64>,
    /// Spare sticks of each class.
    pub spares: u32,
    /// Most sticks of a gang, its outermost ones included.
    pub gang: Option<u32>,
    /// How the ends that lie against the fence are cut.
    pub datum: DatumEnd,
    /// How much a program of its own planes off the board under the sticks; `None` without one.
    pub bed: Option<f64>,
}

/// The end of a stick that lies against the fence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DatumEnd {
    /// Cut square, against one stop: one of its corners touches a skew fence.
    Square,
    /// Pointed from both sides, its facets meeting on the centre line.
    Point,
}

/// How the workshop sheet is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WorkshopSheet {
    /// What it is printed on.
    pub paper: Paper,
    /// How its lengths are written.
    pub units: Units,
}

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    A4,
    /// 8 1/2 by 11 in (ANSI Y14.1, size A).
    Letter,
}

impl Paper {
    /// Width and height upright, mm.
    #[must_use]
    pub fn size(self) -> [f64; 2] {
        match self {
            Self::A4 => [210.0, 297.0],
            Self::Letter => [215.9, 279.4],
        }
    }

    /// Word in the panel file.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
        }
    }
}

/// How a maker reads lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Units {
    /// Millimetres.
    Mm,
    /// Inches, in fractions down to 1/64.
    Inch,
}
