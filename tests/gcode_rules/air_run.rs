//! Air runs in every dialect: what is written, and every rule broken by one change.

use lapwright::geom::Point;
use lapwright::panel::Post;
use lapwright::path::{AirRun, Head, Move, Note, NoteKind, PathBox};
use lapwright::replay::air_run::{AIR_RULES, AirLimits, check_air_run};
use lapwright::replay::gcode_read::{Frame, read};
use lapwright::write::gcode::render_air_run;

use super::further::FURTHER;
use super::sample::{FILES, dialect, laser_post, program_for, router_post, rules};

/// Feed of travel, mm/min.
const FEED: f64 = 2400.0;

fn air(post: &Post) -> (AirRun, AirLimits) {
    let (program, limits) = program_for(post);
    let air = AirRun::of(
        &program,
        FEED,
        vec![Note::new(NoteKind::Work, "above the work")],
    );
    let limits = AirLimits {
        travel: limits.travel,
        greatest_feed: limits.feed[1],
    };
    (air, limits)
}

fn text(post: &Post) -> String {
    let bytes = render_air_run(&air(post).0, post).expect("an air run can be written");
    String::from_utf8(bytes).expect("plain ASCII")
}

/// Head and tail of an air run.
fn frame(air: &AirRun, post: &Post) -> Frame {
    Frame::of_air_run(air, post).expect("an air run can be written")
}

/// The rules that a file breaks, each once.
fn broken(post: &Post, text: &str) -> Vec<&'static str> {
    let (air, limits) = air(post);
    let rules = rules(post).for_air_run();
    let frame = frame(&air, post);
    let faults = match read(text.as_bytes(), &rules, &frame) {
        Ok(trace) => check_air_run(&trace, &air, &limits, &rules, &frame),
        Err(faults) => faults,
    };
    let mut broken: Vec<&'static str> = faults.iter().map(|f| f.rule).collect();
    broken.sort_unstable();
    broken.dedup();
    broken
}

/// The lines without their numbers.
fn lines(text: &str) -> Vec<String> {
    let bare = |line: &str| match line.split_once(' ') {
        Some((first, rest)) if first.starts_with('N') => rest.to_owned(),
        _ => line.to_owned(),
    };
    text.lines().map(bare).collect()
}

/// The lines as a file, numbered as the dialect has it.
fn numbered(lines: &[String], post: &Post) -> String {
    let mut next = post.gcode.line_numbers.map_or(0, |n| n.start);
    let mut out = String::new();
    for line in lines {
        match post.gcode.line_numbers {
            Some(numbers) if line != "%" => {
                out += &format!("N{next} {line}\n");
                next += numbers.step;
            }
            _ => out += &format!("{line}\n"),
        }
    }
    out
}

/// Written by hand from the standard: the box of the sample, whose outline runs from 8.5 to 71.5 and from 8.5
/// to 23.5, and whose notch begins at y 24.
#[test]
fn an_air_run_is_what_the_standard_makes_of_it() {
    let want = "\
G21 G17 G90 G94 G40 G49 G80 G54 G61
(tool 3, straight, 2 flutes, diameter 3.000 mm)
(above the work)
(path of the tool centre, mm - x 8.50 to 71.50, y 8.50 to 24.00, z -0.20 to 19.00)
(zero needs, mm - 0.00 to its left, 71.50 to its right, 0.00 in front, 24.00 behind, 0.20 below, 19.00 above)
M5
G0 Z19.000
G1 X8.500 Y8.500 F2400
G1 X71.500 Y8.500 F2400
G1 X71.500 Y24.000 F2400
G1 X8.500 Y24.000 F2400
G1 X8.500 Y8.500 F2400
G1 X0.000 Y0.000 F2400
M2
";
    assert_eq!(text(&router_post()), want);
    let laser = text(&laser_post());
    assert!(
        !laser.contains('Z') && laser.contains("\nM5\nG1 X9.920 Y9.920 F2400\n"),
        "{laser}"
    );
}

