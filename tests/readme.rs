//! README.md and the guide are true: their commands and files work in the order in which they stand, their pictures are
//! what the program draws, and their tables hold the keys, checks and files that there are.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use lapwright::job::{Made, coupon_plan, plan};
use lapwright::panel::{
    BUILTIN, JobFiles, LoadError, SourceFile, SourceKind, builtin, new_layouts, new_panel,
};
use lapwright::safety::CheckId;
use lapwright::setup::CouponKind;
use tempfile::TempDir;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// README.md, and the pages of the guide in the order in which README.md lists them: path and text.
fn pages() -> Vec<(PathBuf, String)> {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let listed = readme.split("](src/guide/").skip(1);
    let mut files: Vec<PathBuf> = Vec::new();
    for page in listed.filter_map(|rest| rest.split(')').next()) {
        let file = Path::new("src/guide").join(page);
        if !files.contains(&file) {
            files.push(file);
        }
    }
    let text = |file: &PathBuf| fs::read_to_string(root().join(file)).unwrap();
    let guide: Vec<(PathBuf, String)> = files.iter().map(|f| (f.clone(), text(f))).collect();
    [("README.md".into(), readme)]
        .into_iter()
        .chain(guide)
        .collect()
}

/// All of it in one.
fn readme() -> String {
    let texts: Vec<String> = pages().into_iter().map(|(_, text)| text).collect();
    texts.join("\n")
}

/// A fenced block: its language and its lines.
struct Block {
    language: String,
    lines: Vec<String>,
}

fn blocks(text: &str) -> Vec<Block> {
    let mut blocks = Vec::new();
    let mut open: Option<Block> = None;
    for line in text.lines() {
        match (line.strip_prefix("```"), &mut open) {
            (Some(language), None) => {
                open = Some(Block {
                    language: language.to_owned(),
                    lines: Vec::new(),
                });
            }
            (Some(""), Some(_)) => blocks.extend(open.take()),
            (_, Some(block)) => block.lines.push(line.to_owned()),
            (None, None) => {}
        }
    }
    assert!(open.is_none(), "a fence is left open");
    blocks
}

/// Writes a block to the file that its first line names.
fn save(block: &Block, folder: &Path) -> PathBuf {
    let name = block.lines.first().and_then(|l| l.strip_prefix("# "));
    let name = name.unwrap_or_else(|| panic!("a file without a name: {:?}", block.lines));
    let path = folder.join(name);
    fs::write(&path, block.lines.join("\n") + "\n").unwrap();
    path
}

fn lapwright(words: &[&str], folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lapwright"))
        .args(words)
        .current_dir(folder)
        .output()
        .unwrap()
}

/// Does what a reader of README.md does: every file saved, every command run, in order. What builds and
/// tests the program cannot be run from one of its own tests; `tests/run` must at least be there.
fn follow(folder: &Path) -> BTreeSet<String> {
    let mut verbs = BTreeSet::new();
    for block in blocks(&readme()) {
        match block.language.as_str() {
            "toml" => {
                save(&block, folder);
            }
            "sh" => {
                for line in &block.lines {
                    let words: Vec<&str> = line.split_whitespace().collect();
                    let (call, file) = match words.as_slice() {
                        ["cargo", "run", "--release", "--", call @ ..] => (call, None),
                        ["lapwright", call @ .., ">", file] => (call, Some(*file)),
                        ["lapwright", call @ ..] => (call, None),
                        ["tests/run"] => {
                            assert!(root().join("tests/run").is_file(), "tests/run is there");
                            continue;
                        }
                        _ => panic!("`{line}` is no command that this test knows how to run"),
                    };
                    let out = lapwright(call, folder);
                    let complaint = String::from_utf8_lossy(&out.stderr);
                    assert_eq!(out.status.code(), Some(0), "{line}: {complaint}");
                    if let Some(file) = file {
                        fs::write(folder.join(file), &out.stdout).unwrap();
                    }
                    verbs.extend(call.first().map(|verb| (*verb).to_owned()));
                }
            }
            other => panic!("a block in {other:?} is neither commands nor a file"),
        }
    }
    verbs
}

