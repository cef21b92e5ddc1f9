//! What is made and how it is cut: from the files of a job to lattice, pieces, sheets, clampings and moves, with the
//! checks that need no bytes. Nothing here knows a format: writers and reports read a [`Plan`].

mod bench_notes;
mod bench_steps;
mod chains;
mod controller;
mod coupon;
mod edge_plan;
mod edge_up;
mod error;
mod flat;
mod head;
mod hold_advice;
mod infill;
mod moved_holds;
mod notes;
mod panel;
mod program_head;
mod room;
mod stick_stock;
mod surround;
mod uncut;
mod unmeasured;
mod whole;

pub use coupon::coupon_plan;
pub use edge_plan::{
    BedRun, Bench, Clamping, ClampingId, DatumRun, DatumRunId, EdgePlan, Run, SlotRun, SlotRunId,
    Work,
};
pub use error::PlanError;
pub use flat::{DrawnSheet, FlatPlan, SheetWork};
pub use head::{CuttingHead, LaserHead, RouterHead};
pub use panel::{draw, ground, plan};
pub use uncut::{Instead, Uncut};
pub use whole::{CouponPlan, Cuts, Cutting, Drawn, PanelPlan, Plan, Product};

pub(crate) use bench_steps::{BenchSteps, after_a_stop, reading_steps, zero_room};
pub(crate) use head::outlines_apart;
pub(crate) use notes::{ELSEWHERE, cautions};
pub(crate) use panel::{flared, meant, planned};
pub(crate) use room::{air_run, air_run_step, room, whole_room};
pub(crate) use unmeasured::{Setting, Value, drawn_settings, edge_settings, flat_settings};
