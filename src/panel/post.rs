//! The post-processor file: how a controller wants its program, and how a DXF reader wants its layers.
//!
//! A dialect is told apart by what it does. Besides the templates of `[gcode]`, which
//! [`write::gcode`](crate::write::gcode) lists, these keys say what a controller takes; all but `decimals`
//! may be left out:
//!
//! | key | what it says | left out |
//! |---|---|---|
//! | `number.unit` | `"mm"`, or `"inch"` for a program under G20 | `"mm"` |
//! | `number.decimals` | decimals of a coordinate: 3 or 4 of a millimetre, 4 or 5 of an inch | |
//! | `number.arcs` | false where a controller has no arcs: short straight cuts stand for them | true |
//! | `number.chord_mm` | how far those may lie outside the arc, mm, 0.0005 to 0.003; with `arcs = false` | |
//! | `gcode.remarks` | `"brackets"` (NISTIR 6556, 3.3.3), or `"semicolon"`: to the end of the line | `"brackets"` |
//! | `gcode.line_limit` | characters that a line may have, 40 to 256 | 256 |
//! | `gcode.percent_lines` | a line with nothing but % before and after the program (NISTIR 6556, 3.2) | false |
//! | `gcode.power_follows_speed` | laser: M4 switches the beam on and its power follows the speed | false |
//! | `gcode.tool_change` | router: the block that calls for the tool (T, M6); none is written without it | |
//! | `gcode.length_offset` | router: the block that takes the tool's length into account (G43 H) | |
//! | `gcode.park` | the block that parks the head after the last move (G53 or G28) | |
//! | `words.work_zero` | `"G54"` to `"G59"`: the work zero that a program chooses | `"G54"` |
//! | `words.path_mode` | `"exact"` (G61), or `"continuous"` (G64), which is not proven at corners | neither stands |
//! | `words.length_offset` | router: G43 with H takes the tool's length into account | false |
//! | `words.relative_centres` | G91.1 says that arc centres count from the arc's start | false |
//! | `words.dwell` | router: G4 P in `"s"` or `"ms"` | `"s"` |
//! | `words.pause` | M0 stops for the operator, with the head off | false |
//! | `words.coolant` | `"M7"`, `"M8"` or `"M7 and M8"`: on before the first cut, off (M9) at the end | none |
//! | `words.park` | `"G53"` or `"G28"`: how `gcode.park` parks the head | it stays |
//! | `line_numbers.start`, `.step`, `.greatest` | N words: the first, how they rise, the greatest | no N words |
//!
//! The replay holds a program to what its dialect says here (`DialectRules`).

use std::sync::LazyLock;

use super::post_words::{Words, read_words};
use super::reader::Table;
use super::values::Limits;

/// A post-processor: data only.
#[derive(Debug, Clone, PartialEq)]
pub struct Post {
    /// What the maker calls it.
    pub name: String,
    /// The G-code dialect.
    pub gcode: GcodeDialect,
    /// Layers and colours.
    pub dxf: DxfStyle,
}

/// A dialect of RS274/NGC, told apart by what it does.
#[derive(Debug, Clone, PartialEq)]
pub struct GcodeDialect {
    /// `laser` or `router`: the head the dialect drives.
    pub drives_laser: bool,
    /// Laser: the beam's power follows the speed of the head (M4); else it is constant (M3).
    pub power_follows_speed: bool,
    /// How remarks are marked.
    pub remarks: RemarkStyle,
    /// Characters that a line may have.
    pub line_limit: usize,
    /// A line of nothing but `%` before and after the program.
    pub percent_lines: bool,
    /// Line numbers, where the dialect writes them.
    pub line_numbers: Option<LineNumbers>,
    /// Words beyond those of every dialect.
    pub words: Words,
    /// How numbers are written.
    pub number: NumberStyle,
    /// The text of each kind of block.
    pub templates: Templates,
}

/// How remarks are marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RemarkStyle {
    /// `(remark)` (NISTIR 6556, 3.3.3).
    Brackets,
    /// `; remark`, to the end of the line (common practice; not in NISTIR 6556).
    Semicolon,
}

/// The numbers that lines carry: every line has one, and they rise by the same step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LineNumbers {
    /// Of the first line.
    pub start: u32,
    /// From line to line.
    pub step: u32,
    /// The greatest that the controller takes.
    pub greatest: u32,
}

/// The unit of lengths in a program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthUnit {
    /// G21.
    Millimetre,
    /// G20.
    Inch,
}

