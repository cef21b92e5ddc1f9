//! Reading of the panel file.

use super::elsewhere::{Elsewhere, read_elsewhere};
use super::infill::{Bars, Named, read_infill};
use super::kits::read_kits;
use super::panel_file::{
    Cut, DatumEnd, DxfLayers, DxfScope, DxfSize, DxfVersion, Layout, Method, Outline, OutlineShape,
    Panel, Paper, Relief, Sticks, Units, WorkshopSheet,
};
use super::read_ground::{FAMILIES, read_ground, read_outline};
use super::reader::Table;
use super::surround::read_surround;
use super::values::{KERF, Limits};
use crate::letters::short_name;
use crate::limits::{JOINTS, PANELS};

/// Fewest sticks of a gang: one to keep between two outermost ones.
const LEAST_GANG: u32 = 3;
/// Bars that differ by less no hand can sort, mm (experience, no source).
const BY_HAND: f64 = 0.01;

/// A panel file as read, before the files that it names.
pub(super) struct PanelDraft {
    /// The panel; its relief is a stand-in where `relief` is `None`.
    pub(super) panel: Panel,
    /// The relief, if the file says.
    pub(super) relief: Option<Relief>,
    /// Whether the file asks for compensated drawings in words.
    pub(super) asks_compensated: bool,
    /// The files that the panel names.
    pub(super) names: Names,
}

/// Names or paths of the other files; empty after a fault.
pub(super) struct Names {
    pub(super) cut_by: NamedCut,
    /// The bars' first.
    pub(super) materials: Named,
    /// The bars' first.
    pub(super) stocks: Named,
    /// Indices of material and stock of each wood, the bars' first.
    pub(super) woods: Vec<[usize; 2]>,
    pub(super) patterns: Named,
}

/// Who cuts the job.
pub(super) enum NamedCut {
    /// The maker, on this machine.
    Own { machine: String, post: String },
    /// Someone else.
    Elsewhere(Elsewhere),
}

impl NamedCut {
    /// Whether nothing says how wide the cut is.
    fn of_no_width(&self) -> bool {
        matches!(self, Self::Elsewhere(elsewhere) if elsewhere.width.is_none())
    }
}

/// Most joints before the program asks, where the file does not say.
const JOINT_LIMIT: u32 = 200_000;

const END: Limits = Limits::size_or_none(10_000.0);

/// Why a machine means nothing beside a machine elsewhere.
const NOT_BOTH: &str =
    "with [elsewhere] someone else's machine cuts, from drawings alone: leave one of the two out";

/// Takes a panel file's keys.
pub(super) fn read_panel(t: &mut Table<'_>) -> PanelDraft {
    let name = t.name();
    let quantity = t.count_opt("quantity", 1..=PANELS).unwrap_or(1);
    let elsewhere = t.table_opt("elsewhere", read_elsewhere);
    let own = |t: &mut Table<'_>, key| match elsewhere {
        None => t.line(key),
        Some(_) => {
            t.misplaced(key, NOT_BOTH);
            String::new()
        }
    };
    let machine = own(t, "machine");
    let (material, stock) = (t.line("material"), t.line("stock"));
    let post = own(t, "post_processor");
    let cut_by = elsewhere.map_or(NamedCut::Own { machine, post }, NamedCut::Elsewhere);
    let joint_limit = t
        .count_opt("joint_limit", 1..=JOINTS)
        .unwrap_or(JOINT_LIMIT);
    // The outline first: one with sides of its own needs no columns and rows.
    let mut outline = t.table("outline", read_outline);
    let mark = t.mark();
    let (ground, size, known_layout) =
        t.table("ground", |g| read_ground(g, outline.shape.is_some()));
    let ground_read = t.sound_since(mark);
    let shape = outline.shape.take().unwrap_or(OutlineShape::Rectangle {
        size,
        sides: outline.sides,
    });
    let outline = Outline {
        shape,
        overhang: outline.overhang,
        trim_kerf: outline.trim_kerf,
    };
    let surround = t.table_opt("surround", |s| read_surround(s, ground.depth));
    let bars = Bars {
        material: &material,
        stock: &stock,
        depth: ground.depth,
        depth_read: ground_read,
    };
    let draft = t.table_opt("infill", |i| read_infill(i, &bars));
    let mut names = Names {
        cut_by,
        materials: Named::one("material", &material),
        stocks: Named::one("stock", &stock),
        woods: vec![[0, 0]],
        patterns: Named::default(),
    };
    let infill = draft.map(|draft| {
        names.materials = draft.materials;
        names.stocks = draft.stocks;
        names.woods = draft.woods;
        names.patterns = draft.patterns;
        draft.infill
    });
    let drawn_alone = names.cut_by.of_no_width();
    let (cut, said) = t.table("cut", |c| read_cut(c, drawn_alone));
    let kits = t.table_opt("kits", |k| read_kits(k, quantity, cut.method));
    let families: Vec<&'static str> = match (known_layout, &ground.layout) {
        (true, Layout::Free(_)) => Vec::new(),
        (true, layout) => layout.family_names().to_vec(),
        (false, _) => FAMILIES.to_vec(),
    };
    let sticks = t.table_or_empty("sticks", |s| read_sticks(s, &families));
    let sheet = t.table_or_empty("sheet", read_sheet);
    let joint_limit = u64::from(joint_limit);
    let panel = Panel {
        short_name: short_name(&name).unwrap_or_default(),
        name,
        quantity,
        kits,
        ground,
        outline,
        surround,
        infill,
        cut,
        sticks,
        workshop_sheet: sheet,
        joint_limit,
    };
    PanelDraft {
        panel,
        relief: said.relief,
        asks_compensated: said
            .dxf
            .is_some_and(|sizes| sizes.contains(&DxfSize::Compensated)),
        names,
    }
}

