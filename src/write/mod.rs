//! write
pub mod dxf;
pub mod gcode;
