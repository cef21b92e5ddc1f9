//! What a panel file says about its infill.

use super::pattern::{RuleShape, read_shape};
use super::reader::Table;
use super::values::{BAR, Limits};

/// Infill as asked for. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Infill {
    /// What fills all cells that no feature takes.
    pub filling: Filling,
    /// How much shorter than the place that it fills a piece is cut.
    pub allowance: f64,
    /// How much longer than the piece its blank is cut, to be planed off on the shooting jig.
    pub shooting: f64,
    /// The shortest piece that can be held.
    pub least_length: f64,
    /// How its pieces are cut.
    pub cut: InfillCut,
    /// Whether the pieces that a pattern pairs are made as one hinged piece.
    pub hinged: bool,
    /// How a beam perforates the blanks of hinged pieces at the fold; without it they are sawn there by hand.
    pub perforation: Option<Perforation>,
    /// Whether ends that would be re-entrant are cut plain, though that leaves the seam open.
    pub plain_ends: bool,
    /// Whether cells that the outline cuts stay empty.
    pub leave_cut_cells: bool,
    /// Other patterns in chosen cells.
    pub features: Vec<Feature>,
}

/// What fills a cell: a pattern, and what its pieces are made of. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Filling {
    /// An index into [`super::JobFiles::patterns`].
    pub pattern: usize,
    /// An index for [`super::JobFiles::wood`].
    pub wood: usize,
    /// Width of the pieces as seen from the front.
    pub face: f64,
    /// Size of the pieces from front to back; the ground's where the file does not say.
    pub depth: f64,
    /// Whether the file says that depth: outlines follow their stock where it does not.
    pub depth_said: bool,
}

/// Dashes across a hinged blank, cut through, at which it is folded. Lengths are mm along the beam's path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Perforation {
    /// Shortest dash.
    pub dash: f64,
    /// Between two dashes, and between a dash and an edge.
    pub bridge: f64,
}

/// How the pieces of infill are cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InfillCut {
    /// By hand, from the table.
    ByHand,
    /// As square-ended blanks, on their side, for the shooting jig: among the bars where they are of the
    /// bars' wood and depth.
    Blanks,
    /// As they are seen from the front, bevels and all, from stock as thick as they are deep.
    Outlines,
}

impl InfillCut {
    const ALL: [Self; 3] = [Self::ByHand, Self::Blanks, Self::Outlines];

    /// As a panel file says it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::ByHand => "by-hand",
            Self::Blanks => "blanks",
            Self::Outlines => "outlines",
        }
    }
}

/// A pattern in chosen cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// What fills them.
    pub filling: Filling,
    /// The cells.
    pub cells: Chosen,
}

/// The cells of a feature.
#[derive(Debug, Clone, PartialEq)]
pub enum Chosen {
    /// By their ids.
    Listed(Vec<String>),
    /// Those whose middle lies in a polygon, in the panel's coordinates.
    Region(Vec<[f64; 2]>),
    /// Those of a shape.
    Shape(RuleShape),
}

/// Infill as read, with the files that it names.
pub(super) struct InfillDraft {
    /// The infill.
    pub(super) infill: Infill,
    /// The patterns, in the order of the indices.
    pub(super) patterns: Named,
    /// The materials, that of the bars first.
    pub(super) materials: Named,
    /// The stock, that of the bars first.
    pub(super) stocks: Named,
    /// Indices of material and stock of each wood, those of the bars first.
    pub(super) woods: Vec<[usize; 2]>,
}

/// Key and name of each file of a kind, no name twice.
#[derive(Debug, Clone, Default)]
pub(super) struct Named(pub(super) Vec<(String, String)>);

impl Named {
    /// A single file, named at `key`.
    pub(super) fn one(key: &str, name: &str) -> Self {
        Self(vec![(key.to_owned(), name.to_owned())])
    }

    /// The index of a file by its name, which stands at `key` where it is new.
    pub(super) fn index(&mut self, key: String, name: String) -> usize {
        let known = self.0.iter().position(|(_, n)| *n == name && !n.is_empty());
        known.unwrap_or_else(|| {
            self.0.push((key, name));
            self.0.len() - 1
        })
    }
}

