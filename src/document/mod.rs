//! The workshop sheet as a document: sections of headings, texts, lists, tables and figures. Data only:
//! what is told comes from the job, and how it looks on paper or a screen is up to the writers.

mod blocks;
mod numbers;

pub use blocks::{Block, Cells, Column, Document, Figure, Page, Section, Size, Table};
pub use numbers::{Numbers, capital, counted, degrees};
