//! Grooves between pieces that stay joined, with one fault each: too deep, too shallow, missing, misplaced,
//! cut through.

use lapwright::geom::REPLAY;
use lapwright::replay::{SweptMove, prove_pieces};
use lapwright::setup::Parting;

use super::jobs::{JOINED, JOINED_BITTEN, JOINED_WIDE, Job};

/// Just within the tolerance, and just beyond it, mm.
const LESS: f64 = REPLAY - 0.001;
const MORE: f64 = REPLAY + 0.001;

/// A sheet with joined pieces and the cuts of its program.
struct Bench {
    job: Job,
    cuts: Vec<SweptMove>,
    partings: Vec<Parting>,
}

impl Bench {
    fn new(panel: &str) -> Self {
        let job = Job::new(panel);
        let cuts = job.cuts(0);
        let partings = job.sheet(0).partings(&job.layout().pieces);
        assert!(partings.len() >= 2, "{panel}: {partings:?}");
        let bench = Self {
            job,
            cuts,
            partings,
        };
        assert_eq!(bench.rules(&bench.cuts), Vec::<&str>::new(), "sound");
        bench
    }

    /// The first parting place and the last, to keep the test short.
    fn some(&self) -> impl Iterator<Item = &Parting> {
        self.partings
            .first()
            .into_iter()
            .chain(self.partings.last())
    }

    fn rules(&self, cuts: &[SweptMove]) -> Vec<&'static str> {
        let (layout, sheet) = (self.job.layout(), self.job.sheet(0));
        let faults = prove_pieces(cuts, layout, sheet, self.job.program(0)).err();
        let faults = faults.unwrap_or_default();
        faults.iter().map(|f| f.rule).collect()
    }

    /// Cuts across the bar within a groove, with the plunges before them.
    fn in_groove(&self, parting: &Parting) -> Vec<usize> {
        let r = self.job.program(0).head.radius();
        let (g, floor) = (parting.groove, parting.floor);
        let inside = |x: f64| x >= g.x0 + r - 0.01 && x <= g.x1 - r + 0.01;
        let found = (0..self.cuts.len()).filter(|&i| {
            let c = &self.cuts[i];
            let reach = (c.from[1].min(c.to[1]), c.from[1].max(c.to[1]));
            let across = reach.0 < g.y0 && reach.1 > g.y1;
            let plunge = c.from[0] == c.to[0] && c.from[1] == c.to[1];
            let here = plunge && (c.to[1] < g.y0 || c.to[1] > g.y1) && reach.0 > g.y0 - 4.0;
            let near = reach.1 < g.y1 + 4.0;
            inside(c.from[0])
                && inside(c.to[0])
                && (across || (here && near))
                && c.to[2] >= floor - 1e-9
                && c.arc.is_none()
        });
        // A notch that runs out of an end is cut through: its plunges go deeper than any groove's.
        found.collect()
    }

    /// Rules that are broken once the cuts of one groove are changed.
    fn with(&self, parting: &Parting, change: impl Fn(&mut SweptMove)) -> Vec<&'static str> {
        let mut cuts = self.cuts.clone();
        for at in self.in_groove(parting) {
            change(&mut cuts[at]);
        }
        self.rules(&cuts)
    }
}

fn benches() -> [Bench; 3] {
    [JOINED, JOINED_WIDE, JOINED_BITTEN].map(Bench::new)
}

#[test]
fn a_groove_too_deep_or_too_shallow_is_refused_beyond_the_tolerance_alone() {
    for bench in benches() {
        for parting in bench.some() {
            let floor = |by: f64| {
                bench.with(parting, |c| {
                    for p in [&mut c.from, &mut c.to] {
                        if p[2] == parting.floor {
                            p[2] += by;
                        }
                    }
                })
            };
            assert_eq!(floor(-LESS), Vec::<&str>::new(), "deeper, within");
            assert_eq!(floor(LESS), Vec::<&str>::new(), "shallower, within");
            assert_eq!(floor(-MORE), ["groove-depth"], "too deep");
            assert_eq!(floor(-0.5), ["groove-depth"], "much too deep");
            for by in [MORE, 0.5] {
                let rules = floor(by);
                assert!(
                    rules.contains(&"groove-depth") || rules.contains(&"groove-cut"),
                    "too shallow by {by}: {rules:?}"
                );
                assert!(rules.contains(&"waste-removed"), "{by}: {rules:?}");
            }
        }
    }
}

