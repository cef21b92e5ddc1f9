//! From a panel file to all files of its job.

use std::io;
use std::path::Path;
use std::sync::Arc;

use super::agree::{PanelFaults, agree, clears, from_drawings, takes_a_beam, usual_relief};
use super::builtin::{builtin, names};
use super::infill::Named;
use super::kind::kind_of;
use super::machine::read_machine;
use super::material::read_material;
use super::pattern::read_pattern;
use super::plain_file::read_plain;
use super::post::read_post;
use super::read_panel::{NamedCut, Names, read_panel};
use super::reader::{Reading, Table, nearest, read, text_of};
use super::stock::{read_stock, unlike};
use super::{
    CutBy, Fault, Faults, FileText, JobFiles, LoadError, Machine, Material, OwnMachine, Pattern,
    Post, SourceFile, SourceKind, Stock, Wood,
};
use crate::limits::FILE_BYTES;

/// A file before its text is looked at.
pub(super) struct Raw {
    kind: SourceKind,
    /// As the maker knows it.
    file: String,
    bytes: Vec<u8>,
}

impl Raw {
    fn from_path(kind: SourceKind, path: &Path) -> io::Result<Self> {
        Ok(Self {
            kind,
            file: path.display().to_string(),
            bytes: read_plain(path, FILE_BYTES)?,
        })
    }

    /// From bytes that are at hand; `file` as the maker knows it.
    pub(super) fn from_bytes(kind: SourceKind, file: &str, bytes: &[u8]) -> Self {
        Self {
            kind,
            file: file.to_owned(),
            bytes: bytes.to_vec(),
        }
    }

    fn from_builtin(kind: SourceKind, name: &str) -> Option<Self> {
        let bytes = builtin(kind, name)?.text.as_bytes().to_vec();
        Some(Self {
            kind,
            file: format!("{name} (built in)"),
            bytes,
        })
    }

    fn text(&self) -> Result<&str, Faults> {
        let advice = match self.kind {
            SourceKind::Panel => "start from a panel file that `lapwright new square` writes",
            _ => "start from a built-in file of its kind",
        };
        text_of(&self.file, &self.bytes, advice)
    }

    pub(super) fn parse<T>(
        &self,
        take: impl FnOnce(&mut Table<'_>) -> T,
    ) -> Result<(T, FileText), Faults> {
        let text = self.text()?;
        let reading = read(&self.file, text, take);
        self.is_of_its_kind(text, &reading)?;
        let spans = reading.spans.clone();
        let value = reading.done(&self.file, text)?;
        let (file, text) = (self.file.clone(), text.to_owned());
        Ok((value, FileText { file, text, spans }))
    }

    /// Of a file of another kind that alone is told: all its faults follow from it.
    fn is_of_its_kind<T>(&self, text: &str, reading: &Reading<T>) -> Result<(), Faults> {
        if reading.faults.is_empty() {
            return Ok(());
        }
        let Some((kind, key)) = kind_of(text).filter(|(kind, _)| *kind != self.kind) else {
            return Ok(());
        };
        let start = text.find(key).unwrap_or_default();
        let (is, wanted) = (kind.word(), self.kind.word());
        let message = format!("this is a {is} file, for it has `{key}`, and not a {wanted} file");
        let hint = match self.kind {
            SourceKind::Panel => format!("name the panel file that names this {is} file"),
            _ => format!("name a {wanted} file, or start from a built-in one"),
        };
        let fault = Fault::new(self.file.as_str(), start..start + key.len(), message);
        let fault = fault.with_hint(hint);
        Err(Faults::new(self.file.as_str(), text, vec![fault]))
    }
}

/// Where a file that the panel names is found, or what is wrong with the name.
type Found = Result<Raw, Miss>;

enum Miss {
    /// The name is wrong: message and hint.
    Name(String, String),
    /// There is no copy of this name.
    Copy(String),
    /// The system did not hand the file over.
    Io(LoadError),
}

impl JobFiles {
    /// Reads a panel file and the files that it names: a path that ends in `.toml` starts from the panel
    /// file's folder, anything else is the name of a built-in file.
    ///
    /// # Errors
    /// [`LoadError::Io`] where the system refuses a file (a panel file that does not exist included);
    /// else [`LoadError::Faults`] with all faults of all the files.
    pub fn load(path: &Path) -> Result<Self, LoadError> {
        let refused = |source| LoadError::Io {
            path: path.to_owned(),
            source,
        };
        let panel = Raw::from_path(SourceKind::Panel, path).map_err(refused)?;
        let folder = path.parent().unwrap_or(Path::new(""));
        assemble(&panel, |kind, name| named(kind, name, Some(folder)))
    }

