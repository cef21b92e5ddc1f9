//! What the cut files of a panel leave to the hand, and the key of the panel file that changes it.

use super::whole::{Cutting, PanelPlan, Plan, Product};
use crate::lattice::Member;
use crate::panel::{Infill, InfillCut, SurroundCut};

/// A part of the work that no cut file does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Uncut {
    /// What is made by hand, and how.
    pub what: &'static str,
    /// The list of the job that has the figures; `None` where none does.
    pub list: Option<&'static str>,
    /// What would have the files cut it; `None` where nothing does.
    pub instead: Option<Instead>,
}

/// A change of the panel file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Instead {
    /// The key, and its value as TOML.
    pub key: [&'static str; 2],
    /// What it does, after the key.
    pub does: &'static str,
}

impl Uncut {
    fn new(
        what: &'static str,
        list: Option<&'static str>,
        instead: Option<([&'static str; 2], &'static str)>,
    ) -> Self {
        let instead = instead.map(|(key, does)| Instead { key, does });
        Self {
            what,
            list,
            instead,
        }
    }

    /// What it is, and which list has the figures. Whoever gets the drawings alone has neither list nor panel file: to
    /// them `what` says all.
    #[must_use]
    pub fn with_list(&self) -> String {
        match self.list {
            None => self.what.to_owned(),
            Some(list) => format!("{}, as {list} tells", self.what),
        }
    }

    /// All of it as a line of text.
    #[must_use]
    pub fn in_words(&self) -> String {
        match &self.instead {
            None => self.with_list(),
            Some(instead) => format!("{}; {}", self.with_list(), instead.in_words()),
        }
    }
}

impl Instead {
    fn in_words(&self) -> String {
        let [key, value] = self.key;
        format!("`{key} = {value}` {}", self.does)
    }
}

impl Plan {
    /// What the cut files leave to the hand, in the order of the work; nothing of a coupon.
    #[must_use]
    pub fn not_cut(&self) -> Vec<Uncut> {
        match &self.product {
            Product::Panel(panel) => self.of_panel(panel),
            Product::Coupon(_) => Vec::new(),
        }
    }

    fn of_panel(&self, panel: &PanelPlan) -> Vec<Uncut> {
        let drawn = &panel.drawn;
        let asked = &self.files.panel;
        let mut list = Vec::new();
        if let Cutting::EdgeUp(_) = &self.cuts.bars {
            list.push(Uncut::new(
                "bars: sawn off their sticks, and their ends cut, by hand",
                Some("sticks.csv"),
                None,
            ));
        }
        if self
            .flats()
            .any(|flat| flat.layout.sheets.iter().any(|s| !s.chains.is_empty()))
        {
            list.push(Uncut::new(
                "pieces that are too short to be held: sawn apart by hand in the grooves between them",
                None,
                None,
            ));
        }
        let by_hand = |m: &Member| m.trimmed_by_hand != [false; 2];
        let ring = drawn.ring().map_or(&[][..], |ring| ring.members.rows());
        if drawn.lattice.members.iter().chain(ring).any(by_hand) {
            list.push(Uncut::new(
                "skew ends of bars: cut square by the files and trimmed by hand",
                Some("members.csv"),
                Some((
                    ["outline.overhang", "8"],
                    "leaves them to be trimmed together, by a saw along the outline",
                )),
            ));
        }
        if asked.outline.overhang > 0.0 {
            list.push(Uncut::new(
                "ends of bars: trimmed by hand along the outline after glue-up",
                None,
                Some((
                    ["outline.overhang", "0"],
                    "cuts bars to the outline, but skew ends square to their long point",
                )),
            ));
        }
        list.extend(asked.infill.as_ref().into_iter().flat_map(of_infill));
        if let Some(SurroundCut::ByHand(_)) = asked.surround.as_ref().map(|s| s.cut) {
            let flat = matches!(self.cuts.bars, Cutting::Flat(_));
            list.push(Uncut::new(
                "surround: mitred and drilled by hand",
                Some("surround.csv"),
                flat.then_some((
                    ["surround.cut", "\"laps\""],
                    "cuts it among the bars, from stock as thick as it is wide",
                )),
            ));
        }
        list
    }
}

/// What is left to the hand of infill.
fn of_infill(infill: &Infill) -> Vec<Uncut> {
    let mut list = Vec::new();
    match infill.cut {
        InfillCut::Outlines => {}
        InfillCut::ByHand => list.push(Uncut::new(
            "infill: all of its pieces by hand",
            Some("infill.csv"),
            Some((
                ["infill.cut", "\"blanks\""],
                "cuts them to length, `\"outlines\"` bevels and all",
            )),
        )),
        InfillCut::Blanks => list.push(Uncut::new(
            "infill: bevels of its ends are shot by hand",
            Some("infill.csv"),
            (!infill.hinged).then_some((
                ["infill.cut", "\"outlines\""],
                "cuts them, from stock as thick as the infill is deep",
            )),
        )),
    }
    if infill.hinged && infill.perforation.is_none() {
        list.push(Uncut::new(
            "folds of hinged infill: sawn by hand",
            Some("infill.csv"),
            (infill.cut == InfillCut::Blanks).then_some((
                ["infill.fold", "\"perforated\""],
                "cuts them as lines of dashes, in card under a laser",
            )),
        ));
    }
    list
}
