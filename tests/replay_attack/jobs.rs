//! Real jobs: a laser's, a router's, and a three-way lattice.

use lapwright::geom::Point;
use lapwright::job::{CutFile, Made, Proven, plan};
use lapwright::non_empty::NonEmpty;
use lapwright::panel::{JobFiles, SourceKind};
use lapwright::path::Program;
use lapwright::plan::Plan;
use lapwright::replay::dxf::DxfProof;
use lapwright::replay::gcode_read::{EventKind, Frame, read};
use lapwright::replay::{DialectRules, ReplayFault, SheetProof, SweptMove};
use lapwright::setup::{FlatLayout, FlatSheet};

/// All panels that are cut flat, and two whose pieces are too short for the router to hold.
pub const PANELS: [&str; 5] = [
    "demo",
    "router-square",
    "three-way-card",
    JOINED,
    JOINED_WIDE,
];

/// A small lattice in hardwood: its pieces are cut joined end to end, with notches that run out of some of
/// the ends.
pub const JOINED: &str = "router-joined";
/// The same for a saw with a wide kerf: grooves are wider than the tool.
pub const JOINED_WIDE: &str = "router-joined-wide";

/// Changes to the files of the built-in panel `router-square`: kind, what stands there, what is put there.
const SHORT: &[(SourceKind, &str, &str)] = &[
    (SourceKind::Panel, "machine = ", "quantity = 2\nmachine = "),
    (
        SourceKind::Panel,
        "pitch_across = 60",
        "pitch_across = 33.3",
    ),
    (SourceKind::Panel, "pitch_up = 45", "pitch_up = 22.7"),
    (SourceKind::Panel, "columns = 4", "columns = 2"),
    (SourceKind::Panel, "rows = 5", "rows = 3"),
    (
        SourceKind::Panel,
        "left = { clear = 15 }",
        "left = { clear = 11 }",
    ),
    (
        SourceKind::Panel,
        "right = { clear = 15 }",
        "right = { clear = 11 }",
    ),
    (
        SourceKind::Panel,
        "bottom = { clear = 15 }",
        "bottom = { clear = 11 }",
    ),
    (
        SourceKind::Panel,
        "top = { clear = 15 }",
        "top = { clear = 11 }",
    ),
    (SourceKind::Panel, "overhang = 15", "overhang = 10"),
    (SourceKind::Machine, "hold_length = 80", "hold_length = 200"),
];

/// Short pieces again, whose reliefs run along the walls of notches so near to their ends that they take wood between
/// the pieces.
pub const JOINED_BITTEN: &str = "router-joined-bitten";

/// Changes for it, likewise.
const BITTEN: &[(SourceKind, &str, &str)] = &[
    (SourceKind::Panel, "machine = ", "quantity = 2\nmachine = "),
    (
        SourceKind::Panel,
        "pitch_across = 60",
        "pitch_across = 33.3",
    ),
    (SourceKind::Panel, "pitch_up = 45", "pitch_up = 22.7"),
    (SourceKind::Panel, "columns = 4", "columns = 3"),
    (SourceKind::Panel, "rows = 5", "rows = 4"),
    (
        SourceKind::Panel,
        "left = { clear = 15 }",
        "left = \"inner-edge\"",
    ),
    (
        SourceKind::Panel,
        "right = { clear = 15 }",
        "right = \"inner-edge\"",
    ),
    (
        SourceKind::Panel,
        "bottom = { clear = 15 }",
        "bottom = \"inner-edge\"",
    ),
    (
        SourceKind::Panel,
        "top = { clear = 15 }",
        "top = \"inner-edge\"",
    ),
    (SourceKind::Panel, "overhang = 15", "overhang = 0.8"),
    (SourceKind::Panel, "trim_kerf = 1.5", "trim_kerf = 0.5"),
    (SourceKind::Panel, "[cut]", "[cut]\nrelief = \"wall\""),
    (SourceKind::Material, "least_web = 3", "least_web = 0.5"),
    (SourceKind::Machine, "hold_length = 80", "hold_length = 200"),
    (SourceKind::Machine, "diameter = 3.0", "diameter = 1.5"),
];

/// A cutter whose radius no coordinate tells: the copies of a piece are rounded one way or the other.
pub const ODD: &str = "router-odd";

