//! What is cut where, in which clamping: pieces as shapes, and their places on strips and sheets; gangs
//! of sticks against a fence.

mod flat;
mod gang;
mod profile;

pub use flat::*;
pub use gang::*;
pub use profile::Step;
