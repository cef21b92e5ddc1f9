//! Reports of many faults, and of files that do not go together.
#![allow(clippy::panic)]

use crate::panel_support::{edited, faults, line_of, sources, text, told};
use lapwright::panel::{BUILTIN, Faults, JobFiles, LoadError, SourceKind, builtin};

#[test]
fn a_missing_table_or_key_is_named() {
    let text = text(SourceKind::Panel, "plain-window");
    let without: String = text.split("[cut]").next().expect("a start").to_owned();
    let files = told("plain-window", SourceKind::Panel, without.as_bytes());
    assert_eq!(files[0].list().len(), 1, "{}", files[0]);
    assert_eq!(files[0].list()[0].message, "the table [cut] is missing");

    // Nothing but a name: each missing key and table once, nothing of what would be in them.
    let files = told("plain-window", SourceKind::Panel, b"name = \"x\"\n");
    let said: Vec<&str> = files[0]
        .list()
        .iter()
        .map(|fault| fault.message.as_str())
        .collect();
    assert_eq!(
        said,
        [
            "`machine` is missing at the top of the file",
            "`material` is missing at the top of the file",
            "`stock` is missing at the top of the file",
            "`post_processor` is missing at the top of the file",
            "the table [outline] is missing",
            "the table [ground] is missing",
            "the table [cut] is missing",
        ]
    );
    let without = text.replace("pitch_up = 24", "").replace("width = 8 ", "");
    let files = told("plain-window", SourceKind::Panel, without.as_bytes());
    let said: Vec<_> = files[0]
        .list()
        .iter()
        .map(|f| (&*f.message, f.hint.as_deref()))
        .collect();
    assert_eq!(
        said,
        [
            (
                "`pitch_up` is missing in [ground]",
                Some("add a line such as: pitch_up = 12, or pitch_up = \"1/2 in\"")
            ),
            (
                "`width` is missing in [surround]",
                Some("add a line such as: width = 12, or width = \"1/2 in\"")
            ),
        ]
    );
    // Each stands at the head of its table.
    assert_eq!(
        files[0].lines(),
        [line_of(text, "[ground]"), line_of(text, "[surround]")]
    );
    // Tables given with the other's keys: each key is unknown or missing where it stands.
    let swapped = text
        .replace("[outline]", "[other]")
        .replace("[cut]", "[outline]");
    let files = told(
        "plain-window",
        SourceKind::Panel,
        swapped.replace("[other]", "[cut]").as_bytes(),
    );
    let (unknown, missing): (Vec<&str>, Vec<&str>) = files[0]
        .list()
        .iter()
        .map(|fault| fault.message.as_str())
        .partition(|said| said.starts_with("unknown key"));
    assert_eq!((unknown.len(), missing.len()), (7, 5), "{}", files[0]);
}

#[test]
fn all_faults_of_a_file_stand_in_one_report() {
    let edits = [
        ("name = ", "nom = "),
        ("face = 1.5", "face = \"1.5\""),
        ("pitch_up = 24", "pitch_up = -24"),
        ("rows = 7", "rows = 7.5"),
        ("top = { clear = 9 }", "top = \"middle\""),
        ("width = 8", "widht = 8"),
        ("scale_model = true", "scale_model = 1"),
        ("clearance = 0.05", "clearance = 50"),
    ];
    let said = edited("plain-window", SourceKind::Panel, &edits);
    let window = text(SourceKind::Panel, "plain-window");
    let lines: Vec<usize> = said.iter().map(|(line, _)| *line).collect();
    let right: Vec<usize> = edits
        .iter()
        .map(|(from, _)| line_of(window, from))
        .collect();
    assert_eq!(lines, right, "{said:#?}");
}

#[test]
fn the_report_shows_line_caret_and_advice() {
    let bad = text(SourceKind::Panel, "plain-window")
        .replace("pitch_up = 24 ", "pitch_up = \"24\" ")
        .replace("width = 8", "widht = 8");
    let files = told("plain-window", SourceKind::Panel, bad.as_bytes());
    let right = "\
error: `pitch_up`: the unit is missing: write 24 or \"24 mm\"
  --> panel.toml:13:12
   |
13 | pitch_up = \"24\"                         # mm between level bars
   |            ^^^^

error: unknown key `widht` in [surround]
  --> panel.toml:24:1
   |
24 | widht = 8                             # mm: face of the mitred frame
   | ^^^^^
   |
   = help: did you mean `width`?

panel.toml: 2 faults";
    assert_eq!(files[0].to_string(), right);
    // What a file calls a key reaches no terminal as a command.
    let hostile =
        text(SourceKind::Panel, "plain-window").replace("[cut]", "[cut]\n\"\\u001b[2J\" = 1");
    let shown = told("plain-window", SourceKind::Panel, hostile.as_bytes())[0].to_string();
    assert!(
        shown.contains("unknown key") && !shown.contains('\u{1b}'),
        "{shown}"
    );
}