/// Changes for it, likewise.
const ODD_TOOL: &[(SourceKind, &str, &str)] = &[
    (SourceKind::Panel, "machine = ", "quantity = 2\nmachine = "),
    (SourceKind::Stock, "width = 60", "width = 300"),
    (SourceKind::Machine, "diameter = 3.0", "diameter = 3.175"),
];

/// A lattice whose notches leave the back edge of its level bars no room for tabs: they stand on the ends.
pub const ON_ENDS: &str = "router-on-ends";

/// Changes for it, likewise.
const TEETH: &[(SourceKind, &str, &str)] = &[
    (SourceKind::Panel, "pitch_across = 60", "pitch_across = 6.9"),
    (SourceKind::Panel, "columns = 4", "columns = 20"),
    (SourceKind::Panel, "rows = 5", "rows = 3"),
    (
        SourceKind::Panel,
        "left = { clear = 15 }",
        "left = { clear = 5 }",
    ),
    (
        SourceKind::Panel,
        "right = { clear = 15 }",
        "right = { clear = 5 }",
    ),
    (SourceKind::Panel, "overhang = 15", "overhang = 1.5"),
    (SourceKind::Panel, "[cut]", "[cut]\nrelief = \"none\""),
    (SourceKind::Material, "least_web = 3", "least_web = 1"),
    (SourceKind::Material, "crush = 0.05", "crush = 1"),
];

pub type Proof<T> = Result<T, Vec<ReplayFault>>;

/// A job with the bytes that would be put in place.
pub struct Job {
    pub plan: Plan,
    pub made: Made,
}

/// The three cut files of a sheet.
#[derive(Clone, Copy)]
pub struct Cut<'a> {
    pub gcode: &'a [u8],
    pub drawn: &'a [u8],
    pub compensated: &'a [u8],
}

impl Job {
    pub fn new(panel: &str) -> Self {
        let (builtin, changes, kerf) = match panel {
            JOINED => ("router-square", SHORT, "1.0"),
            JOINED_WIDE => ("router-square", SHORT, "6.0"),
            JOINED_BITTEN => ("router-square", BITTEN, "1.0"),
            ODD => ("router-square", ODD_TOOL, "1.0"),
            ON_ENDS => ("router-square", TEETH, "1.0"),
            _ => (panel, &[][..], ""),
        };
        let mut sources = crate::panel_support::panel(builtin).sources;
        for (kind, from, to) in changes {
            for source in sources.iter_mut().filter(|s| s.kind == *kind) {
                let text = String::from_utf8(source.bytes.clone()).expect("text");
                assert!(text.contains(from), "{from}");
                let text = text.replacen(from, to, 1);
                let saw = format!("saw_kerf = {kerf}\nhold_length = ");
                let text = match text.contains("saw_kerf") {
                    true => text,
                    false => text.replacen("hold_length = ", &saw, 1),
                };
                source.bytes = text.into_bytes();
            }
        }
        // The router's corners are relieved between wall and floor, the hardest to follow, with a tool
        // slim enough to leave a seat.
        for source in &mut sources {
            let text = String::from_utf8(source.bytes.clone()).expect("text");
            let text = match (panel, source.kind) {
                ("router-square", SourceKind::Panel) => {
                    text.replacen("[cut]", "[cut]\nrelief = \"corner\"", 1)
                }
                ("router-square", SourceKind::Machine) => {
                    text.replacen("diameter = 3.0", "diameter = 2.4", 1)
                }
                _ => text,
            };
            source.bytes = text.into_bytes();
        }
        let files = JobFiles::from_sources(sources).expect("a sound job");
        let plan = plan(files, &mut |_| ()).expect("a sound panel");
        let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
        Self { plan, made }
    }

    pub fn sheets(&self) -> usize {
        self.layout().sheets.len()
    }

    pub fn layout(&self) -> &FlatLayout {
        &self.plan.flat().expect("cut flat").layout
    }

    pub fn sheet(&self, n: usize) -> &FlatSheet {
        &self.layout().sheets.rows()[n]
    }

    pub fn program(&self, n: usize) -> &Program {
        self.plan
            .flat()
            .expect("cut flat")
            .cuts()
            .nth(n)
            .expect("a program")
            .1
    }

