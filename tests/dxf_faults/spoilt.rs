//! Files with one fault each: a group, a handle, an owner, a text, a layer, an order.

use lapwright::panel::DxfVersion::{R12, R2000};
use lapwright::path::{Note, NoteKind};
use lapwright::replay::dxf::prove_dxf;
use lapwright::write::dxf::write_dxf;

use super::{Case, bytes_of, cut_records, entities, notes};

/// A strict reader refuses or mends much of this, a lenient one all of it in its own way.
#[test]
fn every_group_of_a_file_counts() {
    for (k, case) in Case::all().into_iter().enumerate() {
        let groups = case.groups();
        // What stands round the entities is the same in all files of a release: each takes a third of it.
        for (i, (code, value)) in groups.iter().enumerate().skip(k % 3).step_by(3) {
            let name = format!("group {i}, {code}: {value},");
            case.refuses(&format!("{name} dropped"), |g| drop(g.remove(i)));
            case.refuses(&format!("{name} said twice"), |g| {
                g.insert(i, groups[i].clone())
            });
            case.refuses(&format!("{name} changed"), |g| {
                // Handles may be numbered anew: 0 is none.
                g[i].1 = match code.as_str() {
                    "5" | "105" => "0".to_owned(),
                    _ => format!("1{value}"),
                };
            });
            case.refuses(&format!("{name} under another code"), |g| {
                g[i].0 = if code == "1000" { "1001" } else { "1000" }.to_owned();
            });
            // Groups of a table's row or of an entity stand in one order.
            let next = groups.get(i + 1).filter(|next| *next != &groups[i]);
            if next.is_some() {
                case.refuses(&format!("{name} swapped with the next"), |g| {
                    g.swap(i, i + 1)
                });
            }
        }
    }
}

/// Windows-1252: FC is u with two dots, FB u with a circumflex, A0 a blank that does not break; 81 stands for nothing.
#[test]
fn letters_of_a_code_page_are_held_to_the_plan() {
    let told = [Note::new(NoteKind::Title, "K\u{fc}che \u{151} 5")];
    for case in Case::sizes(R2000, None) {
        let file = case.file();
        let sound = write_dxf(&file, &told).expect("a sound file");
        prove_dxf(&sound, &file, &told).expect("proven");
        let name = b"K\xfcche o 5";
        let at = sound.windows(name.len()).position(|w| w == name);
        let at = at.expect("the name as the code page has it") + 1;
        let utf8: &[u8] = "\u{fc}".as_bytes();
        let as_number: &[u8] = b"\\U+00FC";
        for other in [
            b"u", b"\xfb", b"\xa0", b"\x81", b"\xad", b"\x0a", utf8, as_number,
        ] {
            let spoilt = [&sound[..at], other, &sound[at + 1..]].concat();
            let proof = prove_dxf(&spoilt, &file, &told);
            assert!(proof.is_err(), "{other:?} for the letter");
        }
        // What some readers take for a blank or a digit, before a code and in a number.
        for (stray, by) in [(&b"\xa0"[..], 0), (b"\xb9", 0), (b"\xb2", 5)] {
            let spoilt = [&sound[..by], stray, &sound[by..]].concat();
            assert!(
                prove_dxf(&spoilt, &file, &told).is_err(),
                "{stray:?} at {by}"
            );
        }
    }
    // Its own R12 files name no code page: the letter is folded, and no byte stands for it.
    for case in Case::never_cut(None) {
        let file = case.file();
        let sound = write_dxf(&file, &told).expect("a sound file");
        assert!(sound.is_ascii(), "{:?}", case.parts);
        prove_dxf(&sound, &file, &told).expect("proven");
        let at = sound
            .windows(5)
            .position(|w| w == b"Kuche")
            .expect("folded")
            + 1;
        let spoilt = [&sound[..at], b"\xfc", &sound[at + 1..]].concat();
        assert!(
            prove_dxf(&spoilt, &file, &told).is_err(),
            "a byte of no code page"
        );
    }
}