#[test]
fn a_reader_who_follows_it_gets_what_it_says() {
    let folder = TempDir::new().unwrap();
    let verbs = follow(folder.path());
    for verb in [
        "demo",
        "new",
        "fit",
        "check",
        "make",
        "prove",
        "coupon",
        "read-coupon",
        "show",
    ] {
        assert!(verbs.contains(verb), "no block runs `{verb}`: {verbs:?}");
    }
}

/// Files of a job, by path in its folder.
fn made(files: JobFiles) -> std::collections::BTreeMap<String, Vec<u8>> {
    let plan = plan(files, &mut |_| {}).unwrap();
    Made::of(&plan, &mut |_| {}).unwrap().files
}

fn coupon(files: JobFiles, kind: CouponKind) -> std::collections::BTreeMap<String, Vec<u8>> {
    let plan = coupon_plan(files, kind, &mut |_| {}).unwrap();
    Made::of(&plan, &mut |_| {}).unwrap().files
}

#[test]
fn its_pictures_are_what_the_program_draws() {
    let text = readme();
    let folder = TempDir::new().unwrap();
    let hemp_leaf = made(crate::panel_support::panel("hemp-leaf-card"));
    let saved: Vec<PathBuf> = blocks(&text)
        .iter()
        .filter(|b| b.language == "toml")
        .map(|b| save(b, folder.path()))
        .collect();
    let demo = made(crate::panel_support::panel("demo"));
    let first = made(JobFiles::load(&saved[0]).unwrap());
    let fit = crate::panel_support::panel("demo");
    let fit = coupon(fit, CouponKind::Fit);
    let drawn = [
        ("hemp-leaf-panel.svg", &hemp_leaf["panel.svg"]),
        ("demo-panel.svg", &demo["panel.svg"]),
        ("demo-sheet.svg", &demo["pictures/demo-window-sheet-01.svg"]),
        ("first-panel.svg", &first["panel.svg"]),
        ("fit-coupon.svg", &fit["coupon.svg"]),
    ];
    let shown: Vec<&str> = text
        .split("<img src=\"")
        .skip(1)
        .filter_map(|rest| {
            rest.trim_start_matches("../")
                .strip_prefix("fixtures/pictures/")
        })
        .filter_map(|rest| rest.split('"').next())
        .collect();
    assert_eq!(shown, drawn.map(|(name, _)| name));
    for (name, bytes) in drawn {
        let kept = fs::read(root().join("fixtures/pictures").join(name)).unwrap();
        assert!(
            kept == *bytes,
            "fixtures/pictures/{name} is not what the program draws now: look at the new picture, then \
             copy it from the job's folder"
        );
    }
}

/// What stands between backticks in the first cells of the tables below a heading.
fn first_cells(text: &str, heading: &str) -> Vec<String> {
    let below = text.split(&format!("\n{heading}\n")).nth(1);
    let below = below.unwrap_or_else(|| panic!("no heading `{heading}`"));
    below
        .lines()
        .take_while(|line| !line.starts_with('#'))
        .filter_map(|line| line.strip_prefix("| "))
        .filter_map(|line| line.split('|').next())
        .flat_map(|cell| {
            let between: Vec<String> = cell
                .split('`')
                .skip(1)
                .step_by(2)
                .map(str::to_owned)
                .collect();
            between
        })
        .collect()
}

fn demo_text() -> &'static str {
    builtin(SourceKind::Panel, "demo").unwrap().text
}

#[test]
fn it_tells_every_file_of_a_folder() {
    let told = first_cells(&readme(), "## What a job folder holds");
    let jobs = [
        "check",
        "demo",
        "hemp-leaf-card",
        "hemp-leaf-outlines",
        "hexagon-card",
        "router-square",
    ]
    .map(|p| made(crate::panel_support::panel(p)));
    let coupons = CouponKind::ALL.map(|kind| {
        let demo = crate::panel_support::panel("demo");
        coupon(demo, kind)
    });
    let kits = format!("kits = {{ spares = 1 }}\n{}", demo_text());
    let kits = made(JobFiles::from_text("kits.toml", kits.as_bytes(), None).unwrap());
    let jobs = jobs.iter().chain(&coupons).chain([&kits]);
    let files: BTreeSet<&String> = jobs.flat_map(|job| job.keys()).collect();
    let fits = |told: &str, file: &str| match told.split_once('*') {
        Some((head, tail)) => file.starts_with(head) && file.ends_with(tail),
        None => told == file,
    };
    for file in &files {
        assert!(told.iter().any(|t| fits(t, file)), "README lacks {file}");
    }
    for t in &told {
        assert!(files.iter().any(|file| fits(t, file)), "no job has {t}");
    }
}

