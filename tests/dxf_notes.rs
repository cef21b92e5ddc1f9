//! `dxf/notes.txt` and the DXF files that it tells of: which there are, and that its figures are those of
//! the plan.
#![allow(clippy::panic, reason = "tests")]

use std::collections::{BTreeMap, BTreeSet};

use lapwright::geom::Contour;
use lapwright::job::{Made, plan};
use lapwright::panel::{JobFiles, SourceKind};
use lapwright::plan::Plan;
use lapwright::setup::{PieceId, PlacementId, SheetId};

/// A panel with further keys in `[cut]`.
fn job(panel: &str, keys: &str) -> (Plan, Made) {
    let mut sources = crate::panel_support::panel(panel).sources;
    for source in &mut sources {
        if source.kind == SourceKind::Panel {
            let text = String::from_utf8(source.bytes.clone()).expect("text");
            assert!(text.contains("[cut]\n"), "{panel} has a table of cuts");
            let text = text.replacen("[cut]\n", &format!("[cut]\n{keys}\n"), 1);
            source.bytes = text
                .replacen("name = \"", "name = \"K\u{fc}che ", 1)
                .into_bytes();
        }
    }
    let plan = plan(
        JobFiles::from_sources(sources).expect("sound files"),
        &mut |_| (),
    );
    let plan = plan.expect("a sound panel");
    let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
    (plan, made)
}

fn drawings(made: &Made) -> BTreeSet<&str> {
    let files = made.files.keys().map(String::as_str);
    files.filter(|f| f.ends_with(".dxf")).collect()
}

fn notes(made: &Made) -> String {
    String::from_utf8(made.files["dxf/notes.txt"].clone()).expect("UTF-8")
}

#[test]
fn the_panel_file_chooses_the_files() {
    for (keys, sheets, pieces, old) in [
        ("", true, false, "no"),
        ("dxf_version = \"R12\"", true, false, "only"),
        (
            "dxf_version = \"R12\"\ndxf_layers = \"labels\"",
            true,
            false,
            "only",
        ),
        (
            "dxf_version = \"R12\"\ndxf_layers = \"cuts\"",
            true,
            false,
            "only cuts",
        ),
        (
            "dxf_version = \"both\"\ndxf_files = \"both\"",
            true,
            true,
            "too",
        ),
        (
            "dxf_files = \"piece\"\ndxf = \"compensated\"",
            false,
            true,
            "no",
        ),
        ("dxf_files = \"sheet\"\ndxf = \"drawn\"", true, false, "no"),
    ] {
        for panel in ["plain-window", "router-square"] {
            let (plan, made) = job(panel, keys);
            let layout = &plan.flat().expect("cut flat").layout;
            let mut stems = Vec::new();
            if sheets {
                stems.extend(
                    layout
                        .sheets
                        .iter()
                        .map(|s| format!("{}-sheet-{:02}", layout.job, s.number)),
                );
            }
            if pieces {
                stems.extend(
                    layout
                        .pieces
                        .iter()
                        .map(|p| format!("{}-piece-{}", layout.job, p.class)),
                );
            }
            let compensated = if panel == "plain-window" {
                "kerf"
            } else {
                "tool"
            };
            let compensated = format!("{compensated}-compensated");
            let sizes = match keys {
                _ if keys.contains("dxf = \"drawn\"") => vec!["drawn-size"],
                _ if keys.contains("dxf = \"compensated\"") => vec![compensated.as_str()],
                _ => vec!["drawn-size", compensated.as_str()],
            };
            let releases = match old {
                "no" => vec![""],
                "only" => vec!["-mm-r12", "-never-cut-mm-r12"],
                "only cuts" => vec!["-mm-r12"],
                _ => vec!["", "-mm-r12", "-never-cut-mm-r12"],
            };
            let mut wanted = BTreeSet::new();
            for stem in &stems {
                for size in &sizes {
                    for release in &releases {
                        wanted.insert(format!("dxf/{stem}-{size}{release}.dxf"));
                    }
                }
            }
            let wanted: BTreeSet<&str> = wanted.iter().map(String::as_str).collect();
            assert_eq!(drawings(&made), wanted, "{panel}: {keys}");
            for path in wanted {
                // Proven, listed with its digest, and told of.
                let check = made
                    .checks
                    .iter()
                    .find(|c| c.id == lapwright::safety::CheckId::Replay && c.place == path);
                assert!(check.is_some_and(|c| c.value == 0.0), "{path} is proven");
                let listed = format!("\"path\": \"{path}\"");
                let summary = String::from_utf8_lossy(made.summary()).into_owned();
                assert!(summary.contains(&listed), "job.json lists {path}");
                assert!(notes(&made).contains(path), "notes tell of {path}");
            }
        }
    }
}

