//! Odd panels, the same in every run.

use lapwright::panel::{
    Cut, DatumEnd, DxfLayers, DxfScope, DxfSize, DxfVersion, FamilySpec, Ground, Layout, Method,
    Outline, OutlineShape, Panel, Paper, Relief, SideRule, Sides, Size, Sticks, Units,
    WorkshopSheet,
};

/// How many panels are tried. In numbers 369 and 471 a floor and the same floor by another sum lay a last
/// bit apart, and the gap between them was taken for a place to fill.
pub const COUNT: usize = 840;
/// The first of them are square and three-way in turn, the others of the three other named layouts.
pub const FIRST: usize = 600;

/// A panel, and its stock's least and greatest thickness.
#[derive(Debug, Clone)]
pub struct Case {
    pub panel: Panel,
    pub measured: [f64; 2],
}

/// A plain generator of numbers (Knuth's MMIX constants, from memory).
struct Random(u64);

impl Random {
    fn below(&mut self, n: usize) -> usize {
        let (a, c) = (6_364_136_223_846_793_005, 1_442_695_040_888_963_407);
        self.0 = self.0.wrapping_mul(a).wrapping_add(c);
        ((self.0 >> 33) as usize) % n
    }

    fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// A length with three decimals.
    fn length(&mut self, lo: f64, hi: f64) -> f64 {
        let steps = ((hi - lo) * 1e3) as usize;
        lo + self.below(steps) as f64 / 1e3
    }
}

fn side(random: &mut Random, along: bool) -> SideRule {
    match random.below(4) {
        // Through the centres of a line that runs along it, a side is refused: rarely tried.
        0 if !along || random.below(8) == 0 => SideRule::Centres,
        0 | 1 => SideRule::InnerEdge,
        2 => SideRule::Clear(random.length(5.0, 9.0)),
        _ => SideRule::Clear(random.length(9.0, 30.0)),
    }
}

/// The panels.
pub fn cases() -> Vec<Case> {
    let (mut random, mut more) = (Random(1), Random(2));
    let first = (0..FIRST).map(|i| case(&mut random, i, [Kind::Square, Kind::ThreeWay][i % 2]));
    let others = [Kind::Diamond, Kind::OpenThreeWay, Kind::EightPoint];
    let others = (FIRST..COUNT).map(|i| case(&mut more, i, others[i % 3]));
    first.chain(others).collect()
}

/// A named layout.
#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Square,
    Diamond,
    ThreeWay,
    OpenThreeWay,
    EightPoint,
}

/// The layout, with its size.
fn layout(random: &mut Random, kind: Kind) -> (Layout, Size) {
    let spacings = |random: &mut Random, most: [usize; 2]| Size::Spacings {
        columns: 1 + random.below(most[0]) as u32,
        rows: 1 + random.below(most[1]) as u32,
    };
    match kind {
        Kind::ThreeWay => {
            let pitch = random.length(38.0, 90.0);
            let size = spacings(random, [6, 4]);
            let corner_joint = random.below(2) == 0;
            let layout = Layout::ThreeWay {
                pitch,
                corner_joint,
            };
            (layout, size)
        }
        Kind::Square => {
            let pitch_across = random.length(19.0, 80.0);
            let pitch_up = random.length(19.0, 80.0);
            let size = spacings(random, [6, 6]);
            let layout = Layout::Square {
                pitch_across,
                pitch_up,
            };
            (layout, size)
        }
        Kind::Diamond => {
            let layout = Layout::Diamond {
                pitch: random.length(30.0, 80.0),
                angle_deg: random.length(28.0, 62.0),
                corner_joint: random.below(2) == 0,
            };
            (layout, spacings(random, [6, 6]))
        }
        Kind::OpenThreeWay => {
            let layout = Layout::OpenThreeWay {
                pitch: random.length(38.0, 90.0),
                corner_joint: random.below(2) == 0,
            };
            // An even number of columns has no mirror image among grounds of this layout.
            let size = Size::Spacings {
                columns: [1, 3, 5][random.below(3)],
                rows: 1 + random.below(5) as u32,
            };
            (layout, size)
        }
        Kind::EightPoint => {
            let layout = Layout::EightPoint {
                pitch: random.length(45.0, 110.0),
            };
            (layout, spacings(random, [4, 4]))
        }
    }
}

