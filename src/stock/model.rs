//! Nesting in whole numbers: what the search and the proof see of pieces and stock.

use super::knapsack::Goods;
use crate::table::{Column, Id, Table};

/// A length of the model.
pub(super) type KindId = Id<Kind>;

/// A size of blank of the model.
pub(super) type SizeId = Id<Size>;

/// How many pieces of each length lie in a row, longest first; of each one at least.
pub(super) type Take = Vec<(KindId, u64)>;

/// Pieces of one length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Kind {
    /// What one takes of a row: its length and one gap, micrometres.
    pub size: u64,
    /// How many there are.
    pub count: u64,
}

/// Blanks of one size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Size {
    /// What a row holds: its clear length and one gap, micrometres.
    pub room: u64,
    /// How many rows lie side by side on one blank.
    pub rows: u64,
    /// How many blanks there are; `None` where more can be bought.
    pub count: Option<u64>,
    /// Length times width, to tell blanks apart that would do equally well.
    pub area: u64,
}

impl Size {
    /// How many rows all blanks of this size have together.
    pub fn all_rows(&self) -> u64 {
        self.count.map_or(u64::MAX, |n| n.saturating_mul(self.rows))
    }
}

/// Pieces and stock.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Model {
    /// The lengths, longest first, each once.
    pub kinds: Table<Kind>,
    /// The sizes of blanks, in the order of the stock file.
    pub sizes: Table<Size>,
}

impl Model {
    /// How many pieces there are of each length.
    pub fn demand(&self) -> Column<Kind, u64> {
        self.kinds.column(|_, k| k.count)
    }

    /// The pieces of `left` as goods of these prices.
    pub fn goods(
        &self,
        left: &Column<Kind, u64>,
        prices: &Column<Kind, u64>,
    ) -> Vec<Goods<KindId>> {
        let goods = self.kinds.entries().map(|(of, k)| Goods {
            of,
            size: k.size,
            price: prices[of],
            count: left[of],
        });
        goods.collect()
    }

    /// What pieces take of a row.
    pub fn fill(&self, take: &[(KindId, u64)]) -> u64 {
        take.iter()
            .map(|&(kind, n)| n * self.kinds[kind].size)
            .sum()
    }

    /// The greatest room of a row on any blank.
    pub fn longest_room(&self) -> u64 {
        self.sizes.iter().map(|s| s.room).max().unwrap_or(0)
    }
}

/// Rows that are cut alike.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Rows {
    /// The size of blank.
    pub size: SizeId,
    /// The pieces.
    pub take: Take,
    /// How many such rows.
    pub times: u64,
}

/// Rows that hold all pieces, or some of them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Plan {
    /// The rows; how they lie on blanks is settled later.
    pub rows: Vec<Rows>,
    /// Pieces of each length that found no place.
    pub left: Column<Kind, u64>,
}

impl Plan {
    /// A plan with nothing placed yet.
    pub fn new(model: &Model) -> Self {
        Self {
            rows: Vec::new(),
            left: model.demand(),
        }
    }

    /// How many pieces found no place.
    pub fn missing(&self) -> u64 {
        self.left.iter().sum()
    }

    /// How many rows of a size are taken.
    pub fn rows_of(&self, size: SizeId) -> u64 {
        self.rows
            .iter()
            .filter(|r| r.size == size)
            .map(|r| r.times)
            .sum()
    }

    /// How many blanks of each size are taken.
    fn blanks<'a>(&'a self, model: &'a Model) -> impl Iterator<Item = (&'a Size, u64)> {
        let sizes = model.sizes.entries();
        sizes.map(|(id, s)| (s, self.rows_of(id).div_ceil(s.rows)))
    }

    /// How many blanks are taken.
    pub fn used(&self, model: &Model) -> u64 {
        self.blanks(model).map(|(_, n)| n).sum()
    }

    /// What makes one plan better than another: fewer pieces without a place, then fewer blanks, then
    /// less area, then more room left over in the emptiest row.
    pub fn cost(&self, model: &Model) -> (u64, u64, u128, u64) {
        let area = self
            .blanks(model)
            .map(|(s, n)| u128::from(s.area) * u128::from(n))
            .sum();
        let fills = self.rows.iter().map(|r| model.fill(&r.take));
        let emptiest = fills.min().unwrap_or(0);
        (self.missing(), self.used(model), area, emptiest)
    }

    /// Adds rows and takes their pieces off what is left: as many as pieces and blanks allow, at most
    /// `most`. Returns how many.
    pub fn add(&mut self, model: &Model, size: SizeId, take: Take, most: u64) -> u64 {
        let rows = model.sizes[size].all_rows();
        let mut times = most.min(rows.saturating_sub(self.rows_of(size)));
        for &(kind, n) in &take {
            times = times.min(self.left[kind] / n.max(1));
        }
        if take.is_empty() || times == 0 {
            return 0;
        }
        for &(kind, n) in &take {
            self.left[kind] -= n * times;
        }
        self.rows.push(Rows { size, take, times });
        times
    }
}
