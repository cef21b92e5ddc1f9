//! What stands round the moves and between them: the dialect's own head and tail word for word, and nothing
//! but moves, their feeds and a laser's beam in the body.

use std::collections::VecDeque;

use super::frame::Block;
use super::words::Word;
use super::{Frame, ReplayFault, Trace, fault};

/// Follows the blocks of a program.
pub(super) struct Watch<'f> {
    frame: &'f Frame,
    laser: bool,
    /// Blocks so far; lines with remarks alone are none.
    count: usize,
    /// Events of the head.
    head_events: usize,
    /// The last blocks, as many as the tail has: their words, lines and first events.
    last: VecDeque<(Block, usize, usize)>,
    /// Blocks of the body that hold what a body may not, each with its place in the count.
    strays: Vec<(usize, ReplayFault)>,
    faults: Vec<ReplayFault>,
}

impl<'f> Watch<'f> {
    pub(super) fn new(frame: &'f Frame, laser: bool) -> Self {
        Self {
            frame,
            laser,
            count: 0,
            head_events: 0,
            last: VecDeque::new(),
            strays: Vec::new(),
            faults: Vec::new(),
        }
    }

    /// How many blocks there have been.
    pub(super) fn count(&self) -> usize {
        self.count
    }

    /// Takes a block that made the events from the first of `events` up to the second; `rapid` while G0 is in
    /// force, which takes no feed.
    pub(super) fn block(&mut self, words: &[Word], line: usize, events: [usize; 2], rapid: bool) {
        match self.frame.before.get(self.count) {
            Some(wanted) => {
                self.head_events = events[1];
                if !same(words, wanted) {
                    self.faults.push(differs(words, wanted, line));
                }
                self.faults.extend(goes(words, line));
            }
            None if !self.is_move(words, rapid) => {
                let what = format!(
                    "{} among the moves, where nothing stands but moves, their feeds{}",
                    text(words),
                    if self.laser { " and the beam" } else { "" }
                );
                self.strays
                    .push((self.count, fault("body-words", line, what)));
            }
            None => {}
        }
        self.count += 1;
        let tail = self.frame.after.len();
        if tail == 0 {
            return;
        }
        if self.last.len() == tail {
            self.last.pop_front();
        }
        self.last.push_back((words.to_vec(), line, events[0]));
    }

    /// Tells the trace where head and tail end and begin, and what is wrong with them.
    pub(super) fn finish(self, trace: &mut Trace) {
        let tail = self.frame.after.len();
        let body = self.count.saturating_sub(tail);
        let mut faults = self.faults;
        faults.extend(self.frame.unread.iter().cloned());
        faults.extend(
            (self.strays.into_iter())
                .filter(|(place, _)| *place < body)
                .map(|(_, f)| f),
        );
        for ((words, line, _), wanted) in self.last.iter().zip(&self.frame.after) {
            if !same(words, wanted) {
                faults.push(differs(words, wanted, *line));
            }
            faults.extend(goes(words, *line));
        }
        if self.count < self.frame.before.len() + tail {
            faults.push(ReplayFault {
                rule: "frame",
                line: None,
                what: format!(
                    "{} blocks; the dialect's head and tail alone have {}",
                    self.count,
                    self.frame.before.len() + tail
                ),
            });
        }
        let from = self.last.front().map(|(_, _, event)| *event);
        let events = trace.events.len();
        trace.head_events = self.head_events;
        trace.tail_block = body;
        trace.tail_events = events - from.unwrap_or(events).max(self.head_events);
        trace.frame_faults = faults;
    }

    /// Whether a block is a move with its feed, or switches a laser's beam.
    fn is_move(&self, words: &[Word], rapid: bool) -> bool {
        let axes = words
            .iter()
            .any(|w| matches!(w, Word::Value('X' | 'Y' | 'Z', _)));
        let of_move = |w: &Word| match w {
            Word::G(code) => matches!(code, 0 | 10 | 20 | 30),
            Word::Value('F', _) => !rapid,
            Word::Value(letter, _) => "XYZIJ".contains(*letter),
            Word::M(_) | Word::T(_) => false,
        };
        let of_beam = |w: &Word| match w {
            Word::M(code) => matches!(code, 30 | 40 | 50),
            Word::Value(letter, _) => *letter == 'S',
            Word::G(_) | Word::T(_) => false,
        };
        if axes {
            words.iter().all(of_move)
        } else {
            self.laser
                && words.iter().all(of_beam)
                && match words.iter().find(|w| matches!(w, Word::M(_))) {
                    Some(Word::M(50)) => words.len() == 1,
                    Some(_) => {
                        words.len() == 2 && words.iter().any(|w| matches!(w, Word::Value(..)))
                    }
                    None => false,
                }
        }
    }
}

/// Whether two blocks hold the same words; in which order they stand has no meaning (NISTIR 6556, 3.3.2).
fn same(a: &[Word], b: &[Word]) -> bool {
    let sorted = |words: &[Word]| {
        let mut words = words.to_vec();
        words.sort_by(Word::order);
        words
    };
    a.len() == b.len() && (a == b || sorted(a) == sorted(b))
}

/// A move in the plane in head or tail, even one that goes nowhere: where the head stands there is not known. What
/// parks the head has rules of its own.
fn goes(words: &[Word], line: usize) -> Option<ReplayFault> {
    let in_plane = |w: &Word| matches!(w, Word::Value('X' | 'Y' | 'I' | 'J', _));
    let parks = words.iter().any(|w| matches!(w, Word::G(530 | 280)));
    (!parks && words.iter().any(in_plane)).then(|| {
        let what = format!(
            "{}: a move in the plane before the program's first or after its last",
            text(words)
        );
        fault("frame", line, what)
    })
}

fn differs(words: &[Word], wanted: &[Word], line: usize) -> ReplayFault {
    let what = format!("{}; the dialect has {} here", text(words), text(wanted));
    fault("frame", line, what)
}

fn text(words: &[Word]) -> String {
    let texts: Vec<String> = words.iter().map(Word::to_string).collect();
    texts.join(" ")
}
