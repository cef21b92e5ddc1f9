//! The sweep alone: cuts moved by a hair beyond the tolerance of 0.005 mm, and by a hair within it.

use lapwright::geom::{Point, REPLAY, Vec2};
use lapwright::path::{Head, Program};
use lapwright::replay::{ReplayFault, SweptMove, prove_pieces};
use lapwright::setup::FlatSheet;

use super::jobs::{Job, ON_ENDS};
use super::spoil::Random;

/// Just within the tolerance, and just beyond it, mm.
const LESS: f64 = REPLAY - 0.001;
const MORE: f64 = REPLAY + 0.001;

/// A sheet and the cuts of its program.
struct Bench {
    job: Job,
    n: usize,
    cuts: Vec<SweptMove>,
}

impl Bench {
    fn new(panel: &str, n: usize) -> Self {
        let job = Job::new(panel);
        let cuts = job.cuts(n);
        let bench = Self { job, n, cuts };
        assert_eq!(bench.rules(&bench.cuts), Vec::<&str>::new(), "sound");
        bench
    }

    fn sheet(&self) -> &FlatSheet {
        self.job.sheet(self.n)
    }

    fn program(&self) -> &Program {
        self.job.program(self.n)
    }

    fn radius(&self) -> f64 {
        self.program().head.radius()
    }

    fn prove(&self, cuts: &[SweptMove], program: &Program) -> Vec<ReplayFault> {
        prove_pieces(cuts, self.job.layout(), self.sheet(), program)
            .err()
            .unwrap_or_default()
    }

    /// Rules that the cuts break.
    fn rules(&self, cuts: &[SweptMove]) -> Vec<&'static str> {
        let faults = self.prove(cuts, self.program());
        faults.iter().map(|f| f.rule).collect()
    }

    /// Rules that are broken once one cut is changed.
    fn with(&self, at: usize, change: impl Fn(&mut SweptMove)) -> Vec<&'static str> {
        let mut cuts = self.cuts.clone();
        change(&mut cuts[at]);
        self.rules(&cuts)
    }

    fn without(&self, at: usize) -> Vec<&'static str> {
        let mut cuts = self.cuts.clone();
        cuts.remove(at);
        self.rules(&cuts)
    }

    /// Whether a point of the sheet lies in one of its pieces as drawn, less the rounds that relieve its
    /// inside corners.
    fn in_piece(&self, p: Point) -> bool {
        self.sheet().placements.iter().any(|place| {
            let reliefs = self.program().reliefs.get(&place.piece);
            let relieved =
                |c: &Point| (*c + Vec2::new(place.x, place.y)).distance(p) <= self.radius() + 0.01;
            if reliefs.is_some_and(|list| list.iter().any(relieved)) {
                return false;
            }
            let v: Vec<Point> = self.job.layout().pieces[place.piece]
                .drawn
                .vertices
                .iter()
                .map(|v| v.at + Vec2::new(place.x, place.y))
                .collect();
            // Crossings of a ray to the right: odd inside.
            let crossed = (0..v.len()).filter(|&i| {
                let (a, b) = (v[i], v[(i + 1) % v.len()]);
                (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x)
            });
            crossed.count() % 2 == 1
        })
    }

    /// The lowest height that any cut runs at.
    fn lowest(&self) -> f64 {
        self.cuts
            .iter()
            .map(|c| c.to[2])
            .fold(f64::INFINITY, f64::min)
    }

    /// Straight level cuts that leave a wall or a floor of a piece, each with the unit vector towards it.
    fn walls(&self) -> Vec<(usize, Vec2)> {
        let mut walls = Vec::new();
        for (at, cut) in self.cuts.iter().enumerate() {
            let along = flat(cut.to) - flat(cut.from);
            if cut.arc.is_some() || cut.from[2] != cut.to[2] || along.hypot() < 0.9 {
                continue;
            }
            let left = Vec2::new(-along.y, along.x) / along.hypot();
            // A hundredth beyond the cut, at its middle and near both ends.
            let all = |side: Vec2| {
                [0.1, 0.5, 0.9].iter().all(|&t| {
                    self.in_piece(flat(cut.from) + along * t + side * (self.radius() + 0.01))
                })
            };
            for side in [left, -left] {
                if all(side) && !all(-side) {
                    walls.push((at, side));
                }
            }
        }
        walls
    }

    /// A few walls, the same in every run; `deepest` leaves out the passes above the last.
    fn some_walls(&self, count: usize, deepest: bool) -> Vec<(usize, Vec2)> {
        let lowest = self.lowest();
        let mut walls = self.walls();
        walls.retain(|(at, _)| !deepest || self.cuts[*at].to[2] == lowest);
        assert!(walls.len() >= count, "{} walls", walls.len());
        let mut random = Random(7);
        (0..count)
            .map(|_| walls.swap_remove(random.below(walls.len())))
            .collect()
    }
}

