//! Reading of the panel file.

use super::panel_file::{
    Cut, DxfScope, DxfSize, DxfVersion, FamilySpec, Ground, Layout, Method, Outline, Panel, Relief,
    SideRule, Sides, Sticks,
};
use super::reader::Table;
use super::values::Limits;

/// A panel file as read, before the files that it names.
pub(super) struct PanelDraft {
    /// The panel; its relief is a stand-in where `relief` is `None`.
    pub(super) panel: Panel,
    /// The relief, if the file says.
    pub(super) relief: Option<Relief>,
    /// The files that the panel names.
    pub(super) names: Names,
}

/// Names or paths of the other files; empty after a fault.
pub(super) struct Names {
    pub(super) machine: String,
    pub(super) material: String,
    pub(super) stock: String,
    pub(super) post: String,
}

/// Most joints before the program asks, where the file does not say.
const JOINT_LIMIT: u32 = 200_000;

const BAR: Limits = Limits::size(500.0);
const PITCH: Limits = Limits::size(10_000.0);
const KERF: Limits = Limits::size_or_none(20.0);
const END: Limits = Limits::size_or_none(10_000.0);

/// Takes a panel file's keys.
pub(super) fn read_panel(t: &mut Table<'_>) -> PanelDraft {
    let name = t.line("name");
    let quantity = t.count_opt("quantity", 1..=10_000).unwrap_or(1);
    let names = Names {
        machine: t.line("machine"),
        material: t.line("material"),
        stock: t.line("stock"),
        post: t.line("post_processor"),
    };
    let joint_limit = t
        .count_opt("joint_limit", 1..=100_000_000)
        .unwrap_or(JOINT_LIMIT);
    let (ground, known_layout) = t.table("ground", read_ground);
    let outline = t.table("outline", read_outline);
    let surround = t.table_opt("surround", |s| s.number("width", &BAR));
    let (cut, relief) = t.table("cut", read_cut);
    let families = if known_layout {
        ground.layout.family_names()
    } else {
        &FAMILIES
    };
    let sticks = t.table_or_empty("sticks", |s| read_sticks(s, families));
    let joint_limit = u64::from(joint_limit);
    let panel = Panel {
        name,
        quantity,
        ground,
        outline,
        surround,
        cut,
        sticks,
        joint_limit,
    };
    PanelDraft {
        panel,
        relief,
        names,
    }
}

/// Every family of every layout.
const FAMILIES: [&str; 4] = ["upright", "level", "rising", "falling"];

#[derive(Clone, Copy, PartialEq)]
enum LayoutName {
    Square,
    ThreeWay,
}

