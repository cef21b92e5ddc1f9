//! How long remarks are broken.

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