    fn file(&self, n: usize, start: &str, end: &str) -> CutFile<'_> {
        let start = format!("{start}{}", self.program(n).stem);
        let mut files = self.plan.cut_files().into_iter();
        let found = files.find(|file| file.path.starts_with(&start) && file.path.ends_with(end));
        found.expect("a file of the job")
    }

    pub fn cut(&self, n: usize) -> Cut<'_> {
        let bytes = |start, end| self.made.files[&self.file(n, start, end).path].as_slice();
        Cut {
            gcode: bytes("gcode/", ".nc"),
            drawn: bytes("dxf/", "-drawn-size.dxf"),
            compensated: bytes("dxf/", "-compensated.dxf"),
        }
    }

    /// What the program says of the bytes of a sheet's drawing, drawn or compensated.
    pub fn prove_drawing(&self, n: usize, drawn: bool, bytes: &[u8]) -> Proof<DxfProof> {
        let end = if drawn {
            "-drawn-size.dxf"
        } else {
            "-compensated.dxf"
        };
        match self.file(n, "dxf/", end).prove(bytes)? {
            Proven::Drawing(proof) => Ok(proof),
            _ => panic!("a program for a drawing"),
        }
    }

    pub fn prove_gcode(&self, n: usize, gcode: &[u8]) -> Proof<SheetProof> {
        match self.file(n, "gcode/", ".nc").prove(gcode)? {
            Proven::Program(proof) => Ok(proof),
            _ => panic!("no program of a sheet"),
        }
    }

    /// The cuts of a sheet's program as the sweep takes them.
    pub fn cuts(&self, n: usize) -> Vec<SweptMove> {
        let trace = read(
            self.cut(n).gcode,
            &DialectRules::of(&self.plan.files.own().expect("a machine").post.gcode),
            &Frame::of(
                self.program(n),
                &self.plan.files.own().expect("a machine").post,
            )
            .expect("a sound program"),
        )
        .expect("a sound program");
        let moves = trace.events.iter().filter_map(|e| match e.kind {
            EventKind::Cut {
                from,
                to,
                arc,
                head_on: true,
                ..
            } => Some(SweptMove {
                line: e.line,
                from,
                to,
                arc: arc.map(|a| (Point::new(a.centre[0], a.centre[1]), a.ccw)),
            }),
            _ => None,
        });
        moves.collect()
    }
}

#[test]
fn sound_files_are_never_refused() {
    for panel in PANELS {
        let job = Job::new(panel);
        for n in 0..job.sheets() {
            let Cut {
                gcode,
                drawn,
                compensated,
            } = job.cut(n);
            let proof = job
                .prove_gcode(n, gcode)
                .unwrap_or_else(|f| panic!("{panel} {n}: {f:?}"));
            let sheet = job.sheet(n);
            assert_eq!(proof.compared, sheet.placements.len(), "{panel} {n}");
            let joined: usize = sheet.chains.iter().map(NonEmpty::gaps).sum();
            assert_eq!(proof.parted, joined, "{panel} {n}");
            for (size, bytes) in [(true, drawn), (false, compensated)] {
                let proof = job
                    .prove_drawing(n, size, bytes)
                    .unwrap_or_else(|f| panic!("{panel} {n}: {f:?}"));
                let pieces = job.sheet(n).placements.len();
                assert!(proof.contours >= pieces, "{panel} {n}: {proof:?}");
            }
        }
    }
}

/// A file in another's place is refused, or is the very same cut under another label.
#[test]
fn swapped_files_are_caught() {
    for panel in PANELS {
        let job = Job::new(panel);
        for n in 0..job.sheets() {
            let own = job.cut(n);
            for (size, bytes) in [(true, own.compensated), (false, own.drawn)] {
                let proof = job.prove_drawing(n, size, bytes);
                assert!(proof.is_err(), "{panel} {n}: sizes swapped");
            }
            assert!(
                job.prove_gcode(n, own.drawn).is_err(),
                "a drawing for a program"
            );
            for other in (0..job.sheets()).filter(|&other| other != n) {
                let theirs = job.cut(other);
                for (size, bytes) in [(true, theirs.drawn), (false, theirs.compensated)] {
                    // The labels tell apart even what is cut alike.
                    assert!(
                        job.prove_drawing(n, size, bytes).is_err(),
                        "{panel}: drawing {other} for {n}"
                    );
                }
                if job.prove_gcode(n, theirs.gcode).is_ok() {
                    let [a, b] = [own.gcode, theirs.gcode].map(super::own_reader::run);
                    super::own_reader::same(&a, &b)
                        .unwrap_or_else(|e| panic!("{panel}: program {other} for {n}: {e}"));
                }
            }
        }
    }
}
