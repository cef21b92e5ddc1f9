//! What a job tells its people, and other programs: the workshop sheet, pictures, labels, `job.json`. Everything here
//! reads a [`Plan`](crate::plan::Plan) and changes nothing in it.

use crate::document::Numbers;
use crate::lattice::Lattice;

mod datum_ends;
pub(crate) mod kit_labels;
pub(crate) mod pictures;
pub(crate) mod sections;
pub(crate) mod step_pictures;
pub mod summary;
pub(crate) mod surround_picture;

/// A pitch as it is told: it is stepped off along bars, which are no longer than a ground from corner to corner.
pub(crate) fn pitch(lattice: &Lattice, mm: f64, n: Numbers) -> String {
    let corners = lattice.bounds().size().to_vec2().hypot();
    n.step(mm, (corners / mm).ceil())
}
