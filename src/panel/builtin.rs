//! The files that the program carries with it: the very ones under `fixtures/` and `post-processors/`.

use super::SourceKind;

/// A file that the program carries with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Builtin {
    /// What kind of file it is.
    pub kind: SourceKind,
    /// Name by which a panel file calls it.
    pub name: &'static str,
    /// Its text.
    pub text: &'static str,
}

macro_rules! builtins {
    ($($kind:ident $name:literal $path:literal;)*) => {
        &[$(Builtin {
            kind: SourceKind::$kind,
            name: $name,
            text: include_str!(concat!("../../", $path, "/", $name, ".toml")),
        }),*]
    };
}

/// All of them, by kind and name.
pub const BUILTIN: &[Builtin] = builtins! {
    Panel "demo" "fixtures/panels";
    Panel "hemp-leaf-card" "fixtures/panels";
    Panel "hemp-leaf-outlines" "fixtures/panels";
    Panel "hexagon-card" "fixtures/panels";
    Panel "router-square" "fixtures/panels";
    Panel "three-way-card" "fixtures/panels";
    Panel "three-way-hardwood" "fixtures/panels";
    Machine "bench-laser" "fixtures/machines";
    Machine "desk-laser" "fixtures/machines";
    Machine "large-router" "fixtures/machines";
    Machine "small-router" "fixtures/machines";
    Material "card-1" "fixtures/materials";
    Material "card-1.5" "fixtures/materials";
    Material "card-2" "fixtures/materials";
    Material "hardwood-4" "fixtures/materials";
    Material "mdf-3" "fixtures/materials";
    Material "ply-3" "fixtures/materials";
    Material "softwood-4" "fixtures/materials";
    Material "vinyl-sheet" "fixtures/materials";
    Stock "card-sheets" "fixtures/stock";
    Stock "card-sheets-a2" "fixtures/stock";
    Stock "hardwood-strips" "fixtures/stock";
    Stock "mdf-sheets" "fixtures/stock";
    Stock "ply-sheets" "fixtures/stock";
    Stock "softwood-strips" "fixtures/stock";
    Pattern "diagonals" "fixtures/patterns";
    Pattern "hemp-leaf" "fixtures/patterns";
    Pattern "plain" "fixtures/patterns";
    Pattern "variant-hemp-leaf" "fixtures/patterns";
    Post "laser-follow-mm" "post-processors";
    Post "laser-inch" "post-processors";
    Post "laser-lines-mm" "post-processors";
    Post "laser-mm" "post-processors";
    Post "router-inch" "post-processors";
    Post "router-lines-inch" "post-processors";
    Post "router-mm" "post-processors";
    Post "router-numbered-mm" "post-processors";
    Post "router-pause-mm" "post-processors";
    Post "router-toolchange-mm" "post-processors";
};

/// Commented panel files to start from, one for each layout.
const NEW_PANELS: &[Builtin] = builtins! {
    Panel "new-diamond" "fixtures/panels";
    Panel "new-eight-point" "fixtures/panels";
    Panel "new-free" "fixtures/panels";
    Panel "new-open-three-way" "fixtures/panels";
    Panel "new-square" "fixtures/panels";
    Panel "new-three-way" "fixtures/panels";
};

/// The built-in file of a kind and a name.
#[must_use]
pub fn builtin(kind: SourceKind, name: &str) -> Option<&'static Builtin> {
    BUILTIN
        .iter()
        .find(|file| file.kind == kind && file.name == name)
}

/// The names of the built-in files of a kind, sorted.
pub(super) fn names(kind: SourceKind) -> impl Iterator<Item = &'static str> {
    BUILTIN
        .iter()
        .filter(move |file| file.kind == kind)
        .map(|file| file.name)
}

/// Layouts that [`new_panel`] knows.
#[must_use]
pub fn new_layouts() -> Vec<&'static str> {
    NEW_PANELS
        .iter()
        .filter_map(|file| file.name.strip_prefix("new-"))
        .collect()
}

/// A commented panel file of a layout (`square`, `three-way`) to start from.
#[must_use]
pub fn new_panel(layout: &str) -> Option<&'static str> {
    NEW_PANELS
        .iter()
        .find(|file| file.name.strip_prefix("new-") == Some(layout))
        .map(|file| file.text)
}
