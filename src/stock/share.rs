//! Which copies lie on blanks that are filled alike: in a place of all these blanks copies of one member where there
//! are enough of them, else copies of one shape, so that the blanks are cut alike and few labels differ.

use std::collections::{BTreeMap, VecDeque};

use super::nest::{Item, ItemId};
use crate::table::Table;

/// Copies of one length that wait for a place, in the order given.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Waiting {
    /// Those of one shape after those of another.
    shapes: Vec<VecDeque<ItemId>>,
}

impl Waiting {
    /// `of` are the items of one length, those of one shape together.
    pub(super) fn new(of: &[ItemId], items: &Table<Item>) -> Self {
        let shapes = of.chunk_by(|&a, &b| items[a].shape == items[b].shape);
        Self {
            shapes: shapes.map(|own| own.iter().copied().collect()).collect(),
        }
    }

    /// The next copy, of whatever shape.
    pub(super) fn next(&mut self) -> Option<ItemId> {
        self.shapes.iter_mut().find_map(VecDeque::pop_front)
    }

    /// Copies for at most `places` places on each of `blanks` blanks: those of one place together, all of one
    /// shape. What cannot be shared out in this way goes on waiting.
    pub(super) fn alike(
        &mut self,
        places: usize,
        blanks: usize,
        items: &Table<Item>,
    ) -> Vec<VecDeque<ItemId>> {
        let mut found = Vec::new();
        let mut share = |waiting: &mut VecDeque<ItemId>| {
            while waiting.len() >= blanks && found.len() < places {
                found.push(waiting.drain(..blanks).collect::<VecDeque<ItemId>>());
            }
        };
        for shape in &mut self.shapes {
            let mut members: BTreeMap<usize, VecDeque<ItemId>> = BTreeMap::new();
            for &copy in shape.iter() {
                members
                    .entry(items[copy].member)
                    .or_default()
                    .push_back(copy);
            }
            // In the order in which the members are given.
            let mut members: Vec<VecDeque<ItemId>> = members.into_values().collect();
            members.sort();
            members.iter_mut().for_each(&mut share);
            let mut rest: Vec<ItemId> = members.into_iter().flatten().collect();
            rest.sort_unstable();
            *shape = rest.into();
            share(shape);
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Copies of one length: of which shape, and of which member.
    fn items(list: &[(usize, usize)]) -> Table<Item> {
        let item = |&(shape, member): &(usize, usize)| Item {
            size: 100,
            shape,
            member,
        };
        list.iter().map(item).collect()
    }

    fn places(list: &[ItemId]) -> Vec<usize> {
        list.iter().map(|id| id.index()).collect()
    }

    #[test]
    fn a_place_has_one_member_where_there_are_enough() {
        // Three panels: two members of one shape in each, one of another shape.
        let one = [(0, 0), (0, 1), (1, 2)];
        let items = items(&one.repeat(3));
        let of = [0, 1, 3, 4, 6, 7, 2, 5, 8].map(|i| items.id(i).expect("a copy"));
        let mut waiting = Waiting::new(&of, &items);
        let mut alike = |places, blanks| {
            let mut found = waiting.alike(places, blanks, &items);
            let found = found.iter_mut();
            found
                .map(|own| self::places(own.make_contiguous()))
                .collect::<Vec<_>>()
        };
        assert_eq!(alike(2, 2), [[0, 3], [1, 4]], "one member on both blanks");
        assert_eq!(
            alike(9, 2),
            [[6, 7], [2, 5]],
            "of one shape, then of one member again"
        );
        let rest = [waiting.next(), waiting.next()];
        assert_eq!(rest.map(|id| id.map(|id| id.index())), [Some(8), None]);
    }

    #[test]
    fn every_copy_is_given_out_once() {
        let one = [(3, 0), (3, 1), (3, 2), (5, 3), (5, 4)];
        let items = items(&one.repeat(7));
        let with = |shape| items.entries().filter(move |(_, item)| item.shape == shape);
        let of: Vec<ItemId> = with(3).chain(with(5)).map(|(id, _)| id).collect();
        for (places, blanks) in [(1, 1), (2, 5), (4, 3), (9, 4), (100, 6), (3, 50)] {
            let mut waiting = Waiting::new(&of, &items);
            let shared = waiting.alike(places, blanks, &items);
            assert!(shared.len() <= places, "{places} places");
            for place in &shared {
                assert_eq!(place.len(), blanks);
                assert!(
                    place
                        .iter()
                        .all(|&i| items[i].shape == items[place[0]].shape)
                );
            }
            let mut all: Vec<ItemId> = shared.into_iter().flatten().collect();
            while let Some(next) = waiting.next() {
                all.push(next);
            }
            all.sort_unstable();
            assert_eq!(all, items.ids().collect::<Vec<_>>());
        }
    }
}
