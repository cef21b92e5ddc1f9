//! What a dialect's file says that stands round the moves of a program: its blocks, word for word, and all
//! remarks of the program in order.

use crate::document::Numbers;
use crate::panel::Post;
use crate::path::{PathBox, Program};
use crate::replay::{DialectRules, ReplayFault};
use crate::write::gcode::{FrameText, PostError, frame_text};

use super::words::{Blocks, Word, parse, scan};

/// The words of a line.
pub(super) type Block = Vec<Word>;

/// Head and tail of one program, and the remarks that stand outside its moves.
///
/// They come from the dialect's file and the plan's notes; the rules of motion judge what they do.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Frame {
    pub(super) before: Vec<Block>,
    pub(super) after: Vec<Block>,
    /// Remarks before the first move.
    pub(crate) first: Vec<Saying>,
    /// Remarks after the last move.
    pub(crate) last: Vec<Saying>,
    /// What a remark of the program has before and after its text.
    pub(crate) mark: [String; 2],
    /// What of the dialect's own text cannot be read: nothing can then be held against it.
    pub(super) unread: Vec<ReplayFault>,
}

/// A remark that must stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Saying {
    /// Its text.
    pub(crate) text: String,
    /// Whether it is one of the program's, in the dialect's form; else the dialect's own, as it is.
    pub(crate) program: bool,
    /// How many blocks of the head, or of the tail, stand before it; `None` where moves say where it stands.
    pub(crate) blocks: Option<usize>,
    /// Whether its line holds nothing else.
    pub(crate) alone: bool,
}

impl Saying {
    /// A remark of the program between its moves.
    pub(crate) fn of_move(text: &str) -> Self {
        Self {
            text: text.to_owned(),
            program: true,
            blocks: None,
            alone: true,
        }
    }
}

impl Frame {
    /// The frame of `program` in the dialect of `post`.
    ///
    /// # Errors
    /// As [`crate::write::gcode::render`].
    pub fn of(program: &Program, post: &Post) -> Result<Self, PostError> {
        let path = PathBox::of(program);
        Ok(Self::with(
            program,
            post,
            path,
            &frame_text(program, post, false)?,
        ))
    }

    /// The frame of an air run that goes round `path`.
    ///
    /// # Errors
    /// As [`Frame::of`].
    pub fn of_air_run(air: &crate::path::AirRun, post: &Post) -> Result<Self, PostError> {
        let text = frame_text(&air.program, post, true)?;
        Ok(Self::with(&air.program, post, air.path, &text))
    }

    fn with(program: &Program, post: &Post, path: PathBox, text: &FrameText) -> Self {
        let rules = DialectRules::of(&post.gcode);
        let mut unread = Vec::new();
        let mut blocks_of = |text: &str| blocks_of(text, &rules, &mut unread);
        let (mut before, begin) = blocks_of(&text.begin);
        let (start, starting) = blocks_of(&text.start);
        let (after, last) = blocks_of(&text.end);
        let begun = before.len();
        before.extend(start);
        let own = |from: usize| {
            move |(text, blocks, alone): (String, usize, bool)| Saying {
                text,
                program: false,
                blocks: Some(from + blocks),
                alone,
            }
        };
        let room = path.words(Numbers::of_dialect(post));
        let notes = program
            .notes
            .iter()
            .map(|note| note.text.clone())
            .chain(room);
        let note = |text| Saying {
            text,
            program: true,
            blocks: Some(begun),
            alone: true,
        };
        // A line of its own, like any other.
        let (_, sample) = blocks_of(&format!("{}\n", text.remark.trim_end()));
        let sample = sample.first();
        let mark = sample.and_then(|(text, ..)| text.split_once(FrameText::sample()));
        Self {
            before,
            after,
            first: (begin.into_iter().map(own(0)))
                .chain(notes.map(note))
                .chain(starting.into_iter().map(own(begun)))
                .collect(),
            last: last.into_iter().map(own(0)).collect(),
            mark: mark.map_or_else(Default::default, |(a, b)| {
                [a.trim().to_owned(), b.trim().to_owned()]
            }),
            unread,
        }
    }
}

/// The blocks of a dialect's own text, and its remarks, each with how many blocks stand before it and whether it
/// has its line to itself; what cannot be read of it is added to `unread`.
fn blocks_of(
    text: &str,
    rules: &DialectRules,
    unread: &mut Vec<ReplayFault>,
) -> (Vec<Block>, Vec<(String, usize, bool)>) {
    #[derive(Default)]
    struct All {
        blocks: Vec<Block>,
        remarks: Vec<(String, usize, bool)>,
        faults: Vec<ReplayFault>,
    }
    impl Blocks for All {
        fn block(&mut self, words: &[Word], _: Option<u32>, remarks: &[String], _: usize) {
            if !words.is_empty() {
                self.blocks.push(words.to_vec());
            }
            let (count, alone) = (self.blocks.len(), words.is_empty());
            self.remarks
                .extend(remarks.iter().map(|text| (text.clone(), count, alone)));
        }

        fn faults(&mut self) -> &mut Vec<ReplayFault> {
            &mut self.faults
        }
    }
    let mut all = All::default();
    let plain = DialectRules {
        percent_lines: false,
        ..*rules
    };
    // A dialect may have nothing to say in one of its places.
    if !text.is_empty() {
        match scan(text.as_bytes(), &plain) {
            Ok(text) => parse(text, &mut all),
            Err(faults) => all.faults.extend(faults),
        }
    }
    // The lines are the dialect's own, not those of the program.
    unread.extend(all.faults.into_iter().map(|f| ReplayFault {
        rule: "frame",
        line: None,
        what: format!("the dialect's own text cannot be read: {f}"),
    }));
    (all.blocks, all.remarks)
}
