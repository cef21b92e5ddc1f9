//! Tool, feed, speed and zero of every program.

use super::sheet::{Sheet, counted, in_unit};
use crate::document::{Block, Column, Page, Section, Table};
use crate::path::{Head, Program, program_passes};
use crate::plan::{Cutting, Work};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let blocks = match &sheet.plan.cuts.bars {
        Cutting::Flat(flat) => {
            let z = match flat.programs.iter().next().map(|p| &p.head) {
                Some(Head::Beam { .. }) => "Focus the beam on the top of the stock.",
                _ => "Zero z on the bed under the stock, never on top of it.",
            };
            let steps = [
                "Lay the strip or sheet with its grain along x and clamp it outside all cuts: the pictures of \
                 the setups show where these are."
                    .to_owned(),
                format!("Zero x and y at the lower left corner of the stock. {z}"),
                "Run the program above the work first, then cut.".to_owned(),
                "Write its letter, which is its class, on every piece before it is broken out.".to_owned(),
            ];
            vec![
                Block::Table(settings(sheet, flats(sheet).collect())),
                Block::Steps(1, steps.to_vec()),
            ]
        }
        Cutting::EdgeUp(edge) => {
            let text = format!(
                "{} of datums, {} of slots. Fence and reference rail stay where they were milled until their \
                 clampings are cut. What to do for each clamping stands below its picture.",
                counted(edge.datums.len(), "program"),
                counted(edge.slots.len(), "program")
            );
            let material = sheet.plan.files.material.name.as_str();
            let runs = edge.runs().map(|run| match run.work {
                Work::Bed(_) => ("board under the sticks", run.program),
                Work::Datum(_) => ("battens of fence and rail", run.program),
                Work::Slots(..) => (material, run.program),
            });
            let programs = runs.chain(flats(sheet)).collect();
            vec![Block::Text(text), Block::Table(settings(sheet, programs))]
        }
    };
    Some(Section {
        title: "Tool, feed and zero".into(),
        page: Page::Upright,
        blocks,
    })
}

/// Programs of what is cut flat, each with the name of its material.
fn flats<'a>(sheet: &Sheet<'a>) -> impl Iterator<Item = (&'a str, &'a Program)> {
    let plan = sheet.plan;
    plan.flats().flat_map(|flat| {
        let (material, _) = plan.files.wood(flat.wood);
        flat.programs.iter().map(|p| (material.name.as_str(), p))
    })
}

/// Material, tool, feed, speed and passes of programs.
fn settings(sheet: &Sheet<'_>, programs: Vec<(&str, &Program)>) -> Table {
    let n = sheet.numbers;
    let passes = Column::texts(in_unit("Heights of the passes above the bed", n));
    let heads = [
        Column::texts("Program"),
        Column::texts("Cuts"),
        Column::texts("Tool"),
        Column::texts("Feed"),
        Column::texts("Speed or power"),
        Column::texts("Plunge"),
        passes,
    ];
    let mut table = Table::new("Tool, feed and speed", heads);
    for (material, program) in programs {
        let (tool, speed, plunge) = match &program.head {
            Head::Beam {
                kerf,
                power_percent,
                ..
            } => (
                format!("beam, kerf {}", n.fine_with_unit(*kerf)),
                format!("{power_percent:.0} %"),
                "-".to_owned(),
            ),
            Head::Cutter {
                diameter,
                speed_rpm,
                plunge_feed,
                tool_number,
                tool_name,
                ..
            } => (
                format!(
                    "T{tool_number} {tool_name}, cuts {}",
                    n.fine_with_unit(*diameter)
                ),
                format!("{speed_rpm:.0} rev/min"),
                n.feed(*plunge_feed),
            ),
        };
        let heights: Vec<String> = program_passes(program).iter().map(|&z| n.fine(z)).collect();
        table.row([
            format!("gcode/{}.nc", program.stem),
            material.to_owned(),
            tool,
            n.feed(program.feed),
            speed,
            plunge,
            heights.join(", "),
        ]);
    }
    table
}
