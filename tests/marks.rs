//! Orientation marks: a maker who follows the words puts every bar in right, whichever stick its piece comes from.
//!
//! The bench is played through here: sticks are notched and grooved as the clampings have it, crosses are pencilled
//! as told, sticks are cut apart, the pieces of a class lie in one heap, and each member is made of every kind of
//! piece in its heap, turned until its mark lies where the assembly's words say. Its notches are then held against
//! the member's. How a bar's notches change when it is turned is worked out from points of the bar.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests")]

#[path = "marks/leads.rs"]
mod leads;

use std::collections::{BTreeMap, BTreeSet};

use crate::lattice_properties::panels;
use lapwright::job::{JobError, plan};
use lapwright::lattice::{BarEnd, ClassId, Edge, Lattice, MarkEdges, Member, MemberId};
use lapwright::panel::{
    FamilySpec, FreeFamily, FreeLines, HeadKind, JobFiles, Layout, Method, OutlineShape, SideRule,
    Sides, Size,
};
use lapwright::plan::Plan;
use lapwright::safety::Status;
use lapwright::setup::MarkMade;

/// Notches that are the same to within what tells pieces apart, and the round-off of sums, mm.
const SAME: f64 = 0.0201;

/// A notch of a bar that lies somewhere: its middle from the left end, the edge that it is in, front or back as the
/// bar lies, its angle as seen from that edge, degrees, and its depth, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Notch {
    at: f64,
    edge: Edge,
    angle_deg: f64,
    depth: f64,
}

/// Where something is seen on a bar: near the left end or the right one, in which edges.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Seen {
    left: bool,
    edges: BTreeSet<&'static str>,
}

/// A bar that lies front up or turned, its ends left and right.
#[derive(Debug, Clone)]
struct Bar {
    length: f64,
    notches: Vec<Notch>,
    groove: Option<Seen>,
    cross: Option<Seen>,
    /// The mark of its stick, pencilled on it.
    of_stick: Option<Seen>,
}

/// The four ways in which a bar can lie along its line, joint edges up or down: whether ends and edges are swapped.
const WAYS: [[bool; 2]; 4] = [[false, false], [false, true], [true, false], [true, true]];

impl Bar {
    /// The bar turned by half a turn: its ends swapped, its edges swapped, or both.
    ///
    /// In space, x along, y to the left seen from the front, z to the front. Over: about x, (x, -y, -z). End for
    /// end: about z, (L - x, -y, z). Both: about y, (L - x, y, -z).
    fn turned(&self, [ends, edges]: [bool; 2]) -> Self {
        let (sx, sz) = (
            if ends { -1.0 } else { 1.0 },
            if edges { -1.0 } else { 1.0 },
        );
        // A rotation keeps the hand of space: the product of the signs is 1.
        let sy = sx * sz;
        let notch = |n: &Notch| {
            // The way of the walls as seen from the front; seen from the back, y is mirrored.
            let hand = if n.edge == Edge::Front { 1.0 } else { -1.0 };
            let t = n.angle_deg.to_radians();
            let (x, y) = (sx * t.cos(), sy * hand * t.sin());
            let edge = if edges { n.edge.other() } else { n.edge };
            let hand = if edge == Edge::Front { 1.0 } else { -1.0 };
            let angle = (hand * y).atan2(x).to_degrees().rem_euclid(180.0);
            Notch {
                at: if ends { self.length - n.at } else { n.at },
                edge,
                angle_deg: angle,
                depth: n.depth,
            }
        };
        let seen = |s: &Seen| Seen {
            left: s.left != ends,
            edges: s
                .edges
                .iter()
                .map(|&e| match (e, edges) {
                    ("front", true) => "back",
                    ("back", true) => "front",
                    (e, _) => e,
                })
                .collect(),
        };
        Self {
            length: self.length,
            notches: self.notches.iter().map(notch).collect(),
            groove: self.groove.as_ref().map(seen),
            cross: self.cross.as_ref().map(seen),
            of_stick: self.of_stick.as_ref().map(seen),
        }
    }

    fn is(&self, member: &Member) -> bool {
        let close = |a: f64, b: f64| (a - b).abs() <= SAME;
        self.notches.len() == member.joints.len()
            && close(self.length, member.to - member.from)
            && member.joints.iter().all(|j| {
                self.notches.iter().any(|n| {
                    n.edge == j.edge
                        && close(n.at, j.at - member.from)
                        && close(n.angle_deg, j.angle_deg)
                        && close(n.depth, j.depth)
                })
            })
    }
}