impl LengthUnit {
    /// Millimetres in the unit (an inch is 25.4 mm by definition).
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => 25.4,
        }
    }

    /// The code that chooses it.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Millimetre => "G21",
            Self::Inch => "G20",
        }
    }
}

/// How numbers are written.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberStyle {
    /// Unit of lengths, and of lengths a minute.
    pub unit: LengthUnit,
    /// Decimals of a coordinate: 3 or 4 of a millimetre, 4 or 5 of an inch.
    pub decimals: u8,
    /// Where the dialect has no arcs: how far the straight cuts in their place may lie from them, mm.
    pub chord_mm: Option<f64>,
}

impl NumberStyle {
    /// One step of a coordinate's last decimal, mm.
    #[must_use]
    pub fn step(&self) -> f64 {
        self.unit.mm() * 0.1_f64.powi(i32::from(self.decimals))
    }
}

/// The text of each kind of block; templates of the engine that `write::gcode` documents.
#[derive(Debug, Clone, PartialEq)]
pub struct Templates {
    /// First lines of a program.
    pub begin: String,
    /// Last lines of a program.
    pub end: String,
    /// The tool called for, before the spindle starts (router); empty where there is no tool change.
    pub tool_change: String,
    /// The tool's length taken into account (router); empty where that is not announced.
    pub length_offset: String,
    /// Spindle up to speed, or the laser made ready.
    pub start_head: String,
    /// Spindle stopped, or the laser made safe; a laser's may be empty.
    pub stop_head: String,
    /// The head parked; empty where it stays.
    pub park: String,
    /// Beam on (laser).
    pub beam_on: String,
    /// Beam off (laser).
    pub beam_off: String,
    /// Travel in the plane, head clear of the work.
    pub travel: String,
    /// Up to the safe height (router).
    pub raise: String,
    /// Straight down at plunge feed (router).
    pub plunge: String,
    /// Straight cut.
    pub line: String,
    /// Clockwise arc; empty where the dialect has none.
    pub arc_cw: String,
    /// Counter-clockwise arc; empty where the dialect has none.
    pub arc_ccw: String,
    /// A remark for the operator.
    pub remark: String,
}

/// Layers and colours of a DXF file.
#[derive(Debug, Clone, PartialEq)]
pub struct DxfStyle {
    /// Piece outlines and notch walls that are cut through.
    pub outline: DxfLayer,
    /// Router: open notch cuts.
    pub notch: DxfLayer,
    /// Router: grooves half as deep as the stock between pieces that stay joined; only in files that have
    /// some.
    pub groove: DxfLayer,
    /// Laser: dashes of a line along which a piece is folded; only in files that have some.
    pub fold: DxfLayer,
    /// Labels; never cut.
    pub label: DxfLayer,
    /// Notes on size, kerf and unit; never cut.
    pub note: DxfLayer,
    /// The strip or sheet; never cut.
    pub stock: DxfLayer,
}

/// A layer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DxfLayer {
    /// Its name, ASCII.
    pub name: String,
    /// Colour number, 1 to 255.
    pub color: u8,
}

impl DxfStyle {
    /// That of drawings for which no post-processor file says: the layers of the dialects that are built in.
    #[must_use]
    pub fn usual() -> &'static Self {
        static USUAL: LazyLock<DxfStyle> = LazyLock::new(|| {
            let layer = |name: &str, color| DxfLayer {
                name: name.to_owned(),
                color,
            };
            DxfStyle {
                outline: layer("lap-outline", 92),
                notch: layer("lap-notch", 190),
                groove: layer("lap-groove", GROOVE),
                fold: layer("lap-fold", FOLD),
                label: layer("lap-label", 150),
                note: layer("lap-note", 134),
                stock: layer("lap-stock", 8),
            }
        });
        &USUAL
    }
}

impl DxfLayer {
    /// Whether this is the layer of a name: names of layers do not depend on case (DXF reference, symbol table
    /// entries).
    #[must_use]
    pub fn is_called(&self, name: &str) -> bool {
        self.name.eq_ignore_ascii_case(name)
    }
}

