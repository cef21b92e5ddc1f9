//! A reader of programs of this test's own: what the words make a machine do (RS274/NGC, NISTIR 6556,
//! from memory). It takes every word at its face value and refuses nothing.

/// One move: where it ends, how, and in which state of the head.
#[derive(Debug, Clone, PartialEq)]
pub struct Act {
    pub cut: bool,
    pub from: [f64; 3],
    pub to: [f64; 3],
    /// Centre and sense of an arc.
    pub arc: Option<([f64; 2], bool)>,
    pub feed: f64,
    pub word: f64,
    pub on: bool,
    /// Seconds waited since the head came on.
    pub waited: f64,
}

/// What a program does: moves that go somewhere, and whether it ends with the head off.
#[derive(Debug, Default)]
pub struct Run {
    pub acts: Vec<Act>,
    pub ends_off: bool,
}

/// Letter and value of each word outside of the remarks.
fn words(line: &str) -> Vec<(char, f64)> {
    let mut plain = String::new();
    let mut depth = 0;
    for c in line.chars() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            ' ' => {}
            _ if depth > 0 => {}
            _ => plain.push(c),
        }
    }
    let mut words: Vec<(char, String)> = Vec::new();
    for c in plain.chars() {
        match words.last_mut() {
            _ if c.is_ascii_alphabetic() => words.push((c, String::new())),
            Some((_, number)) => number.push(c),
            None => {}
        }
    }
    let value = |n: &str| n.parse().unwrap_or(f64::NAN);
    words.iter().map(|(c, n)| (*c, value(n))).collect()
}

/// Runs a program.
pub fn run(bytes: &[u8]) -> Run {
    let text = std::str::from_utf8(bytes).expect("text");
    let mut done = Run::default();
    let mut motion = 0;
    let (mut at, mut feed, mut word, mut on, mut waited) = ([0.0; 3], 0.0, 0.0, false, 0.0);
    for line in text.lines() {
        let words = words(line);
        let get = |letter: char| words.iter().find(|(c, _)| *c == letter).map(|(_, v)| *v);
        feed = get('F').unwrap_or(feed);
        word = get('S').unwrap_or(word);
        let has = |letter: char, code: f64| words.contains(&(letter, code));
        if has('M', 3.0) {
            waited = if on { waited } else { 0.0 };
            on = true;
        }
        if has('M', 5.0) {
            on = false;
        }
        if has('G', 4.0) {
            waited += get('P').unwrap_or(f64::NAN);
        }
        for code in [0, 1, 2, 3] {
            if has('G', f64::from(code)) {
                motion = code;
            }
        }
        let mut to = at;
        for (axis, letter) in ['X', 'Y', 'Z'].into_iter().enumerate() {
            to[axis] = get(letter).unwrap_or(to[axis]);
        }
        let centre = [
            at[0] + get('I').unwrap_or(0.0),
            at[1] + get('J').unwrap_or(0.0),
        ];
        if to != at {
            done.acts.push(Act {
                cut: motion > 0,
                from: at,
                to,
                arc: (motion > 1).then_some((centre, motion == 3)),
                feed,
                word,
                on,
                waited,
            });
        }
        at = to;
        if has('M', 2.0) || has('M', 30.0) {
            done.ends_off = !on;
            break;
        }
    }
    done
}

/// Places of two moves that are one, mm: half a step of three decimals, and a little.
const SAME: f64 = 0.0006;
/// Middles of two arcs that are one, mm; the replay's own limit is 0.005.
const MIDDLE: f64 = 0.003;

fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(a, b)| (a - b).abs())
        .fold(0.0, f64::max)
}

/// The middle of an arc, from the bisector of its chord.
fn middle(act: &Act) -> [f64; 3] {
    let Some((c, ccw)) = act.arc else {
        return [0, 1, 2].map(|i| 0.5 * (act.from[i] + act.to[i]));
    };
    let angle = |p: [f64; 3]| (p[1] - c[1]).atan2(p[0] - c[0]);
    let turn = std::f64::consts::TAU;
    let sweep = if ccw {
        (angle(act.to) - angle(act.from)).rem_euclid(turn)
    } else {
        -(angle(act.from) - angle(act.to)).rem_euclid(turn)
    };
    let r = (act.from[0] - c[0]).hypot(act.from[1] - c[1]);
    let half = angle(act.from) + 0.5 * sweep;
    [c[0] + r * half.cos(), c[1] + r * half.sin(), act.to[2]]
}

/// Whether two programs do the same, as safely.
pub fn same(sound: &Run, spoilt: &Run) -> Result<(), String> {
    let (a, b) = (&sound.acts, &spoilt.acts);
    if a.len() != b.len() {
        return Err(format!("{} moves became {}", a.len(), b.len()));
    }
    if !spoilt.ends_off {
        return Err("the head is on at the end".into());
    }
    for (a, b) in a.iter().zip(b) {
        let alike = a.cut == b.cut
            && a.on == b.on
            && apart(a.from, b.from) <= SAME
            && apart(a.to, b.to) <= SAME
            && a.arc.map(|c| c.1) == b.arc.map(|c| c.1)
            && apart(middle(a), middle(b)) <= MIDDLE
            && (!a.cut || ((a.feed - b.feed).abs() < 0.001 && (a.word - b.word).abs() < 0.001))
            && (!a.cut || b.waited >= a.waited - 0.001);
        if !alike {
            return Err(format!("{a:?} became {b:?}"));
        }
    }
    Ok(())
}

#[test]
fn the_reader_tells_programs_apart() {
    let sound = "G0 Z5\nM3 S100\nG4 P2\nG0 X1 Y1\nG1 Z0 F50\nG2 X3 Y1 I1 J0 F80\nG0 Z5\nM5\nM2\n";
    let base = run(sound.as_bytes());
    assert_eq!(base.acts.len(), 5, "{:?}", base.acts);
    assert_eq!(
        middle(&base.acts[3]).map(|v| (v * 1e9).round()),
        [2e9, 2e9, 0.0]
    );
    same(
        &base,
        &run(sound.replace("G4 P2", "G4 P3 (longer)").as_bytes()),
    )
    .expect("as safe");
    for (from, to) in [
        ("G2", "G3"),
        ("X3", "X3.001"),
        ("F80", "F81"),
        ("S100", "S99"),
        ("P2", "P1"),
        ("M5\n", ""),
        ("Z0", "Z-0.001"),
    ] {
        let spoilt = run(sound.replacen(from, to, 1).as_bytes());
        assert!(same(&base, &spoilt).is_err(), "{from} to {to}");
    }
}