#[test]
fn faults_of_all_five_files_come_together() {
    let mut files = crate::panel_support::panel("check").sources;
    let mut lines = Vec::new();
    for file in &mut files {
        let text = String::from_utf8(file.bytes.clone()).expect("text");
        lines.push(line_of(&text, "name ="));
        file.bytes = text.replacen("name =", "nmae =", 1).into_bytes();
    }
    let files = faults(JobFiles::from_sources(files));
    let names: Vec<&str> = files.iter().map(Faults::file).collect();
    assert_eq!(
        names,
        [
            "panel.toml",
            "machine.toml",
            "material.toml",
            "stock.toml",
            "post-processor.toml"
        ]
    );
    for (file, line) in files.iter().zip(lines) {
        assert_eq!(file.lines(), [line], "{file}");
        assert_eq!(file.list()[0].hint.as_deref(), Some("did you mean `name`?"));
    }
    let report = LoadError::Faults(files).to_string();
    assert_eq!(report.matches("unknown key `nmae`").count(), 5);
}

/// Lines of a file that hold `key = value`: number from 1, key, and the text around the value.
fn key_lines(text: &str) -> impl Iterator<Item = (usize, &str, &str)> {
    text.lines().enumerate().filter_map(|(index, line)| {
        let (key, rest) = line.split_once(" = ")?;
        let simple = key.chars().all(|c| c.is_ascii_lowercase() || c == '_');
        simple.then_some((index + 1, key, rest))
    })
}

/// The same file with each text of several lines written on one, so that a key is a line.
fn on_one_line(text: &str) -> String {
    let list = "from_memory = [\n";
    let text = &match text.split_once(list) {
        Some((head, rest)) => {
            let (list, tail) = rest.split_once("\n]\n").expect("the end of the list");
            format!("{head}from_memory = [{}]\n{tail}", list.replace('\n', ""))
        }
        None => text.to_owned(),
    };
    let mut parts = text.split("\"\"\"");
    let mut out = parts.next().unwrap_or_default().to_owned();
    let mut inside = true;
    for part in parts {
        if inside {
            let body = part.strip_prefix('\n').unwrap_or(part);
            assert!(!body.contains(['"', '\\']), "a plain text: {body}");
            out.push_str(&format!("\"{}\"", body.replace('\n', "\\n")));
        } else {
            out.push_str(part);
        }
        inside = !inside;
    }
    out
}

/// Each built-in file with the panel that uses it.
fn in_use() -> Vec<(&'static str, SourceKind, String)> {
    let mut list = Vec::new();
    for panel in BUILTIN.iter().filter(|file| file.kind == SourceKind::Panel) {
        for source in crate::panel_support::panel(panel.name).sources {
            let text = String::from_utf8(source.bytes).expect("text");
            list.push((panel.name, source.kind, on_one_line(&text)));
        }
    }
    // Sticks are measured by whoever has milled some: no built-in file has them.
    let hardwood = builtin(SourceKind::Material, "hardwood-4").expect("a material");
    let milled = "\n[[milled]]\nface = [4.0, 4.02, 3.98]\ndepth = 12\n";
    list.push((
        "check",
        SourceKind::Material,
        on_one_line(hardwood.text) + milled,
    ));
    list
}

#[test]
fn a_wrong_value_of_any_key_is_reported_on_its_line() {
    let mut tried = 0;
    for (panel, kind, text) in in_use() {
        for (number, key, _) in key_lines(&text) {
            // A date is right nowhere.
            let bad: Vec<String> = text
                .lines()
                .enumerate()
                .map(|(at, line)| {
                    if at + 1 == number {
                        format!("{key} = 1979-05-27")
                    } else {
                        line.to_owned()
                    }
                })
                .collect();
            let files = told(panel, kind, bad.join("\n").as_bytes());
            assert_eq!(files[0].file(), kind.file_name());
            assert_eq!(files[0].lines(), [number], "{panel} {key}: {}", files[0]);
            let said = &files[0].list()[0].message;
            assert!(said.starts_with(&format!("`{key}` must be ")), "{said}");
            tried += 1;
        }
    }
    assert!(tried > 200, "{tried} keys tried");
}

