//! What the targets share: a job that each kind of file stands in.

use std::sync::OnceLock;

use lapwright::job::{CutFile, Holds, plan};
use lapwright::replay::dialect::check_dialect;
use lapwright::plan::{Plan};
use lapwright::panel::{JobFiles, SourceFile, SourceKind};

/// The sources of a built-in panel.
fn sources(panel: &str) -> Vec<SourceFile> {
    match JobFiles::builtin_panel(panel) {
        Ok(files) => files.sources,
        Err(e) => unreachable!("a built-in panel is sound: {e}"),
    }
}

/// Reads bytes in the place of the file of this kind of a built-in panel; of a dialect that is read, what it
/// writes is tried too.
pub fn source(panel: &str, kind: SourceKind, bytes: &[u8]) {
    let mut sources = sources(panel);
    if let Some(source) = sources.iter_mut().find(|s| s.kind == kind) {
        source.bytes = bytes.to_vec();
    }
    let Ok(files) = JobFiles::from_sources(sources) else {
        return;
    };
    if let (SourceKind::Post, Some(own)) = (kind, files.own()) {
        let _refusal = check_dialect(&own.post);
    }
}

fn planned(panel: &str) -> Plan {
    let files = JobFiles::from_sources(sources(panel));
    let files = files.unwrap_or_else(|e| unreachable!("a built-in panel is sound: {e}"));
    plan(files, &mut |_| ()).unwrap_or_else(|e| unreachable!("a built-in panel is planned: {e}"))
}

/// Hands bytes to the proof of cut files: of a beam's, a cutter's and a gang's job in turn, by the first byte.
pub fn cut_file(drawing: bool, bytes: &[u8]) {
    static PLANS: OnceLock<[Plan; 3]> = OnceLock::new();
    let plans = PLANS.get_or_init(|| ["demo", "router-square", "three-way-hardwood"].map(planned));
    let Some((&first, bytes)) = bytes.split_first() else {
        return;
    };
    let files: Vec<CutFile<'_>> = plans
        .iter()
        .flat_map(Plan::cut_files)
        .filter(|f| matches!(f.holds, Holds::Drawing(..)) == drawing)
        .collect();
    if let Some(file) = files.get(usize::from(first) % files.len()) {
        let _faults = file.prove(bytes);
    }
}
