//! Seams where pieces of unlike faces meet in one point, and what is told, cut and refused where an end is
//! re-entrant.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests")]

use lapwright::geom::{Convex, Point, Vec2};
use lapwright::infill::{Cell, Infill, PieceClass, cells};
use lapwright::job::{JobError, Made, plan};
use lapwright::panel::{Chosen, Feature, InfillCut, JobFiles, Relief, SourceKind};
use lapwright::plan::Plan;
use lapwright::replay::{SweptMove, prove_pieces};
use lapwright::safety::{CheckId, Status};

use crate::panel_support::{changed, cuts};

/// Three pieces from the corners of every triangle, of these faces of the infill each.
fn three(faces: [f64; 3]) -> String {
    let mut text = String::from(
        "name = \"three\"\nsource = \"invented for the test\"\n[[rule]]\nshape = \"triangle\"\n",
    );
    for (k, face) in (1..).zip(faces) {
        text.push_str(&format!(
            "[[rule.piece]]\nfrom = \"corner {k}\"\nto = \"incentre\"\nstart = \"bar\"\nend = \"seam\"\n\
             face = {face}\n"
        ));
    }
    text
}

/// The model in card, its infill of one pattern in whole cells alone, `edit`ed.
fn files(pattern: &str, edit: impl FnOnce(&mut JobFiles)) -> JobFiles {
    let mut sources = changed("hemp-leaf-card", SourceKind::Panel, &[]);
    let first = sources.iter_mut().find(|s| s.name == "pattern-1.toml");
    first.unwrap().bytes = pattern.as_bytes().to_vec();
    let mut files = JobFiles::from_sources(sources).unwrap_or_else(|e| panic!("{e}"));
    let asked = files.panel.infill.as_mut().unwrap();
    asked.features.clear();
    asked.leave_cut_cells = true;
    asked.least_length = 1.0;
    asked.allowance = 0.0;
    asked.filling.depth = 1.5;
    asked.cut = InfillCut::Outlines;
    edit(&mut files);
    files
}

fn planned(files: JobFiles) -> Plan {
    plan(files, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"))
}

fn by_hand(files: &mut JobFiles, plain: bool) {
    let asked = files.panel.infill.as_mut().unwrap();
    asked.cut = InfillCut::ByHand;
    asked.plain_ends = plain;
}

/// The class of one width; of its pieces all lie the same way.
fn of_face(infill: &Infill, face: f64) -> &PieceClass {
    let mut of = infill
        .classes
        .iter()
        .filter(|c| (c.face - face).abs() < 1e-9);
    let class = of.next().unwrap();
    assert!(of.next().is_none(), "one class of {face}");
    class
}

#[track_caller]
fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} and {b}");
}

/// The part of a ring that lies left of a directed line through two points.
fn left_part(ring: &[Point], from: Point, to: Point) -> Convex {
    let d = (to - from) / (to - from).hypot();
    let n = Vec2::new(-d.y, d.x);
    Convex::from_corners(ring.to_vec()).above(n, n.dot(from.to_vec2()))
}

fn area(ring: &[Point]) -> f64 {
    Convex::from_corners(ring.to_vec()).area()
}