#[test]
fn an_unknown_key_in_any_place_is_reported_on_its_line() {
    for (panel, kind, text) in in_use() {
        for (number, key, rest) in key_lines(&text) {
            let bad: Vec<String> = text
                .lines()
                .enumerate()
                .map(|(at, line)| {
                    if at + 1 == number {
                        format!("{key} = {rest}\nquite_unheard_of = 1")
                    } else {
                        line.to_owned()
                    }
                })
                .collect();
            let files = told(panel, kind, bad.join("\n").as_bytes());
            assert_eq!(
                files[0].lines(),
                [number + 1],
                "{panel} {key}: {}",
                files[0]
            );
            assert!(
                files[0].list()[0]
                    .message
                    .starts_with("unknown key `quite_unheard_of` ")
            );
        }
    }
}

#[test]
fn a_key_left_out_is_missed_by_name_or_has_a_default() {
    let mut missed = 0;
    for (panel, kind, text) in in_use() {
        for (number, key, _) in key_lines(&text) {
            let bad: Vec<&str> = text
                .lines()
                .enumerate()
                .filter_map(|(at, line)| (at + 1 != number).then_some(line))
                .collect();
            match JobFiles::from_sources(sources(panel, kind, bad.join("\n").as_bytes())) {
                Ok(_) => {}
                Err(LoadError::Faults(files)) => {
                    let said = &files[0].list()[0].message;
                    // One that has a default is missed by the list of values from memory alone.
                    let listed = said.ends_with("is not a key of this file that has a value");
                    if listed && said.contains(&format!("{key}`")) {
                        continue;
                    }
                    assert!(said.starts_with(&format!("`{key}` is missing ")), "{said}");
                    missed += 1;
                }
                Err(error) => panic!("{error}"),
            }
        }
    }
    assert!(missed > 100, "{missed} keys missed");
}

#[test]
fn slips_of_form_get_their_line_and_caret() {
    for (from, to) in [
        ("pitch = 65", "pitch = "),
        ("pitch = 65", "pitch 65"),
        ("pitch = 65", "pitch = 65 mm"),
        ("pitch = 65", "pitch = \"65 mm"),
        ("[ground]", "[ground"),
        ("name = \"check panel\"", "name = check panel"),
        ("depth = 12", "face = 12"),
    ] {
        let check = text(SourceKind::Panel, "check");
        let files = told(
            "check",
            SourceKind::Panel,
            check.replacen(from, to, 1).as_bytes(),
        );
        // Never a report of what is missing because the file could not be taken apart.
        assert_eq!(
            files[0].lines(),
            [line_of(check, from)],
            "{to}: {}",
            files[0]
        );
    }
    // A comma for the decimal point is told for what it is.
    for (number, right) in [("65,5", Some("65.5")), ("65,", None), ("65, 5", None)] {
        let edited = text(SourceKind::Panel, "check").replacen(
            "pitch = 65",
            &format!("pitch = {number}"),
            1,
        );
        let files = told("check", SourceKind::Panel, edited.as_bytes());
        assert_eq!(
            files[0].list()[0].hint,
            right.map(|right| format!("a decimal point, not a comma: {right}")),
            "{number}"
        );
    }
    // Two slips, one report; and the other files are looked at all the same.
    let check = text(SourceKind::Panel, "check")
        .replace("pitch = 65", "pitch = 6 5")
        .replace("[cut]", "[cut");
    let mut all = sources("check", SourceKind::Panel, check.as_bytes());
    for source in all
        .iter_mut()
        .filter(|source| source.kind == SourceKind::Stock)
    {
        source.bytes = b"name = 1".to_vec();
    }
    let files = faults(JobFiles::from_sources(all));
    assert_eq!(
        files[0].lines(),
        [line_of(&check, "pitch = 6"), line_of(&check, "[cut")]
    );
    assert_eq!(files[1].file(), "stock.toml");
}

