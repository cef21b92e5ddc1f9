//! What the head of every program tells before any step: what made it, its unit, the values that it is cut with, and
//! how long and how often it runs.

use super::head::ProgramHead;
use super::unmeasured::{Setting, Value};
use crate::document::Numbers;
use crate::geom::micron;
use crate::panel::{JobFiles, LengthUnit, Machine, Post};
use crate::path::{Note, NoteKind, Program, program_minutes};

/// Which job a program is of, what made it, and the unit of its lengths.
pub(super) fn made_by(files: &JobFiles, post: &Post) -> Note {
    let unit = match post.gcode.number.unit {
        LengthUnit::Millimetre => "millimetres, G21",
        LengthUnit::Inch => "inches, G20",
    };
    let text = format!(
        "job {}, made by lapwright {}, lengths in {unit}",
        files.mark(),
        env!("CARGO_PKG_VERSION")
    );
    Note::new(NoteKind::Setting, text)
}

/// The values that a program is cut with. Drawings tell a width of the cut that nobody has measured too.
pub(super) fn settings(list: Vec<Setting>) -> Vec<Note> {
    let one = |setting: Setting| {
        let kind = match (setting.from_memory, setting.what) {
            (true, Value::Width) => NoteKind::Size,
            (true, _) => NoteKind::FromMemory,
            (false, _) => NoteKind::Setting,
        };
        Note::new(kind, setting.told())
    };
    list.into_iter().map(one).collect()
}

/// What the S words of a program stand for (NISTIR 6556, 3.7.1, from memory).
pub(super) fn scale(head: &ProgramHead<'_>) -> String {
    match head {
        ProgramHead::Laser(head) => {
            let [word, percent] = [head.set.power_word, head.set.power_percent].map(micron);
            let full = micron(head.laser.full_power_word);
            format!(
                "S{word} is {percent} percent of full power - this file assumes S{full} for full power, see the settings \
                 of the controller"
            )
        }
        ProgramHead::Router(_) => {
            "S is the speed of the spindle in revolutions a minute".to_owned()
        }
    }
}

/// Lines that stand among the values of a program.
pub(super) fn among_settings(lines: Vec<String>) -> impl Iterator<Item = Note> {
    lines
        .into_iter()
        .map(|text| Note::new(NoteKind::Setting, text))
}

/// Puts below the title how long a run takes, without acceleration, and how often it is run.
pub(super) fn put_time(machine: &Machine, program: &mut Program, loads: usize) {
    let minutes = program_minutes(program, machine.travel_feed);
    let often = match loads {
        1 => "run once".to_owned(),
        n => format!("{n} loads"),
    };
    let text = format!("about {} a run, {often}", Numbers::MM.minutes(minutes));
    let after_title = program.notes.len().min(1);
    program
        .notes
        .insert(after_title, Note::new(NoteKind::Setting, text));
}
