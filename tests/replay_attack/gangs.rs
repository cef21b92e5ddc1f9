//! Programs of gangs with a fault each, and gangs that do not lie as their program wants them.

use lapwright::job::{Made, plan};
use lapwright::lattice::Turn;
use lapwright::panel::{JobFiles, SourceKind};
use lapwright::path::Program;
use lapwright::plan::{Bench, Cutting, EdgePlan, Plan};
use lapwright::replay::gcode_read::{EventKind, Frame, read};
use lapwright::replay::{
    DialectRules, GangCuts, ReplayFault, SweptMove, prove_bed, prove_datum, prove_gangs,
};
use lapwright::setup::{Corner, Gang};
use lapwright::table::Table;

use super::gcode::{KINDS, spoilt};
use super::own_reader::{run, same};
use super::spoil::Random;

/// A panel cut edge up, with the bytes that would be put in place.
struct Job {
    plan: Plan,
    made: Made,
}

/// The check panel; its numbers changed to odd ones: `(from, to)` in its own file.
fn job(edits: &[(&str, &str)]) -> Job {
    let mut sources = crate::panel_support::panel("check").sources;
    for source in &mut sources {
        if source.kind == SourceKind::Panel {
            let mut text = String::from_utf8(source.bytes.clone()).expect("text");
            for (from, to) in edits {
                assert!(text.contains(from), "`{from}` stands in the file");
                text = text.replacen(from, to, 1);
            }
            source.bytes = text.into_bytes();
        }
    }
    let files = JobFiles::from_sources(sources).expect("a sound job");
    let plan = plan(files, &mut |_| ()).expect("a sound panel");
    let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
    Job { plan, made }
}

const ODD: &[(&str, &str)] = &[
    ("pitch = 65 ", "pitch = 71.3 "),
    ("depth = 12 ", "depth = 13.1 "),
    ("face = 4 ", "face = 4.2 "),
    ("clearance = 0.05 ", "clearance = 0.03 "),
];

impl Job {
    fn edge(&self) -> &EdgePlan {
        self.plan.edge_up().expect("cut edge up")
    }

    /// Faults of the job with other bytes in place of one file's: of the file alone, if it has any.
    fn faults(&self, path: &str, bytes: &[u8]) -> Vec<String> {
        let files = self.plan.cut_files();
        let file = files.iter().find(|f| f.path == path).expect("a cut file");
        if let Err(faults) = file.prove(bytes) {
            return faults.iter().map(ToString::to_string).collect();
        }
        let of = |p: &str| {
            if p == path {
                Some(bytes)
            } else {
                self.made.files.get(p).map(Vec::as_slice)
            }
        };
        self.plan.replay(of, &mut |_| ()).faults
    }

    fn programs(&self) -> Vec<String> {
        let names = self.made.files.keys().filter(|p| p.ends_with(".nc"));
        names.cloned().collect()
    }

    /// The classes of sticks at the bench.
    fn benches(&self) -> Vec<&Bench> {
        self.edge().benches.iter().collect()
    }

    /// The cuts of a program, read back from its bytes.
    fn read(&self, program: &Program) -> Vec<SweptMove> {
        let path = format!("gcode/{}.nc", program.stem);
        let rules = DialectRules::of(&self.plan.files.own().expect("a machine").post.gcode);
        let frame = Frame::of(program, &self.plan.files.own().expect("a machine").post)
            .expect("a sound program");
        let trace = read(&self.made.files[&path], &rules, &frame).expect("a sound program");
        let cut = |e: &lapwright::replay::gcode_read::Event| match e.kind {
            EventKind::Cut { from, to, .. } => Some(SweptMove {
                line: e.line,
                from,
                to,
                arc: None,
            }),
            _ => None,
        };
        trace.events.iter().filter_map(cut).collect()
    }

    /// Both faces of every datum, and the cuts of its program.
    fn datums(&self) -> Vec<(Corner, Vec<SweptMove>)> {
        let runs = self.edge().datums.iter();
        runs.map(|run| (run.corner, self.read(&run.program)))
            .collect()
    }

