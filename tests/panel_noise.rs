//! Whatever the bytes of a file are, they are read or refused with a word, and nothing else happens.

use crate::panel_support::sources;
use lapwright::panel::{BUILTIN, JobFiles, LoadError, SourceKind, parse_length};

/// Pseudo-random numbers, the same on every run: xorshift64 (G. Marsaglia, "Xorshift RNGs", 2003).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, bound: usize) -> usize {
        usize::try_from(self.next() % bound.max(1) as u64).unwrap_or(0)
    }
}

const KINDS: [(&str, SourceKind); 8] = [
    ("check", SourceKind::Panel),
    ("check", SourceKind::Machine),
    ("plain-window", SourceKind::Material),
    ("plain-window", SourceKind::Stock),
    ("plain-window", SourceKind::Post),
    ("hemp-leaf-card", SourceKind::Panel),
    ("hemp-leaf-outlines", SourceKind::Panel),
    ("hemp-leaf-card", SourceKind::Pattern),
];

/// Reads the bytes in the place of a file; a report must have at least one fault, on a line that exists.
fn take(panel: &str, kind: SourceKind, bytes: &[u8]) -> bool {
    match JobFiles::from_sources(sources(panel, kind, bytes)) {
        Ok(_) => true,
        Err(LoadError::Faults(files)) => {
            assert!(!files.is_empty());
            let most = 1 + bytes.iter().filter(|byte| **byte == b'\n').count();
            for file in &files {
                assert!(!file.list().is_empty());
                let own = file.file() == kind.file_name();
                assert!(!own || file.lines().iter().all(|line| (1..=most).contains(line)));
                assert!(file.to_string().starts_with("error: "));
            }
            false
        }
        Err(error) => unreachable!("no file is opened: {error}"),
    }
}

#[test]
fn noise_is_refused() {
    let mut noise = Noise(0x9e37_79b9_7f4a_7c15);
    let sets: [&[u8]; 3] = [
        &(0..=255).collect::<Vec<u8>>(),
        b"[]{}=.,\"'\n\r\t #-+_0123456789abcdefinx\\u\xc3\xa9\xe2\x80\x8b",
        b"[ground]\nname=pitch.\"'#5 ",
    ];
    for round in 0..1500 {
        let set = sets[round % sets.len()];
        let (panel, kind) = KINDS[noise.below(KINDS.len())];
        let length = noise.below(400);
        let bytes: Vec<u8> = (0..length).map(|_| set[noise.below(set.len())]).collect();
        assert!(!take(panel, kind, &bytes), "noise taken: {bytes:?}");
    }
    for set in sets {
        let bytes: Vec<u8> = (0..(1 << 20))
            .map(|_| set[noise.below(set.len())])
            .collect();
        assert!(!take("check", SourceKind::Panel, &bytes));
    }
}

#[test]
fn mutated_files_are_read_or_refused() {
    let mut noise = Noise(0x2545_f491_4f6c_dd1d);
    let pieces: Vec<&[u8]> = BUILTIN
        .iter()
        .flat_map(|file| file.text.as_bytes().split(|b| *b == b' '))
        .collect();
    let (mut taken, mut refused) = (0, 0);
    for _ in 0..6000 {
        let (panel, kind) = KINDS[noise.below(KINDS.len())];
        let good = crate::panel_support::panel(panel).sources;
        let source = good
            .into_iter()
            .find(|source| source.kind == kind)
            .expect("a source");
        let mut bytes = source.bytes;
        for _ in 0..=noise.below(3) {
            let at = noise.below(bytes.len());
            match noise.below(6) {
                0 => bytes[at] ^= 1 << noise.below(8),
                1 => bytes[at] = b"0123456789.-e\"'[]{}=\n#"[noise.below(22)],
                2 => drop(bytes.remove(at)),
                3 => bytes.truncate(at.max(8)),
                4 => {
                    let piece = pieces[noise.below(pieces.len())];
                    bytes.splice(at..at, piece.iter().copied());
                }
                _ => {
                    let end = (at + noise.below(60)).min(bytes.len());
                    let copy = bytes[at..end].to_vec();
                    let to = noise.below(bytes.len());
                    bytes.splice(to..to, copy);
                }
            }
        }
        if take(panel, kind, &bytes) {
            taken += 1
        } else {
            refused += 1
        }
    }
    assert!(
        taken > 100 && refused > 100,
        "{taken} taken, {refused} refused"
    );
}

#[test]
fn deep_and_long_files_are_refused() {
    for bad in [
        "[".repeat(500_000),
        "{".repeat(500_000),
        format!("a = {}", "[".repeat(500_000)),
        format!("a = {}", "{a=".repeat(300_000)),
        format!("{} = 1", "a.".repeat(500_000)),
        format!("[{}a]", "a.".repeat(500_000)),
        "a = 1\n".repeat(170_000),
        "[[a]]\n".repeat(170_000),
        (0..70_000).map(|i| format!("k{i} = {i}\n")).collect(),
        format!("name = \"{}\"", "é".repeat(500_000)),
        format!("name = '''{}'''", "\n".repeat(1_000_000)),
        format!("{} = 1", "k".repeat(1_000_000)),
        format!("quantity = {}", "9".repeat(1_000_000)),
        format!("quantity = 0.{}", "9".repeat(1_000_000)),
        format!("joint_limit = 0x{}", "f".repeat(1_000_000)),
    ] {
        assert!(!take("check", SourceKind::Panel, bad.as_bytes()));
    }
}

#[test]
fn any_text_is_a_length_or_not() {
    let mut noise = Noise(0xdead_beef_cafe_f00d);
    let letters: Vec<char> = "0123456789 ./-+mincMINCh\"″,eE½é\u{0}\t\u{200b}"
        .chars()
        .collect();
    let mut read = 0;
    for _ in 0..200_000 {
        let length = noise.below(12);
        let text: String = (0..length)
            .map(|_| letters[noise.below(letters.len())])
            .collect();
        match parse_length(&text) {
            Ok(mm) => {
                assert!(mm.is_finite(), "{text}");
                read += 1;
            }
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
    assert!(read > 100, "{read} lengths");
}
