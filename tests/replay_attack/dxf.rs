//! Drawings with one fault each.
//!
//! Group codes are those of the DXF reference: 0 record, 5 and 105 handle, 8 layer, 9 header variable, 330
//! owner.

use super::jobs::Job;
use super::spoil::{Random, digit_changed, sign_turned};

/// The kinds of fault.
const KINDS: usize = 8;

type Pair = (String, String);

fn pairs(text: &str) -> Vec<Pair> {
    let lines: Vec<&str> = text.lines().collect();
    lines
        .chunks(2)
        .map(|p| {
            (
                p[0].trim().to_owned(),
                p.get(1).copied().unwrap_or_default().to_owned(),
            )
        })
        .collect()
}

/// A drawing with one fault, and what it is.
fn spoilt(sound: &str, kind: usize, random: &mut Random) -> Option<(String, String)> {
    let end = if sound.contains("\r\n") { "\r\n" } else { "\n" };
    let mut lines: Vec<String> = sound.lines().map(ToOwned::to_owned).collect();
    // Half of the faults in the entities, which are but a part of the file.
    let entities = lines
        .iter()
        .position(|l| l == "ENTITIES")
        .expect("a section");
    let mut place = || match random.below(2) {
        0 => random.below(lines.len()),
        _ => entities + random.below(lines.len() - entities),
    };
    let (n, m) = (place(), place());
    // Group code and value of the pair that the line is in.
    let (code, value) = (n / 2 * 2, n / 2 * 2 + 1);
    let line = lines[n].clone();
    let what = match kind {
        0 => {
            lines.drain(code..=value);
            "pair dropped".into()
        }
        1 => {
            lines[n] = digit_changed(&line, 0, random)?;
            format!("became {}", lines[n])
        }
        2 => {
            let other = m / 2 * 2;
            lines.swap(code, other);
            lines.swap(value, other + 1);
            format!("pair swapped with that of line {}", other + 1)
        }
        3 => {
            lines[value].parse::<f64>().ok()?;
            lines[value] = sign_turned(&lines[value]);
            format!("value became {}", lines[value])
        }
        4 => {
            lines.remove(n);
            "dropped".into()
        }
        5 => {
            lines.insert(n, line.clone());
            "doubled".into()
        }
        6 => {
            let pair = [lines[code].clone(), lines[value].clone()];
            lines.splice(value + 1..value + 1, pair);
            "pair doubled".into()
        }
        _ => {
            // A whole record dropped or doubled.
            let starts = |l: &Vec<String>| -> Vec<usize> {
                (0..l.len())
                    .step_by(2)
                    .filter(|&i| l[i].trim() == "0")
                    .collect()
            };
            let records = starts(&lines);
            let r = random.below(records.len() - 1);
            let record: Vec<String> = lines[records[r]..records[r + 1]].to_vec();
            if random.below(2) == 0 {
                lines.drain(records[r]..records[r + 1]);
                format!("record {} dropped", record[1])
            } else {
                lines.splice(records[r]..records[r], record.clone());
                format!("record {} doubled", record[1])
            }
        }
    };
    let text = lines.join(end) + end;
    (text != sound).then(|| (format!("line {} `{line}`: {what}", n + 1), text))
}

/// All that a drawing says, but for how its handles are numbered.
fn taken(text: &str) -> Vec<Pair> {
    let handle = |p: &Pair| matches!(p.0.as_str(), "5" | "105" | "330" | "350");
    pairs(text).into_iter().filter(|p| !handle(p)).collect()
}

/// Whether two drawings say the same: the same groups in one order, numbers within a thousandth of a
/// micrometre.
fn same(a: &[Pair], b: &[Pair]) -> bool {
    let close = |a: &str, b: &str| match (a.trim().parse::<f64>(), b.trim().parse::<f64>()) {
        (Ok(a), Ok(b)) => (a - b).abs() <= 2e-6,
        _ => a == b,
    };
    a.len() == b.len()
        && a.iter()
            .zip(b)
            .all(|(p, q)| p.0 == q.0 && close(&p.1, &q.1))
}

/// Spoils one of a sheet's drawings `count` times; gives how many faults were caught.
fn attack(job: &Job, n: usize, drawn: bool, count: usize, seed: u64) -> usize {
    let cut = job.cut(n);
    let bytes = if drawn { cut.drawn } else { cut.compensated };
    let sound = std::str::from_utf8(bytes).expect("text");
    let base = taken(sound);
    let mut random = Random(seed);
    let (mut done, mut caught) = (0, 0);
    while done < count {
        let Some((what, text)) = spoilt(sound, done % KINDS, &mut random) else {
            continue;
        };
        done += 1;
        match job.prove_drawing(n, drawn, text.as_bytes()) {
            Err(faults) => {
                assert!(!faults.is_empty(), "{what}: refused without a reason");
                caught += 1;
            }
            Ok(_) => assert!(same(&base, &taken(&text)), "{what}: not caught"),
        }
    }
    caught
}

#[test]
fn faults_in_a_lasers_drawings_are_caught_or_harmless() {
    let job = Job::new("plain-window");
    for (drawn, seed) in [(true, 41), (false, 42)] {
        let caught = attack(&job, 0, drawn, 4000, seed);
        assert!(caught > 3700, "{caught} of 4000 caught, drawn {drawn}");
    }
}

#[test]
fn faults_in_a_routers_drawings_are_caught_or_harmless() {
    let job = Job::new("router-square");
    for (n, drawn, seed) in [(0, true, 51), (2, false, 52)] {
        let caught = attack(&job, n, drawn, 2000, seed);
        assert!(caught > 1850, "{caught} of 2000 caught on sheet {n}");
    }
}

#[test]
fn faults_in_drawings_of_joined_pieces_are_caught_or_harmless() {
    let job = Job::new(super::jobs::JOINED_WIDE);
    for (drawn, seed) in [(true, 71), (false, 72)] {
        let caught = attack(&job, 0, drawn, 2000, seed);
        assert!(caught > 1850, "{caught} of 2000 caught, drawn {drawn}");
    }
}
