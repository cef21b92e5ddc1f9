//! Sheets that are cut alike: one program, one drawing and one picture serve them all, and a new sheet is put
//! on for each run.

use std::collections::BTreeMap;

use super::sheet::FlatSheet;

/// What makes sheets be cut alike: the blank, its sizes, each piece in its place, and what stays joined.
type Motion = (String, [u64; 3], Vec<(usize, [u64; 2])>, Vec<Vec<usize>>);

fn motion(sheet: &FlatSheet) -> Motion {
    let place = |p: &super::sheet::Placement| (p.piece, [p.x, p.y].map(f64::to_bits));
    (
        sheet.stock.clone(),
        [sheet.length, sheet.width, sheet.thickness].map(f64::to_bits),
        sheet.placements.iter().map(place).collect(),
        sheet.chains.clone(),
    )
}

/// Puts sheets that are cut alike together, each with its offcut, in the order in which the first of each kind
/// comes, and numbers them anew in that order. A place where the sheets have copies of different members loses
/// its id: all of these are one piece, and what is written on it must hold for every one of the sheets.
#[must_use]
pub fn cut_alike(sheets: Vec<(FlatSheet, f64)>) -> (Vec<FlatSheet>, Vec<f64>) {
    let mut of: BTreeMap<Motion, usize> = BTreeMap::new();
    let mut alike: Vec<(Vec<FlatSheet>, f64)> = Vec::new();
    for (sheet, offcut) in sheets {
        let place = *of.entry(motion(&sheet)).or_insert(alike.len());
        match alike.get_mut(place) {
            Some((own, _)) => own.push(sheet),
            None => alike.push((vec![sheet], offcut)),
        }
    }
    let mut number = 1;
    let one = |(own, offcut): (Vec<FlatSheet>, f64)| {
        let mut own = own.into_iter();
        let mut sheet = own.next()?;
        sheet.number = number;
        number += 1 + own.len();
        let ids =
            |s: &FlatSheet| -> Vec<String> { s.placements.iter().map(|p| p.id.clone()).collect() };
        if own.len() > 0 {
            sheet.alike.push(ids(&sheet));
            sheet.alike.extend(own.map(|s| ids(&s)));
        }
        for (k, place) in sheet.placements.iter_mut().enumerate() {
            if sheet.alike.iter().any(|ids| ids.get(k) != Some(&place.id)) {
                place.id.clear();
            }
        }
        Some((sheet, offcut))
    };
    alike.into_iter().filter_map(one).unzip()
}

impl FlatSheet {
    /// How many sheets are cut like this one, itself included: how often its program is run.
    #[must_use]
    pub fn loads(&self) -> usize {
        self.alike.len().max(1)
    }

    /// The member of a placement on one of the sheets that are cut alike, counted from 0.
    #[must_use]
    pub fn id_in(&self, load: usize, placement: usize) -> &str {
        let ids = self.alike.get(load).and_then(|ids| ids.get(placement));
        let own = self.placements.get(placement).map(|p| &p.id);
        ids.or(own).map_or("", String::as_str)
    }

    /// Whether a place has copies of different members on the sheets that are cut alike.
    #[must_use]
    pub fn members_differ(&self) -> bool {
        self.alike.len() > 1 && self.placements.iter().any(|p| p.id.is_empty())
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stock::Placement;

    /// A sheet with copies of pieces one after the other, 10 mm apart.
    fn sheet(number: usize, stock: &str, copies: &[(usize, &str)]) -> FlatSheet {
        let place = |(k, (piece, id)): (usize, &(usize, &str))| Placement {
            piece: *piece,
            id: (*id).to_owned(),
            x: 10.0 * k as f64,
            y: 5.0,
        };
        FlatSheet {
            number,
            stock: stock.to_owned(),
            length: 300.0,
            width: 200.0,
            thickness: 3.0,
            placements: copies.iter().enumerate().map(place).collect(),
            chains: Vec::new(),
            alike: Vec::new(),
        }
    }

    #[test]
    fn sheets_with_the_same_pieces_in_the_same_places_come_together() {
        let (one, two) = ([(0, "u1"), (1, "l1")], [(0, "u2"), (1, "l1")]);
        let mut moved = sheet(5, "large", &one);
        moved.placements[1].x += 1e-9;
        let mut joined = sheet(6, "large", &one);
        joined.chains.push(vec![0, 1]);
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
        let all: Vec<(FlatSheet, f64)> = sheets.into_iter().zip((1..).map(f64::from)).collect();
        let (alike, offcuts) = cut_alike(all);
        let told: Vec<(String, usize)> = alike.iter().map(|s| (s.numbers(), s.loads())).collect();
        let want = [("1 to 3", 3), ("4 to 5", 2), ("6", 1), ("7", 1), ("8", 1)];
        assert_eq!(told, want.map(|(n, loads)| (n.to_owned(), loads)));
        assert_eq!(
            offcuts,
            [1.0, 2.0, 4.0, 5.0, 6.0],
            "those of the first of each kind"
        );
        let large = &alike[0];
        let ids: Vec<&str> = large.placements.iter().map(|p| p.id.as_str()).collect();
        assert_eq!(ids, ["", "l1"], "an id stays where it holds for all");
        assert!(large.members_differ());
        let ids: Vec<&str> = (0..3).map(|load| large.id_in(load, 0)).collect();
        assert_eq!(ids, ["u1", "u2", "u1"], "each load keeps its own, in order");
        assert!(!alike[3].members_differ());
        assert_eq!(alike[3].id_in(0, 0), "u1");
    }

    #[test]
    fn sheets_of_which_none_are_alike_stay_as_they_are() {
        let all = [
            (sheet(1, "large", &[(0, "u1")]), 1.0),
            (sheet(2, "large", &[(1, "l1")]), 2.0),
        ];
        let (alike, offcuts) = cut_alike(all.to_vec());
        assert_eq!(alike, all.clone().map(|s| s.0));
        assert_eq!(offcuts, [1.0, 2.0]);
    }
}
