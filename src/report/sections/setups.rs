//! Setups: what lies or is clamped how, and which program cuts it.

use super::sheet::Sheet;
use crate::document::{Block, Figure, Numbers, Page, Section, Size, capital, counted};
use crate::path::{Head, PathBox, Program};
use crate::plan::{
    BenchSteps, ClampingId, Cutting, CuttingHead, EdgePlan, FlatPlan, after_a_stop, air_run_step,
    room, whole_room,
};
use crate::report::datum_ends;
use crate::report::pictures::clamping;
use crate::setup::FlatSheet;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let mut blocks = match &sheet.plan.cuts.bars {
        Cutting::Flat(flat) => sheets(sheet, flat),
        Cutting::EdgeUp(edge) => clampings(sheet, edge),
    };
    let beside = sheet.plan.cuts.beside.iter();
    blocks.extend(beside.flat_map(|flat| sheets(sheet, flat)));
    let title = match sheet.plan.files.elsewhere() {
        Some(_) => "Sheets",
        None => "Setups",
    };
    Some(Section {
        title: title.into(),
        page: Page::Broad,
        blocks,
    })
}

fn sheets(sheet: &Sheet<'_>, flat: &FlatPlan) -> Vec<Block> {
    let mut blocks = Vec::new();
    let (material, _) = sheet.plan.files.wood(flat.wood);
    for (id, s) in flat.layout.sheets.entries() {
        let (stem, program) = (flat.layout.stem(s), flat.program(id));
        let title = format!("{} of {}", capital(&flat.layout.title(s)), material.name);
        let pieces = counted(s.placements.len(), "piece");
        let long = sheet.numbers.with_unit(s.length);
        let (heading, alt) = match program {
            Some(_) => (
                format!("{title}: gcode/{stem}.nc"),
                format!(
                    "{} of {long} with {pieces} and the path of the head",
                    s.stock
                ),
            ),
            None => (
                format!("{title}: dxf/{stem}.svg"),
                format!("{} of {long} with {pieces}", s.stock),
            ),
        };
        blocks.push(Block::Heading(heading));
        let picture = sheet.picture(&format!("pictures/{stem}.svg"), alt);
        blocks.extend(picture.map(Block::Figure));
        match program {
            Some(program) => {
                let steps = sheet_steps(&flat.head, s, program, sheet.numbers);
                blocks.push(Block::Steps(1, steps));
            }
            None => {
                let often = match s.loads() {
                    1 => "To be cut once.".to_owned(),
                    loads => format!(
                        "To be cut {loads} times, a new sheet each: sheets {}.",
                        s.numbers()
                    ),
                };
                blocks.push(Block::List(vec![often + members_differ(s)]));
            }
        }
    }
    blocks
}

/// What is told of places that hold one member on one sheet and another on the next.
fn members_differ(sheet: &FlatSheet) -> &'static str {
    if sheet.members_differ() {
        " Some places hold one member on one sheet and another on the next: loads.csv lists them. \
         Pieces of one letter are the same."
    } else {
        ""
    }
}

/// How a sheet is cut.
fn sheet_steps(
    head: &CuttingHead,
    sheet: &FlatSheet,
    program: &Program,
    n: Numbers,
) -> Vec<String> {
    let z = match program.head {
        Head::Beam { .. } => "focus on the top of the stock",
        Head::Cutter { .. } => {
            "z on the bed under the stock, touched beside it, never on the stock"
        }
    };
    let mut steps = vec!["Hold the stock down all round, clear of every cut.".into()];
    if let CuttingHead::Router(head) = head {
        steps.push(head.fitting());
    }
    steps.extend([
        format!("Zero: x and y at the lower left corner of the stock; {z}."),
        format!("Room: {}", room(PathBox::of(program), n)),
        air_run_step(&program.stem),
        format!("Run gcode/{}.nc.", program.stem),
        held(program, n),
    ]);
    if let (CuttingHead::Router(head), false) = (head, sheet.chains.is_empty()) {
        steps.push(format!("{}.", capital(&head.sawing())));
    }
    if sheet.loads() > 1 {
        let mut again = format!(
            "Do all of this {} times, a new sheet each: sheets {}. Write its number on each as it comes off, and strike \
             it off here: {}.",
            sheet.loads(),
            sheet.numbers(),
            tally(sheet.number, sheet.loads())
        );
        again += members_differ(sheet);
        steps.push(again);
    }
    steps
}

