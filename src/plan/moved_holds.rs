//! Where bridges or tabs do not stand as asked.

use std::collections::{BTreeMap, BTreeSet};

use crate::geom::SAME_FIGURE;
use crate::path::Program;
use crate::setup::{FlatLayout, FlatSheet};

/// Pieces whose bridges or tabs are narrower than `asked`, mm, or stand on their ends; `cuts` are the sheets with their
/// programs.
pub(super) fn moved_holds<'a>(
    layout: &FlatLayout,
    cuts: impl Iterator<Item = (&'a FlatSheet, &'a Program)>,
    asked: f64,
) -> Vec<String> {
    let mut narrower: BTreeMap<&str, f64> = BTreeMap::new();
    let mut on_ends: BTreeSet<&str> = BTreeSet::new();
    for (sheet, program) in cuts {
        for hold in &program.holds {
            let piece = sheet.placements[hold.placement].piece;
            let class = layout.pieces[piece].class.as_str();
            if hold.width < asked - SAME_FIGURE {
                narrower.insert(class, hold.width);
            }
            if (hold.from.x - hold.to.x).abs() <= SAME_FIGURE {
                on_ends.insert(class);
            }
        }
    }
    let mut told: Vec<String> = (narrower.iter())
        .map(|(class, width)| {
            format!(
                "piece {class} is held by bridges or tabs {width} mm wide, not {asked}: its edge has no room for \
                 more"
            )
        })
        .collect();
    if !on_ends.is_empty() {
        let classes: Vec<&str> = on_ends.into_iter().collect();
        told.push(format!(
            "on the ends of {} stand bridges or tabs too, in the overhang: the edge has no room for them",
            classes.join(", ")
        ));
    }
    told
}
