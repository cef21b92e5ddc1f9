//! Where files come from: paths, built-in names, byte copies; and files that are no text at all.
#![allow(clippy::panic)]

use std::fs::{self, File};

use crate::panel_support::{faults, line_of, sources, text, told};
use lapwright::panel::{HeadKind, JobFiles, LoadError, SourceKind};

#[test]
fn a_panel_names_files_by_path_or_built_in_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let panel = folder.path().join("mine.toml");
    fs::create_dir(folder.path().join("shop")).expect("a folder");
    let window = text(SourceKind::Panel, "plain-window");
    fs::write(
        &panel,
        window.replace("\"desk-laser\"", "\"shop/big.toml\""),
    )
    .expect("written");
    // Not there yet: a fault of the panel file, on the line that names it.
    let files = faults(JobFiles::load(&panel));
    assert_eq!(files.len(), 1);
    assert_eq!(files[0].lines(), [line_of(window, "machine = ")]);
    assert!(
        files[0].list()[0]
            .message
            .starts_with("there is no machine file "),
        "{}",
        files[0]
    );
    // Made: it is read.
    let laser = text(SourceKind::Machine, "desk-laser");
    let big = folder.path().join("shop/big.toml");
    fs::write(&big, laser.replace("travel = [600", "travel = [1600")).expect("written");
    let job = JobFiles::load(&panel).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(
        job.own().expect("a machine").machine.travel,
        [1600.0, 400.0, 0.0]
    );
    assert!(matches!(
        job.own().expect("a machine").machine.head,
        HeadKind::Laser(_)
    ));
    assert_eq!(job.sources[1].bytes, fs::read(&big).expect("read"));
    // The copies alone give the same job.
    let again = JobFiles::from_sources(job.sources.clone()).expect("the same job");
    let own = |job: &JobFiles| {
        let own = job.own().expect("a machine");
        (own.machine.clone(), own.post.clone())
    };
    assert_eq!(own(&again), own(&job));
    assert_eq!((again.panel, again.sources), (job.panel, job.sources));
    // Wrong itself: the report names the maker's own file.
    fs::write(&big, "name = 5").expect("written");
    let files = faults(JobFiles::load(&panel));
    assert_eq!(files[0].file(), big.display().to_string());
    // A folder is no file.
    fs::remove_file(&big).expect("removed");
    fs::create_dir(&big).expect("a folder");
    let files = faults(JobFiles::load(&panel));
    assert!(
        files[0].list()[0]
            .message
            .starts_with("there is no machine file "),
        "{}",
        files[0]
    );

    fs::write(&panel, window.replace("\"desk-laser\"", "\"desk-lazer\"")).expect("written");
    let files = faults(JobFiles::load(&panel));
    assert_eq!(
        files[0].list()[0].message,
        "there is no built-in machine `desk-lazer`"
    );
    assert_eq!(
        files[0].list()[0].hint.as_deref(),
        Some(
            "did you mean `desk-laser`? built in: bench-laser, desk-laser, large-router, small-router; \
              or a path that ends in .toml"
        )
    );
}

#[test]
fn a_panel_that_is_not_there_is_told_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = folder.path().join("none.toml");
    match JobFiles::load(&missing) {
        Err(LoadError::Io { path, source }) => {
            assert_eq!(
                (path, source.kind()),
                (missing, std::io::ErrorKind::NotFound)
            );
        }
        other => panic!("{other:?}"),
    }
    assert!(matches!(
        JobFiles::load(folder.path()),
        Err(LoadError::Io { .. })
    ));
    let files = faults(JobFiles::builtin_panel("demoo"));
    assert_eq!(
        files[0].to_string(),
        "error: there is no built-in panel `demoo`\n--> demoo\n = help: did you mean `demo`? \
         built in: demo, hemp-leaf-card, hemp-leaf-outlines, hexagon-card, router-square, three-way-card, \
         three-way-hardwood"
    );
}

#[test]
fn copies_are_five() {
    let all = crate::panel_support::panel("plain-window").sources;
    for at in 0..all.len() {
        let mut four = all.clone();
        let gone = four.remove(at);
        let files = faults(JobFiles::from_sources(four.clone()));
        let said = &files[0].list()[0].message;
        // Whether there is a machine of one's own is for the panel file to say.
        let (told, says) = if SourceKind::OWN_MACHINE.contains(&gone.kind) {
            ("panel.toml", format!("source/{} is missing", gone.name))
        } else {
            (gone.name.as_str(), "but there are 0".to_owned())
        };
        assert_eq!((files.len(), files[0].file()), (1, told));
        assert!(said.ends_with(&says), "{said}");
        four.extend([gone.clone(), gone]);
        let files = faults(JobFiles::from_sources(four));
        assert!(files[0].list()[0].message.ends_with("but there are 2"));
    }
}

#[test]
fn what_is_no_text_is_refused() {
    let say = |bytes: &[u8]| {
        let files = told("plain-window", SourceKind::Panel, bytes);
        (
            files[0].lines()[0],
            files[0].list()[0].message.clone(),
            files[0].to_string(),
        )
    };
    for empty in ["", "\n \r\n\t", "\u{feff}", "\u{feff}\n"] {
        assert_eq!(say(empty.as_bytes()).1, "the file is empty", "{empty:?}");
    }
    // Latin-1: the umlaut on the second line.
    let (line, message, shown) = say(b"# ok\nname = \"\xfcber\"\n");
    assert_eq!(
        (line, message.as_str()),
        (2, "the file is not UTF-8 text: byte 0xfc")
    );
    assert!(shown.contains("panel.toml:2:9"), "{shown}");
    let large = [
        text(SourceKind::Panel, "plain-window"),
        &"#".repeat(1 << 20),
    ]
    .concat();
    assert_eq!(
        say(large.as_bytes()).1,
        "the file is larger than 1048576 bytes"
    );
    // As many bytes as are taken are read.
    let window = text(SourceKind::Panel, "plain-window");
    let most = [window, &"#".repeat((1 << 20) - window.len())].concat();
    assert!(
        JobFiles::from_sources(sources("plain-window", SourceKind::Panel, most.as_bytes())).is_ok()
    );
    // A byte order mark is taken, and moves no place.
    let marked = format!("\u{feff}{}", window.replace("rows = 7", "rows = 0"));
    assert_eq!(say(marked.as_bytes()).0, line_of(window, "rows = 7"));
    let windows = window.replace('\n', "\r\n");
    assert!(
        JobFiles::from_sources(sources(
            "plain-window",
            SourceKind::Panel,
            windows.as_bytes()
        ))
        .is_ok()
    );
    let windows = windows.replace("rows = 7", "rows = 0");
    assert_eq!(say(windows.as_bytes()).0, line_of(window, "rows = 7"));
}

#[test]
fn a_huge_file_is_not_read_into_memory() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("huge.toml");
    File::create(&path)
        .and_then(|file| file.set_len(100_000_000))
        .expect("a sparse file");
    let files = faults(JobFiles::load(&path));
    assert_eq!(
        files[0].list()[0].message,
        "the file is larger than 1048576 bytes"
    );
    // So is one that a panel names.
    let panel = folder.path().join("mine.toml");
    let window = text(SourceKind::Panel, "plain-window");
    fs::write(&panel, window.replace("\"desk-laser\"", "\"huge.toml\"")).expect("written");
    let files = faults(JobFiles::load(&panel));
    assert_eq!(
        files[0].list()[0].message,
        "the file is larger than 1048576 bytes"
    );
}
