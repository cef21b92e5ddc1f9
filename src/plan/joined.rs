//! Short router pieces that stay joined end to end: what is nested for them, and how a nest of chains is
//! taken apart into the pieces again.

use std::collections::BTreeMap;

use crate::panel::Stock;
use crate::path::{Note, NoteKind};
use crate::setup::{ChainRules, FlatPiece, SAW_ROOM, chains};
use crate::stock::{FlatSheet, Placement};
use crate::stock::{Nest, NestItem, StockLimit, longest_row, nest_alike};

/// All copies that are cut, and which of them stay joined.
#[derive(Debug)]
pub(super) struct Copies {
    /// Every copy.
    items: Vec<NestItem>,
    /// Indices into the copies, chain by chain from left to right.
    chains: Vec<Vec<usize>>,
    /// Between the ends of joined pieces, mm.
    gap: f64,
}

/// Where the copies are to lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bench<'a> {
    /// Across the row of the widest piece, mm.
    pub(super) depth: f64,
    /// Across the row of the narrowest piece, mm.
    pub(super) least_depth: f64,
    /// The stock, its trim wide enough for the head.
    pub(super) stock: &'a Stock,
    /// Between neighbours that are not joined, mm.
    pub(super) spacing: f64,
    /// How far the machine reaches.
    pub(super) limit: StockLimit,
}

/// What makes pieces stay joined: the length to hold, the gap between their ends, and the least height of
/// wood between them, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Joining {
    pub(super) hold: f64,
    pub(super) gap: f64,
    pub(super) least_bridge: f64,
}

impl Copies {
    /// The copies, joined where `joining` asks for it.
    pub(super) fn new(
        items: Vec<NestItem>,
        pieces: &[FlatPiece],
        joining: Option<Joining>,
        bench: Bench<'_>,
    ) -> Self {
        let joined = joining.map(|j| {
            let rules = ChainRules {
                hold: j.hold,
                gap: j.gap,
                longest: longest_row(bench.depth, bench.stock, bench.spacing, bench.limit),
                least_bridge: j.least_bridge,
            };
            let copies: Vec<usize> = items.iter().map(|item| item.piece).collect();
            chains(pieces, &copies, rules)
        });
        Self {
            items,
            chains: joined.unwrap_or_default(),
            gap: joining.map_or(0.0, |j| j.gap),
        }
    }

    fn length(&self, chain: &[usize]) -> f64 {
        let wood: f64 = chain
            .iter()
            .filter_map(|&c| self.items.get(c))
            .map(|item| item.length)
            .sum();
        wood + self.gap * chain.len().saturating_sub(1) as f64
    }

    /// The copies that are in no chain.
    fn alone(&self) -> Vec<&NestItem> {
        let mut alone: Vec<Option<&NestItem>> = self.items.iter().map(Some).collect();
        for &copy in self.chains.iter().flatten() {
            if let Some(item) = alone.get_mut(copy) {
                *item = None;
            }
        }
        alone.into_iter().flatten().collect()
    }

    /// The shortest of what is cut round in one go: its length, mm, and what it is.
    pub(super) fn shortest(&self, pieces: &[FlatPiece]) -> Option<(f64, String)> {
        let class = |item: &NestItem| pieces.get(item.piece).map_or("", |p| p.class.as_str());
        let alone = self.alone().into_iter();
        let alone = alone.map(|item| (item.length, format!("piece {}", class(item))));
        let joined = self.chains.iter().map(|chain| {
            let items = chain.iter().filter_map(|&c| self.items.get(c));
            let names: Vec<String> = items.map(|i| format!("{} {}", class(i), i.id)).collect();
            let place = format!("pieces {}, joined end to end", names.join(" + "));
            (self.length(chain), place)
        });
        alone.chain(joined).min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// How many pieces are joined, and in how many chains.
    pub(super) fn joined(&self) -> (usize, usize) {
        (self.chains.iter().map(Vec::len).sum(), self.chains.len())
    }

    /// Nests chains and single pieces, and proves how few strips or sheets would do however the pieces
    /// were joined.
    ///
    /// # Errors
    /// Those of [`nest`].
    pub(super) fn nest(
        &self,
        pieces: usize,
        bench: Bench<'_>,
        thickness: f64,
    ) -> Result<Nest, crate::stock::NestError> {
        let mut items: Vec<NestItem> = self.alone().into_iter().cloned().collect();
        // Chains of the same pieces are one shape, called after the first of them; a chain is known by its number.
        let mut alike: BTreeMap<Vec<usize>, usize> = BTreeMap::new();
        for (k, chain) in self.chains.iter().enumerate() {
            let parts = chain.iter().filter_map(|&c| self.items.get(c));
            let first = *alike.entry(parts.map(|p| p.piece).collect()).or_insert(k);
            items.push(NestItem {
                piece: pieces + first,
                id: k.to_string(),
                length: self.length(chain),
            });
        }
        let on = |items: &[NestItem], depth: f64| {
            let Bench {
                stock,
                spacing,
                limit,
                ..
            } = bench;
            nest_alike(items, depth, stock, spacing, thickness, limit)
        };
        let mut found = on(&items, bench.depth)?;
        if self.chains.is_empty() && bench.least_depth == bench.depth {
            return Ok(found);
        }
        for sheet in &mut found.sheets {
            self.take_apart(sheet, pieces);
        }
        // Pieces may be joined otherwise, with no less than the gap between neighbours: each takes its
        // length and that gap of a row. Rows may be as narrow as the narrowest piece. What no nest of those
        // can do, no nest of chains and mixed rows can.
        let less = if self.chains.is_empty() {
            0.0
        } else {
            (bench.spacing - self.gap).max(0.0)
        };
        let bare: Vec<NestItem> = self
            .items
            .iter()
            .map(|item| NestItem {
                length: (item.length - less).max(LEAST),
                ..item.clone()
            })
            .collect();
        match on(&bare, bench.least_depth) {
            Ok(least) => {
                found.lower_bound = least.lower_bound.min(found.used);
                found.proof = least.proof;
            }
            Err(_) => found.lower_bound = found.used.min(1),
        }
        found.optimal = found.used == found.lower_bound;
        Ok(found)
    }

    /// Puts the pieces of every chain on the sheet in the chain's place.
    fn take_apart(&self, sheet: &mut FlatSheet, pieces: usize) {
        let mut placements = Vec::with_capacity(sheet.placements.len());
        let mut chains = Vec::new();
        for place in std::mem::take(&mut sheet.placements) {
            let number = place.id.parse().ok().filter(|_| place.piece >= pieces);
            let Some(chain) = number.and_then(|k: usize| self.chains.get(k)) else {
                placements.push(place);
                continue;
            };
            let first = placements.len();
            let mut x = place.x;
            for item in chain.iter().filter_map(|&c| self.items.get(c)) {
                placements.push(Placement {
                    piece: item.piece,
                    id: item.id.clone(),
                    x,
                    y: place.y,
                });
                x += item.length + self.gap;
            }
            chains.push((first..placements.len()).collect());
        }
        sheet.placements = placements;
        sheet.chains = chains;
    }
}

/// Least length of a piece in the proof, mm.
const LEAST: f64 = 0.001;

/// What the operator of a sheet with joined pieces must know.
pub(super) fn saw_note(gap: f64) -> Note {
    let text = format!(
        "joined pieces: saw them apart in the grooves with a kerf of at most {:.2} mm, then pare off what is \
         left flush with the grooves' walls",
        (gap - SAW_ROOM).max(0.0)
    );
    Note::new(NoteKind::Step, text)
}