/// What the notes say below a file's name: word and value.
fn told(notes: &str) -> BTreeMap<&str, BTreeMap<&str, &str>> {
    let mut files: BTreeMap<&str, BTreeMap<&str, &str>> = BTreeMap::new();
    let mut file = None;
    for line in notes.lines() {
        let text = line.trim();
        if text.starts_with("dxf/") {
            file = Some(text);
        } else if !line.starts_with("    ") {
            file = None;
        } else if let (Some(file), Some((word, value))) = (file, text.split_once("  ")) {
            files.entry(file).or_default().insert(word, value.trim());
        }
    }
    files
}

/// Length along lines and arcs: chord c with bulge b is an arc of sweep 4 atan b and radius
/// c (1 + b^2) / 4b (DXF reference, group 42).
fn length(contour: &Contour) -> f64 {
    let n = contour.vertices.len();
    let count = if contour.closed { n } else { n - 1 };
    let one = |i: usize| {
        let (a, b) = (contour.vertices[i], contour.vertices[(i + 1) % n]);
        let chord = (b.at.x - a.at.x).hypot(b.at.y - a.at.y);
        if a.bulge == 0.0 {
            return chord;
        }
        let bulge = a.bulge.abs();
        4.0 * bulge.atan() * chord * (1.0 + bulge * bulge) / (4.0 * bulge)
    };
    (0..count).map(one).sum()
}

