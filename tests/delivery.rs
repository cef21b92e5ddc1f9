//! A folder is put in place as a whole, or what was there stays as it was, byte for byte.
#![allow(clippy::panic, reason = "tests")]

#[path = "delivery/program.rs"]
mod program;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use lapwright::job::{DeliverError, Edited, restore};
use tempfile::TempDir;

/// Everything below a folder: folders, links with where they point, files with their bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Thing {
    Folder,
    Link(String),
    File(Vec<u8>),
}

fn snapshot(dir: &Path) -> BTreeMap<String, Thing> {
    let mut found = BTreeMap::new();
    let mut open = vec![dir.to_path_buf()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(&folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            let name = path.strip_prefix(dir).expect("below").display().to_string();
            let kind = fs::symlink_metadata(&path).expect("there").file_type();
            let thing = if kind.is_symlink() {
                Thing::Link(fs::read_link(&path).expect("a link").display().to_string())
            } else if kind.is_dir() {
                open.push(path);
                Thing::Folder
            } else {
                Thing::File(fs::read(&path).expect("a file"))
            };
            found.insert(name, thing);
        }
    }
    found
}

type Files = BTreeMap<String, Vec<u8>>;

fn may_replace(dir: &Path) -> Result<(), DeliverError> {
    lapwright::job::may_replace(dir, Edited::Replaced)
}

fn deliver(dir: &Path, files: &Files) -> Result<(), DeliverError> {
    lapwright::job::deliver(dir, files, Edited::Replaced, &mut |_| {}).map(|_| ())
}

/// A small job: its files, and a job.json that lists them.
fn job(files: &[(&str, &str)]) -> Files {
    let listed = files
        .iter()
        .map(|(path, _)| serde_json::json!({ "path": path }));
    let summary = serde_json::json!({
        "schema": 1,
        "program": "lapwright 0.1.0",
        "files": listed.collect::<Vec<_>>(),
    });
    let own = ("job.json".to_owned(), summary.to_string().into_bytes());
    files
        .iter()
        .map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec()))
        .chain([own])
        .collect()
}

fn first() -> Files {
    job(&[
        ("gcode/sheet-01.nc", "M2\n"),
        ("gcode/sheet-02.nc", "M2\n"),
        ("panel.svg", "<svg/>"),
    ])
}

fn second() -> Files {
    job(&[
        ("gcode/sheet-01.nc", "G0 X1\nM2\n"),
        ("dxf/sheet-01.dxf", "0\nEOF\n"),
    ])
}

/// The folder holds these files and no others, and nothing lies beside it.
fn holds(parent: &TempDir, name: &str, files: &Files) {
    let mut want = BTreeMap::from([(name.to_owned(), Thing::Folder)]);
    for (path, bytes) in files {
        if let Some((folder, _)) = path.rsplit_once('/') {
            want.insert(format!("{name}/{folder}"), Thing::Folder);
        }
        want.insert(format!("{name}/{path}"), Thing::File(bytes.clone()));
    }
    assert_eq!(snapshot(parent.path()), want);
}

fn parent() -> TempDir {
    tempfile::tempdir().expect("a folder to work in")
}

fn write(dir: &Path, files: &Files) {
    for (path, bytes) in files {
        let path = dir.join(path);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(path, bytes).expect("written");
    }
}

/// Refused, with everything around it as it was; gives the reason.
fn refused(parent: &TempDir, dir: &Path) -> DeliverError {
    let before = snapshot(parent.path());
    assert!(may_replace(dir).is_err(), "told before the work");
    let error = deliver(dir, &second()).expect_err("refused");
    assert_eq!(snapshot(parent.path()), before, "{error}");
    error
}

#[test]
fn a_new_folder_is_made_with_its_parents() {
    let parent = parent();
    deliver(&parent.path().join("out"), &first()).expect("delivered");
    holds(&parent, "out", &first());
    let deep = parent.path().join("a/b/c");
    deliver(&deep, &second()).expect("delivered");
    let there = snapshot(&parent.path().join("a/b"));
    assert_eq!(
        there.keys().filter(|k| !k.starts_with('c')).count(),
        0,
        "{there:?}"
    );
    assert_eq!(
        there["c/dxf/sheet-01.dxf"],
        Thing::File(b"0\nEOF\n".to_vec())
    );
}

