//! Reading of a panel file's ground and outline.

use super::panel_file::{
    FamilySpec, FreeFamily, FreeLines, Ground, Layout, OutlineShape, PolygonSide, SideRule, Sides,
    Size,
};
use super::reader::Table;
use super::values::{BAR, KERF, Limits, PITCH};

/// Every family of every layout.
pub(super) const FAMILIES: [&str; 4] = ["upright", "level", "rising", "falling"];

/// Every key of every layout that says how far apart bars lie.
const LAYOUT_KEYS: [&str; 9] = [
    "pitch",
    "pitch_across",
    "pitch_up",
    "angle",
    "columns",
    "rows",
    "width",
    "height",
    "corner_joint",
];

const PLACE: Limits = Limits::within(-10_000.0, 10_000.0, "mm");

/// A layout before its keys are read.
#[derive(Debug, Clone, Copy)]
enum LayoutKind {
    Square,
    Diamond,
    ThreeWay,
    OpenThreeWay,
    EightPoint,
    Free,
}

/// The keys of a layout, and why others are wrong in it.
struct LayoutWords {
    word: &'static str,
    kind: LayoutKind,
    keys: &'static [&'static str],
    why: &'static str,
}

const LAYOUTS: [LayoutWords; 6] = [
    LayoutWords {
        word: "square",
        kind: LayoutKind::Square,
        keys: &["pitch_across", "pitch_up", "columns", "rows"],
        why: "a square layout has `pitch_across` and `pitch_up`, and a joint in every corner",
    },
    LayoutWords {
        word: "diamond",
        kind: LayoutKind::Diamond,
        keys: &["pitch", "angle", "columns", "rows", "corner_joint"],
        why: "a diamond layout has one `pitch`, from joint to joint, and an `angle`",
    },
    LayoutWords {
        word: "three-way",
        kind: LayoutKind::ThreeWay,
        keys: &["pitch", "columns", "rows", "corner_joint"],
        why: "a three-way layout has one `pitch`, from joint to joint",
    },
    LayoutWords {
        word: "open-three-way",
        kind: LayoutKind::OpenThreeWay,
        keys: &["pitch", "columns", "rows", "corner_joint"],
        why: "an open-three-way layout has one `pitch`, from joint to joint",
    },
    LayoutWords {
        word: "eight-point",
        kind: LayoutKind::EightPoint,
        keys: &["pitch", "columns", "rows"],
        why: "an eight-point layout has one `pitch`, across and up, and a joint in every corner",
    },
    LayoutWords {
        word: "free",
        kind: LayoutKind::Free,
        keys: &["width", "height"],
        why: "a free layout says where its bars lie in [[ground.family]]",
    },
];

/// The ground, the size of a rectangular outline, and whether the layout could be read. An outline with
/// sides of its own needs no size.
pub(super) fn read_ground(t: &mut Table<'_>, has_sides: bool) -> (Ground, Size, bool) {
    let words: Vec<(&str, usize)> = LAYOUTS
        .iter()
        .enumerate()
        .map(|(i, l)| (l.word, i))
        .collect();
    let Some(which) = t.choice("layout", &words, "") else {
        return unknown_layout(t);
    };
    let words = &LAYOUTS[which];
    for key in LAYOUT_KEYS {
        let sized = ["columns", "rows", "width", "height"].contains(&key);
        if !words.keys.contains(&key) {
            t.misplaced(key, words.why);
        } else if sized && has_sides {
            t.misplaced(key, "the sides of the outline say how large the ground is");
        }
    }
    let layout = read_layout(t, words.kind);
    let free = matches!(layout, Layout::Free(_));
    let size = match (has_sides, free) {
        (true, _) => ONE_SPACING,
        (false, true) => Size::Millimetres {
            width: t.number("width", &PITCH),
            height: t.number("height", &PITCH),
        },
        (false, false) => Size::Spacings {
            columns: t.count("columns", 1..=100_000),
            rows: t.count("rows", 1..=100_000),
        },
    };
    let depth = t.number("depth", &BAR);
    let ground = if free {
        for key in ["face", "faces", "ranks"] {
            t.misplaced(key, "a free layout says it for each [[ground.family]]");
        }
        read_free(t, depth)
    } else {
        t.misplaced("family", "only layout = \"free\" has families written out");
        let families = read_families(t, &layout);
        Ground {
            layout,
            depth,
            families,
        }
    };
    (ground, size, true)
}

