//! What a dialect writes round the moves of a program: the text of its head and of its tail.

use minijinja::Value;

use super::number::Grid;
use super::template::{Key, Sources, Templates};
use super::{PostError, head_values};
use crate::panel::Post;
use crate::path::Program;

/// Text that stands for a remark's own while its frame is looked for: no dialect writes it by chance.
const SAMPLE: &str = "lap wright 6180339887";

/// The text of a dialect's own templates round the moves of one program, without line numbers and `%`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FrameText {
    /// Before the notes.
    pub begin: String,
    /// After the notes, before the first move.
    pub start: String,
    /// After the last move.
    pub end: String,
    /// A remark, of which [`FrameText::sample`] is the text.
    pub remark: String,
}

impl FrameText {
    /// The text of the sample remark.
    #[must_use]
    pub fn sample() -> &'static str {
        SAMPLE
    }
}

/// The frame of `program` in the dialect of `post`; `air` if it is an air run.
///
/// # Errors
/// As [`super::render`].
pub fn frame_text(program: &Program, post: &Post, air: bool) -> Result<FrameText, PostError> {
    let grid = Grid::new(&post.gcode.number)?;
    let globals = head_values(program, post, grid)?;
    let sources = Sources::of(&post.gcode.templates)?;
    let env = sources.environment(&globals)?;
    let templates = Templates::new(&env, &sources, globals, grid)?;
    let laser = post.gcode.drives_laser;
    let all = |keys: &[Key]| -> Result<String, PostError> {
        let mut text = String::new();
        for &key in keys {
            if key.may_be_empty(laser) && templates.is_empty(key) {
                continue;
            }
            let written = templates.render(key, vec![])?;
            for line in written.lines().map(|l| l.trim_end_matches(' ')) {
                if !line.is_empty() {
                    text.push_str(line);
                    text.push('\n');
                }
            }
        }
        Ok(text)
    };
    let (start, end): (&[Key], &[Key]) = if air {
        (&[Key::stops(laser), Key::LengthOffset], &[Key::End])
    } else {
        (
            &[Key::ToolChange, Key::LengthOffset, Key::StartHead],
            &[Key::StopHead, Key::Park, Key::End],
        )
    };
    let remark = templates.render(Key::Remark, vec![("text", Value::from(SAMPLE))])?;
    Ok(FrameText {
        begin: all(&[Key::Begin])?,
        start: all(start)?,
        end: all(end)?,
        remark,
    })
}
