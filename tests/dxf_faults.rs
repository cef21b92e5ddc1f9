//! Reads DXF files back: sound ones give the sizes that a formula gives, spoilt ones are refused.
//!
//! Group codes are those of the DXF reference: 0 record, 5 handle, 8 layer, 10 and 20 corner, 42 bulge,
//! 62 colour, 66 vertices follow, 70 flags, 90 count of corners, 330 owner.

use std::ops::Range;

use lapwright::panel::DxfVersion::{R12, R2000};
use lapwright::panel::{DxfStyle, DxfVersion};
use lapwright::path::Program;
use lapwright::replay::{ReplayFault, dxf::DxfProof, dxf::prove_dxf};
use lapwright::setup::FlatLayout;
use lapwright::write::dxf::{DxfContent, DxfFile, DxfSubject, write_dxf};

type Groups = Vec<(String, String)>;

/// A plan, its file, and a way to prove any bytes against the plan.
struct Case {
    layout: FlatLayout,
    program: Option<Program>,
    style: DxfStyle,
    version: DxfVersion,
    /// The placement that is shown alone.
    alone: Option<usize>,
    bytes: Vec<u8>,
}

impl Case {
    fn new(
        program: fn(&FlatLayout) -> Option<Program>,
        version: DxfVersion,
        alone: Option<usize>,
    ) -> Self {
        let (layout, style) = (crate::sheets::layout(), crate::sheets::style());
        let mut case = Self {
            program: program(&layout),
            layout,
            style,
            version,
            alone,
            bytes: Vec::new(),
        };
        case.bytes = write_dxf(&case.file(), &notes()).expect("a sound file");
        case
    }

    /// Drawn size, a laser's path, a router's path.
    fn sizes(version: DxfVersion, alone: Option<usize>) -> [Self; 3] {
        [
            Self::new(|_| None, version, alone),
            Self::new(
                |layout| Some(crate::sheets::laser(layout, 0.16)),
                version,
                alone,
            ),
            Self::new(
                |layout| Some(crate::sheets::router(layout, 3.0)),
                version,
                alone,
            ),
        ]
    }

    /// Every size in either release, of the sheet and of its second piece.
    fn all() -> Vec<Self> {
        let of = |version| [Self::sizes(version, None), Self::sizes(version, Some(1))];
        [R2000, R12].into_iter().flat_map(of).flatten().collect()
    }

    fn file(&self) -> DxfFile<'_> {
        let sheet = &self.layout.sheets[0];
        let content = self.program.as_ref();
        DxfFile {
            layout: &self.layout,
            subject: match self.alone {
                None => DxfSubject::Sheet(sheet),
                Some(placement) => DxfSubject::Piece { sheet, placement },
            },
            content: content.map_or(DxfContent::Drawn, DxfContent::Compensated),
            version: self.version,
            style: &self.style,
        }
    }

    fn prove(&self, bytes: &[u8]) -> Result<DxfProof, Vec<ReplayFault>> {
        prove_dxf(bytes, &self.file(), &notes())
    }

    fn groups(&self) -> Groups {
        let text = std::str::from_utf8(&self.bytes).expect("ASCII");
        let lines: Vec<&str> = text.lines().collect();
        lines
            .chunks(2)
            .map(|pair| (pair[0].trim().to_owned(), pair[1].to_owned()))
            .collect()
    }

    /// Spoils the file's groups and wants a refusal.
    #[track_caller]
    fn refuses(&self, what: &str, spoil: impl FnOnce(&mut Groups)) {
        let mut groups = self.groups();
        spoil(&mut groups);
        let bytes = bytes_of(&groups);
        assert_ne!(bytes, self.bytes, "{what}: the file was not spoilt");
        assert!(self.prove(&bytes).is_err(), "{what}: not caught");
    }
}