    /// Reads a panel file from its bytes; `file` as the maker knows it. Paths of the files that it names
    /// start from `folder`; without one it may name built-in files alone.
    ///
    /// # Errors
    /// Those of [`JobFiles::load`].
    pub fn from_text(file: &str, bytes: &[u8], folder: Option<&Path>) -> Result<Self, LoadError> {
        let panel = Raw::from_bytes(SourceKind::Panel, file, bytes);
        assemble(&panel, |kind, name| named(kind, name, folder))
    }

    /// Reads a built-in panel.
    ///
    /// # Errors
    /// [`LoadError::Faults`] where there is none of this name.
    pub fn builtin_panel(name: &str) -> Result<Self, LoadError> {
        let Some(panel) = Raw::from_builtin(SourceKind::Panel, name) else {
            let fault = Fault::new(name, 0..0, format!("there is no built-in panel `{name}`"))
                .with_hint(known_names(SourceKind::Panel, name));
            return Err(LoadError::Faults(vec![Faults::new(name, "", vec![fault])]));
        };
        assemble(&panel, |kind, name| named(kind, name, None))
    }

    /// Reads a job from byte copies of its files. The names in the panel file count for nothing: each
    /// copy stands for what its kind says.
    ///
    /// # Errors
    /// [`LoadError::Faults`] with all faults of all the files; a kind that is not there once is one.
    pub fn from_sources(files: Vec<SourceFile>) -> Result<Self, LoadError> {
        let mut faults = Vec::new();
        let every = SourceKind::EVERY_JOB.map(|kind| (kind, 1));
        // Whether there must be these is for the panel file to say.
        let own = SourceKind::OWN_MACHINE.map(|kind| (kind, 0));
        for (kind, least) in every.into_iter().chain(own) {
            let name = kind.file_name();
            let there = files.iter().filter(|file| file.kind == kind);
            let count = there.filter(|file| !kind.is_numbered() || file.name == name);
            let count = count.count();
            if !(least..=1).contains(&count) {
                let word = kind.word();
                let message = format!("there must be one {word} file, but there are {count}");
                let fault = Fault::new(name, 0..0, message);
                faults.push(Faults::new(name, "", vec![fault]));
            }
        }
        let mut raws: Vec<Raw> = files
            .into_iter()
            .map(|file| Raw {
                kind: file.kind,
                file: file.name,
                bytes: file.bytes,
            })
            .collect();
        let panel = raws.iter().position(|raw| raw.kind == SourceKind::Panel);
        let (Some(panel), true) = (panel, faults.is_empty()) else {
            return Err(LoadError::Faults(faults));
        };
        let panel = raws.remove(panel);
        let mut asked: Vec<SourceKind> = Vec::new();
        assemble(&panel, |kind, _| {
            // Those of one kind are asked for in their order.
            asked.push(kind);
            let at = raws.iter().position(|raw| raw.kind == kind);
            at.map(|at| raws.remove(at)).ok_or_else(|| {
                let number = asked.iter().filter(|k| **k == kind).count();
                Miss::Copy(kind.numbered(number))
            })
        })
    }
}

/// Finds the file that a panel names.
fn named(kind: SourceKind, name: &str, folder: Option<&Path>) -> Found {
    if let Some(raw) = Raw::from_builtin(kind, name) {
        return Ok(raw);
    }
    let (Some(folder), true) = (folder, name.ends_with(".toml")) else {
        let message = format!("there is no built-in {} `{name}`", kind.word());
        return Err(Miss::Name(message, known_names(kind, name)));
    };
    let path = folder.join(name);
    Raw::from_path(kind, &path).map_err(|source| match source.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::IsADirectory | io::ErrorKind::InvalidInput => {
            let message = format!("there is no {} file {}", kind.word(), path.display());
            Miss::Name(
                message,
                "a path starts from the folder of the panel file".to_owned(),
            )
        }
        io::ErrorKind::InvalidData => {
            let message = format!("{} cannot be read: {source}", path.display());
            Miss::Name(message, String::new())
        }
        _ => Miss::Io(LoadError::Io { path, source }),
    })
}