/// Faces 6 and 2 at 120 degrees: tan a = w1 sin p / (w2 + w1 cos p) = 6 sin 120 / (2 - 3), 100.893 degrees, and
/// 2 sin 120 / (6 - 1), 19.107. Two of face 2 share their angle: 60. The wide piece's long points lie
/// 3 / tan 79.107 past the point in which the axes meet.
#[test]
fn a_wide_piece_between_two_narrow_ones_is_re_entrant() {
    let plan = planned(files(&three([3.0, 1.0, 1.0]), |f| {
        f.panel.infill.as_mut().unwrap().filling.face = 2.0;
    }));
    let infill = plan.panel().unwrap().drawn.infill.as_ref().unwrap();
    let wide = of_face(infill, 6.0);
    let a = (6.0 * 120f64.to_radians().sin())
        .atan2(2.0 - 3.0)
        .to_degrees();
    near(a, 100.893, 5e-4);
    for bevel in wide.ends[1] {
        near(bevel, a, 1e-9);
    }
    near(wide.ends[0][0], 30.0, 1e-9);
    assert_eq!(wide.reentrant(), [false, true]);
    // Two long points, the notch between them, two corners at the bars' faces and their own point.
    assert_eq!(wide.outline.len(), 6);
    let past = 3.0 / (180.0 - a).to_radians().tan();
    let notch = wide
        .outline
        .iter()
        .filter(|p| (p.x - (wide.length - past)).abs() < 1e-9);
    assert_eq!(
        notch.filter(|p| p.y.abs() < 1e-9).count(),
        1,
        "{:?}",
        wide.outline
    );
    // From corner to incentre, 2 r less or more: r = pitch / (2 √3) - face / 2 of the bars.
    near(
        wide.length,
        2.0 * (40.0 / (2.0 * 3f64.sqrt()) - 0.75) + past,
        1e-9,
    );

    let narrow: Vec<&PieceClass> = infill.classes.iter().filter(|c| c.face < 3.0).collect();
    for class in &narrow {
        assert_eq!(class.reentrant(), [false; 2]);
        let mut bevels = class.ends[1];
        bevels.sort_by(f64::total_cmp);
        near(bevels[0], 120.0 - a, 1e-9);
        near(bevels[0], 19.107, 5e-4);
        near(bevels[1], 60.0, 1e-9);
    }
    assert!(!narrow.is_empty());
}

/// A small circle round the point in which they meet is full of wood, and no two pieces share any: at face ratios
/// up to 4, and with a neighbour of another face on either side.
#[test]
fn nothing_stays_open_and_nothing_is_shared_at_any_ratio() {
    for faces in [
        [1.0, 1.0, 1.0],
        [2.0, 1.0, 1.0],
        [2.4, 1.0, 1.0],
        [4.0, 1.0, 1.0],
        [4.0, 1.0, 2.3],
        [1.3, 4.0, 1.0],
    ] {
        let plan = planned(files(&three(faces), |f| {
            f.panel.infill.as_mut().unwrap().filling.face = 1.1;
            by_hand(f, true);
        }));
        let plain = plan.panel().unwrap().drawn.infill.clone().unwrap();
        let plan = planned(files(&three(faces), |f| {
            f.panel.infill.as_mut().unwrap().filling.face = 1.1;
        }));
        let infill = plan.panel().unwrap().drawn.infill.clone().unwrap();
        let mut seen = 0;
        for (c, cell) in infill.cells.entries().filter(|(_, c)| !c.cut) {
            let of = |infill: &Infill| -> Vec<Vec<Point>> {
                let pieces = infill.pieces.iter().filter(|p| p.cell == c);
                pieces.map(|p| p.outline.clone()).collect()
            };
            let (true_ends, plain_ends) = (of(&infill), of(&plain));
            assert_eq!((true_ends.len(), plain_ends.len()), (3, 3));
            let centre = cell.middle();
            let disc: Vec<Point> = (0..96)
                .map(|k| {
                    let t = f64::from(k) * std::f64::consts::TAU / 96.0;
                    centre + Vec2::new(t.cos(), t.sin()) * 0.5
                })
                .collect();
            let disc = Convex::from_corners(disc);
            let wedges = |ring: &[Point]| -> f64 {
                // Either side of the axis is convex: rings are cut along the line from the corner to the centre.
                let far = ring
                    .iter()
                    .max_by(|a, b| a.distance(centre).total_cmp(&b.distance(centre)))
                    .unwrap();
                let both = [left_part(ring, *far, centre), left_part(ring, centre, *far)];
                both.iter().map(|half| half.both(&disc).area()).sum()
            };
            let filled: f64 = true_ends.iter().map(|ring| wedges(ring)).sum();
            near(filled, disc.area(), 1e-9);
            // A plain end lies in the true one.
            for (true_end, plain_end) in true_ends.iter().zip(&plain_ends) {
                assert!(area(plain_end) <= area(true_end) + 1e-9);
            }
            let wedges: f64 = true_ends.iter().map(|ring| area(ring)).sum::<f64>()
                - plain_ends.iter().map(|ring| area(ring)).sum::<f64>();
            let open = infill
                .classes
                .iter()
                .map(|c| c.plain_opening)
                .fold(0.0, f64::max);
            assert_eq!(wedges > 1e-9, open > 1e-9, "{faces:?}");
            seen += 1;
        }
        assert!(seen > 10, "{seen} cells");
    }
}