    /// Whether a class of sticks comes out right if its clampings lie as `turn` has them.
    fn comes_out(&self, bench: &Bench, turn: impl Fn(usize, &mut Gang)) -> bool {
        let ids = bench.clampings.iter();
        let programs = ids.map(|&id| &self.edge().slots_of(id).program);
        let cuts: Vec<_> = programs.map(|program| self.read(program)).collect();
        let gangs: Vec<Gang> = self
            .edge()
            .gangs(&bench.clampings)
            .enumerate()
            .map(|(g, gang)| {
                let mut gang = gang.clone();
                turn(g, &mut gang);
                gang
            })
            .collect();
        let clampings: Vec<GangCuts<'_>> = gangs
            .iter()
            .zip(&cuts)
            .map(|(gang, cuts)| GangCuts {
                gang,
                cuts,
                radius: 1.5,
            })
            .collect();
        prove_gangs(&bench.stick, &clampings).is_ok()
    }
}

#[test]
fn a_sound_job_is_never_refused() {
    for edits in [&[][..], ODD] {
        let job = job(edits);
        for path in job.programs() {
            let faults = job.faults(&path, &job.made.files[&path]);
            assert!(faults.is_empty(), "{path}: {faults:?}");
        }
        for bench in job.benches() {
            let sticks = &bench.stick.id;
            assert!(job.comes_out(bench, |_, _| ()), "sticks {sticks}");
        }
    }
}

/// Passed before: no clamping has no stick to compare.
#[test]
fn sticks_that_no_clamping_cuts_are_a_fault() {
    let job = job(&[]);
    let faults = prove_gangs(&job.benches()[0].stick, &[]).expect_err("nothing is cut");
    let rules: Vec<&str> = faults.iter().map(|f| f.rule).collect();
    assert_eq!(rules, ["plan"]);
}

/// A program that is not listed is no file of the job: its class of sticks was then left out without a word.
#[test]
fn sticks_whose_programs_are_not_all_listed_are_a_fault() {
    let mut job = job(&[]);
    let Cutting::EdgeUp(edge) = &mut job.plan.cuts.bars else {
        panic!("cut edge up")
    };
    edge.slots = Table::new();
    let of = |path: &str| job.made.files.get(path).map(Vec::as_slice);
    let found = job.plan.replay(of, &mut |_| ());
    assert!(found.rules.contains("compared"), "{:?}", found.faults);
}

/// The first piece of a class told the shape of all before: another one that is turned otherwise in its stick, and so
/// comes out with other notches, was hidden by it.
#[test]
fn a_piece_that_lies_otherwise_in_its_stick_is_a_fault() {
    let mut job = job(&[]);
    let Cutting::EdgeUp(edge) = &mut job.plan.cuts.bars else {
        panic!("cut edge up")
    };
    let pieces = &mut edge
        .sticks
        .sticks
        .iter_mut()
        .next()
        .expect("a stick")
        .pieces;
    let mut again = *pieces.first().expect("a piece");
    again.turn = again.turn.then(Turn::Over);
    pieces.push(again);
    let of = |path: &str| job.made.files.get(path).map(Vec::as_slice);
    let found = job.plan.replay(of, &mut |_| ());
    assert!(found.rules.contains("compared"), "{:?}", found.faults);
}

/// Bytes spoilt at random: each fault is refused, or the head does the same all the same.
#[test]
fn faults_in_a_gangs_programs_are_caught_or_harmless() {
    let job = job(&[]);
    let mut random = Random(71);
    let programs = job.programs().into_iter();
    for path in programs.filter(|p| !p.starts_with("gcode/air-run-")) {
        let bytes = &job.made.files[&path];
        let sound = std::str::from_utf8(bytes).expect("ASCII");
        let base = run(bytes);
        let (mut done, mut caught) = (0, 0);
        while done < 210 {
            let Some((what, text)) = spoilt(sound, done % KINDS, &mut random) else {
                continue;
            };
            done += 1;
            if job.faults(&path, text.as_bytes()).is_empty() {
                if let Err(change) = same(&base, &run(text.as_bytes())) {
                    panic!("{path}, {what}: not caught, though {change}");
                }
            } else {
                caught += 1;
            }
        }
        assert!(caught > 100, "{path}: {caught} of {done} caught");
    }
}

