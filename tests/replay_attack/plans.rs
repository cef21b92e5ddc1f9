//! Plans that are not whole: what is missing is told, and nothing is taken for proven that was not compared.
//!
//! Every plan here is a sound one with one thing changed by hand; the cuts are those of the sound program.

use lapwright::geom::{Contour, Point};
use lapwright::non_empty::NonEmpty;
use lapwright::path::Program;
use lapwright::replay::{SheetProof, SweptMove, prove_pieces};
use lapwright::setup::{FlatLayout, FlatSheet, Placement};

use super::jobs::{JOINED, Job, Proof};

/// A plan of one sheet, and the cuts of its program.
struct Plan {
    layout: FlatLayout,
    sheet: FlatSheet,
    program: Program,
    cuts: Vec<SweptMove>,
}

impl Plan {
    fn new(panel: &str, n: usize) -> Self {
        let job = Job::new(panel);
        let plan = Self {
            layout: job.layout().clone(),
            sheet: job.sheet(n).clone(),
            program: job.program(n).clone(),
            cuts: job.cuts(n),
        };
        let proof = plan.prove().expect("sound");
        assert_eq!(proof.compared, plan.sheet.placements.len());
        plan
    }

    fn prove(&self) -> Proof<SheetProof> {
        prove_pieces(&self.cuts, &self.layout, &self.sheet, &self.program)
    }

    /// The rules that it breaks.
    fn rules(&self) -> Vec<&'static str> {
        let faults = self.prove().expect_err("not whole");
        faults.iter().map(|f| f.rule).collect()
    }
}

/// Passed before, and was counted among what had been compared.
#[test]
fn a_placement_without_a_piece_is_a_fault() {
    let mut plan = Plan::new("plain-window", 0);
    let mut longer = plan.layout.pieces.clone();
    let stranger = longer.push(longer.rows()[0].clone());
    let first = plan.sheet.placements.rows()[0].clone();
    plan.sheet.placements.push(Placement {
        piece: stranger,
        ..first
    });
    assert_eq!(plan.rules(), ["plan"]);
}

/// Was passed over before: what holds nothing stood for nothing.
#[test]
fn a_hold_of_nothing_is_a_fault() {
    let mut plan = Plan::new("plain-window", 0);
    let mut longer = plan.sheet.placements.clone();
    let stranger = longer.push(longer.rows()[0].clone());
    let mut hold = plan.program.holds[0].clone();
    hold.placement = stranger;
    plan.program.holds.push(hold);
    assert_eq!(plan.rules(), ["plan"]);
}

/// A hold without extent, or lower than the replay can see, stood before whatever was cut.
#[test]
fn a_hold_without_extent_is_a_fault() {
    let spoil: [fn(&mut lapwright::path::Hold); 4] = [
        |hold| hold.to = hold.from,
        |hold| hold.width = 0.0,
        |hold| hold.height = 0.001,
        |hold| hold.from.x = f64::NAN,
    ];
    for spoil in spoil {
        let mut plan = Plan::new("router-square", 0);
        spoil(&mut plan.program.holds[0]);
        assert_eq!(plan.rules(), ["plan"]);
    }
}

/// Passed before: nothing was compared, and nothing was wrong.
#[test]
fn a_sheet_without_pieces_is_a_fault() {
    let mut plan = Plan::new("plain-window", 0);
    plan.sheet.placements = Default::default();
    plan.program.holds.clear();
    plan.program.contours.clear();
    assert_eq!(plan.rules(), ["plan"]);
}

/// Passed before as a piece without reliefs, whose inside corners may keep a fillet.
#[test]
fn a_piece_whose_reliefs_nothing_tells_is_a_fault() {
    let mut plan = Plan::new("three-way-card", 0);
    let piece = plan.sheet.placements.rows()[0].piece;
    plan.program.reliefs.remove(&piece);
    assert_eq!(plan.rules(), ["plan"]);
}

/// A round in the middle of a piece passed before, if the plan called it a relief.
#[test]
fn a_relief_that_is_none_of_a_corner_is_a_fault() {
    let mut plan = Plan::new("router-square", 1);
    let own = plan.sheet.placements.rows()[0].piece;
    let piece = &plan.layout.pieces[own];
    let starts = piece.notches.iter().map(|n| n.x0).filter(|x| *x > 0.0);
    // Midway along the first stretch of wood, a quarter up: clear of all notches and of the proof's own heart.
    let first = starts.fold(piece.length, f64::min);
    let at = Point::new(0.5 * first, 0.25 * piece.depth);
    let reliefs = plan.program.reliefs.get_mut(&own).expect("told");
    assert!(!reliefs.is_empty(), "a piece with reliefs of its own");
    reliefs.push(at);
    let lowest = plan.cuts.iter().map(|c| c.to[2]).fold(0.0, f64::min);
    let copies = plan.sheet.placements.iter().filter(|p| p.piece == own);
    for copy in copies {
        let (x, y) = (at.x + copy.x, at.y + copy.y);
        plan.cuts.push(SweptMove {
            line: 0,
            from: [x, y, plan.sheet.thickness],
            to: [x, y, lowest],
            arc: None,
        });
    }
    assert_eq!(plan.rules(), ["plan"]);
}

/// A piece that is nowhere passed before where a cut ran through its middle.
#[test]
fn a_piece_without_an_outline_is_a_fault() {
    let mut plan = Plan::new("plain-window", 0);
    let mut none = plan.layout.pieces.rows()[0].clone();
    none.drawn = Contour::polygon([]);
    none.notches.clear();
    (none.length, none.depth) = (0.02, 0.02);
    let piece = plan.layout.pieces.push(none);
    plan.program.reliefs.insert(piece, Vec::new());
    let cut = plan.cuts.iter().find(|c| c.arc.is_none()).expect("a cut");
    let middle = [0, 1].map(|k| 0.5 * (cut.from[k] + cut.to[k]) - 0.01);
    plan.sheet.placements.push(Placement {
        piece,
        id: "x".into(),
        x: middle[0],
        y: middle[1],
    });
    assert_eq!(plan.rules(), ["plan"]);
}

/// A parting place to a piece that is not there was none, and so not proven, before.
#[test]
fn a_piece_that_is_joined_to_nothing_is_a_fault() {
    let mut plan = Plan::new("plain-window", 0);
    let own = plan.sheet.placements.ids().next().expect("a piece");
    let mut longer = plan.sheet.placements.clone();
    let stranger = longer.push(longer.rows()[0].clone());
    plan.sheet.chains.extend(NonEmpty::of([own, stranger]));
    assert_eq!(plan.rules(), ["plan"]);
}

#[test]
fn a_piece_in_two_chains_is_a_fault() {
    let mut plan = Plan::new(JOINED, 0);
    let twice = plan.sheet.chains[0].clone();
    plan.sheet.chains.push(twice);
    assert_eq!(plan.rules(), ["plan"]);
}
