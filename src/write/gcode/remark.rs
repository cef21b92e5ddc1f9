//! Text of remarks: what may stand in one, and how long ones are broken.

/// Text that may stand in a remark: printable ASCII without round brackets or semicolons (a remark
/// ends at the first closing bracket, and none may stand inside another; NISTIR 6556, 3.3.3).
#[must_use]
pub(super) fn sanitise(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '(' => '[',
            ')' => ']',
            ';' => ',',
            '\t' | '\n' | '\r' => ' ',
            ' '..='~' => c,
            _ => '?',
        })
        .collect()
}

/// Breaks a remark between words into parts of at most `limit` characters; a single word that is too long is broken where it must be.
pub(super) fn wrap(text: &str, limit: usize) -> Vec<String> {
    let mut parts = vec![String::new()];
    for word in text.split_whitespace() {
        // The text is ASCII, so that any byte count is a count of characters.
        let mut word = word;
        loop {
            let Some(part) = parts.last_mut() else {
                return parts;
            };
            let room = limit.saturating_sub(part.len());
            let space = usize::from(!part.is_empty());
            if word.len() + space <= room {
                if space == 1 {
                    part.push(' ');
                }
                part.push_str(word);
                break;
            }
            if part.is_empty() {
                let (head, tail) = word.split_at(limit.clamp(1, word.len()));
                part.push_str(head);
                word = tail;
            }
            parts.push(String::new());
        }
    }
    parts.retain(|p| !p.is_empty());
    parts
}

#[cfg(test)]
mod tests {
    use super::super::REMARK_LIMIT;
    use super::*;

    #[test]
    fn a_remark_cannot_end_early_or_open_another() {
        assert_eq!(
            sanitise("face 4 (3.97); Weiß\u{e9}\n"),
            "face 4 [3.97], Wei?? "
        );
    }

    #[test]
    fn long_remarks_break_between_words() {
        let text = "word ".repeat(60);
        let parts = wrap(&text, REMARK_LIMIT);
        assert!(
            parts.len() > 1 && parts.iter().all(|p| p.len() <= REMARK_LIMIT),
            "{parts:?}"
        );
        assert_eq!(parts.join(" "), text.trim_end(), "nothing is lost");
        let long = "x".repeat(2 * REMARK_LIMIT + 5);
        assert_eq!(
            wrap(&long, REMARK_LIMIT).concat(),
            long,
            "a word without a gap is kept whole in pieces"
        );
        assert!(wrap("   ", REMARK_LIMIT).is_empty(), "blanks are no remark");
    }
}
