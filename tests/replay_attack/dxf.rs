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

/// What a machine's own software would cut from a drawing: unit, layers, contours with every group but
/// handles and owners, what its blocks hold, and what its labels say; of notes, nothing.
fn taken(text: &str) -> Vec<Vec<Pair>> {
    let pairs = pairs(text);
    let mut section = String::new();
    let mut found: Vec<Vec<Pair>> = Vec::new();
    for record in pairs.chunk_by(|_, next| next.0 != "0") {
        let kind = record[0].1.as_str();
        if kind == "SECTION" {
            section = record.get(1).map(|p| p.1.clone()).unwrap_or_default();
        }
        let layer = record
            .iter()
            .find(|p| p.0 == "8")
            .map_or("", |p| p.1.as_str());
        let told = |codes: &'static [&'static str]| move |p: &&Pair| codes.contains(&p.0.as_str());
        let kept: Vec<Pair> = match (section.as_str(), kind, layer) {
            (_, "TEXT", "lap-note") => continue,
            // A label lies in its piece, on a layer that is not cut: where in it is all the same.
            (_, "TEXT", "lap-label") => record
                .iter()
                .filter(told(&["0", "1", "8"]))
                .cloned()
                .collect(),
            // Nothing lies on layer 0, which every drawing has.
            ("TABLES", "LAYER", _) if record.contains(&("2".to_owned(), "0".to_owned())) => {
                continue;
            }
            ("ENTITIES", ..) | ("TABLES", "LAYER", _) => {
                let handle = told(&["5", "105", "330"]);
                record.iter().filter(|p| !handle(p)).cloned().collect()
            }
            ("BLOCKS", ..) => record[..1].to_vec(),
            ("HEADER", ..) => {
                let wanted = ["$INSUNITS", "$MEASUREMENT", "$ACADVER"];
                let at = |w: &[Pair]| wanted.contains(&w[0].1.as_str());
                record
                    .windows(2)
                    .filter(|w| at(w))
                    .flatten()
                    .cloned()
                    .collect()
            }
            _ => continue,
        };
        found.push(kept);
    }
    found
}

/// Whether two drawings are cut alike: the same groups, numbers within a thousandth of a micrometre.
fn same(a: &[Vec<Pair>], b: &[Vec<Pair>]) -> bool {
    let close = |a: &str, b: &str| match (a.trim().parse::<f64>(), b.trim().parse::<f64>()) {
        (Ok(a), Ok(b)) => (a - b).abs() <= 2e-6,
        _ => a == b,
    };
    a.len() == b.len()
        && a.iter().zip(b).all(|(a, b)| {
            a.len() == b.len()
                && a.iter()
                    .zip(b)
                    .all(|(p, q)| p.0 == q.0 && close(&p.1, &q.1))
        })
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
    let job = Job::new("demo");
    for (drawn, seed) in [(true, 41), (false, 42)] {
        let caught = attack(&job, 0, drawn, 4000, seed);
        assert!(caught > 3300, "{caught} of 4000 caught, drawn {drawn}");
    }
}

#[test]
fn faults_in_a_routers_drawings_are_caught_or_harmless() {
    let job = Job::new("router-square");
    for (n, drawn, seed) in [(0, true, 51), (5, false, 52)] {
        let caught = attack(&job, n, drawn, 2000, seed);
        assert!(caught > 1600, "{caught} of 2000 caught on sheet {n}");
    }
}
