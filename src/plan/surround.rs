//! The surround of a panel as it is really made, and the stock for it.

use super::error::PlanError;
use crate::geom::{FACE_OFF, SAME_FIGURE};
use crate::lattice::Lattice;
use crate::panel::{self, JobFiles, Method, SurroundCut, off_readings};
use crate::surround::{Surround, SurroundError};

/// The surround that the panel asks for.
///
/// # Errors
/// A surround that cannot be made, at the key that says so.
pub(super) fn surround(files: &JobFiles, lattice: &Lattice) -> Result<Option<Surround>, PlanError> {
    let Some(asked) = &files.panel.surround else {
        return Ok(None);
    };
    let face = match asked.cut {
        SurroundCut::ByHand(_) => [asked.width; 2],
        SurroundCut::Laps { .. } => lap_face(files, asked)?,
    };
    let told = |faults: Vec<SurroundError>| {
        let one = |f: &SurroundError| (f.key().to_owned(), f.to_string(), Some(f.hint()));
        PlanError::from(files.panel_text.faults(faults.iter().map(one)))
    };
    let built = Surround::build(lattice, asked, face).map_err(told)?;
    let stock = built
        .stock(asked, files.panel.quantity)
        .map_err(|f| told(vec![f]))?;
    Ok(Some(Surround { stock, ..built }))
}

/// The face that lapped sides really get: they are cut among the bars, from the same stock.
fn lap_face(files: &JobFiles, asked: &panel::Surround) -> Result<[f64; 2], PlanError> {
    let cut = &files.panel.cut;
    let ground = files.panel.ground.depth;
    let thick = files.material.thickness;
    let fault = |key: &str, message: String, hint: &str| {
        let hint = Some(format!("{hint}; or cut = \"by-hand\""));
        Err(PlanError::from(files.panel_text.fault(key, message, hint)))
    };
    if cut.method == Method::EdgeUp {
        let message = "lapped sides lie among bars that are cut flat, but these are cut edge up";
        return fault("surround.cut", message.into(), "method = \"flat\"");
    }
    if asked.depth != ground {
        let message = format!("lapped sides lie in rows with the bars, which are {ground} mm deep");
        return fault("surround.depth", message, "leave `depth` out");
    }
    if off_readings(asked.width, thick) > FACE_OFF + SAME_FIGURE {
        let message = format!(
            "lapped sides stand on edge, as wide as the stock is thick, {} mm, which is more than {FACE_OFF} \
             off the drawn {}",
            thick[1], asked.width
        );
        let hint = format!("width = {}", thick[1]);
        return fault("surround.width", message, &hint);
    }
    Ok(thick)
}

/// Corners that have no room for their pins, in words.
pub(super) fn without_pins(files: &JobFiles, surround: Option<&Surround>) -> Option<String> {
    let asked = files.panel.surround.as_ref()?;
    let bare = surround?.without_pins(asked);
    let corners: Vec<String> = bare.iter().map(|[a, b]| format!("{a} and {b}")).collect();
    (!corners.is_empty()).then(|| {
        format!(
            "surround: no pins where {} meet: one would stand less than twice its diameter from the edge or \
             from another; glue these mitres, or ask for a wider or deeper surround",
            corners.join(", ")
        )
    })
}
