//! What is cut where, in which clamping: pieces as shapes, and their places on strips and sheets; gangs
//! of sticks against a fence.

mod bar_marks;
mod chain;
mod clamping;
mod corner;
mod coupon;
mod flat;
mod gang;
mod mark;
mod order;
mod parting;
mod profile;
mod rail;

pub use bar_marks::{Groove, MarkMade, Marks, PieceMark};
pub use chain::*;
pub use clamping::*;
pub use corner::*;
pub use coupon::{
    COMB_STICKS, Comb, CombSize, CombSpec, CombStick, CouponKind, MeasuredKey, StickSize,
    bar_length, comb_views, is_marked, least_height, least_land,
};
pub use flat::*;
pub use gang::*;
pub use mark::{MARK_DEPTH, Mark, MarkOn, MarkRoom, mark_room};
pub use order::{StandingDatum, fences, same_fence, work_order};
pub use parting::{Causes, NodeParting, worst_parting};
pub use profile::Step;
