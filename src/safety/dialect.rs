//! What a dialect chooses that no program can prove.

use super::check::{Check, Unit};
use super::check_id::CheckId;
use crate::panel::{PathMode, Post};

/// How corners are run through (NISTIR 6556, 3.5.14, from memory): a warning where the controller may round them, none
/// at all where the dialect says nothing of it.
#[must_use]
pub fn path_mode_check(post: &Post) -> Option<Check> {
    let (value, place) = match post.gcode.words.path_mode? {
        PathMode::Exact => (0.0, "G61: the controller goes through every corner"),
        PathMode::Continuous => (1.0, CONTINUOUS),
    };
    Some(Check::at_most(CheckId::PathMode, value, 0.0, Unit::Words, place).accepted())
}

/// What is told of G64.
pub const CONTINUOUS: &str = "path mode G64: corners may be rounded, and that is not proven";
