//! safety
