//! Sheets that are cut alike: one program, one drawing and one picture serve them all, and a new sheet is put
//! on for each run.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::sheet::{NestPlace, NestSheet};
use crate::non_empty::NonEmpty;
use crate::table::Id;

/// What makes sheets be cut alike: the blank, its sizes, each piece in its place, and what stays joined.
type Motion<S> = (
    String,
    [u64; 3],
    Vec<(S, [u64; 2])>,
    Vec<NonEmpty<Id<NestPlace<S>>>>,
);

fn motion<S: Clone>(sheet: &NestSheet<S>) -> Motion<S> {
    let place = |p: &NestPlace<S>| (p.piece.clone(), [p.x, p.y].map(f64::to_bits));
    (
        sheet.stock.clone(),
        [sheet.length, sheet.width, sheet.thickness].map(f64::to_bits),
        sheet.placements.iter().map(place).collect(),
        sheet.chains.clone(),
    )
}

/// Puts sheets that are cut alike together, in the order in which the first of each kind comes, and numbers them anew
/// in that order. A place where the sheets have copies of different members loses its id: all of these are one piece,
/// and what is written on it must hold for every one of the sheets.
#[must_use]
pub fn cut_alike<S: Ord + Clone>(sheets: Vec<NestSheet<S>>) -> Vec<NestSheet<S>> {
    let mut of: BTreeMap<Motion<S>, usize> = BTreeMap::new();
    let mut alike: Vec<NonEmpty<NestSheet<S>>> = Vec::new();
    for sheet in sheets {
        match of.entry(motion(&sheet)) {
            Entry::Vacant(place) => {
                place.insert(alike.len());
                alike.push(NonEmpty::one(sheet));
            }
            // A place in the list, which only grows.
            Entry::Occupied(place) => alike[*place.get()].push(sheet),
        }
    }
    let mut number = 1;
    let one = |own: NonEmpty<NestSheet<S>>| {
        let mut sheet = own.first().clone();
        sheet.number = number;
        number += own.len();
        if own.gaps() > 0 {
            // Sheets that are cut alike have the same places in the same order.
            let ids = |s: &NestSheet<S>| {
                let ids = s.placements.rows();
                sheet.placements.column(|at, _| ids[at.index()].id.clone())
            };
            sheet.alike = own.iter().map(ids).collect();
        }
        for (at, place) in sheet.placements.ids().zip(sheet.placements.iter_mut()) {
            if sheet.alike.iter().any(|ids| ids[at] != place.id) {
                place.id.clear();
            }
        }
        sheet
    };
    alike.into_iter().map(one).collect()
}

impl<S, N> NestSheet<S, N> {
    /// How many sheets are cut like this one, itself included: how often its program is run.
    #[must_use]
    pub fn loads(&self) -> usize {
        self.alike.len().max(1)
    }

    /// The numbers of the sheets that are cut alike: `1`, or `1 to 34`.
    #[must_use]
    pub fn numbers(&self) -> String {
        match self.loads() {
            1 => self.number.to_string(),
            loads => format!("{} to {}", self.number, self.number + loads - 1),
        }
    }
}

impl<S> NestSheet<S> {
    /// The member of a placement on one of the sheets that are cut alike, counted from 0.
    ///
    /// # Panics
    /// Where there are not so many sheets: a fault of this program.
    #[must_use]
    pub fn id_in(&self, load: usize, placement: Id<NestPlace<S>>) -> &str {
        if self.alike.is_empty() && load == 0 {
            &self.placements[placement].id
        } else {
            // As documented.
            &self.alike[load][placement]
        }
    }

    /// Whether a place has copies of different members on the sheets that are cut alike.
    #[must_use]
    pub fn members_differ(&self) -> bool {
        self.alike.len() > 1 && self.placements.iter().any(|p| p.id.is_empty())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sheet with copies of pieces one after the other, 10 mm apart.
    fn sheet(number: usize, stock: &str, copies: &[(usize, &str)]) -> NestSheet<usize> {
        let place = |(k, (piece, id)): (usize, &(usize, &str))| NestPlace {
            piece: *piece,
            id: (*id).to_owned(),
            x: 10.0 * k as f64,
            y: 5.0,
        };
        NestSheet {
            number,
            stock: stock.to_owned(),
            length: 300.0,
            width: 200.0,
            thickness: 3.0,
            offcut: number as f64,
            placements: copies.iter().enumerate().map(place).collect(),
            chains: Vec::new(),
            alike: Vec::new(),
        }
    }

    #[test]
    fn sheets_with_the_same_pieces_in_the_same_places_come_together() {
        let (one, two) = ([(0, "u1"), (1, "l1")], [(0, "u2"), (1, "l1")]);
        let mut moved = sheet(5, "large", &one);
        for place in moved.placements.iter_mut().skip(1) {
            place.x += 1e-9;
        }
        let mut joined = sheet(6, "large", &one);
        joined.chains.extend(NonEmpty::of(joined.placements.ids()));
        let sheets = [
            sheet(1, "large", &one),
            sheet(2, "small", &one),
            sheet(3, "large", &two),
            sheet(4, "large", &[(1, "l1"), (0, "u1")]),
            moved,
            joined,
            sheet(7, "small", &two),
            sheet(8, "large", &one),
        ];
        let alike = cut_alike(sheets.into());
        let told: Vec<(String, usize)> = alike.iter().map(|s| (s.numbers(), s.loads())).collect();
        let want = [("1 to 3", 3), ("4 to 5", 2), ("6", 1), ("7", 1), ("8", 1)];
        assert_eq!(told, want.map(|(n, loads)| (n.to_owned(), loads)));
        let offcuts: Vec<f64> = alike.iter().map(|s| s.offcut).collect();
        let firsts = [1.0, 2.0, 4.0, 5.0, 6.0];
        assert_eq!(offcuts, firsts, "those of the first of each kind");
        let large = &alike[0];
        let ids: Vec<&str> = large.placements.iter().map(|p| p.id.as_str()).collect();
        assert_eq!(ids, ["", "l1"], "an id stays where it holds for all");
        assert!(large.members_differ());
        let first = large.placements.id(0).expect("a place");
        let ids: Vec<&str> = (0..3).map(|load| large.id_in(load, first)).collect();
        assert_eq!(ids, ["u1", "u2", "u1"], "each load keeps its own, in order");
        assert!(!alike[3].members_differ());
        let first = alike[3].placements.id(0).expect("a place");
        assert_eq!(alike[3].id_in(0, first), "u1");
    }

    #[test]
    fn sheets_of_which_none_are_alike_stay_as_they_are() {
        let all = [
            sheet(1, "large", &[(0, "u1")]),
            sheet(2, "large", &[(1, "l1")]),
        ];
        assert_eq!(cut_alike(all.to_vec()), all);
    }
}
