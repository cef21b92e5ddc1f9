//! Setups: what is clamped how, and which program cuts it.

use super::{Sheet, counted, in_unit};
use crate::job::edge_up::{EdgePlan, Work};
use crate::job::flat::FlatPlan;
use crate::job::pictures::clamping;
use crate::job::plan::Cutting;
use crate::job::steps::gang_steps;
use crate::path::{Head, Program, program_passes};
use crate::sheet::{Block, Figure, Page, Section, Size, Table};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let blocks = match &sheet.plan.cutting {
        Cutting::Flat(flat) => sheets(sheet, flat),
        Cutting::EdgeUp(edge) => clampings(sheet, edge),
    };
    Some(Section {
        title: "Setups".into(),
        page: Page::Broad,
        blocks,
    })
}

/// Tool, feed, speed and passes of programs.
fn settings<'a>(sheet: &Sheet<'_>, programs: impl Iterator<Item = &'a Program>) -> Table {
    let n = sheet.numbers;
    let passes = in_unit("Heights of the passes above the bed", n);
    let heads = ["Program", "Tool", "Feed", "Speed or power", "Plunge", &passes];
    let mut table = Table::new("Tool, feed and speed", &heads);
    for program in programs {
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
                format!("T{tool_number} {tool_name}, cuts {}", n.fine_with_unit(*diameter)),
                format!("{speed_rpm:.0} rev/min"),
                n.feed(*plunge_feed),
            ),
        };
        let heights: Vec<String> = program_passes(program).iter().map(|&z| n.fine(z)).collect();
        table.row([
            format!("gcode/{}.nc", program.stem),
            tool,
            n.feed(program.feed),
            speed,
            plunge,
            heights.join(", "),
        ]);
    }
    table
}

fn sheets(sheet: &Sheet<'_>, flat: &FlatPlan) -> Vec<Block> {
    let of = flat.layout.sheets.len();
    let mut blocks = vec![Block::Table(settings(sheet, flat.programs.iter()))];
    let z = match flat.programs.first().map(|p| &p.head) {
        Some(Head::Beam { .. }) => "Focus the beam on the top of the stock.",
        _ => "Zero z on the bed under the stock, never on top of it.",
    };
    let steps = [
        "Lay the sheet with its grain along x and clamp it outside all cuts: the pictures show where these \
         are."
            .to_owned(),
        format!("Zero x and y at the lower left corner of the stock. {z}"),
        "Run the program above the work first, then cut.".to_owned(),
        "Write its class on every piece before it is broken out.".to_owned(),
    ];
    blocks.push(Block::Steps(steps.to_vec()));
    for (s, program) in flat.layout.sheets.iter().zip(&flat.programs) {
        let what = format!("Sheet {} of {of}: gcode/{}.nc", s.number, program.stem);
        blocks.push(Block::Heading(what));
        let alt = format!(
            "{} of {} mm with {} and the path of the head",
            s.stock,
            s.length,
            counted(s.placements.len(), "piece")
        );
        let picture = sheet.picture(&format!("pictures/{}.svg", program.stem), alt);
        blocks.extend(picture.map(Block::Figure));
    }
    blocks
}

fn clampings(sheet: &Sheet<'_>, edge: &EdgePlan) -> Vec<Block> {
    let plan = sheet.plan;
    let programs = edge.runs.iter().map(|r| &r.program);
    let mut blocks = vec![Block::Table(settings(sheet, programs))];
    let fences = edge.runs.iter().filter(|r| r.work == Work::Fence).count();
    blocks.push(Block::Text(format!(
        "{} of fences, {} of slots. A fence stays where it was milled until its clampings are cut.",
        counted(fences, "program"),
        counted(edge.runs.len() - fences, "program")
    )));
    let of = edge.clampings().count();
    for (number, (b, g)) in (1..).zip(edge.clampings()) {
        blocks.push(Block::Heading(format!("Clamping {number} of {of}")));
        let picture = clamping(plan, edge, number, &[]).map(|svg| Figure {
            svg,
            alt: format!("Clamping {number} from above and from the side: gang, fence, rails and holds"),
            caption: format!(
                "pictures/clamping-{number:02}.svg in the job's folder has the steps below it. Figures in \
                 the picture are mm."
            ),
            size: Size::Fit,
        });
        blocks.extend(picture.map(Block::Figure));
        blocks.push(Block::Steps(gang_steps(edge, b, g, &plan.files)));
    }
    blocks
}
