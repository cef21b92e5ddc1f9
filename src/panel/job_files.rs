//! All files that a job is made from, as read, with the bytes that they were read from.

use super::{Machine, Material, Panel, Post, Stock};

/// Everything a job is made from.
#[derive(Debug, Clone)]
pub struct JobFiles {
    /// The panel.
    pub panel: Panel,
    /// The machine.
    pub machine: Machine,
    /// The material.
    pub material: Material,
    /// The stock.
    pub stock: Stock,
    /// The post-processor.
    pub post: Post,
    /// The bytes of the five, panel first.
    pub sources: Vec<SourceFile>,
}

/// What kind of file a source is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SourceKind {
    /// The panel file.
    Panel,
    /// The machine file.
    Machine,
    /// The material file.
    Material,
    /// The stock file.
    Stock,
    /// The post-processor file.
    Post,
}

/// The bytes of one source file and the name it has in DIR/source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// What kind of file it is.
    pub kind: SourceKind,
    /// Name in DIR/source, such as `panel.toml`: the kind, not the maker's file name.
    pub name: String,
    /// The bytes as read.
    pub bytes: Vec<u8>,
}
