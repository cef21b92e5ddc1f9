//! A program of moves, written in a dialect of G-code that a data file describes.
//!
//! The dialect's templates (`[gcode]` in the post-processor file) are written in a small part of the Jinja
//! language: `{{ x }}` is a value, `{{ dwell * 1000 }}` one that is worked out, `{% if feed_changed %} ...
//! {% endif %}` a choice, and there is nothing else (`language.rs`, `sum.rs`). A misspelt name is an error. A value
//! prints as its number is written; what is worked out from such numbers is rounded to the dialect's decimals and
//! drops trailing noughts. Blank lines and blanks at a line's end are dropped; every other line must be printable ASCII of at
//! most 256 characters (NISTIR 6556, 3.3), or as many as the dialect allows. [`crate::limits`] says
//! how long a template, what it writes, and a program may be.
//!
//! | template | written | its own values |
//! |---|---|---|
//! | `begin` | first | |
//! | `remark` | the notes after `begin`, the room that the path needs, and where the program remarks | `text` |
//! | `tool_change` | before `start_head`, where the dialect has it (router) | |
//! | `length_offset` | after it, where the dialect has it (router): the tool's length (G43 H) | |
//! | `start_head` | before the first move | |
//! | `travel` | travel in the plane | `x`, `y` |
//! | `raise` | up to the safe height (router) | `z` |
//! | `plunge` | straight down, or up to a tab's top (router) | `z`, `feed`, `feed_changed` |
//! | `line` | straight cut | `x`, `y`, `feed`, `feed_changed` |
//! | `arc_cw`, `arc_ccw` | arc, where the dialect has arcs | `x`, `y`, `i`, `j`, `feed`, `feed_changed` |
//! | `beam_on`, `beam_off` | beam (laser) | |
//! | `stop_head` | after the last move; a laser's may be empty, for its last cut has switched the beam off | |
//! | `park` | after it, where the dialect has it: to the machine's own place (G53 or G28) | |
//! | `end` | last | |
//!
//! An air run ([`render_air_run`]) has of these `begin`, its notes, `stop_head` or a laser's `beam_off`,
//! `length_offset`, `raise`, `line` with a feed in every block, and `end`: the head is told to be off before anything
//! moves.
//!
//! Values that every template may use: `name` (the program's), `cut_feed`; with a laser `power_word`;
//! with a router `speed`, `dwell` (s), `plunge_feed`, `safe_z`, `tool_number`, `tool_name`,
//! `tool_diameter`. `i` and `j` run from the arc's start to its centre (NISTIR 6556, 3.5.3). `feed` is
//! the feed of this move and `feed_changed` tells whether it differs from the last one written; it is
//! true for the first cut of a program. `x`, `y`, `z`, `i`, `j`, `safe_z` and `tool_diameter` carry the
//! dialect's decimals, the other numbers drop trailing noughts. In a dialect of inches all lengths and
//! feeds are in inches; nothing else in the program knows of it.
//!
//! A dialect without arcs gets straight cuts in their place: sides of the polygon that touches the arc
//! from outside, away from its centre, since the arcs of a path run round the corners of pieces. In a
//! dialect with line numbers every line carries one, which the writer adds.
//!
//! A laser's dialect leaves `raise` and `plunge` empty, a router's `beam_on` and `beam_off`. Section
//! numbers of NISTIR 6556 in this module are given from memory.

mod arc;
mod form;
mod frame;
mod language;
mod lines;
mod number;
mod remark;
mod sum;
mod template;
mod trial;

use std::fmt;

use minijinja::Value;

use crate::document::Numbers;
use crate::geom::Point;
use crate::letters;
use crate::panel::Post;
use crate::path::{AirRun, Head, Move, PathBox, Program, arc_chords};

pub use frame::{FrameText, frame_text};

use arc::{ArcBlock, round_arc};
use form::Slots;
use lines::Lines;
use number::Grid;
use remark::wrap;
use template::{Key, Sources, Templates};

/// Longest text that goes into one remark; a longer one is broken between words.
const REMARK_LIMIT: usize = 120;

/// Something wrong with a dialect, or with what it was asked to write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PostError {
    /// Key of the post-processor file, such as `gcode.line`.
    pub key: String,
    /// Line of that template, from 1, where there is one.
    pub line: Option<usize>,
    /// What is wrong and what would be right.
    pub reason: String,
}

impl PostError {
    fn new(key: Key, reason: impl Into<String>) -> Self {
        Self {
            key: key.path().into(),
            line: None,
            reason: reason.into(),
        }
    }
}

