//! The workshop sheet of a job: what the plan and the proof know, put into words, tables and figures.
//!
//! Each section stands in a file of its own, as one function from the job to a [`Section`], or to `None`
//! where the job has nothing to tell there; [`SECTIONS`] is the order in which they stand on the sheet.

mod assembly;
mod cautions;
mod checks;
mod coupon;
mod cut_list;
mod infill;
mod kits;
mod nest;
mod overview;
mod settings;
mod setups;
mod sticks;
mod stock;
mod story;
mod surround;
mod times;

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

use crate::document::{Document, Figure, Numbers, Section, Size};
use crate::kits::KitPlan;
use crate::lattice::{DryFit, End, EndShape};
use crate::panel::Units;
use crate::plan::{PanelPlan, Plan, Product};
use crate::safety::Check;
use crate::setup::Comb;
use crate::write::html::html;
use crate::write::pdf::pdf;

/// Files by their path in the job's folder.
type Files = BTreeMap<String, Vec<u8>>;

/// A way to tell of a job.
pub(crate) type TellJob = dyn Fn(&Plan, &DryFit, &[Check], &Files) -> Document;

/// What a section tells of.
struct Sheet<'a> {
    plan: &'a Plan,
    /// The dry fit of the shapes as cut.
    fit: &'a DryFit,
    /// All checks, those of the files too.
    checks: &'a [Check],
    /// The files of the job so far, its pictures among them.
    files: &'a Files,
    /// How numbers are written.
    numbers: Numbers,
}

/// What sections on a panel tell of besides.
struct PanelSheet<'a> {
    /// The panel, and how it goes together.
    panel: &'a PanelPlan,
    /// How the pieces are shared out.
    kits: KitPlan,
}

/// What a job makes, as sections tell of it.
enum Of<'a> {
    Panel(PanelSheet<'a>),
    Coupon(&'a Comb),
}

/// Tells a section, or `None` where there is nothing to tell.
enum Tell {
    /// Of any job.
    Any(fn(&Sheet<'_>) -> Option<Section>),
    /// Of a panel.
    Panel(fn(&Sheet<'_>, &PanelSheet<'_>) -> Option<Section>),
    /// Of a coupon.
    Coupon(fn(&Sheet<'_>, &Comb) -> Option<Section>),
}

impl Tell {
    fn section(&self, sheet: &Sheet<'_>, of: &Of<'_>) -> Option<Section> {
        match (self, of) {
            (Self::Any(tell), _) => tell(sheet),
            (Self::Panel(tell), Of::Panel(panel)) => tell(sheet, panel),
            (Self::Coupon(tell), Of::Coupon(comb)) => tell(sheet, comb),
            (Self::Panel(_), Of::Coupon(_)) | (Self::Coupon(_), Of::Panel(_)) => None,
        }
    }
}

/// The sections in order.
const SECTIONS: &[Tell] = &[
    Tell::Panel(overview::panel),
    Tell::Coupon(overview::coupon),
    Tell::Any(cautions::section),
    Tell::Coupon(coupon::section),
    Tell::Any(stock::section),
    Tell::Panel(cut_list::section),
    Tell::Panel(sticks::section),
    Tell::Any(nest::section),
    Tell::Any(settings::section),
    Tell::Any(setups::section),
    Tell::Panel(story::section),
    Tell::Panel(infill::section),
    Tell::Panel(surround::section),
    Tell::Panel(kits::section),
    Tell::Panel(assembly::section),
    Tell::Any(times::section),
    Tell::Any(checks::section),
];

impl PanelSheet<'_> {
    /// How many of a class are made for all panels, with its spares after a plus sign.
    fn to_make(&self, id: &str) -> String {
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
    fn quantity(&self) -> u64 {
        u64::from(self.plan.files.panel.quantity)
    }

    /// A picture of the job's folder, no larger than the page.
    fn picture(&self, path: &str, alt: String) -> Option<Figure> {
        let svg = self.files.get(path)?.clone();
        Some(Figure {
            svg,
            alt,
            caption: format!("{path} in the job's folder. Figures in the picture are mm."),
            size: Size::Fit,
        })
    }

    /// An end of a bar in words.
    fn end(&self, end: End) -> String {
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
    fn section_of(&self, face: f64, depth: f64) -> String {
        format!("{} × {}", self.numbers.fine(face), self.numbers.fine(depth))
    }
}

/// The document of a job.
pub(crate) fn document(plan: &Plan, fit: &DryFit, checks: &[Check], files: &Files) -> Document {
    let spec = plan.files.panel.sheet;
    let sheet = Sheet {
        plan,
        fit,
        checks,
        files,
        numbers: Numbers { units: spec.units },
    };
    let of = match &plan.product {
        Product::Panel(panel) => Of::Panel(PanelSheet {
            panel,
            kits: panel.kits(&plan.files.panel),
        }),
        Product::Coupon(coupon) => Of::Coupon(&coupon.comb),
    };
    let sections = SECTIONS.iter().filter_map(|tell| tell.section(&sheet, &of));
    Document {
        title: plan.files.panel.name.clone(),
        paper: spec.paper,
        sections: sections.collect(),
    }
}

/// The files of the sheet, and what went wrong with them in words: a sheet that cannot be made must not
/// lose the cut files.
pub(crate) fn add(tell: impl FnOnce(&Files) -> Document, files: &mut Files) -> Vec<String> {
    let mut warnings = Vec::new();
    let Some(document) = guarded(|| tell(files)) else {
        warnings.push(lost(
            "sheet.html and sheet.pdf",
            "of a fault of the program",
        ));
        return warnings;
    };
    match guarded(|| html(&document)) {
        Some(bytes) => _ = files.insert("sheet.html".to_owned(), bytes),
        None => warnings.push(lost("sheet.html", "of a fault of the program")),
    }
    match guarded(|| pdf(&document)) {
        Some(Ok(pdf)) => {
            files.insert("sheet.pdf".to_owned(), pdf.bytes);
            if !pdf.missing.is_empty() {
                let list: Vec<String> = pdf.missing.iter().map(char::to_string).collect();
                warnings.push(format!(
                    "sheet.pdf: its letters lack {}; a question mark stands for each",
                    list.join(" ")
                ));
            }
        }
        Some(Err(e)) => warnings.push(lost("sheet.pdf", &e.to_string())),
        None => warnings.push(lost("sheet.pdf", "of a fault of the program")),
    }
    warnings
}

fn lost(what: &str, why: &str) -> String {
    format!("no {what}, because {why}; all cut files are there and proven")
}

/// What a writer makes; `None` where it, or a library that it calls, breaks down.
fn guarded<T>(write: impl FnOnce() -> T) -> Option<T> {
    // Nothing that a broken writer has touched is used again.
    catch_unwind(AssertUnwindSafe(write)).ok()
}

/// The word for lengths in a heading of a table.
fn in_unit(what: &str, numbers: Numbers) -> String {
    match numbers.units {
        Units::Mm => format!("{what}, mm"),
        Units::Inch => format!("{what}, in"),
    }
}

/// `1 stick`, `2 sticks`.
fn counted(n: usize, what: &str) -> String {
    if n == 1 {
        format!("1 {what}")
    } else {
        format!("{n} {what}s")
    }
}
