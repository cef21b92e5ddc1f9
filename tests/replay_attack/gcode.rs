//! Programs with one fault each.

use super::jobs::Job;
use super::own_reader::{run, same};
use super::spoil::{Random, digit_changed, sign_turned};

/// The kinds of fault.
pub(super) const KINDS: usize = 7;

/// A program with one fault, and what it is; `None` where the fault fits nowhere or changes nothing.
pub(super) fn spoilt(sound: &str, kind: usize, random: &mut Random) -> Option<(String, String)> {
    let mut lines: Vec<String> = sound.lines().map(ToOwned::to_owned).collect();
    let n = random.below(lines.len());
    let line = lines[n].clone();
    let mut words: Vec<String> = line.split(' ').map(ToOwned::to_owned).collect();
    let w = random.below(words.len());
    let what = match kind {
        0 => {
            let lost = words.remove(w);
            lines[n] = words.join(" ");
            format!("{lost} dropped")
        }
        1 => {
            lines[n] = digit_changed(&line, 0, random)?;
            format!("became {}", lines[n])
        }
        2 => {
            let m = random.below(lines.len());
            lines.swap(n, m);
            format!("swapped with line {}: {}", m + 1, lines[n])
        }
        3 => {
            let (letter, number) = words[w].split_at_checked(1)?;
            words[w] = format!("{letter}{}", sign_turned(number));
            lines[n] = words.join(" ");
            format!("became {}", lines[n])
        }
        4 => {
            lines.remove(n);
            "dropped".into()
        }
        5 => {
            lines.insert(n, line.clone());
            "doubled".into()
        }
        _ => {
            // A line in another's place further on.
            let moved = lines.remove(n);
            let m = random.below(lines.len());
            lines.insert(m, moved);
            format!("moved to line {}", m + 1)
        }
    };
    let text = lines.join("\n") + "\n";
    (text != sound).then(|| (format!("line {} `{line}`: {what}", n + 1), text))
}

/// Spoils a sheet's program `count` times; gives how many faults were caught.
fn attack(job: &Job, n: usize, count: usize, seed: u64) -> usize {
    let bytes = job.cut(n).gcode;
    let sound = std::str::from_utf8(bytes).expect("ASCII");
    let base = run(bytes);
    let mut random = Random(seed);
    let (mut done, mut caught) = (0, 0);
    while done < count {
        let Some((what, text)) = spoilt(sound, done % KINDS, &mut random) else {
            continue;
        };
        done += 1;
        match job.prove_gcode(n, text.as_bytes()) {
            Err(faults) => {
                assert!(!faults.is_empty(), "{what}: refused without a reason");
                caught += 1;
            }
            Ok(_) => {
                if let Err(change) = same(&base, &run(text.as_bytes())) {
                    panic!("{what}: not caught, though {change}");
                }
            }
        }
    }
    caught
}

#[test]
fn faults_in_a_lasers_program_are_caught_or_harmless() {
    let job = Job::new("plain-window");
    let caught = attack(&job, 0, 3500, 11);
    // Faults in remarks are the harmless ones, and they are few.
    assert!(caught > 3000, "{caught} of 3500 caught");
}

#[test]
fn faults_in_a_routers_programs_are_caught_or_harmless() {
    let job = Job::new("router-square");
    for (n, seed) in [(0, 21), (1, 22), (2, 23)] {
        let caught = attack(&job, n, 1050, seed);
        assert!(caught > 850, "{caught} of 1050 caught on sheet {n}");
    }
}

#[test]
fn faults_in_programs_of_joined_pieces_are_caught_or_harmless() {
    for (panel, seed) in [(super::jobs::JOINED, 61), (super::jobs::JOINED_WIDE, 62)] {
        let job = Job::new(panel);
        let caught = attack(&job, 0, 280, seed);
        assert!(caught > 230, "{caught} of 280 caught in {panel}");
    }
}

#[test]
fn faults_in_a_three_way_program_are_caught_or_harmless() {
    let job = Job::new("three-way-card");
    let caught = attack(&job, 0, 1750, 31);
    assert!(caught > 1500, "{caught} of 1750 caught");
}

/// A file cut short, wherever it is cut, is no program.
#[test]
fn a_program_cut_short_is_refused() {
    for panel in super::jobs::PANELS {
        let job = Job::new(panel);
        let bytes = job.cut(0).gcode;
        for end in (0..bytes.len())
            .step_by(37)
            .chain([bytes.len() - 1, bytes.len() - 2])
        {
            assert!(
                job.prove_gcode(0, &bytes[..end]).is_err(),
                "{panel}: {end} bytes"
            );
        }
    }
}