#[test]
fn figures_are_those_of_the_contours() {
    for panel in ["plain-window", "router-square", "three-way-card"] {
        let (plan, made) = job(panel, "dxf_version = \"both\"\ndxf_files = \"both\"");
        let flat = plan.flat().expect("cut flat");
        let text = notes(&made);
        let told = told(&text);
        assert_eq!(told.len(), drawings(&made).len(), "{panel}: {text}");
        let style = &plan.files.own().expect("a machine").post.dxf;
        let mut of_pieces = 0;
        for (path, said) in &told {
            let drawn = path.contains("drawn-size");
            let (before, job) = ("dxf/", format!("{}-", flat.layout.job));
            let stem = path.strip_prefix(before).expect("a path");
            let stem = stem.strip_prefix(&job).expect("the job");
            if stem.contains("-never-cut") {
                let cut = format!("{job}{}", stem.replace("-never-cut", ""));
                assert_eq!(said["cut"], format!("nothing: this belongs to {cut}"));
                assert!(told.contains_key(format!("dxf/{cut}").as_str()), "{path}");
                continue;
            }
            // Which placements of which sheet are shown.
            let (sheet, shown): (SheetId, Vec<PlacementId>) = match stem.strip_prefix("sheet-") {
                Some(rest) => {
                    let number: usize = rest[..2].parse().expect("a number");
                    let mut sheets = flat.layout.sheets.entries();
                    let (own, sheet) = sheets.find(|(_, s)| s.number == number).expect("a sheet");
                    let to_cut = match sheet.loads() {
                        1 => "once".to_owned(),
                        n => format!("{n} times, a new sheet each"),
                    };
                    assert_eq!(said["to cut"], to_cut, "{path}");
                    (own, sheet.placements.ids().collect())
                }
                None => {
                    let class = stem.split('-').nth(1).expect("a class");
                    let of = |p: PieceId| flat.layout.pieces[p].class == class;
                    let found = flat.layout.sheets.entries().find_map(|(n, s)| {
                        let mut places = s.placements.entries();
                        let (first, _) = places.find(|(_, p)| of(p.piece))?;
                        Some((n, vec![first]))
                    });
                    let count: usize = (flat.layout.sheets.iter())
                        .map(|s| s.loads() * s.placements.iter().filter(|p| of(p.piece)).count())
                        .sum();
                    assert_eq!(said["to cut"], format!("{count} in all"), "{path}");
                    of_pieces += count;
                    found.expect("a sheet that it lies on")
                }
            };
            let placements = &flat.layout.sheets[sheet].placements;
            let lengths: Vec<f64> = if drawn {
                let piece = |&i: &PlacementId| &flat.layout.pieces[placements[i].piece];
                shown.iter().map(|i| length(&piece(i).drawn)).collect()
            } else {
                let paths = flat.program(sheet).expect("a program").contours.iter();
                let own = paths.filter(|c| shown.contains(&c.placement));
                own.map(|c| length(&c.path)).collect()
            };
            let words: Vec<&str> = said["cut"].split(' ').collect();
            let &[count, "contours," | "contour,", total, "mm", ..] = words.as_slice() else {
                panic!("{path}: {}", said["cut"])
            };
            assert_eq!(count.parse(), Ok(lengths.len()), "{path}: contours");
            let total: f64 = total.parse().expect("a number");
            let want: f64 = lengths.iter().sum();
            // Corners are rounded to 1e-6 mm, the figure to 1e-3.
            assert!((total - want).abs() < 1e-3, "{path}: {total}, not {want}");
            let FlatSize {
                length,
                width,
                thick,
            } = flat_size(&plan, sheet);
            if stem.starts_with("sheet-") {
                let size = format!("{length} x {width} x {thick} mm");
                assert!(said["stock"].ends_with(&size), "{path}: {}", said["stock"]);
                let pieces = match placements.len() {
                    1 => "1 piece".to_owned(),
                    n => format!("{n} pieces"),
                };
                assert!(said["what"].ends_with(&pieces), "{path}: {}", said["what"]);
            }
            assert!(said["size"].contains("unit mm"), "{path}: {}", said["size"]);
            let width = 2.0 * flat.program(sheet).expect("a program").head.radius();
            let kerf = format!("of {width} mm; do not compensate again");
            assert_eq!(
                said["size"].contains(&kerf),
                !drawn,
                "{path}: {}",
                said["size"]
            );
            assert_eq!(said["size"].contains("not taken in"), drawn, "{path}");
            assert_eq!(
                said["release"].contains("R12"),
                path.ends_with("-mm-r12.dxf")
            );
        }
        // Every piece once in each of two sizes and two releases.
        let all = flat
            .layout
            .sheets
            .iter()
            .map(|s| s.loads() * s.placements.len());
        let all: usize = all.sum();
        assert_eq!(of_pieces, 4 * all, "{panel}: pieces in all");
        for (layer, cut, is_used) in [
            (&style.outline, "cut", true),
            // A beam cuts notches with the outline.
            (&style.notch, "cut", panel == "router-square"),
            (&style.groove, "grooves", false),
            (&style.fold, "cut", false),
            (&style.label, "never cut", true),
            (&style.note, "never cut", true),
            (&style.stock, "never cut", true),
        ] {
            let line = format!("  {}, colour {}: {cut}: ", layer.name, layer.color);
            assert_eq!(text.contains(&line), is_used, "{panel}: `{line}`");
        }
    }
}

