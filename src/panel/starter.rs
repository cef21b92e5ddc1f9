//! Panel files to start from, for whoever cuts them.

use super::builtin::{BUILTIN, new_panel};
use super::{Builtin, SourceKind};

/// What will cut the panel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CutterKind {
    /// A laser, in card.
    Laser,
    /// A router, in plywood twice as thick: all of the panel is twice as large.
    Router,
    /// A machine elsewhere, from drawings alone; in card.
    Elsewhere,
}

/// How much thicker the router's plywood is than the laser's card.
const LARGER: f64 = 2.0;
/// The kerf of a laser elsewhere, mm (from memory).
const KERF: &str = "0.15";

/// The keys that name other files, and the built-in file that each names for a laser and for a router.
const NAMED: [(&str, SourceKind, [&str; 2]); 4] = [
    (
        "machine",
        SourceKind::Machine,
        ["desk-laser", "small-router"],
    ),
    ("material", SourceKind::Material, ["card-1.5", "ply-3"]),
    ("stock", SourceKind::Stock, ["card-sheets", "ply-sheets"]),
    (
        "post_processor",
        SourceKind::Post,
        ["laser-mm", "router-mm"],
    ),
];

/// A commented panel file of a layout to start from, which passes all checks as it stands; `None` where there is no such
/// layout. Its comments list what is built in.
#[must_use]
pub fn starter(layout: &str, cutter: CutterKind) -> Option<String> {
    let text = new_panel(layout)?;
    let mut section = "";
    let mut out = String::new();
    for line in text.lines() {
        if let Some(name) = line.strip_prefix('[') {
            section = name
                .trim_start_matches('[')
                .split(']')
                .next()
                .unwrap_or_default();
        }
        let (key, _) = line.split_once(" = ").unwrap_or_default();
        let named = NAMED.iter().find(|(of, ..)| *of == key);
        let fresh = match (key, cutter) {
            ("machine", CutterKind::Elsewhere) => {
                let kerf = format!("elsewhere = {{ kerf = {KERF} }}");
                Some(commented(
                    &kerf,
                    "of the beam there; or tool_diameter = 3; or {}: outlines alone",
                ))
            }
            ("post_processor", CutterKind::Elsewhere) => continue,
            ("relief", CutterKind::Router) => Some(line.replacen("\"none\" ", "\"floor\"", 1)),
            _ if cutter == CutterKind::Router && sized(section, key) => Some(larger(line)),
            _ => named.map(|(key, kind, names)| built_in(key, *kind, *names, cutter)),
        };
        out.push_str(fresh.as_deref().unwrap_or(line));
        out.push('\n');
    }
    Some(out)
}

/// A key with its comment where comments stand in these files.
fn commented(value: &str, comment: &str) -> String {
    format!("{value:<37} # {comment}")
}

/// The line that names a built-in file: the laser's, or the router's, with all that there are for it.
fn built_in(key: &str, kind: SourceKind, [laser, router]: [&str; 2], cutter: CutterKind) -> String {
    let name = match cutter {
        CutterKind::Laser | CutterKind::Elsewhere => laser,
        CutterKind::Router => router,
    };
    let of_kind = BUILTIN
        .iter()
        .filter(|file| file.kind == kind && suits(file, cutter));
    let names: Vec<&str> = of_kind.map(|file| file.name).collect();
    commented(
        &format!("{key} = \"{name}\""),
        &format!("built in: {}", names.join(", ")),
    )
}

/// Whether a built-in file is one for that cutter.
fn suits(file: &Builtin, cutter: CutterKind) -> bool {
    let has = |line: &str| file.text.lines().any(|l| l.starts_with(line));
    let [table, drives] = match cutter {
        CutterKind::Laser => ["[laser]", "drives = \"laser\""],
        CutterKind::Router => ["[router]", "drives = \"router\""],
        CutterKind::Elsewhere => return true,
    };
    match file.kind {
        SourceKind::Machine | SourceKind::Material => has(table),
        SourceKind::Post => has(drives),
        _ => true,
    }
}

/// Whether a line of the file holds lengths that grow with the bars.
fn sized(section: &str, key: &str) -> bool {
    let lengths = [
        "face",
        "depth",
        "pitch",
        "pitch_across",
        "pitch_up",
        "first",
        "offsets",
        "overhang",
        "width",
    ];
    match section {
        "ground" | "ground.family" | "surround" => lengths.contains(&key),
        // Sides stand in rows of their own where the corners are written out.
        "outline" => key != "trim_kerf" && key != "in_steps" && key != "side",
        _ => false,
    }
}

/// A line with every number in its values made larger, its comment left.
fn larger(line: &str) -> String {
    let (values, comment) = line.split_at(line.find('#').unwrap_or(line.len()));
    let mut out = String::new();
    let mut number = String::new();
    for c in values.chars() {
        if c.is_ascii_digit() || c == '.' && !number.is_empty() {
            number.push(c);
            continue;
        }
        out.push_str(&grown(&number));
        number.clear();
        out.push(c);
    }
    out.push_str(&grown(&number));
    // Comments stay in their column where the numbers let them.
    let width = values.chars().count();
    let out = out.trim_end();
    format!("{out:<width$}{comment}").trim_end().to_owned()
}

fn grown(number: &str) -> String {
    number
        .parse::<f64>()
        .map_or_else(|_| number.to_owned(), |v| (v * LARGER).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_a_line_grow_and_its_comment_stays() {
        for (line, grown) in [
            (
                "left = { clear = 9 }   # { clear = 9 } lies 9 mm",
                "left = { clear = 18 }  # { clear = 9 } lies 9 mm",
            ),
            (
                "  { x = 130.5, y = 0, rule = \"centres\" }, # a",
                "  { x = 261, y = 0, rule = \"centres\" },   # a",
            ),
            ("offsets = [30, 50]", "offsets = [60, 100]"),
            ("face = 1.5", "face = 3"),
            ("left = \"centres\"  # 1", "left = \"centres\"  # 1"),
        ] {
            assert_eq!(larger(line), grown);
        }
    }

    #[test]
    fn comments_list_what_is_built_in_for_a_head() {
        let text = starter("square", CutterKind::Router).unwrap_or_default();
        assert!(text.contains("\"small-router\""), "{text}");
        let line = text
            .lines()
            .find(|l| l.starts_with("material"))
            .unwrap_or_default();
        assert!(
            line.contains("hardwood-4") && line.contains("ply-3") && !line.contains("card"),
            "{line}"
        );
        let text = starter("square", CutterKind::Laser).unwrap_or_default();
        let line = text
            .lines()
            .find(|l| l.starts_with("material"))
            .unwrap_or_default();
        assert!(
            line.contains("card-2") && !line.contains("hardwood"),
            "{line}"
        );
        let text = starter("square", CutterKind::Elsewhere).unwrap_or_default();
        assert!(
            !text.contains("\nmachine") && !text.contains("\npost_processor"),
            "{text}"
        );
        assert_eq!(starter("round", CutterKind::Laser), None);
    }
}
