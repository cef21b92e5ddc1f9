//! Seeded faults: what changes a cut, or its safety, is caught.
//!
//! A file is spoilt by one fault at a time: a word dropped or doubled, a digit changed, a sign turned, a
//! letter changed, a line dropped, doubled or moved, two lines swapped, the end cut off. Either the
//! reader or the motion rules catch it, or the test proves it harmless: the spoilt file makes the same
//! cuts, in the same order, at the same feed, with the head in the same state, and travels the same way.

use lapwright::panel::Post;
use lapwright::path::Program;
use lapwright::replay::gcode_read::{EventKind, Trace, read};
use lapwright::replay::motion::{MotionLimits, check_motion};

use super::further::FURTHER;
use super::sample::{FILES, dialect, frame, program_for, rules};
use super::text;

/// How far a harmless fault may move a cut, mm (the replay's own limit).
const HARMLESS: f64 = 0.005;

const FAULTS_PER_FILE: usize = 4000;

/// A plain generator of numbers (Knuth's MMIX constants).
pub struct Random(pub u64);

impl Random {
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % n.max(1)
    }
}

/// Spoils a file in one way; gives what was done and the spoilt file.
fn spoil(sound: &str, random: &mut Random) -> (String, String) {
    let lines: Vec<&str> = sound.lines().collect();
    let n = random.below(lines.len());
    let line = lines[n];
    let words: Vec<&str> = line.split(' ').collect();
    let w = random.below(words.len());
    let mut spoilt: Vec<String> = lines.iter().map(ToString::to_string).collect();
    let joined = |words: &[&str]| words.join(" ");
    let done = match random.below(11) {
        0 => {
            let mut kept = words.clone();
            kept.remove(w);
            spoilt[n] = joined(&kept);
            format!("word {:?} of line {} dropped", words[w], n + 1)
        }
        1 => {
            let mut more = words.clone();
            more.insert(w, words[w]);
            spoilt[n] = joined(&more);
            format!("word {:?} of line {} doubled", words[w], n + 1)
        }
        2 | 3 => {
            let digits: Vec<usize> = line
                .bytes()
                .enumerate()
                .filter(|(_, b)| b.is_ascii_digit())
                .map(|(i, _)| i)
                .collect();
            let digit = random.below(10).to_string();
            match digits.get(random.below(digits.len())) {
                Some(&at) => spoilt[n].replace_range(at..=at, &digit),
                None => spoilt[n].push_str(&digit),
            }
            format!("a digit of line {} became {digit}", n + 1)
        }
        4 => {
            let turned = match words[w].split_at_checked(1) {
                Some((letter, value)) => match value.strip_prefix('-') {
                    Some(value) => format!("{letter}{value}"),
                    None => format!("{letter}-{value}"),
                },
                None => "-".into(),
            };
            let mut changed = words.clone();
            changed[w] = &turned;
            spoilt[n] = joined(&changed);
            format!("sign of {:?} of line {} turned", words[w], n + 1)
        }
        5 => {
            let letters = [
                "G", "M", "X", "Y", "Z", "I", "J", "F", "S", "P", "N", "T", "A",
            ];
            let letter = letters[random.below(letters.len())];
            let changed = words[w].get(1..).unwrap_or_default();
            let changed = format!("{letter}{changed}");
            let mut all = words.clone();
            all[w] = &changed;
            spoilt[n] = joined(&all);
            format!("{:?} of line {} became {changed:?}", words[w], n + 1)
        }
        6 => {
            spoilt.remove(n);
            format!("line {} dropped", n + 1)
        }
        7 => {
            spoilt.insert(n, line.into());
            format!("line {} doubled", n + 1)
        }
        8 => {
            let m = random.below(lines.len());
            spoilt.swap(n, m);
            format!("lines {} and {} swapped", n + 1, m + 1)
        }
        9 => {
            let next = (n + 1).min(lines.len() - 1);
            spoilt.swap(n, next);
            format!("line {} swapped with the next", n + 1)
        }
        _ => {
            let end = random.below(sound.len());
            return (format!("cut off after {end} bytes"), sound[..end].into());
        }
    };
    (done, spoilt.join("\n") + "\n")
}

