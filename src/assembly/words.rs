//! What a maker is told at each step. Facts of the trade are common practice, without a source.

use std::collections::BTreeMap;

use super::glue::GlueJoint;
use super::steps::{CellPieces, Step};
use super::trim::end_angles;
use crate::document::Numbers;
use crate::infill::{Infill, InfillClassId};
use crate::lattice::{BarMark, Lattice, Member, MemberId};
use crate::panel::{InfillCut, Method, Panel};
use crate::surround::{SideId, Surround};
use crate::table::Column;

/// So many ids or cells are told in a sentence; more are told by number and by the picture.
const TOLD: usize = 24;

/// Before anything goes together.
pub(super) fn prepare(panel: &Panel, lattice: &Lattice) -> Step {
    let mut text = vec![
        "Finish-plane the stock before it is cut: once the notches are there nothing can be planed, but for \
         the panel's faces after glue-up. Card is only brushed off."
            .to_owned(),
    ];
    text.push(match panel.cut.method {
        Method::Flat => {
            "Label every piece with its letter before it leaves its sheet; pieces of one letter are the same. \
             pictures/members.svg shows where each goes and how it is turned: write its number on it as it goes \
             there."
                .into()
        }
        Method::EdgeUp => {
            "Label every stick and every piece on it before cross-cutting: sticks.csv tells the cuts, \
             pictures/members.svg where each piece goes. Spare joints between pieces and at the ends of sticks \
             are cut off with the waste; keep them to try fits on."
                .into()
        }
    });
    if panel.cut.method == Method::EdgeUp {
        text.push(MARKS.to_owned());
    }
    text.extend(hand_trims(lattice));
    Step {
        title: "Prepare the pieces".into(),
        text,
        ..Step::default()
    }
}

/// How bars are told from turned ones.
const MARKS: &str = "Every bar has a mark near one end: a shallow groove across an edge, or a \
                     cross in pencil. Where a bar has both, the cross counts. A turned bar looks like a right one: \
                     the steps below and pictures/members.svg tell for each bar at which end, and in which edge, \
                     its mark must lie.";

/// Where the marks of these members lie, those alike together.
pub(super) fn marks(
    lattice: &Lattice,
    members: &[MemberId],
    marks: &Column<Member, BarMark>,
) -> Vec<String> {
    let mut found: Vec<(String, Vec<&str>)> = Vec::new();
    for &m in members {
        let member = &lattice.members[m];
        let place = marks[m].in_words(&lattice.families[member.family]);
        match found.iter_mut().find(|(p, _)| *p == place) {
            Some((_, ids)) => ids.push(&member.id),
            None => found.push((place, vec![&member.id])),
        }
    }
    // Bars by name, and those that are most at last, as all others. None is left out.
    found.sort_by_key(|(_, ids)| ids.len());
    let last = found.len().saturating_sub(1);
    let one = |(k, (place, ids)): (usize, &(String, Vec<&str>))| {
        let which = match (k == last, last) {
            (true, 0) => "all".to_owned(),
            (true, _) if ids.len() > TOLD => "all others".to_owned(),
            _ => ids.join(", "),
        };
        format!("Mark {place}: {which}.")
    };
    found.iter().enumerate().map(one).collect()
}

/// Ends that are trimmed by hand before they go in, by angle.
fn hand_trims(lattice: &Lattice) -> Vec<String> {
    let mut found: Vec<(String, Vec<&str>)> = Vec::new();
    for member in &lattice.members {
        let angles = end_angles(lattice, member);
        let ends = ["start", "end"]
            .into_iter()
            .zip(&angles)
            .zip(member.trimmed_by_hand);
        let cuts: Vec<String> = ends
            .filter(|(_, by_hand)| *by_hand)
            .map(|((end, angles), _)| format!("{end} {}", degrees(angles)))
            .collect();
        if cuts.is_empty() {
            continue;
        }
        let cuts = cuts.join(", ");
        match found.iter_mut().find(|(c, _)| *c == cuts) {
            Some((_, ids)) => ids.push(&member.id),
            None => found.push((cuts, vec![&member.id])),
        }
    }
    if found.is_empty() {
        return Vec::new();
    }
    let mut text = vec![
        "These ends are cut square to their long point, and trimmed by hand in a mitre jig before the dry fit: \
         the angle is that from the bar to the cut, counter-clockwise as the bar lies in the panel seen from \
         the front; a bar starts at its left end, an upright one at its lower end."
            .to_owned(),
    ];
    text.extend(
        found
            .into_iter()
            .map(|(cuts, ids)| format!("{cuts}: {}.", list(&ids))),
    );
    text
}

