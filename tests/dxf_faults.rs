//! Reads DXF files back: sound ones give the sizes that a formula gives, spoilt ones are refused.
//!
//! Group codes are those of the DXF reference: 0 record, 5 handle, 8 layer, 10 and 20 corner, 42 bulge,
//! 62 colour, 66 vertices follow, 70 flags, 90 count of corners, 330 owner.

#[path = "dxf_faults/layers.rs"]
mod layers;
#[path = "dxf_faults/spoilt.rs"]
mod spoilt;

use std::ops::Range;

use lapwright::panel::DxfVersion::{R12, R2000};
use lapwright::panel::{DxfLayers, DxfStyle, DxfVersion};
use lapwright::path::{Note, NoteKind, Program};
use lapwright::replay::{ReplayFault, dxf::DxfProof, dxf::prove_dxf};
use lapwright::setup::FlatLayout;
use lapwright::write::dxf::{DxfContent, DxfFile, DxfParts, DxfSubject, write_dxf};

use crate::sheets::nth;

type Groups = Vec<(String, String)>;

/// A plan, its file, and a way to prove any bytes against the plan.
struct Case {
    layout: FlatLayout,
    program: Option<Program>,
    style: DxfStyle,
    version: DxfVersion,
    parts: DxfParts,
    /// The placement that is shown alone.
    alone: Option<usize>,
    bytes: Vec<u8>,
}

impl Case {
    fn new(
        program: fn(&FlatLayout) -> Option<Program>,
        version: DxfVersion,
        parts: DxfParts,
        alone: Option<usize>,
    ) -> Self {
        let (layout, style) = (crate::sheets::layout(), crate::sheets::style());
        let mut case = Self {
            program: program(&layout),
            layout,
            style,
            version,
            parts,
            alone,
            bytes: Vec::new(),
        };
        case.bytes = write_dxf(&case.file(), &notes()).expect("a sound file");
        case
    }

    /// Drawn size, a laser's path, a router's path; in R12 what is cut of them.
    fn sizes(version: DxfVersion, alone: Option<usize>) -> [Self; 3] {
        Self::parts(version, DxfParts::files(DxfLayers::All, version)[0], alone)
    }

    /// The files of R12 that lie beside those.
    fn never_cut(alone: Option<usize>) -> [Self; 3] {
        Self::parts(R12, DxfParts::files(DxfLayers::All, R12)[1], alone)
    }

    fn parts(version: DxfVersion, parts: DxfParts, alone: Option<usize>) -> [Self; 3] {
        [
            Self::new(|_| None, version, parts, alone),
            Self::new(
                |layout| Some(crate::sheets::laser(layout, 0.16)),
                version,
                parts,
                alone,
            ),
            Self::new(
                |layout| Some(crate::sheets::router(layout, 3.0)),
                version,
                parts,
                alone,
            ),
        ]
    }

    /// Every size in either release, of the sheet and of its second piece.
    fn all() -> Vec<Self> {
        let of = |alone| {
            [
                Self::sizes(R2000, alone),
                Self::sizes(R12, alone),
                Self::never_cut(alone),
            ]
        };
        [None, Some(1)].into_iter().flat_map(of).flatten().collect()
    }

    fn file(&self) -> DxfFile<'_> {
        let sheet = &self.layout.sheets.rows()[0];
        let content = self.program.as_ref();
        DxfFile {
            layout: &self.layout,
            subject: match self.alone {
                None => DxfSubject::Sheet(sheet),
                Some(alone) => DxfSubject::Piece {
                    sheet,
                    placement: nth(&sheet.placements, alone),
                },
            },
            content: content.map_or(DxfContent::Drawn, |program| {
                DxfContent::Compensated(program.shown())
            }),
            parts: self.parts,
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
fn notes() -> Vec<Note> {
    ["Panel: sample, quantity 1", "Eyes, ears, dust."]
        .map(|text| Note::new(NoteKind::Title, text))
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
    for placement in &layout.sheets.rows()[0].placements.rows()[shown] {
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
            let [a, b] = [new, old].map(|case| {
                let proof = case.prove(&case.bytes).expect("a sound file");
                (proof.contours, proof.cut_length, proof.area)
            });
            assert_eq!(a, b, "corner by corner");
            assert!(a.1 > 0.0, "and there are some");
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

#[test]
fn notes_must_tell_the_size() {
    for cases in [Case::sizes(R2000, None), Case::never_cut(None)] {
        notes_tell_the_size(&cases);
    }
}

fn notes_tell_the_size([drawn, laser, router]: &[Case; 3]) {
    for (case, from, to) in [
        (drawn, "drawn", "kerf-compensated"),
        (laser, "0.16 mm", "0.18 mm"),
        (laser, "unit mm", "unit in"),
        (router, "diameter of 3 mm", "diameter of 6 mm"),
        (router, "Size:", "Note:"),
        (drawn, "Sheet 1:", "Sheet 2:"),
    ] {
        case.refuses(from, |g| {
            let note = g
                .iter_mut()
                .find(|(code, value)| code == "1" && value.contains(from));
            let note = &mut note.expect("a note").1;
            *note = note.replace(from, to);
        });
    }
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
        let [_, mut laser, _] = Case::sizes(version, Some(0));
        laser.alone = Some(1);
        assert!(laser.prove(&laser.bytes).is_err(), "another piece");
    }
}

fn other_plans_are_not_proven(cases: [Case; 3]) {
    let [mut drawn, mut laser, mut router] = cases;
    let first = nth(&drawn.layout.sheets, 0);
    let [_, second, third] = [0, 1, 2].map(|k| nth(&drawn.layout.sheets[first].placements, k));
    drawn.layout.sheets[first].placements[second].x += 4e-6;
    assert!(
        drawn.prove(&drawn.bytes).is_err(),
        "a piece moved by four millionths"
    );
    if laser.parts.labels {
        laser.layout.sheets[first].placements[third].id = "u3".to_owned();
        assert!(laser.prove(&laser.bytes).is_err(), "another member");
    }
    if let Some(program) = &mut router.program {
        program.contours.swap(0, 1);
    }
    assert!(router.prove(&router.bytes).is_err(), "cut in another order");
}

#[test]
fn truncated_or_random_bytes_are_faults_and_no_panic() {
    let [drawn, _, router] = Case::sizes(R2000, None);
    let [_, laser, old] = Case::sizes(R12, Some(0));
    let [_, _, never_cut] = Case::never_cut(None);
    for case in [&drawn, &router, &laser, &old, &never_cut] {
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
