//! Remarks: those of the plan and of the dialect, all of them, in their order.

use crate::letters;
use crate::replay::gcode_read::{Frame, Saying};

/// A part of a word that a line has no room for has at least as many characters: lines have 40 or more, less what
/// goes round a remark.
const LONG: usize = 20;

/// Remarks that must stand next, one after the other. Blanks are as good as one, and a remark may be broken
/// between words, or within one that is longer than a line.
pub(super) struct Remarks {
    /// The remarks still to come, the next one last.
    rest: Vec<Wanted>,
}

struct Wanted {
    /// What is left of it.
    text: Vec<char>,
    /// How many of its characters have stood.
    at: usize,
    /// Whether the form of the program's remarks goes round each part of it.
    framed: bool,
    /// How many blocks stand before it, where that is known.
    blocks: Option<usize>,
    alone: bool,
}

impl Remarks {
    /// `from` is the block that the remarks' own counts begin at.
    pub(super) fn of(list: &[Saying], from: usize) -> Self {
        let wanted = |saying: &Saying| {
            let text = if saying.program {
                letters::remark(&saying.text).chars().collect()
            } else {
                plain(&saying.text)
            };
            (!text.is_empty()).then_some(Wanted {
                text,
                at: 0,
                framed: saying.program,
                blocks: saying.blocks.map(|n| from + n),
                alone: saying.alone,
            })
        };
        Self {
            rest: list.iter().rev().filter_map(wanted).collect(),
        }
    }

    pub(super) fn of_move(text: &str) -> Self {
        Self::of(&[Saying::of_move(text)], 0)
    }

    /// Whether all have stood.
    pub(super) fn done(&self) -> bool {
        self.rest.is_empty()
    }

    /// What should stand next.
    pub(super) fn next(&self) -> String {
        let next = self.rest.last();
        next.map_or_else(String::new, |w| w.text.iter().skip(w.at).collect())
    }

    /// Takes a remark of the file that stands after so many blocks, alone on its line or not, if it is the next
    /// one or its next part.
    pub(super) fn take(&mut self, found: &str, blocks: usize, alone: bool, frame: &Frame) -> bool {
        let Some(wanted) = self.rest.last_mut() else {
            return false;
        };
        if wanted.alone != alone || wanted.blocks.is_some_and(|n| n != blocks) {
            return false;
        }
        let mut part = found;
        if wanted.framed {
            let [before, after] = &frame.mark;
            let inner = found.strip_prefix(before.as_str());
            let Some(inner) = inner.and_then(|f| f.strip_suffix(after.as_str())) else {
                return false;
            };
            part = inner;
        }
        let part = plain(part);
        let mut at = wanted.at;
        if at > 0 && wanted.text.get(at) == Some(&' ') {
            at += 1;
        }
        let end = at + part.len();
        // Within a word a break stands only where the word alone is longer than a line has room for.
        let in_word = |k: usize| k > 0 && k < wanted.text.len() && wanted.text.get(k) != Some(&' ');
        let long = part.len() >= LONG && !part.contains(&' ');
        let fits = !part.is_empty()
            && (!in_word(end) || long)
            && wanted.text.len() >= at + part.len()
            && (wanted.text.iter().skip(at).zip(&part)).all(|(want, found)| want == found);
        if !fits {
            return false;
        }
        wanted.at = at + part.len();
        if wanted.at == wanted.text.len() {
            self.rest.pop();
        }
        true
    }
}

/// A text with one blank for any row of them, and none at its ends.
fn plain(text: &str) -> Vec<char> {
    let words: Vec<&str> = text.split_ascii_whitespace().collect();
    words.join(" ").chars().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_remark_may_be_broken_and_nothing_else() {
        let frame = Frame::default();
        let whole = "zero on the bed (not on top), at the lower left corner";
        for parts in [
            vec!["zero on the bed not on top, at the lower left corner"],
            vec![
                "zero on the bed",
                "not on top, at the  lower left",
                "corner",
            ],
        ] {
            let mut said = Remarks::of_move(whole);
            assert!(
                parts.iter().all(|p| said.take(p, 0, true, &frame)),
                "{parts:?}"
            );
            assert!(said.done(), "{parts:?}");
        }
        for spoilt in [
            "zero on the top",
            "zero on the b",
            "z",
            "zero on the bed1",
            "zero on the bed, not on top, at the lower left corner, always",
            "zero  onthe bed",
            "",
            "bed",
            "zero on the bed 1not",
        ] {
            let mut said = Remarks::of_move(whole);
            assert!(!said.take(spoilt, 0, true, &frame), "{spoilt}");
        }
        let mut said = Remarks::of_move(whole);
        assert!(said.take("zero on", 0, true, &frame) && !said.done());
        let long = "x".repeat(50);
        let mut said = Remarks::of_move(&format!("a {long} b"));
        let parts = ["a", &long[..38], &long[38..], "b"];
        assert!(parts.iter().all(|p| said.take(p, 0, true, &frame)) && said.done());
    }
}
