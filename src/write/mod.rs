//! Writers: from a plan to bytes, without a clock or a path.

pub mod dxf;
pub mod gcode;
pub mod svg;