/// By hand and as blanks such an end is refused, with the place, how much a plain one would leave open, and what
/// would do; `plain_ends` turns that into a warning. The opening is the leg past a square end:
/// face / 2 × cot 79.107.
#[test]
fn by_hand_re_entrant_ends_are_refused_unless_plain_ones_are_accepted() {
    let leg = 3.0 * (180.0f64 - 100.893_394_649_1).to_radians().tan().recip();
    // Blanks are as wide as the stock is thick: a piece three times as wide cannot be one.
    let blanks = files(&three([3.0, 1.0, 1.0]), |f| {
        let asked = f.panel.infill.as_mut().unwrap();
        (asked.filling.face, asked.cut) = (1.5, InfillCut::Blanks);
    });
    let refused = plan(blanks, &mut |_| {}).unwrap_err();
    assert_eq!(refused.exit_status(), 2, "{refused}");
    let said = refused.to_string();
    assert!(
        said.contains("4.5 mm wide") && said.contains("1.5 mm"),
        "{said}"
    );
    let set = |plain: bool| {
        files(&three([3.0, 1.0, 1.0]), |f| {
            let asked = f.panel.infill.as_mut().unwrap();
            asked.filling.face = 2.0;
            asked.cut = InfillCut::ByHand;
            asked.plain_ends = plain;
        })
    };
    let refused = plan(set(false), &mut |_| {}).unwrap_err();
    assert_eq!(refused.exit_status(), 1, "{refused}");
    let JobError::Checks(checks) = &refused else {
        panic!("{refused}")
    };
    let failed = checks.iter().filter(|c| c.status == Status::Fail);
    let failed: Vec<_> = failed.map(|c| (c.id, c.value, c.place.as_str())).collect();
    let [(CheckId::InfillEnd, value, place)] = failed[..] else {
        panic!("{failed:?}")
    };
    near(value, leg, 1e-9);
    assert!(
        place.starts_with("ends of piece i") && place.contains("in cell-"),
        "{place}"
    );
    let said = refused.to_string();
    assert!(
        said.contains("cut = \"outlines\"") && said.contains("plain_ends = true"),
        "{said}"
    );

    let plan = planned(set(true));
    let check = plan
        .checks
        .iter()
        .find(|c| c.id == CheckId::InfillEnd)
        .unwrap();
    assert_eq!(check.status, Status::Warn);
    near(check.value, leg, 1e-9);
    let infill = plan.panel().unwrap().drawn.infill.as_ref().unwrap();
    let wide = infill
        .classes
        .iter()
        .max_by(|a, b| a.face.total_cmp(&b.face))
        .unwrap();
    assert_eq!(wide.reentrant(), [false; 2]);
    for bevel in wide.ends[1] {
        near(bevel, 90.0, 1e-9);
    }
    near(wide.length, 2.0 * (40.0 / (2.0 * 3f64.sqrt()) - 0.75), 1e-9);
    let csv = lapwright::write::infill_csv::infill_csv(infill, &plan.files);
    let csv = String::from_utf8(csv).unwrap();
    let line = csv
        .lines()
        .find(|l| l.starts_with(&format!("{},", wide.id)))
        .unwrap();
    assert!(line.contains("plain end: seam open by"), "{line}");
}

