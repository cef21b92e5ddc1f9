//! Tool, feed, speed and zero of every program.

use super::sheet::{Sheet, in_unit};
use crate::document::{Block, Column, Page, Section, Table, capital, counted};
use crate::panel::{FromMemory, NOT_MEASURED};
use crate::path::{Head, Program, program_passes};
use crate::plan::{Cutting, Setting, Value, Work, edge_settings, flat_settings};

pub(super) fn section(sheet: &Sheet<'_>) -> Option<Section> {
    let blocks = match &sheet.plan.cuts.bars {
        Cutting::Flat(_) if sheet.plan.files.elsewhere().is_some() => elsewhere(sheet),
        Cutting::Flat(flat) => {
            let z = match flat.cuts().next().map(|(_, program)| &program.head) {
                Some(Head::Beam { .. }) => "Focus the beam on the top of the stock.",
                _ => {
                    "z is 0 on the bed under the stock: touch it beside the stock, never on top of it."
                }
            };
            let besides = Block::List(besides(
                sheet.plan.flats().flat_map(|f| f.head.besides_cutting()),
            ));
            let steps = [
                "Lay the strip or sheet with its grain along x and clamp it outside all cuts: the pictures of \
                 the setups show where these are."
                    .to_owned(),
                format!("Zero x and y at the lower left corner of the stock. {z}"),
                "Let the air run of each program go round first, with the head off; then cut.".to_owned(),
                "Write its letter, which is its class, on every piece before it is broken out.".to_owned(),
            ];
            vec![
                Block::Table(settings(sheet, flats(sheet).collect())),
                Block::Text(BESIDES.into()),
                besides,
                from_memory(sheet),
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
            let runs = runs.map(|(cuts, program)| {
                let of = edge_settings(&sheet.plan.files, &edge.head, sheet.numbers);
                (cuts, of, program)
            });
            let programs = runs.chain(flats(sheet)).collect();
            let table = Block::Table(settings(sheet, programs));
            let flats = sheet.plan.flats().flat_map(|f| f.head.besides_cutting());
            let besides = besides(edge.head.besides_cutting().into_iter().chain(flats));
            vec![
                Block::Text(text),
                table,
                Block::Text(BESIDES.into()),
                Block::List(besides),
                from_memory(sheet),
            ]
        }
    };
    let title = match sheet.plan.files.elsewhere() {
        Some(_) => "What is sent away",
        None => "Tool, feed and zero",
    };
    Some(Section {
        title: title.into(),
        page: Page::Upright,
        blocks,
    })
}

/// Before what programs do besides cutting.
const BESIDES: &str =
    "What the programs take for granted, and what they have the machine do besides cutting:";

/// Lines as sentences, each once.
fn besides(lines: impl Iterator<Item = String>) -> Vec<String> {
    let mut list: Vec<String> = Vec::new();
    for line in lines {
        let line = format!("{}.", capital(&line));
        if !list.contains(&line) {
            list.push(line);
        }
    }
    list
}

/// What is to be done where there are no programs.
fn elsewhere(sheet: &Sheet<'_>) -> Vec<Block> {
    let text = "No programs: the DXF files are cut on someone else's machine; its operator chooses feed, power and \
                holds.";
    let steps = [
        "Send the folder dxf as it is: the DXF files, notes.txt and a picture of every sheet.",
        "Say which stock is to be cut, and let one piece be cut first: put it together with its neighbour.",
        "Write its letter, which is its class, on every piece before it is broken out: the picture of its sheet shows \
         it.",
    ];
    vec![
        Block::Text(text.into()),
        Block::Steps(1, steps.map(str::to_owned).to_vec()),
        from_memory(sheet),
    ]
}

/// A program, with what it cuts and what it is made with.
type Made<'a> = (&'a str, Vec<Setting>, &'a Program);

/// Programs of what is cut flat.
fn flats<'a>(sheet: &Sheet<'a>) -> impl Iterator<Item = Made<'a>> {
    let (plan, n) = (sheet.plan, sheet.numbers);
    plan.flats().flat_map(move |flat| {
        let (material, _) = plan.files.wood(flat.wood);
        let of = flat_settings(material, &flat.head, n);
        let programs = flat.cuts().map(|(_, program)| program);
        programs.map(move |p| (material.name.as_str(), of.clone(), p))
    })
}

/// The values that nobody has measured: those that programs are made with, and all others by their keys.
fn from_memory(sheet: &Sheet<'_>) -> Block {
    let (plan, n) = (sheet.plan, sheet.numbers);
    let files = &plan.files;
    let mut lines: Vec<String> = Vec::new();
    let edge = plan
        .edge_up()
        .map(|edge| edge_settings(files, &edge.head, n));
    let flats = plan.flats().map(|flat| {
        let (material, _) = files.wood(flat.wood);
        (material, flat_settings(material, &flat.head, n))
    });
    let all = edge
        .map(|of| (&files.material, of))
        .into_iter()
        .chain(flats);
    for (material, of) in all {
        for setting in of.iter().filter(|setting| setting.from_memory) {
            let line = format!("{}: {}", material.name, setting.told());
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
    }
    let mut others = |kind: &str, name: &str, list: &FromMemory| {
        let keys: Vec<String> = list
            .values()
            .iter()
            // Of a machine elsewhere no value of a head is used.
            .filter(|v| files.own().is_some() || !v.key.contains('.'))
            .map(|v| format!("{} = {}", v.key, v.written))
            .collect();
        if !keys.is_empty() {
            lines.push(format!(
                "{kind} \"{name}\": all that its file lists as {NOT_MEASURED}: {}",
                keys.join("; ")
            ));
        }
    };
    if let Some(own) = files.own() {
        others("Machine", &own.machine.name, &own.machine.from_memory);
    }
    for material in files.materials() {
        others("Material", &material.name, &material.from_memory);
    }
    if lines.is_empty() {
        lines.push("Machine and material files list no value as from memory.".to_owned());
    }
    Block::List(lines)
}

/// Material, tool, feed, speed and passes of programs.
fn settings(sheet: &Sheet<'_>, programs: Vec<Made<'_>>) -> Table {
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
    for (material, of, program) in programs {
        let mark = |what: Value, text: String| {
            let open = of.iter().any(|s| s.what == what && s.from_memory);
            if open {
                format!("{text} (from memory)")
            } else {
                text
            }
        };
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
            mark(Value::Width, tool),
            mark(Value::Feed, n.feed(program.feed)),
            mark(Value::Speed, speed),
            mark(Value::Plunge, plunge),
            heights.join(", "),
        ]);
    }
    table
}