#[test]
fn it_tells_every_limit() {
    let text = readme();
    let (_, rest) = text.split_once("\n## Limits\n").expect("a section");
    let (section, _) = rest.split_once("\n# ").expect("another page");
    let rows = section.lines().filter(|line| line.starts_with("| "));
    let told: Vec<&str> = rows.skip(1).collect();
    let limits = lapwright::limits::table();
    let want: Vec<String> = limits
        .iter()
        .map(|(what, most)| format!("| {what} | {most} |"))
        .collect();
    assert_eq!(told, want);
}

#[test]
fn it_tells_every_check() {
    let told: Vec<String> = first_cells(&readme(), "# Checks");
    let mut sorted = told.clone();
    sorted.sort();
    let all: Vec<&str> = CheckId::ALL.iter().map(|id| id.word()).collect();
    assert_eq!(sorted, all, "each check once");
}

const KINDS: [(SourceKind, &str); 6] = [
    (SourceKind::Panel, "## Panel file"),
    (SourceKind::Machine, "## Machine file"),
    (SourceKind::Material, "## Material file"),
    (SourceKind::Stock, "## Stock file"),
    (SourceKind::Post, "## Post-processor file"),
    (SourceKind::Pattern, "## Pattern file"),
];

/// Dotted paths of all keys that hold no table of their own.
fn keys(table: &toml::Table, prefix: &str, found: &mut BTreeSet<String>) {
    for (key, value) in table {
        let path = format!("{prefix}{key}");
        let tables = value.as_array().into_iter().flatten();
        let tables: Vec<&toml::Table> = tables
            .filter_map(toml::Value::as_table)
            .chain(value.as_table())
            .collect();
        if tables.is_empty() {
            found.insert(path);
        } else {
            for table in tables {
                keys(table, &format!("{path}."), found);
            }
        }
    }
}

#[test]
fn it_tells_every_key_of_the_files_that_the_program_carries() {
    let text = readme();
    for (kind, heading) in KINDS {
        let told = first_cells(&text, heading);
        let carried = BUILTIN.iter().filter(|f| f.kind == kind).map(|f| f.text);
        let layouts = new_layouts();
        let started = layouts.iter().filter_map(|layout| new_panel(layout));
        let started = started.filter(|_| kind == SourceKind::Panel);
        let mut found = BTreeSet::new();
        for file in carried.chain(started) {
            keys(&file.parse().unwrap(), "", &mut found);
        }
        assert!(!found.is_empty(), "{heading}: keys were found");
        for key in found {
            // A small table in a value, such as `left = { clear = 9 }`, is told with its key.
            let above = key.rsplit_once('.').map_or("", |(above, _)| above);
            let known = told.iter().any(|t| *t == key || t == above);
            assert!(known, "README, {heading}, lacks `{key}`");
        }
    }
}