/// The ground, and whether its layout could be read.
fn read_ground(t: &mut Table<'_>) -> (Ground, bool) {
    let words = [
        ("square", LayoutName::Square),
        ("three-way", LayoutName::ThreeWay),
    ];
    let name = t.choice("layout", &words, "");
    let spacings = 1..=100_000;
    let layout = match name {
        Some(LayoutName::Square) => {
            t.misplaced("pitch", "a square layout has `pitch_across` and `pitch_up`");
            t.misplaced(
                "corner_joint",
                "a square layout has a joint in every corner",
            );
            Layout::Square {
                pitch_across: t.number("pitch_across", &PITCH),
                pitch_up: t.number("pitch_up", &PITCH),
                columns: t.count("columns", spacings.clone()),
                rows: t.count("rows", spacings),
            }
        }
        Some(LayoutName::ThreeWay) => {
            for key in ["pitch_across", "pitch_up"] {
                t.misplaced(
                    key,
                    "a three-way layout has one `pitch`, from joint to joint",
                );
            }
            Layout::ThreeWay {
                pitch: t.number("pitch", &PITCH),
                columns: t.count("columns", spacings.clone()),
                rows: t.count("rows", spacings),
                corner_joint: t.flag_or("corner_joint", false),
            }
        }
        None => {
            // Which keys are right depends on the layout; it has been reported.
            let keys = [
                "pitch",
                "pitch_across",
                "pitch_up",
                "columns",
                "rows",
                "corner_joint",
            ];
            keys.into_iter()
                .chain(["face", "faces", "ranks"])
                .for_each(|key| t.known(key));
            Layout::Square {
                pitch_across: 1.0,
                pitch_up: 1.0,
                columns: 1,
                rows: 1,
            }
        }
    };
    let depth = t.number("depth", &BAR);
    let families = if name.is_some() {
        read_families(t, &layout)
    } else {
        Vec::new()
    };
    (
        Ground {
            layout,
            depth,
            families,
        },
        name.is_some(),
    )
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

fn read_outline(t: &mut Table<'_>) -> Outline {
    let sides = Sides {
        left: read_side(t, "left"),
        right: read_side(t, "right"),
        bottom: read_side(t, "bottom"),
        top: read_side(t, "top"),
    };
    let overhang = t.number_or("overhang", 0.0, &Limits::size_or_none(1000.0));
    Outline {
        sides,
        overhang,
        trim_kerf: t.number_or("trim_kerf", 0.0, &KERF),
    }
}

fn read_side(t: &mut Table<'_>, key: &'static str) -> SideRule {
    if t.has_table(key) {
        return SideRule::Clear(t.table(key, |s| s.number("clear", &PITCH)));
    }
    let words = [
        ("centres", SideRule::Centres),
        ("inner-edge", SideRule::InnerEdge),
    ];
    t.choice(key, &words, "{ clear = 12 }")
        .unwrap_or(SideRule::Centres)
}

fn read_cut(t: &mut Table<'_>) -> (Cut, Option<Relief>) {
    let methods = [("flat", Method::Flat), ("edge-up", Method::EdgeUp)];
    let reliefs = [("corner", Relief::Corner), ("none", Relief::None)];
    let sizes = [
        ("drawn", &[DxfSize::Drawn][..]),
        ("compensated", &[DxfSize::Compensated]),
        ("both", &[DxfSize::Drawn, DxfSize::Compensated]),
    ];
    let versions = [
        ("R2000", &[DxfVersion::R2000][..]),
        ("R12", &[DxfVersion::R12]),
        ("both", &[DxfVersion::R2000, DxfVersion::R12]),
    ];
    let scopes = [
        ("sheet", &[DxfScope::Sheet][..]),
        ("piece", &[DxfScope::Piece]),
        ("both", &[DxfScope::Sheet, DxfScope::Piece]),
    ];
    let relief;
    let cut = Cut {
        method: t.choice("method", &methods, "").unwrap_or(Method::Flat),
        scale_model: t.flag_or("scale_model", false),
        clearance: t.number_or("clearance", 0.0, &Limits::within(-2.0, 5.0, "mm")),
        loose_joints: t.flag_or("loose_joints", false),
        relief: {
            relief = t.choice_opt("relief", &reliefs);
            relief.unwrap_or(Relief::None)
        },
        dxf: t
            .choice_opt("dxf", &sizes)
            .unwrap_or(&[DxfSize::Drawn, DxfSize::Compensated]),
        dxf_version: t
            .choice_opt("dxf_version", &versions)
            .unwrap_or(&[DxfVersion::R2000]),
        dxf_files: t
            .choice_opt("dxf_files", &scopes)
            .unwrap_or(&[DxfScope::Sheet]),
    };
    (cut, relief)
}

fn read_sticks(t: &mut Table<'_>, families: &'static [&'static str]) -> Sticks {
    Sticks {
        lead: t.number_or("lead", 0.0, &END),
        tail: t.number_or("tail", 0.0, &END),
        ends: t.table_or_empty("ends", |e| {
            let of_layout = format!("families here: {}", families.join(", "));
            FAMILIES
                .into_iter()
                .for_each(|family| e.misplaced(family, of_layout.as_str()));
            let one = |family: &&'static str| {
                e.number_opt(family, &END)
                    .map(|length| ((*family).to_owned(), length))
            };
            families.iter().filter_map(one).collect()
        }),
        saw_kerf: t.number_or("saw_kerf", 0.0, &KERF),
        limit: t.number_opt("limit", &Limits::size(100_000.0)),
        spares: t.count_opt("spares", 0..=1000).unwrap_or(0),
    }
}
