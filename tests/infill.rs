//! Infill by what it must come to: figures of the trade, Euclid's incentre, the seam rule; and what is said
//! where it cannot be made.
#![allow(clippy::unwrap_used, clippy::panic)]

use lapwright::geom::{Convex, Point, Vec2};
use lapwright::infill::{Border, Infill, seam_deg};
use lapwright::job::plan;
use lapwright::lattice::Turn;
use lapwright::panel::{InfillCut, JobFiles, SourceKind, builtin};
use lapwright::path::CutKind;
use lapwright::plan::Plan;
use lapwright::replay::{SweptMove, prove_pieces};

use crate::panel_support::{changed, cuts};

/// No blanks: they are as wide as the stock is thick, and pieces wider than the infill cannot be cut from them.
const BY_HAND: (&str, &str) = ("cut = \"blanks\"", "cut = \"by-hand\"");

/// The model in card with its panel file edited and its first pattern's text replaced.
fn files(edits: &[(&str, &str)], pattern: Option<&str>) -> JobFiles {
    let mut sources = changed("hemp-leaf-card", SourceKind::Panel, edits);
    if let Some(pattern) = pattern {
        let first = sources.iter_mut().find(|s| s.name == "pattern-1.toml");
        first.unwrap().bytes = pattern.as_bytes().to_vec();
    }
    JobFiles::from_sources(sources).unwrap_or_else(|e| panic!("{e}"))
}

fn planned(edits: &[(&str, &str)], pattern: Option<&str>) -> Plan {
    plan(files(edits, pattern), &mut |_| {}).unwrap_or_else(|e| panic!("{e}"))
}

/// The features of the model, taken out of its file.
fn no_features() -> [(&'static str, String); 1] {
    let text = builtin(SourceKind::Panel, "hemp-leaf-card").unwrap().text;
    let from = text.find("[[infill.feature]]").unwrap();
    let to = text.find("[cut]").unwrap();
    [(&text[from..to], String::new())]
}

fn infill(edits: &[(&str, &str)], pattern: Option<&str>) -> Infill {
    let gone = no_features();
    let mut all = vec![(gone[0].0, "")];
    all.extend(edits);
    planned(&all, pattern)
        .panel()
        .unwrap()
        .drawn
        .infill
        .clone()
        .unwrap()
}

/// What is told of a panel that cannot be made: line, and message with hint.
fn told(edits: &[(&str, &str)], pattern: Option<&str>) -> String {
    match plan(files(edits, pattern), &mut |_| {}) {
        Ok(_) => panic!("no fault with {edits:?}"),
        Err(error) => {
            assert_eq!(error.exit_status(), 2, "{error}");
            error.to_string()
        }
    }
}

#[track_caller]
fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} and {b}");
}

/// Bars by hand in place of the three-way ground, each family with its own face.
const SQUARE: [(&str, &str); 4] = [
    ("layout = \"three-way\" ", "layout = \"square\" "),
    ("pitch = 40 ", "pitch_across = 40\npitch_up = 40 "),
    ("left = \"inner-edge\"", "left = { clear = 0.75 }"),
    ("right = \"inner-edge\"", "right = { clear = 0.75 }"),
];

fn square() -> Vec<(&'static str, &'static str)> {
    let mut edits = SQUARE.to_vec();
    edits.push(("bottom = \"centres\"", "bottom = { clear = 0.75 }"));
    edits.push(("top = \"centres\"", "top = { clear = 0.75 }"));
    edits
}

