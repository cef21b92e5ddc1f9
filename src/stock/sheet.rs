//! Strips and sheets with what lies on them.

use crate::table::{Column, Id, Table};

/// A copy of a shape on a strip or sheet: its first end and back edge lie at (x, y). `S` tells shapes apart, `N` the
/// copies of one shape.
#[derive(Debug, Clone, PartialEq)]
pub struct NestPlace<S, N = String> {
    /// Its shape.
    pub piece: S,
    /// Member id; copies for further panels repeat it. Empty where sheets that are cut alike have copies of
    /// different members here: [`NestSheet::id_in`] tells them.
    pub id: N,
    /// Where the piece's first end lies, from the sheet's left end.
    pub x: f64,
    /// Where the lower edge of its row lies, from the sheet's lower edge.
    pub y: f64,
}

/// One strip or sheet with the pieces that are cut from it.
#[derive(Debug, Clone, PartialEq)]
pub struct NestSheet<S, N = String> {
    /// Number from 1, over all sheets of its layout; of sheets that are cut alike, the first one's.
    pub number: usize,
    /// Name of the blank in the stock file.
    pub stock: String,
    /// Along the grain, mm.
    pub length: f64,
    /// Across the grain, mm.
    pub width: f64,
    /// Thickness, mm: the face of pieces on their side, the depth of those on their back.
    pub thickness: f64,
    /// What can be sawn off it square across at the right end, over the full width: its length past the last piece
    /// and one gap, end trim included, at least 0, mm. It can go back into the stock file as it is.
    pub offcut: f64,
    /// The pieces, in rows.
    pub placements: Table<NestPlace<S, N>>,
    /// Pieces that stay joined end to end until a saw parts them, two or more in one row, each in one chain at most.
    pub chains: Vec<Chain<Id<NestPlace<S, N>>>>,
    /// Where several sheets are cut alike, the member ids of each; empty where there is only one.
    pub alike: Vec<Column<NestPlace<S, N>, N>>,
}

/// What lies end to end, from left to right: one thing at least.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Chain<T> {
    first: T,
    rest: Vec<T>,
}

impl<T> Chain<T> {
    /// One thing by itself.
    #[must_use]
    pub const fn of(first: T) -> Self {
        Self {
            first,
            rest: Vec::new(),
        }
    }

    /// What an iterator gives, from left to right; `None` if that is nothing.
    pub fn collect(parts: impl IntoIterator<Item = T>) -> Option<Self> {
        let mut parts = parts.into_iter();
        Some(Self {
            first: parts.next()?,
            rest: parts.collect(),
        })
    }

    /// The one on the left.
    #[must_use]
    pub const fn first(&self) -> &T {
        &self.first
    }

    /// The one on the right.
    #[must_use]
    pub fn last(&self) -> &T {
        self.rest.last().unwrap_or(&self.first)
    }

    /// Adds one on the right.
    pub fn push(&mut self, part: T) {
        self.rest.push(part);
    }

    /// Adds one on the left.
    pub fn push_left(&mut self, part: T) {
        let first = std::mem::replace(&mut self.first, part);
        self.rest.insert(0, first);
    }

    /// How many there are.
    #[must_use]
    pub fn count(&self) -> usize {
        1 + self.rest.len()
    }

    /// How many gaps lie between them.
    #[must_use]
    pub fn gaps(&self) -> usize {
        self.rest.len()
    }

    /// All of them, from left to right.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &T> + Clone {
        std::iter::once(&self.first).chain(&self.rest)
    }

    /// All neighbours, from left to right.
    pub fn pairs(&self) -> impl Iterator<Item = [&T; 2]> {
        let right = self.rest.iter();
        self.iter().zip(right).map(|(left, right)| [left, right])
    }

    /// Another chain, with something else in the place of each.
    pub fn map<'a, U>(&'a self, mut other: impl FnMut(&'a T) -> U) -> Chain<U> {
        Chain {
            first: other(&self.first),
            rest: self.rest.iter().map(other).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chain_has_two_ends() {
        let mut chain = Chain::of(2);
        assert_eq!((chain.first(), chain.last(), chain.gaps()), (&2, &2, 0));
        assert_eq!(chain.pairs().count(), 0);
        chain.push(3);
        chain.push_left(1);
        assert_eq!((chain.first(), chain.last(), chain.count()), (&1, &3, 3));
        assert_eq!(chain.pairs().collect::<Vec<_>>(), [[&1, &2], [&2, &3]]);
        assert_eq!(Chain::collect([1, 2, 3]), Some(chain.clone()));
        assert_eq!(
            chain.map(|n| n * n).iter().collect::<Vec<_>>(),
            [&1, &4, &9]
        );
        assert_eq!(Chain::<u8>::collect([]), None);
    }
}