struct FlatSize {
    length: f64,
    width: f64,
    thick: f64,
}

fn flat_size(plan: &Plan, sheet: SheetId) -> FlatSize {
    let sheet = &plan.flat().expect("cut flat").layout.sheets[sheet];
    FlatSize {
        length: sheet.length,
        width: sheet.width,
        thick: sheet.thickness,
    }
}

#[test]
fn whoever_cuts_is_told_what_to_mind() {
    for panel in ["plain-window", "router-square"] {
        let (plan, made) = job(panel, "dxf_files = \"both\"\ndxf_version = \"both\"");
        let text = notes(&made);
        let files = &plan.files;
        for said in [
            files.panel.name.as_str(),
            files.material.name.as_str(),
            files.own().expect("a machine").machine.name.as_str(),
            "K\u{fc}che",
            "mm, in every file",
            "Bridges and tabs are not drawn",
            "Wear eye and ear protection",
            "defer to the machine's manual and the workshop's rules",
            "Cut one of them, not both",
        ] {
            assert!(text.contains(said), "{panel}: `{said}` in {text}");
        }
        // Cautions are those of the head.
        for said in ["No unknown plastics", "Never leave a beam alone"] {
            assert_eq!(
                text.contains(said),
                panel == "plain-window",
                "{panel}: `{said}` in {text}"
            );
        }
        let again = job(panel, "dxf_files = \"both\"\ndxf_version = \"both\"").1;
        assert_eq!(made.files, again.files, "{panel}: the same bytes");
    }
    let (_, made) = job("plain-window", "dxf = \"drawn\"");
    assert!(
        !notes(&made).contains("not both"),
        "there is nothing to choose"
    );
}

/// A drawing may come under any head: one of a material that is not cleared for a laser says so, with the reason that
/// its file gives, in the drawing where notes have room, beside it and on the sheet; the router's programs do not.
#[test]
fn what_is_not_cleared_for_a_laser_says_so_with_every_drawing() {
    let refused = "laser_refused = \"holds chlorine\"\n";
    for (panel, cut, line, why) in [
        ("plain-window", "", "", None),
        (
            "router-square",
            "laser_refused",
            refused,
            Some("holds chlorine"),
        ),
        (
            "router-square",
            "laser_refused",
            "",
            Some("nobody has cleared it for a beam"),
        ),
    ] {
        let mut sources = crate::panel_support::panel(panel).sources;
        for source in sources
            .iter_mut()
            .filter(|s| s.kind == SourceKind::Material)
        {
            let text = String::from_utf8(source.bytes.clone()).expect("text");
            let lines = text
                .lines()
                .filter(|l| cut.is_empty() || !l.starts_with(cut));
            let mut kept: String = lines.map(|l| format!("{l}\n")).collect();
            if !cut.is_empty() {
                kept = kept.replace("\"laser_refused\",", "");
                kept.insert_str(0, line);
            }
            source.bytes = kept.into_bytes();
        }
        let files = JobFiles::from_sources(sources).expect("sound files");
        let plan = plan(files, &mut |_| ()).expect("a sound panel");
        let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
        let name = &plan.files.material.name;
        let told = why.map(|why| format!("Keep {name} away from any laser: {why}."));
        let said =
            |path: &str, text: &str| String::from_utf8_lossy(&made.files[path]).contains(text);
        for path in ["dxf/notes.txt", "sheet.html"] {
            let any = "away from any laser";
            assert_eq!(said(path, any), told.is_some(), "{panel}: {path}");
            assert!(told.iter().all(|told| said(path, told)), "{panel}: {path}");
        }
        let mut in_drawings = 0;
        for path in drawings(&made) {
            assert!(
                told.is_some() || !said(path, "away from"),
                "{panel}: {path}"
            );
            // A note is broken into lines; in hardwood strips there is room for few.
            let text = String::from_utf8_lossy(&made.files[path]);
            let lines: Vec<&str> = text.lines().collect();
            let (groups, _) = lines.as_chunks::<2>();
            let texts = groups.iter().filter(|[code, _]| code.trim() == "1");
            let texts: Vec<&str> = texts.map(|[_, text]| *text).collect();
            let texts = texts.join(" ");
            in_drawings += usize::from(told.iter().any(|told| texts.contains(told)));
        }
        assert_eq!(in_drawings > 0, told.is_some(), "{panel}: in the drawings");
        for path in made.files.keys().filter(|path| path.ends_with(".nc")) {
            assert!(!said(path, "any laser"), "{panel}: {path}");
        }
    }
}

