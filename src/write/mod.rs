//! write
pub mod gcode;