#[test]
fn an_empty_folder_is_filled() {
    let parent = parent();
    let dir = parent.path().join("out");
    fs::create_dir(&dir).expect("made");
    may_replace(&dir).expect("empty");
    deliver(&dir, &first()).expect("delivered");
    holds(&parent, "out", &first());
}

#[test]
fn our_folder_is_replaced_as_a_whole() {
    let parent = parent();
    let dir = parent.path().join("out");
    for files in [first(), second(), first(), first()] {
        deliver(&dir, &files).expect("delivered");
        holds(&parent, "out", &files);
    }
    // With a slash at its end.
    deliver(&parent.path().join("out/"), &second()).expect("delivered");
    holds(&parent, "out", &second());
    // A file that is gone, or was changed, is still a file of ours.
    fs::remove_file(dir.join("dxf/sheet-01.dxf")).expect("removed");
    fs::write(dir.join("gcode/sheet-01.nc"), "G0 X2\n").expect("changed");
    deliver(&dir, &first()).expect("delivered");
    holds(&parent, "out", &first());
}

#[test]
fn a_strange_file_keeps_the_folder_untouched() {
    for strange in [
        "notes.txt",
        ".hidden",
        "gcode/mine.nc",
        "gcode/sheet-03.nc",
        "a/b/c.txt",
    ] {
        let parent = parent();
        let dir = parent.path().join("out");
        write(&dir, &first());
        write(
            &dir,
            &BTreeMap::from([(strange.to_owned(), b"mine".to_vec())]),
        );
        match refused(&parent, &dir) {
            DeliverError::NotOurs { file, .. } => assert_eq!(file, strange),
            e => panic!("{strange}: {e}"),
        }
    }
}

