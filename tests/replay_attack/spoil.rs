//! Faults by the dozen, the same in every run.

/// A plain generator of numbers (Knuth's MMIX constants, from memory).
pub struct Random(pub u64);

impl Random {
    /// A number below `n`; 0 where `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        let (a, c) = (6_364_136_223_846_793_005, 1_442_695_040_888_963_407);
        self.0 = self.0.wrapping_mul(a).wrapping_add(c);
        ((self.0 >> 33) as usize) % n.max(1)
    }
}

/// Another digit in place of one of a line's digits, from byte `from` on; `None` if it has none.
pub fn digit_changed(line: &str, from: usize, random: &mut Random) -> Option<String> {
    let digits: Vec<usize> = line
        .bytes()
        .enumerate()
        .filter(|(i, b)| *i >= from && b.is_ascii_digit())
        .map(|(i, _)| i)
        .collect();
    let &at = digits.get(random.below(digits.len()))?;
    let old = line.as_bytes()[at] - b'0';
    // One of the nine others.
    let new = (usize::from(old) + 1 + random.below(9)) % 10;
    let mut spoilt = line.to_owned();
    spoilt.replace_range(at..=at, &new.to_string());
    Some(spoilt)
}

/// The number with its sign turned.
pub fn sign_turned(number: &str) -> String {
    match number.trim().strip_prefix('-') {
        Some(rest) => rest.to_owned(),
        None => format!("-{}", number.trim()),
    }
}
