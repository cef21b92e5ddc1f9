//! Copies that share a proof, with one copy spoilt: the sheet is judged as each copy is by itself.
//!
//! A sheet with one placement has no copy to share with: what it says of each placement is the measure.

use lapwright::geom::REPLAY;
use lapwright::path::Program;
use lapwright::replay::{SweptMove, prove_pieces};
use lapwright::setup::{FlatSheet, PlacementId};
use lapwright::table::Table;

use super::jobs::{Job, ODD};
use super::spoil::Random;

/// A sheet, the cuts of its program, and each of its placements as a sheet of its own.
struct Bench {
    job: Job,
    cuts: Vec<SweptMove>,
    alone: Vec<(FlatSheet, Program)>,
}

impl Bench {
    fn new() -> Self {
        let job = Job::new(ODD);
        let cuts = job.cuts(0);
        let (sheet, program) = (job.sheet(0), job.program(0));
        assert!(
            sheet.chains.is_empty() && sheet.placements.len() > 10,
            "copies"
        );
        let alone = sheet.placements.entries().map(|(i, place)| {
            let (mut sheet, mut program) = (sheet.clone(), program.clone());
            let mut one = Table::new();
            let own = one.push(place.clone());
            sheet.placements = one;
            program.holds.retain(|hold| hold.placement == i);
            for hold in &mut program.holds {
                hold.placement = own;
            }
            // Drawings are no part of this.
            program.contours.clear();
            (sheet, program)
        });
        let alone = alone.collect();
        Self { job, cuts, alone }
    }

    /// The placements that are refused on the whole sheet.
    fn refused(&self, cuts: &[SweptMove]) -> bool {
        prove_pieces(
            cuts,
            self.job.layout(),
            self.job.sheet(0),
            self.job.program(0),
        )
        .is_err()
    }

    /// Whether any placement is refused by itself.
    fn refused_alone(&self, cuts: &[SweptMove]) -> bool {
        let layout = self.job.layout();
        (self.alone.iter())
            .any(|(sheet, program)| prove_pieces(cuts, layout, sheet, program).is_err())
    }

    /// A cut at full depth, by chance.
    fn some_cut(&self, random: &mut Random) -> usize {
        loop {
            let at = random.below(self.cuts.len());
            let cut = &self.cuts[at];
            if cut.to[2] < 0.0 && cut.from[2] == cut.to[2] {
                return at;
            }
        }
    }
}

/// One point of one copy, moved by whole steps to either side of the tolerance: a proof that is shared on the strength
/// of cuts that look alike, rounded or within the tolerance, would let some pass.
#[test]
fn one_point_of_one_copy_is_judged_as_by_itself() {
    let bench = Bench::new();
    assert!(
        !bench.refused(&bench.cuts) && !bench.refused_alone(&bench.cuts),
        "sound"
    );
    let mut random = Random(20);
    let (mut refused, mut passed) = (0, 0);
    for round in 0..24 {
        let at = bench.some_cut(&mut random);
        // 0.001 to 0.008, that is from well within the tolerance to well beyond it.
        let by = 0.001 * (1 + round % 8) as f64 * if round % 2 == 0 { 1.0 } else { -1.0 };
        let axis = random.below(2);
        let mut cuts = bench.cuts.clone();
        let old = cuts[at].to;
        // The whole corner, so that the path stays one.
        for cut in &mut cuts {
            for point in [&mut cut.from, &mut cut.to] {
                if *point == old {
                    point[axis] += by;
                }
            }
        }
        let (whole, alone) = (bench.refused(&cuts), bench.refused_alone(&cuts));
        assert_eq!(whole, alone, "cut {at}, axis {axis}, by {by}");
        if whole {
            refused += 1;
        } else {
            passed += 1;
        }
    }
    assert!(
        refused > 3 && passed > 3,
        "{refused} refused, {passed} passed"
    );
}

/// A copy at the tolerance's edge passes; another, one step further off, is refused, though the two differ by no more
/// than rounding does.
#[test]
fn a_copy_one_step_further_off_is_refused() {
    let bench = Bench::new();
    let sheet = bench.job.sheet(0);
    let first = sheet.placements.rows()[0].piece;
    let copies = sheet.placements.entries();
    let copies = copies.filter(|(_, p)| p.piece == first).map(|(id, _)| id);
    let copies: Vec<PlacementId> = copies.take(2).collect();
    let [a, b] = copies.as_slice() else {
        panic!("two copies of a piece")
    };
    let r = bench.job.program(0).head.radius();
    // The lower edge of each copy moved into the wood.
    let with = |moves: &[(PlacementId, f64)]| {
        let mut cuts = bench.cuts.clone();
        for &(i, by) in moves {
            let place = &sheet.placements[i];
            let length = bench.job.layout().pieces[place.piece].length;
            for cut in &mut cuts {
                for point in [&mut cut.from, &mut cut.to] {
                    let below = (point[1] - (place.y - r)).abs() < 0.002;
                    if below && point[0] > place.x - 0.01 && point[0] < place.x + length + 0.01 {
                        point[1] += by;
                    }
                }
            }
        }
        cuts
    };
    // A step of rounding lies between the path and its place.
    let (within, beyond) = (REPLAY - 0.0015, REPLAY + 0.001);
    assert!(
        !bench.refused(&with(&[(*a, within), (*b, within)])),
        "within"
    );
    assert!(bench.refused(&with(&[(*a, beyond)])), "one beyond");
    assert!(
        bench.refused(&with(&[(*a, within), (*b, beyond)])),
        "the other beyond"
    );
    assert!(
        bench.refused(&with(&[(*a, beyond), (*b, within)])),
        "the first beyond"
    );
}

/// One cut of one copy at another depth: through what a tab leaves, and not through.
#[test]
fn one_depth_of_one_copy_is_judged_as_by_itself() {
    let bench = Bench::new();
    let mut random = Random(3);
    let mut refused = 0;
    for by in [0.19, 0.21, 0.5, 1.3, -0.1, 0.21, 0.6] {
        let at = bench.some_cut(&mut random);
        let mut cuts = bench.cuts.clone();
        cuts[at].from[2] += by;
        cuts[at].to[2] += by;
        let (whole, alone) = (bench.refused(&cuts), bench.refused_alone(&cuts));
        assert_eq!(whole, alone, "cut {at} by {by}");
        refused += usize::from(whole);
    }
    assert!(refused > 0, "a cut that does not go through is told");
}