/// The size of a ground whose outline says it, or whose layout is not known: never looked at.
const ONE_SPACING: Size = Size::Spacings {
    columns: 1,
    rows: 1,
};

/// Which keys are right depends on the layout; where it is wrong, which has been reported, they are let be.
fn unknown_layout(t: &mut Table<'_>) -> (Ground, Size, bool) {
    for key in LAYOUT_KEYS
        .into_iter()
        .chain(["face", "faces", "ranks", "family"])
    {
        t.known(key);
    }
    let ground = Ground {
        layout: Layout::EightPoint { pitch: 1.0 },
        depth: t.number("depth", &BAR),
        families: Vec::new(),
    };
    (ground, ONE_SPACING, false)
}

/// A layout of this kind, with its pitches and angles; of a free one the families are read later.
fn read_layout(t: &mut Table<'_>, kind: LayoutKind) -> Layout {
    let corner = |t: &mut Table<'_>| t.flag_or("corner_joint", false);
    match kind {
        LayoutKind::Square => Layout::Square {
            pitch_across: t.number("pitch_across", &PITCH),
            pitch_up: t.number("pitch_up", &PITCH),
        },
        LayoutKind::Diamond => Layout::Diamond {
            pitch: t.number("pitch", &PITCH),
            angle_deg: t.number("angle", &Limits::within(5.0, 85.0, "degrees")),
            corner_joint: corner(t),
        },
        LayoutKind::ThreeWay => Layout::ThreeWay {
            pitch: t.number("pitch", &PITCH),
            corner_joint: corner(t),
        },
        LayoutKind::OpenThreeWay => Layout::OpenThreeWay {
            pitch: t.number("pitch", &PITCH),
            corner_joint: corner(t),
        },
        LayoutKind::EightPoint => Layout::EightPoint {
            pitch: t.number("pitch", &PITCH),
        },
        LayoutKind::Free => Layout::Free(Vec::new()),
    }
}

/// Families written out: name, direction, bars, face and rank of each.
fn read_free(t: &mut Table<'_>, depth: f64) -> Ground {
    let direction = Limits::within(-180.0, 180.0, "degrees");
    let mut number = 0;
    let (mut names, mut ranks): (Vec<String>, Vec<u32>) = (Vec::new(), Vec::new());
    let read: Vec<(FreeFamily, FamilySpec)> = t.tables("family", |f| {
        number += 1;
        let name = f.name();
        let direction_deg = f.number("direction", &direction);
        let lines = if f.has("offsets") {
            for key in ["pitch", "first"] {
                f.misplaced(key, "bars are either listed in `offsets` or evenly spaced");
            }
            FreeLines::Listed(f.ascending("offsets", &PLACE))
        } else {
            f.known("offsets");
            FreeLines::Even {
                first: f.number_or("first", 0.0, &PLACE),
                pitch: f.number("pitch", &PITCH),
            }
        };
        let face = f.number("face", &BAR);
        let rank = f.count_opt("rank", 1..=100).unwrap_or(number);
        if ranks.contains(&rank) {
            let hint = "give each family its own rank, from 1 (back) up";
            f.fault("rank", format!("rank {rank} is given twice"), hint);
        }
        if names.contains(&name) && !name.is_empty() {
            let hint = "give each family a name of its own";
            f.fault("name", format!("two families are called \"{name}\""), hint);
        }
        names.push(name.clone());
        ranks.push(rank);
        (
            FreeFamily {
                direction_deg,
                lines,
            },
            FamilySpec { name, face, rank },
        )
    });
    let (free, families) = read.into_iter().unzip();
    Ground {
        layout: Layout::Free(free),
        depth,
        families,
    }
}

