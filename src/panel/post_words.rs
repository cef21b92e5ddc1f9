//! Words of a controller beyond those that every dialect has: the table `[words]` of a post-processor file.
//!
//! A dialect writes such a word only where its file announces it, and the replay takes it only then.

use super::reader::Table;

/// What a controller takes beyond the words of every dialect.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Words {
    /// The work zero that a program chooses: 54 to 59 for G54 to G59.
    pub work_zero: u32,
    /// How corners are run through, where the program says so.
    pub path_mode: Option<PathMode>,
    /// Router: the tool's length is taken into account by G43 with H.
    pub length_offset: bool,
    /// The program says by G91.1 that arc centres are counted from the arc's start.
    pub relative_centres: bool,
    /// The wait of G4 is in milliseconds; else in seconds.
    pub dwell_ms: bool,
    /// The program stops for the operator by M0.
    pub pause: bool,
    /// What is switched on before the first cut and off at the end.
    pub coolant: Coolant,
    /// How the head is parked after the last move.
    pub park: Option<Park>,
}

impl Default for Words {
    /// What a file without the table says.
    fn default() -> Self {
        Self {
            work_zero: 54,
            path_mode: None,
            length_offset: false,
            relative_centres: false,
            dwell_ms: false,
            pause: false,
            coolant: Coolant::default(),
            park: None,
        }
    }
}

/// How corners are run through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PathMode {
    /// G61: through every programmed point.
    Exact,
    /// G64: without a stop, so that corners may be rounded.
    Continuous,
}

impl PathMode {
    /// The code that chooses it.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Exact => "G61",
            Self::Continuous => "G64",
        }
    }
}

/// Air or coolant: what the controller switches by M7 and M8, and off by M9.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Coolant {
    /// M7.
    pub m7: bool,
    /// M8.
    pub m8: bool,
}

impl Coolant {
    /// Every kind of it.
    const ALL: [Self; 3] = [
        Self {
            m7: true,
            m8: false,
        },
        Self {
            m7: false,
            m8: true,
        },
        Self { m7: true, m8: true },
    ];

    /// What switches it on, as it is written and said; `None` where there is none.
    #[must_use]
    pub fn word(self) -> Option<&'static str> {
        match (self.m7, self.m8) {
            (true, false) => Some("M7"),
            (false, true) => Some("M8"),
            (true, true) => Some("M7 and M8"),
            (false, false) => None,
        }
    }

    /// Whether there is any.
    #[must_use]
    pub fn any(self) -> bool {
        self.m7 || self.m8
    }
}

/// How the head is parked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Park {
    /// G53 with G0: to places of the machine's own frame, where z 0 is the top of its travel.
    MachineFrame,
    /// G28: by way of a place of the program to the machine's home.
    Home,
}

impl Park {
    /// The code that does it.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::MachineFrame => "G53",
            Self::Home => "G28",
        }
    }
}

/// Takes the table's keys.
pub(super) fn read_words(t: &mut Table<'_>, drives_laser: Option<bool>) -> Words {
    let zeros = [
        ("G54", 54),
        ("G55", 55),
        ("G56", 56),
        ("G57", 57),
        ("G58", 58),
        ("G59", 59),
    ];
    let modes = [
        ("exact", PathMode::Exact),
        ("continuous", PathMode::Continuous),
    ];
    let coolants = Coolant::ALL.map(|coolant| (coolant.word().unwrap_or_default(), coolant));
    let parks = [("G53", Park::MachineFrame), ("G28", Park::Home)];
    let mut words = Words {
        work_zero: t.choice_opt("work_zero", &zeros).unwrap_or(54),
        path_mode: t.choice_opt("path_mode", &modes),
        length_offset: t.flag_or("length_offset", false),
        relative_centres: t.flag_or("relative_centres", false),
        dwell_ms: t.choice_opt("dwell", &[("s", false), ("ms", true)]) == Some(true),
        pause: t.flag_or("pause", false),
        coolant: t.choice_opt("coolant", &coolants).unwrap_or_default(),
        park: t.choice_opt("park", &parks),
    };
    if drives_laser == Some(true) {
        for (key, is, what) in [
            (
                "length_offset",
                words.length_offset,
                "a laser has no tool whose length could count",
            ),
            ("dwell", words.dwell_ms, "a laser's program does not wait"),
        ] {
            if is {
                t.fault(
                    key,
                    what,
                    format!("leave `{key}` out, or write drives = \"router\""),
                );
            }
        }
        words.length_offset = false;
    }
    words
}
