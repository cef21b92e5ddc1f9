//! What a dialect has the machine do besides cutting, in words: for the heads of programs and for the sheet.

use super::head::{CuttingHead, ProgramHead, RouterHead};
use super::program_head::scale;
use crate::panel::{Park, PathMode, Post, Words};
use crate::safety::CONTINUOUS;

/// What is told of a controller that does not stop at corners.
pub(super) fn rounded_corners(post: &Post) -> Option<String> {
    let continuous = post.gcode.words.path_mode == Some(PathMode::Continuous);
    continuous.then(|| CONTINUOUS.to_owned())
}

/// Which zero a program chooses, where it is not the first one.
pub(super) fn work_zero(post: &Post) -> Option<String> {
    let (zero, usual) = (post.gcode.words.work_zero, Words::default().work_zero);
    (zero != usual).then(|| {
        format!("the zero of these programs is that of G{zero} - set it there, not in G{usual}")
    })
}

/// All of it for a head, in the order of a program, after what its S words stand for; plain signs alone, so that remarks
/// can hold it.
pub(super) fn besides_cutting(head: &ProgramHead<'_>) -> Vec<String> {
    let post = &head.own().post;
    let words = post.gcode.words;
    let mut lines = vec![scale(head)];
    lines.extend(work_zero(post));
    if let ProgramHead::Router(head) = head {
        lines.extend(tool(post, head));
    }
    if post.gcode.power_follows_speed {
        lines.push("the power follows the speed of the head, M4".to_owned());
    }
    lines.extend(rounded_corners(post));
    lines.extend(words.coolant.word().map(|by| {
        format!("air or coolant goes on by {by} before the first cut, and off by M9 at the end")
    }));
    lines.extend(words.park.map(|park| {
        let way = match park {
            Park::MachineFrame => "",
            Park::Home => ", by way of x = y = 0",
        };
        let next = match head {
            ProgramHead::Laser(_) => "",
            ProgramHead::Router(_) => {
                ", and the next program begins there, straight up or down to the safe height"
            }
        };
        format!(
            "at the end {} parks the head at the machine's own place{way}{next} - keep the way clear, it is not proven",
            park.code()
        )
    }));
    lines
}

/// How the cutter comes into the spindle, and what its length has to do with z.
fn tool(post: &Post, head: &RouterHead) -> Vec<String> {
    let number = head.set.tool_number;
    let mut lines = Vec::new();
    match called(post) {
        Called::Not => {}
        Called::AtStop => lines.push(format!(
            "before it cuts the program stops, M0 - fit tool {number}, you may move the head for it, touch z off on \
             the bed beside the stock, then start"
        )),
        Called::ByNumber => lines.push(format!(
            "before it cuts the program stops the spindle and calls for its tool, T{number} M6"
        )),
    }
    if post.gcode.words.length_offset {
        lines.push(format!(
            "z takes in the length of tool {number} that the controller knows, G43 H{number} - set the zero with that \
             length in force"
        ));
    } else if called(post) != Called::AtStop {
        lines.push(format!(
            "no length of a tool is taken in - z must have been set with tool {number} in the spindle"
        ));
    }
    lines
}

/// How a program calls for its tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Called {
    /// It does not: the tool is there.
    Not,
    /// It stops for the operator.
    AtStop,
    /// By its number, in a change of the machine's own.
    ByNumber,
}

fn called(post: &Post) -> Called {
    let block = post.gcode.templates.tool_change.to_ascii_uppercase();
    match block.trim() {
        "" => Called::Not,
        block if block.contains("M6") || block.contains("M06") => Called::ByNumber,
        _ => Called::AtStop,
    }
}

impl CuttingHead {
    /// What its programs have the machine do besides cutting; nothing where there are none.
    pub(crate) fn besides_cutting(&self) -> Vec<String> {
        let own = self.for_programs();
        own.map_or_else(|_| Vec::new(), |own| besides_cutting(&own))
    }
}

impl RouterHead {
    /// Likewise.
    pub(crate) fn besides_cutting(&self) -> Vec<String> {
        besides_cutting(&ProgramHead::Router(self))
    }

    /// The step in which the cutter comes into the spindle.
    pub(crate) fn fitting(&self) -> String {
        let (number, name) = (self.set.tool_number, &self.set.tool_name);
        let post = &self.own.post;
        match (called(post), post.gcode.words.length_offset) {
            (Called::Not, _) => format!(
                "Cutter: fit tool {number}, {name}, before z is set: every z is that of this cutter."
            ),
            (Called::AtStop, _) => format!(
                "Cutter: tool {number}, {name}. The program stops for it before it cuts (M0): fit it then, touch z \
                 off anew if it was not in the spindle before, and start again. You may move the head meanwhile."
            ),
            (Called::ByNumber, true) => format!(
                "Cutter: tool {number}, {name}, in its place, with its length measured as the machine's manual says: the \
                 program calls for it and takes its length in."
            ),
            (Called::ByNumber, false) => format!(
                "Cutter: fit tool {number}, {name}, before z is set: the program calls for it (M6) and takes no length \
                 in, so that every z is that of this cutter."
            ),
        }
    }
}
