//! The check panel's figures (common practice, no source: see the panel's own file), and what the joint
//! rule promises, at the panel's values and at odd ones.

use super::class::Kinds;
use super::piece::BarSize;
use super::*;
use crate::lattice::Edge;
use crate::panel::{
    Cut, DatumEnd, DxfLayers, DxfScope, DxfSize, DxfVersion, FamilySpec, FreeFamily, FreeLines,
    Ground, Layout, Method, OutlineShape, Panel, Paper, Relief, SideRule, Sides, Size, Sticks,
    Units, WorkshopSheet,
};

fn spec(name: &str, face: f64, rank: u32) -> FamilySpec {
    FamilySpec {
        name: name.into(),
        face,
        rank,
    }
}

fn panel(layout: Layout, face: f64, depth: f64, method: Method) -> Panel {
    let names = layout.family_names();
    Panel {
        name: "test".into(),
        short_name: "test".into(),
        quantity: 1,
        kits: None,
        ground: Ground {
            layout,
            depth,
            families: names
                .iter()
                .zip(1..)
                .map(|(n, r)| spec(n, face, r))
                .collect(),
        },
        outline: crate::panel::Outline {
            shape: OutlineShape::Rectangle {
                size: Size::Spacings {
                    columns: 6,
                    rows: 3,
                },
                sides: Sides {
                    left: SideRule::InnerEdge,
                    right: SideRule::InnerEdge,
                    bottom: SideRule::Centres,
                    top: SideRule::Centres,
                },
            },
            overhang: 25.0,
            trim_kerf: 1.5,
        },
        surround: None,
        infill: None,
        cut: Cut {
            method,
            scale_model: false,
            clearance: 0.05,
            same_piece: 0.01,
            loose_joints: false,
            relief: Relief::None,
            dxf: &[DxfSize::Drawn, DxfSize::Compensated],
            dxf_version: &[DxfVersion::R2000],
            dxf_files: &[DxfScope::Sheet],
            dxf_layers: DxfLayers::All,
        },
        sticks: Sticks {
            lead: 40.0,
            tail: 25.0,
            ends: vec![],
            saw_kerf: 1.5,
            limit: None,
            spares: 0,
            gang: None,
            datum: DatumEnd::Square,
            bed: None,
        },
        workshop_sheet: WorkshopSheet {
            paper: Paper::A4,
            units: Units::Mm,
        },
        joint_limit: 200_000,
    }
}

fn sides(panel: &mut Panel) -> &mut Sides {
    match &mut panel.outline.shape {
        OutlineShape::Rectangle { sides, .. } => sides,
        OutlineShape::Polygon { .. } => panic!("a rectangle"),
    }
}

fn size(panel: &mut Panel, columns: u32, rows: u32) {
    match &mut panel.outline.shape {
        OutlineShape::Rectangle { size, .. } => *size = Size::Spacings { columns, rows },
        OutlineShape::Polygon { .. } => panic!("a rectangle"),
    }
}

fn three_way(pitch: f64) -> Layout {
    Layout::ThreeWay {
        pitch,
        corner_joint: false,
    }
}

fn places(member: &Member) -> usize {
    let mut nodes: Vec<NodeId> = member.joints.iter().map(|j| j.node).collect();
    nodes.dedup();
    nodes.len()
}

#[test]
fn the_check_panel_has_its_figures() {
    let p = panel(three_way(65.0), 4.0, 12.0, Method::EdgeUp);
    let l = Lattice::build(&p, [4.0, 4.0]).expect("a sound panel");
    assert!(
        (l.bounds().width() - 333.75).abs() < 0.005,
        "width {}",
        l.bounds().width()
    );
    assert!(
        (l.bounds().height() - 195.0).abs() < 1e-9,
        "height {}",
        l.bounds().height()
    );
    let of = |name: &str| -> Vec<usize> {
        l.members
            .iter()
            .filter(|m| l.families[m.family].name == name)
            .map(places)
            .collect()
    };
    let sorted = |name: &str| {
        let mut v = of(name);
        v.sort_unstable_by(|a, b| b.cmp(a));
        v
    };
    assert_eq!(sorted("rising"), [6, 6, 4, 4, 2, 2]);
    assert_eq!(sorted("falling"), [6, 6, 4, 4, 2, 2]);
    assert_eq!(of("upright"), [4, 3, 4, 3, 4]);
    assert_eq!(l.members.len(), 17);
    for j in l
        .members
        .iter()
        .filter(|m| l.families[m.family].name == "upright")
        .flat_map(|m| &m.joints)
    {
        assert!(
            (j.depth - 4.0).abs() < 1e-9,
            "uprights notched 4 deep from both edges: {}",
            j.depth
        );
    }
    assert!((l.least_section() - 4.0).abs() < 1e-12);
}