#[test]
fn no_unknown_material_goes_under_a_beam() {
    let under_a_beam = |material: &str| {
        let source = builtin(SourceKind::Material, material).expect("a material");
        let files = told("plain-window", SourceKind::Material, source.text.as_bytes());
        let [file] = files.as_slice() else {
            panic!("faults in one file: {files:?}")
        };
        let line = line_of(text(SourceKind::Panel, "plain-window"), "material = ");
        assert_eq!((file.file(), file.lines()), ("panel.toml", vec![line]));
        let fault = &file.list()[0];
        (
            fault.message.clone(),
            fault.hint.clone().unwrap_or_default(),
        )
    };
    assert_eq!(
        under_a_beam("hardwood-4"),
        (
            "\"hardwood 4 mm\" must not be lasered: not cleared: dense wood chars and can catch fire, and \
             no kerf and power are known for it"
                .to_owned(),
            "cut it by other means, or choose a material that is cleared".to_owned()
        )
    );
    assert_eq!(
        under_a_beam("vinyl-sheet"),
        (
            "\"vinyl sheet\" must not be lasered: holds chlorine".to_owned(),
            "cut it by other means, or choose a material that is cleared".to_owned()
        )
    );
    // A file that says nothing of lasers clears nothing.
    let hardwood = text(SourceKind::Material, "hardwood-4").lines();
    let silent = hardwood.filter(|line| !line.starts_with("laser_refused"));
    let silent = silent.collect::<Vec<_>>().join("\n");
    let silent = silent.replacen("\"laser_refused\",", "", 1);
    let files = told("plain-window", SourceKind::Material, silent.as_bytes());
    let fault = &files[0].list()[0];
    assert_eq!(
        fault.message,
        "\"hardwood 4 mm\" is not cleared for a laser"
    );
    assert_eq!(
        fault.hint.as_deref(),
        Some("no unknown material under a beam: choose one whose file has [laser]")
    );
    // A file cannot say both.
    let both = text(SourceKind::Material, "card-1.5")
        .replace("[laser]", "laser_refused = \"holds chlorine\"\n[laser]");
    let files = told("plain-window", SourceKind::Material, both.as_bytes());
    assert_eq!(files[0].file(), "material.toml");
    assert!(
        files[0].list()[0]
            .message
            .contains("both refuses a laser and says how")
    );
}

#[test]
fn one_head_throughout() {
    // A router in a laser's job: post-processor and material both say so, at the panel's own keys.
    let router = text(SourceKind::Machine, "small-router");
    let files = told("plain-window", SourceKind::Machine, router.as_bytes());
    let said: Vec<&str> = files[0]
        .list()
        .iter()
        .map(|fault| fault.message.as_str())
        .collect();
    assert_eq!(
        said,
        [
            "\"card 1.5 mm\" has no [router] values",
            "\"laser, millimetres\" drives a laser, but the machine is a router",
        ]
    );
    let window = text(SourceKind::Panel, "plain-window");
    assert_eq!(
        files[0].lines(),
        [
            line_of(window, "material = "),
            line_of(window, "post_processor = ")
        ]
    );
    // A laser in an edge-up job.
    let laser = text(SourceKind::Machine, "desk-laser");
    let files = told("check", SourceKind::Machine, laser.as_bytes());
    let check = text(SourceKind::Panel, "check");
    let lines = ["material = ", "post_processor = ", "method = "].map(|key| line_of(check, key));
    assert_eq!(files[0].lines(), lines, "{}", files[0]);

    let both = format!("{router}\n[laser]\nfull_power_word = 1000\n");
    let files = told("check", SourceKind::Machine, both.as_bytes());
    assert_eq!(
        files[0].list()[0].message,
        "a machine has [laser] or [router], not both"
    );
    let neither = router.split("[router]").next().expect("a start");
    let files = told("check", SourceKind::Machine, neither.as_bytes());
    let said: Vec<&str> = files[0]
        .list()
        .iter()
        .map(|fault| fault.message.as_str())
        .collect();
    assert_eq!(said, ["the file says neither [laser] nor [router]"]);
}

#[test]
fn later_stages_point_into_the_panel_file() {
    let job = crate::panel_support::panel("check");
    let check = text(SourceKind::Panel, "check");
    for (path, line) in [
        ("ground.pitch", "pitch = 65"),
        ("ground.ranks.upright", "ranks = "),
        ("outline.left", "left = "),
        // Left out of the file: the table, or the nearest one there is.
        ("cut.relief", "[cut]"),
        ("sticks.ends.rising", "ends = "),
        ("quantity", "# The check panel"),
    ] {
        let hint = Some("write more".to_owned());
        let faults = job.panel_text.fault(path, "too small", hint);
        assert_eq!(faults.lines(), [line_of(check, line)], "{path}");
        assert!(
            faults.to_string().contains("error: too small\n"),
            "{faults}"
        );
        assert!(faults.to_string().ends_with("help: write more"), "{faults}");
    }
}