/// 60.00° or, for two cuts that meet in a point, 30.00° and 150.00°.
fn degrees(angles: &[f64]) -> String {
    let each: Vec<String> = angles.iter().map(|a| format!("{a:.2}°")).collect();
    each.join(" and ")
}

fn list(ids: &[&str]) -> String {
    match ids.split_at_checked(TOLD) {
        Some((shown, more)) if !more.is_empty() => {
            format!("{} and {} more", shown.join(", "), more.len())
        }
        _ => ids.join(", "),
    }
}

/// The dry fit.
pub(super) fn dry(lattice: &Lattice) -> Step {
    let groups = lattice.order.len();
    let groups = match groups {
        1 => "the one group".to_owned(),
        2 => "both groups".to_owned(),
        n => format!("all {n} groups"),
    };
    Step {
        title: "Put it together dry".into(),
        text: vec![
            "Work on a flat board under wax paper, with two straight fences along neighbouring sides.".into(),
            format!(
                "Put {groups} together without glue, in the order of the steps below. Every bar goes in \
                 straight down from the front, under hand pressure; ease what binds, replace what rattles."
            ),
            "Check that it lies flat and that the sides are true, then take it apart from the front to the \
             back and lay the groups out in their order."
                .into(),
        ],
        ..Step::default()
    }
}

/// A group of members.
pub(super) fn group(
    panel: &Panel,
    lattice: &Lattice,
    place: usize,
    members: &[MemberId],
    glue: &[GlueJoint],
) -> (String, Vec<String>) {
    let (number, of) = (place + 1, lattice.order.len());
    let title = match place {
        0 => format!("Lay out the back bars (1 of {of})"),
        _ if number == of => format!("Lower in the front bars ({number} of {of})"),
        _ => format!("Lower in the next bars ({number} of {of})"),
    };
    let members = members.iter().map(|&m| &lattice.members[m]);
    let ids: Vec<&str> = members.clone().map(|m| m.id.as_str()).collect();
    let mut counts: Vec<(&str, usize)> = Vec::new();
    for name in members.map(|m| lattice.families[m.family].name.as_str()) {
        match counts.iter_mut().find(|(n, _)| *n == name) {
            Some((_, count)) => *count += 1,
            None => counts.push((name, 1)),
        }
    }
    let counts: Vec<String> = counts
        .iter()
        .map(|(name, n)| format!("{n} {name}"))
        .collect();
    let mut text = vec![format!(
        "{}, from the middle of the panel outwards: {}.",
        counts.join(", "),
        list(&ids)
    )];
    text.push(if place == 0 {
        "Back edge down. Nothing holds them yet: set them in a spacing jig, a batten notched like a bar that \
         crosses them, at either end."
            .into()
    } else {
        "Straight down from the front, each pressed home along its whole length before the next. Where joints are \
         tight, lay a block along the bar and tap it home with a hammer, a little at every joint in turn: never push \
         it in at one end."
            .into()
    });
    text.extend(glue_words(panel, glue));
    (title, text)
}

/// Where glue goes as a group goes in; nothing where there is none.
fn glue_words(panel: &Panel, glue: &[GlueJoint]) -> Option<String> {
    let more = glue.iter().filter(|joint| joint.more).count();
    let hold = match panel.surround {
        Some(_) => "hold until the surround is on",
        None => "hold the panel's edge",
    };
    let why = format!("on the outline or next to it: these are cut through or {hold}");
    let told = match (more, glue.len() - more) {
        (0, 0) => return None,
        (0, _) => "a dab in each (small dots)".to_owned(),
        (_, 0) => format!("more than a dab in each (large dots), for all lie {why}"),
        (more, dabs) => format!("a dab in {dabs} (small dots), more in {more} (large dots) {why}"),
    };
    let joints = glue.len();
    Some(format!(
        "Glue in each of the {joints} joints as its bar goes in: {told} (common practice, no source)."
    ))
}

/// Trimming of the glued panel.
pub(super) fn trim(
    panel: &Panel,
    lattice: &Lattice,
    single: &[&str],
    n: Numbers,
) -> (String, Vec<String>) {
    let sides: Vec<&str> = (lattice.outline.sides.iter())
        .map(|side| side.name.as_str())
        .collect();
    let bounds = lattice.bounds();
    let mut text = vec![
        "Let the glue set with the panel held flat; then plane the faces if they are not flush."
            .to_owned(),
        format!(
            "Trim along every side of the outline ({}): bars run {} past it, measured along the bar. Clamp \
             a straight edge on the line, hold the waste as well as the panel, and saw or pare from the front, \
             so that no end breaks out.",
            list(&sides),
            n.with_unit(panel.outline.overhang)
        ),
        format!(
            "Trimmed, the panel is {} wide and {} high over all.",
            n.with_unit(bounds.width()),
            n.with_unit(bounds.height())
        ),
    ];
    if !single.is_empty() {
        text.push(format!(
            "Single bars, with no joint on the line, are weak while they are sawn: here along {}. Hold each close to \
             the line, with waste under it, and let the saw do the work.",
            list(single)
        ));
    }
    if panel.outline.trim_kerf > 0.0 {
        text.push(format!(
            "The saw's kerf of {} lies wholly in the waste.",
            n.fine_with_unit(panel.outline.trim_kerf)
        ));
    }
    ("Trim the ends".into(), text)
}