const PLACE: Limits = Limits::within(-10_000.0, 10_000.0, "mm");

/// Shortest piece where the file does not say, mm (common practice, no source).
const LEAST_LENGTH: f64 = 8.0;
/// Dash of a perforation where the file does not say, mm (common practice, no source).
const FOLD_DASH: f64 = 2.0;
/// Bridge of a perforation where the file does not say, mm (common practice, no source).
const FOLD_BRIDGE: f64 = 1.0;

/// What the bars are: what infill is of, where its tables do not say.
pub(super) struct Bars<'a> {
    /// Name of their material.
    pub(super) material: &'a str,
    /// Name of their stock.
    pub(super) stock: &'a str,
    /// From front to back, mm.
    pub(super) depth: f64,
    /// Whether that depth is what the file says.
    pub(super) depth_read: bool,
}

/// What one table says of the pieces of its cells; a feature takes the rest from the infill's own table.
#[derive(Debug, Clone, Default)]
struct Said {
    face: Option<f64>,
    depth: Option<f64>,
    /// Key and name.
    material: Option<(String, String)>,
    /// Key and name.
    stock: Option<(String, String)>,
}

impl Said {
    fn read(t: &mut Table<'_>, path: &str, bars: &Bars<'_>) -> Self {
        let depth = t.number_opt("depth", &BAR);
        if depth.is_some_and(|depth| bars.depth_read && depth > bars.depth) {
            let hint = format!("the ground is {} deep", bars.depth);
            t.fault("depth", "infill is deeper than the ground", hint);
        }
        let mut named = |key: &'static str| {
            let name = t.line_opt(key)?;
            Some((format!("{path}.{key}"), name))
        };
        Self {
            material: named("material"),
            stock: named("stock"),
            face: None,
            depth,
        }
    }

    fn or(self, other: &Self) -> Self {
        Self {
            face: self.face.or(other.face),
            depth: self.depth.or(other.depth),
            material: self.material.or_else(|| other.material.clone()),
            stock: self.stock.or_else(|| other.stock.clone()),
        }
    }
}

/// Takes the keys of the infill.
pub(super) fn read_infill(t: &mut Table<'_>, bars: &Bars<'_>) -> InfillDraft {
    let mut patterns = Named::default();
    let mut materials = Named::one("material", bars.material);
    let mut stocks = Named::one("stock", bars.stock);
    let mut woods = vec![[0, 0]];
    let mut filling = |pattern: (String, String), said: &Said| {
        let index = |of: &mut Named, named: &Option<(String, String)>| {
            named
                .as_ref()
                .map_or(0, |(key, name)| of.index(key.clone(), name.clone()))
        };
        let wood = [
            index(&mut materials, &said.material),
            index(&mut stocks, &said.stock),
        ];
        Filling {
            pattern: patterns.index(pattern.0, pattern.1),
            wood: woods.iter().position(|w| *w == wood).unwrap_or_else(|| {
                woods.push(wood);
                woods.len() - 1
            }),
            face: said.face.unwrap_or(1.0),
            depth: said.depth.unwrap_or(bars.depth),
            depth_said: said.depth.is_some(),
        }
    };
    let mut said = Said::read(t, "infill", bars);
    said.face = Some(t.number("face", &BAR));
    let pattern = ("infill.pattern".to_owned(), t.line("pattern"));
    let all = filling(pattern, &said);
    let allowance = t.number_or("allowance", 0.0, &Limits::within(-1.0, 2.0, "mm"));
    let shooting = t.number_or("shooting", 0.0, &Limits::size_or_none(20.0));
    let least_length = t.number_or("least_length", LEAST_LENGTH, &Limits::size_or_none(1000.0));
    let cuts = InfillCut::ALL.map(|cut| (cut.word(), cut));
    let cut = t.choice_opt("cut", &cuts).unwrap_or(InfillCut::ByHand);
    let hinged = t.flag_or("hinged", false);
    if hinged && cut == InfillCut::Outlines {
        let message =
            "outlines are cut as single pieces, and hinged ones are sawn and folded by hand";
        let hint = "cut = \"blanks\" or \"by-hand\", or hinged = false";
        t.fault("hinged", message, hint);
    }
    let perforation = read_perforation(t, hinged && cut == InfillCut::Blanks);
    let plain_ends = t.flag_or("plain_ends", false);
    let leave_cut_cells = t.flag_or("leave_cut_cells", false);
    let mut at = 0;
    let features = t.tables_opt("feature", |f| {
        let path = format!("infill.feature[{at}]");
        at += 1;
        let mut own = Said::read(f, &path, bars);
        own.face = f.number_opt("face", &BAR);
        let pattern = (format!("{path}.pattern"), f.line("pattern"));
        Feature {
            filling: filling(pattern, &own.or(&said)),
            cells: read_cells(f),
        }
    });
    let infill = Infill {
        filling: all,
        allowance,
        shooting,
        least_length,
        cut,
        hinged,
        perforation,
        plain_ends,
        leave_cut_cells,
        features,
    };
    InfillDraft {
        infill,
        patterns,
        materials,
        stocks,
        woods,
    }
}

