//! All files that a job is made from, as read, with the bytes that they were read from.

use std::collections::BTreeMap;
use std::fmt;
use std::io;
use std::ops::Range;
use std::path::PathBuf;
use std::sync::Arc;

use sha2::{Digest, Sha256};

use super::{DxfStyle, Elsewhere, Fault, Faults, Machine, Material, Panel, Pattern, Post, Stock};
use crate::letters::hex;

/// Everything a job is made from.
#[derive(Debug, Clone)]
pub struct JobFiles {
    /// The panel.
    pub panel: Panel,
    /// Who cuts it.
    pub cut_by: CutBy,
    /// The material.
    pub material: Material,
    /// The stock.
    pub stock: Stock,
    /// The woods that the panel's infill names and that are not the bars', in the order in which it first
    /// names them: see [`Self::wood`].
    pub woods: Vec<Wood>,
    /// The patterns that the panel's infill names, in the order in which it first names them.
    pub patterns: Vec<Pattern>,
    /// The bytes of all of them, each once, however many woods are of it: panel first, then in the order of
    /// the fields above, numbered ones last.
    pub sources: Vec<SourceFile>,
    /// The panel file's text, for faults that later stages find.
    pub panel_text: FileText,
    /// The pattern files' texts, likewise.
    pub pattern_texts: Vec<FileText>,
}

/// Who cuts a job.
#[derive(Debug, Clone, PartialEq)]
pub enum CutBy {
    /// The maker: the machine is known, and programs are written for it.
    Own(Arc<OwnMachine>),
    /// Someone else, from drawings alone.
    Elsewhere(Elsewhere),
}

/// A machine with the dialect of its controller.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnMachine {
    /// The machine.
    pub machine: Machine,
    /// The post-processor.
    pub post: Post,
    /// The post-processor file's text, for faults that later stages find.
    pub post_text: FileText,
}

/// What pieces are made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Wood {
    /// The material.
    pub material: Material,
    /// The stock that it comes in.
    pub stock: Stock,
}

impl JobFiles {
    /// A mark of the job: eight hexadecimal digits of the SHA-256 (FIPS 180-4) of all its files. Jobs of other files have
    /// others, but for chance.
    #[must_use]
    pub fn mark(&self) -> String {
        let mut digest = Sha256::new();
        for source in &self.sources {
            digest.update(source.name.as_bytes());
            digest.update([0]);
            digest.update((source.bytes.len() as u64).to_le_bytes());
            digest.update(&source.bytes);
        }
        hex(digest.finalize().iter().take(4))
    }

    /// The machine that programs are written for; `None` where the cut is made elsewhere.
    #[must_use]
    pub fn own(&self) -> Option<&Arc<OwnMachine>> {
        match &self.cut_by {
            CutBy::Own(own) => Some(own),
            CutBy::Elsewhere(_) => None,
        }
    }

    /// Likewise, to be changed.
    #[must_use]
    pub fn own_mut(&mut self) -> Option<&mut OwnMachine> {
        match &mut self.cut_by {
            CutBy::Own(own) => Some(Arc::make_mut(own)),
            CutBy::Elsewhere(_) => None,
        }
    }

    /// The cut that is made elsewhere; `None` where programs are written.
    #[must_use]
    pub fn elsewhere(&self) -> Option<&Elsewhere> {
        match &self.cut_by {
            CutBy::Own(_) => None,
            CutBy::Elsewhere(elsewhere) => Some(elsewhere),
        }
    }

    /// Layers and colours of the drawings.
    #[must_use]
    pub fn dxf_style(&self) -> &DxfStyle {
        match &self.cut_by {
            CutBy::Own(own) => &own.post.dxf,
            CutBy::Elsewhere(_) => DxfStyle::usual(),
        }
    }

    /// The materials of all woods, each once, the bars' first.
    #[must_use]
    pub fn materials(&self) -> Vec<&Material> {
        let mut all = vec![&self.material];
        for wood in &self.woods {
            if !all.contains(&&wood.material) {
                all.push(&wood.material);
            }
        }
        all
    }

    /// Material and stock of a wood by its index: 0 is the bars', those of the infill follow.
    ///
    /// # Panics
    /// On an index that the reader of the panel has not given.
    #[must_use]
    pub fn wood(&self, index: usize) -> (&Material, &Stock) {
        match index.checked_sub(1) {
            None => (&self.material, &self.stock),
            Some(further) => {
                // Indices are those of the names that the panel's reader has found files for.
                let wood = &self.woods[further];
                (&wood.material, &wood.stock)
            }
        }
    }
}

/// What kind of file a source is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SourceKind {
    /// The panel file.
    Panel,
    /// The machine file.
    Machine,
    /// A material file; a job has as many as it has materials.
    Material,
    /// A stock file, likewise.
    Stock,
    /// The post-processor file.
    Post,
    /// A pattern file; a job has as many as its infill names.
    Pattern,
}

