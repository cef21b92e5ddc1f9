//! Dialects as the post-processor files have them, and two small programs with their limits.

use lapwright::geom::Point;
use lapwright::panel::{
    Coolant, DxfLayer, DxfStyle, GcodeDialect, LengthUnit, LineNumbers, NumberStyle, Park,
    PathMode, Post, RemarkStyle, Templates, Words,
};
use lapwright::path::{Head, Move, Note, NoteKind, Program};
use lapwright::replay::DialectRules;
use lapwright::replay::gcode_read::Frame;
use lapwright::replay::motion::MotionLimits;
use serde::Deserialize;

use super::further;

/// Every built-in dialect, by the name of its file.
pub const FILES: [(&str, &str); 10] = [
    (
        "laser-follow-mm",
        include_str!("../../post-processors/laser-follow-mm.toml"),
    ),
    (
        "laser-inch",
        include_str!("../../post-processors/laser-inch.toml"),
    ),
    (
        "laser-lines-mm",
        include_str!("../../post-processors/laser-lines-mm.toml"),
    ),
    (
        "laser-mm",
        include_str!("../../post-processors/laser-mm.toml"),
    ),
    (
        "router-inch",
        include_str!("../../post-processors/router-inch.toml"),
    ),
    (
        "router-lines-inch",
        include_str!("../../post-processors/router-lines-inch.toml"),
    ),
    (
        "router-mm",
        include_str!("../../post-processors/router-mm.toml"),
    ),
    (
        "router-numbered-mm",
        include_str!("../../post-processors/router-numbered-mm.toml"),
    ),
    (
        "router-pause-mm",
        include_str!("../../post-processors/router-pause-mm.toml"),
    ),
    (
        "router-toolchange-mm",
        include_str!("../../post-processors/router-toolchange-mm.toml"),
    ),
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PostFile {
    name: String,
    drives: String,
    number: NumberTable,
    line_numbers: Option<NumbersTable>,
    #[serde(default)]
    words: WordsTable,
    gcode: GcodeTable,
    dxf: DxfTable,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NumberTable {
    unit: Option<String>,
    decimals: u8,
    arcs: Option<bool>,
    chord_mm: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NumbersTable {
    start: u32,
    step: u32,
    greatest: u32,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
struct WordsTable {
    work_zero: Option<String>,
    path_mode: Option<String>,
    #[serde(default)]
    length_offset: bool,
    #[serde(default)]
    relative_centres: bool,
    dwell: Option<String>,
    #[serde(default)]
    pause: bool,
    coolant: Option<String>,
    park: Option<String>,
}

impl WordsTable {
    fn words(&self) -> Words {
        let of = |word: &Option<String>, all: &[&str]| {
            let place = |w: &String| all.iter().position(|a| a == w).expect("a known word");
            word.as_ref().map(place)
        };
        let zeros = ["G54", "G55", "G56", "G57", "G58", "G59"];
        let coolant = of(&self.coolant, &["M7", "M8", "M7 and M8"]);
        Words {
            work_zero: 54 + of(&self.work_zero, &zeros).unwrap_or(0) as u32,
            path_mode: of(&self.path_mode, &["exact", "continuous"])
                .map(|n| [PathMode::Exact, PathMode::Continuous][n]),
            length_offset: self.length_offset,
            relative_centres: self.relative_centres,
            dwell_ms: of(&self.dwell, &["s", "ms"]) == Some(1),
            pause: self.pause,
            coolant: Coolant {
                m7: matches!(coolant, Some(0 | 2)),
                m8: matches!(coolant, Some(1 | 2)),
            },
            park: of(&self.park, &["G53", "G28"]).map(|n| [Park::MachineFrame, Park::Home][n]),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GcodeTable {
    #[serde(default)]
    power_follows_speed: bool,
    #[serde(default)]
    percent_lines: bool,
    remarks: Option<String>,
    line_limit: Option<usize>,
    #[serde(default)]
    tool_change: String,
    #[serde(default)]
    length_offset: String,
    #[serde(default)]
    park: String,
    begin: String,
    end: String,
    start_head: String,
    stop_head: String,
    beam_on: String,
    beam_off: String,
    travel: String,
    raise: String,
    plunge: String,
    line: String,
    arc_cw: String,
    arc_ccw: String,
    remark: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DxfTable {
    outline: LayerTable,
    notch: LayerTable,
    groove: Option<LayerTable>,
    fold: Option<LayerTable>,
    label: LayerTable,
    note: LayerTable,
    stock: LayerTable,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LayerTable {
    name: String,
    color: u8,
}

impl From<LayerTable> for DxfLayer {
    fn from(t: LayerTable) -> Self {
        Self {
            name: t.name,
            color: t.color,
        }
    }
}

/// Reads a post-processor file with its schema spelt out: no key missing, none unknown.
pub fn post(text: &str) -> Post {
    let file: PostFile = toml::from_str(text).expect("a built-in file fits the schema");
    assert!(
        ["laser", "router"].contains(&file.drives.as_str()),
        "drives = {:?}",
        file.drives
    );
    let g = file.gcode;
    let n = file.number;
    let word = |found: &Option<String>, one: &str, other: &str| {
        let word = found.as_deref().unwrap_or(one);
        assert!([one, other].contains(&word), "{word:?}; {one} or {other}");
        word == one
    };
    let mm = word(&n.unit, "mm", "inch");
    assert_eq!(
        n.arcs == Some(false),
        n.chord_mm.is_some(),
        "chords without arcs alone"
    );
    Post {
        name: file.name,
        gcode: GcodeDialect {
            drives_laser: file.drives == "laser",
            power_follows_speed: g.power_follows_speed,
            remarks: if word(&g.remarks, "brackets", "semicolon") {
                RemarkStyle::Brackets
            } else {
                RemarkStyle::Semicolon
            },
            line_limit: g.line_limit.unwrap_or(256),
            percent_lines: g.percent_lines,
            line_numbers: file.line_numbers.map(|n| LineNumbers {
                start: n.start,
                step: n.step,
                greatest: n.greatest,
            }),
            words: file.words.words(),
            number: NumberStyle {
                unit: if mm {
                    LengthUnit::Millimetre
                } else {
                    LengthUnit::Inch
                },
                decimals: n.decimals,
                chord_mm: n.chord_mm,
            },
            templates: Templates {
                begin: g.begin,
                end: g.end,
                tool_change: g.tool_change,
                length_offset: g.length_offset,
                park: g.park,
                start_head: g.start_head,
                stop_head: g.stop_head,
                beam_on: g.beam_on,
                beam_off: g.beam_off,
                travel: g.travel,
                raise: g.raise,
                plunge: g.plunge,
                line: g.line,
                arc_cw: g.arc_cw,
                arc_ccw: g.arc_ccw,
                remark: g.remark,
            },
        },
        dxf: DxfStyle {
            groove: file.dxf.groove.map_or_else(
                || DxfLayer {
                    name: "lap-groove".to_owned(),
                    color: 42,
                },
                DxfLayer::from,
            ),
            fold: file.dxf.fold.map_or_else(
                || DxfLayer {
                    name: "lap-fold".to_owned(),
                    color: 230,
                },
                DxfLayer::from,
            ),
            outline: file.dxf.outline.into(),
            notch: file.dxf.notch.into(),
            label: file.dxf.label.into(),
            note: file.dxf.note.into(),
            stock: file.dxf.stock.into(),
        },
    }
}

/// A built-in dialect by its name, or one of [`further::FURTHER`].
pub fn dialect(name: &str) -> Post {
    match FILES.iter().find(|(n, _)| *n == name) {
        Some((_, text)) => post(text),
        None => further::dialect(name),
    }
}

pub fn laser_post() -> Post {
    dialect("laser-mm")
}

pub fn router_post() -> Post {
    dialect("router-mm")
}

/// What the replay holds a dialect's programs to.
pub fn rules(post: &Post) -> DialectRules {
    DialectRules::of(&post.gcode)
}

/// Head and tail of a program in a dialect.
pub fn frame(program: &Program, post: &Post) -> Frame {
    Frame::of(program, post).expect("the sample can be written")
}

/// The sample program for a dialect's head, and its limits.
pub fn program_for(post: &Post) -> (Program, MotionLimits) {
    if post.gcode.drives_laser {
        (laser_program(), laser_limits())
    } else {
        (router_program(), router_limits())
    }
}

fn line(x: f64, y: f64) -> Move {
    Move::Line(Point::new(x, y))
}

fn travel(x: f64, y: f64) -> Move {
    Move::Travel(Point::new(x, y))
}

fn arc(to: [f64; 2], centre: [f64; 2], ccw: bool) -> Move {
    Move::Arc {
        to: Point::new(to[0], to[1]),
        centre: Point::new(centre[0], centre[1]),
        ccw,
    }
}

/// A bar of 60 by 12 with rounded offset corners, in two beams with bridges between, and a hole.
pub fn laser_program() -> Program {
    let r = 0.08;
    Program {
        stem: "sheet-01".into(),
        notes: vec![
            Note::new(NoteKind::Title, "sheet 1 (card, 0.8 thick); kerf 0.16"),
            Note::new(NoteKind::Caution, "goggles on"),
        ],
        head: Head::Beam {
            kerf: 2.0 * r,
            power_percent: 60.0,
            power_word: 600.0,
        },
        feed: 900.0,
        moves: vec![
            Move::Remark("hole".into()),
            travel(35.0, 16.0),
            Move::BeamOn,
            arc([31.0, 16.0], [33.0, 16.0], true),
            arc([35.0, 16.0], [33.0, 16.0], true),
            Move::BeamOff,
            Move::Remark("bar A1".into()),
            travel(20.0, 10.0 - r),
            Move::BeamOn,
            line(70.0, 10.0 - r),
            arc([70.0 + r, 10.0], [70.0, 10.0], true),
            line(70.0 + r, 22.0),
            arc([70.0, 22.0 + r], [70.0, 22.0], true),
            line(41.3337, 22.0 + r),
            Move::BeamOff,
            travel(40.1337, 22.0 + r),
            Move::BeamOn,
            line(10.0, 22.0 + r),
            arc([10.0 - r, 22.0], [10.0, 22.0], true),
            line(10.0 - r, 10.0),
            arc([10.0, 10.0 - r], [10.0, 10.0], true),
            line(19.5, 10.0 - r),
            Move::BeamOff,
        ],
        holds: vec![],
        reliefs: Default::default(),
        contours: vec![],
    }
}

pub fn laser_limits() -> MotionLimits {
    MotionLimits {
        stock: [[0.0, 0.0, 0.0], [120.0, 40.0, 0.8]],
        travel: [400.0, 300.0, 0.0],
        bed_lowest_z: 0.0,
        pass_depth: 0.0,
        safe_z: 0.0,
        feed: [100.0, 6000.0],
    }
}

/// A bar of 60 by 12 in stock 4 thick: a notch as an open cut with relief, then the outline, clockwise
/// arcs at its corners, over a tab.
pub fn router_program() -> Program {
    let r = 1.5;
    Program {
        stem: "sheet-02".into(),
        notes: vec![
            Note::new(NoteKind::Title, "sheet 2: strip 120 x 40 x 4"),
            Note::new(NoteKind::Zero, "zero on the bed, lower left"),
        ],
        head: Head::Cutter {
            diameter: 2.0 * r,
            speed_rpm: 16_000.0,
            spin_up_s: 2.5,
            plunge_feed: 300.0,
            safe_z: 19.0,
            tool_number: 3,
            tool_name: "straight, 2 flutes".into(),
        },
        feed: 900.0,
        moves: vec![
            Move::Raise,
            Move::Remark("notch".into()),
            travel(32.0, 24.0),
            Move::Plunge(2.0),
            line(32.0, 17.5),
            line(31.6464, 17.1464),
            line(32.0, 17.5),
            line(33.05, 17.5),
            line(33.05, 24.0),
            Move::Plunge(-0.2),
            line(33.05, 17.5),
            line(32.0, 17.5),
            line(32.0, 24.0),
            Move::Raise,
            Move::Remark("outline".into()),
            travel(10.0, 10.0 - r),
            Move::Plunge(-0.2),
            arc([10.0 - r, 10.0], [10.0, 10.0], false),
            line(10.0 - r, 22.0),
            arc([10.0, 22.0 + r], [10.0, 22.0], false),
            line(70.0, 22.0 + r),
            arc([70.0 + r, 22.0], [70.0, 22.0], false),
            line(70.0 + r, 10.0),
            arc([70.0, 10.0 - r], [70.0, 10.0], false),
            line(44.0, 10.0 - r),
            Move::Plunge(1.2),
            line(36.0, 10.0 - r),
            Move::Plunge(-0.2),
            line(10.0, 10.0 - r),
            Move::Raise,
        ],
        holds: vec![],
        reliefs: Default::default(),
        contours: vec![],
    }
}

pub fn router_limits() -> MotionLimits {
    MotionLimits {
        stock: [[0.0, 0.0, 0.0], [120.0, 40.0, 4.0]],
        travel: [400.0, 300.0, 60.0],
        bed_lowest_z: -0.3,
        pass_depth: 4.2,
        safe_z: 19.0,
        feed: [400.0, 3000.0],
    }
}
