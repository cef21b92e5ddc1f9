//! Files that a call names: those of the maker, and those that the program carries.

use std::fmt::Write;
use std::io::Read;
use std::path::Path;

use lapwright::job::JobError;
use lapwright::limits::FILE_BYTES;
use lapwright::panel::{
    BUILTIN, CutterKind, JobFiles, LoadError, SourceKind, new_layouts, new_panel, starter,
};

/// The word for standard input.
const STDIN: &str = "-";

/// The files of a job: of a panel file, or of one that standard input gives.
///
/// # Errors
/// Files that cannot be read or are wrong.
pub(super) fn panel_files(panel: &Path) -> Result<JobFiles, JobError> {
    if panel == Path::new(STDIN) {
        let bytes = standard_input()?;
        return JobFiles::from_text("standard input", &bytes, Some(Path::new("")))
            .map_err(Into::into);
    }
    if panel.is_dir() {
        let what = "is a folder; name a panel file";
        return Err(JobError::Call(format!("{} {what}", panel.display())));
    }
    JobFiles::load(panel).map_err(|e| not_there(panel, e))
}

/// Its bytes, one more than a file may have at most: that one shows that there are too many.
fn standard_input() -> Result<Vec<u8>, JobError> {
    let mut bytes = Vec::new();
    let read = std::io::stdin()
        .lock()
        .take(FILE_BYTES as u64 + 1)
        .read_to_end(&mut bytes);
    read.map_err(|source| LoadError::Io {
        path: "standard input".into(),
        source,
    })?;
    Ok(bytes)
}

/// A panel file that is not there, with what may have been meant.
fn not_there(panel: &Path, e: LoadError) -> JobError {
    let missing =
        matches!(&e, LoadError::Io { source, .. } if source.kind() == std::io::ErrorKind::NotFound);
    let name = panel.to_string_lossy();
    let with_ending = panel.with_extension("toml");
    let meant = if !missing {
        None
    } else if with_ending.is_file() {
        Some(format!("did you mean {}?", with_ending.display()))
    } else if BUILTIN
        .iter()
        .any(|file| file.kind == SourceKind::Panel && file.name == name)
    {
        Some(format!(
            "`lapwright show {name} > {name}.toml` writes the built-in panel of that name"
        ))
    } else if new_panel(&name).is_some() {
        Some(format!(
            "`lapwright new {name} > {name}.toml` writes a panel file of that layout to start from"
        ))
    } else {
        None
    };
    match meant {
        Some(meant) => JobError::Call(format!("{e}; {meant}")),
        None => e.into(),
    }
}

/// A commented panel file to start from, or which there are.
///
/// # Errors
/// There is no such layout.
pub(super) fn new(layout: Option<&str>, cutter: CutterKind) -> Result<Vec<u8>, JobError> {
    let known = new_layouts();
    let Some(layout) = layout else {
        let mut list = "Layouts, for `lapwright new LAYOUT`\n".to_owned();
        for name in known {
            let _ = writeln!(
                list,
                "  {name:<17} {}",
                new_panel(name).map(headline).unwrap_or_default()
            );
        }
        return Ok(list.into_bytes());
    };
    match starter(layout, cutter) {
        Some(text) => Ok(text.into_bytes()),
        None => Err(JobError::Call(format!(
            "there is no layout \"{layout}\"; the layouts are: {}",
            known.join(", ")
        ))),
    }
}

/// A file that the program carries, or which there are, by kind.
///
/// # Errors
/// There is no such file.
pub(super) fn show(name: Option<&str>) -> Result<Vec<u8>, JobError> {
    let Some(name) = name else {
        return Ok(list().into_bytes());
    };
    match BUILTIN.iter().find(|file| file.name == name) {
        Some(file) => Ok(file.text.as_bytes().to_vec()),
        None => {
            let known: Vec<&str> = BUILTIN.iter().map(|file| file.name).collect();
            Err(JobError::Call(format!(
                "there is no built-in file \"{name}\"; the files are: {}",
                known.join(", ")
            )))
        }
    }
}

fn list() -> String {
    let mut out = "Built-in files, for `lapwright show NAME`\n".to_owned();
    let mut last = None;
    for file in BUILTIN {
        if last != Some(file.kind) {
            let _ = writeln!(out, "\n{}", heading(file.kind));
            last = Some(file.kind);
        }
        let _ = writeln!(out, "  {:<20} {}", file.name, headline(file.text));
    }
    out
}

fn heading(kind: SourceKind) -> &'static str {
    match kind {
        SourceKind::Panel => "Panels",
        SourceKind::Machine => "Machines",
        SourceKind::Material => "Materials",
        SourceKind::Stock => "Stock",
        SourceKind::Post => "Post-processors",
        SourceKind::Pattern => "Patterns of infill",
    }
}

/// The first sentence of the comment at a file's head.
fn headline(text: &str) -> String {
    let comment = text.lines().map_while(|line| line.strip_prefix('#'));
    let words: Vec<&str> = comment.map(str::trim).collect();
    let mut sentence = words.join(" ");
    if let Some(end) = sentence.find(". ") {
        sentence.truncate(end + 1);
    }
    sentence
}
