//! What the tests of the panel's files share, and those of infill.
#![allow(dead_code, clippy::panic)]

use lapwright::geom::Point;
use lapwright::panel::{Faults, JobFiles, LoadError, SourceFile, SourceKind, builtin};
use lapwright::path::{Move, Program};
use lapwright::replay::SweptMove;

/// Panels that the program does not carry: one of known figures (common practice, no source: see the file), and the
/// small one that tests start from.
const NOT_CARRIED: [(&str, &str); 2] = [
    ("check", include_str!("../../fixtures/panels/check.toml")),
    (
        "plain-window",
        include_str!("../../fixtures/panels/plain-window.toml"),
    ),
];

/// The text of a panel that the program does not carry.
fn not_carried(name: &str) -> Option<&'static str> {
    let mut all = NOT_CARRIED.iter();
    all.find(|(own, _)| *own == name).map(|(_, text)| *text)
}

/// The files of a panel that is built in, or of one that the program does not carry.
#[track_caller]
pub fn panel(name: &str) -> JobFiles {
    match not_carried(name) {
        Some(text) => {
            JobFiles::from_text(&format!("{name}.toml"), text.as_bytes(), None).expect("sound")
        }
        None => JobFiles::builtin_panel(name).expect("a built-in panel"),
    }
}

/// The text of a file that is built in, or of a panel that the program does not carry.
pub fn text(kind: SourceKind, name: &str) -> &'static str {
    match not_carried(name) {
        Some(text) if kind == SourceKind::Panel => text,
        _ => builtin(kind, name).expect("a built-in file").text,
    }
}

/// The sources of a panel, with one of them replaced; of several of a kind, the first.
pub fn sources(name: &str, kind: SourceKind, bytes: &[u8]) -> Vec<SourceFile> {
    let mut sources = panel(name).sources;
    if let Some(source) = sources.iter_mut().find(|source| source.kind == kind) {
        source.bytes = bytes.to_vec();
    }
    sources
}

/// The faults of the files.
pub fn faults(result: Result<JobFiles, LoadError>) -> Vec<Faults> {
    match result {
        Ok(job) => panic!("no fault in {}", job.panel_text.text),
        Err(LoadError::Faults(faults)) => faults,
        Err(error) => panic!("{error}"),
    }
}

/// The sources of a built-in panel with places of one of them edited, each found in the text before it.
#[track_caller]
pub fn changed(panel: &str, kind: SourceKind, edits: &[(&str, &str)]) -> Vec<SourceFile> {
    let job = self::panel(panel);
    let source = job.sources.iter().find(|s| s.kind == kind);
    let bytes = source.expect("a source").bytes.clone();
    let mut text = String::from_utf8(bytes).expect("text");
    for (from, to) in edits {
        assert!(text.contains(from), "`{from}` is in the file");
        text = text.replacen(from, to, 1);
    }
    sources(panel, kind, text.as_bytes())
}

/// Edits a built-in panel's text and reads it: line and message (with the hint) of each fault.
pub fn edited(panel: &str, kind: SourceKind, edits: &[(&str, &str)]) -> Vec<(usize, String)> {
    let files = faults(JobFiles::from_sources(changed(panel, kind, edits)));
    let [file] = files.as_slice() else {
        panic!("faults in one file: {files:?}")
    };
    assert_eq!(file.file(), kind.file_name());
    let said = file.list().iter().map(|fault| match &fault.hint {
        Some(hint) => format!("{}; {hint}", fault.message),
        None => fault.message.clone(),
    });
    file.lines().into_iter().zip(said).collect()
}

/// The line of a text, from 1, on which a needle first stands.
pub fn line_of(text: &str, needle: &str) -> usize {
    1 + text
        .lines()
        .position(|line| line.contains(needle))
        .expect("a line")
}

/// Edits one place of a panel; the one fault stands on the last edited line and says so.
#[track_caller]
pub fn one_fault(panel: &str, kind: SourceKind, from: &str, to: &str, said: &str) {
    let job = self::panel(panel);
    let source = job
        .sources
        .iter()
        .find(|s| s.kind == kind)
        .expect("a source");
    let line = line_of(std::str::from_utf8(&source.bytes).expect("text"), from);
    let line = line + to.matches('\n').count();
    assert_eq!(
        edited(panel, kind, &[(from, to)]),
        [(line, said.to_owned())]
    );
}

/// What the maker of a panel is told when one of its files is replaced, file by file.
pub fn told(panel: &str, kind: SourceKind, bytes: &[u8]) -> Vec<Faults> {
    faults(JobFiles::from_sources(sources(panel, kind, bytes)))
}

/// The cuts of a beam's program.
pub fn cuts(program: &Program) -> Vec<SweptMove> {
    let mut at = Point::ORIGIN;
    let mut cuts = Vec::new();
    for step in &program.moves {
        let (to, arc) = match *step {
            Move::Line(to) => (to, None),
            Move::Arc { to, centre, ccw } => (to, Some((centre, ccw))),
            Move::Travel(to) => {
                at = to;
                continue;
            }
            _ => continue,
        };
        cuts.push(SweptMove {
            line: cuts.len() + 1,
            from: [at.x, at.y, 0.0],
            to: [to.x, to.y, 0.0],
            arc,
        });
        at = to;
    }
    cuts
}
