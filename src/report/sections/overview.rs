//! The panel: its picture, its sizes, and what it is made from.

use super::sheet::{PanelSheet, Sheet, in_unit};
use crate::document::{Block, Column, Figure, Page, Section, Size, Table};
use crate::lattice::Lattice;
use crate::panel::{JobFiles, Layout};
use crate::plan::Drawn;
use crate::report::pictures;
use crate::report::pitch;
use crate::setup::Comb;
use crate::write::svg::check_bar_svg;

pub(super) fn panel(sheet: &Sheet<'_>, of: &PanelSheet<'_>) -> Option<Section> {
    let alt = "The panel from the front, every bar with the letter of its class";
    let mut blocks = check_bar();
    blocks.extend(sheet.picture("panel.svg", alt.into()).map(Block::Figure));
    blocks.push(Block::Table(sizes(sheet, &of.panel.drawn)));
    blocks.push(Block::Table(bars(sheet, &of.panel.drawn.lattice)));
    blocks.push(Block::Table(made_with(&sheet.plan.files)));
    Some(section("The panel", blocks))
}

pub(super) fn coupon(sheet: &Sheet<'_>, comb: &Comb) -> Option<Section> {
    let picture = sheet.picture("coupon.svg", "The coupon, its notches by number".into());
    // How it is read stands in a section of its own.
    let picture = picture.map(|figure| Figure {
        svg: pictures::coupon(sheet.plan, comb, false),
        ..figure
    });
    let mut blocks = check_bar();
    blocks.extend(picture.map(Block::Figure));
    blocks.push(Block::Table(made_with(&sheet.plan.files)));
    Some(section("The coupon", blocks))
}

fn section(title: &str, blocks: Vec<Block>) -> Section {
    Section {
        title: title.into(),
        page: Page::Upright,
        blocks,
    }
}

/// What shows whether a print is true to size.
fn check_bar() -> Vec<Block> {
    vec![
        Block::Text(
            "Print sheet.pdf at 100 %, without \"fit to page\". The bar must measure 100 mm on the paper: \
             what is headed 1 : 1 is true to size only then."
                .into(),
        ),
        Block::Figure(Figure {
            svg: check_bar_svg(),
            alt: "Check bar of 100 mm".into(),
            caption: String::new(),
            size: Size::True,
        }),
    ]
}

/// The files beside the panel's.
fn made_with(files: &JobFiles) -> Table {
    let mut made = Table::new("Made with", [Column::texts("What"), Column::texts("Name")]);
    let mut what = |what: &str, name: &str| made.row([what.to_owned(), name.to_owned()]);
    what("job, as its files say", &files.mark());
    match files.own() {
        Some(own) => what("machine", &own.machine.name),
        None => what("machine", "someone else's, from the DXF files alone"),
    }
    what("material", &files.material.name);
    what("stock", &files.stock.name);
    for wood in &files.woods {
        what("material of infill", &wood.material.name);
        what("its stock", &wood.stock.name);
    }
    if let Some(own) = files.own() {
        what("post-processor", &own.post.name);
    }
    made
}

/// Sizes over all, and pitches.
fn sizes(sheet: &Sheet<'_>, drawn: &Drawn) -> Table {
    let (n, panel) = (sheet.numbers, &sheet.plan.files.panel);
    let lattice = &drawn.lattice;
    let bounds = lattice.bounds();
    let pitch = |mm: f64| format!("{} {}", pitch(lattice, mm, n), n.unit());
    let by = |w: f64, h: f64| format!("{} × {} {}", n.len(w), n.len(h), n.unit());
    let mut table = Table::new("Sizes", [Column::texts("What"), Column::texts("Size")]);
    let mut row = |what: &str, size: String| table.row([what.to_owned(), size]);
    row("panels to make", panel.quantity.to_string());
    if let Some(surround) = &drawn.surround {
        let framed = surround.bounds();
        row(
            "over all, with the surround",
            by(framed.width(), framed.height()),
        );
    }
    row("ground, trimmed", by(bounds.width(), bounds.height()));
    row("depth, front to back", n.with_unit(lattice.depth));
    row("layout", panel.ground.layout.name().to_owned());
    match &panel.ground.layout {
        Layout::Square {
            pitch_across,
            pitch_up,
        } => {
            row("pitch across", pitch(*pitch_across));
            row("pitch up", pitch(*pitch_up));
        }
        Layout::Diamond {
            pitch: along,
            angle_deg,
            ..
        } => {
            row("pitch along the bars", pitch(*along));
            row("bars rise at", n.angle(*angle_deg));
        }
        Layout::ThreeWay { pitch: along, .. }
        | Layout::OpenThreeWay { pitch: along, .. }
        | Layout::EightPoint { pitch: along } => row("pitch", pitch(*along)),
        Layout::Free(_) => {}
    }
    row(
        "clearance in the joints",
        n.fine_with_unit(lattice.clearance),
    );
    if panel.outline.overhang > 0.0 {
        row(
            "bars run past the outline by",
            n.with_unit(panel.outline.overhang),
        );
    }
    table
}

/// The families of bars.
fn bars(sheet: &Sheet<'_>, lattice: &Lattice) -> Table {
    let n = sheet.numbers;
    let heads = [
        Column::texts("Bars"),
        Column::numbers("Bars each panel"),
        Column::numbers("Place, 1 at the back"),
        Column::numbers("Direction"),
    ];
    let face = Column::numbers(in_unit("Face", n));
    let measured = Column::numbers(in_unit("Face measured", n));
    let heads = heads.into_iter().chain([face, measured]);
    let mut table = Table::new("Bars by family", heads);
    for (f, family) in lattice.families.entries() {
        let own = lattice.members.iter().filter(|m| m.family == f).count();
        let [least, most] = lattice.faces[f];
        let measured = if least < most {
            format!("{} to {}", n.fine(least), n.fine(most))
        } else {
            n.fine(most)
        };
        table.row([
            family.name.clone(),
            own.to_string(),
            family.rank.to_string(),
            n.angle(family.direction_deg.rem_euclid(180.0)),
            n.fine(family.face),
            measured,
        ]);
    }
    table
}