fn read_families(t: &mut Table<'_>, layout: &Layout) -> Vec<FamilySpec> {
    let names = layout.family_names();
    let of_layout = format!("families here: {}", names.join(", "));
    let faces: Vec<f64> = if t.has("faces") {
        if t.has("face") {
            let hint = "keep `face` for bars that are all alike, or `faces` for each family";
            t.fault("face", "the file says both `face` and `faces`", hint);
            t.known("face");
        }
        t.table("faces", |f| {
            FAMILIES
                .into_iter()
                .for_each(|family| f.misplaced(family, of_layout.as_str()));
            names.iter().map(|family| f.number(family, &BAR)).collect()
        })
    } else {
        let face = t.number("face", &BAR);
        t.known("faces");
        vec![face; names.len()]
    };
    let count = u32::try_from(names.len()).unwrap_or(1);
    let ranks: Option<Vec<u32>> = t.table_opt("ranks", |r| {
        FAMILIES
            .into_iter()
            .for_each(|family| r.misplaced(family, of_layout.as_str()));
        let mark = r.mark();
        let ranks: Vec<u32> = names
            .iter()
            .map(|family| r.count(family, 1..=count))
            .collect();
        let sound = r.sound_since(mark);
        for (at, rank) in ranks.iter().enumerate() {
            let earlier = ranks.iter().take(at).any(|other| other == rank);
            if earlier && sound {
                let name = names.get(at).copied().unwrap_or_default();
                let hint =
                    format!("give each family its own of the ranks 1 (back) to {count} (front)");
                r.fault(name, format!("rank {rank} is given twice"), hint);
            }
        }
        ranks
    });
    let ranks = ranks.unwrap_or_else(|| (1..=count).collect());
    let specs = names.iter().zip(faces).zip(ranks);
    specs
        .map(|((name, face), rank)| FamilySpec {
            name: (*name).to_owned(),
            face,
            rank,
        })
        .collect()
}

/// An outline as read, before the ground says how large a rectangle is.
pub(super) struct OutlineDraft {
    /// The polygon, if the file lists its sides.
    pub(super) shape: Option<OutlineShape>,
    /// The rules of a rectangle's sides.
    pub(super) sides: Sides,
    /// Overhang, mm.
    pub(super) overhang: f64,
    /// Kerf of the saw that trims, mm.
    pub(super) trim_kerf: f64,
}

/// Takes the keys of the outline.
pub(super) fn read_outline(t: &mut Table<'_>) -> OutlineDraft {
    let names = ["left", "right", "bottom", "top"];
    let (shape, sides) = if t.has("side") {
        for key in names {
            t.misplaced(
                key,
                "an outline has either `side`, a list, or left, right, bottom and top",
            );
        }
        let in_steps = t.flag_or("in_steps", false);
        let sides = t.tables("side", |s| {
            let from = [s.number("x", &PLACE), s.number("y", &PLACE)];
            PolygonSide {
                from,
                rule: read_rule(s),
            }
        });
        let polygon = OutlineShape::Polygon { sides, in_steps };
        (Some(polygon), [SideRule::Centres; 4])
    } else {
        t.known("side");
        t.misplaced(
            "in_steps",
            "only an outline with `side` has corners to count in steps",
        );
        (None, names.map(|key| read_side(t, key)))
    };
    let [left, right, bottom, top] = sides;
    OutlineDraft {
        shape,
        sides: Sides {
            left,
            right,
            bottom,
            top,
        },
        overhang: t.number_or("overhang", 0.0, &Limits::size_or_none(1000.0)),
        trim_kerf: t.number_or("trim_kerf", 0.0, &KERF),
    }
}

const RULES: [(&str, SideRule); 2] = [
    ("centres", SideRule::Centres),
    ("inner-edge", SideRule::InnerEdge),
];

fn read_side(t: &mut Table<'_>, key: &'static str) -> SideRule {
    if t.has_table(key) {
        return SideRule::Clear(t.table(key, |s| s.number("clear", &PITCH)));
    }
    t.choice(key, &RULES, "{ clear = 12 }")
        .unwrap_or(SideRule::Centres)
}

/// The rule of a polygon's side: `rule`, or `clear`.
fn read_rule(t: &mut Table<'_>) -> SideRule {
    if t.has("clear") {
        t.misplaced("rule", "a side has either `rule` or `clear`");
        return SideRule::Clear(t.number("clear", &PITCH));
    }
    t.known("clear");
    t.choice("rule", &RULES, "clear = 12")
        .unwrap_or(SideRule::Centres)
}