#[test]
fn every_dialect_writes_a_sound_one() {
    for name in FILES.iter().map(|(name, _)| *name).chain(FURTHER) {
        let post = dialect(name);
        let sound = text(&post);
        assert_eq!(broken(&post, &sound), [""; 0], "{name}: {sound}");
        assert_eq!(numbered(&lines(&sound), &post), sound, "{name}");
        for (index, line) in sound.lines().enumerate() {
            assert!(
                line.len() <= post.gcode.line_limit,
                "{name}, line {index}: {line}"
            );
        }
    }
}

/// The number of a word with its last digit changed by one.
fn stepped(line: &str, letter: char) -> String {
    let word = line
        .split(' ')
        .find(|w| w.starts_with(letter))
        .expect("the word");
    let last = word.bytes().next_back().expect("a digit");
    let new = if last == b'9' { b'8' } else { last + 1 };
    let mut other = word.to_owned();
    other.replace_range(word.len() - 1.., &char::from(new).to_string());
    line.replacen(word, &other, 1)
}

/// A change to the lines; `at` are the lines of the straight moves, `off` that of M5.
type Change = fn(&mut Vec<String>, at: &[usize], off: usize);

/// Changes to any air run, and the rule that each breaks.
const CHANGES: [(&str, &str, Change); 25] = [
    ("a move that goes nowhere", "air-rapid", |l, at, _| {
        let stop = l[at[2]].replacen("G1", "G0", 1);
        l.insert(at[2] + 1, stop);
    }),
    ("a wait over the work", "air-wait", |l, at, _| {
        l.insert(at[1], "G4 P60".into());
    }),
    ("a wait at the end", "air-wait", |l, at, _| {
        l.insert(at[5] + 1, "G4 P60".into());
    }),
    ("another note", "remark", |l, _, _| {
        l.iter_mut()
            .for_each(|line| *line = line.replace("above the work", "in the work"));
    }),
    ("a note that is not there", "remark", |l, _, _| {
        l.retain(|line| !line.contains("above the work"));
    }),
    ("two stops", "body-words", |l, _, off| {
        l.insert(off, "M5".into());
    }),
    ("a stop with a feed", "frame", |l, _, off| {
        l[off] = "M5 F900".into()
    }),
    ("a plane chosen again", "body-words", |l, at, _| {
        l.insert(at[2], "G17".into());
    }),
    ("M5 dropped", "air-head", |l, _, off| {
        l.remove(off);
    }),
    ("M5 late", "air-head", |l, at, off| {
        let m5 = l.remove(off);
        l.insert(at[0], m5);
    }),
    ("M1", "word", |l, _, off| l.insert(off, "M1".into())),
    ("M60", "word", |l, _, off| l.insert(off, "M60".into())),
    ("a corner moved in x", "air-box", |l, at, _| {
        l[at[2]] = stepped(&l[at[2]], 'X');
    }),
    ("a corner moved in y", "air-box", |l, at, _| {
        l[at[3]] = stepped(&l[at[3]], 'Y');
    }),
    ("the first corner moved", "air-box", |l, at, _| {
        l[at[0]] = stepped(&l[at[0]], 'Y');
    }),
    ("a corner missing", "air-box", |l, at, _| {
        l.remove(at[1]);
    }),
    (
        "the way back to the first corner missing",
        "air-box",
        |l, at, _| {
            l.remove(at[4]);
        },
    ),
    ("corners in another order", "air-box", |l, at, _| {
        l.swap(at[1], at[3])
    }),
    ("a corner twice", "air-box", |l, at, _| {
        let twice = l[at[1]].clone();
        l.insert(at[1], twice);
    }),
    ("an end beside the zero", "air-end", |l, at, _| {
        l[at[5]] = stepped(&l[at[5]], 'X');
    }),
    ("no way to the zero", "air-end", |l, at, _| {
        l.remove(at[5]);
    }),
    ("a rapid", "air-rapid", |l, at, _| {
        l[at[3]] = l[at[3]].replacen("G1", "G0", 1);
    }),
    ("another feed", "air-rapid", |l, at, _| {
        let (head, feed) = l[at[1]].split_once('F').expect("a feed");
        let feed: f64 = feed.parse().expect("a number");
        l[at[1]] = format!("{head}F{}", feed * 1.01);
    }),
    (
        "y of the first corner dropped",
        "unknown-position",
        |l, at, _| {
            let words = l[at[0]].split(' ').filter(|w| !w.starts_with('Y'));
            l[at[0]] = words.collect::<Vec<_>>().join(" ");
        },
    ),
    ("no end", "program-end", |l, _, _| {
        l.retain(|line| line != "M2" && line != "M30");
    }),
];