fn flat(p: [f64; 3]) -> Point {
    Point::new(p[0], p[1])
}

fn shift(cut: &mut SweptMove, by: Vec2) {
    for p in [&mut cut.from, &mut cut.to] {
        p[0] += by.x;
        p[1] += by.y;
    }
}

/// The laser's sheets, and a router's, with how many cuts are tried on each.
fn benches() -> [(Bench, usize); 3] {
    [
        (Bench::new("plain-window", 0), 60),
        (Bench::new("three-way-card", 0), 40),
        (Bench::new("router-square", 1), 12),
    ]
}

#[test]
fn a_cut_towards_the_piece_is_refused_beyond_the_tolerance_alone() {
    for (bench, count) in benches() {
        for (at, side) in bench.some_walls(count, false) {
            let line = bench.cuts[at].line;
            assert!(
                bench.with(at, |c| shift(c, side * LESS)).is_empty(),
                "line {line}: within"
            );
            assert_eq!(
                bench.with(at, |c| shift(c, side * MORE)),
                ["piece-whole"],
                "line {line}: beyond"
            );
        }
    }
}

/// Away from the piece only the last pass counts: those above it are swept over.
#[test]
fn a_cut_away_from_the_piece_is_refused_beyond_the_tolerance_alone() {
    for (bench, count) in benches() {
        for (at, side) in bench.some_walls(count, true) {
            let line = bench.cuts[at].line;
            assert!(
                bench.with(at, |c| shift(c, -side * LESS)).is_empty(),
                "line {line}: within"
            );
            assert_eq!(
                bench.with(at, |c| shift(c, -side * MORE)),
                ["waste-removed"],
                "line {line}: beyond"
            );
        }
    }
}

#[test]
fn a_cut_on_the_wrong_side_is_refused() {
    for (bench, count) in benches() {
        for (at, side) in bench.some_walls(count / 2, true) {
            let across = side * (2.0 * bench.radius());
            let rules = bench.with(at, |c| shift(c, across));
            assert_eq!(rules, ["piece-whole"], "line {}", bench.cuts[at].line);
        }
        // All of them, as a program with the kerf's sign turned would have it.
        let mut cuts = bench.cuts.clone();
        for (at, side) in bench.walls() {
            shift(&mut cuts[at], side * (2.0 * bench.radius()));
        }
        assert_eq!(
            bench.rules(&cuts),
            vec!["piece-whole"; bench.sheet().placements.len()]
        );
    }
}

#[test]
fn a_cut_dropped_leaves_waste_standing() {
    for (bench, count) in benches() {
        for (at, _) in bench.some_walls(count, true) {
            assert_eq!(
                bench.without(at),
                ["waste-removed"],
                "line {}",
                bench.cuts[at].line
            );
        }
    }
}

/// Were the cut wider or narrower than planned, every piece would show it.
#[test]
fn a_wider_or_narrower_cut_is_refused_beyond_the_tolerance_alone() {
    for (bench, _) in benches() {
        let all = bench.sheet().placements.len();
        for (by, wrong) in [
            (LESS, None),
            (MORE, Some("piece-whole")),
            (-MORE, Some("waste-removed")),
        ] {
            let mut program = bench.program().clone();
            match &mut program.head {
                Head::Beam { kerf, .. } => *kerf += 2.0 * by,
                Head::Cutter { diameter, .. } => *diameter += 2.0 * by,
            }
            let faults = bench.prove(&bench.cuts, &program);
            let rules: Vec<&str> = faults.iter().map(|f| f.rule).collect();
            let want = wrong.map_or_else(Vec::new, |rule| vec![rule; all]);
            assert_eq!(rules, want, "radius by {by}");
        }
    }
}

#[test]
fn a_hold_that_is_cut_through_is_refused() {
    let on_ends = (0..Job::new(ON_ENDS).sheets())
        .map(|n| Bench::new(ON_ENDS, n))
        .find(|bench| {
            let mut holds = bench.program().holds.iter();
            holds.any(|hold| hold.from.x == hold.to.x)
        });
    let on_ends = on_ends.expect("a sheet with tabs on ends");
    let benches = benches().into_iter().map(|(bench, _)| bench);
    for bench in benches.chain([on_ends]) {
        let low = bench.lowest();
        for hold in &bench.program().holds {
            let [from, to] = [hold.from, hold.to].map(|p| [p.x, p.y, low]);
            let mut cuts = bench.cuts.clone();
            cuts.push(SweptMove {
                line: 0,
                from,
                to,
                arc: None,
            });
            assert_eq!(bench.rules(&cuts), ["hold-stands"], "{hold:?}");
            // From one end: what the cut before it leaves is shorter by so much.
            for (by, want) in [(LESS, &[][..]), (MORE, &["hold-stands"])] {
                let along = (hold.to - hold.from).normalize();
                let end = hold.from + along * (by - bench.radius());
                let start = end - along;
                let last = cuts.last_mut().expect("the cut just added");
                last.from = [start.x, start.y, low];
                last.to = [end.x, end.y, low];
                assert_eq!(bench.rules(&cuts), want, "{hold:?} by {by}");
            }
        }
    }
}