/// Between a wide neighbour and a narrow one a square end would lie in the wide one's wood: the plain end is cut
/// along their seam, and only the other one stays open.
#[test]
fn a_plain_end_leans_as_far_as_its_neighbours_make_it() {
    // Seams of the first (face 4) at 120 degrees to one of 5 and one of 1, by tan a = w1 sin p / (w2 + w1 cos p).
    let seam = |w1: f64, w2: f64| {
        let p = 120f64.to_radians();
        (w1 * p.sin()).atan2(w2 + w1 * p.cos()).to_degrees()
    };
    let (left, right) = (seam(4.0, 5.0), seam(4.0, 1.0));
    assert!(left < 90.0 && left + right > 150.0 && left + right < 180.0);
    // Their sum passes 180 where the wide neighbour is less wide.
    let (left, right) = (seam(4.0, 2.2), seam(4.0, 1.0));
    assert!(left < 90.0 && left + right > 180.0, "{left} {right}");
    let plan = planned(files(&three([4.0, 2.2, 1.0]), |f| {
        f.panel.infill.as_mut().unwrap().filling.face = 1.1;
        by_hand(f, true);
    }));
    let infill = plan.panel().unwrap().drawn.infill.clone().unwrap();
    let wide = of_face(&infill, 4.4);
    let mut bevels = wide.ends[1];
    bevels.sort_by(f64::total_cmp);
    near(bevels[0], left, 1e-9);
    near(bevels[1], 180.0 - left, 1e-9);
    // From the cut to the other seam along the face.
    let cot = |deg: f64| deg.to_radians().tan().recip();
    near(
        wide.plain_opening,
        2.2 * (cot(180.0 - left) - cot(right)),
        1e-9,
    );
}

