//! The pictures of the assembly: what the steps say, laid out for the drawings.

use std::collections::BTreeMap;

use crate::assembly::{Assembly, Step};
use crate::geom::{Convex, Point, Vec2};
use crate::lattice::{BarEnd, Lattice, Member, MemberId};
use crate::plan::{Drawn, PanelPlan, Plan};
use crate::surround::Side;
use crate::write::svg::{Labelled, MarkView, StepView, step_svg};

/// Where the picture of all members lies in the job's folder.
pub(crate) const MEMBERS: &str = "pictures/members.svg";

/// Adds a picture for every step that has one, and that of all members by id and turn.
pub(super) fn add(plan: &Plan, panel: &PanelPlan, files: &mut BTreeMap<String, Vec<u8>>) {
    for (number, view) in step_views(plan, panel) {
        files.insert(Assembly::picture(number), step_svg(&view));
    }
    files.insert(MEMBERS.to_owned(), step_svg(&members(plan, panel)));
}

/// The same pictures by the same paths, without the words that stand beside them on the sheet.
pub(crate) fn without_words(plan: &Plan, panel: &PanelPlan) -> BTreeMap<String, Vec<u8>> {
    let views = step_views(plan, panel).into_iter();
    let views = views.map(|(number, view)| (Assembly::picture(number), view));
    let bare = |(path, view)| {
        let view = StepView {
            title: String::new(),
            text: Vec::new(),
            ..view
        };
        (path, step_svg(&view))
    };
    views
        .chain([(MEMBERS.to_owned(), members(plan, panel))])
        .map(bare)
        .collect()
}

/// What the picture of each step shows, by the step's number; of those that have one.
fn step_views(plan: &Plan, panel: &PanelPlan) -> Vec<(usize, StepView)> {
    let lattice = &panel.drawn.lattice;
    let mut views = Vec::new();
    let mut before: Vec<Vec<Point>> = Vec::new();
    for (number, step) in (1..).zip(&panel.assembly.steps) {
        let going_in = going_in(&panel.drawn, step);
        let mut sorted = going_in.clone();
        // A front bar is painted last.
        sorted.sort_by_key(|(rank, _)| *rank);
        if step.has_picture() {
            let view = StepView {
                title: format!("Step {number}: {}", step.title),
                text: step.text.clone(),
                outline: lattice.outline.region.corners().to_vec(),
                tones: ["in already", "goes in"],
                before: before.clone(),
                going_in: sorted.iter().map(|(_, piece)| piece.clone()).collect(),
                glue: step
                    .glue
                    .iter()
                    .map(|joint| (joint.at, joint.more))
                    .collect(),
                trims: step.trims.iter().map(|line| (line.from, line.to)).collect(),
                marks: marks(plan, step.members.iter().copied()),
                joints: lattice.nodes.len(),
            };
            views.push((number, view));
        }
        before.extend(sorted.into_iter().map(|(_, piece)| piece.plan));
        if !step.trims.is_empty() {
            // The ends are gone.
            let ground = &lattice.outline.region;
            let kept =
                |plan: Vec<Point>| Convex::from_corners(plan).both(ground).corners().to_vec();
            before = before.into_iter().map(kept).collect();
        }
    }
    views
}

/// What goes in at a step, each with its rank.
fn going_in(drawn: &Drawn, step: &Step) -> Vec<(u32, Labelled)> {
    let lattice = &drawn.lattice;
    let mut all: Vec<(u32, Labelled)> = Vec::new();
    for member in step.members.iter().map(|&m| &lattice.members[m]) {
        all.push((
            rank(lattice, member),
            bar(lattice, member, member.id.clone()),
        ));
    }
    if let Some(infill) = &drawn.infill {
        let pieces = step.cells.iter().flat_map(|c| &c.pieces);
        for piece in pieces.map(|&p| &infill.pieces[p]) {
            let piece = Labelled {
                plan: piece.outline.clone(),
                name: infill.classes[piece.class].id.clone(),
                places: vec![piece.start.midpoint(piece.end)],
            };
            all.push((0, piece));
        }
    }
    if let Some(surround) = &drawn.surround {
        for (place, &side) in (0..).zip(&step.sides) {
            all.push((place, side_of(&surround.sides[side])));
        }
    }
    all
}