/// The check panel with 3 mm infill (common practice, no source): 33.53 point to point in a full cell, and
/// pieces along top and bottom 1.5 wide. A full cell's opening is a triangle of the pitch less the bars:
/// its corners lie 2 r from the incentre, r = pitch / (2 √3) - face / 2.
#[test]
fn the_check_panel_has_its_figures() {
    let mut files = crate::panel_support::panel("check");
    let model = crate::panel_support::panel("hemp-leaf-card");
    let mut asked = model.panel.infill.clone().unwrap();
    (asked.filling.face, asked.filling.depth) = (3.0, 12.0);
    asked.features = Vec::new();
    asked.cut = InfillCut::ByHand;
    files.panel.infill = Some(asked);
    files.patterns = model.patterns;
    let made = plan(files, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"));
    let infill = made.panel().unwrap().drawn.infill.clone().unwrap();
    // 7 columns of triangles, cut in half at both ends of every other: 2 * 3 whole ones and one cut a column.
    assert_eq!(infill.cells.len(), 6 * 7);
    assert_eq!(infill.cells.iter().filter(|c| c.cut).count(), 12);
    let want = 2.0 * (65.0 / (2.0 * 3f64.sqrt()) - 2.0);
    near(want, 33.53, 0.005);
    let of = |trimmed: bool| {
        let of: Vec<_> = infill
            .classes
            .iter()
            .filter(|c| c.trimmed == trimmed)
            .collect();
        assert_eq!(of.len(), 1, "one class");
        of[0]
    };
    let (whole, half) = (of(false), of(true));
    near(whole.length, want, 1e-9);
    near(whole.face, 3.0, 1e-9);
    // Three in every whole cell, one whole and one halved in every cut one.
    assert_eq!((whole.pieces.len(), half.pieces.len()), (30 * 3 + 12, 12));
    near(half.face, 1.5, 1e-9);
    near(half.length, want, 1e-9);
    // Corners of 60 degrees, and three that meet.
    for (end, bevel) in whole.ends.iter().zip([30.0, 60.0]) {
        near(end[0], bevel, 1e-9);
        near(end[1], bevel, 1e-9);
    }
}

/// A square cell halved by a diagonal: 22.5 and 45 at the corners, 56.25 and 67.5 at the incentre (angles of
/// a right-angled triangle of equal legs).
#[test]
fn a_halved_square_has_its_bevels() {
    let infill = infill(&square(), None);
    let whole: Vec<_> = infill.classes.iter().filter(|c| !c.trimmed).collect();
    let mut found: Vec<[[f64; 2]; 2]> = whole
        .iter()
        .map(|c| c.ends.map(|end| end.map(lapwright::geom::micron)))
        .collect();
    found.sort_by(|a, b| {
        a[0][0]
            .total_cmp(&b[0][0])
            .then(a[1][0].total_cmp(&b[1][0]))
    });
    assert_eq!(
        whole.len(),
        3,
        "diagonal, to the right angle, to the others: {found:?}"
    );
    let want = [
        [[22.5, 22.5], [56.25, 67.5]],
        [[45.0, 45.0], [45.0, 45.0]],
        [[45.0, 45.0], [56.25, 56.25]],
    ];
    for (ends, mut want) in found.iter().zip(want) {
        // The first one of a class may lie the other way over.
        if ends[1][0] > ends[1][1] {
            want[1].reverse();
        }
        for (end, want) in ends.iter().zip(want) {
            near(end[0], want[0], 1e-9);
            near(end[1], want[1], 1e-9);
        }
    }
}

/// The seam runs through the point where the axes meet and the one where the faces do, found here as the
/// crossing of two lines.
#[test]
fn seams_run_from_axes_to_faces() {
    for (w1, w2, p) in [
        (3.0, 3.0, 60.0),
        (4.37, 3.0, 57.0),
        (3.0, 4.37, 57.0),
        (1.5, 4.0, 131.0f64),
    ] {
        let (s, c) = (p.to_radians().sin(), p.to_radians().cos());
        // The left face of the first, y = w1 / 2, on the right face of the second.
        let y: f64 = 0.5 * w1;
        let x = (0.5 * w2 + y * c) / s;
        let a = y.atan2(x).to_degrees();
        near(seam_deg(w1, w2, p), a, 1e-9);
        // Both sides of one seam make up the whole angle; beyond the point it goes straight on.
        near(seam_deg(w1, w2, p) + seam_deg(w2, w1, p), p, 1e-9);
        near(seam_deg(w1, w2, 360.0 - p), 180.0 - a, 1e-9);
    }
    near(seam_deg(3.0, 3.0, 180.0), 90.0, 0.0);
}

/// Pieces of unequal faces that meet keep no space in common and leave none open round their point.
#[test]
fn unequal_faces_meet_without_gap_or_overlap() {
    let pattern = r#"
        name = "unequal"
        source = "invented for the test"
        [[rule]]
        shape = "triangle"
        [[rule.piece]]
        from = "corner 1"
        to = "incentre"
        start = "bar"
        end = "seam"
        face = 1.7
        [[rule.piece]]
        from = "corner 2"
        to = "incentre"
        start = "bar"
        end = "seam"
        [[rule.piece]]
        from = "corner 3"
        to = "incentre"
        start = "bar"
        end = "seam"
        face = 0.8
    "#;
    let infill = infill(
        &[
            ("leave_cut_cells = false", "leave_cut_cells = true"),
            BY_HAND,
            ("least_length = 8", "least_length = 1"),
        ],
        Some(pattern),
    );
    let mut seen = 0;
    for (c, cell) in infill.cells.entries().filter(|(_, c)| !c.cut) {
        let pieces: Vec<Convex> = infill
            .pieces
            .iter()
            .filter(|p| p.cell == c)
            .map(|p| Convex::from_corners(p.outline.clone()))
            .collect();
        assert_eq!(pieces.len(), 3, "{}", cell.id);
        for (i, a) in pieces.iter().enumerate() {
            for b in &pieces[i + 1..] {
                assert!(!a.both(b).is_solid(), "{}", cell.id);
            }
        }
        // A small circle round the incentre is full of wood.
        let centre = cell.middle();
        let disc: Vec<Point> = (0..64)
            .map(|k| {
                let t = f64::from(k) * std::f64::consts::TAU / 64.0;
                centre + Vec2::new(t.cos(), t.sin()) * 0.4
            })
            .collect();
        let disc = Convex::from_corners(disc);
        let filled: f64 = pieces.iter().map(|p| p.both(&disc).area()).sum();
        near(filled, disc.area(), 1e-9);
        seen += 1;
    }
    assert!(seen > 10, "{seen} cells");
}

#[test]
fn turned_pieces_are_one_class_and_their_turns_carry_them() {
    let infill = planned(&[], None)
        .panel()
        .unwrap()
        .drawn
        .infill
        .clone()
        .unwrap();
    assert!(infill.classes.len() >= 4);
    for piece in &infill.pieces {
        let class = &infill.classes[piece.class];
        let axis = (piece.end - piece.start) / (piece.end - piece.start).hypot();
        let left = Vec2::new(-axis.y, axis.x);
        let placed: Vec<Point> = class
            .outline
            .iter()
            .map(|p| {
                let (x, y) = match piece.turn {
                    Turn::None => (p.x, p.y),
                    Turn::Over => (p.x, -p.y),
                    Turn::End => (class.length - p.x, -p.y),
                    Turn::Both => (class.length - p.x, p.y),
                };
                piece.start + axis * x + left * y
            })
            .collect();
        for p in &piece.outline {
            let off = placed
                .iter()
                .map(|q| (*q - *p).hypot())
                .fold(f64::INFINITY, f64::min);
            assert!(off < 1e-5, "{} {:?}: {off}", class.id, piece.turn);
        }
    }
    let over: Vec<Turn> = infill.pieces.iter().map(|p| p.turn).collect();
    assert!(over.iter().any(|t| *t != Turn::None), "some are turned");
}

#[test]
fn neighbours_are_mutual_and_coloured_like_a_chessboard() {
    for edits in [Vec::new(), square()] {
        let infill = infill(&edits, None);
        let mut seen = 0;
        for (c, cell) in infill.cells.entries() {
            for side in &cell.sides {
                let Some(n) = side.neighbour else { continue };
                let beyond = &infill.cells[n];
                assert_ne!(cell.even, beyond.even, "{} and {}", cell.id, beyond.id);
                assert!(beyond.sides.iter().any(|s| s.neighbour == Some(c)));
                assert!(
                    matches!(side.border, Border::Bar { .. }),
                    "a bar between them"
                );
                seen += 1;
            }
        }
        assert!(seen > 20, "{seen} sides");
        let rows: Vec<&str> = infill.cells.iter().map(|c| c.id.as_str()).collect();
        assert_eq!(rows[0], "cell-1");
        assert!(infill.cells.rows()[0].even);
    }
}

#[test]
fn allowance_and_jig_change_the_lengths_that_are_cut() {
    let made = planned(&[], None);
    let csv = lapwright::write::infill_csv::infill_csv(
        made.panel().unwrap().drawn.infill.as_ref().unwrap(),
        &made.files,
    );
    let csv = String::from_utf8(csv).unwrap();
    let mut lines = csv.split("\r\n");
    let head: Vec<&str> = lines.next().unwrap().split(',').collect();
    let column = |name: &str| head.iter().position(|h| *h == name).unwrap();
    let mut count = 0;
    for line in lines.filter(|l| !l.is_empty()) {
        let cells: Vec<&str> = line.split(',').collect();
        assert_eq!(cells.len(), head.len(), "{line}");
        let number = |name: &str| cells[column(name)].parse::<f64>().unwrap();
        near(number("cut_length_mm"), number("length_mm") - 0.1, 1e-6);
        near(number("blank_mm"), number("length_mm") - 0.1 + 1.0, 1e-6);
        count += number("count") as usize;
    }
    assert_eq!(
        count,
        made.panel()
            .unwrap()
            .drawn
            .infill
            .clone()
            .unwrap()
            .pieces
            .len()
    );
}

/// One line of the panel file is told, and what would be right.
#[track_caller]
fn tells(edits: &[(&str, &str)], pattern: Option<&str>, said: &str, hint: &str) {
    let told = told(edits, pattern);
    assert!(told.contains(said), "{told}");
    assert!(told.contains(hint), "{told}");
    assert!(told.contains("--> panel.toml:"), "{told}");
}

#[test]
fn a_pattern_for_a_cell_of_another_shape_is_told() {
    let pattern = builtin(SourceKind::Pattern, "diagonals").unwrap().text;
    tells(
        &[],
        Some(pattern),
        "\"diagonals\" does not fit cell-3, a triangle",
        "it fits: quadrilateral",
    );
}

#[test]
fn pieces_too_short_to_hold_are_told() {
    tells(
        &[("least_length = 8", "least_length = 13")],
        None,
        "is 12.37 mm long, too short to hold (least 13)",
        "a larger pitch, another pattern",
    );
    planned(&[("least_length = 8", "least_length = 12.3")], None);
}

#[test]
fn two_patterns_for_one_cell_are_told() {
    tells(
        &[(
            "cells = [\"cell-1\", \"cell-2\"]",
            "cells = [\"cell-1\", \"cell-14\"]",
        )],
        None,
        "cell-14 has a pattern already, from feature 1",
        "take the cell out of one of the two",
    );
}

#[test]
fn an_outline_smaller_than_one_cell_is_told() {
    // Round one joint of a square ground, from middle to middle of the cells about it.
    let side = "side = [{ x = 25, y = 26, clear = 0.01 }, { x = 55, y = 26, clear = 0.01 }, \
                { x = 55, y = 55, clear = 0.01 }, { x = 25, y = 55, clear = 0.01 }] #";
    let mut edits = SQUARE[..2].to_vec();
    edits.extend([
        (no_features()[0].0, ""),
        ("columns = 4", "#"),
        ("rows = 3", "#"),
        ("left = \"inner-edge\"", side),
        ("right = \"inner-edge\"", "#"),
        ("bottom = \"centres\"", "#"),
        ("top = \"centres\"", "#"),
    ]);
    tells(
        &edits,
        None,
        "the outline is smaller than one cell",
        "a larger ground, a smaller pitch",
    );
}

#[test]
fn a_region_without_a_cell_and_an_unknown_cell_are_told() {
    tells(
        &[("left = 45, right = 92", "left = 1, right = 2")],
        None,
        "this feature has no cell",
        "make it larger",
    );
    tells(
        &[("\"cell-2\"", "\"cell-99\"")],
        None,
        "there is no cell \"cell-99\"",
        "cells are cell-1 to cell-28",
    );
}

#[test]
fn blanks_lie_among_the_bars_or_are_cut_by_hand() {
    let made = planned(&[], None);
    let layout = &made.flat().unwrap().layout;
    let infill = made.panel().unwrap().drawn.infill.as_ref().unwrap();
    let bars = made.lattice().classes.len();
    assert_eq!(layout.pieces.len(), bars + infill.classes.len());
    for (k, class) in infill.classes.iter().enumerate() {
        let id = layout.pieces.id(bars + k).unwrap();
        let blank = &layout.pieces[id];
        assert_eq!(layout.copies(id), class.pieces.len(), "{}", class.id);
        // Shorter by the allowance, longer by what the jig takes.
        near(blank.length, class.length - 0.1 + 1.0, 1e-9);
        near(blank.drawn.area(), blank.length * 9.0, 1e-9);
        assert_eq!(blank.remark.is_empty(), !class.trimmed, "{}", blank.remark);
    }
    tells(
        &[
            (
                "[infill]                              # small bars that fill the cells\nface = 1.5",
                "[infill]\nface = 1.9",
            ),
            ("scale_model = true", "loose_joints = true"),
        ],
        None,
        "blanks are as wide as the stock is thick",
        "cut = \"by-hand\"",
    );
    let shallow = (
        "pattern = \"hemp-leaf\" ",
        "depth = 8.5\npattern = \"hemp-leaf\" ",
    );
    let gone = (
        "depth = 9                             # mm from front to back\npattern",
        "pattern",
    );
    // Of another depth they have sheets of their own, of the same stock.
    let made = planned(&[gone, shallow], None);
    assert_eq!(made.flat().unwrap().layout.pieces.len(), bars);
    assert_eq!(made.cuts.beside.len(), 1);
    assert_eq!(made.cuts.beside[0].wood, 0);
    let layout = &made.cuts.beside[0].layout;
    assert_eq!(layout.pieces.len(), infill.classes.len());
    assert!(layout.pieces.iter().all(|blank| blank.depth == 8.5));
    let by_hand = ("cut = \"blanks\"", "cut = \"by-hand\"");
    let made = planned(&[gone, shallow, by_hand], None);
    assert_eq!(made.flat().unwrap().layout.pieces.len(), bars);
}

#[test]
fn unsound_patterns_are_told() {
    let rule = |piece: &str| {
        format!(
            "name = \"x\"\nsource = \"invented for the test\"\n[[rule]]\nshape = \"any\"\n\
             [[rule.piece]]\n{piece}\n"
        )
    };
    for (piece, said) in [
        (
            "from = \"corner 4\"\nto = \"incentre\"\nstart = \"bar\"\nend = \"bar\"",
            "it has 3 corners, no corner 4",
        ),
        (
            "from = \"corner 1\"\nto = \"incentre\"\nstart = \"bar\"\nend = \"seam\"",
            "a piece ends in a seam where no other does",
        ),
        (
            "from = \"corner 1\"\nto = \"incentre\"\nstart = \"bar\"\nend = \"butt\"",
            "a piece butts where no other runs through",
        ),
        (
            "from = \"incentre\"\nto = \"1 corner 1 + 1 corner 2 + 1 corner 3\"\nstart = \"bar\"\nend = \"bar\"",
            "a piece starts where it ends",
        ),
        (
            "each = true\nfrom = \"corner 1\"\nto = \"incentre\"\nstart = \"bar\"\nend = \"bar\"",
            "two of its pieces lie in each other",
        ),
    ] {
        tells(&[], Some(&rule(piece)), said, "mend the pattern");
    }
}

#[test]
fn a_piece_butts_at_the_face_of_the_one_that_runs_through() {
    let pattern = r#"
        name = "butted"
        source = "invented for the test"
        [[rule]]
        shape = "any"
        [[rule.piece]]
        from = "corner 1"
        to = "middle 2"
        start = "bar"
        end = "bar"
        face = 1.3
        [[rule.piece]]
        from = "corner 3"
        to = "1 corner 1 + 1 middle 2"
        start = "bar"
        end = "butt"
    "#;
    let infill = infill(
        &[
            ("leave_cut_cells = false", "leave_cut_cells = true"),
            BY_HAND,
        ],
        Some(pattern),
    );
    let (cell, _) = infill.cells.entries().find(|(_, c)| !c.cut).unwrap();
    let pieces: Vec<_> = infill.pieces.iter().filter(|p| p.cell == cell).collect();
    assert_eq!(pieces.len(), 2);
    let (through, butted) = (pieces[0], pieces[1]);
    let axis = (through.end - through.start) / (through.end - through.start).hypot();
    let apart = |p: &Point| axis.cross(*p - through.start).abs();
    let nearest = butted
        .outline
        .iter()
        .map(apart)
        .fold(f64::INFINITY, f64::min);
    near(nearest, 0.5 * 1.3 * 1.5, 1e-9);
    assert!(
        infill.patterns.iter().any(Option::is_none),
        "cut cells are left"
    );
}

/// Half a square: 135 degrees between the two pieces along the diagonal and 112.5 between either and the
/// third. Folded by 45; the wall of the cut runs from where the faces of the two meet to where the other face
/// meets the third (the seam rule of equal faces: half the angle).
#[test]
fn a_hinge_folds_by_what_is_left_of_the_angle() {
    let mut edits = square();
    edits.push(("cut = \"blanks\"", "hinged = true\ncut = \"by-hand\""));
    edits.push(("leave_cut_cells = false", "leave_cut_cells = true"));
    let infill = infill(&edits, None);
    let hinged: Vec<_> = infill.classes.iter().filter(|c| c.fold.is_some()).collect();
    assert_eq!(hinged.len(), 1);
    let (class, fold) = (hinged[0], hinged[0].fold.unwrap());
    assert_eq!(class.pieces.len(), 2 * class.count());
    near(fold.deg, 45.0, 1e-9);
    near(fold.at, 0.5 * class.length, 1e-9);
    let reach = |deg: f64| 0.5 * class.face / deg.to_radians().tan();
    let lean = reach(56.25) - reach(67.5);
    for wall in fold.walls {
        near(wall, class.face.atan2(lean).to_degrees(), 1e-9);
    }
    for &p in &class.pieces {
        assert!(infill.pieces[p].half.is_some());
    }
}

/// Dashes of one length with bridges as asked for between them and at both edges, in the middle of a blank
/// whose halves are alike; none in any other piece. The length is 6 times dash and bridge and one bridge more.
#[test]
fn a_hinged_blank_is_perforated_at_its_fold() {
    let perforated = "cut = \"blanks\"\nhinged = true\nfold = \"perforated\"\nfold_dash = 0.9\nfold_bridge = 0.5";
    let plan = planned(&[("cut = \"blanks\"", perforated)], None);
    let layout = &plan.flat().unwrap().layout;
    let classes = &plan.panel().unwrap().drawn.infill.as_ref().unwrap().classes;
    let mut folded = 0;
    for piece in &layout.pieces {
        let class = classes.iter().find(|c| c.id == piece.class);
        if class.is_none_or(|c| c.fold.is_none()) {
            assert!(piece.dashes.is_empty(), "{}", piece.class);
            continue;
        }
        folded += 1;
        near(piece.depth, 9.0, 0.0);
        assert_eq!(piece.dashes.len(), 6, "of 6.07 that there is room for");
        let dash = (9.0 - 7.0 * 0.5) / 6.0;
        for (k, [from, to]) in (0..).zip(&piece.dashes) {
            near(from.x, 0.5 * piece.length, 1e-9);
            near(to.x, from.x, 0.0);
            near(from.y, 0.5 + f64::from(k) * (dash + 0.5), 1e-9);
            near(to.y, from.y + dash, 1e-9);
        }
    }
    assert!(folded > 0);
}

/// A dash left out, cut short, too long, through a bridge or beside its line: by more than 0.005 mm it is
/// refused, by less it is not.
#[test]
fn the_replay_knows_every_dash() {
    let perforated = "cut = \"blanks\"\nhinged = true\nfold = \"perforated\"";
    let plan = planned(&[("cut = \"blanks\"", perforated)], None);
    let flat = plan.flat().unwrap();
    let (sheet, program) = flat.cuts().next().unwrap();
    let whole = cuts(program);
    let dash = program.contours.iter().find(|c| c.kind == CutKind::Fold);
    let [from, to] = [0, 1].map(|k| dash.unwrap().path.vertices[k].at);
    let ends = |m: &SweptMove| (m.from, m.to) == ([from.x, from.y, 0.0], [to.x, to.y, 0.0]);
    let index = whole.iter().position(ends).unwrap();
    let prove = |cuts: &[SweptMove]| match prove_pieces(cuts, &flat.layout, sheet, program) {
        Ok(_) => "",
        Err(faults) => faults[0].rule,
    };
    assert_eq!(prove(&whole), "");
    let changed = |change: fn(&mut SweptMove)| {
        let mut cuts = whole.clone();
        change(&mut cuts[index]);
        prove(&cuts)
    };
    assert_eq!(changed(|m| m.to = m.from), "waste-removed");
    assert_eq!(changed(|m| m.to[1] -= 0.02), "waste-removed");
    assert_eq!(changed(|m| m.to[1] -= 0.004), "");
    assert_eq!(changed(|m| m.to[1] += 0.02), "piece-whole");
    assert_eq!(changed(|m| m.to[1] += 0.004), "");
    assert_eq!(changed(|m| m.to[1] += 1.5), "piece-whole");
    assert_ne!(
        changed(|m| (m.from[0], m.to[0]) = (m.from[0] + 0.02, m.to[0] + 0.02)),
        ""
    );
    let mut gone = whole.clone();
    gone.remove(index);
    assert_eq!(prove(&gone), "waste-removed");
    let mut twice = whole.clone();
    twice.push(SweptMove {
        from: [from.x + 1.0, from.y, 0.0],
        to: [to.x + 1.0, to.y, 0.0],
        ..whole[index]
    });
    assert_eq!(prove(&twice), "piece-whole");
}

/// Just beyond, and just inside: depth 9, kerf 0.15.
#[test]
fn folds_that_cannot_be_perforated_are_told() {
    let with =
        |more: &str| format!("cut = \"blanks\"\nhinged = true\nfold = \"perforated\"\n{more}");
    let cut = "cut = \"blanks\"";
    for (beyond, inside, said) in [
        ("fold_dash = 7.01", "fold_dash = 7", "takes 9.01 mm"),
        ("fold_bridge = 3.51", "fold_bridge = 3.5", "takes 9.02 mm"),
    ] {
        tells(&[(cut, &with(beyond))], None, said, "fold_dash");
        planned(&[(cut, &with(inside))], None);
    }
    let wide = |kerf: f64| {
        let mut files = files(&[(cut, &with("fold_bridge = 0.5"))], None);
        files.material.laser.as_mut().unwrap().kerf = kerf;
        plan(files, &mut |_| {})
            .map(|_| ())
            .map_err(|e| e.to_string())
    };
    assert_eq!(wide(0.25), Ok(()));
    let said = wide(0.26).unwrap_err();
    assert!(
        said.contains("narrower than the kerf") && said.contains("fold_bridge = 0.52"),
        "{said}"
    );
}

#[test]
fn hinges_that_cannot_be_made_are_told() {
    let hinged = ("cut = \"blanks\"", "hinged = true\ncut = \"by-hand\"");
    let leaf = builtin(SourceKind::Pattern, "hemp-leaf").unwrap().text;
    // In a half square the right angle's piece makes less with either of the others than they do.
    let narrow = leaf.replace("to = \"corner 3\"\n", "to = \"corner 2\"\n");
    assert_ne!(narrow, leaf);
    let mut edits = square();
    edits.extend([(no_features()[0].0, ""), hinged]);
    tells(
        &edits,
        Some(&narrow),
        "would have to be undercut",
        "mend the pattern",
    );
    for (hinge, said) in [
        (
            "from = \"corner 1\"\nat = \"middle 1\"\nto = \"corner 3\"",
            "do not meet in a seam there",
        ),
        (
            "from = \"corner 1\"\nat = \"incentre\"\nto = \"middle 1\"",
            "do not meet in a seam there",
        ),
    ] {
        let from = leaf.find("[[rule.hinge]]").unwrap();
        let to = leaf[from..].find("[[rule]]").unwrap() + from;
        let pattern = format!("{}[[rule.hinge]]\n{hinge}\n{}", &leaf[..from], &leaf[to..]);
        tells(&[hinged], Some(&pattern), said, "mend the pattern");
    }
    // Not asked for, a hinge is no fault.
    planned(&edits[..edits.len() - 1], Some(&narrow));
}

/// The first half of a seam: of two faces the allowance moves one end only, and leaves both bevels.
#[test]
fn an_outline_is_shorter_by_the_allowance_and_keeps_its_bevels() {
    let infill = infill(&[], None);
    for class in &infill.classes {
        for allowance in [0.0, 0.13, -0.2] {
            let cut = class.cut_outline(allowance);
            let x = |f: fn(f64, f64) -> f64, from: f64| cut.iter().map(|p| p.x).fold(from, f);
            near(x(f64::min, 9e9), 0.0, 1e-9);
            near(x(f64::max, -9e9), class.length - allowance, 1e-9);
            let area = |points: &[Point]| Convex::from_corners(points.to_vec()).area();
            if !class.trimmed {
                let less = allowance * class.face;
                near(area(&cut), area(&class.outline) - less, 1e-9);
                assert_eq!(cut.len(), class.outline.len());
            }
        }
    }
}

/// Sheets of the bars' own wood are counted once: what the bars take is not there for the infill.
#[test]
fn counted_sheets_of_one_wood_are_shared() {
    let outlines = [
        (
            "depth = 9                             # mm from front to back\npattern",
            "depth = 1.5\npattern",
        ),
        ("cut = \"blanks\"", "cut = \"outlines\""),
    ];
    let mut files = files(&outlines, None);
    let one = plan(files.clone(), &mut |_| {}).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!((one.cuts.beside.len(), one.cuts.beside[0].wood), (1, 0));
    let used = one.flat().unwrap().nest.used + one.cuts.beside[0].nest.used;
    for (count, enough) in [(used, true), (used - 1, false)] {
        for blank in &mut files.stock.blanks {
            blank.count = Some(u32::try_from(count).unwrap());
        }
        assert_eq!(
            plan(files.clone(), &mut |_| {}).is_ok(),
            enough,
            "{count} sheets"
        );
    }
}