#[test]
fn a_groove_that_is_missing_is_refused() {
    for bench in benches() {
        for parting in bench.some() {
            let of = bench.in_groove(parting);
            let strokes = bench.cuts.iter().enumerate();
            let strokes = strokes.filter(|(i, _)| !of.contains(i));
            let cuts: Vec<SweptMove> = strokes.map(|(_, c)| *c).collect();
            let rules = bench.rules(&cuts);
            assert!(rules.contains(&"groove-cut"), "{rules:?}");
            assert!(rules.contains(&"waste-removed"), "{rules:?}");
        }
    }
}

#[test]
fn a_groove_that_is_misplaced_is_refused_beyond_the_tolerance_alone() {
    for bench in benches() {
        for parting in bench.some() {
            let moved = |by: f64| {
                bench.with(parting, |c| {
                    c.from[0] += by;
                    c.to[0] += by;
                })
            };
            for side in [1.0, -1.0] {
                assert!(moved(side * LESS).is_empty(), "within");
                let rules = moved(side * MORE);
                assert!(rules.contains(&"piece-whole"), "beyond: {rules:?}");
                assert!(rules.contains(&"groove-cut"), "beyond: {rules:?}");
            }
            // Not quite across what joins the pieces.
            let short = bench.with(parting, |c| {
                for p in [&mut c.from, &mut c.to] {
                    p[1] = p[1].min(parting.bridge.y1 - 2.0);
                }
            });
            assert!(short.contains(&"groove-cut"), "too short: {short:?}");
        }
    }
}

/// Overhang 0.8 and half the clearance past the outline lies the wall of a notch, and along it the round of a relief
/// of 0.75 reaches 0.825 - 1.5 from the end: 0.75 past the notch's floor at the height of its middle, 0.825 - 0.75 from
/// the end, and so sqrt(0.75² - 0.075²) at the end itself. What joins the pieces is less by that.
#[test]
fn reliefs_past_an_end_leave_less_between_joined_pieces() {
    let bench = Bench::new(JOINED_BITTEN);
    let bite = (0.75_f64.powi(2) - 0.075_f64.powi(2)).sqrt();
    for parting in &bench.partings {
        let height = parting.bridge.height();
        assert!((height - (6.0 - bite)).abs() < 1e-6, "{parting:?}");
    }
}

/// One of the strokes alone, where the groove is wider than the tool.
#[test]
fn every_stroke_of_a_wide_groove_counts() {
    let bench = Bench::new(JOINED_WIDE);
    for parting in bench.some() {
        let floor: Vec<usize> = bench
            .in_groove(parting)
            .into_iter()
            .filter(|&i| {
                let c = &bench.cuts[i];
                c.to[2] == parting.floor && c.from[1] != c.to[1]
            })
            .collect();
        assert!(floor.len() >= 2, "strokes: {floor:?}");
        for at in floor {
            let mut cuts = bench.cuts.clone();
            cuts.remove(at);
            let rules = bench.rules(&cuts);
            assert!(
                rules.contains(&"groove-cut") || rules.contains(&"groove-depth"),
                "{rules:?}"
            );
        }
    }
}

/// A cut below the floor that takes of the wood between the pieces, wherever it lies.
#[test]
fn a_bridge_that_is_cut_is_refused() {
    for bench in benches() {
        let r = bench.job.program(0).head.radius();
        for parting in bench.some() {
            let b = parting.bridge;
            for (x, y, z) in [
                (b.center().x, b.center().y, 0.0),
                (b.center().x, b.y0 - r + MORE, parting.floor - MORE),
                (b.center().x, b.y1 + r - MORE, 0.5),
            ] {
                let mut cuts = bench.cuts.clone();
                cuts.push(SweptMove {
                    line: 0,
                    from: [x, y, 3.0],
                    to: [x, y, z],
                    arc: None,
                });
                let rules = bench.rules(&cuts);
                assert!(
                    rules.contains(&"groove-depth"),
                    "({x}, {y}, {z}): {rules:?}"
                );
            }
        }
    }
}
