//! All tests of behaviour, each in a file of its own, linked into one program.

mod panel_support;
mod sheets;

mod assembly;
mod check_limits;
mod coupon;
mod delivery;
mod determinism;
mod dxf_faults;
mod dxf_notes;
mod dxf_sample;
mod fit;
mod from_memory;
mod gcode_rules;
mod infill;
mod infill_seams;
mod kits;
mod lattice_properties;
mod layers;
mod licences;
mod loads;
mod marks;
mod nesting;
mod odd_jobs;
mod panel_faults;
mod panel_files;
mod panel_noise;
mod panel_reports;
mod panel_sources;
mod pictures;
mod readme;
mod replay_attack;
mod sheet;
mod starter_set;
mod surround;
mod tabs;