fn names(edges: MarkEdges) -> BTreeSet<&'static str> {
    let all = [(Edge::Front, "front"), (Edge::Back, "back")];
    let has = all.into_iter().filter(|(edge, _)| edges.has(*edge));
    has.map(|(_, name)| name).collect()
}

/// The pieces of every class as they come from the sticks, marked; each kind once. They lie front edge up, the end
/// towards the datum end at the left.
fn heaps(plan: &Plan) -> BTreeMap<ClassId, Vec<Bar>> {
    let edge = plan.edge_up().unwrap();
    let mut heaps: BTreeMap<ClassId, Vec<Bar>> = BTreeMap::new();
    for (id, stick) in edge.sticks.sticks.entries() {
        let class = &edge.sticks.classes[stick.class];
        let gangs = || edge.gangs(&edge.benches[stick.class].clampings);
        for (piece, told) in edge.marks.of_stick(&edge.sticks, id) {
            let [from, to] = piece.cut;
            // Square ends: what reaches into the piece is in it.
            let reach = |width: f64, deg: f64| {
                let t = deg.to_radians();
                (0.5 * width + 0.5 * class.face[1] * t.cos().abs()) / t.sin()
            };
            let reaches = |n: &&lapwright::lattice::ClassNotch| {
                let r = reach(n.width, n.angle_deg);
                n.at + r > from + 1e-6 && n.at - r < to - 1e-6
            };
            let notches = class.notches.iter().filter(reaches).map(|n| Notch {
                at: n.at - from,
                edge: n.edge,
                angle_deg: n.angle_deg,
                depth: n.depth,
            });
            // What the clampings cut, as far as all of it is on the piece.
            let mut groove: Option<Seen> = None;
            for gang in gangs() {
                let Some(mark) = gang.mark else { continue };
                let r = reach(mark.width, gang.fence_deg);
                if mark.at - r < from || mark.at + r > to {
                    continue;
                }
                let left = mark.at - from < to - mark.at;
                let seen = groove.get_or_insert(Seen {
                    left,
                    edges: BTreeSet::new(),
                });
                assert_eq!(seen.left, left, "one place");
                seen.edges.insert(gang.edge.word());
            }
            let of_stick = Some(Seen {
                left: true,
                edges: gangs()
                    .filter(|g| g.mark.is_some())
                    .map(|g| g.edge.word())
                    .collect(),
            });
            let cross = (told.made != MarkMade::Cut).then(|| Seen {
                left: told.mark.end == BarEnd::First,
                edges: names(told.mark.edges),
            });
            heaps.entry(piece.class).or_default().push(Bar {
                length: to - from,
                notches: notches.collect(),
                groove,
                cross,
                of_stick,
            });
        }
    }
    heaps
}

/// What the steps of assembly say of the mark of each member: end and edges, in their own words.
fn told(plan: &Plan) -> BTreeMap<MemberId, (String, BTreeSet<&'static str>)> {
    let mut found = BTreeMap::new();
    for step in &plan.panel().unwrap().assembly.steps {
        let mut left: Vec<MemberId> = step.members.clone();
        for text in step.text.iter().filter(|t| t.starts_with("Mark at the ")) {
            let (place, ids) = text.trim_end_matches('.').split_once(": ").unwrap();
            let words = place.strip_prefix("Mark at the ").unwrap();
            let (end, edges) = words.split_once(" end, ").unwrap();
            let edges = match edges {
                "in front" => BTreeSet::from(["front"]),
                "at the back" => BTreeSet::from(["back"]),
                "in both edges" => BTreeSet::from(["front", "back"]),
                other => panic!("{other}"),
            };
            let all = ["all", "all others"].contains(&ids);
            let ids: Vec<&str> = ids.split(", ").collect();
            let mine = |m: &MemberId| all || ids.contains(&plan.lattice().members[*m].id.as_str());
            let (now, later) = left.into_iter().partition(mine);
            left = later;
            let now: Vec<MemberId> = now;
            assert!(!now.is_empty(), "{text}");
            for m in now {
                found.insert(m, (end.to_owned(), edges.clone()));
            }
        }
        assert!(left.is_empty(), "every bar's mark is told: {left:?}");
    }
    found
}