/// How hinged blanks are perforated at the fold, if they are.
fn read_perforation(t: &mut Table<'_>, hinged_blanks: bool) -> Option<Perforation> {
    const SIZES: [&str; 2] = ["fold_dash", "fold_bridge"];
    let perforated = t.choice_opt("fold", &[("by-hand", false), ("perforated", true)]);
    if perforated != Some(true) {
        for key in SIZES {
            t.misplaced(key, "it is for fold = \"perforated\"");
        }
        return None;
    }
    if !hinged_blanks {
        let hint = "set both hinged = true and cut = \"blanks\", or fold = \"by-hand\"";
        t.fault("fold", "only hinged blanks are perforated", hint);
    }
    let [dash, bridge] = [(SIZES[0], FOLD_DASH), (SIZES[1], FOLD_BRIDGE)]
        .map(|(key, usual)| t.number_or(key, usual, &Limits::within(0.3, 20.0, "mm")));
    Some(Perforation { dash, bridge })
}

/// The cells of a feature: a list of ids, a shape, or a region.
fn read_cells(t: &mut Table<'_>) -> Chosen {
    const KEY: &str = "cells";
    if t.has_table(KEY) {
        return Chosen::Region(t.table(KEY, read_region));
    }
    if t.has_list(KEY) {
        return Chosen::Listed(t.lines(KEY));
    }
    let also = "[\"cell-1\"], { left = 0, right = 90, bottom = 0, top = 90 }";
    Chosen::Shape(read_shape(t, KEY, also))
}

/// A rectangle, or a polygon by its corners.
fn read_region(t: &mut Table<'_>) -> Vec<[f64; 2]> {
    let sides = ["left", "right", "bottom", "top"];
    if t.has("corner") {
        for key in sides {
            let why = "a region has either `corner`, a list, or left, right, bottom and top";
            t.misplaced(key, why);
        }
        let corners = t.tables("corner", |c| [c.number("x", &PLACE), c.number("y", &PLACE)]);
        if !corners.is_empty() && corners.len() < 3 {
            let message = format!("a region of {} corners has no inside", corners.len());
            t.fault(
                "corner",
                message,
                "list three corners or more, one after the other",
            );
        }
        return corners;
    }
    t.known("corner");
    let mark = t.mark();
    let [x0, x1, y0, y1] = sides.map(|key| t.number(key, &PLACE));
    if t.sound_since(mark) {
        for (high, low, key, name) in [(x1, x0, "right", "left"), (y1, y0, "top", "bottom")] {
            if high <= low {
                let message = format!("`{key}` must be more than `{name}`, but is {high}");
                t.fault(key, message, format!("`{name}` is {low}"));
            }
        }
    }
    vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
}