/// What would be right in place of an unknown name.
fn known_names(kind: SourceKind, name: &str) -> String {
    let near = nearest(name, names(kind));
    let near = near
        .map(|near| format!("did you mean `{near}`? "))
        .unwrap_or_default();
    let list: Vec<&str> = names(kind).collect();
    let path = if kind == SourceKind::Panel {
        ""
    } else {
        "; or a path that ends in .toml"
    };
    format!("{near}built in: {}{path}", list.join(", "))
}

/// The files that a panel names, as far as they were found.
struct Raws {
    machine: Option<Raw>,
    post: Option<Raw>,
    materials: Vec<Option<Raw>>,
    stocks: Vec<Option<Raw>>,
    patterns: Vec<Option<Raw>>,
}

impl Raws {
    fn fetch(
        names: &Names,
        mut find: impl FnMut(SourceKind, &str) -> Found,
        faults: &mut PanelFaults<'_>,
    ) -> Result<Self, LoadError> {
        // Of copies that stand for what their number says, those past a name that is wrong are not told apart.
        let mut fetch = |key: &str, kind: SourceKind, name: &str, sure: bool| match find(kind, name)
        {
            // A name that is wrong in itself has its fault already.
            _ if name.is_empty() => Ok(None),
            Ok(raw) => Ok(Some(raw)),
            Err(Miss::Name(message, hint)) => {
                faults.add(key, message, hint);
                Ok(None)
            }
            Err(Miss::Copy(name)) => {
                if sure {
                    faults.add(key, format!("source/{name} is missing"), String::new());
                }
                Ok(None)
            }
            Err(Miss::Io(error)) => Err(error),
        };
        let own = match &names.cut_by {
            NamedCut::Elsewhere(_) => None,
            NamedCut::Own { machine, post } => Some([
                fetch("machine", SourceKind::Machine, machine, true)?,
                fetch("post_processor", SourceKind::Post, post, true)?,
            ]),
        };
        let [machine, post] = own.unwrap_or_default();
        let mut all = |kind: SourceKind, names: &Named| -> Result<Vec<Option<Raw>>, LoadError> {
            let sure = names.0.iter().all(|(_, name)| !name.is_empty());
            let one = |(key, name): &(String, String)| fetch(key, kind, name, sure);
            names.0.iter().map(one).collect()
        };
        Ok(Self {
            machine,
            post,
            materials: all(SourceKind::Material, &names.materials)?,
            stocks: all(SourceKind::Stock, &names.stocks)?,
            patterns: all(SourceKind::Pattern, &names.patterns)?,
        })
    }
}

/// What stands in the files that a panel names, as far as it could be read.
struct Parsed {
    machine: Option<Machine>,
    post: Option<(Post, FileText)>,
    materials: Vec<Option<(Material, FileText)>>,
    stocks: Vec<Option<(Stock, FileText)>>,
    patterns: Vec<Option<(Pattern, FileText)>>,
}

impl Parsed {
    /// Reads all of them; what is wrong with any is added to `others`.
    fn of(raws: &Raws, others: &mut Vec<Faults>) -> Self {
        Self {
            machine: parsed(&raws.machine, read_machine, others).map(|(value, _)| value),
            materials: all_parsed(&raws.materials, read_material, others),
            stocks: all_parsed(&raws.stocks, read_stock, others),
            post: parsed(&raws.post, read_post, others),
            patterns: all_parsed(&raws.patterns, read_pattern, others),
        }
    }

    /// The woods of a job, the bars' first; `None` where any of their files could not be read.
    fn woods(&self, pairs: &[[usize; 2]]) -> Option<Vec<Wood>> {
        let wood = |&[material, stock]: &[usize; 2]| {
            let (material, _) = self.materials.get(material)?.as_ref()?;
            let (stock, _) = self.stocks.get(stock)?.as_ref()?;
            Some(Wood {
                material: material.clone(),
                stock: stock.clone(),
            })
        };
        pairs.iter().map(wood).collect()
    }

    /// Stock of another thickness than its material.
    fn unlike_stock(&self, pairs: &[[usize; 2]]) -> Vec<Faults> {
        let (materials, stocks) = (&self.materials, &self.stocks);
        let of =
            |p: &[usize; 2]| unlike(materials.get(p[0])?.as_ref()?, stocks.get(p[1])?.as_ref()?);
        pairs.iter().filter_map(of).flatten().collect()
    }
}