/// DXF reference, groups 5, 105, 330 and $HANDSEED; R12 has none.
#[test]
fn a_handle_is_of_one_thing_and_an_owner_of_its_kind() {
    for case in Case::sizes(R2000, None) {
        let groups = case.groups();
        let is_own = |g: &(String, String)| matches!(g.0.as_str(), "5" | "105");
        let mut own: Vec<usize> = (0..groups.len()).filter(|&i| is_own(&groups[i])).collect();
        let seed = own.remove(0);
        assert_eq!(groups[seed - 1].1, "$HANDSEED", "the first of all");
        let seed_value = &groups[seed].1;
        let greatest = own
            .iter()
            .map(|&i| u64::from_str_radix(&groups[i].1, 16).expect("hex"));
        let greatest = format!("{:X}", greatest.max().expect("handles"));
        case.refuses("a seed that is taken", |g| g[seed].1 = greatest);
        for &i in &own {
            let (value, before) = (&groups[i].1, &groups[own[0]].1);
            if i != own[0] {
                case.refuses(&format!("handle {value} twice"), |g| {
                    g[i].1 = before.clone()
                });
            }
            for other in [
                "",
                "0",
                "00",
                "G",
                "-1",
                seed_value,
                "FFFF",
                "1FFFFFFFFFFFFFFFF",
            ] {
                case.refuses(&format!("handle {value} became {other}"), |g| {
                    g[i].1 = other.to_owned();
                });
            }
        }
        let pointers = (0..groups.len()).filter(|&i| matches!(groups[i].0.as_str(), "330" | "350"));
        for i in pointers {
            let strange = own
                .iter()
                .map(|&i| groups[i].1.as_str())
                .chain(["0", "FFFF", ""]);
            for other in strange.filter(|other| *other != groups[i].1) {
                case.refuses(&format!("owner {i} became {other}"), |g| {
                    g[i].1 = other.to_owned()
                });
            }
        }
        // How handles are numbered is all the same.
        let mut anew = groups.clone();
        for (code, value) in &mut anew {
            if matches!(code.as_str(), "5" | "105" | "330" | "350") && value != "0" {
                *value = format!("A{value:0>3}");
            }
        }
        assert_eq!(
            case.prove(&bytes_of(&anew)),
            case.prove(&case.bytes),
            "numbered anew"
        );
    }
}

#[test]
fn texts_stand_where_they_are_planned() {
    for case in Case::all() {
        let groups = case.groups();
        let within = entities(&groups);
        let texts: Vec<usize> = within.clone().filter(|&i| groups[i].1 == "TEXT").collect();
        let at = |text: usize, code: &str| {
            let found = (text..groups.len()).find(|&i| groups[i].0 == code);
            found.expect("such a group")
        };
        for &text in &texts {
            let said = groups[at(text, "1")].1.clone();
            case.refuses(&format!("\"{said}\" became other words"), |g| {
                g[at(text, "1")].1 = said.to_uppercase() + ".";
            });
            for (code, by) in [
                ("10", 0.25),
                ("20", 0.0625),
                ("20", -0.0625),
                ("40", -0.0625),
            ] {
                case.refuses(&format!("{code} of \"{said}\" off by {by}"), |g| {
                    let value: f64 = g[at(text, code)].1.parse().expect("a number");
                    g[at(text, code)].1 = format!("{:?}", value + by);
                });
            }
        }
        for pair in texts.windows(2) {
            case.refuses("two texts swapped", |g| {
                let end = pair[1] + (pair[1] - pair[0]);
                g[pair[0]..end].rotate_left(pair[1] - pair[0]);
            });
        }
        // All contours after the texts.
        if let Some(&first) = texts.first()
            && first > within.start
        {
            case.refuses("texts before contours", |g| {
                g[within.start..within.end].rotate_left(first - within.start);
            });
        }
        let other = [
            notes(),
            vec![Note::new(NoteKind::Zero, "Always zero on top.")],
        ]
        .concat();
        // A file without notes tells none, whatever they are.
        let has_notes = case.parts.border && case.alone.is_none();
        for other in [&other[..], &other[1..], &other[..1], &[]] {
            let proof = prove_dxf(&case.bytes, &case.file(), other);
            assert_eq!(proof.is_err(), has_notes, "other notes: {other:?}");
        }
    }
}

#[test]
fn a_changed_digit_or_sign_is_caught() {
    for case in Case::all() {
        let groups = case.groups();
        for record in cut_records(&groups) {
            for i in record {
                let (code, value) = &groups[i];
                if !matches!(code.as_str(), "10" | "20" | "42" | "90" | "70") {
                    continue;
                }
                let point = value.find('.').unwrap_or(value.len());
                for (at, digit) in value.char_indices().filter(|(_, c)| c.is_ascii_digit()) {
                    // A bulge is held to 1e-8: the ninth decimal is rounding.
                    if code == "42" && at > point + 8 {
                        continue;
                    }
                    let other = (digit.to_digit(10).expect("a digit") + 5) % 10;
                    let mut spoilt = value.clone();
                    spoilt.replace_range(at..=at, &other.to_string());
                    case.refuses(&format!("{code}: {value} -> {spoilt}"), |g| g[i].1 = spoilt);
                }
                let turned = match value.strip_prefix('-') {
                    Some(plain) => plain.to_owned(),
                    None => format!("-{value}"),
                };
                case.refuses(&format!("{code}: {value} -> {turned}"), |g| g[i].1 = turned);
            }
        }
    }
}