/// Whether this word names the end at which a member starts.
fn is_start(member: &Member, word: &str) -> bool {
    let along = member.end - member.start;
    match word {
        "left" => along.x > 1e-6,
        "right" => along.x < -1e-6,
        "lower" => along.y > 1e-6,
        "upper" => along.y < -1e-6,
        other => panic!("{other}"),
    }
}

#[derive(Debug, Default)]
struct Count {
    right: usize,
    wrong: usize,
    /// Pieces whose cross stands beside what is left of a groove that does not count.
    instead: usize,
    /// Members that are turned pieces, and those with marks in both edges.
    turned: usize,
    both: usize,
    /// Classes whose pieces lie in more than one turn.
    classes: usize,
}

/// Puts every member together from every kind of piece of its class. `marks` gives the mark that a maker goes by.
fn build(plan: &Plan, marks: fn(&Bar) -> Option<&Seen>, count: &mut Count) {
    let (heaps, told) = (heaps(plan), told(plan));
    let edge = plan.edge_up().unwrap();
    let made = edge.marks.pieces.iter().flatten();
    count.instead += made.filter(|m| m.made == MarkMade::PencilInstead).count();
    let mut turns: BTreeMap<ClassId, BTreeSet<&str>> = BTreeMap::new();
    for piece in edge.sticks.sticks.iter().flat_map(|s| &s.pieces) {
        turns
            .entry(piece.class)
            .or_default()
            .insert(piece.turn.word());
    }
    count.classes += turns.values().filter(|t| t.len() > 1).count();
    for (m, member) in plan.lattice().members.entries() {
        let (word, edges) = &told[&m];
        count.both += usize::from(edges.len() == 2);
        count.turned += usize::from(member.turn.swaps_ends() || member.turn.swaps_edges());
        let wanted = Seen {
            left: is_start(member, word),
            edges: edges.clone(),
        };
        for bar in &heaps[&member.class] {
            let lying = WAYS.map(|way| bar.turned(way));
            let placed = lying.iter().filter(|lies| marks(lies) == Some(&wanted));
            let (right, wrong): (Vec<&Bar>, Vec<&Bar>) = placed.partition(|lies| lies.is(member));
            // A piece that cannot be placed by its mark is wrong, too.
            count.wrong += wrong.len() + usize::from(right.is_empty());
            count.right += right.len();
        }
    }
}

/// What the sheet says: the cross where there is one, else the groove.
fn as_told(bar: &Bar) -> Option<&Seen> {
    bar.cross.as_ref().or(bar.groove.as_ref())
}

/// A simpler rule that does not do: every piece of a stick is marked as the stick is.
fn as_the_stick(bar: &Bar) -> Option<&Seen> {
    bar.of_stick.as_ref()
}

/// A panel that is cut edge up on a bench that takes nearly all.
fn files(case: &panels::Case, index: usize) -> JobFiles {
    let mut files = crate::panel_support::panel("check");
    files.panel.ground = case.panel.ground.clone();
    files.panel.outline = case.panel.outline.clone();
    // Square ends, so that a piece is a box.
    files.panel.outline.overhang = [12.5, 17.3, 26.0][index % 3];
    files.panel.cut.clearance = case.panel.cut.clearance.max(0.0);
    files.panel.cut.method = Method::EdgeUp;
    files.panel.quantity = 1 + (index % 4) as u32;
    files.panel.surround = None;
    let sticks = &mut files.panel.sticks;
    (sticks.lead, sticks.tail) = (31.0, [31.0, 12.0, 24.0][index % 3]);
    (sticks.ends, sticks.limit) = (Vec::new(), Some(700.0));
    sticks.saw_kerf = 1.3;
    files.material.taper = 0.0;
    for blank in &mut files.stock.blanks {
        (blank.length, blank.width) = (2000.0, 400.0);
    }
    let machine = &mut files.own_mut().expect("a machine").machine;
    machine.travel = [60_000.0, 60_000.0, 300.0];
    machine.bed = [[-30_000.0, 60_000.0]; 2];
    machine.zero = [[0.0, 60_000.0]; 2];
    let HeadKind::Router(router) = &mut machine.head else {
        panic!("a router")
    };
    router.hold_width = 0.5;
    router.clamp_width = 30_000.0;
    router.fence_deg = [1.0, 179.0];
    (
        router.fence_error_deg,
        router.square_error_deg,
        router.apex_error,
    ) = (0.0, 0.0, 0.0);
    (router.rail_bow, router.seating) = (0.0, 0.0);
    let tool = &mut router.tool;
    (tool.diameter, tool.flute_length, tool.stick_out) = (0.8, 200.0, 300.0);
    if let Some(cut) = &mut files.material.router {
        cut.pass_depth = 0.4;
    }
    files
}