/// Reads all files and gathers what is wrong with any of them.
fn assemble(
    panel: &Raw,
    find: impl FnMut(SourceKind, &str) -> Found,
) -> Result<JobFiles, LoadError> {
    let text = panel
        .text()
        .map_err(|faults| LoadError::Faults(vec![faults]))?;
    let reading = read(&panel.file, text, read_panel);
    panel
        .is_of_its_kind(text, &reading)
        .map_err(|faults| LoadError::Faults(vec![faults]))?;
    let Reading {
        value: draft,
        faults,
        broken,
        spans,
    } = reading;
    let panel_text = FileText {
        file: panel.file.clone(),
        text: text.to_owned(),
        spans,
    };
    let mut faults = PanelFaults {
        text: &panel_text,
        broken,
        list: faults,
    };
    let raws = Raws::fetch(&draft.names, find, &mut faults)?;
    let mut others = Vec::new();
    let read = Parsed::of(&raws, &mut others);
    if let Some(machine) = &read.machine {
        let post = read.post.as_ref().map(|(post, _)| post);
        agree(&draft, machine, post, &mut faults);
        for ((key, _), material) in draft.names.materials.0.iter().zip(&read.materials) {
            if let Some((material, _)) = material {
                clears(key, material, machine, &mut faults);
            }
        }
    }
    if let NamedCut::Elsewhere(elsewhere) = &draft.names.cut_by {
        from_drawings(&draft, elsewhere, &mut faults);
        for ((key, _), material) in draft.names.materials.0.iter().zip(&read.materials) {
            if let Some((material, _)) = material {
                takes_a_beam(key, material, elsewhere, &mut faults);
            }
        }
    }
    let woods = read.woods(&draft.names.woods);
    let unlike = read.unlike_stock(&draft.names.woods);
    let patterns: Option<Vec<_>> = read.patterns.into_iter().collect();
    let report = Faults::new(panel.file.as_str(), text, faults.list);
    if !report.list().is_empty() {
        others.insert(0, report);
    }
    if others.is_empty() {
        others = unlike;
    }
    let cut_by = match draft.names.cut_by {
        NamedCut::Elsewhere(elsewhere) => Some(CutBy::Elsewhere(elsewhere)),
        NamedCut::Own { .. } => read.machine.zip(read.post).map(|(machine, post)| {
            let (post, post_text) = post;
            CutBy::Own(Arc::new(OwnMachine {
                machine,
                post,
                post_text,
            }))
        }),
    };
    let (Some(cut_by), Some(mut woods), Some(patterns)) = (cut_by, woods, patterns) else {
        return Err(LoadError::Faults(others));
    };
    if !others.is_empty() || woods.is_empty() {
        return Err(LoadError::Faults(others));
    }
    let Wood { material, stock } = woods.remove(0);
    let (patterns, pattern_texts) = patterns.into_iter().unzip();
    let mut panel_data = draft.panel;
    panel_data.cut.relief = draft.relief.unwrap_or(usual_relief(&cut_by));
    Ok(JobFiles {
        panel: panel_data,
        cut_by,
        material,
        stock,
        woods,
        patterns,
        sources: sources(panel, &raws),
        panel_text,
        pattern_texts,
    })
}

/// The bytes of all files: first one of each kind, then the further ones.
fn sources(panel: &Raw, raws: &Raws) -> Vec<SourceFile> {
    let lists = [
        std::slice::from_ref(&raws.machine),
        &raws.materials,
        &raws.stocks,
        std::slice::from_ref(&raws.post),
        &raws.patterns,
    ];
    let source = |raw: &Raw, number| SourceFile {
        kind: raw.kind,
        name: raw.kind.numbered(number),
        bytes: raw.bytes.clone(),
    };
    let mut sources = vec![source(panel, 1)];
    for raws in lists {
        let raws = raws.iter().flatten().zip(1..);
        sources.extend(raws.map(|(raw, number)| source(raw, number)));
    }
    sources.sort_by_key(|source| {
        source.kind == SourceKind::Pattern || source.name != source.kind.file_name()
    });
    sources
}

fn all_parsed<T>(
    raws: &[Option<Raw>],
    take: impl Fn(&mut Table<'_>) -> T,
    others: &mut Vec<Faults>,
) -> Vec<Option<(T, FileText)>> {
    let one = |raw| parsed(raw, &take, others);
    raws.iter().map(one).collect()
}

fn parsed<T>(
    raw: &Option<Raw>,
    take: impl FnOnce(&mut Table<'_>) -> T,
    others: &mut Vec<Faults>,
) -> Option<(T, FileText)> {
    match raw.as_ref()?.parse(take) {
        Ok(value) => Some(value),
        Err(faults) => {
            others.push(faults);
            None
        }
    }
}