#[test]
fn a_folder_without_our_summary_is_not_ours() {
    let listing = |program: &str| {
        format!(r#"{{"schema":1,"program":{program},"files":[{{"path":"letter.txt"}}]}}"#)
    };
    for summary in [
        "",
        "no json",
        "[]",
        "{}",
        r#"{"files":[{"path":"letter.txt"}]}"#,
        r#"{"schema":1,"program":"lapwright 0.1.0","files":[{"name":"letter.txt"}]}"#,
        r#"{"schema":1,"program":"lapwright 0.1.0","files":"letter.txt"}"#,
        r#"{"schema":"1","program":"lapwright 0.1.0","files":[{"path":"letter.txt"}]}"#,
        r#"{"schema":1,"files":[{"path":"letter.txt"}]}"#,
        &listing("\"other 0.1.0\""),
        &listing("\"lapwrightish\""),
        &listing("7"),
    ] {
        let parent = parent();
        let dir = parent.path().join("out");
        let files = [("job.json", summary), ("letter.txt", "dear")];
        let files = files.map(|(p, t)| (p.to_owned(), t.as_bytes().to_vec()));
        write(&dir, &files.into());
        let error = refused(&parent, &dir);
        assert!(
            matches!(error, DeliverError::NotOurs { .. }),
            "{summary}: {error}"
        );
        assert_eq!(error.exit_status(), 2, "the call is wrong");
        // Nor is one that holds such a summary alone.
        fs::remove_file(dir.join("letter.txt")).expect("removed");
        refused(&parent, &dir);
    }
    let parent = parent();
    let dir = parent.path().join("out");
    fs::create_dir_all(dir.join("job.json")).expect("a folder of that name");
    refused(&parent, &dir);
}

#[test]
fn a_file_is_not_a_folder() {
    let parent = parent();
    let dir = parent.path().join("out");
    fs::write(&dir, "mine").expect("written");
    let error = refused(&parent, &dir);
    assert!(matches!(error, DeliverError::NotAFolder(_)), "{error}");
    let below = dir.join("deeper");
    let before = snapshot(parent.path());
    deliver(&below, &first()).expect_err("no folder can be made in a file");
    assert_eq!(snapshot(parent.path()), before);
    for odd in ["/", ".", ".."] {
        let odd = Path::new(odd);
        assert!(may_replace(odd).is_err(), "{odd:?} has no name to exchange");
    }
}

#[cfg(unix)]
#[test]
fn a_link_is_not_a_folder_wherever_it_points() {
    use std::os::unix::fs::symlink;
    let parent = parent();
    write(&parent.path().join("ours"), &first());
    fs::create_dir(parent.path().join("empty")).expect("made");
    for to in ["ours", "empty", "nowhere"] {
        let dir = parent.path().join(format!("to-{to}"));
        symlink(to, &dir).expect("a link");
        let slash = parent.path().join(format!("to-{to}/"));
        for dir in [&dir, &slash] {
            let error = refused(&parent, dir);
            assert!(matches!(error, DeliverError::NotAFolder(_)), "{error}");
            assert_eq!(error.exit_status(), 2, "the call is wrong");
        }
    }
}

#[cfg(unix)]
#[test]
fn links_in_our_folder_lead_nowhere() {
    use std::os::unix::fs::symlink;
    let parent = parent();
    let dir = parent.path().join("out");
    let aside = parent.path().join("aside");
    write(&dir, &first());
    write(
        &aside,
        &BTreeMap::from([("precious.txt".to_owned(), b"mine".to_vec())]),
    );
    // A file of ours became a link: the link goes, what it points to stays.
    fs::remove_file(dir.join("panel.svg")).expect("removed");
    symlink("../aside/precious.txt", dir.join("panel.svg")).expect("a link");
    deliver(&dir, &second()).expect("delivered");
    assert_eq!(
        fs::read(aside.join("precious.txt")).expect("there"),
        b"mine"
    );
    // A folder of ours became a link to a folder: that is none of ours.
    fs::remove_dir_all(dir.join("gcode")).expect("removed");
    symlink("../aside", dir.join("gcode")).expect("a link");
    match refused(&parent, &dir) {
        DeliverError::NotOurs { file, .. } => assert_eq!(file, "gcode"),
        e => panic!("{e}"),
    }
}

#[test]
fn a_run_stopped_between_two_renames_is_restored() {
    let parent = parent();
    let (dir, old) = (
        parent.path().join("out"),
        parent.path().join(".out.lapwright-old"),
    );
    write(&old, &first());
    restore(&dir).expect("restored");
    holds(&parent, "out", &first());
    restore(&dir).expect("nothing to do");
    holds(&parent, "out", &first());

    // The next delivery does the same, then puts the new folder in its place.
    fs::rename(&dir, &old).expect("moved aside");
    deliver(&dir, &second()).expect("delivered");
    holds(&parent, "out", &second());

    // What comes back is judged like any folder.
    fs::rename(&dir, &old).expect("moved aside");
    fs::write(old.join("mine.txt"), "mine").expect("written");
    deliver(&dir, &first()).expect_err("holds a strange file");
    let there = snapshot(parent.path());
    assert_eq!(there["out/mine.txt"], Thing::File(b"mine".to_vec()));
    assert!(!there.keys().any(|k| k.starts_with('.')), "{there:?}");
}

#[test]
fn leftovers_of_stopped_runs_are_cleared() {
    let parent = parent();
    let dir = parent.path().join("out");
    write(&dir, &first());
    write(&parent.path().join(".out.lapwright-new"), &first());
    write(&parent.path().join(".out.lapwright-old"), &second());
    deliver(&dir, &second()).expect("delivered");
    holds(&parent, "out", &second());
}

#[test]
fn what_no_run_of_ours_has_left_is_in_the_way() {
    for name in [".out.lapwright-new", ".out.lapwright-old"] {
        let parent = parent();
        let dir = parent.path().join("out");
        let strange = [("letter.txt".to_owned(), b"dear".to_vec())];
        write(&parent.path().join(name), &strange.into());
        for there in [false, true] {
            if there {
                write(&dir, &first());
            }
            let error = refused(&parent, &dir);
            assert!(matches!(error, DeliverError::InTheWay(_)), "{error}");
            assert_eq!(error.exit_status(), 2, "another name is needed");
        }
    }
}

#[test]
fn what_a_run_was_writing_or_clearing_is_cleared() {
    let marked = [(".lapwright-unfinished", ""), ("gcode/a.nc", "G21")];
    let marked = marked.map(|(p, t)| (p.to_owned(), t.as_bytes().to_vec()));
    let mut half_cleared = first();
    half_cleared.retain(|path, _| !path.starts_with("gcode"));
    for left in [Files::from(marked), half_cleared, Files::new()] {
        for name in [".out.lapwright-new", ".out.lapwright-old"] {
            let parent = parent();
            let dir = parent.path().join("out");
            write(&dir, &first());
            fs::create_dir(parent.path().join(name)).expect("made");
            write(&parent.path().join(name), &left);
            deliver(&dir, &second()).expect("delivered");
            holds(&parent, "out", &second());
        }
    }
}

#[test]
fn folders_above_are_made_for_a_job_alone() {
    let broken = BTreeMap::from([
        ("a".to_owned(), b"file".to_vec()),
        ("a/b".to_owned(), b"below it".to_vec()),
    ]);
    let parent = parent();
    fs::create_dir(parent.path().join("there")).expect("made");
    let before = snapshot(parent.path());
    deliver(&parent.path().join("there/new/deep/out"), &broken).expect_err("cannot be written");
    assert_eq!(snapshot(parent.path()), before);
}

#[cfg(unix)]
#[test]
fn a_replaced_folder_keeps_its_rights() {
    use std::os::unix::fs::PermissionsExt;
    let parent = parent();
    let dir = parent.path().join("out");
    deliver(&dir, &first()).expect("delivered");
    for mode in [0o700, 0o750, 0o2775] {
        fs::set_permissions(&dir, fs::Permissions::from_mode(mode)).expect("set");
        deliver(&dir, &second()).expect("delivered");
        let now = fs::metadata(&dir).expect("there").permissions().mode();
        assert_eq!(now & 0o7777, mode);
    }
    holds(&parent, "out", &second());
}

#[test]
fn half_a_folder_is_never_left() {
    // The second file needs a folder where the first one is: writing stops there.
    let broken = BTreeMap::from([
        ("a".to_owned(), b"file".to_vec()),
        ("a/b".to_owned(), b"below it".to_vec()),
    ]);
    let parent = parent();
    let dir = parent.path().join("out");
    deliver(&dir, &broken).expect_err("cannot be written");
    assert_eq!(snapshot(parent.path()), BTreeMap::new());
    deliver(&dir, &first()).expect("delivered");
    let error = deliver(&dir, &broken).expect_err("cannot be written");
    assert_eq!(error.exit_status(), 3, "the system refused");
    holds(&parent, "out", &first());
}

/// Runs that deliver into one folder at the same time take turns: it holds one job or the other.
#[test]
fn two_runs_never_mix_their_files() {
    let parent = parent();
    let dir = parent.path().join("out");
    let many = |text: &str| -> Files {
        let names: Vec<String> = (0..40).map(|i| format!("gcode/{text}-{i}.nc")).collect();
        job(&names.iter().map(|n| (n.as_str(), text)).collect::<Vec<_>>())
    };
    let sets = [many("first"), many("second"), many("third")];
    std::thread::scope(|scope| {
        for files in &sets {
            let dir = &dir;
            scope.spawn(move || {
                for _ in 0..25 {
                    deliver(dir, files).expect("delivered");
                }
            });
        }
    });
    let there = snapshot(&dir);
    let count = |name: &str| there.keys().filter(|k| k.contains(name)).count();
    let mut counts = ["first", "second", "third"].map(count);
    counts.sort_unstable();
    assert_eq!(counts, [0, 0, 40], "{:?}", there.keys());
    assert_eq!(
        fs::read_dir(parent.path()).expect("a folder").count(),
        1,
        "nothing beside it"
    );
}

/// The kernel's own folder takes no new ones, from anybody.
#[cfg(target_os = "linux")]
#[test]
fn where_nothing_can_be_written_the_system_refuses() {
    let error = deliver(Path::new("/proc/lapwright-out"), &first()).expect_err("read only");
    assert!(matches!(error, DeliverError::System { .. }), "{error}");
    assert_eq!(error.exit_status(), 3);
    let error = deliver(Path::new("/proc/none/out"), &first()).expect_err("read only");
    assert_eq!(error.exit_status(), 3);
}