/// What the table of cuts says in words.
#[derive(Default)]
struct Said {
    relief: Option<Relief>,
    dxf: Option<&'static [DxfSize]>,
}

/// Takes the keys of the cut; `drawn_alone` where nothing says how wide it is.
fn read_cut(t: &mut Table<'_>, drawn_alone: bool) -> (Cut, Said) {
    let methods = [("flat", Method::Flat), ("edge-up", Method::EdgeUp)];
    let reliefs = [
        ("corner", Relief::Corner),
        ("floor", Relief::Floor),
        ("wall", Relief::Wall),
        ("none", Relief::None),
    ];
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
    let layers = [
        ("cuts", DxfLayers::Cuts),
        ("labels", DxfLayers::Labels),
        ("all", DxfLayers::All),
    ];
    let mut said = Said::default();
    let cut = Cut {
        method: t.choice("method", &methods, "").unwrap_or(Method::Flat),
        scale_model: t.flag_or("scale_model", false),
        clearance: t.number_or("clearance", 0.0, &Limits::within(-2.0, 5.0, "mm")),
        same_piece: t.number_or("same_piece", BY_HAND, &Limits::size_or_none(0.1)),
        loose_joints: t.flag_or("loose_joints", false),
        relief: {
            said.relief = t.choice_opt("relief", &reliefs);
            said.relief.unwrap_or(Relief::None)
        },
        dxf: {
            said.dxf = t.choice_opt("dxf", &sizes);
            said.dxf.unwrap_or(match drawn_alone {
                true => &[DxfSize::Drawn],
                false => &[DxfSize::Drawn, DxfSize::Compensated],
            })
        },
        dxf_version: t
            .choice_opt("dxf_version", &versions)
            .unwrap_or(&[DxfVersion::R2000]),
        dxf_files: t
            .choice_opt("dxf_files", &scopes)
            .unwrap_or(&[DxfScope::Sheet]),
        dxf_layers: t
            .choice_opt("dxf_layers", &layers)
            .unwrap_or(DxfLayers::All),
    };
    (cut, said)
}

fn read_sticks(t: &mut Table<'_>, families: &[&'static str]) -> Sticks {
    Sticks {
        lead: t.number_or("lead", 40.0, &END),
        tail: t.number_or("tail", 40.0, &END),
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
        gang: t.count_opt("gang", LEAST_GANG..=200),
        datum: t
            .choice_opt(
                "datum",
                &[("square", DatumEnd::Square), ("point", DatumEnd::Point)],
            )
            .unwrap_or(DatumEnd::Square),
        bed: t.number_opt("bed", &Limits::within(0.05, 20.0, "mm")),
    }
}

fn read_sheet(t: &mut Table<'_>) -> WorkshopSheet {
    let papers = [Paper::A4, Paper::Letter].map(|paper| (paper.word(), paper));
    let units = [("mm", Units::Mm), ("inch", Units::Inch)];
    WorkshopSheet {
        paper: t.choice_opt("paper", &papers).unwrap_or(Paper::A4),
        units: t.choice_opt("units", &units).unwrap_or(Units::Mm),
    }
}
