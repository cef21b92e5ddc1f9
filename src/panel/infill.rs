//! What a panel file says about its infill.

use super::pattern::{RuleShape, read_shape};
use super::reader::Table;
use super::values::{BAR, Limits};

/// Infill as asked for. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Infill {
    /// Width of the pieces as seen from the front.
    pub face: f64,
    /// Size of the pieces from front to back; the ground's where the file does not say.
    pub depth: f64,
    /// How much shorter than the place that it fills a piece is cut.
    pub allowance: f64,
    /// How much longer than the piece its blank is cut, to be planed off on the shooting jig.
    pub shooting: f64,
    /// The shortest piece that can be held.
    pub least_length: f64,
    /// How its pieces are cut.
    pub cut: InfillCut,
    /// Whether cells that the outline cuts stay empty.
    pub leave_cut_cells: bool,
    /// The pattern of all cells that no feature takes: an index into [`super::JobFiles::patterns`].
    pub pattern: usize,
    /// Other patterns in chosen cells.
    pub features: Vec<Feature>,
}

/// How the pieces of infill are cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InfillCut {
    /// By hand, from the table.
    ByHand,
    /// As square-ended blanks, on their side among the bars, for the shooting jig.
    Blanks,
}

/// A pattern in chosen cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// An index into [`super::JobFiles::patterns`].
    pub pattern: usize,
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

/// Infill as read, with the patterns that it names.
pub(super) struct InfillDraft {
    /// The infill.
    pub(super) infill: Infill,
    /// Key and name of each pattern, in the order of the indices.
    pub(super) patterns: Vec<(String, String)>,
}

const PLACE: Limits = Limits::within(-10_000.0, 10_000.0, "mm");

/// Shortest piece where the file does not say, mm (common practice, no source).
const LEAST_LENGTH: f64 = 8.0;

/// Takes the keys of the infill. `ground_read`: whether the ground's depth is what its file says.
pub(super) fn read_infill(t: &mut Table<'_>, ground_depth: f64, ground_read: bool) -> InfillDraft {
    let mut patterns: Vec<(String, String)> = Vec::new();
    let mut number = |key: String, name: String| -> usize {
        let known = patterns
            .iter()
            .position(|(_, n)| *n == name && !n.is_empty());
        known.unwrap_or_else(|| {
            patterns.push((key, name));
            patterns.len() - 1
        })
    };
    let face = t.number("face", &BAR);
    let depth = t.number_opt("depth", &BAR);
    if let Some(depth) = depth
        && ground_read
        && depth > ground_depth
    {
        let hint = format!("the ground is {ground_depth} deep");
        t.fault("depth", "infill is deeper than the ground", hint);
    }
    let pattern = number("infill.pattern".into(), t.line("pattern"));
    let allowance = t.number_or("allowance", 0.0, &Limits::within(-1.0, 2.0, "mm"));
    let shooting = t.number_or("shooting", 0.0, &Limits::size_or_none(20.0));
    let least_length = t.number_or("least_length", LEAST_LENGTH, &Limits::size_or_none(1000.0));
    let cuts = [
        ("by-hand", InfillCut::ByHand),
        ("blanks", InfillCut::Blanks),
    ];
    let cut = t.choice_opt("cut", &cuts).unwrap_or(InfillCut::ByHand);
    let leave_cut_cells = t.flag_or("leave_cut_cells", false);
    let mut at = 0;
    let features = if t.has("feature") {
        t.tables("feature", |f| {
            let key = format!("infill.feature[{at}].pattern");
            at += 1;
            Feature {
                pattern: number(key, f.line("pattern")),
                cells: read_cells(f),
            }
        })
    } else {
        t.known("feature");
        Vec::new()
    };
    let infill = Infill {
        face,
        depth: depth.unwrap_or(ground_depth),
        allowance,
        shooting,
        least_length,
        cut,
        leave_cut_cells,
        pattern,
        features,
    };
    InfillDraft { infill, patterns }
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