/// What the job tells besides what a drawing says by itself.
fn notes() -> Vec<String> {
    ["Panel: sample, quantity 1", "Eyes, ears, dust."]
        .map(ToOwned::to_owned)
        .into()
}

fn bytes_of(groups: &Groups) -> Vec<u8> {
    groups
        .iter()
        .map(|(code, value)| format!("{code:>3}\r\n{value}\r\n"))
        .collect::<String>()
        .into()
}

/// Index of the first group of ENTITIES, and of the first past it.
fn entities(groups: &Groups) -> std::ops::Range<usize> {
    let start = groups
        .iter()
        .position(|g| g.1 == "ENTITIES")
        .expect("a section")
        + 1;
    let length = groups[start..]
        .iter()
        .position(|g| g.1 == "ENDSEC")
        .expect("its end");
    start..start + length
}

/// Whole entities on the cut layers, vertices and all, as ranges of groups.
fn cut_records(groups: &Groups) -> Vec<std::ops::Range<usize>> {
    let within = entities(groups);
    let starts = within.clone().filter(|&i| groups[i].0 == "0");
    let part = |i: &usize| matches!(groups[*i].1.as_str(), "VERTEX" | "SEQEND");
    let mut starts: Vec<usize> = starts.filter(|i| !part(i)).collect();
    starts.push(within.end);
    let records = starts.windows(2).map(|w| w[0]..w[1]);
    records
        .filter(|r| {
            groups[r.clone()]
                .iter()
                .any(|g| g.0 == "8" && g.1.starts_with("cut-"))
        })
        .collect()
}

fn near(got: f64, want: f64, what: &str) {
    assert!((got - want).abs() < 2e-3, "{what}: {got} against {want}");
}

#[test]
fn sound_files_have_the_sizes_of_the_formulas() {
    let layout = crate::sheets::layout();
    for version in [R2000, R12] {
        for alone in [None, Some(0), Some(1)] {
            let shown = match alone {
                None => 0..3,
                Some(placement) => placement..placement + 1,
            };
            sizes_of_the_formulas(&layout, shown, Case::sizes(version, alone));
        }
    }
}

fn sizes_of_the_formulas(layout: &FlatLayout, shown: Range<usize>, cases: [Case; 3]) {
    let [drawn, laser, router] = cases;
    let pieces = shown.len();
    let (mut area, mut length, mut hull_area, mut hull_length) = (0.0, 0.0, 0.0, 0.0);
    for placement in &layout.sheets[0].placements[shown] {
        let p = &layout.pieces[placement.piece];
        hull_area += p.length * p.depth;
        hull_length += 2.0 * (p.length + p.depth);
        area += p.length * p.depth
            - p.notches
                .iter()
                .map(|n| (n.x1 - n.x0) * n.depth)
                .sum::<f64>();
        length += 2.0 * (p.length + p.depth) + p.notches.iter().map(|n| 2.0 * n.depth).sum::<f64>();
    }
    let proof = drawn.prove(&drawn.bytes).expect("a sound file");
    assert_eq!(proof.contours, pieces, "a contour a piece");
    near(proof.area, area, "rectangles less notches");
    near(proof.cut_length, length, "sides and notch walls");

    // Parallel body of a polygon (Steiner's formula): A + r P + pi r^2 / 4 a right convex corner; a
    // re-entrant corner loses the r^2 that its two sides' strips share, and 2 r of their length.
    let count = pieces;
    let pieces = pieces as f64;
    let (notches, r, pi) = (5.0 * pieces, 0.08, std::f64::consts::PI);
    let (convex, reentrant) = (4.0 * pieces + 2.0 * notches, 2.0 * notches);
    let proof = laser.prove(&laser.bytes).expect("a sound file");
    assert_eq!(proof.contours, count, "one contour a piece");
    near(
        proof.area,
        area + r * length + (convex * pi / 4.0 - reentrant) * r * r,
        "half a kerf out",
    );
    near(
        proof.cut_length,
        length + (convex * pi / 2.0 - 2.0 * reentrant) * r,
        "its path",
    );

    let r = 1.5;
    let proof = router.prove(&router.bytes).expect("a sound file");
    assert_eq!(
        proof.contours,
        6 * count,
        "five notches and an outline a piece"
    );
    near(
        proof.area,
        hull_area + r * hull_length + pieces * pi * r * r,
        "a tool's radius out",
    );
}

