//! write
