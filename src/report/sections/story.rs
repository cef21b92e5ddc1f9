//! Story sticks at true size: every stick, and every class of bars.

use super::sheet::{PanelSheet, Sheet};
use crate::document::{Block, Figure, Page, Section, Size, counted};
use crate::lattice::{BarEnd, ClassId, ClassNotch, Edge, End, JointShape, Lattice, MarkEdges};
use crate::plan::EdgePlan;
use crate::setup::{Groove, MarkMade, PieceMark};
use crate::stock::StickId;
use crate::write::pdf::room;
use crate::write::svg::{
    MarkShape, StoryCut, StoryMark, StoryNotch, StoryView, story_room, story_svg,
};

/// What two pages of one story stick show alike, mm.
const OVERLAP: f64 = 20.0;
/// Most pictures of the section: some thirty pages.
const MOST: usize = 120;

/// A bar to be drawn.
struct Bar {
    title: String,
    length: f64,
    face: f64,
    ends: [End; 2],
    notches: Vec<StoryNotch>,
    cuts: Vec<StoryCut>,
    marks: Vec<StoryMark>,
    /// Where its mark lies, in words; empty for none.
    marked: String,
}

impl Bar {
    /// Whether its joints, three or more, all lie one step apart.
    fn even(&self) -> bool {
        let mut ats: Vec<f64> = self.notches.iter().map(|notch| notch.at).collect();
        ats.sort_by(f64::total_cmp);
        ats.dedup_by(|b, a| *b - *a < SAME);
        let steps = || ats.windows(2).map(|w| w[1] - w[0]);
        let first = steps().next();
        ats.len() > 2 && first.is_some_and(|first| steps().all(|step| (step - first).abs() < SAME))
    }
}

/// Notches nearer than this share a joint, and steps that differ by less are alike, mm: less than a knife line.
const SAME: f64 = 0.02;

/// How a story stick is checked (common practice, no source).
const SHIFTED: &str = "Check a story stick against its own marks before it is used: where joints lie one step apart, \
                       knife its marks onto a batten, shift it along by one joint, and every mark must meet the next \
                       one. A mark that does not is off.";

pub(super) fn section(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let mut bars = bars(sheet, &of.panel.drawn.lattice);
    let ring = of.panel.drawn.ring().into_iter();
    bars.extend(ring.flat_map(|ring| sides(sheet, ring)));
    if bars.is_empty() {
        return None;
    }
    let [short, long] = sheet.plan.files.panel.workshop_sheet.paper.size();
    let width = room([long, short])[0];
    let text = "True size where the bar at its head measures 100 mm. Lay the bar on its lines and mark it: \
                figures are middles of notches along the centre line from the first end. Back edges are drawn \
                with the bar turned over about its long axis. Where a story stick goes on over the next page, \
                cut one page at a join and lay its line on that of the other.";
    let mut text = text.to_owned();
    if bars.iter().any(|bar| !bar.marks.is_empty()) {
        text += " What is black across an edge is the orientation mark: a stroke for the groove that is cut, a cross \
                 for one in pencil.";
    }
    let mut blocks = vec![Block::Text(text)];
    if bars.iter().any(Bar::even) {
        blocks.push(Block::Text(SHIFTED.into()));
    }
    let mut drawn = 0;
    let mut left_out: Vec<&str> = Vec::new();
    for (k, bar) in bars.iter().enumerate() {
        let parts = parts(bar.length, story_room(width));
        if drawn + parts.len() > MOST {
            left_out.push(&bar.title);
            continue;
        }
        drawn += parts.len();
        blocks.extend(figures(sheet, k, bar, &parts, width).map(Block::Figure));
    }
    if !left_out.is_empty() {
        blocks.push(Block::Text(format!(
            "Not drawn, for want of room: {}. Their notches stand in the cut list.",
            left_out.join("; ")
        )));
    }
    Some(Section {
        title: "Story sticks, 1 : 1".into(),
        page: Page::Broad,
        blocks,
    })
}

/// The parts of a length that pages so wide show, each but the last overlapping the next.
fn parts(length: f64, room: f64) -> Vec<[f64; 2]> {
    let mut parts = vec![[0.0, length.min(room)]];
    while let Some(&[_, to]) = parts.last()
        && to < length
    {
        let from = to - OVERLAP;
        parts.push([from, length.min(from + room)]);
    }
    parts
}

/// Sticks first, then classes.
fn bars(sheet: &Sheet<'_>, lattice: &Lattice) -> Vec<Bar> {
    let edge = sheet.plan.edge_up();
    let sticks = edge.into_iter().flat_map(|edge| {
        let all = edge.sticks.sticks.ids();
        all.map(move |id| stick(sheet, lattice, edge, id))
    });
    let mut bars: Vec<Bar> = sticks.collect();
    for (c, class) in lattice.classes.entries() {
        let [_, face] = lattice.faces[lattice.members[class.first].family];
        let mark = edge.map(|edge| class_mark(edge, c, class.length));
        bars.push(Bar {
            title: format!("Class {}", class.id),
            length: class.length,
            face,
            ends: class.ends,
            notches: notches(sheet, &class.notches),
            cuts: Vec::new(),
            marks: mark.iter().map(|(mark, _)| *mark).collect(),
            marked: mark.map_or_else(String::new, |(mark, end)| {
                format!("mark near the {end} end, in {}", edges(mark.edges))
            }),
        });
    }
    bars
}

/// The classes of a lapped surround. They are cut flat, and nothing marks them.
fn sides(sheet: &Sheet<'_>, ring: &Lattice) -> Vec<Bar> {
    let classes = ring.classes.iter().map(|class| Bar {
        title: format!("Class {}", class.id),
        length: class.length,
        face: ring.faces[ring.members[class.first].family][1],
        ends: class.ends,
        notches: notches(sheet, &class.notches),
        cuts: Vec::new(),
        marks: Vec::new(),
        marked: String::new(),
    });
    classes.collect()
}

