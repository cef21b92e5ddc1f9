//! Kits: what each holds, and the labels.

use std::collections::BTreeMap;

use crate::panel::Panel;
use crate::plan::PanelPlan;
use crate::write::labels::{bundle_labels, kit_labels, labels_csv};
use crate::write::svg::{BUNDLE_GRID, KIT_GRID, labels_svg};

/// Adds the labels, as a table and as pages to print, where the panel file asks for kits.
pub(crate) fn add(panel: &Panel, of: &PanelPlan, files: &mut BTreeMap<String, Vec<u8>>) {
    if panel.kits.is_none() {
        return;
    }
    let kits = of.kits(panel);
    files.insert("labels.csv".to_owned(), labels_csv(panel, &kits));
    let sets = [
        ("kits", kit_labels(panel, &kits), KIT_GRID),
        ("bundles", bundle_labels(panel, &kits), BUNDLE_GRID),
    ];
    for (name, labels, grid) in sets {
        let title = format!("{}, labels of {name}", panel.name);
        for (number, page) in (1..).zip(labels_svg(
            &labels,
            grid,
            panel.workshop_sheet.paper,
            &title,
        )) {
            files.insert(format!("labels/{name}-{number:02}.svg"), page);
        }
    }
}
