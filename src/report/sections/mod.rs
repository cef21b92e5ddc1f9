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
mod sheet;
mod sticks;
mod stock;
mod story;
mod surround;
mod times;
mod uncut;

use std::panic::{AssertUnwindSafe, catch_unwind};

use crate::document::{Document, Section};
use crate::lattice::DryFit;
use crate::plan::{Plan, Product};
use crate::safety::Check;
use crate::setup::Comb;
use crate::write::html::html;
use crate::write::pdf::pdf;
use sheet::{Files, PanelSheet, Sheet};

/// A way to tell of a job.
pub(crate) type TellJob = dyn Fn(&Plan, &DryFit, &[Check], &Files) -> Document;

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
    Tell::Panel(uncut::section),
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

/// The document of a job.
pub(crate) fn document(plan: &Plan, fit: &DryFit, checks: &[Check], files: &Files) -> Document {
    let spec = plan.files.panel.workshop_sheet;
    let sheet = Sheet {
        plan,
        fit,
        checks,
        files,
        numbers: plan.sheet_numbers(),
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
