//! The checks: each with an id, a value, a limit, a unit and a place. A fail writes nothing, and no
//! option turns it off.

mod advice;
mod check;
mod check_id;
mod dialect;
mod dry_fit;
mod edge_up;
mod flat;
mod holding;
mod infill;
mod joints;
mod measured;
mod reach;

pub use advice::advice;
pub use check::{Bound, Check, Status, Unit, failed};
pub use check_id::CheckId;
pub use dialect::{CONTINUOUS, path_mode_check};
pub use dry_fit::{Corners, end_fillet_check, fillet_check, fit_checks, replay_check};
pub use edge_up::{batten_checks, bed_checks, gang_checks};
pub use flat::{groove_check, laser_checks, router_checks, seat_check, slot_check, strip_check};
pub use holding::{HoldNeeds, MOST_TAB, cut_force, gang_force_check, hold_checks};
pub use infill::infill_end_check;
pub use joints::{Bites, clearance_checks, joint_checks};
pub use reach::{Job, Part, corner_checks, reach_checks};

/// Cautions that every sheet and program carries.
pub const CAUTIONS: &[&str] = &[
    "Wear eye and ear protection. Catch the dust at its source.",
    "Hold the stock down and brush the bed off. Try the path with the head off first.",
    "Machine manual, workshop rules and local codes come first.",
];

/// Further cautions for a laser.
pub const LASER_CAUTIONS: &[&str] = &[
    "Run the extraction: smoke of card, glue and resin harms.",
    "Never leave a beam alone. Keep an extinguisher at hand.",
    "No unknown plastics: nothing that may hold chlorine goes under a beam.",
];