/// Changes to a router's alone.
const ROUTER: [(&str, &str, Change); 10] = [
    ("a rise between the corners", "air-rapid", |l, at, _| {
        let rise = l[at[0] - 1].clone();
        l.insert(at[2], rise);
    }),
    ("a z a step lower", "air-low", |l, at, _| {
        let z = &mut l[at[0] - 1];
        let (head, height) = z.split_once('Z').expect("the rise");
        let decimals = height.len() - height.find('.').expect("a point") - 1;
        let lower = height.parse::<f64>().expect("a number") - 0.1f64.powi(decimals as i32);
        *z = format!("{head}Z{lower:.decimals$}");
    }),
    ("a z a step higher", "air-low", |l, at, _| {
        l[at[0] - 1] = stepped(&l[at[0] - 1], 'Z');
    }),
    ("a plunge on the way", "air-low", |l, at, _| {
        let feed = l[at[2]].split(' ').next_back().expect("a feed").to_owned();
        l.insert(at[2], format!("G1 Z0 {feed}"));
    }),
    ("a rapid down on the way", "air-low", |l, at, _| {
        l.insert(at[2], "G0 Z0".into())
    }),
    ("a move that sinks", "air-low", |l, at, _| l[at[2]] += " Z0"),
    ("no rise", "unknown-position", |l, at, _| {
        l.remove(at[0] - 1);
    }),
    ("a spindle start", "air-head", |l, at, _| {
        l.insert(at[2], "M3 S9000".into())
    }),
    ("a spindle start at the end", "air-head", |l, at, _| {
        l.insert(at[5] + 1, "M3 S9000".into());
    }),
    ("a tool called for", "air-tool", |l, at, _| {
        l.insert(at[0], "T3".into())
    }),
];

#[test]
fn every_change_is_caught_in_every_dialect() {
    let mut seen: Vec<&str> = Vec::new();
    for name in FILES.iter().map(|(name, _)| *name).chain(FURTHER) {
        let post = dialect(name);
        let sound = lines(&text(&post));
        let at: Vec<usize> = (0..sound.len())
            .filter(|&i| sound[i].starts_with("G1 "))
            .collect();
        assert_eq!(at.len(), 6, "{name}: four corners, the first again, zero");
        let off = sound.iter().position(|l| l == "M5").expect("M5");
        let laser = post.gcode.drives_laser;
        let router = ROUTER.iter().filter(|_| !laser);
        for (what, rule, change) in CHANGES.iter().chain(router) {
            let mut spoilt = sound.clone();
            change(&mut spoilt, &at, off);
            let rules = broken(&post, &numbered(&spoilt, &post));
            assert!(rules.contains(rule), "{name}, {what}: {rules:?}");
            seen.push(rule);
        }
        if laser {
            // The beam as the dialect switches it, and z.
            let on = if post.gcode.power_follows_speed {
                "M4 S5"
            } else {
                "M3 S5"
            };
            for (line, rule) in [(on, "air-head"), ("G0 Z5", "laser-z")] {
                let mut spoilt = sound.clone();
                spoilt.insert(at[1], line.into());
                let rules = broken(&post, &numbered(&spoilt, &post));
                assert!(rules.contains(&rule), "{name}, {line}: {rules:?}");
            }
        }
    }
    for rule in AIR_RULES.iter().filter(|rule| **rule != "travel") {
        assert!(seen.contains(rule), "{rule} is attacked");
    }
}

