//! The check of infill that is made by hand.

use super::check::{Check, Unit};
use super::check_id::CheckId;
use crate::infill::{Infill, PieceClass};
use crate::panel::InfillCut;

/// Whether all ends can be made: neither saw nor shooting jig makes a re-entrant one, and what a plain end leaves
/// open at the seam, mm along the face, is for the panel to accept. `None` without pieces.
#[must_use]
pub fn infill_end_check(infill: &Infill) -> Option<Check> {
    let asked = &infill.asked;
    let true_ends = asked.cut == InfillCut::Outlines && !asked.plain_ends;
    let open = |class: &PieceClass| {
        if true_ends { 0.0 } else { class.plain_opening }
    };
    let classes = infill.classes.iter().rev();
    let class = classes.max_by(|a, b| open(a).total_cmp(&open(b)))?;
    let cell = &infill.cells[infill.pieces[class.first].cell].id;
    let place = format!("ends of piece {} in {cell}", class.id);
    let check = Check::at_most(CheckId::InfillEnd, open(class), 0.0, Unit::Mm, place);
    Some(if asked.plain_ends {
        check.accepted()
    } else {
        check
    })
}