#[test]
fn layers_order_and_unit_are_held() {
    for case in Case::all() {
        let groups = case.groups();
        let records = cut_records(&groups);
        for i in entities(&groups).filter(|&i| groups[i].0 == "8") {
            for name in [
                "cut-outline",
                "cut-notch",
                "no-cut-label",
                "no-cut-stock",
                "0",
                "other",
            ] {
                if groups[i].1 != name {
                    case.refuses(&format!("group {i} moved to {name}"), |g| {
                        g[i].1 = name.into()
                    });
                }
            }
        }
        for pair in records.windows(2) {
            case.refuses("two contours swapped", |g| {
                g[pair[0].start..pair[1].end].rotate_left(pair[0].len());
            });
        }
        let old = case.version == R12;
        let (release, other, polyline) = if old {
            ("AC1009", "AC1015", "POLYLINE")
        } else {
            ("AC1015", "AC1009", "LWPOLYLINE")
        };
        let (layer, contour) = if case.parts.cuts {
            ("cut-outline", polyline)
        } else {
            ("no-cut-label", "TEXT")
        };
        for (what, from, to) in [
            ("release", ("1", release), other),
            ("layer name", ("2", layer), "other"),
            ("layer shown twice", ("2", layer), "0"),
            ("line type", ("6", "CONTINUOUS"), "DASHED"),
            ("record", ("0", contour), "LINE"),
            ("section", ("2", "ENTITIES"), "ENTITY"),
        ] {
            case.refuses(what, |g| {
                let at = g.iter().position(|(c, v)| (c.as_str(), v.as_str()) == from);
                g[at.expect("such a group")].1 = to.into();
            });
        }
        case.refuses("a layer with nothing on it", |g| {
            let row = g.iter().position(|g| g.1 == layer).expect("a row");
            let start = (0..row).rev().find(|&i| g[i].0 == "0").expect("its begin");
            let end = (row..g.len()).find(|&i| g[i].0 == "0").expect("its end");
            let mut new = g[start..end].to_vec();
            for (code, value) in &mut new {
                match code.as_str() {
                    "2" => *value = "cut-other".to_owned(),
                    "5" => *value = "A000".to_owned(),
                    _ => {}
                }
            }
            g.splice(end..end, new);
        });
        let of_later: &[_] = if old {
            &[]
        } else {
            &[("$INSUNITS", "1"), ("$MEASUREMENT", "0")]
        };
        for &(name, value) in of_later
            .iter()
            .chain(&[("$EXTMAX", "9.0"), ("$EXTMIN", "9.0"), ("$INSBASE", "9.0")])
            .chain(&[("$LIMMAX", "9.0"), ("$LIMMIN", "9.0")])
        {
            case.refuses(name, |g| {
                let at = g
                    .iter()
                    .position(|(_, v)| v == name)
                    .expect("such a variable");
                g[at + 1].1 = value.into();
            });
        }
    }
}

#[test]
fn nothing_may_hide_turn_or_widen_a_contour() {
    for case in Case::all().into_iter().filter(|case| case.parts.cuts) {
        let groups = case.groups();
        let record = cut_records(&groups)[0].clone();
        // 6 line type, 38 elevation, 39 thickness, 43 width, 60 invisible, 62 colour, 67 paper space,
        // 210 to 230 direction of extrusion.
        for (code, value) in [
            ("6", "DASHED"),
            ("38", "1.0"),
            ("39", "1.0"),
            ("43", "3.0"),
            ("60", "1"),
            ("62", "3"),
            ("67", "1"),
            ("230", "-1.0"),
        ] {
            for at in record.start + 1..=record.end {
                case.refuses(&format!("{code} = {value} added"), |g| {
                    g.insert(at, (code.into(), value.into()));
                });
            }
        }
        let at = |code: &str| {
            record
                .clone()
                .find(|&i| groups[i].0 == code)
                .expect("such a group")
        };
        if case.version == R2000 {
            let paper = groups
                .iter()
                .position(|g| g.1 == "*PAPER_SPACE")
                .expect("a block record");
            let paper = groups[..paper]
                .iter()
                .rev()
                .find(|g| g.0 == "5")
                .expect("its handle")
                .1
                .clone();
            case.refuses("moved to paper space by its owner", |g| {
                g[at("330")].1 = paper
            });
        }
        case.refuses("opened or closed", |g| {
            let flags = &mut g[at("70")].1;
            *flags = if flags == "1" { "0".into() } else { "1".into() };
        });
        case.refuses("a whole contour lost", |g| drop(g.drain(record.clone())));
        case.refuses("a further entity", |g| {
            let line = [
                ("0", "LINE"),
                ("5", "FFFF"),
                ("8", "cut-outline"),
                ("10", "0.0"),
                ("20", "0.0"),
            ];
            let line = line.map(|(code, value)| (code.to_owned(), value.to_owned()));
            g.splice(record.start..record.start, line);
        });
    }
}