/// Words that a dialect announces have no place in an air run but at its head: no air, no stop among the moves, no
/// other tool's length, no parking.
#[test]
fn what_a_dialect_announces_is_not_for_an_air_run() {
    let pause = "router-pause-mm";
    let length = "router-length-mm";
    for (name, after, word, rule) in [
        (pause, 2, "M7", "air-head"),
        (length, 0, "M8", "air-head"),
        ("laser-follow-mm", 2, "M8", "air-head"),
        (pause, 6, "M0", "air-wait"),
        ("router-home-inch", 6, "M0", "air-wait"),
        (pause, 6, "G53 G0 Z0", "air-end"),
        ("router-home-inch", 6, "G28 Z0.74803", "air-end"),
        ("laser-home-mm", 6, "G28 X0 Y0", "air-end"),
        (pause, 2, "M0", "unknown-position"),
        (length, 2, "G43 H3", "length-offset"),
        (length, 2, "G49", "length-offset"),
    ] {
        let post = dialect(name);
        let mut spoilt = lines(&text(&post));
        let cuts: Vec<usize> = (0..spoilt.len())
            .filter(|&i| spoilt[i].starts_with("G1 "))
            .collect();
        let at = cuts.get(after).copied().unwrap_or(cuts[5] + 1);
        spoilt.insert(at, word.into());
        let rules = broken(&post, &numbered(&spoilt, &post));
        assert!(rules.contains(&rule), "{name}, {word}: {rules:?}");
    }
    let post = dialect(length);
    for (to, rule) in [("G43 H4", "air-tool"), ("G43", "length-offset")] {
        let sound = text(&post);
        assert!(sound.contains("G43 H3"), "{sound}");
        let rules = broken(&post, &sound.replacen("G43 H3", to, 1));
        assert!(rules.contains(&rule), "{to}: {rules:?}");
    }
    // A stop before anything moves is none among the moves.
    let mut post = dialect("laser-park-mm");
    post.gcode.templates.beam_off = "M5".into();
    let sound = text(&post);
    let stopped = sound.replacen("M5\n", "M5\nM0\n", 1);
    let rules = broken(&post, &stopped);
    assert!(!rules.contains(&"air-wait"), "{rules:?}");
}

#[test]
fn a_machine_that_is_too_small_or_too_slow_is_told() {
    let post = router_post();
    let (air, limits) = air(&post);
    let rules = rules(&post).for_air_run();
    let frame = frame(&air, &post);
    let trace = read(text(&post).as_bytes(), &rules, &frame).expect("sound");
    let of = |limits: AirLimits| {
        let faults = check_air_run(&trace, &air, &limits, &rules, &frame);
        faults.iter().map(|f| f.rule).collect::<Vec<_>>()
    };
    let travel = |travel| of(AirLimits { travel, ..limits });
    assert_eq!(travel([71.5, 24.0, 19.0]), [""; 0], "just enough");
    for short in [
        [71.49, 24.0, 19.0],
        [71.5, 23.99, 19.0],
        [71.5, 24.0, 18.99],
    ] {
        assert_eq!(travel(short), ["travel"], "{short:?}");
    }
    let greatest_feed = FEED - 1.0;
    let slow = of(AirLimits {
        greatest_feed,
        ..limits
    });
    assert!(
        slow.iter().all(|rule| *rule == "air-rapid") && !slow.is_empty(),
        "{slow:?}"
    );
}

/// A box of nothing but a point, or beyond the zero on both sides, is gone round all the same.
#[test]
fn odd_boxes_are_gone_round() {
    let post = router_post();
    let (mut program, _) = program_for(&post);
    for (moves, want) in [
        (vec![Move::Raise], [[0.0; 2]; 2]),
        (
            vec![
                Move::Raise,
                Move::Travel(Point::new(-31.7, 4.2)),
                Move::Plunge(1.0),
                Move::Line(Point::new(12.3456, -7.0)),
                Move::Raise,
            ],
            [[-31.7, -7.0], [12.3456, 4.2]],
        ),
    ] {
        program.moves = moves;
        let air = AirRun::of(&program, FEED, vec![]);
        let PathBox { min, max } = air.path;
        assert_eq!([[min[0], min[1]], [max[0], max[1]]], want);
        assert!(matches!(air.program.head, Head::Cutter { .. }));
        let bytes = render_air_run(&air, &post).expect("written");
        let rules = rules(&post).for_air_run();
        let limits = AirLimits {
            travel: [100.0; 3],
            greatest_feed: FEED,
        };
        let frame = frame(&air, &post);
        let trace = read(&bytes, &rules, &frame).expect("read");
        assert_eq!(check_air_run(&trace, &air, &limits, &rules, &frame), []);
    }
}