/// Takes a post-processor file's keys.
pub(super) fn read_post(t: &mut Table<'_>) -> Post {
    let name = t.name();
    let drives_laser = t.choice("drives", &[("laser", true), ("router", false)], "");
    let number = t.table("number", read_number);
    let line_numbers = t.table_opt("line_numbers", read_line_numbers);
    let words = t.table_opt("words", |w| read_words(w, drives_laser));
    let words = words.unwrap_or_default();
    let gcode = t.table("gcode", |g| {
        let line_limit = g.count_opt("line_limit", 40..=256).unwrap_or(256);
        let remarks = [
            ("brackets", RemarkStyle::Brackets),
            ("semicolon", RemarkStyle::Semicolon),
        ];
        let dialect = GcodeDialect {
            drives_laser: drives_laser == Some(true),
            power_follows_speed: g.flag_or("power_follows_speed", false),
            remarks: g
                .choice_opt("remarks", &remarks)
                .unwrap_or(RemarkStyle::Brackets),
            line_limit: usize::try_from(line_limit).unwrap_or(256),
            percent_lines: g.flag_or("percent_lines", false),
            line_numbers,
            words,
            templates: read_templates(g, drives_laser, number.chord_mm.is_none()),
            number,
        };
        if dialect.power_follows_speed && drives_laser == Some(false) {
            g.fault(
                "power_follows_speed",
                "a router has no beam whose power could follow the speed",
                "leave `power_follows_speed` out, or write drives = \"laser\"",
            );
        }
        announced(g, &dialect);
        dialect
    });
    let dxf = t.table("dxf", read_dxf);
    Post { name, gcode, dxf }
}

/// A template that only some dialects have, and the word that it is there for, come together.
fn announced(g: &Table<'_>, dialect: &GcodeDialect) {
    let words = dialect.words;
    for (key, template, word, said) in [
        (
            "length_offset",
            &dialect.templates.length_offset,
            words.length_offset,
            "length_offset = true",
        ),
        (
            "park",
            &dialect.templates.park,
            words.park.is_some(),
            "park = \"G53\" or \"G28\"",
        ),
    ] {
        match (word, template.trim().is_empty()) {
            (true, true) => g.fault(
                key,
                format!("`{key}` is announced in [words], but no template writes it"),
                format!("write {key} = \"...\" in [gcode], or leave it out of [words]"),
            ),
            (false, false) => g.fault(
                key,
                format!("`{key}` is not announced in [words]"),
                format!("write {said} in a table [words], or leave this template out"),
            ),
            _ => {}
        }
    }
}

fn read_number(t: &mut Table<'_>) -> NumberStyle {
    let units = [("mm", LengthUnit::Millimetre), ("inch", LengthUnit::Inch)];
    let unit = t.choice_opt("unit", &units);
    let unit = unit.unwrap_or(LengthUnit::Millimetre);
    let decimals = t.count(
        "decimals",
        match unit {
            LengthUnit::Millimetre => 3..=4,
            LengthUnit::Inch => 4..=5,
        },
    );
    let arcs = t.flag_or("arcs", true);
    // With the rounding of an end, at most 0.0018 mm, a cut stays within what the replay allows.
    let limits = Limits::within(0.0005, 0.003, "mm of distance");
    let chord_mm = if arcs {
        if t.number_opt("chord_mm", &limits).is_some() {
            t.fault(
                "chord_mm",
                "`chord_mm` is for a dialect without arcs",
                "leave it out, or write arcs = false",
            );
        }
        None
    } else {
        Some(t.number("chord_mm", &limits))
    };
    NumberStyle {
        unit,
        decimals: u8::try_from(decimals).unwrap_or(4),
        chord_mm,
    }
}

fn read_line_numbers(t: &mut Table<'_>) -> LineNumbers {
    let mark = t.mark();
    // NISTIR 6556, 3.3.1: from 0 to 99999.
    let numbers = LineNumbers {
        start: t.count("start", 0..=99_999),
        step: t.count("step", 1..=1_000),
        greatest: t.count("greatest", 1..=99_999),
    };
    if t.sound_since(mark) && numbers.start > numbers.greatest {
        t.fault(
            "greatest",
            format!(
                "the first line number, {}, is beyond the greatest, {}",
                numbers.start, numbers.greatest
            ),
            "write a smaller `start`, or the greatest number that the controller takes",
        );
    }
    numbers
}