fn close(a: [f64; 3], b: [f64; 3]) -> bool {
    a.iter().zip(b).all(|(a, b)| (a - b).abs() <= HARMLESS)
}

/// Whether two traces do the same: every move, switch, wait and remark, in the same order.
fn harmless(sound: &Trace, spoilt: &Trace) -> bool {
    let (a, b) = (&sound.events, &spoilt.events);
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(&a.kind, &b.kind))
}

fn same(a: &EventKind, b: &EventKind) -> bool {
    match (a, b) {
        (
            EventKind::Travel { from, to },
            EventKind::Travel {
                from: from2,
                to: to2,
            },
        ) => close(*from, *from2) && close(*to, *to2),
        (
            EventKind::Cut {
                from,
                to,
                arc,
                feed,
                head_on,
                power_or_speed,
            },
            EventKind::Cut {
                from: from2,
                to: to2,
                arc: arc2,
                feed: feed2,
                head_on: head_on2,
                power_or_speed: power_or_speed2,
            },
        ) => {
            let same_arc = match (arc, arc2) {
                (None, None) => true,
                (Some(a), Some(b)) => {
                    let flat = |c: [f64; 2]| [c[0], c[1], 0.0];
                    a.ccw == b.ccw && close(flat(a.centre), flat(b.centre))
                }
                _ => false,
            };
            close(*from, *from2)
                && close(*to, *to2)
                && same_arc
                && (feed - feed2).abs() < 0.001
                && head_on == head_on2
                && (power_or_speed - power_or_speed2).abs() < 0.001
        }
        (EventKind::Dwell { seconds: a }, EventKind::Dwell { seconds: b })
        | (EventKind::HeadOn { word: a }, EventKind::HeadOn { word: b }) => (a - b).abs() < 0.001,
        (
            EventKind::Remark {
                text: a,
                blocks: m,
                alone: x,
            },
            EventKind::Remark {
                text: b,
                blocks: n,
                alone: y,
            },
        ) => m == n && x == y && a.split_ascii_whitespace().eq(b.split_ascii_whitespace()),
        (a, b) => a == b,
    }
}

struct Tally {
    read: usize,
    motion: usize,
    harmless: usize,
}

fn attack(program: &Program, post: &Post, limits: &MotionLimits, seed: u64) -> Tally {
    let sound = text(program, post);
    let rules = rules(post);
    let frame = frame(program, post);
    let original = read(sound.as_bytes(), &rules, &frame).expect("sound");
    assert_eq!(
        check_motion(&original, program, limits, &rules, &frame),
        vec![],
        "sound"
    );
    let mut random = Random(seed);
    let mut tally = Tally {
        read: 0,
        motion: 0,
        harmless: 0,
    };
    for _ in 0..FAULTS_PER_FILE {
        let (done, spoilt) = spoil(&sound, &mut random);
        match read(spoilt.as_bytes(), &rules, &frame) {
            Err(faults) => {
                assert!(!faults.is_empty(), "{done}: refused without a reason");
                tally.read += 1;
            }
            Ok(trace) if !check_motion(&trace, program, limits, &rules, &frame).is_empty() => {
                tally.motion += 1
            }
            Ok(trace) => {
                assert!(
                    harmless(&original, &trace),
                    "{done}: slipped through\n{spoilt}"
                );
                tally.harmless += 1;
            }
        }
    }
    tally
}

#[test]
fn seeded_faults_are_caught_or_harmless() {
    for name in FILES.iter().map(|(name, _)| *name).chain(FURTHER) {
        let post = dialect(name);
        let (program, limits) = program_for(&post);
        for seed in 1..=3 {
            let tally = attack(&program, &post, &limits, seed);
            // The attack must have teeth: both guards are needed (numbered lines leave little to the
            // second), and few faults only touch remarks, doubled switches and the like.
            assert!(
                tally.read > FAULTS_PER_FILE / 5,
                "{name}: the reader caught {}",
                tally.read
            );
            let part = if post.gcode.line_numbers.is_some() {
                10
            } else {
                5
            };
            assert!(
                tally.motion > FAULTS_PER_FILE / part,
                "{name}: the rules caught {}",
                tally.motion
            );
            assert!(
                tally.harmless < FAULTS_PER_FILE / 4,
                "{name}: {} were harmless",
                tally.harmless
            );
        }
    }
}
