//! Lists that hold one thing at the least, so that the first one needs no stand-in.

use std::ops::{Deref, DerefMut};

/// A list of one thing or more.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct NonEmpty<T> {
    /// Never empty: [`NonEmpty::one`] and [`NonEmpty::of`] alone make one, and nothing is taken out.
    list: Vec<T>,
}

impl<T> NonEmpty<T> {
    /// A list of one thing.
    #[must_use]
    pub fn one(first: T) -> Self {
        Self { list: vec![first] }
    }

    /// The list; `None` where there is nothing in it.
    #[must_use]
    pub fn of(list: impl IntoIterator<Item = T>) -> Option<Self> {
        let list: Vec<T> = list.into_iter().collect();
        (!list.is_empty()).then_some(Self { list })
    }

    /// Adds one at the end.
    pub fn push(&mut self, next: T) {
        self.list.push(next);
    }

    /// Adds one at the beginning.
    pub fn push_front(&mut self, first: T) {
        self.list.insert(0, first);
    }

    /// The first.
    #[must_use]
    pub fn first(&self) -> &T {
        // There is one, as documented above.
        &self.list[0]
    }

    /// The last.
    #[must_use]
    pub fn last(&self) -> &T {
        // As above.
        &self.list[self.list.len() - 1]
    }

    /// How many gaps lie between its things, one after the other.
    #[must_use]
    pub fn gaps(&self) -> usize {
        self.list.len() - 1
    }

    /// All neighbours, in order.
    pub fn pairs(&self) -> impl Iterator<Item = [&T; 2]> {
        self.list.windows(2).map(|pair| [&pair[0], &pair[1]])
    }

    /// The one at a place, from 0, of the list that begins anew at its end, and ends where it begins.
    #[must_use]
    pub fn round(&self, place: i64) -> &T {
        &self.list[self.place_round(place)]
    }

    /// Which place of the list that is.
    #[must_use]
    pub fn place_round(&self, place: i64) -> usize {
        place.rem_euclid(self.list.len() as i64) as usize
    }

    /// The same list with something made of each.
    #[must_use]
    pub fn map<'a, V>(&'a self, make: impl FnMut(&'a T) -> V) -> NonEmpty<V> {
        NonEmpty {
            list: self.list.iter().map(make).collect(),
        }
    }
}

impl<T> Deref for NonEmpty<T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        &self.list
    }
}

impl<T> DerefMut for NonEmpty<T> {
    fn deref_mut(&mut self) -> &mut [T] {
        &mut self.list
    }
}

impl<'a, T> IntoIterator for &'a NonEmpty<T> {
    type Item = &'a T;
    type IntoIter = std::slice::Iter<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.list.iter()
    }
}

impl<T> IntoIterator for NonEmpty<T> {
    type Item = T;
    type IntoIter = std::vec::IntoIter<T>;

    fn into_iter(self) -> Self::IntoIter {
        self.list.into_iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_is_always_a_first_and_a_last() {
        assert_eq!(NonEmpty::<u8>::of([]), None);
        let mut list = NonEmpty::one(7);
        assert_eq!((*list.first(), *list.last()), (7, 7));
        list.push(8);
        assert_eq!((*list.first(), *list.last(), list.len()), (7, 8, 2));
        assert_eq!(Some(list.map(|n| n + 1)), NonEmpty::of([8, 9]));
        list.push_front(6);
        assert_eq!(list.gaps(), 2);
        assert_eq!(list.pairs().collect::<Vec<_>>(), [[&6, &7], [&7, &8]]);
        assert_eq!(NonEmpty::one(5).pairs().count(), 0);
        let list = NonEmpty::of([7, 8]).expect("two");
        // Round and round, both ways.
        assert_eq!(
            [-3, -2, -1, 0, 1, 2].map(|k| *list.round(k)),
            [8, 7, 8, 7, 8, 7]
        );
    }
}