#[test]
fn exact_shapes_neither_collide_nor_leave_gaps() {
    for (layout, face, depth) in [
        (three_way(65.0), 4.0, 12.0),
        (three_way(71.3), 4.37, 13.1),
        (
            Layout::Square {
                pitch_across: 31.7,
                pitch_up: 22.2,
            },
            3.1,
            11.0,
        ),
    ] {
        let mut p = panel(layout, face, depth, Method::EdgeUp);
        sides(&mut p).bottom = SideRule::InnerEdge;
        sides(&mut p).top = SideRule::InnerEdge;
        p.cut.clearance = 0.0;
        let l = Lattice::build(&p, [face, face]).expect("a sound panel");
        let fit = dry_fit(&l, &intended_shapes(&l), 0.0);
        assert!(fit.interference_mm3 < 1e-6, "{fit:?}");
        assert!(fit.largest_gap_mm < 1e-9, "{fit:?}");
        // Press and play: half a clearance a wall, over the sine.
        p.cut.clearance = 0.1;
        let l = Lattice::build(&p, [face, face]).expect("a sound panel");
        let fit = dry_fit(&l, &intended_shapes(&l), 0.0);
        let sine = if l.families.len() == 3 {
            60f64.to_radians().sin()
        } else {
            1.0
        };
        assert!((fit.largest_gap_mm - 0.05 / sine).abs() < 1e-9, "{fit:?}");
    }
}

/// The design's own figure, confirmed there with exact solids: with 1/3 in place of 1/2 the outer two
/// collide in the acute corners, 18.475 mm3 a node at face 4, depth 12, 60 degrees.
#[test]
fn breaking_the_rule_is_found_by_its_volume() {
    let mut p = panel(three_way(65.0), 4.0, 12.0, Method::EdgeUp);
    p.cut.clearance = 0.0;
    let l = Lattice::build(&p, [4.0, 4.0]).expect("a sound panel");
    let mut shapes = intended_shapes(&l);
    // The back member's notch for the front one, 1/2 deep (z from 6), is made 1/3 deep (z from 8); the
    // front member is the back one turned over and shares its class or has notches up to 6.
    for shape in shapes.iter_mut() {
        for v in shape.sharp.iter_mut().chain(&mut shape.voids) {
            if (v.z0, v.z1) == (6.0, 12.0) {
                v.z0 = 8.0;
            } else if (v.z0, v.z1) == (0.0, 6.0) {
                v.z1 = 4.0;
            }
        }
    }
    let fit = dry_fit(&l, &shapes, 0.0);
    // Every node where a rising and a falling bar meet, overhang included.
    let full = l
        .members
        .iter()
        .flat_map(|m| m.joints.iter().map(move |j| (m, j)))
        .filter(|(m, j)| {
            let name = |m: &Member| l.families[m.family].name.clone();
            let falls = |o: MemberId| name(&l.members[o]) == "falling";
            name(m) == "rising" && j.filled && j.with.is_some_and(falls)
        });
    let full = full.count();
    let a_node = fit.interference_mm3 / full as f64;
    assert!(
        (a_node - 18.475).abs() < 1e-3,
        "{a_node} a node over {full} nodes"
    );
}

#[test]
fn flat_notches_leave_the_openings_of_the_formula() {
    let mut p = panel(three_way(65.0), 4.0, 12.0, Method::Flat);
    p.cut.clearance = 0.0;
    let l = Lattice::build(&p, [4.0, 4.0]).expect("a sound panel");
    let fit = dry_fit(&l, &intended_shapes(&l), 0.0);
    assert!(fit.interference_mm3 < 1e-6, "{fit:?}");
    // face |cot 60| = 2.309 (design of flat cutting).
    assert!(
        (fit.largest_gap_mm - 4.0 / 3f64.sqrt()).abs() < 1e-9,
        "{fit:?}"
    );
}

