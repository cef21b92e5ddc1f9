//! What the operator of a flat program or drawing reads, and the words that all notes share; plain ASCII.

use crate::panel::{HeadKind, JobFiles};
use crate::safety::{CAUTIONS, LASER_CAUTIONS};
use crate::setup::FlatLayout;
use crate::stock::FlatSheet;

/// What the operator reads at the head of a program; plain ASCII.
pub(crate) fn notes(
    files: &JobFiles,
    wood: usize,
    layout: &FlatLayout,
    sheet: &FlatSheet,
) -> Vec<String> {
    let (material, _) = files.wood(wood);
    let mut notes = vec![
        format!("{}: {}", ascii(&files.panel.name), layout.title(sheet)),
        format!("stock: {}, {}", ascii(&material.name), ascii(&sheet.stock)),
        format!("machine: {}", ascii(&files.machine.name)),
        "zero: x and y at the lower left corner of the stock".into(),
    ];
    notes.splice(1..1, runs(sheet));
    notes.push(match &files.machine.head {
        HeadKind::Laser(_) => "z: focus on the stock's top".into(),
        HeadKind::Router(_) => "zero: z at the bed under the stock, not on the stock".into(),
    });
    notes.extend(cautions(files));
    notes
}

/// How often a sheet is cut, and what its labels leave out, in words; nothing where it is cut once.
pub(crate) fn runs(sheet: &FlatSheet) -> Vec<String> {
    let loads = sheet.loads();
    if loads == 1 {
        return Vec::new();
    }
    let mut words = vec![format!("run {loads} times, a new sheet each")];
    if sheet.members_differ() {
        words.push(
            "places that hold one member on one sheet and another on the next: see loads.csv"
                .into(),
        );
    }
    words
}

/// What the operator reads in the drawing of one piece; plain ASCII.
pub(crate) fn piece_notes(files: &JobFiles, wood: usize) -> Vec<String> {
    let (material, _) = files.wood(wood);
    let mut notes = vec![
        format!(
            "{}: {} to make",
            ascii(&files.panel.name),
            files.panel.quantity
        ),
        format!("stock: {}", ascii(&material.name)),
        format!("machine: {}", ascii(&files.machine.name)),
    ];
    notes.extend(cautions(files));
    notes
}

pub(crate) fn ascii(s: &str) -> String {
    s.chars()
        .map(|c| match c {
            ';' => ',',
            '(' | ')' => '_',
            c if c.is_ascii() => c,
            _ => '_',
        })
        .collect()
}

pub(crate) fn cautions(files: &JobFiles) -> impl Iterator<Item = String> {
    let laser = match files.machine.head {
        HeadKind::Laser(_) => LASER_CAUTIONS,
        HeadKind::Router(_) => &[],
    };
    CAUTIONS.iter().chain(laser).map(|s| (*s).to_owned())
}
