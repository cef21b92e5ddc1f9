//! The same input gives the same bytes: in another process, another folder, another time zone and
//! language.
#![allow(clippy::panic, reason = "tests")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Somewhere to run, and what the system says about time and language there.
struct Place {
    dir: tempfile::TempDir,
    zone: &'static str,
    language: &'static str,
}

impl Place {
    fn new(zone: &'static str, language: &'static str) -> Self {
        let dir = tempfile::tempdir().expect("a folder");
        Self {
            dir,
            zone,
            language,
        }
    }

    fn run(&self, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_lapwright"))
            .args(args)
            .current_dir(self.dir.path())
            .env_clear()
            .env("TZ", self.zone)
            .env("LC_ALL", self.language)
            .env("LANG", self.language)
            .env("HOME", self.dir.path())
            .output()
            .expect("run")
    }
}

fn places() -> [Place; 2] {
    [
        Place::new("UTC", "C"),
        // Half an hour off the hour, and a comma for a point.
        Place::new("Asia/Kathmandu", "de_DE.UTF-8"),
    ]
}

fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![dir.to_path_buf()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(dir).expect("below").display().to_string();
                found.insert(name, fs::read(&path).expect("a file"));
            }
        }
    }
    found
}

/// All panel files of the fixtures.
fn panels() -> Vec<PathBuf> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/panels");
    let mut found: Vec<PathBuf> = fs::read_dir(dir)
        .expect("the fixtures")
        .map(|e| e.expect("an entry").path())
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        .collect();
    found.sort();
    found
}

fn text(path: &Path) -> &str {
    path.to_str().expect("a plain name")
}

#[test]
fn every_panel_is_made_alike_everywhere() {
    let [here, there] = places();
    let mut made = 0;
    for panel in panels() {
        let a = here.run(&["--json", "make", text(&panel), "--out", "out"]);
        // The same panel by another path: a copy beside the folder that is made.
        let copy = there.dir.path().join("copy of the panel.toml");
        fs::copy(&panel, copy).expect("copied");
        fs::create_dir_all(there.dir.path().join("deep")).expect("made");
        let b = there.run(&[
            "--json",
            "make",
            "copy of the panel.toml",
            "--out",
            "deep/elsewhere",
        ]);
        assert_eq!(a.status.code(), b.status.code(), "{}", panel.display());
        assert!(a.stdout == b.stdout, "{}: summaries", panel.display());
        if a.status.code() != Some(0) {
            // A panel that cannot be made yet is refused alike, and leaves nothing.
            assert_eq!(a.status.code(), Some(2), "{}", panel.display());
            assert!(!there.dir.path().join("deep/elsewhere").exists(), "nothing");
            continue;
        }
        let a = files(&here.dir.path().join("out"));
        let b = files(&there.dir.path().join("deep/elsewhere"));
        assert!(
            a.keys().eq(b.keys()),
            "{}: {:?} and {:?}",
            panel.display(),
            a.keys(),
            b.keys()
        );
        for (name, bytes) in &a {
            assert!(b[name] == *bytes, "{}: {name}", panel.display());
        }
        for out in [
            here.dir.path().join("out"),
            there.dir.path().join("deep/elsewhere"),
        ] {
            fs::remove_dir_all(out).expect("cleared for the next");
        }
        made += 1;
    }
    assert!(made >= 4, "{made} panels made");
}

#[test]
fn every_panel_is_checked_alike_everywhere() {
    let [here, there] = places();
    for panel in panels() {
        for json in [&["--json"][..], &[]] {
            let args = [json, &["check", text(&panel)]].concat();
            let (a, b) = (here.run(&args), there.run(&args));
            assert_eq!(a.status.code(), Some(0), "{}", panel.display());
            assert!(a.stdout == b.stdout, "{}: {json:?}", panel.display());
            assert!(!a.stdout.is_empty(), "{}: a result", panel.display());
        }
    }
}

/// The panel that the program carries is the one among the fixtures, and both make the same folder.
#[test]
fn the_demo_is_its_fixture() {
    let [here, there] = places();
    assert_eq!(here.run(&["demo"]).status.code(), Some(0));
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/panels/demo.toml");
    let made = there.run(&["make", text(&fixture), "--out", "made"]);
    assert_eq!(made.status.code(), Some(0));
    let (a, b) = (
        files(&here.dir.path().join("lapwright-demo")),
        files(&there.dir.path().join("made")),
    );
    assert!(a == b, "{:?} and {:?}", a.keys(), b.keys());
}

/// A folder holds nothing of the place and the time that it was made at.
#[test]
fn nothing_tells_where_or_when() {
    let [here, _] = places();
    assert_eq!(
        here.run(&["demo", "--out", "a-name-to-find"]).status.code(),
        Some(0)
    );
    let place = text(here.dir.path()).to_owned();
    for (name, bytes) in files(&here.dir.path().join("a-name-to-find")) {
        let found = String::from_utf8_lossy(&bytes);
        assert!(!found.contains(&place), "{name} tells its folder");
        assert!(
            !found.contains("a-name-to-find"),
            "{name} tells its own name"
        );
        // Its streams are compressed: what looks like a number there is none.
        if name.ends_with(".pdf") {
            continue;
        }
        let nought = |n: &&str| n.starts_with('-') && n.parse() == Ok(0.0);
        let mut minus = found.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'));
        assert_eq!(minus.find(nought), None, "{name} has a negative nought");
    }
}
