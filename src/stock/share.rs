//! Which copies lie on blanks that are filled alike: in a place of all these blanks copies of one member where there
//! are enough of them, else copies of one shape, so that the blanks are cut alike and few labels differ.

use std::collections::{BTreeMap, VecDeque};

use super::nest::NestItem;

/// Copies of one length that wait for a place: indices of items, in the order given.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Waiting {
    /// Those of one shape after those of another.
    shapes: Vec<VecDeque<usize>>,
}

impl Waiting {
    /// `of` are the items of one length, those of one shape together.
    pub(super) fn new(of: &[usize], items: &[NestItem]) -> Self {
        let piece = |i: &usize| items.get(*i).map(|item| item.piece);
        let shapes = of.chunk_by(|a, b| piece(a) == piece(b));
        Self {
            shapes: shapes.map(|own| own.iter().copied().collect()).collect(),
        }
    }

    /// The next copy, of whatever shape.
    pub(super) fn next(&mut self) -> Option<usize> {
        self.shapes.iter_mut().find_map(VecDeque::pop_front)
    }

    /// Copies for at most `places` places on each of `blanks` blanks: those of one place together, all of one
    /// shape. What cannot be shared out in this way goes on waiting.
    pub(super) fn alike(
        &mut self,
        places: usize,
        blanks: usize,
        items: &[NestItem],
    ) -> Vec<VecDeque<usize>> {
        let mut found = Vec::new();
        let mut share = |waiting: &mut VecDeque<usize>| {
            while waiting.len() >= blanks && found.len() < places {
                found.push(waiting.drain(..blanks).collect::<VecDeque<usize>>());
            }
        };
        for shape in &mut self.shapes {
            let mut members: BTreeMap<&str, VecDeque<usize>> = BTreeMap::new();
            for &copy in shape.iter() {
                let id = items.get(copy).map_or("", |item| item.id.as_str());
                members.entry(id).or_default().push_back(copy);
            }
            // In the order in which the members are given.
            let mut members: Vec<VecDeque<usize>> = members.into_values().collect();
            members.sort();
            members.iter_mut().for_each(&mut share);
            let mut rest: Vec<usize> = members.into_iter().flatten().collect();
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

    fn items(list: &[(usize, &str)]) -> Vec<NestItem> {
        let item = |(piece, id): &(usize, &str)| NestItem {
            piece: *piece,
            id: (*id).to_owned(),
            length: 100.0,
        };
        list.iter().map(item).collect()
    }

    #[test]
    fn a_place_has_one_member_where_there_are_enough() {
        // Three panels: two members of one shape in each, one of another shape.
        let one = [(0, "u1"), (0, "u2"), (1, "l1")];
        let items = items(&one.repeat(3));
        let of = [0, 1, 3, 4, 6, 7, 2, 5, 8];
        let mut waiting = Waiting::new(&of, &items);
        let found = waiting.alike(2, 2, &items);
        let want: [VecDeque<usize>; 2] = [[0, 3].into(), [1, 4].into()];
        assert_eq!(found, want, "u1 on both blanks, u2 on both");
        let found = waiting.alike(9, 2, &items);
        let want: [VecDeque<usize>; 2] = [[6, 7].into(), [2, 5].into()];
        assert_eq!(found, want, "of one shape, then of one member again");
        assert_eq!(
            (waiting.next(), waiting.next()),
            (Some(8), None),
            "the rest"
        );
    }

    #[test]
    fn every_copy_is_given_out_once() {
        let one = [(3, "a"), (3, "b"), (3, "c"), (5, "d"), (5, "e")];
        let items = items(&one.repeat(7));
        let of: Vec<usize> = [3, 5]
            .iter()
            .flat_map(|p| {
                (0..items.len())
                    .filter(|&i| items[i].piece == *p)
                    .collect::<Vec<_>>()
            })
            .collect();
        for (places, blanks) in [(1, 1), (2, 5), (4, 3), (9, 4), (100, 6), (3, 50)] {
            let mut waiting = Waiting::new(&of, &items);
            let shared = waiting.alike(places, blanks, &items);
            assert!(shared.len() <= places, "{places} places");
            for place in &shared {
                assert_eq!(place.len(), blanks);
                assert!(
                    place
                        .iter()
                        .all(|&i| items[i].piece == items[place[0]].piece)
                );
            }
            let mut all: Vec<usize> = shared.into_iter().flatten().collect();
            while let Some(next) = waiting.next() {
                all.push(next);
            }
            all.sort_unstable();
            assert_eq!(all, (0..items.len()).collect::<Vec<_>>());
        }
    }
}