/// The infill of one pattern.
pub(super) fn infill(
    infill: &Infill,
    pattern: &str,
    cells: &[CellPieces],
) -> (String, Vec<String>) {
    let title = format!("Fill the cells: {pattern}");
    let fitted = match infill.asked.cut {
        InfillCut::ByHand | InfillCut::Blanks => "Shoot each piece to its bevels in the jig",
        InfillCut::Outlines => {
            "The pieces come with their bevels: pare off what is left of bridges or tabs from each"
        }
    };
    let mut text = vec![format!(
        "Cell by cell, from the middle outwards. {fitted} and try it; the pieces of a cell go in together \
         and lock each other, the last one pressed in. Glue only where a piece would fall out."
    )];
    if infill.classes.iter().any(|c| c.fold.is_some()) {
        text.push(
            "Hinged pieces are folded first, so that the cut opens; the third piece of the cell goes into \
             the fold and locks it."
                .into(),
        );
    }
    // Cells that take the same pieces are told together.
    let mut alike: Vec<(String, Vec<&str>)> = Vec::new();
    let mut trimmed = false;
    for cell in cells {
        let mut counts: BTreeMap<InfillClassId, usize> = BTreeMap::new();
        let pieces = cell.pieces.iter().map(|&p| &infill.pieces[p]);
        // A hinged piece fills two places.
        for piece in pieces.filter(|p| p.half != Some(true)) {
            *counts.entry(piece.class).or_default() += 1;
        }
        let classes = counts.iter().map(|(&c, n)| (&infill.classes[c], n));
        let counts: Vec<String> = classes
            .inspect(|(class, _)| trimmed |= class.trimmed)
            .map(|(class, n)| format!("{n} × {}", class.id))
            .collect();
        let of = &infill.cells[cell.cell];
        let counts = counts.join(", ");
        match alike.iter_mut().find(|(c, _)| *c == counts) {
            Some((_, ids)) => ids.push(&of.id),
            None => alike.push((counts, vec![&of.id])),
        }
    }
    let told = alike.len().min(TOLD);
    for (counts, ids) in alike.iter().take(told) {
        text.push(format!("{counts} each in: {}.", list(ids)));
    }
    if alike.len() > told {
        text.push(format!(
            "{} more kinds of cells: see job.json.",
            alike.len() - told
        ));
    }
    if trimmed {
        text.push(
            "Pieces that the outline cuts are open on one side: a drop of glue holds them.".into(),
        );
    }
    (title, text)
}

/// The surround.
pub(super) fn surround(surround: &Surround, n: Numbers) -> (String, Vec<String>) {
    let names = |sides: &[SideId]| {
        let ids: Vec<&str> = (sides.iter())
            .map(|&s| surround.sides[s].side.as_str())
            .collect();
        list(&ids)
    };
    let mut text = Vec::new();
    if let Some(ring) = &surround.ring {
        for (place, group) in ring.order.iter().enumerate() {
            text.push(if place == 0 {
                format!(
                    "Stand these round the ground, notches to the front: {}.",
                    names(group)
                )
            } else {
                format!("Then lower in from the front: {}.", names(group))
            });
        }
        text.push(
            "Laps and ears hold the sides; a drop of glue where the ground's bars meet them holds the ground."
                .into(),
        );
    } else {
        text.push(
            "Cut the mitres a little long, set by the table of the sides (surround.csv), and shoot them until the short points fit the \
             trimmed ground; opposite sides together."
                .into(),
        );
        text.push(
            "Glue the mitres and the ends of the bars, and hold the sides with a band or with tape until the \
             glue has set."
                .into(),
        );
        let pin = surround.sides.iter().flat_map(|s| &s.pins).next();
        text.push(pin.map_or_else(
            || "No pins.".to_owned(),
            |pin| {
                format!(
                    "Then drill {} holes for the pins of {}, drive them as pictures/surround.svg shows, and \
                     cut them off flush.",
                    n.fine_with_unit(pin.hole),
                    n.fine_with_unit(pin.diameter)
                )
            },
        ));
    }
    ("Put the surround on".into(), text)
}