/// A gang turned over as a block has its stagger the other way round: the fence leans to the other side.
#[test]
fn a_gang_turned_as_a_block_fails() {
    for edits in [&[][..], ODD] {
        let job = job(edits);
        for bench in job.benches() {
            for clamping in 0..bench.clampings.len() {
                let turned = job.comes_out(bench, |g, gang| {
                    if g == clamping {
                        gang.fence_deg = 180.0 - gang.fence_deg;
                    }
                });
                let sticks = &bench.stick.id;
                assert!(!turned, "sticks {sticks}, clamping {clamping}");
            }
        }
    }
}

/// The program for the other hand of stick, and sticks with the wrong edge up.
#[test]
fn the_other_hand_fails() {
    let job = job(&[]);
    let slanting = job.benches()[0];
    assert_eq!(slanting.clampings.len(), 2, "two directions in one edge");
    let swapped = job.comes_out(slanting, |_, gang| gang.fence_deg = 180.0 - gang.fence_deg);
    assert!(!swapped, "each direction with the other's program");
    for clamping in 0..2 {
        let wrong = job.comes_out(slanting, |g, gang| {
            if g == clamping {
                gang.edge = gang.edge.other();
            }
        });
        assert!(!wrong, "clamping {clamping} with the wrong edge up");
    }
}

/// Sticks moved along, and a face that is not the measured one.
#[test]
fn sticks_that_do_not_lie_in_place_fail() {
    let job = job(&[]);
    for (by, sound) in [
        (0.003, true),
        (0.008, false),
        (-0.003, true),
        (-0.008, false),
    ] {
        let moved = job.comes_out(job.benches()[0], |g, gang| {
            if g == 1 {
                gang.offset += by;
            }
        });
        assert_eq!(moved, sound, "moved by {by}");
    }
}

/// What the proof of a datum says of cuts that are moved so.
fn datum_faults(
    corner: &Corner,
    cuts: &[SweptMove],
    moved: impl Fn([f64; 3]) -> [f64; 3],
) -> Vec<ReplayFault> {
    let cuts: Vec<SweptMove> = cuts
        .iter()
        .map(|c| SweptMove {
            from: moved(c.from),
            to: moved(c.to),
            ..*c
        })
        .collect();
    prove_datum(corner, -0.2, &cuts, 1.5)
        .err()
        .unwrap_or_default()
}

fn rules(faults: &[ReplayFault]) -> Vec<&'static str> {
    let mut rules: Vec<&str> = faults.iter().map(|f| f.rule).collect();
    rules.sort_unstable();
    rules.dedup();
    rules
}

/// The whole datum turned about the zero, either way: over sticks of 455 mm, 0.0005 degrees are 0.004 mm.
#[test]
fn a_datum_that_is_turned_fails() {
    for edits in [&[][..], ODD] {
        let job = job(edits);
        let datums = job.datums();
        assert_eq!(datums.len(), 2, "a fence for each hand");
        for (corner, cuts) in &datums {
            for deg in [0.02f64, -0.02, 0.001, -0.001, 0.0005, -0.0005] {
                let (s, c) = deg.to_radians().sin_cos();
                let turn = |[x, y, z]: [f64; 3]| [c * x - s * y, s * x + c * y, z];
                let faults = datum_faults(corner, cuts, turn);
                let sound = deg.abs() < 0.000_6;
                assert_eq!(faults.is_empty(), sound, "{deg}: {faults:?}");
                let of_rail = rules(&faults).iter().any(|r| r.starts_with("rail-"));
                assert_eq!(of_rail, !sound, "{deg}: {faults:?}");
            }
        }
    }
}

/// The rail's cut alone, turned about its near end by 0.02 degrees.
#[test]
fn a_rail_that_is_turned_fails() {
    let job = job(&[]);
    for (corner, cuts) in job.datums() {
        for slope in [0.02f64, -0.02].map(|d| d.to_radians().tan()) {
            let turn = |[x, y, z]: [f64; 3]| {
                let along = (x - corner.rail[0]).max(0.0);
                [x, y + slope * along, z]
            };
            let faults = datum_faults(&corner, &cuts, turn);
            let into = slope * corner.side() < 0.0;
            let rule = if into { "rail-whole" } else { "rail-cut" };
            assert!(rules(&faults).contains(&rule), "{slope}: {faults:?}");
        }
    }
}

