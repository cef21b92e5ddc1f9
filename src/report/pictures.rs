//! The pictures of a job: what the plan knows, laid out for the drawings.

use std::collections::BTreeMap;

use super::{pitch, step_pictures, surround_picture};
use crate::document::degrees;
use crate::geom::Point;
use crate::panel::Layout;
use crate::plan::{
    BenchSteps, Clamping, ClampingId, Cutting, Drawn, EdgePlan, FlatPlan, PanelPlan, Plan, Product,
    reading_steps, zero_room,
};
use crate::setup::{Comb, CouponKind, FlatPiece, comb_views};
use crate::write::svg::{
    BarView, CouponView, GangView, PanelView, SheetView, coupon_svg, gang_svg, panel_svg, sheet_svg,
};

/// All pictures of a job by their paths in its folder: of the panel, its assembly and its surround, or of the coupon,
/// and one for each sheet and clamping.
pub(crate) fn pictures(plan: &Plan) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    match &plan.product {
        Product::Coupon(of) => {
            files.insert("coupon.svg".to_owned(), coupon(plan, &of.comb, true));
        }
        Product::Panel(of) => {
            panel(plan, of, &mut files);
            step_pictures::add(plan, of, &mut files);
            if let Some(surround) = &of.drawn.surround {
                let picture = surround_picture::picture(plan, surround);
                files.insert("pictures/surround.svg".to_owned(), picture);
            }
        }
    }
    match &plan.cuts.bars {
        Cutting::Flat(flat) => sheets(plan, flat, &mut files),
        Cutting::EdgeUp(edge) => clampings(plan, edge, &mut files),
    }
    for flat in &plan.cuts.beside {
        sheets(plan, flat, &mut files);
    }
    files
}

/// The panel, and its cells by number where it has infill.
fn panel(plan: &Plan, panel: &PanelPlan, files: &mut BTreeMap<String, Vec<u8>>) {
    let mut view = panel_view(plan, panel);
    files.insert("panel.svg".to_owned(), panel_svg(&view));
    if let Some(infill) = &panel.drawn.infill {
        // The numbers by which a panel file chooses cells, without what would cover them.
        view.infill.clear();
        view.notes
            .push("cells by number: the first is cell-1".into());
        // A cell's id is its place in the list, from 1.
        let numbered = (1..).zip(&infill.cells);
        view.cells = numbered
            .map(|(number, cell): (usize, _)| (cell.opening_middle(), number.to_string()))
            .collect();
        files.insert("pictures/cells.svg".to_owned(), panel_svg(&view));
    }
}

/// Two for each sheet: one with the path of the head, where there is one, and one of the pieces alone, which goes with
/// the drawings.
fn sheets(plan: &Plan, flat: &FlatPlan, files: &mut BTreeMap<String, Vec<u8>>) {
    let (material, stock) = plan.files.wood(flat.wood);
    for (id, sheet) in flat.layout.sheets.entries() {
        let mut title = vec![
            format!("{}: {}", plan.files.panel.name, flat.layout.title(sheet)),
            match sheet.loads() {
                1 => format!("{}, {}", material.name, sheet.stock),
                loads => format!(
                    "{}, {}; cut {loads} times, a new sheet each",
                    material.name, sheet.stock
                ),
            },
        ];
        // A coupon is drawn whole, whatever panel it is for.
        let joints = plan.panel().map_or(0, |p| p.drawn.lattice.nodes.len());
        let picture = |title: &[String], program| {
            sheet_svg(&SheetView {
                layout: &flat.layout,
                sheet,
                trim: stock.trim,
                program,
                title,
                numbers: plan.sheet_numbers(),
                joints,
            })
        };
        let stem = flat.layout.stem(sheet);
        let pieces = picture(&title, None);
        title.extend(plan.files.own().map(|own| own.machine.name.clone()));
        let set_up = picture(&title, flat.program(id));
        files.insert(format!("dxf/{stem}.svg"), pieces);
        files.insert(format!("pictures/{stem}.svg"), set_up);
    }
}

/// One for each clamping, in the order of work.
fn clampings(plan: &Plan, edge: &EdgePlan, files: &mut BTreeMap<String, Vec<u8>>) {
    let ends = super::datum_ends::picture(plan, edge, true);
    files.insert("pictures/datum-ends.svg".to_owned(), ends);
    let comb = plan.comb();
    let n = plan.sheet_numbers();
    let all = BenchSteps::of(edge, comb, n);
    for (id, own) in all.clampings.entries() {
        let number = edge.clampings[id].number;
        let (mut first, mut steps) = (all.first_of(id), Vec::new());
        if number == 1 {
            first = 1;
            steps.extend(all.before.iter().cloned());
        }
        steps.extend(own.iter().cloned());
        steps.extend(reading_steps(comb, n));
        let svg = clamping(plan, edge, id, (first, &steps));
        files.insert(format!("pictures/clamping-{number:02}.svg"), svg);
    }
}

/// The picture of a clamping, with these steps below, the first of which has this number.
pub(crate) fn clamping(
    plan: &Plan,
    edge: &EdgePlan,
    id: ClampingId,
    (first, steps): (usize, &[String]),
) -> Vec<u8> {
    let of = edge.clampings.len();
    let Clamping {
        number,
        gang,
        fresh,
        ..
    } = &edge.clampings[id];
    let title = [
        format!("{}: clamping {number} of {of}", plan.files.panel.name),
        format!(
            "sticks {}, {} edge up, fence at {} degrees; {}; {}",
            gang.id,
            gang.edge.word(),
            degrees(gang.fence_deg),
            plan.files.material.name,
            edge.head.own.machine.name
        ),
    ];
    gang_svg(&GangView {
        gang,
        corner: &edge.datum_of(id).corner,
        fresh: *fresh,
        room: zero_room(edge),
        radius: edge.slots_of(id).program.head.radius(),
        title: &title,
        first,
        steps,
        numbers: plan.sheet_numbers(),
    })
}