impl fmt::Display for PostError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}, line {line}: {}", self.key, self.reason),
            None => write!(f, "{}: {}", self.key, self.reason),
        }
    }
}

impl std::error::Error for PostError {}

/// Writes `program` in the dialect of `post`.
///
/// # Errors
/// [`PostError`] names the template that is broken, or that cannot write a move: a coordinate that is
/// no number or beyond 1e6 mm, a beam asked of a router's dialect, an arc that rounding would turn into
/// another one.
pub fn render(program: &Program, post: &Post) -> Result<Vec<u8>, PostError> {
    Ok(render_told(program, post)?.0)
}

/// Writes `program` as [`render`] does, and tells of each line which template wrote it: its key, such as
/// `gcode.line`.
///
/// # Errors
/// As [`render`].
pub fn render_told(
    program: &Program,
    post: &Post,
) -> Result<(Vec<u8>, Vec<&'static str>), PostError> {
    written(program, post, |writer| writer.run(PathBox::of(program)))
}

/// Writes an air run in the dialect of `post`.
///
/// # Errors
/// As [`render`].
pub fn render_air_run(air: &AirRun, post: &Post) -> Result<Vec<u8>, PostError> {
    Ok(render_air_run_told(air, post)?.0)
}

/// Writes an air run, and tells of each line which template wrote it.
///
/// # Errors
/// As [`render`].
pub fn render_air_run_told(
    air: &AirRun,
    post: &Post,
) -> Result<(Vec<u8>, Vec<&'static str>), PostError> {
    written(&air.program, post, |writer| writer.air_run(air.path))
}

/// What a writer of `program` makes of it.
fn written(
    program: &Program,
    post: &Post,
    write: impl FnOnce(Writer<'_>) -> Result<(Vec<u8>, Vec<&'static str>), PostError>,
) -> Result<(Vec<u8>, Vec<&'static str>), PostError> {
    let grid = Grid::new(&post.gcode.number)?;
    let globals = head_values(program, post, grid)?;
    let sources = Sources::of(&post.gcode.templates)?;
    let env = sources.environment(&globals)?;
    let templates = Templates::new(&env, &sources, globals, grid)?;
    write(Writer {
        program,
        laser: post.gcode.drives_laser,
        chord: post.gcode.number.chord_mm,
        numbers: Numbers::of_dialect(post),
        grid,
        templates,
        out: Lines::new(&post.gcode),
        at: None,
        feed: None,
        feed_text: None,
        slots: Slots::default(),
        block: String::new(),
    })
}

/// Tries every template of `post` with sample values, so that a broken one is found before any planning.
///
/// Each must compile, must write lines that a controller can read, and must use the values that its move
/// hangs on; those of the other kind of head must be empty.
///
/// # Errors
/// The first fault, with the template's key and line.
pub fn check_templates(post: &Post) -> Result<(), PostError> {
    trial::check(post)
}

/// Values of a program's head, that every template may use.
fn head_values(
    program: &Program,
    post: &Post,
    grid: Grid,
) -> Result<Vec<(&'static str, Value)>, PostError> {
    let bad = |reason: String| PostError::new(Key::StartHead, reason);
    let short = |what: &str, v: f64| grid.short(v).map_err(|e| bad(format!("{what} {e}")));
    let feed = |what: &str, v: f64| grid.feed(v).map_err(|e| bad(format!("{what} {e}")));
    let exact = |what: &str, v: f64| {
        grid.cell(v)
            .map(|c| grid.text(c))
            .map_err(|e| bad(format!("{what} {e}")))
    };
    let mut values = vec![
        ("name", Value::from(letters::remark(&program.stem))),
        ("cut_feed", feed("the cutting feed", program.feed)?),
    ];
    match (&program.head, post.gcode.drives_laser) {
        (Head::Beam { power_word, .. }, true) => {
            values.push(("power_word", short("the power word", *power_word)?));
        }
        (
            Head::Cutter {
                diameter,
                speed_rpm,
                spin_up_s,
                plunge_feed,
                safe_z,
                tool_number,
                tool_name,
            },
            false,
        ) => {
            values.extend([
                ("speed", short("the spindle speed", *speed_rpm)?),
                ("dwell", short("the wait for the spindle", *spin_up_s)?),
                ("plunge_feed", feed("the plunge feed", *plunge_feed)?),
                ("safe_z", exact("the safe height", *safe_z)?),
                ("tool_number", Value::from(*tool_number)),
                ("tool_name", Value::from(letters::remark(tool_name))),
                ("tool_diameter", exact("the tool's diameter", *diameter)?),
            ]);
        }
        (Head::Beam { .. }, false) => {
            return Err(bad(
                "the program is for a laser, and this dialect drives a router; name a post-processor \
                 whose `drives` is \"laser\""
                    .into(),
            ));
        }
        (Head::Cutter { .. }, true) => {
            return Err(bad(
                "the program is for a router, and this dialect drives a laser; name a post-processor \
                 whose `drives` is \"router\""
                    .into(),
            ));
        }
    }
    Ok(values)
}