/// Whether a file of a kind takes a key: whatever its value, the key is not called unknown.
fn takes(kind: SourceKind, key: &str) -> bool {
    // A key of one of several tables stands in a table of its own kind.
    let tables = [
        "blank",
        "outline.side",
        "ground.family",
        "infill.feature",
        "milled",
        "rule.piece",
        "rule.hinge",
        "rule",
    ];
    let inner = |table: &str| {
        Some((
            table.to_owned(),
            key.strip_prefix(table)?.strip_prefix('.')?,
        ))
    };
    let text = match tables.iter().find_map(|table| inner(table)) {
        Some((table, key)) if table == "ground.family" => {
            format!("[ground]\nlayout = \"free\"\n[[ground.family]]\n{key} = 1\n")
        }
        Some((table, key)) if table.starts_with("rule.") => {
            format!("[[rule]]\n[[{table}]]\n{key} = 1\n")
        }
        Some((table, key)) => format!("[[{table}]]\n{key} = 1\n"),
        // Corners are counted in steps only where there are corners.
        None if key.starts_with("outline.in_steps") => {
            format!("{key} = 1\noutline.side = [{{ x = 1 }}]\n")
        }
        // The line of dashes has sizes only where one is cut.
        None if key.starts_with("infill.fold_") => {
            format!("infill.fold = \"perforated\"\n{key} = 1\n")
        }
        None => format!("{key} = 1\n"),
    };
    let panel = match kind {
        SourceKind::Pattern => "hemp-leaf-card",
        _ => "demo",
    };
    let mut sources = crate::panel_support::panel(panel).sources;
    for SourceFile { bytes, .. } in sources.iter_mut().filter(|s| s.kind == kind) {
        *bytes = text.clone().into_bytes();
    }
    match JobFiles::from_sources(sources) {
        Ok(_) => panic!("a file of one key is no {}", kind.word()),
        Err(LoadError::Faults(files)) => !files
            .iter()
            .flat_map(|file| file.list())
            .any(|fault| fault.message.contains("unknown key")),
        Err(error) => panic!("{error}"),
    }
}

#[test]
fn it_tells_no_key_that_there_is_not() {
    let text = readme();
    for (kind, heading) in KINDS {
        for key in first_cells(&text, heading) {
            assert!(takes(kind, &key), "{heading}: there is no `{key}`");
            assert!(!takes(kind, &format!("{key}x")), "`{key}x` is unknown");
        }
    }
}

#[test]
fn it_names_every_built_in_file_and_layout() {
    let text = readme();
    let wanted = BUILTIN.iter().filter(|f| f.kind != SourceKind::Panel);
    for name in wanted.map(|f| f.name).chain(new_layouts()) {
        assert!(text.contains(&format!("`{name}`")), "README lacks `{name}`");
    }
}

#[test]
fn its_links_lead_to_files() {
    let mut count = 0;
    for (page, text) in pages() {
        let folder = page.parent().unwrap();
        for target in text
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
        {
            count += 1;
            let (file, anchor) = target.split_once('#').unwrap_or((target, ""));
            let to = match file {
                "" => page.clone(),
                file => folder.join(file),
            };
            let there = fs::read_to_string(root().join(&to));
            let there = there.unwrap_or_else(|e| panic!("{}: {target}: {e}", page.display()));
            let heading = |line: &str| {
                let title = line.trim_start_matches('#').trim();
                line.starts_with('#') && title.to_lowercase().replace(' ', "-") == anchor
            };
            let found = anchor.is_empty() || there.lines().any(heading);
            assert!(found, "{}: no heading for {target}", page.display());
        }
    }
    assert!(count > 0, "links were found");
}

#[test]
fn developers_are_sent_to_files_that_are_there() {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let tops = ["src/", "tests/", "post-processors/", "fixtures/", ".ci/"];
    let mut count = 0;
    for path in text.split('`').skip(1).step_by(2) {
        let named = tops.iter().any(|top| path.starts_with(top));
        if named && !path.contains(['*', ' ']) && !path.contains("NAME") {
            count += 1;
            assert!(root().join(path).exists(), "DEVELOPERS.md names {path}");
        }
    }
    assert!(count > 20, "paths were found: {count}");
    for entry in fs::read_dir(root().join("src")).unwrap() {
        let entry = entry.unwrap();
        if entry.file_type().unwrap().is_dir() {
            let module = format!("`src/{}/`", entry.file_name().to_string_lossy());
            assert!(text.contains(&module), "DEVELOPERS.md lacks {module}");
        }
    }
}

#[test]
fn developers_are_told_why_each_crate_is_there() {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let told = first_cells(&text, "## Dependencies");
    let manifest: toml::Table = fs::read_to_string(root().join("Cargo.toml"))
        .unwrap()
        .parse()
        .unwrap();
    let used: BTreeSet<String> = ["dependencies", "dev-dependencies"]
        .iter()
        .flat_map(|key| manifest[*key].as_table().unwrap().keys().cloned())
        .collect();
    assert_eq!(told.into_iter().collect::<BTreeSet<_>>(), used);
}
