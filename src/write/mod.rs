//! From the plan to bytes: each writer is a function of plain data, without clock, path or chance.

pub mod csv;
pub mod dxf;
pub mod dxf_notes;
pub mod gcode;
pub mod html;
pub mod infill_csv;
pub mod labels;
pub mod pdf;
pub mod surround_csv;
pub mod svg;
