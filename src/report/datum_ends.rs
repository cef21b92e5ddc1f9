//! The ends of sticks that lie against the fence: drawn twice as large, and how they are made and checked.

use crate::document::Numbers;
use crate::geom::{cot_deg, tan_deg};
use crate::plan::{EdgePlan, Plan};
use crate::setup::fences;
use crate::write::svg::{DatumEndView, datum_ends_svg};

/// Their picture, with the words below it or without.
pub(crate) fn picture(plan: &Plan, edge: &EdgePlan, words: bool) -> Vec<u8> {
    let n = plan.sheet_numbers();
    let views: Vec<DatumEndView<'_>> = edge
        .benches
        .iter()
        .map(|bench| DatumEndView {
            stick: &bench.stick,
            fences: fences(edge.gangs(&bench.clampings)),
        })
        .collect();
    let lines = if words { lines(edge, n) } else { Vec::new() };
    let title = format!("{}: datum ends", plan.files.panel.name);
    datum_ends_svg(&title, &views, &lines, n)
}

/// How they are made and checked; lengths as `n` writes them. What may be off is what check `parting` counts on.
pub(crate) fn lines(edge: &EdgePlan, n: Numbers) -> Vec<String> {
    let router = &edge.head.router;
    let mut lines = Vec::new();
    let sticks = || edge.benches.iter().map(|b| &b.stick);
    let widest = sticks().filter(|s| !s.pointed()).map(|s| s.face);
    if let Some(face) = widest.reduce(f64::max) {
        let light = 2.0 * face * tan_deg(router.square_error_deg);
        lines.push(
            "Square ends: cut each against one stop, with waste behind it so that no corner breaks out: it is a \
             corner that touches the fence."
                .to_owned(),
        );
        lines.push(format!(
            "Check: stand two sticks on edge along a straight edge, their datum ends together, and turn one over about \
             its long axis. No more than {} of light may show between the ends ({} degrees out of square, \
             square_error_deg in the machine file).",
            n.fine_with_unit(light),
            router.square_error_deg
        ));
    }
    if let Some(stick) = sticks().find(|s| s.pointed()) {
        let parts = 2.0 * router.apex_error * cot_deg(stick.point_deg);
        lines.push(
            "Pointed ends: cut the end square, then plane or saw a facet from either side at the angle drawn until \
             both meet on the centre line. Nothing is added along the stick: the point lies where the square end \
             was."
            .to_owned(),
        );
        lines.push(format!(
            "Check: the point lies within {} of the centre line (apex_error in the machine file). Off by so much, \
             it parts the slots of a node by {}.",
            n.fine_with_unit(router.apex_error),
            n.fine_with_unit(parts)
        ));
    }
    lines
}