fn read_templates(t: &mut Table<'_>, drives_laser: Option<bool>, arcs: bool) -> Templates {
    // What the dialect's own head needs must be there; what only the other head has may be left out.
    let mut of = |key, laser: bool| {
        if drives_laser == Some(laser) {
            t.block(key)
        } else {
            t.block_or_empty(key)
        }
    };
    let (beam_on, beam_off) = (of("beam_on", true), of("beam_off", true));
    let (raise, plunge) = (of("raise", false), of("plunge", false));
    let mut arc = |key| {
        if arcs {
            t.block(key)
        } else {
            t.block_or_empty(key)
        }
    };
    let (arc_cw, arc_ccw) = (arc("arc_cw"), arc("arc_ccw"));
    // A laser's last cut switches its beam off.
    let stop_head = match drives_laser {
        Some(true) => t.block_or_empty("stop_head"),
        _ => t.block("stop_head"),
    };
    Templates {
        begin: t.block("begin"),
        end: t.block("end"),
        tool_change: t.block_or_empty("tool_change"),
        length_offset: t.block_or_empty("length_offset"),
        start_head: t.block("start_head"),
        stop_head,
        park: t.block_or_empty("park"),
        beam_on,
        beam_off,
        travel: t.block("travel"),
        raise,
        plunge,
        line: t.block("line"),
        arc_cw,
        arc_ccw,
        remark: t.block_or_empty("remark"),
    }
}

fn read_dxf(t: &mut Table<'_>) -> DxfStyle {
    let mut taken = Vec::new();
    let mut layer = |key| t.table(key, |l| read_layer(l, &mut taken));
    let (outline, notch) = (layer("outline"), layer("notch"));
    let (label, note, stock) = (layer("label"), layer("note"), layer("stock"));
    let [groove, fold] =
        ["groove", "fold"].map(|key| t.table_opt(key, |l| read_layer(l, &mut taken)));
    let mut or_own = |layer: Option<DxfLayer>, name: &str, color| {
        layer.unwrap_or_else(|| {
            let own = DxfLayer {
                name: free_name(name, &taken),
                color: free_color(color, &taken),
            };
            taken.push(own.clone());
            own
        })
    };
    DxfStyle {
        groove: or_own(groove, "lap-groove", GROOVE),
        fold: or_own(fold, "lap-fold", FOLD),
        outline,
        notch,
        label,
        note,
        stock,
    }
}

/// Colour of grooves where the file names none: ochre.
const GROOVE: u8 = 42;
/// Colour of the dashes of folds where the file names none: rose.
const FOLD: u8 = 230;

/// A layer's name that no other layer has.
fn free_name(name: &str, taken: &[DxfLayer]) -> String {
    let numbered = (2..).map(|n: usize| format!("{name}-{n}"));
    std::iter::once(name.to_owned())
        .chain(numbered)
        .find(|name| !taken.iter().any(|other| other.is_called(name)))
        .unwrap_or_default()
}

/// A layer's colour that no other layer has.
fn free_color(color: u8, taken: &[DxfLayer]) -> u8 {
    std::iter::once(color)
        .chain(1..=u8::MAX)
        .find(|color| taken.iter().all(|other| other.color != *color))
        .unwrap_or(color)
}

/// Letters of a layer's name (DXF reference of release 12, symbol table names, from memory).
const LONGEST: usize = 31;

fn read_layer(t: &mut Table<'_>, taken: &mut Vec<DxfLayer>) -> DxfLayer {
    let mark = t.mark();
    let name = t.line("name");
    let sound = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if !name.chars().all(sound) {
        let message = format!("a layer cannot be called \"{name}\"");
        t.fault("name", message, "use only A to Z, a to z, 0 to 9, - and _");
    } else if name.len() > LONGEST {
        let message = format!("a layer's name has at most {LONGEST} letters");
        t.fault("name", message, "shorten it: DXF release R12 takes no more");
    } else if name == "0" {
        let message = "layer \"0\" belongs to every DXF file";
        t.fault(
            "name",
            message,
            "give the layer a name of its own, such as \"lap-outline\"",
        );
    } else if !name.is_empty() && taken.iter().any(|other| other.is_called(&name)) {
        let message = format!("two layers have the name \"{name}\"");
        t.fault("name", message, "give each layer a name of its own");
    }
    let color = t.count("color", 1..=255);
    // What is no colour has been told, and is like no other: no colour has the number 0.
    let sound = t.sound_since(mark);
    let color = u8::try_from(color).ok().filter(|_| sound).unwrap_or(0);
    if let Some(other) = taken.iter().find(|other| sound && other.color == color) {
        let message = format!("layer \"{}\" has the colour {color} too", other.name);
        t.fault(
            "color",
            message,
            "give each layer a colour of its own, so that what is cut can be told from what is not",
        );
    }
    let layer = DxfLayer { name, color };
    taken.push(layer.clone());
    layer
}
