//! Cells and pieces against figures from outside.
