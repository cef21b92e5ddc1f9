//! Plain geometry that every stage shares: points, line-and-arc contours, convex regions, tolerances.

mod along_x;
mod contour;
mod convex;
pub mod frame;
pub mod measure;
mod round;
mod tol;
mod trig;

pub use along_x::AlongX;
pub use contour::{Contour, Vertex};
pub(crate) use contour::{arc_of, chord_count};
pub use convex::{Convex, bounds};
pub use frame::Frame;
pub use kurbo::{Point, Vec2};
pub use round::{is_on_step, micron, step_above, step_below, step_near, tidy};
pub use tol::*;
pub use trig::{acos_deg, atan2_deg, cos_deg, cot_deg, sin_deg, tan_deg};
