//! Pictures of very many joints leave out what cannot be seen on paper, and nothing else.

#![allow(clippy::unwrap_used, clippy::panic)]

use lapwright::document::Numbers;
use lapwright::geom::{Contour, Point};
use lapwright::job::plan;
use lapwright::panel::JobFiles;
use lapwright::plan::Plan;
use lapwright::setup::FlatSheet;
use lapwright::write::svg::{SheetView, StepView, sheet_svg, step_svg};

/// From so many joints on; and what the pictures then say.
const MANY: usize = 5_000;
const SAID: &str = "Simplified:";

/// The paths of a class in a picture of a sheet, as rows of points; arcs by their ends.
fn paths(svg: &str, class: &str) -> Vec<Vec<Point>> {
    let group = svg.split(&format!("class=\"{class}\">")).nth(1).unwrap();
    let group = group.split("</g>").next().unwrap();
    let numbers = |text: &str| -> Vec<f64> {
        text.split(|c: char| c.is_whitespace() || c == 'Z')
            .filter(|word| !word.is_empty())
            .map(|word| word.parse().unwrap())
            .collect()
    };
    let one = |d: &str| {
        let d = d.split('"').next().unwrap();
        let commands = d.split_inclusive(['M', 'L', 'A']).skip(1);
        let ends = commands.map(|part| {
            let all = numbers(part.trim_end_matches(['L', 'A']));
            Point::new(all[all.len() - 2], all[all.len() - 1])
        });
        ends.collect()
    };
    group.split("<path d=\"").skip(1).map(one).collect()
}

/// The demo's first sheet, as long as this, mm: the longer it is, the smaller is it drawn.
fn drawn(plan: &Plan, joints: usize, length: Option<f64>) -> String {
    let flat = plan.flat().unwrap();
    let (sheet, program) = flat.cuts().next().unwrap();
    let sheet = FlatSheet {
        length: length.unwrap_or(sheet.length),
        ..sheet.clone()
    };
    let svg = sheet_svg(&SheetView {
        layout: &flat.layout,
        sheet: &sheet,
        trim: 0.0,
        program: Some(program),
        title: &["many".into()],
        numbers: Numbers::MM,
        joints,
    });
    String::from_utf8(svg).unwrap()
}

fn of(points: &[Point]) -> Contour {
    Contour::polygon(points.iter().copied())
}

#[test]
fn notches_that_cannot_be_seen_are_left_out() {
    let plan = plan(JobFiles::builtin_panel("demo").unwrap(), &mut |_| {}).unwrap();
    let flat = plan.flat().unwrap();
    let (sheet, program) = flat.cuts().next().unwrap();
    let (long, few) = (Some(40_000.0), MANY - 1);
    // Forty metres are drawn smaller than 1 : 25, on the broadest paper in six parts, and 0.3 mm are 7.5 mm of the work.
    let (whole, simple) = (drawn(&plan, few, long), drawn(&plan, MANY, long));
    assert!(simple.contains(SAID) && !whole.contains(SAID));
    assert!(
        2 * simple.len() < whole.len(),
        "{} {}",
        simple.len(),
        whole.len()
    );
    for class in ["pieces", "path"] {
        let (before, after) = (paths(&whole, class), paths(&simple, class));
        assert_eq!(before.len(), after.len(), "{class}: none is left out");
        for (before, after) in before.iter().zip(&after) {
            let (before, after) = (of(before), of(after));
            assert_eq!(before.bounds(), after.bounds());
            assert!(before.vertices.len() > 8, "it has notches");
            let round = before.bounds();
            // Without notches it fills its box: the shoelace formula against length by width.
            let filled = after.area().abs() / (round.width() * round.height());
            assert!((filled - 1.0).abs() < 1e-3, "{class}: {filled}");
        }
    }
    assert_eq!(paths(&simple, "pieces").len(), sheet.placements.len());
    assert_eq!(paths(&simple, "path").len(), program.contours.len());
}

#[test]
fn notches_that_can_be_seen_are_drawn_however_many_they_are() {
    let plan = plan(JobFiles::builtin_panel("demo").unwrap(), &mut |_| {}).unwrap();
    let [few, many] = [MANY - 1, 100 * MANY].map(|joints| drawn(&plan, joints, None));
    assert_eq!(few, many);
}

/// Dots of glue: each joint lies within a dot's width of one that is drawn.
#[test]
fn glue_is_drawn_once_for_joints_that_lie_together() {
    let side = 80_u32;
    let glue = (0..side * side).map(|k| {
        let at = Point::new(f64::from(k % side) * 9.0, f64::from(k / side) * 9.0);
        (at, false)
    });
    let size = f64::from(side - 1) * 9.0;
    let corners = [(0.0, 0.0), (size, 0.0), (size, size), (0.0, size)];
    let view = |joints| StepView {
        title: "Step 3".into(),
        outline: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
        tones: ["in already", "goes in"],
        glue: glue.clone().collect(),
        joints,
        ..StepView::default()
    };
    let text = |joints| String::from_utf8(step_svg(&view(joints))).unwrap();
    let (whole, simple) = (text(MANY - 1), text(MANY));
    let dots = |svg: &str| {
        let group = svg.split("class=\"step-glue\">").nth(1).unwrap();
        let group = group.split("</g>").next().unwrap().to_owned();
        let number = |circle: &str, key: &str| -> f64 {
            let value = circle.split(&format!("{key}=\"")).nth(1).unwrap();
            value.split('"').next().unwrap().parse().unwrap()
        };
        let circles = group.split("<circle ").skip(1);
        let read = circles.map(|c| (Point::new(number(c, "cx"), number(c, "cy")), number(c, "r")));
        read.collect::<Vec<_>>()
    };
    let (all, kept) = (dots(&whole), dots(&simple));
    assert_eq!(all.len(), (side * side) as usize);
    assert!(!whole.contains(SAID) && simple.contains(SAID));
    assert!(kept.len() < all.len(), "{} of {}", kept.len(), all.len());
    for (joint, r) in &all {
        let near = kept
            .iter()
            .any(|(dot, _)| (*dot - *joint).hypot() < 2.0 * r);
        assert!(near, "no dot tells of the joint at {joint:?}");
    }
}