#[test]
fn turned_pieces_are_the_same_and_mirrored_ones_are_not() {
    let p = panel(three_way(65.0), 4.0, 12.0, Method::EdgeUp);
    let l = Lattice::build(&p, [4.0, 4.0]).expect("a sound panel");
    // The front (falling) members are the back (rising) ones turned over: shared classes.
    for class in &l.classes {
        let names: Vec<&str> = class
            .members
            .iter()
            .map(|&m| l.families[l.members[m].family].name.as_str())
            .collect();
        if names.contains(&"rising") {
            assert!(
                names.contains(&"falling"),
                "class {} holds {names:?}",
                class.id
            );
        }
    }
    let turns: Vec<Turn> = l.members.iter().map(|m| m.turn).collect();
    assert!(turns.iter().any(|t| t.swaps_edges()), "{turns:?}");
}

#[test]
fn order_goes_from_back_to_front() {
    let p = panel(three_way(65.0), 4.0, 12.0, Method::EdgeUp);
    let l = Lattice::build(&p, [4.0, 4.0]).expect("a sound panel");
    assert_eq!(l.order.len(), 3);
    let level = |m: MemberId| {
        l.order
            .iter()
            .position(|g| g.contains(&m))
            .expect("every member goes in")
    };
    for (m, member) in l.members.entries() {
        for j in &member.joints {
            if let Some(other) = j.with {
                let front = j.edge == Edge::Front;
                assert_eq!(
                    level(m) < level(other),
                    front,
                    "{} and {}",
                    member.id,
                    l.members[other].id
                );
            }
        }
    }
}

#[test]
fn sides_are_refused_with_advice() {
    let mut p = panel(three_way(65.0), 4.0, 12.0, Method::EdgeUp);
    sides(&mut p).left = SideRule::Centres;
    let faults = Lattice::build(&p, [4.0, 4.0]).expect_err("a side along a line");
    assert_eq!(faults.len(), 1);
    assert_eq!(faults[0].key(), "outline.left");
    assert!(
        faults[0].hint().contains("inner-edge"),
        "{}",
        faults[0].hint()
    );
    sides(&mut p).left = SideRule::Clear(1.0);
    let faults = Lattice::build(&p, [4.0, 4.0]).expect_err("a ripped bar");
    assert!(
        matches!(faults[0], LatticeError::SideRipsBar { .. }),
        "{faults:?}"
    );
    sides(&mut p).left = SideRule::Clear(2.0);
    assert!(
        Lattice::build(&p, [4.0, 4.0]).is_ok(),
        "flush with the outer edge"
    );
    p.outline.overhang = 4.0;
    let faults = Lattice::build(&p, [4.0, 4.0]).expect_err("short overhang");
    assert_eq!(faults[0].key(), "outline.overhang");
}

#[test]
fn a_hundred_thousand_joints_are_within_the_limit_and_a_million_are_not() {
    let square = Layout::Square {
        pitch_across: 20.0,
        pitch_up: 20.0,
    };
    let mut p = panel(square, 3.0, 12.0, Method::EdgeUp);
    size(&mut p, 1000, 1000);
    sides(&mut p).bottom = SideRule::InnerEdge;
    sides(&mut p).top = SideRule::InnerEdge;
    let faults = Lattice::build(&p, [3.0, 3.0]).expect_err("a slip of a zero");
    assert!(
        matches!(
            faults[0],
            LatticeError::TooManyJoints { limit: 200_000, .. }
        ),
        "{faults:?}"
    );
    size(&mut p, 60, 60);
    let l = Lattice::build(&p, [3.0, 3.0]).expect("3481 joints");
    assert_eq!(
        l.classes.len(),
        1,
        "uprights are level bars turned over and end for end"
    );
}