/// The picture of a coupon, with words below it that say how it is read or without.
pub(crate) fn coupon(plan: &Plan, comb: &Comb, words: bool) -> Vec<u8> {
    let [least, most] = comb.spec.bar;
    let n = plan.sheet_numbers();
    let thick = if least < most {
        let [least, most] = [least, most].map(|mm| n.finest(mm));
        format!("measured from {least} to {most} {}", n.unit())
    } else {
        format!("{} thick", n.finest_with_unit(most))
    };
    let made = match comb.spec.kind {
        CouponKind::Kerf => format!("made with {} = {} mm", comb.key(), comb.supposed()),
        CouponKind::Fit => format!("{} = {} mm in the middle", comb.key(), comb.supposed()),
    };
    let crossing = comb.spec.crossing_deg.map_or_else(String::new, |deg| {
        format!(
            "; edge up, notches at {} degrees to the sticks",
            degrees(deg)
        )
    });
    let machine = plan.files.own().map_or("", |own| &own.machine.name);
    let title = [
        plan.files.panel.name.clone(),
        format!("{}, {thick}; {}", plan.files.material.name, machine),
        format!("{made}{crossing}"),
    ];
    let (pieces, middles) = match &plan.cuts.bars {
        Cutting::Flat(flat) => {
            let pieces = flat.layout.pieces.rows().to_vec();
            let middles = pieces.first().map(|piece| comb.middles(piece));
            (pieces, middles.unwrap_or_default())
        }
        Cutting::EdgeUp(edge) => comb_pieces(edge),
    };
    coupon_svg(&CouponView {
        comb,
        pieces: &pieces,
        middles: &middles,
        title: &title,
        words,
        numbers: n,
    })
}

/// A stick of a comb that is cut edge up and a bar, from the side; and where its notches lie.
fn comb_pieces(edge: &EdgePlan) -> (Vec<FlatPiece>, Vec<f64>) {
    let benches = || edge.benches.iter();
    let middles = benches().flat_map(|bench| bench.stick.notches.iter().map(|n| n.at));
    let views = benches().flat_map(|bench| comb_views(&bench.stick, &bench.mark.slot));
    (views.collect(), middles.collect())
}

fn panel_view(plan: &Plan, of: &PanelPlan) -> PanelView {
    let Drawn {
        lattice,
        infill,
        surround,
    } = &of.drawn;
    let (panel, n) = (&plan.files.panel, plan.sheet_numbers());
    let bounds = lattice.bounds();
    let step = |mm: f64| pitch(lattice, mm, n);
    let layout = match &panel.ground.layout {
        Layout::Square {
            pitch_across,
            pitch_up,
        } => format!(
            "square, pitch {} across and {} up",
            step(*pitch_across),
            step(*pitch_up)
        ),
        Layout::Diamond {
            pitch, angle_deg, ..
        } => {
            format!(
                "diamond, pitch {}, bars at {} degrees",
                step(*pitch),
                degrees(*angle_deg)
            )
        }
        Layout::ThreeWay { pitch, .. }
        | Layout::OpenThreeWay { pitch, .. }
        | Layout::EightPoint { pitch } => {
            format!("{}, pitch {}", panel.ground.layout.name(), step(*pitch))
        }
        Layout::Free(families) => format!("{} families of their own", families.len()),
    };
    let faces: Vec<String> = lattice
        .families
        .iter()
        .map(|f| format!("{} {}", f.name, n.fine(f.face)))
        .collect();
    let bars = lattice.members.iter().map(|m| {
        let family = &lattice.families[m.family];
        let at = |along: f64| -> Point { m.start + family.axis() * along };
        BarView {
            id: m.id.clone(),
            class: lattice.classes[m.class].id.clone(),
            corners: lattice.body(m).corners().to_vec(),
            centre: (m.start, m.end),
            joints: m.joints.iter().map(|j| at(j.at)).collect(),
            rank: family.rank,
        }
    });
    let surround = surround.as_ref();
    let outlines = infill
        .as_ref()
        .map(|i| i.pieces.iter().map(|p| p.outline.clone()));
    PanelView {
        name: panel.name.clone(),
        notes: vec![
            layout,
            format!(
                "faces in {}: {}; depth {}",
                n.unit_word(),
                faces.join(", "),
                n.fine(lattice.depth)
            ),
            format!("{} to make", panel.quantity),
        ],
        width: bounds.width(),
        height: bounds.height(),
        surround: surround.map_or_else(Vec::new, |s| s.plans()),
        surround_word: match surround.map(|s| &s.ring) {
            Some(Some(_)) => "surround, half-lapped".into(),
            _ => "surround, mitred".into(),
        },
        bars: bars.collect(),
        cells: Vec::new(),
        infill: outlines.into_iter().flatten().collect(),
        infill_pieces: (infill.iter())
            .flat_map(|i| i.classes.iter().map(|c| c.count()))
            .sum(),
        outline: lattice.outline.region.corners().to_vec(),
        numbers: n,
    }
}