/// Where the head stands: as planned, and as written.
#[derive(Clone, Copy)]
struct At {
    exact: Point,
    cell: [i64; 2],
}

struct Writer<'a> {
    program: &'a Program,
    laser: bool,
    /// How far the straight cuts in place of arcs may lie from them; `None` where there are arcs.
    chord: Option<f64>,
    /// How lengths are written in remarks.
    numbers: Numbers,
    grid: Grid,
    templates: Templates<'a>,
    out: Lines,
    at: Option<At>,
    /// The feed last written.
    feed: Option<f64>,
    /// The feed that was last made a text of, and that text.
    feed_text: Option<(f64, String)>,
    /// The values of the block that is written.
    slots: Slots,
    /// That block.
    block: String,
}

impl Writer<'_> {
    /// `begin`, the notes, and what room the path needs.
    fn head(&mut self, path: PathBox) -> Result<(), PostError> {
        self.out.percent();
        self.write(Key::Begin, vec![])?;
        for note in &self.program.notes {
            self.remark(&note.text)?;
        }
        let words = path.words(self.numbers);
        words.iter().try_for_each(|text| self.remark(text))
    }

    fn air_run(mut self, path: PathBox) -> Result<(Vec<u8>, Vec<&'static str>), PostError> {
        self.head(path)?;
        self.write(Key::stops(self.laser), vec![])?;
        self.write_if_any(Key::LengthOffset)?;
        for step in &self.program.moves {
            match *step {
                Move::Line(to) => {
                    let cell = self.cells(Key::Line, to)?;
                    // A controller that is started anew at any block still has the feed.
                    self.feed = None;
                    self.line(cell)?;
                }
                _ => self.step(step)?,
            }
        }
        self.write(Key::End, vec![])?;
        self.out.percent();
        Ok(self.out.done())
    }

    fn run(mut self, path: PathBox) -> Result<(Vec<u8>, Vec<&'static str>), PostError> {
        let program = self.program;
        self.head(path)?;
        self.write_if_any(Key::ToolChange)?;
        self.write_if_any(Key::LengthOffset)?;
        self.write(Key::StartHead, vec![])?;
        for (index, step) in program.moves.iter().enumerate() {
            self.step(step).map_err(|mut e| {
                e.reason = format!("move {}: {}", index + 1, e.reason);
                e
            })?;
        }
        self.write_if_any(Key::StopHead)?;
        self.write_if_any(Key::Park)?;
        self.write(Key::End, vec![])?;
        self.out.percent();
        Ok(self.out.done())
    }

    fn step(&mut self, step: &Move) -> Result<(), PostError> {
        match *step {
            Move::Remark(ref text) => self.remark(text),
            Move::Travel(to) => {
                let cell = self.cells(Key::Travel, to)?;
                self.at = Some(At { exact: to, cell });
                self.motion(Key::Travel, &cell, None)
            }
            Move::BeamOn => self.only(true, Key::BeamOn, &[], None),
            Move::BeamOff => self.only(true, Key::BeamOff, &[], None),
            Move::Raise => {
                let Head::Cutter { safe_z, .. } = self.program.head else {
                    return self.only(false, Key::Raise, &[], None);
                };
                let z = self.height(Key::Raise, safe_z)?;
                self.only(false, Key::Raise, &[z], None)
            }
            Move::Plunge(z) => {
                let Head::Cutter { plunge_feed, .. } = self.program.head else {
                    return self.only(false, Key::Plunge, &[], None);
                };
                let z = self.height(Key::Plunge, z)?;
                self.only(false, Key::Plunge, &[z], Some(plunge_feed))
            }
            Move::Line(to) => {
                let at = self.known(Key::Line)?;
                let cell = self.cells(Key::Line, to)?;
                self.at = Some(At { exact: to, cell });
                if cell == at.cell {
                    Ok(())
                } else {
                    self.line(cell)
                }
            }
            Move::Arc { to, centre, ccw } => self.arc(to, centre, ccw),
        }
    }

    fn line(&mut self, cell: [i64; 2]) -> Result<(), PostError> {
        self.motion(Key::Line, &cell, Some(self.program.feed))
    }

    fn arc(&mut self, to: Point, centre: Point, ccw: bool) -> Result<(), PostError> {
        let key = if ccw { Key::ArcCcw } else { Key::ArcCw };
        let at = self.known(key)?;
        if let Some(chord) = self.chord {
            for corner in arc_chords(at.exact, to, centre, ccw, chord) {
                self.step(&Move::Line(corner))?;
            }
            return Ok(());
        }
        let cell = self.cells(key, to)?;
        let block = round_arc(self.grid, at, At { exact: to, cell }, centre, ccw)
            .map_err(|reason| PostError::new(key, reason))?;
        self.at = Some(At { exact: to, cell });
        match block {
            ArcBlock::Nothing => Ok(()),
            ArcBlock::Line => self.line(cell),
            ArcBlock::Arc([i, j]) => {
                let [x, y] = cell;
                self.motion(key, &[x, y, i, j], Some(self.program.feed))
            }
        }
    }

    /// Where the head stands, which the first travel settles.
    fn known(&self, key: Key) -> Result<At, PostError> {
        self.at.ok_or_else(|| {
            PostError::new(
                key,
                "the program cuts before its first travel; travel to the start first",
            )
        })
    }

    fn cells(&self, key: Key, p: Point) -> Result<[i64; 2], PostError> {
        let cell = |axis: &str, v: f64| {
            self.grid
                .cell(v)
                .map_err(|e| PostError::new(key, format!("{axis} {e}")))
        };
        Ok([cell("x", p.x)?, cell("y", p.y)?])
    }

    fn height(&self, key: Key, z: f64) -> Result<i64, PostError> {
        (self.grid.cell(z)).map_err(|e| PostError::new(key, format!("z {e}")))
    }

    /// Writes a block that only a laser (or only a router) has.
    fn only(
        &mut self,
        laser: bool,
        key: Key,
        cells: &[i64],
        feed: Option<f64>,
    ) -> Result<(), PostError> {
        if self.laser == laser {
            return self.motion(key, cells, feed);
        }
        let head = if self.laser { "laser" } else { "router" };
        Err(PostError::new(
            key,
            format!("a {head}'s program cannot hold this move"),
        ))
    }

    /// Writes a move, or a switch between moves: lengths as steps, and a cut's feed.
    fn motion(&mut self, key: Key, cells: &[i64], feed: Option<f64>) -> Result<(), PostError> {
        self.slots.clear();
        for &cell in cells {
            self.slots.push(|text| self.grid.push_digits(cell, text));
        }
        let mut changed = false;
        if let Some(feed) = feed {
            changed = self.feed != Some(feed);
            self.feed = Some(feed);
            let known = self.feed_text.take().filter(|(of, _)| *of == feed);
            let (_, written) = match known {
                Some(known) => known,
                None => {
                    let written = self.grid.feed_text(feed);
                    let bad = |e| PostError::new(key, format!("feed {e}"));
                    (feed, written.map_err(bad)?)
                }
            };
            self.slots.push(|text| text.push_str(&written));
            self.feed_text = Some((feed, written));
        }
        (self.templates).render_move(key, &self.slots, changed, &mut self.block)?;
        self.out.push(key, &self.block)
    }

    fn remark(&mut self, text: &str) -> Result<(), PostError> {
        let room = self.out.room(self.templates.remark_frame()?);
        for part in wrap(&letters::remark(text), room.min(REMARK_LIMIT)) {
            self.write(Key::Remark, vec![("text", Value::from(part))])?;
        }
        Ok(())
    }

    /// Writes a template without values of its own, if the dialect has it.
    fn write_if_any(&mut self, key: Key) -> Result<(), PostError> {
        if self.templates.is_empty(key) {
            return Ok(());
        }
        self.write(key, vec![])
    }

    fn write(&mut self, key: Key, values: Vec<(&'static str, Value)>) -> Result<(), PostError> {
        let text = self.templates.render(key, values)?;
        self.out.push(key, &text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::{LengthUnit, NumberStyle};

    pub(super) fn grid_of(decimals: u8) -> Result<Grid, PostError> {
        Grid::new(&NumberStyle {
            unit: LengthUnit::Millimetre,
            decimals,
            chord_mm: None,
        })
    }
}