/// The marks of these members at the ends that they lie near.
fn marks(plan: &Plan, members: impl Iterator<Item = MemberId>) -> Vec<MarkView> {
    let lattice = plan.lattice();
    let Some(all) = plan.member_marks() else {
        return Vec::new();
    };
    let one = |m: MemberId| {
        let (member, mark) = (&lattice.members[m], all[m]);
        let axis = lattice.families[member.family].axis();
        let (at, inward) = match mark.end {
            BarEnd::First => (member.from, axis),
            BarEnd::Last => (member.to, -axis),
        };
        MarkView {
            end: member.start + axis * at,
            inward,
            edges: mark.edges,
        }
    };
    members.map(one).collect()
}

fn rank(lattice: &Lattice, member: &Member) -> u32 {
    lattice.families[member.family].rank
}

/// So many places for a name are enough to choose from.
const PLACES: usize = 24;

/// A bar, its name between two joints, near its middle first.
fn bar(lattice: &Lattice, member: &Member, name: String) -> Labelled {
    let along = member.end - member.start;
    let length = along.hypot();
    let axis = if length > 0.0 {
        along / length
    } else {
        Vec2::ZERO
    };
    let mut stops: Vec<f64> = member
        .joints
        .iter()
        .map(|j| j.at.clamp(0.0, length))
        .collect();
    stops.extend([0.0, length]);
    stops.sort_by(f64::total_cmp);
    let mut middles: Vec<f64> = stops
        .windows(2)
        .filter(|w| w[1] - w[0] > 0.5)
        .map(|w| 0.5 * (w[0] + w[1]))
        .collect();
    let off = |t: &f64| (t - 0.5 * length).abs();
    middles.sort_by(|a, b| off(a).total_cmp(&off(b)).then(a.total_cmp(b)));
    Labelled {
        plan: lattice.body(member).corners().to_vec(),
        name,
        places: middles
            .into_iter()
            .take(PLACES)
            .map(|t| member.start + axis * t)
            .collect(),
    }
}

fn side_of(side: &Side) -> Labelled {
    let n = side.outline.len().max(1) as f64;
    let sum = side
        .outline
        .iter()
        .fold(Vec2::ZERO, |sum, p| sum + p.to_vec2());
    Labelled {
        plan: side.outline.clone(),
        name: side.side.clone(),
        places: vec![(sum / n).to_point()],
    }
}

/// How the picture of all members is read.
const MEMBERS_TEXT: &str = "Each bar by its id, the letter of its piece, and how that piece is turned to \
                                       go there: over about its long axis, end for end, or both. A bar starts at \
                                       its left end, an upright one at its lower end.";

/// What the picture of all members tells of marks.
const MARKS_TEXT: &str = " The square near an end of each is its mark: black where it lies in the front edge, white \
                          where it lies in the back edge, half and half where it lies in both.";

/// How the picture of all members is read, for this job.
pub(crate) fn members_text(plan: &Plan) -> String {
    let marked = plan.member_marks().is_some();
    format!("{MEMBERS_TEXT}{}", if marked { MARKS_TEXT } else { "" })
}

/// Every member by id, class, turn and mark.
fn members(plan: &Plan, panel: &PanelPlan) -> StepView {
    let lattice = &panel.drawn.lattice;
    let mut all: Vec<(u32, Labelled)> = (lattice.members.iter())
        .map(|m| {
            let class = &lattice.classes[m.class].id;
            let turn = match m.turn {
                crate::lattice::Turn::None => String::new(),
                turn => format!(" {}", turn.word()),
            };
            (
                rank(lattice, m),
                bar(lattice, m, format!("{} {class}{turn}", m.id)),
            )
        })
        .collect();
    all.sort_by_key(|(rank, _)| *rank);
    let names = all.iter().map(|(_, piece)| Labelled {
        plan: Vec::new(),
        ..piece.clone()
    });
    StepView {
        title: format!("{}: members", plan.files.panel.name),
        text: vec![members_text(plan)],
        outline: lattice.outline.region.corners().to_vec(),
        before: all.iter().map(|(_, piece)| piece.plan.clone()).collect(),
        going_in: names.collect(),
        marks: marks(plan, lattice.members.ids()),
        ..StepView::default()
    }
}