/// Bars are named by the letter of their family: beyond 26 two of them would bear one name.
#[test]
fn families_beyond_the_letters_are_refused() {
    let built = |level: u32| {
        let listed = |direction_deg, at: u32| FreeFamily {
            direction_deg,
            lines: FreeLines::Listed(vec![f64::from(at)]),
        };
        let families = (1..=level).map(|k| listed(0.0, 10 * k));
        let layout = Layout::Free(families.chain([listed(90.0, 50)]).collect());
        let mut p = panel(layout, 4.0, 12.0, Method::EdgeUp);
        let ranks = 1..=level + 1;
        p.ground.families = ranks.map(|rank| spec("bar", 4.0, rank)).collect();
        match &mut p.outline.shape {
            OutlineShape::Rectangle { size, .. } => {
                *size = Size::Millimetres {
                    width: 100.0,
                    height: 300.0,
                }
            }
            OutlineShape::Polygon { .. } => panic!("a rectangle"),
        }
        Lattice::build(&p, [4.0, 4.0])
    };
    let lattice = built(25).expect("26 families");
    let mut ids: Vec<&String> = lattice.members.iter().map(|m| &m.id).collect();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), 26);
    let faults = built(26).expect_err("27 families");
    assert_eq!(faults, [LatticeError::ManyFamilies { families: 27 }]);
    assert_eq!(faults[0].key(), "ground.family");
}

/// Two families of one direction, 4 and 6 wide, lie over the same uprights: their notches are the same,
/// their bars are not.
#[test]
fn bars_of_different_stock_are_different_pieces() {
    let families = [
        (
            90.0,
            FreeLines::Even {
                first: 20.0,
                pitch: 40.0,
            },
        ),
        (0.0, FreeLines::Listed(vec![20.0, 100.0])),
        (0.0, FreeLines::Listed(vec![60.0, 140.0])),
    ];
    let free = |(direction_deg, lines)| FreeFamily {
        direction_deg,
        lines,
    };
    let layout = Layout::Free(families.map(free).to_vec());
    let mut p = panel(layout, 4.0, 12.0, Method::EdgeUp);
    let names = ["upright", "narrow", "wide"].iter().zip(1..);
    p.ground.families = names.map(|(n, rank)| spec(n, 4.0, rank)).collect();
    match &mut p.outline.shape {
        OutlineShape::Rectangle { size, .. } => {
            *size = Size::Millimetres {
                width: 200.0,
                height: 160.0,
            }
        }
        OutlineShape::Polygon { .. } => panic!("a rectangle"),
    }
    *sides(&mut p) = Sides {
        left: SideRule::Centres,
        right: SideRule::Centres,
        bottom: SideRule::Centres,
        top: SideRule::Centres,
    };
    let classes = |l: &Lattice| -> Vec<ClassId> {
        let level = l.members.iter().filter(|m| m.family.index() > 0);
        level.map(|m| m.class).collect()
    };
    let alike = Lattice::build(&p, [4.0, 4.0]).expect("a sound panel");
    let [one, rest @ ..] = &classes(&alike)[..] else {
        panic!("four level bars");
    };
    assert!(
        rest.len() == 3 && rest.iter().all(|c| c == one),
        "equal faces"
    );

    // The depth of their stock tells bars apart as well.
    let size = |face: f64, depth: f64| BarSize {
        face: [face; 2],
        depth: [depth; 2],
    };
    for (other, parts) in [
        (size(4.0, 12.0), 1),
        (size(4.0, 12.04), 2),
        (size(4.1, 12.0), 2),
    ] {
        let sizes = [size(4.0, 12.0), size(4.0, 12.0), other];
        let sizes = alike.families.column_of(sizes).expect("three families");
        let level = alike.members.entries();
        let level = level.filter(|(_, m)| m.family.index() > 0);
        let kinds = Kinds::of(level, &sizes);
        assert_eq!(kinds.linked(&kinds.ids(), 0.01).len(), parts, "{other:?}");
    }

    p.ground.families[2].face = 6.0;
    let unlike = Lattice::build(&p, [4.0, 4.0]).expect("a sound panel");
    for class in &unlike.classes {
        let faces: Vec<f64> = class
            .members
            .iter()
            .map(|&m| unlike.faces[unlike.members[m].family][1])
            .collect();
        assert!(
            faces.windows(2).all(|f| f[0] == f[1]),
            "{}: {faces:?}",
            class.id
        );
    }
    let [a, b, c, d] = classes(&unlike)[..] else {
        panic!("four level bars");
    };
    assert!(a == b && c == d && a != c, "{:?}", classes(&unlike));
}
