//! lattice
