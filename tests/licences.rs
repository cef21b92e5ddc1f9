//! The licences that every copy of the program must bring along: its own, those of its fonts, and those of
//! the crates that are linked into it.
#![allow(clippy::panic, reason = "tests")]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

use serde_json::Value;

/// Crates differ from system to system; these are the ones of this.
const SYSTEM: &str = "x86_64-unknown-linux-gnu";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn text(value: &Value) -> &str {
    value.as_str().expect("a text")
}

fn list(value: &Value) -> &[Value] {
    value.as_array().expect("a list")
}

/// A crate that is linked.
struct Linked {
    /// Name and version.
    name: String,
    /// The licence that it states.
    licence: String,
    authors: Vec<String>,
    folder: PathBuf,
}

/// All crates that are linked into the program, by name and version: cargo's own account. What runs only
/// while it is built or tested is none of them.
fn linked() -> Vec<Linked> {
    let mut call = Command::new(env::var_os("CARGO").unwrap_or("cargo".into()));
    call.args([
        "metadata",
        "--locked",
        "--format-version=1",
        "--filter-platform",
        SYSTEM,
    ]);
    let out = call.current_dir(root()).output().expect("cargo runs");
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let told: Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let by_id = |list: &'static str, of: &Value| -> BTreeMap<String, Value> {
        let one = |v: &Value| (text(&v["id"]).to_owned(), v.clone());
        of[list]
            .as_array()
            .expect("a list")
            .iter()
            .map(one)
            .collect()
    };
    let packages = by_id("packages", &told);
    let nodes = by_id("nodes", &told["resolve"]);
    let program = text(&told["resolve"]["root"]);
    let is_macro = |id: &str| {
        let targets = list(&packages[id]["targets"]).iter();
        targets
            .flat_map(|t| list(&t["kind"]))
            .any(|kind| kind == "proc-macro")
    };
    let (mut seen, mut next) = (BTreeSet::new(), vec![program.to_owned()]);
    while let Some(id) = next.pop() {
        let linked = |dep: &&Value| list(&dep["dep_kinds"]).iter().any(|k| k["kind"].is_null());
        let deps = list(&nodes[&id]["deps"]).iter().filter(linked);
        next.extend(
            deps.map(|dep| text(&dep["pkg"]).to_owned())
                .filter(|dep| !is_macro(dep) && !seen.contains(dep)),
        );
        seen.insert(id);
    }
    seen.remove(program);
    let one = |id: &String| {
        let package = &packages[id];
        let manifest = Path::new(text(&package["manifest_path"]));
        Linked {
            name: format!("{} {}", text(&package["name"]), text(&package["version"])),
            licence: text(&package["license"]).to_owned(),
            authors: list(&package["authors"])
                .iter()
                .map(|a| text(a).to_owned())
                .collect(),
            folder: manifest.parent().expect("a folder").to_owned(),
        }
    };
    let mut linked: Vec<Linked> = seen.iter().map(one).collect();
    linked.sort_by(|a, b| a.name.cmp(&b.name));
    linked
}

impl Linked {
    /// Whether Apache-2.0 alone is enough (SPDX expressions: `/` is an old way to write OR).
    fn is_apache(&self) -> bool {
        let licence = self.licence.replace('/', " OR ");
        !licence.contains(" AND ") && licence.split(" OR ").any(|one| one.trim() == "Apache-2.0")
    }

    /// Files of its package whose names begin so, with their texts, blanks at the ends of lines left out.
    fn files(&self, beginnings: &[&str]) -> Vec<(String, String)> {
        let entries = fs::read_dir(&self.folder).expect("the package's folder");
        let names = entries.map(|e| {
            e.expect("an entry")
                .file_name()
                .into_string()
                .expect("UTF-8")
        });
        let wanted = |name: &String| {
            let name = name.to_ascii_lowercase();
            beginnings
                .iter()
                .any(|beginning| name.starts_with(beginning))
        };
        let mut names: Vec<String> = names
            .filter(wanted)
            .filter(|name| self.folder.join(name).is_file())
            .collect();
        names.sort();
        let read = |name: String| {
            let bytes = fs::read(self.folder.join(&name)).expect("a file");
            let lines: Vec<String> = String::from_utf8_lossy(&bytes)
                .lines()
                .map(|line| line.trim_end().to_owned())
                .collect();
            (name, lines.join("\n").trim_matches('\n').to_owned())
        };
        names.into_iter().map(read).collect()
    }
}