/// A stick, where it is cross-cut, and its marks.
fn stick(sheet: &Sheet<'_>, lattice: &Lattice, edge: &EdgePlan, id: StickId) -> Bar {
    let stick = &edge.sticks.sticks[id];
    let class = &edge.sticks.classes[stick.class];
    let groove = &edge.marks.grooves[stick.class];
    let mut cuts: Vec<StoryCut> = Vec::new();
    for piece in &stick.pieces {
        let id = &lattice.classes[piece.class].id;
        for (at, side) in piece.cut.iter().zip(["from", "to"]) {
            cuts.push(StoryCut {
                at: *at,
                label: format!("{id} {side} {}", sheet.numbers.decimals().len(*at)),
            });
        }
    }
    let made = counted(stick.count as usize + stick.spares as usize, "stick");
    Bar {
        title: format!("{}: {made}", stick.id),
        length: class.length,
        face: class.face[1],
        ends: class.ends,
        notches: notches(sheet, &class.notches),
        cuts,
        marks: stick_marks(edge, id),
        marked: format!(
            "groove in {}, {} from the datum end",
            edges(groove.edges),
            sheet.numbers.with_unit(groove.at)
        ),
    }
}

fn edges(edges: MarkEdges) -> &'static str {
    match edges {
        MarkEdges::One(Edge::Front) => "the front edge",
        MarkEdges::One(Edge::Back) => "the back edge",
        MarkEdges::Both => "both edges",
    }
}

fn groove_shape(groove: &Groove) -> MarkShape {
    MarkShape::Groove(groove.width, groove.angle_deg)
}

/// The groove of a stick, and the crosses on its pieces.
fn stick_marks(edge: &EdgePlan, id: StickId) -> Vec<StoryMark> {
    let groove = &edge.marks.grooves[edge.sticks.sticks[id].class];
    let groove = StoryMark {
        at: groove.at,
        edges: groove.edges,
        shape: groove_shape(groove),
    };
    let pieces = edge.marks.of_stick(&edge.sticks, id);
    let crosses = pieces.filter(|(_, m)| m.made != MarkMade::Cut);
    let crosses = crosses.map(|(piece, PieceMark { mark, .. })| {
        let near = edge.marks.places[piece.class];
        StoryMark {
            at: match mark.end {
                BarEnd::First => piece.cut[0] + near,
                BarEnd::Last => piece.cut[1] - near,
            },
            edges: mark.edges,
            shape: MarkShape::Cross,
        }
    });
    std::iter::once(groove).chain(crosses).collect()
}

/// The mark of a class, and near which end it lies.
fn class_mark(edge: &EdgePlan, class: ClassId, length: f64) -> (StoryMark, &'static str) {
    let (mark, near) = (edge.marks.classes[class], edge.marks.places[class]);
    let mut sticks = edge.sticks.sticks.entries();
    let cut = sticks.find(|(id, _)| {
        let mut pieces = edge.marks.of_stick(&edge.sticks, *id);
        pieces.any(|(p, m)| p.class == class && m.made == MarkMade::Cut)
    });
    let (at, end) = match mark.end {
        BarEnd::First => (near, "first"),
        BarEnd::Last => (length - near, "last"),
    };
    let story = StoryMark {
        at,
        edges: mark.edges,
        shape: match cut {
            Some((_, stick)) => groove_shape(&edge.marks.grooves[stick.class]),
            None => MarkShape::Cross,
        },
    };
    (story, end)
}

fn notches(sheet: &Sheet<'_>, notches: &[ClassNotch]) -> Vec<StoryNotch> {
    let one = |notch: &ClassNotch| StoryNotch {
        at: notch.at,
        label: sheet.numbers.len(notch.at),
        edge: notch.edge,
        walls_deg: match notch.shape {
            JointShape::Skew => notch.angle_deg,
            JointShape::Square => 90.0,
        },
        run: notch.run,
        depth: notch.depth,
    };
    notches.iter().map(one).collect()
}

fn figures<'a>(
    sheet: &'a Sheet<'_>,
    number: usize,
    bar: &'a Bar,
    parts: &'a [[f64; 2]],
    width: f64,
) -> impl Iterator<Item = Figure> + 'a {
    let n = sheet.numbers;
    let joins: Vec<f64> = parts
        .iter()
        .skip(1)
        .map(|[from, _]| from + 0.5 * OVERLAP)
        .collect();
    let depth = sheet.plan.lattice().depth;
    parts.iter().enumerate().map(move |(k, part)| {
        let page = match parts.len() {
            1 => String::new(),
            of => format!(", part {} of {of}", k + 1),
        };
        let title = format!("{}{page}", bar.title);
        let mut note = format!(
            "{} long, face {}, depth {}",
            n.with_unit(bar.length),
            n.fine_with_unit(bar.face),
            n.fine_with_unit(depth)
        );
        if !bar.marked.is_empty() {
            note += &format!("; {}", bar.marked);
        }
        let svg = story_svg(&StoryView {
            id: &format!("story-{}-{}", number + 1, k + 1),
            title: &title,
            note: &note,
            length: bar.length,
            face: bar.face,
            depth,
            ends: bar.ends,
            notches: &bar.notches,
            cuts: &bar.cuts,
            marks: &bar.marks,
            joins: &joins,
            part: *part,
            width,
        });
        Figure {
            svg,
            alt: format!("Story stick at true size: {title}"),
            caption: String::new(),
            size: Size::True,
        }
    })
}