impl SourceKind {
    /// The kinds of which every job has a file.
    pub const EVERY_JOB: [Self; 3] = [Self::Panel, Self::Material, Self::Stock];
    /// The kinds of which a job has a file that is cut on a machine of the maker's own.
    pub const OWN_MACHINE: [Self; 2] = [Self::Machine, Self::Post];

    /// Name of a source of this kind in DIR/source; of those that are numbered, the first one's.
    #[must_use]
    pub fn file_name(self) -> &'static str {
        match self {
            Self::Panel => "panel.toml",
            Self::Machine => "machine.toml",
            Self::Material => "material.toml",
            Self::Stock => "stock.toml",
            Self::Post => "post-processor.toml",
            Self::Pattern => "pattern-1.toml",
        }
    }

    /// The kind in words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Panel => "panel",
            Self::Machine => "machine",
            Self::Material => "material",
            Self::Stock => "stock",
            Self::Post => "post-processor",
            Self::Pattern => "pattern",
        }
    }

    /// Whether a job may have more than one file of this kind.
    #[must_use]
    pub fn is_numbered(self) -> bool {
        matches!(self, Self::Material | Self::Stock | Self::Pattern)
    }

    /// Name in DIR/source of the source of this kind with this number, from 1.
    #[must_use]
    pub fn numbered(self, number: usize) -> String {
        match self {
            Self::Pattern => format!("pattern-{number}.toml"),
            Self::Material | Self::Stock if number > 1 => format!("{}-{number}.toml", self.word()),
            _ => self.file_name().to_owned(),
        }
    }
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

/// A file's text, and where each key stands in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileText {
    /// The file, as the maker knows it.
    pub file: String,
    /// Its text.
    pub text: String,
    /// Where the value of each key stands, in bytes, by dotted path such as `ground.pitch`.
    pub spans: BTreeMap<String, Range<usize>>,
}

impl FileText {
    /// Where a key's value stands; where the file leaves the key out, its table; else the file's start.
    #[must_use]
    pub fn span(&self, key_path: &str) -> Range<usize> {
        let mut path = key_path;
        loop {
            if let Some(span) = self.spans.get(path) {
                return span.clone();
            }
            match path.rsplit_once('.') {
                Some((table, _)) => path = table,
                None => return 0..0,
            }
        }
    }

    /// How the file writes the value of a key, where that is a length in inches.
    #[must_use]
    pub fn inches(&self, key_path: &str) -> Option<&str> {
        let written = self.text.get(self.spans.get(key_path)?.clone())?;
        let quote = written.chars().next().filter(|c| ['"', '\''].contains(c))?;
        let length = written.trim_matches(quote).trim();
        let unit = length.trim_end_matches('\\').to_ascii_lowercase();
        let inches = ["in", "inch", "\"", "\u{2033}"];
        inches.iter().any(|of| unit.ends_with(of)).then_some(length)
    }

    /// A fault at the value of a key, as a report of its own.
    #[must_use]
    pub fn fault(
        &self,
        key_path: &str,
        message: impl Into<String>,
        hint: Option<String>,
    ) -> Faults {
        self.faults([(key_path.to_owned(), message.into(), hint)])
    }

    /// Several faults, each of (key path, message, hint), as one report.
    #[must_use]
    pub fn faults(
        &self,
        list: impl IntoIterator<Item = (String, String, Option<String>)>,
    ) -> Faults {
        let one = |(path, message, hint): (String, String, Option<String>)| Fault {
            hint,
            ..Fault::new(self.file.as_str(), self.span(&path), message)
        };
        Faults::new(
            self.file.as_str(),
            self.text.as_str(),
            list.into_iter().map(one).collect(),
        )
    }
}

/// Why the files of a job could not be read.
#[derive(Debug)]
pub enum LoadError {
    /// The system did not hand a file over.
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// Files that are wrong: all faults of each.
    Faults(Vec<Faults>),
}

impl fmt::Display for LoadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io { path, source } => {
                let path = path.display();
                match source.kind() {
                    io::ErrorKind::NotFound => write!(f, "cannot read {path}: it is not there"),
                    io::ErrorKind::IsADirectory => {
                        write!(f, "cannot read {path}: it is a folder, not a file")
                    }
                    io::ErrorKind::NotADirectory => {
                        write!(
                            f,
                            "cannot read {path}: there is a file in place of a folder"
                        )
                    }
                    _ => write!(f, "cannot read {path}: {source}"),
                }
            }
            Self::Faults(files) => {
                for (index, faults) in files.iter().enumerate() {
                    if index > 0 {
                        write!(f, "\n\n")?;
                    }
                    write!(f, "{faults}")?;
                }
                Ok(())
            }
        }
    }
}

impl std::error::Error for LoadError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Io { source, .. } => Some(source),
            Self::Faults(_) => None,
        }
    }
}