/// The places of the families of a layout, from the back.
fn ranks(random: &mut Random, families: usize) -> Vec<u32> {
    let orders: &[&[u32]] = match families {
        2 => &[&[1, 2], &[2, 1]],
        3 => &[
            &[1, 2, 3],
            &[1, 3, 2],
            &[2, 1, 3],
            &[2, 3, 1],
            &[3, 1, 2],
            &[3, 2, 1],
        ],
        _ => {
            let mut left: Vec<u32> = (1..=families as u32).collect();
            return (0..families)
                .map(|_| left.remove(random.below(left.len())))
                .collect();
        }
    };
    random.pick(orders).to_vec()
}

fn case(random: &mut Random, index: usize, kind: Kind) -> Case {
    let (layout, size) = layout(random, kind);
    let method = random.pick(&[Method::EdgeUp, Method::EdgeUp, Method::Flat]);
    let thick = random.length(1.5, 4.5);
    let measured = [thick, thick + random.pick(&[0.0, 0.0, 0.08])];
    let names = layout.family_names();
    let ranks = ranks(random, names.len());
    let alike = random.below(2) == 0;
    let families = names.iter().zip(ranks).map(|(name, rank)| FamilySpec {
        name: (*name).to_owned(),
        face: match method {
            Method::EdgeUp if !alike => random.length(2.4, 5.2),
            _ => thick,
        },
        rank,
    });
    let families = families.collect();
    // Whether bars run along left and right, and along bottom and top.
    let upright = kind != Kind::Diamond;
    let level = matches!(kind, Kind::Square | Kind::EightPoint);
    let mut sides = Sides {
        left: side(random, upright),
        right: side(random, upright),
        bottom: side(random, level),
        top: side(random, level),
    };
    if index.is_multiple_of(3) {
        // Alike both ways: half a turn carries such a panel into itself.
        (sides.right, sides.top) = (sides.left, sides.bottom);
    }
    let panel = Panel {
        name: format!("odd {index}"),
        short_name: format!("odd-{index}"),
        quantity: 1,
        kits: None,
        ground: Ground {
            layout,
            depth: random.length(6.0, 19.0),
            families,
        },
        outline: Outline {
            shape: OutlineShape::Rectangle { size, sides },
            overhang: random.pick(&[0.0, 0.0, 12.5, 17.3]),
            trim_kerf: 1.2,
        },
        surround: None,
        infill: None,
        cut: Cut {
            method,
            scale_model: method == Method::Flat,
            clearance: random.pick(&[0.0, 0.05, 0.137, -0.02]),
            same_piece: 0.01,
            loose_joints: false,
            relief: Relief::None,
            dxf: &[DxfSize::Drawn, DxfSize::Compensated],
            dxf_version: &[DxfVersion::R2000],
            dxf_files: &[DxfScope::Sheet],
            dxf_layers: DxfLayers::All,
        },
        sticks: Sticks {
            lead: 0.0,
            tail: 0.0,
            ends: Vec::new(),
            saw_kerf: 0.0,
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
    };
    Case { panel, measured }
}

/// The panel as its own mirror image sees it, left for right.
pub fn mirrored(panel: &Panel) -> Panel {
    let mut other = panel.clone();
    let OutlineShape::Rectangle { size, sides } = &mut other.outline.shape else {
        panic!("a rectangle")
    };
    (sides.left, sides.right) = (sides.right, sides.left);
    // Rising bars become falling ones.
    let families = &mut other.ground.families;
    let place = |name: &str| families.iter().position(|f| f.name == name);
    if let (Some(rising), Some(falling)) = (place("rising"), place("falling")) {
        let [a, b] = [&families[rising], &families[falling]].map(|f| (f.face, f.rank));
        (families[rising].face, families[rising].rank) = b;
        (families[falling].face, families[falling].rank) = a;
    }
    if let (
        Layout::ThreeWay { corner_joint, .. } | Layout::Diamond { corner_joint, .. },
        Size::Spacings { columns, .. },
    ) = (&mut other.ground.layout, size)
    {
        // Each column's joints lie half a step off the next one's.
        *corner_joint ^= *columns % 2 == 1;
    }
    other
}