/// A cut as deep as the notch is long: floors are walls like any other, said once more in the notch's own
/// terms, on the cut that runs along each floor.
#[test]
fn a_notch_too_deep_or_too_shallow_is_refused_beyond_the_tolerance_alone() {
    for (bench, _) in benches() {
        let (r, low) = (bench.radius(), bench.lowest());
        let mut floors = 0;
        for place in &bench.sheet().placements {
            let piece = &bench.job.layout().pieces[place.piece];
            for notch in piece
                .notches
                .iter()
                .filter(|n| n.x0 > 0.0 && n.x1 < piece.length)
            {
                use lapwright::setup::Edge;
                let (floor, deeper) = match notch.edge {
                    Edge::Back => (notch.depth - r, 1.0),
                    Edge::Front => (piece.depth - notch.depth + r, -1.0),
                };
                // Along this floor, from wall to wall.
                let (a, b) = (place.x + notch.x0 + r, place.x + notch.x1 - r);
                let along = |c: &SweptMove| {
                    let y = place.y + floor;
                    let near = |v: f64, to: f64| (v - to).abs() < 2e-3;
                    c.to[2] == low
                        && near(c.from[1], y)
                        && near(c.to[1], y)
                        && near(c.from[0].min(c.to[0]), a)
                        && near(c.from[0].max(c.to[0]), b)
                };
                let at = bench.cuts.iter().position(along);
                // Where notches of one node lie in each other, the deepest one has the floor.
                let Some(at) = at else { continue };
                floors += 1;
                // A floor that the reliefs have bitten away has no height to keep.
                let middle = flat(bench.cuts[at].from).midpoint(flat(bench.cuts[at].to));
                let seat = bench.in_piece(middle + Vec2::new(0.0, deeper * (r + 0.01)));
                if floors % 8 != 0 || !seat {
                    continue;
                }
                let moved = |by: f64| bench.with(at, |c| shift(c, Vec2::new(0.0, by * deeper)));
                assert!(moved(LESS).is_empty(), "deeper, within");
                assert!(moved(-LESS).is_empty(), "shallower, within");
                assert_eq!(moved(MORE), ["piece-whole"], "too deep");
                assert_eq!(moved(-MORE), ["waste-removed"], "too shallow");
            }
        }
        assert!(floors >= 8, "{floors} floors found");
    }
}

/// The last pass must reach through the stock; a pass above it leaves nothing behind that the next one
/// does not take, but the program is then not the planned one.
#[test]
fn every_pass_of_a_router_counts() {
    let bench = Bench::new("router-square", 1);
    let mut heights: Vec<f64> = bench.cuts.iter().map(|c| c.to[2]).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    assert_eq!(
        heights.len(),
        4,
        "three passes and the tabs' tops: {heights:?}"
    );
    for (at, _) in bench.some_walls(10, true) {
        // Through the stock is deep enough; a skin of the thinnest sheet is not.
        let skin = |z: f64| {
            bench.with(at, |c| {
                c.from[2] = z;
                c.to[2] = z;
            })
        };
        assert!(skin(0.0).is_empty(), "to the stock's underside");
        assert_eq!(skin(0.001), ["waste-removed"], "a skin is left");
        assert_eq!(skin(2.6), ["waste-removed"], "the first pass alone");
        assert_eq!(
            bench.with(at, |c| c.to[2] += 0.01),
            ["level-cuts"],
            "a ramp"
        );
    }
    // Above the tabs' tops, which are cut once.
    let upper: Vec<usize> = bench
        .walls()
        .into_iter()
        .map(|(at, _)| at)
        .filter(|&at| bench.cuts[at].to[2] > 1.0)
        .collect();
    let text = String::from_utf8(bench.job.cut(bench.n).gcode.to_vec()).expect("ASCII");
    for &at in upper.iter().step_by(upper.len() / 10) {
        assert!(bench.without(at).is_empty(), "swept over by the next pass");
        let line = bench.cuts[at].line;
        let kept: Vec<&str> = text
            .lines()
            .enumerate()
            .filter(|(i, _)| i + 1 != line)
            .map(|(_, l)| l)
            .collect();
        let spoilt = kept.join("\n") + "\n";
        let faults = bench.job.prove_gcode(bench.n, spoilt.as_bytes());
        assert!(faults.is_err(), "line {line}: the program lacks a cut");
    }
}