/// Numbers of sheets to strike off, one for each run.
fn tally(first: usize, runs: usize) -> String {
    /// More than this many nobody strikes off one by one.
    const MOST: usize = 60;
    if runs > MOST {
        return format!("________ of {runs}");
    }
    let numbers: Vec<String> = (first..first + runs).map(|n| n.to_string()).collect();
    numbers.join("  ")
}

/// What holds the pieces of a sheet, and how they are freed.
fn held(program: &Program, n: Numbers) -> String {
    let widths = || program.holds.iter().map(|h| h.width);
    let (least, most) = (
        widths().fold(f64::INFINITY, f64::min),
        widths().fold(0.0, f64::max),
    );
    let wide = if most - least > 0.005 {
        format!("{} to {}", n.fine(least), n.fine_with_unit(most))
    } else {
        n.fine_with_unit(most)
    };
    let (what, high) = match program.head {
        Head::Beam { .. } => ("bridges", String::new()),
        Head::Cutter { .. } => {
            let high = program.holds.iter().map(|h| h.height).fold(0.0, f64::max);
            ("tabs", format!(" and {} high", n.fine_with_unit(high)))
        }
    };
    format!(
        "Pieces are held by {what} {wide} wide{high}. Leave them until the head has stopped and stands clear: loose \
         pieces can lift into it. Then saw or cut them through, and pare off what stands proud."
    )
}

fn clampings(sheet: &Sheet<'_>, edge: &EdgePlan) -> Vec<Block> {
    let plan = sheet.plan;
    let mut blocks = Vec::new();
    let of = edge.clampings.len();
    let all = BenchSteps::of(edge, plan.comb(), sheet.numbers);
    blocks.push(Block::Heading("Datum ends".into()));
    blocks.push(Block::Figure(Figure {
        svg: datum_ends::picture(plan, edge, false),
        alt: "Ends of the sticks against the fence, from above, twice as large as they are".into(),
        caption: format!(
            "pictures/datum-ends.svg in the job's folder. Figures in the picture are {}.",
            sheet.numbers.unit_word()
        ),
        size: Size::Fit,
    }));
    blocks.push(Block::Steps(1, datum_ends::lines(edge, sheet.numbers)));
    blocks.push(Block::Heading("Before the first clamping".into()));
    blocks.push(Block::Text(whole_room(edge, sheet.numbers)));
    blocks.push(Block::Steps(1, all.before.clone()));
    for (id, own) in all.clampings.entries() {
        let number = edge.clampings[id].number;
        blocks.push(Block::Heading(format!("Clamping {number} of {of}")));
        blocks.push(Block::Figure(Figure {
            svg: clamping(plan, edge, id, (1, &[])),
            alt: format!(
                "Clamping {number} from above and from the side: gang, fence, rails, holds and zero"
            ),
            caption: format!(
                "pictures/clamping-{number:02}.svg in the job's folder has the steps below it. Figures in \
                 the picture are {}.",
                sheet.numbers.unit_word()
            ),
            size: Size::Fit,
        }));
        blocks.push(Block::Steps(all.first_of(id), own.clone()));
        blocks.push(Block::List(clamping_room(edge, id, sheet.numbers)));
    }
    blocks.push(Block::Heading("How to go on after a stop".into()));
    blocks.push(Block::List(after_a_stop(sheet.numbers)));
    blocks
}

/// What room the programs of a clamping need.
fn clamping_room(edge: &EdgePlan, id: ClampingId, n: Numbers) -> Vec<String> {
    [&edge.datum_of(id).program, &edge.slots_of(id).program]
        .map(|program| {
            let path = room(PathBox::of(program), n);
            format!("Room of gcode/{}.nc: {path}", program.stem)
        })
        .to_vec()
}
