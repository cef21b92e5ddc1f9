//! What sections tell of, and the words that they share.

use crate::document::{Figure, Numbers, Size};
use crate::kits::KitPlan;
use crate::lattice::{DryFit, End, EndShape};
use crate::plan::{PanelPlan, Plan};
use crate::safety::Check;

/// Files by their path in the job's folder.
pub(super) type Files = std::collections::BTreeMap<String, Vec<u8>>;

/// What a section tells of.
pub(super) struct Sheet<'a> {
    pub(super) plan: &'a Plan,
    /// The dry fit of the shapes as cut.
    pub(super) fit: &'a DryFit,
    /// All checks, those of the files too.
    pub(super) checks: &'a [Check],
    /// The files of the job so far, its pictures among them.
    pub(super) files: &'a Files,
    /// How numbers are written.
    pub(super) numbers: Numbers,
}

/// What sections on a panel tell of besides.
pub(super) struct PanelSheet<'a> {
    /// The panel, and how it goes together.
    pub(super) panel: &'a PanelPlan,
    /// How the pieces are shared out.
    pub(super) kits: KitPlan,
}

impl PanelSheet<'_> {
    /// How many of a class are made for all panels, with its spares after a plus sign.
    pub(super) fn to_make(&self, id: &str) -> String {
        let row = self.kits.rows.iter().find(|row| row.id == id);
        let [count, spares] = row.map_or([0; 2], |row| {
            let kits = self.kits.kits;
            [row.in_all(kits), row.spares_in_all(kits)]
        });
        match spares {
            0 => count.to_string(),
            _ => format!("{count} + {spares}"),
        }
    }
}

impl Sheet<'_> {
    /// How many panels are made.
    pub(super) fn quantity(&self) -> u64 {
        u64::from(self.plan.files.panel.quantity)
    }

    /// A picture of the job's folder, no larger than the page.
    pub(super) fn picture(&self, path: &str, alt: String) -> Option<Figure> {
        let svg = self.files.get(path)?.clone();
        Some(Figure {
            svg,
            alt,
            caption: format!(
                "{path} in the job's folder. Figures in the picture are {}.",
                self.numbers.unit_word()
            ),
            size: Size::Fit,
        })
    }

    /// An end of a bar in words.
    pub(super) fn end(&self, end: End) -> String {
        let angle = self.numbers.angle(end.angle_deg);
        match end.shape {
            EndShape::Square => "square".to_owned(),
            EndShape::Skew => format!("skew {angle}"),
            EndShape::Point => {
                let least = end.angle_deg.min(180.0 - end.angle_deg);
                format!("point {}", self.numbers.angle(least))
            }
        }
    }

    /// Face and depth of a bar.
    pub(super) fn section_of(&self, face: f64, depth: f64) -> String {
        format!("{} × {}", self.numbers.fine(face), self.numbers.fine(depth))
    }
}

/// The word for lengths in a heading of a table.
pub(super) fn in_unit(what: &str, numbers: Numbers) -> String {
    format!("{what}, {}", numbers.unit())
}