/// What `LICENSE-CRATES` must say.
fn told() -> String {
    let linked = linked();
    let mut out = format!(
        "The crates that are linked into lapwright, and the licence that each states. They are those of a build \
         for\n{SYSTEM}; `cargo tree --edges normal` shows those of any other. Where Apache-2.0 is enough\n\
         it is the one that is used, and its text is in LICENSE-APACHE; what the others ask to be told along\n\
         with every copy follows. Rust's standard library is linked too, under MIT OR Apache-2.0.\n\n"
    );
    for one in &linked {
        out += &format!("{}: {}\n", one.name, one.licence);
    }
    let mut notices: Vec<(String, Vec<String>)> = Vec::new();
    for one in &linked {
        let beginnings: &[&str] = match one.is_apache() {
            // Apache-2.0, section 4 (d).
            true => &["notice"],
            false => &["licen", "copying", "copyright", "unlicense", "notice"],
        };
        let mut files = one.files(beginnings);
        if files.is_empty() && !one.is_apache() {
            assert_eq!(
                one.licence, "MIT",
                "{}: its text is in LICENSE-MIT",
                one.name
            );
            let by = one.authors.join(", ");
            assert!(!by.is_empty(), "{}: whose is it?", one.name);
            let text = format!(
                "Copyright (c) {by}\nThe package holds no text of its licence; LICENSE-MIT has it."
            );
            files.push(("no file".to_owned(), text));
        }
        for (file, text) in files {
            let place = format!("{}, {file}", one.name);
            match notices.iter_mut().find(|(known, _)| *known == text) {
                Some((_, places)) => places.push(place),
                None => notices.push((text, vec![place])),
            }
        }
    }
    for (text, places) in notices {
        out += &format!("\n---- {} ----\n\n{text}\n", places.join("; "));
    }
    out
}

/// The list is checked in, so that the program can carry it; cargo knows what it must hold.
#[test]
fn the_list_of_crates_is_that_of_the_lock_file() {
    let fresh = told();
    let kept = fs::read_to_string(root().join("LICENSE-CRATES")).expect("a file");
    if kept != fresh {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("LICENSE-CRATES");
        fs::write(&path, fresh).expect("the folder of the build");
        panic!(
            "LICENSE-CRATES is out of date: put {} in its place",
            path.display()
        );
    }
}

/// What the fonts' makers ask to be included in every copy, as their package brings it.
#[test]
fn the_fonts_licence_is_their_makers() {
    let linked = linked();
    let fonts = linked.iter().find(|one| one.name.starts_with("dejavu "));
    let assets = fonts.expect("the fonts' crate").folder.join("assets");
    let inside = fs::read_dir(assets).expect("its fonts");
    let folder = inside
        .map(|e| e.expect("an entry").path())
        .next()
        .expect("a folder");
    let theirs = fs::read_to_string(folder.join("LICENSE")).expect("their licence");
    let ours = fs::read_to_string(root().join("LICENSE-FONTS")).expect("a file");
    assert!(
        theirs.contains("this permission notice shall"),
        "it asks to be told"
    );
    assert!(ours.ends_with(&theirs), "word for word");
}

#[test]
fn the_program_prints_all_of_them() {
    let call = Command::new(env!("CARGO_BIN_EXE_lapwright"))
        .arg("licences")
        .output();
    let out = call.expect("the program runs");
    assert!(out.status.success(), "{out:?}");
    let printed = String::from_utf8(out.stdout).expect("UTF-8");
    for file in [
        "LICENSE-MIT",
        "LICENSE-APACHE",
        "LICENSE-FONTS",
        "LICENSE-CRATES",
    ] {
        let text = fs::read_to_string(root().join(file)).expect("a file");
        assert!(text.len() > 500 && printed.contains(text.trim()), "{file}");
    }
}
