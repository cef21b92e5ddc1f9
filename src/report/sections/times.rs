//! How long the machine runs, estimated.

use super::sheet::Sheet;
use crate::document::{Block, Column, Page, Section, Table};
use crate::path::{Program, program_minutes};
use crate::plan::FlatPlan;

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let (n, plan) = (sheet.numbers, sheet.plan);
    let mut table = Table::new(
        "Programs",
        [
            Column::texts("Program"),
            Column::numbers("Runs"),
            Column::numbers("Each run"),
            Column::numbers("Together"),
        ],
    );
    // How long a machine elsewhere runs is not known here.
    let travel = plan.files.own()?.machine.travel_feed;
    let mut sum = 0.0;
    for (program, runs) in programs(sheet) {
        let minutes = program_minutes(program, travel);
        sum += minutes * runs as f64;
        table.row([
            format!("gcode/{}.nc", program.stem),
            runs.to_string(),
            n.minutes(minutes),
            n.minutes(minutes * runs as f64),
        ]);
    }
    Some(Section {
        title: "Times".into(),
        page: Page::Upright,
        blocks: vec![
            Block::Text(format!(
                "Estimates: about {} of cutting in all. They leave out acceleration, clamping, and all work \
                 by hand.",
                n.minutes(sum)
            )),
            Block::Table(table),
        ],
    })
}

/// Every program, and how often it is run.
fn programs<'a>(sheet: &Sheet<'a>) -> Vec<(&'a Program, usize)> {
    match (sheet.plan.flat(), sheet.plan.edge_up()) {
        (Some(_), _) => flats(sheet).collect(),
        (_, Some(edge)) => {
            let runs = edge.runs().map(|run| (run.program, run.times));
            runs.chain(flats(sheet)).collect()
        }
        _ => Vec::new(),
    }
}

/// Programs of sheets.
fn flats<'a>(sheet: &Sheet<'a>) -> impl Iterator<Item = (&'a Program, usize)> {
    sheet.plan.flats().flat_map(FlatPlan::runs)
}