/// Uprights that weave: every other level bar lies behind them, and they are notched in turn in front and at the
/// back. A piece that begins a joint later on its stick is turned over.
fn woven(index: usize) -> JobFiles {
    let mut files = files(&panels::cases()[0], index);
    let pitch = 33.7 + index as f64;
    let level = |first: f64| FreeFamily {
        direction_deg: 0.0,
        lines: FreeLines::Even {
            first,
            pitch: 2.0 * pitch,
        },
    };
    let upright = FreeFamily {
        direction_deg: 90.0,
        lines: FreeLines::Even {
            first: 20.0,
            pitch: 51.3,
        },
    };
    let layout = Layout::Free(vec![upright, level(15.0), level(15.0 + pitch)]);
    let face = |name: &str, rank| FamilySpec {
        name: name.into(),
        face: 4.0,
        rank,
    };
    let families = vec![face("upright", 2), face("low", 1), face("high", 3)];
    let rows = 2 + index % 5;
    files.panel.ground.layout = layout;
    files.panel.ground.families = families;
    files.panel.outline.shape = OutlineShape::Rectangle {
        size: Size::Millimetres {
            width: 190.0,
            height: 30.0 + pitch * (rows - 1) as f64,
        },
        sides: Sides {
            left: SideRule::Centres,
            right: SideRule::Centres,
            bottom: SideRule::Centres,
            top: SideRule::Centres,
        },
    };
    files.panel.quantity = 3;
    files
}

#[test]
fn following_the_words_puts_every_bar_in_right() {
    let (mut count, mut made, mut refused) = (Count::default(), 0, BTreeMap::new());
    let mut astray = Count::default();
    let odd = panels::cases()
        .iter()
        .enumerate()
        .map(|(i, case)| files(case, i))
        .collect::<Vec<_>>();
    for files in odd.into_iter().chain((0..20).map(woven)) {
        match plan(files, &mut |_| ()) {
            Ok(plan) => {
                made += 1;
                build(&plan, as_told, &mut count);
                build(&plan, as_the_stick, &mut astray);
            }
            Err(JobError::Checks(checks)) => {
                let fails = checks.iter().filter(|c| c.status == Status::Fail);
                for id in fails.map(|c| c.id).collect::<BTreeSet<_>>() {
                    *refused.entry(id.word()).or_insert(0) += 1;
                }
            }
            Err(_) => *refused.entry("for its lines").or_insert(0) += 1,
        }
    }
    let told =
        format!("{made} made, refused {refused:?}; {count:?}; marked as the stick {astray:?}");
    println!("{told}");
    assert_eq!(count.wrong, 0, "{told}");
    assert!(made >= 100 && count.right > 1000, "{told}");
    assert!(count.turned > 100 && count.both > 100, "{told}");
    // The rule is needed, and the test can fail.
    assert!(
        count.classes > 5 && count.instead > 0 && astray.wrong > 20,
        "{told}"
    );
}

/// The check panel by its figures: the slanting sticks are grooved in their front edges; rising bars that are their
/// pieces unturned bear it at the left, in front.
#[test]
fn the_check_panel_tells_every_mark() {
    let files = crate::panel_support::panel("check");
    let plan = plan(files, &mut |_| ()).unwrap();
    let mut count = Count::default();
    build(&plan, as_told, &mut count);
    assert!(count.wrong == 0 && count.right >= plan.lattice().members.len());
    let told = told(&plan);
    let of = |id: &str| {
        let m = member(plan.lattice(), id);
        let (end, edges) = &told[&m];
        (end.as_str(), edges.iter().copied().collect::<Vec<_>>())
    };
    assert_eq!(of("R1"), ("left", vec!["front"]));
    assert_eq!(of("R6"), ("right", vec!["front"]));
    assert_eq!(of("F1"), ("right", vec!["back"]));
    assert_eq!(of("U3"), ("lower", vec!["back", "front"]));
}

fn member(lattice: &Lattice, id: &str) -> MemberId {
    let mut all = lattice.members.entries();
    all.find(|(_, m)| m.id == id).unwrap().0
}
