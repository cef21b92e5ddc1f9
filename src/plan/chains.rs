//! Short router pieces that stay joined end to end: what is nested for them, and how a nest of chains is
//! taken apart into the pieces again.

use std::collections::BTreeMap;
use std::fmt;

use crate::non_empty::NonEmpty;
use crate::panel::Stock;
use crate::setup::{ChainRules, FlatPiece, FlatSheet, PieceId, Placement, PlacementId, chains};
use crate::stock::{Nest, NestError, NestItem, NestSheet, StockLimit, longest_row, nest_alike};
use crate::table::{Id, Table};

/// A copy of a piece that is to be cut.
pub(super) type Item = NestItem<PieceId>;

/// Copies that stay joined.
type Joined = NonEmpty<Id<Item>>;

/// All copies that are cut, and which of them stay joined.
#[derive(Debug)]
pub(super) struct Copies {
    /// Every copy.
    items: Table<Item>,
    /// Chain by chain from left to right.
    chains: Table<Joined>,
    /// Between the ends of joined pieces, mm.
    gap: f64,
}

/// What is cut alike. All chains of the same pieces are known by the first of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Shape {
    Piece(PieceId),
    Chain(Id<Joined>),
}

/// What is nested: a piece with its member, or a chain.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Nested {
    Piece(PieceId, String),
    Chain(Id<Joined>),
}

impl fmt::Display for Nested {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Piece(_, id) => f.write_str(id),
            Self::Chain(chain) => write!(f, "{}", chain.index()),
        }
    }
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
        items: Vec<Item>,
        pieces: &Table<FlatPiece>,
        joining: Option<Joining>,
        bench: Bench<'_>,
    ) -> Self {
        let items: Table<Item> = items.into();
        let joined = joining.map(|j| {
            let rules = ChainRules {
                hold: j.hold,
                gap: j.gap,
                longest: longest_row(bench.depth, bench.stock, bench.spacing, bench.limit),
                least_bridge: j.least_bridge,
            };
            chains(pieces, &items, |item| item.piece, rules)
        });
        Self {
            items,
            chains: joined.unwrap_or_default().into(),
            gap: joining.map_or(0.0, |j| j.gap),
        }
    }

    fn length(&self, chain: &Joined) -> f64 {
        let wood: f64 = chain.iter().map(|&c| self.items[c].length).sum();
        wood + self.gap * chain.gaps() as f64
    }

    /// The copies that are in no chain.
    fn alone(&self) -> impl Iterator<Item = &Item> {
        let mut joined = self.items.column(|_, _| false);
        for &copy in self.chains.iter().flat_map(|chain| chain.iter()) {
            joined[copy] = true;
        }
        let items = self.items.entries();
        items.filter_map(move |(id, item)| (!joined[id]).then_some(item))
    }

    /// The shortest of what is cut round in one go: its length, mm, and what it is; `None` where nothing is cut.
    pub(super) fn shortest(&self, pieces: &Table<FlatPiece>) -> Option<(f64, String)> {
        let class = |item: &Item| pieces[item.piece].class.as_str();
        let alone = self.alone();
        let alone = alone.map(|item| (item.length, format!("piece {}", class(item))));
        let joined = self.chains.iter().map(|chain| {
            let items = chain.iter().map(|&c| &self.items[c]);
            let names: Vec<String> = items.map(|i| format!("{} {}", class(i), i.id)).collect();
            let place = format!("pieces {}, joined end to end", names.join(" + "));
            (self.length(chain), place)
        });
        alone.chain(joined).min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// How many pieces are joined, and in how many chains.
    pub(super) fn joined(&self) -> (usize, usize) {
        (
            self.chains.iter().map(|chain| chain.len()).sum(),
            self.chains.len(),
        )
    }

    /// What is nested: every piece that is in no chain, then the chains.
    fn nested(&self) -> Vec<NestItem<Shape, Nested>> {
        let alone = self.alone().map(|item| NestItem {
            piece: Shape::Piece(item.piece),
            id: Nested::Piece(item.piece, item.id.clone()),
            length: item.length,
        });
        let mut alike: BTreeMap<NonEmpty<PieceId>, Id<Joined>> = BTreeMap::new();
        let chains = self.chains.entries().map(|(id, chain)| {
            let pieces = chain.map(|&c| self.items[c].piece);
            NestItem {
                piece: Shape::Chain(*alike.entry(pieces).or_insert(id)),
                id: Nested::Chain(id),
                length: self.length(chain),
            }
        });
        alone.chain(chains).collect()
    }

    /// Nests chains and single pieces, and proves how few strips or sheets would do however the pieces
    /// were joined.
    ///
    /// # Errors
    /// Those of [`nest_alike`].
    pub(super) fn nest(
        &self,
        bench: Bench<'_>,
        thickness: f64,
    ) -> Result<Nest<PieceId>, NestError> {
        let Bench {
            stock,
            spacing: gap,
            limit,
            ..
        } = bench;
        let found = nest_alike(&self.nested(), bench.depth, stock, gap, thickness, limit)?;
        let sheets = found.sheets.into_iter();
        let mut found = Nest {
            sheets: sheets.map(|sheet| self.taken_apart(sheet)).collect(),
            count: found.count,
        };
        if self.chains.is_empty() && bench.least_depth == bench.depth {
            return Ok(found);
        }
        // Pieces may be joined otherwise, with no less than the gap between neighbours: each takes its
        // length and that gap of a row. Rows may be as narrow as the narrowest piece. What no nest of those
        // can do, no nest of chains and mixed rows can.
        let less = if self.chains.is_empty() {
            0.0
        } else {
            (gap - self.gap).max(0.0)
        };
        let bare = self.items.iter().map(|item| NestItem {
            length: (item.length - less).max(LEAST),
            ..item.clone()
        });
        let bare: Vec<Item> = bare.collect();
        let count = &mut found.count;
        match nest_alike(&bare, bench.least_depth, stock, gap, thickness, limit) {
            Ok(least) => {
                count.lower_bound = least.count.lower_bound.min(count.used);
                count.proof = least.count.proof;
            }
            Err(_) => count.lower_bound = count.used.min(1),
        }
        count.optimal = count.used == count.lower_bound;
        Ok(found)
    }

    /// The sheet with the pieces of every chain in the chain's place.
    fn taken_apart(&self, sheet: NestSheet<Shape, Nested>) -> FlatSheet {
        let mut placements: Table<Placement> = Table::new();
        let mut chains = Vec::new();
        for place in sheet.placements {
            let mut put = |piece: PieceId, id: &str, x: f64| -> PlacementId {
                placements.push(Placement {
                    piece,
                    id: id.to_owned(),
                    x,
                    y: place.y,
                })
            };
            match place.id {
                Nested::Piece(piece, id) => {
                    put(piece, &id, place.x);
                }
                Nested::Chain(chain) => {
                    let mut x = place.x;
                    chains.push(self.chains[chain].map(|&copy| {
                        let item = &self.items[copy];
                        let placed = put(item.piece, &item.id, x);
                        x += item.length + self.gap;
                        placed
                    }));
                }
            }
        }
        FlatSheet {
            number: sheet.number,
            stock: sheet.stock,
            length: sheet.length,
            width: sheet.width,
            thickness: sheet.thickness,
            offcut: sheet.offcut,
            placements,
            chains,
            alike: Vec::new(),
        }
    }
}

/// Least length of a piece in the proof, mm.
const LEAST: f64 = 0.001;