#[test]
fn both_releases_hold_the_same_contours() {
    for alone in [None, Some(2)] {
        for (new, old) in Case::sizes(R2000, alone)
            .iter()
            .zip(&Case::sizes(R12, alone))
        {
            let (a, b) = (new.prove(&new.bytes), old.prove(&old.bytes));
            assert_eq!(a, b, "corner by corner");
            assert!(
                a.is_ok_and(|proof| proof.cut_length > 0.0),
                "and there are some"
            );
            assert!(new.prove(&old.bytes).is_err(), "R12 for R2000");
            assert!(old.prove(&new.bytes).is_err(), "R2000 for R12");
        }
    }
}

/// Drawn at its first end and back edge, so that corners are those of the formula.
#[test]
fn a_piece_alone_stands_at_the_origin() {
    for version in [R2000, R12] {
        let [drawn, ..] = Case::sizes(version, Some(1));
        let groups = drawn.groups();
        let record = cut_records(&groups);
        assert_eq!(record.len(), 1, "one contour");
        let all = |code: &str| -> Vec<f64> {
            let group = groups[record[0].clone()].iter();
            // The first pair of a POLYLINE stands for no corner.
            let skip = usize::from(version == R12);
            let values = group.filter(|g| g.0 == code).skip(skip);
            values.map(|g| g.1.parse().expect("a number")).collect()
        };
        let (low, high) = (
            f64::min as fn(f64, f64) -> f64,
            f64::max as fn(f64, f64) -> f64,
        );
        for (code, pick, want) in [
            ("10", low, 0.0),
            ("10", high, 331.7),
            ("20", low, 0.0),
            ("20", high, 13.1),
        ] {
            let found = all(code).into_iter().reduce(pick).expect("corners");
            assert!((found - want).abs() < 1e-9, "{code}: {found}, not {want}");
        }
    }
}

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
        case.refuses("texts before contours", |g| {
            g[within.start..within.end].rotate_left(texts[0] - within.start);
        });
        let other = [notes(), vec!["Always zero on top.".to_owned()]].concat();
        for other in [&other[..], &other[1..], &other[..1], &[]] {
            let proof = prove_dxf(&case.bytes, &case.file(), other);
            assert!(proof.is_err(), "other notes: {other:?}");
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
        for (what, from, to) in [
            ("release", ("1", release), other),
            ("layer name", ("2", "cut-outline"), "cut-inline"),
            ("layer shown twice", ("2", "cut-notch"), "cut-outline"),
            ("line type", ("6", "CONTINUOUS"), "DASHED"),
            ("record", ("0", polyline), "LINE"),
            ("section", ("2", "ENTITIES"), "ENTITY"),
        ] {
            case.refuses(what, |g| {
                let at = g.iter().position(|(c, v)| (c.as_str(), v.as_str()) == from);
                g[at.expect("such a group")].1 = to.into();
            });
        }
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
    for case in Case::all() {
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

#[test]
fn notes_must_tell_the_size() {
    for version in [R2000, R12] {
        for alone in [None, Some(1)] {
            notes_tell_the_size(Case::sizes(version, alone));
        }
    }
}

fn notes_tell_the_size(cases: [Case; 3]) {
    let [drawn, laser, router] = cases;
    for (case, from, to) in [
        (&drawn, "drawn", "kerf-compensated"),
        (&laser, "0.16 mm", "0.18 mm"),
        (&laser, "unit mm", "unit in"),
        (&router, "diameter of 3 mm", "diameter of 6 mm"),
        (&router, "Size:", "Note:"),
    ] {
        case.refuses(from, |g| {
            let note = g
                .iter_mut()
                .find(|(code, value)| code == "1" && value.starts_with("Size:"));
            let note = &mut note.expect("a note").1;
            *note = note.replace(from, to);
        });
    }
    let (from, to) = match drawn.alone {
        None => ("Sheet 1:", "Sheet 2:"),
        Some(_) => ("Piece B: cut 1 in all", "Piece B: cut 2 in all"),
    };
    drawn.refuses(from, |g| {
        let note = g.iter_mut().find(|(_, value)| value.starts_with(from));
        let note = &mut note.expect("a note").1;
        *note = note.replace(from, to);
    });
    assert!(
        laser.prove(&drawn.bytes).is_err(),
        "drawn size in place of the compensated one"
    );
    assert!(
        drawn.prove(&laser.bytes).is_err(),
        "compensated size in place of the drawn one"
    );
}

#[test]
fn another_plan_is_not_proven() {
    for version in [R2000, R12] {
        other_plans_are_not_proven(Case::sizes(version, None));
        // The second of two alike is gone, so that one less is cut.
        let [mut alone, ..] = Case::sizes(version, Some(0));
        alone.layout.sheets[0].placements.remove(2);
        assert!(alone.prove(&alone.bytes).is_err(), "another count");
        let [_, mut laser, _] = Case::sizes(version, Some(0));
        laser.alone = Some(1);
        assert!(laser.prove(&laser.bytes).is_err(), "another piece");
    }
}

fn other_plans_are_not_proven(cases: [Case; 3]) {
    let [mut drawn, mut laser, mut router] = cases;
    drawn.layout.sheets[0].placements[1].x += 4e-6;
    assert!(
        drawn.prove(&drawn.bytes).is_err(),
        "a piece moved by four millionths"
    );
    laser.layout.sheets[0].placements[2].id = "u3".to_owned();
    assert!(laser.prove(&laser.bytes).is_err(), "another member");
    if let Some(program) = &mut router.program {
        program.contours.swap(0, 1);
    }
    assert!(router.prove(&router.bytes).is_err(), "cut in another order");
}

#[test]
fn truncated_or_random_bytes_are_faults_and_no_panic() {
    let [drawn, _, router] = Case::sizes(R2000, None);
    let [_, laser, old] = Case::sizes(R12, Some(0));
    for case in [&drawn, &router, &laser, &old] {
        for end in (0..case.bytes.len())
            .step_by(11)
            .chain([case.bytes.len() - 1])
        {
            assert!(
                case.prove(&case.bytes[..end]).is_err(),
                "cut short at {end}"
            );
        }
        // Knuth's 64-bit linear congruence (MMIX) picks places and bytes.
        let mut state = 20_240_229_u64;
        let mut next = |below: usize| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((state >> 33) as usize) % below
        };
        let groups = case.groups();
        for _ in 0..3000 {
            let mut bytes = case.bytes.clone();
            for _ in 0..=next(3) {
                let at = next(bytes.len());
                bytes[at] = b"0123456789-.ABCZ \r\n\xff"[next(20)];
            }
            let _either = case.prove(&bytes);
        }
        for _ in 0..3000 {
            let mut spoilt = groups.clone();
            let (from, to) = (next(spoilt.len()), next(spoilt.len()));
            match next(3) {
                0 => spoilt.swap(from, to),
                1 => spoilt[to].0 = groups[from].0.clone(),
                _ => spoilt[to].1 = groups[from].1.clone(),
            }
            let _either = case.prove(&bytes_of(&spoilt));
        }
        for i in 0..groups.len() {
            let mut spoilt = groups.clone();
            spoilt.remove(i);
            let _either = case.prove(&bytes_of(&spoilt));
        }
    }
}
