//! Real jobs: a laser's, a router's, and a three-way lattice.

use lapwright::geom::Point;
use lapwright::job::{Made, Plan, SheetFiles, plan, prove_sheet};
use lapwright::panel::JobFiles;
use lapwright::path::Program;
use lapwright::replay::gcode_read::{EventKind, read};
use lapwright::replay::{DialectRules, ReplayFault, SheetProof, SweptMove};
use lapwright::setup::{FlatLayout, FlatSheet};

/// All panels that are cut flat.
pub const PANELS: [&str; 3] = ["demo", "router-square", "three-way-card"];

pub type Proof = Result<SheetProof, Vec<(&'static str, ReplayFault)>>;

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
        let files = JobFiles::builtin_panel(panel).expect("a built-in panel");
        let plan = plan(files, &mut |_| ()).expect("a sound panel");
        let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
        Self { plan, made }
    }

    pub fn sheets(&self) -> usize {
        self.layout().sheets.len()
    }

    pub fn layout(&self) -> &FlatLayout {
        &self.plan.flat.as_ref().expect("cut flat").layout
    }

    pub fn sheet(&self, n: usize) -> &FlatSheet {
        &self.layout().sheets[n]
    }

    pub fn program(&self, n: usize) -> &Program {
        &self.plan.flat.as_ref().expect("cut flat").programs[n]
    }

    fn file(&self, start: &str, end: &str) -> &[u8] {
        let mut found = self.made.files.iter();
        let found = found.find(|(path, _)| path.starts_with(start) && path.ends_with(end));
        found.expect("a file of the job").1
    }

    pub fn cut(&self, n: usize) -> Cut<'_> {
        let stem = &self.program(n).stem;
        Cut {
            gcode: self.file(&format!("gcode/{stem}"), ".nc"),
            drawn: self.file(&format!("dxf/{stem}"), "-drawn-size.dxf"),
            compensated: self.file(&format!("dxf/{stem}"), "-compensated.dxf"),
        }
    }

    /// What the program says of a sheet's bytes.
    pub fn prove(&self, n: usize, files: SheetFiles<'_>) -> Proof {
        prove_sheet(
            &self.plan.files,
            self.layout(),
            self.sheet(n),
            self.program(n),
            files,
        )
    }

    pub fn prove_gcode(&self, n: usize, gcode: &[u8]) -> Proof {
        let (drawn, compensated) = (None, None);
        self.prove(
            n,
            SheetFiles {
                gcode,
                drawn,
                compensated,
            },
        )
    }

    /// The cuts of a sheet's program as the sweep takes them.
    pub fn cuts(&self, n: usize) -> Vec<SweptMove> {
        let trace = read(
            self.cut(n).gcode,
            &DialectRules::of(&self.plan.files.post.gcode),
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
            let files = SheetFiles {
                gcode,
                drawn: Some(drawn),
                compensated: Some(compensated),
            };
            let proof = job
                .prove(n, files)
                .unwrap_or_else(|f| panic!("{panel} {n}: {f:?}"));
            assert_eq!(proof.compared, job.sheet(n).placements.len(), "{panel} {n}");
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
            let swapped = SheetFiles {
                gcode: own.gcode,
                drawn: Some(own.compensated),
                compensated: Some(own.drawn),
            };
            let faults = job.prove(n, swapped).expect_err("sizes swapped");
            for kind in ["drawn", "compensated"] {
                assert!(
                    faults.iter().any(|(k, _)| *k == kind),
                    "{panel} {n}: {kind}"
                );
            }
            assert!(
                job.prove_gcode(n, own.drawn).is_err(),
                "a drawing for a program"
            );
            for other in (0..job.sheets()).filter(|&other| other != n) {
                let theirs = job.cut(other);
                for (drawn, compensated) in
                    [(Some(theirs.drawn), None), (None, Some(theirs.compensated))]
                {
                    let gcode = own.gcode;
                    let files = SheetFiles {
                        gcode,
                        drawn,
                        compensated,
                    };
                    // The labels tell apart even what is cut alike.
                    assert!(
                        job.prove(n, files).is_err(),
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
