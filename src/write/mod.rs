//! write
pub mod dxf;