/// A drawing tells whose it is, whatever the panel is called, and no zero: it has none.
#[test]
fn a_panel_may_be_called_after_what_notes_are_about() {
    for (panel, name) in [
        ("plain-window", "zero waste"),
        ("router-square", "zero: run 2 times"),
    ] {
        let mut files = crate::panel_support::panel(panel);
        name.clone_into(&mut files.panel.name);
        let plan = plan(files, &mut |_| ()).expect("a sound panel");
        let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
        let title = format!("{name}: sheet");
        let said_there = lapwright::letters::remark(&title);
        let program = String::from_utf8_lossy(
            &made.files[&format!("gcode/{}-sheet-01.nc", plan.files.panel.short_name)],
        );
        assert!(
            program.contains(&said_there),
            "{panel}: the program says {title}"
        );
        assert!(
            program.contains("zero - x and y at"),
            "{panel}: and where zero is"
        );
        for path in drawings(&made) {
            let drawing = String::from_utf8_lossy(&made.files[path]);
            let said = drawing.contains(&title);
            assert!(said, "{path} does not say whose it is");
            assert!(!drawing.contains("zero: x and y at"), "{path}: no zero");
            assert!(!drawing.contains("zero: z at"), "{path}: no zero");
        }
    }
}

/// Where notes find no room on the stock, they are in the notes beside the files alone; where some do, those that say
/// what this is, in which size, and whose.
#[test]
fn notes_without_room_are_beside_the_files_alone() {
    for (length, width, few, all) in [
        (560, 380, true, true),
        (180, 120, true, false),
        (250, 120, false, false),
    ] {
        let mut sources = JobFiles::builtin_panel("three-way-card")
            .expect("a built-in panel")
            .sources;
        for source in &mut sources {
            if source.kind == SourceKind::Stock {
                let text = String::from_utf8(source.bytes.clone()).expect("text");
                assert!(text.contains("length = 420") && text.contains("width = 297"));
                let text = text.replace("length = 420", &format!("length = {length}"));
                let text = text.replace("width = 297", &format!("width = {width}"));
                source.bytes = text.into_bytes();
            }
        }
        let files = JobFiles::from_sources(sources).expect("sound files");
        let plan = plan(files, &mut |_| ()).expect("a sound panel");
        let made = Made::of(&plan, &mut |_| ()).expect("a sound job");
        let mut drawn = drawings(&made).into_iter();
        let last = drawn.rfind(|path| path.contains("drawn-size"));
        let drawing = String::from_utf8_lossy(&made.files[last.expect("a drawing")]);
        let size = format!("{length} x {width}");
        let title = format!("{}: sheet ", plan.files.panel.name);
        let focus = "z: focus on the top of the stock";
        assert_eq!(drawing.contains("Size: drawn"), few, "{size}");
        assert_eq!(drawing.contains(&title), few, "{size}: whose it is");
        assert_eq!(
            drawing.contains("lap-note"),
            few,
            "{size}: a layer with nothing on it"
        );
        assert_eq!(drawing.contains(focus), all, "{size}: all of them");
        assert_eq!(drawing.contains("More: notes.txt"), few && !all, "{size}");
        assert!(notes(&made).contains(focus), "{size}: beside the files");
    }
}
