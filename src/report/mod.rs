//! What a job tells its people, and other programs: the workshop sheet, pictures, labels, `job.json`. Everything here
//! reads a [`Plan`](crate::plan::Plan) and changes nothing in it.

mod datum_ends;
pub(crate) mod kit_labels;
pub(crate) mod pictures;
pub(crate) mod sections;
pub(crate) mod step_pictures;
pub mod summary;
pub(crate) mod surround_picture;