/// Faces in the wrong place, on the wrong side, or not as long or as deep as the sticks are.
#[test]
fn a_datum_with_a_wrong_face_fails() {
    let job = job(&[]);
    for (corner, cuts) in job.datums() {
        let faults = |moved: &dyn Fn([f64; 3]) -> [f64; 3]| datum_faults(&corner, &cuts, moved);
        assert!(faults(&|p| p).is_empty(), "as it is");
        let side = corner.side();
        // 0.003 passes, 0.008 does not, either way.
        for (by, sound) in [
            (0.003, true),
            (-0.003, true),
            (0.008, false),
            (-0.008, false),
        ] {
            assert_eq!(
                faults(&|[x, y, z]| [x, y + by, z]).is_empty(),
                sound,
                "y {by}"
            );
            let away = corner.away() * by;
            let moved = |[x, y, z]: [f64; 3]| [x + away.x, y + away.y, z];
            assert_eq!(faults(&moved).is_empty(), sound, "fence {by}");
        }
        // The other hand's side.
        let mirrored = faults(&|[x, y, z]| [x, -y, z]);
        assert!(rules(&mirrored).contains(&"rail-whole"), "{mirrored:?}");
        // Not to the end of the sticks, not past the rail's face, not down to the groove.
        let short = faults(&|[x, y, z]| [x.min(corner.rail[1] - 2.0), y, z]);
        assert_eq!(rules(&short), ["rail-cut"], "{short:?}");
        let blunt = faults(&|[x, y, z]| [x, side * (side * y).max(0.0), z]);
        assert!(rules(&blunt).contains(&"fence-cut"), "{blunt:?}");
        let shallow = faults(&|[x, y, z]| [x, y, z.max(-0.1)]);
        assert_eq!(rules(&shallow), ["fence-cut", "rail-cut"], "{shallow:?}");
    }
}

/// A datum's program with a number of its last pass changed is refused from its bytes.
#[test]
fn a_datum_programs_bytes_are_held_to_the_plan() {
    let job = job(&[]);
    for path in job.programs().iter().filter(|p| p.contains("/datum-")) {
        let text = String::from_utf8(job.made.files[path].clone()).expect("ASCII");
        let last = text
            .rfind("Y1.500")
            .or(text.rfind("Y-1.500"))
            .expect("the rail's face");
        for digit in ["1.342", "1.495", "1.506"] {
            let sign = if text[last..].starts_with("Y-") {
                "Y-"
            } else {
                "Y"
            };
            let mut spoilt = text.clone();
            spoilt.replace_range(last..last + sign.len() + 5, &format!("{sign}{digit}"));
            assert!(
                !job.faults(path, spoilt.as_bytes()).is_empty(),
                "{path}: {digit}"
            );
        }
    }
}

/// The board under the sticks: planed whole, and no deeper than it is meant to.
#[test]
fn the_bed_is_planed_whole() {
    let job = job(&[("spares = 1 ", "bed = 0.3\nspares = 1 ")]);
    let run = job.edge().bed.as_ref().expect("a program for the bed");
    let (bed, cuts) = (run.bed, job.read(&run.program));
    let with = |moved: &dyn Fn([f64; 3]) -> [f64; 3]| {
        let cut = |c: &SweptMove| SweptMove {
            from: moved(c.from),
            to: moved(c.to),
            ..*c
        };
        let cuts: Vec<SweptMove> = cuts.iter().map(cut).collect();
        prove_bed(bed.rect, -bed.depth, &cuts, 1.5)
            .err()
            .unwrap_or_default()
    };
    assert!(with(&|p| p).is_empty());
    assert_eq!(rules(&with(&|[x, y, z]| [x, y, z - 0.01])), ["bed"]);
    assert_eq!(rules(&with(&|[x, y, z]| [x, y, z + 0.01])), ["bed-whole"]);
    assert_eq!(rules(&with(&|[x, y, z]| [x, y * 0.9, z])), ["bed-whole"]);
}
