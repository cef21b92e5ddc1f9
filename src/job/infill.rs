//! The infill of a panel as it is really cut, and the blanks for it.

use super::error::JobError;
use crate::geom::{FACE_OFF, SAME_PIECE};
use crate::infill::{Infill, PieceClass};
use crate::lattice::Lattice;
use crate::panel::{self, InfillCut, JobFiles, Method};
use crate::setup::FlatPiece;

/// The infill that the panel asks for.
pub(super) fn infill(files: &JobFiles, lattice: &Lattice) -> Result<Option<Infill>, JobError> {
    let Some(asked) = &files.panel.infill else {
        return Ok(None);
    };
    let asked = &as_cut(files, asked)?;
    let built = Infill::build(lattice, asked, &files.patterns).map_err(|faults| {
        let list = faults
            .iter()
            .map(|f| (f.key(), f.to_string(), Some(f.hint())));
        JobError::from(files.panel_text.faults(list))
    })?;
    Ok(Some(built))
}

/// The infill with the face that it really gets: blanks are as thick as the stock, like the bars that they
/// are cut with.
fn as_cut(files: &JobFiles, asked: &panel::Infill) -> Result<panel::Infill, JobError> {
    let mut asked = asked.clone();
    if asked.cut == InfillCut::ByHand {
        return Ok(asked);
    }
    let cut = &files.panel.cut;
    let ground = files.panel.ground.depth;
    let thick = files.material.thickness;
    let fault = |key: &str, message: String, hint: &str| {
        let hint = Some(format!("{hint}; or cut = \"by-hand\""));
        Err(JobError::from(files.panel_text.fault(key, message, hint)))
    };
    if cut.method == Method::EdgeUp {
        let message = "blanks lie among bars that are cut flat, but these are cut edge up";
        return fault("infill.cut", message.into(), "method = \"flat\"");
    }
    if asked.depth != ground {
        let message = format!("blanks lie in rows with the bars, which are {ground} mm deep");
        return fault("infill.depth", message, "leave `depth` out");
    }
    let off = (asked.face - thick[0]).max(thick[1] - asked.face);
    if off > FACE_OFF && !cut.scale_model {
        let message = format!(
            "blanks are as thick as the stock, {} mm, which is more than {FACE_OFF} off the drawn {}",
            thick[1], asked.face
        );
        return fault(
            "infill.face",
            message,
            "draw the face that the stock has measured",
        );
    }
    asked.face = thick[1];
    Ok(asked)
}

/// The blanks of a panel's infill: each with how many a panel takes.
pub(super) fn blanks(files: &JobFiles, infill: Option<&Infill>) -> Vec<(FlatPiece, usize)> {
    let (Some(infill), Some(asked)) = (infill, &files.panel.infill) else {
        return Vec::new();
    };
    if asked.cut == InfillCut::ByHand {
        return Vec::new();
    }
    let face = files.material.thickness[1];
    let one = |c: &PieceClass| {
        let remark = if c.face < face - SAME_PIECE {
            format!("plane to {:.2} wide", c.face)
        } else {
            String::new()
        };
        let length = c.cut_length(asked.allowance) + asked.shooting;
        let blank = FlatPiece::blank(&c.id, length, infill.depth, remark);
        (blank, c.pieces.len())
    };
    infill.classes.iter().map(one).collect()
}
