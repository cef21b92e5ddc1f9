//! What the summary tells of kits.

use serde::Serialize;

use crate::geom::micron;
use crate::kits::KitPlan;
use crate::panel::Panel;
use crate::write::labels::is_cut;

#[derive(Debug, Clone, Serialize)]
pub(super) struct KitsOut {
    count: u64,
    panels: u64,
    pieces: Vec<KitPieceOut>,
}

#[derive(Debug, Clone, Serialize)]
struct KitPieceOut {
    id: String,
    kind: &'static str,
    length: f64,
    cut: bool,
    per_kit: u64,
    spares_per_kit: u64,
    in_all: u64,
    spares_in_all: u64,
}

pub(super) fn kits(panel: &Panel, plan: &KitPlan) -> KitsOut {
    let pieces = plan.rows.iter().map(|row| KitPieceOut {
        id: row.id.clone(),
        kind: row.kind.word(),
        length: micron(row.length),
        cut: is_cut(panel, row.kind),
        per_kit: row.each,
        spares_per_kit: row.spares,
        in_all: row.in_all(plan.kits),
        spares_in_all: row.spares_in_all(plan.kits),
    });
    KitsOut {
        count: plan.kits,
        panels: plan.panels,
        pieces: pieces.collect(),
    }
}
