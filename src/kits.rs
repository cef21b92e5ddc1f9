//! How the pieces of a job are shared out into kits, and how many are spares.

use crate::infill::Infill;
use crate::lattice::Lattice;
use crate::panel::Panel;
use crate::surround::Surround;

/// What a piece is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PieceKind {
    /// A bar of the ground.
    Bar,
    /// A piece that fills a cell.
    Infill,
    /// A side of the surround.
    Surround,
}

impl PieceKind {
    /// Word in `job.json` and on labels.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Bar => "bar",
            Self::Infill => "infill",
            Self::Surround => "surround",
        }
    }
}

/// Pieces that are the same, and where they go.
#[derive(Debug, Clone, PartialEq)]
pub struct KitRow {
    /// Class of bars, of infill, or of sides of the surround.
    pub id: String,
    /// What it is.
    pub kind: PieceKind,
    /// Length as cut, mm: of infill from point to point less the allowance, of a mitred side its long edge.
    pub length: f64,
    /// How many a kit takes, without spares.
    pub each: u64,
    /// Spares in a kit.
    pub spares: u64,
    /// Spares for all kits together.
    pub common_spares: u64,
}

/// The kits of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct KitPlan {
    /// How many kits.
    pub kits: u64,
    /// How many panels a kit makes.
    pub panels: u64,
    /// Every class of pieces: bars, infill, surround.
    pub rows: Vec<KitRow>,
}

impl KitPlan {
    /// The kits of a panel file; one for each panel where it does not say. Mitred sides of the surround,
    /// which are fitted to the glued ground, have no spares.
    #[must_use]
    pub fn of(
        panel: &Panel,
        lattice: &Lattice,
        infill: Option<&Infill>,
        surround: Option<&Surround>,
    ) -> Self {
        let by_hand = surround.is_some_and(|s| s.ring.is_none());
        let kits = panel.kits;
        let panels = kits.map_or(1, |k| u64::from(k.panels));
        let row = |id: &str, kind, length, of_a_panel: usize| {
            let spare = |n: u32| {
                if kind == PieceKind::Surround && by_hand {
                    0
                } else {
                    u64::from(n)
                }
            };
            KitRow {
                id: id.to_owned(),
                kind,
                length,
                each: of_a_panel as u64 * panels,
                spares: kits.map_or(0, |k| spare(k.spares)),
                common_spares: kits.map_or(0, |k| spare(k.common_spares)),
            }
        };
        let classes = lattice.classes.iter();
        let bars = classes.map(|c| row(&c.id, PieceKind::Bar, c.length, c.members.len()));
        let pieces = infill.iter().flat_map(|infill| {
            let allowance = infill.asked.allowance;
            let classes = infill.classes.iter();
            classes.map(move |c| (&c.id, c.cut_length(allowance), c.count()))
        });
        let pieces = pieces.map(|(id, length, count)| row(id, PieceKind::Infill, length, count));
        let sides = surround.iter().flat_map(|surround| {
            surround.classes.iter().map(move |class| {
                let length = match &surround.ring {
                    Some(ring) => ring.lattice.cut_length(ring.bar(class.first)),
                    None => surround.sides[class.first].long,
                };
                (&class.id, length, class.sides.len())
            })
        });
        let sides = sides.map(|(id, length, count)| row(id, PieceKind::Surround, length, count));
        Self {
            kits: u64::from(panel.kit_count()),
            panels,
            rows: bars.chain(pieces).chain(sides).collect(),
        }
    }
}

impl KitRow {
    /// How many there are in all kits, without spares.
    #[must_use]
    pub fn in_all(&self, kits: u64) -> u64 {
        self.each * kits
    }

    /// How many spares there are in all, in kits and for all together.
    #[must_use]
    pub fn spares_in_all(&self, kits: u64) -> u64 {
        self.spares * kits + self.common_spares
    }
}