/// Outlines are made as they are, and proven from what a beam or a cutter sweeps; the table and the sheet say that
/// no jig makes them.
#[test]
fn outlines_make_re_entrant_ends() {
    for allowance in [0.0, 0.07, -0.05] {
        let plan = planned(files(&three([2.9, 1.1, 1.3]), |f| {
            let asked = f.panel.infill.as_mut().unwrap();
            asked.filling.face = 1.9;
            asked.allowance = allowance;
        }));
        let infill = plan.panel().unwrap().drawn.infill.as_ref().unwrap();
        let classes: Vec<&PieceClass> =
            infill.classes.iter().filter(|c| c.reentrant()[1]).collect();
        assert!(!classes.is_empty());
        for class in &classes {
            let cut = class.cut_outline(allowance);
            assert_eq!(cut.len(), class.outline.len());
            near(
                area(&cut),
                area(&class.outline) - allowance * class.face,
                1e-9,
            );
            // The last end has moved as a whole, the first one not.
            for (k, p) in class.outline.iter().enumerate() {
                let moved = if p.x > 0.5 * class.length {
                    allowance
                } else {
                    0.0
                };
                let same = |q: &&Point| (**q - (*p - Vec2::new(moved, 0.0))).hypot() < 1e-9;
                assert_eq!(
                    cut.iter().filter(same).count(),
                    1,
                    "corner {k} of {}",
                    class.id
                );
            }
        }
        let made = Made::of(&plan, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"));
        let text = |path: &str| String::from_utf8(made.files[path].clone()).unwrap();
        let table = text("infill.csv");
        for class in &classes {
            let line = table
                .lines()
                .find(|l| l.starts_with(&format!("{},", class.id)))
                .unwrap();
            assert!(
                line.ends_with("last end re-entrant: not on a jig"),
                "{line}"
            );
        }
        let sheet = text("sheet.html");
        assert!(sheet.contains("Re-entrant ends: ") && sheet.contains("re-entrant: not on a jig"));
        let fillet = made.checks.iter().filter(|c| c.id == CheckId::CornerFillet);
        let fillet = fillet
            .filter(|c| c.place.contains("re-entrant ends"))
            .count();
        assert_eq!(fillet, 1);
    }
}

/// Without relief a round of radius r stays r / sin h - r short of a corner whose walls make 2 h (from its centre
/// both walls lie r away); with relief it passes through it.
#[test]
fn fillets_in_re_entrant_ends_are_checked() {
    let radius = 0.075;
    let a = (4.0 * 120f64.to_radians().sin()).atan2(1.0 - 2.0);
    let half = std::f64::consts::PI - a;
    let press = radius / half.sin() - radius;
    for (relief, value) in [
        (Relief::None, press),
        (Relief::Corner, 0.0),
        (Relief::Floor, 0.0),
    ] {
        let plan = planned(files(&three([4.0, 1.0, 1.0]), |f| {
            f.panel.infill.as_mut().unwrap().filling.face = 1.5;
            f.panel.cut.relief = relief;
        }));
        let made = Made::of(&plan, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"));
        let check = made
            .checks
            .iter()
            .find(|c| c.place.contains("re-entrant ends"))
            .unwrap();
        near(check.value, value, 1e-9);
    }
    let tight = files(&three([4.0, 1.0, 1.0]), |f| {
        f.panel.infill.as_mut().unwrap().filling.face = 1.5;
        f.panel.cut.clearance = 0.15;
        f.material.crush = press - 1e-6;
    });
    let JobError::Checks(checks) = plan(tight, &mut |_| {}).unwrap_err() else {
        panic!("a check fails")
    };
    let failed: Vec<_> = checks.iter().filter(|c| c.status == Status::Fail).collect();
    assert_eq!(failed.len(), 1, "{failed:?}");
    assert_eq!(failed[0].id, CheckId::CornerFillet);
}

/// A beam that does not run in to a notch's corner leaves wood in it, one that runs in too far takes it from the
/// piece: by more than 0.005 mm either is refused.
#[test]
fn the_replay_knows_the_corner_of_a_notch() {
    let plan = planned(files(&three([3.0, 1.0, 1.0]), |f| {
        f.panel.infill.as_mut().unwrap().filling.face = 1.9;
    }));
    let flat = &plan.cuts.beside[0];
    let (sheet, program) = flat.cuts().next().unwrap();
    let whole = cuts(program);
    let prove = |cuts: &[SweptMove]| match prove_pieces(cuts, &flat.layout, sheet, program) {
        Ok(_) => "",
        Err(faults) => faults[0].rule,
    };
    assert_eq!(prove(&whole), "");
    let notched = sheet.placements.iter().find_map(|p| {
        let corners = flat.layout.pieces[p.piece].inside_corners();
        Some((*p).clone()).zip(corners.first().copied())
    });
    let (place, corner) = notched.unwrap();
    let at = corner.centre(program.head.radius()) + Vec2::new(place.x, place.y);
    let meets = |v: [f64; 3]| Point::new(v[0], v[1]).distance(at) < 1e-6;
    let index = whole.iter().position(|m| meets(m.to)).unwrap();
    assert!(meets(whole[index + 1].from));
    let moved = |by: f64| {
        let mut cuts = whole.clone();
        let to = at - corner.into * by;
        cuts[index].to = [to.x, to.y, 0.0];
        cuts[index + 1].from = cuts[index].to;
        prove(&cuts)
    };
    assert_eq!(moved(0.004), "");
    assert_eq!(moved(0.02), "piece-whole");
    assert_eq!(moved(-0.004), "");
    assert_eq!(moved(-0.02), "waste-removed");
    let mut short = whole.clone();
    short[index].to = whole[index + 1].to;
    short.remove(index + 1);
    assert_eq!(prove(&short), "waste-removed");
}

/// Where the outline halves a piece along its axis no notch is left: what is left of its end is one bevel, a jig makes
/// it, and it is neither refused nor cut plain.
#[test]
fn what_the_outline_halves_is_no_longer_re_entrant() {
    // Cells whose second corner points to the right, along the side that cuts them.
    let plan = planned(files(&three([1.0; 3]), |_| {}));
    let lattice = plan.lattice();
    let pointed = |c: &Cell| c.room.len() == 3 && c.room[1].x > c.room[0].x.max(c.room[2].x) + 1.0;
    let chosen = cells(lattice).into_iter().filter(pointed);
    let chosen: Vec<String> = chosen.map(|c| c.id).collect();
    let whole = |plain: bool| {
        let plan = planned(files(&three([1.0, 2.9, 1.0]), |f| {
            let plain_cells = f.patterns.iter().position(|p| p.name == "plain").unwrap();
            let asked = f.panel.infill.as_mut().unwrap();
            asked.filling.face = 1.1;
            asked.plain_ends = plain;
            asked.leave_cut_cells = false;
            asked.features = vec![Feature {
                filling: asked.filling,
                cells: Chosen::Listed(chosen.clone()),
            }];
            asked.filling.pattern = plain_cells;
        }));
        plan.panel().unwrap().drawn.infill.clone().unwrap()
    };
    let steep = |infill: &Infill| -> Vec<String> {
        let halved = infill
            .classes
            .iter()
            .filter(|c| c.trimmed && c.reentrant() == [false; 2]);
        let steep = halved.filter(|c| c.ends.iter().flatten().any(|&deg| deg > 91.0));
        steep
            .map(|c| format!("{:.6} {:?}", c.length, c.ends))
            .collect()
    };
    for class in &whole(false).classes {
        assert_eq!(
            class.plain_opening > 0.0,
            class.reentrant().contains(&true),
            "{}",
            class.id
        );
    }
    let halved = steep(&whole(false));
    assert!(!halved.is_empty());
    assert_eq!(halved, steep(&whole(true)));
    assert!(whole(true).classes.iter().any(|c| c.plain_opening > 0.0));
}

/// Between the notches of two re-entrant ends too little wood may be left, though the long points lie far apart: the
/// side of a small triangle, four times as wide as what it meets, is told with its length between them.
#[test]
fn too_little_wood_between_notches_is_told() {
    let side = |from: &str, to: &str, face: f64| {
        format!(
            "[[rule.piece]]\nfrom = \"{from}\"\nto = \"{to}\"\nstart = \"seam\"\nend = \"seam\"\nface = {face}\n"
        )
    };
    let near = |k: usize| format!("1 corner {k} + 5 incentre");
    let mut text = String::from(
        "name = \"short\"\nsource = \"invented for the test\"\n[[rule]]\nshape = \"triangle\"\n",
    );
    // A short wide piece between the incentre and a point near it, narrow ones on from both.
    text += &side("incentre", &near(1), 4.0);
    for k in [2, 3] {
        text += &side("incentre", &format!("corner {k}"), 1.0)
            .replace("end = \"seam\"", "end = \"bar\"");
        text += &side(&near(1), &format!("middle {}", 2 * k - 3), 1.0)
            .replace("end = \"seam\"", "end = \"bar\"");
    }
    let told = |least: f64| {
        plan(
            files(&text, |f| {
                let asked = f.panel.infill.as_mut().unwrap();
                asked.filling.face = 0.6;
                asked.least_length = least;
            }),
            &mut |_| {},
        )
    };
    let error = told(8.0).unwrap_err();
    assert_eq!(error.exit_status(), 2);
    let said = error.to_string();
    // A sixth of 2 r with r = pitch / (2 √3) - face / 2 of the bars.
    let length = 2.0 * (40.0 / (2.0 * 3f64.sqrt()) - 0.75) / 6.0;
    let what =
        format!("is {length:.2} mm long from the notch in its end, too short to hold (least 8)");
    assert!(said.contains(&what), "{said}");
    assert!(said.contains("--> panel.toml:"), "{said}");
}
