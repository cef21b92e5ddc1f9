//! Labels: one for each kit, and one for the bundle of each class of pieces as it comes off the bench. What
//! they say is data here, for whatever prints them; `svg/labels.rs` draws it.

use super::csv::quoted;
use crate::document::Numbers;
use crate::geom::micron;
use crate::kits::{KitPlan, KitRow, PieceKind};
use crate::panel::{InfillCut, Panel, SurroundCut};

/// A label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// What stands out: `Kit 3 of 10`, or the letter of a class.
    pub head: String,
    /// The lines below it.
    pub lines: Vec<String>,
    /// The pieces of a kit, each as a few characters: `A: 6 + 1`.
    pub pieces: Vec<String>,
}

/// So many classes have room on a label; a kit of more has several labels.
pub const ROOM: usize = 40;

/// A label for each kit; several where a kit has more classes than one label has room for.
#[must_use]
pub fn kit_labels(panel: &Panel, plan: &KitPlan) -> Vec<Label> {
    let pieces: Vec<String> = plan.rows.iter().map(in_kit).collect();
    let parts: Vec<&[String]> = pieces.chunks(ROOM).collect();
    let total: u64 = plan.rows.iter().map(|r| r.each).sum();
    let spares: u64 = plan.rows.iter().map(|r| r.spares).sum();
    let makes = match plan.panels {
        1 => "makes 1 panel".to_owned(),
        n => format!("makes {n} panels"),
    };
    let pieces_in_words = match spares {
        0 => format!("{total} pieces"),
        _ => format!("{total} pieces, and {spares} spares after the +"),
    };
    let label = |kit: u64, part: usize| {
        let mut head = format!("Kit {kit} of {}", plan.kits);
        if parts.len() > 1 {
            head += &format!(", label {} of {}", part + 1, parts.len());
        }
        Label {
            head,
            lines: vec![panel.name.clone(), format!("{makes}: {pieces_in_words}")],
            pieces: parts.get(part).map_or_else(Vec::new, |p| p.to_vec()),
        }
    };
    (1..=plan.kits)
        .flat_map(|kit| (0..parts.len()).map(move |part| (kit, part)))
        .map(|(kit, part)| label(kit, part))
        .collect()
}

/// What a kit has of a class: `A: 6`, `A: 6 + 1`.
fn in_kit(row: &KitRow) -> String {
    let id = &row.id;
    match row.spares {
        0 => format!("{id}: {}", row.each),
        spares => format!("{id}: {} + {spares}", row.each),
    }
}

/// A label for the bundle of each class: all of a job, before they are shared out.
#[must_use]
pub fn bundle_labels(panel: &Panel, plan: &KitPlan) -> Vec<Label> {
    let one = |row: &KitRow| {
        let mut lines = vec![
            format!(
                "{}, {}",
                row.kind.word(),
                Numbers::of(panel.workshop_sheet.units).with_unit(row.length)
            ),
            panel.name.clone(),
            match plan.kits {
                1 => format!("{} for the kit", row.in_all(1)),
                n => format!("{} for {n} kits, {} to each", row.in_all(n), row.each),
            },
        ];
        if row.spares_in_all(plan.kits) > 0 {
            lines.push(format!(
                "spares: {} to each kit, {} kept",
                row.spares, row.common_spares
            ));
        }
        Label {
            head: row.id.clone(),
            lines,
            pieces: Vec::new(),
        }
    };
    plan.rows.iter().map(one).collect()
}

/// The labels as comma-separated values (RFC 4180): a line for each class of each kit, then one for the
/// bundle of each class. `count` is without spares.
#[must_use]
pub fn labels_csv(panel: &Panel, plan: &KitPlan) -> Vec<u8> {
    let mut out = String::from("label,kit,kits,panel,panels,piece,kind,length_mm,count,spares\r\n");
    let name = quoted(&panel.name);
    let kits = plan.kits;
    let mut line = |label: &str, kit: String, panels: u64, row: &KitRow, counts: [u64; 2]| {
        out.push_str(&format!(
            "{label},{kit},{kits},{name},{panels},{},{},{},{},{}\r\n",
            row.id,
            row.kind.word(),
            micron(row.length),
            counts[0],
            counts[1]
        ));
    };
    for kit in 1..=kits {
        for row in &plan.rows {
            line(
                "kit",
                kit.to_string(),
                plan.panels,
                row,
                [row.each, row.spares],
            );
        }
    }
    for row in &plan.rows {
        let counts = [row.in_all(kits), row.spares_in_all(kits)];
        line("bundle", String::new(), plan.panels * kits, row, counts);
    }
    out.into_bytes()
}

/// Whether pieces of this kind are cut by the job's programs.
#[must_use]
pub fn is_cut(panel: &Panel, kind: PieceKind) -> bool {
    match kind {
        PieceKind::Bar => true,
        PieceKind::Infill => panel
            .infill
            .as_ref()
            .is_some_and(|i| i.cut != InfillCut::ByHand),
        PieceKind::Surround => panel
            .surround
            .as_ref()
            .is_some_and(|s| matches!(s.cut, SurroundCut::Laps { .. })),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::JobFiles;

    #[test]
    fn a_kit_of_many_classes_has_several_labels() {
        let panel = JobFiles::builtin_panel("demo").expect("built in").panel;
        let row = |n: usize| KitRow {
            id: format!("C{n}"),
            kind: PieceKind::Bar,
            length: 100.0,
            each: 3,
            spares: 1,
            common_spares: 2,
        };
        let plan = KitPlan {
            kits: 4,
            panels: 2,
            rows: (0..2 * ROOM + 1).map(row).collect(),
        };
        let labels = kit_labels(&panel, &plan);
        assert_eq!(labels.len(), 4 * 3);
        assert_eq!(labels[4].head, "Kit 2 of 4, label 2 of 3");
        let of_kit: Vec<&String> = labels[3..6].iter().flat_map(|l| &l.pieces).collect();
        assert_eq!(of_kit.len(), plan.rows.len(), "every class once");
        assert!(labels.iter().all(|l| l.pieces.len() <= ROOM));
        assert_eq!(of_kit[0], "C0: 3 + 1");
        let bundles = bundle_labels(&panel, &plan);
        assert_eq!(bundles.len(), plan.rows.len());
        assert_eq!(bundles[0].lines[2], "12 for 4 kits, 3 to each");
        assert_eq!(bundles[0].lines[3], "spares: 1 to each kit, 2 kept");
        let csv = String::from_utf8(labels_csv(&panel, &plan)).expect("text");
        assert_eq!(csv.lines().count(), 1 + 5 * plan.rows.len());
    }
}
