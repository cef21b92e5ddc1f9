//! What a panel file says about kits.

use super::panel_file::{Method, Panel};
use super::reader::Table;
use crate::limits::{PANELS, SPARES};

/// How the panels of a job are shared out, and what is cut beyond them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kits {
    /// Panels in a kit.
    pub panels: u32,
    /// Spare pieces of each class in each kit.
    pub spares: u32,
    /// Spare pieces of each class for all kits together.
    pub common_spares: u32,
}

impl Panel {
    /// How many kits there are: one for each panel where the file does not say.
    #[must_use]
    pub fn kit_count(&self) -> u32 {
        self.quantity / self.kits.map_or(1, |k| k.panels.max(1))
    }

    /// How many spare pieces of each class are cut, in kits and for all together.
    #[must_use]
    pub fn spares_of_each(&self) -> u64 {
        self.kits.map_or(0, |k| {
            u64::from(self.kit_count()) * u64::from(k.spares) + u64::from(k.common_spares)
        })
    }
}

/// Takes the keys of the kits.
pub(super) fn read_kits(t: &mut Table<'_>, quantity: u32, method: Method) -> Kits {
    let panels = t.count_opt("panels", 1..=PANELS).unwrap_or(1);
    if !quantity.is_multiple_of(panels) {
        let below = quantity - quantity % panels;
        let above = below + panels;
        let hint = if below == 0 {
            format!("write quantity = {above}, or fewer panels in a kit")
        } else {
            format!("write quantity = {below} or {above}, or another number of panels in a kit")
        };
        let message = format!(
            "a quantity of {quantity} does not share out into kits of {panels} panels each"
        );
        t.fault("panels", message, hint);
    }
    let mut spares = |key| {
        if method == Method::EdgeUp {
            let why =
                "edge-up bars are sawn from sticks: `sticks.spares` says how many spare sticks";
            t.misplaced(key, why);
            return 0;
        }
        t.count_opt(key, 0..=SPARES).unwrap_or(0)
    };
    Kits {
        panels,
        spares: spares("spares"),
        common_spares: spares("common_spares"),
    }
}
