//! Attacks the replay with real jobs: what it lets pass must cut the same.
//!
//! The jobs are the built-in panels, the bytes those that would be put in place. A fault that is not
//! caught is compared with the sound file by readers of this test's own, which share no code with the
//! program's.
#![allow(clippy::panic, reason = "tests")]

#[path = "replay_attack/air_run.rs"]
mod air_run;
#[path = "replay_attack/copies.rs"]
mod copies;
#[path = "replay_attack/dxf.rs"]
mod dxf;
#[path = "replay_attack/gangs.rs"]
mod gangs;
#[path = "replay_attack/gcode.rs"]
mod gcode;
#[path = "replay_attack/grooves.rs"]
mod grooves;
#[path = "replay_attack/jobs.rs"]
mod jobs;
#[path = "replay_attack/own_reader.rs"]
mod own_reader;
#[path = "replay_attack/plans.rs"]
mod plans;
#[path = "replay_attack/spoil.rs"]
mod spoil;
#[path = "replay_attack/sweep.rs"]
mod sweep;
