//! The picture of a surround: what the plan knows, laid out for the drawing.

use crate::document::Numbers;
use crate::geom::{Contour, Point, cot_deg};
use crate::plan::Plan;
use crate::setup::FlatPiece;
use crate::surround::{Ring, Side, SideId, Surround};
use crate::write::svg::{PinView, SideView, SurroundView, surround_svg};

pub(crate) fn picture(plan: &Plan, surround: &Surround) -> Vec<u8> {
    let n = plan.sheet_numbers();
    let quantity = plan.files.panel.quantity as usize;
    let sides = surround.classes.iter().map(|class| {
        let names: Vec<&str> = (class.sides.iter())
            .map(|&s| surround.sides[s].side.as_str())
            .collect();
        let count = class.sides.len() * quantity;
        let title = format!("{count} × {}: {}", class.id, names.join(", "));
        match &surround.ring {
            Some(ring) => lapped(surround, ring, class.first, title, n),
            None => mitred(surround, &surround.sides[class.first], title, n),
        }
    });
    let sides: Vec<SideView> = sides.collect();
    let how = match surround.ring {
        Some(_) => {
            "half-lapped, cut flat among the bars; lowered in from the front, back sides first"
        }
        None => "mitred; the outer edge lies down, the start at the left",
    };
    let mut remarks = Vec::new();
    if sides.iter().any(|s| !s.pins.is_empty()) {
        remarks.push(
            "Pins: one from each side of a corner, driven square to the outer edge, through the mitre in the \
             middle of the face; the two lie at a third and two thirds of the depth, so that they pass each \
             other. Drill when the mitres are glued. (Common practice, no source.)"
                .to_owned(),
        );
    }
    if let Some(stock) = &surround.stock {
        let lengths = stock.lengths.as_ref().map_or_else(String::new, |l| {
            format!(", from {} of {}", l.cut.len(), n.with_unit(l.length))
        });
        remarks.push(format!(
            "Stock to buy: {} of {} × {} in all{lengths}, rounded up to {}; {} for each saw cut and {} of trim at \
             the ends are in it.",
            n.bought(stock.total),
            n.len(surround.face),
            n.with_unit(surround.depth),
            n.bought_step(),
            n.fine_with_unit(stock.kerf),
            n.with_unit(stock.trim)
        ));
    }
    surround_svg(&SurroundView {
        title: vec![
            format!("{}: surround", plan.files.panel.name),
            how.to_owned(),
        ],
        sides,
        remarks,
        numbers: n,
    })
}

/// A mitred side with its outer edge down.
fn mitred(surround: &Surround, side: &Side, title: String, n: Numbers) -> SideView {
    let (face, depth, long) = (surround.face, surround.depth, side.long);
    // The inner edge starts a mitre's run from the outer one; both runs make up the difference.
    let run = face * cot_deg(side.mitres[0]);
    let short = [run, run + side.short];
    let corner = Point::new;
    let pins = side.pins.iter().map(|pin| PinView {
        x: if pin.end == 0 { pin.at } else { long - pin.at },
        height: pin.height,
        length: pin.length,
        hole: pin.hole,
    });
    let ends = ["start", "end"]
        .into_iter()
        .zip(side.mitres)
        .zip(side.saw_deg());
    let ends: Vec<String> = ends
        .map(|((end, mitre), saw)| {
            format!(
                "{end}: mitre {}, saw at {} from square",
                n.angle(mitre),
                n.angle(saw)
            )
        })
        .collect();
    let at: Vec<String> = (side.pins.iter())
        .map(|p| {
            format!(
                "{} pin {} from its long point, {} above the back, {} in a {} hole",
                p.end_word(),
                n.with_unit(p.at),
                n.with_unit(p.height),
                n.fine_with_unit(p.diameter),
                n.fine_with_unit(p.hole)
            )
        })
        .collect();
    SideView {
        title,
        remark: [ends, at].concat().join("; "),
        plan: vec![
            corner(0.0, 0.0),
            corner(long, 0.0),
            corner(short[1], face),
            corner(short[0], face),
        ],
        outside: Contour::polygon(rectangle(long, depth)),
        long: [0.0, long],
        short,
        size: [face, depth],
        pins: pins.collect(),
    }
}

/// A lapped side: its plan is the whole bar, from outside it shows its notches.
fn lapped(surround: &Surround, ring: &Ring, side: SideId, title: String, n: Numbers) -> SideView {
    let (member, of) = (ring.bar(side), &surround.sides[side]);
    let class = &ring.lattice.classes[member.class];
    let piece = FlatPiece::of(&ring.lattice, class);
    let (length, face) = (piece.length, surround.face);
    // Every bar laps at both its ends.
    let (notch, last) = (&class.notches[0], &class.notches[class.notches.len() - 1]);
    // The inner edge starts where the centre line does, less half a face's share of the corner. A bar may
    // run against the sides' order.
    let axis = ring.lattice.families[member.family].axis();
    let mut mitres = of.mitres;
    if of.normal.cross(axis) < 0.0 {
        mitres.reverse();
    }
    let [first, second] = mitres.map(|m| 0.5 * face * cot_deg(m));
    SideView {
        title,
        remark: format!(
            "laps {} long and {} deep, their middles {} from the ends",
            n.fine_with_unit(notch.run),
            n.fine_with_unit(notch.depth),
            n.with_unit(notch.at)
        ),
        plan: rectangle(length, face),
        outside: piece.drawn,
        long: [0.0, length],
        short: [notch.at + first, last.at - second],
        size: [face, surround.depth],
        pins: Vec::new(),
    }
}

fn rectangle(length: f64, height: f64) -> Vec<Point> {
    [(0.0, 0.0), (length, 0.0), (length, height), (0.0, height)]
        .map(Point::from)
        .to_vec()
}
