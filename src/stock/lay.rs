//! From rows to blanks with every piece in its place.

use std::collections::VecDeque;

use super::model::{Model, Plan, Size};
use super::nest::{Job, MICRON, NestItem, down};
use super::share::Waiting;
use super::sheet::{FlatSheet, Placement};
use crate::panel::Stock;

impl Job {
    /// Puts the rows on blanks and every piece in its place; so that many blanks are cut alike where `alike` asks
    /// for it, else in the order given. What comes out are the blanks, and what is left of each.
    pub(super) fn lay_out(
        &self,
        plan: &Plan,
        items: &[NestItem],
        stock: &Stock,
        thickness: f64,
        alike: bool,
    ) -> (Vec<FlatSheet>, Vec<f64>) {
        let mut waiting: Vec<Waiting> = (self.items.iter())
            .map(|of| Waiting::new(of, items))
            .collect();
        let mut sheets = Vec::new();
        let mut offcuts = Vec::new();
        let loads = loads(&self.model, plan, alike);
        for equal in loads.chunk_by(Load::is_like) {
            let mut shared = match equal {
                [first, _, ..] if alike => first.shared(equal.len(), &mut waiting, items),
                _ => Vec::new(),
            };
            for load in equal {
                let blank = self.blanks.get(load.size);
                let Some(blank) = blank.and_then(|&b| stock.blanks.get(b)) else {
                    continue;
                };
                // How many places of each length have been filled on this blank.
                let mut filled = vec![0; waiting.len()];
                let mut next = |kind: usize| {
                    let place: &mut usize = filled.get_mut(kind)?;
                    let own = shared.get_mut(kind).and_then(|of| of.get_mut(*place));
                    *place += 1;
                    match own {
                        Some(own) => own.pop_front(),
                        None => waiting.get_mut(kind)?.next(),
                    }
                };
                let (placements, end) = self.place(load, items, &mut next);
                offcuts.push(down(blank.length).saturating_sub(end) as f64 / MICRON);
                sheets.push(FlatSheet {
                    number: sheets.len() + 1,
                    stock: blank.name.clone(),
                    length: blank.length,
                    width: blank.width,
                    thickness,
                    placements,
                    chains: Vec::new(),
                    alike: Vec::new(),
                });
            }
        }
        (sheets, offcuts)
    }

    /// The pieces of a blank where they lie, and how far along it they go, micrometres. `next` is the next copy of a
    /// length.
    fn place(
        &self,
        load: &Load<'_>,
        items: &[NestItem],
        next: &mut dyn FnMut(usize) -> Option<usize>,
    ) -> (Vec<Placement>, u64) {
        let mut placements = Vec::new();
        let mut end = 0;
        for (k, row) in (0_u64..).zip(&load.rows) {
            let y = self.trim + k * (self.depth + self.gap);
            let mut x = self.trim;
            let first = placements.len();
            for &(kind, n) in *row {
                let size = self.model.kinds.get(kind).map_or(0, |k| k.size);
                let copies = (0..n).map_while(|_| next(kind));
                for item in copies.filter_map(|i| items.get(i)) {
                    placements.push(Placement {
                        piece: item.piece,
                        id: item.id.clone(),
                        x: x as f64 / MICRON,
                        y: y as f64 / MICRON,
                    });
                    x += size;
                }
            }
            end = end.max(x);
            if k % 2 == 1 {
                placements.split_at_mut(first).1.reverse();
            }
        }
        (placements, end)
    }
}

/// One row: (index of the length, how many), longest first.
type Row = [(usize, u64)];

/// What lies on one blank.
struct Load<'a> {
    /// Index of the size of blank.
    size: usize,
    rows: Vec<&'a Row>,
    /// What the longest row takes.
    longest: u64,
}

impl Load<'_> {
    /// Whether another blank of the same size has equal rows.
    fn is_like(&self, other: &Self) -> bool {
        self.size == other.size && self.rows == other.rows
    }

    /// For each length the copies of the places that are alike on so many equal blanks.
    fn shared(
        &self,
        blanks: usize,
        waiting: &mut [Waiting],
        items: &[NestItem],
    ) -> Vec<Vec<VecDeque<usize>>> {
        let mut places = vec![0; waiting.len()];
        for &(kind, n) in self.rows.iter().copied().flatten() {
            if let Some(of) = places.get_mut(kind) {
                *of += usize::try_from(n).unwrap_or(usize::MAX);
            }
        }
        let waiting = waiting.iter_mut().zip(places);
        waiting
            .map(|(waiting, places)| waiting.alike(places, blanks, items))
            .collect()
    }
}

/// Spreads the rows over blanks, the fullest first, equal rows next to each other, so that what is left
/// over comes together on the last; then takes for each blank the smallest that still holds its rows. Where
/// `alike` asks for it, equal rows that fill several blanks by themselves come first.
fn loads<'a>(model: &Model, plan: &'a Plan, alike: bool) -> Vec<Load<'a>> {
    let fill = |row: &Row| -> u64 {
        row.iter()
            .filter_map(|&(i, n)| Some(n * model.kinds.get(i)?.size))
            .sum()
    };
    let mut loads = Vec::new();
    let mut spare: Vec<u64> = Vec::new();
    for (index, size) in model.sizes.iter().enumerate() {
        let mut rows: Vec<&Row> = Vec::new();
        for r in plan.rows.iter().filter(|r| r.size == index) {
            rows.extend((0..r.times).map(|_| r.take.as_slice()));
        }
        rows.sort_by(|a, b| fill(b).cmp(&fill(a)).then_with(|| a.cmp(b)));
        let side_by_side = usize::try_from(size.rows).unwrap_or(usize::MAX);
        // So many blanks are filled either way: what is left of equal rows goes with the others.
        let (mut equal, mut others): (Vec<&Row>, Vec<&Row>) = (Vec::new(), Vec::new());
        for own in rows.chunk_by(|a, b| a == b) {
            let blanks = own.len() / side_by_side;
            let whole = if alike && blanks > 1 {
                blanks * side_by_side
            } else {
                0
            };
            let (full, rest) = own.split_at(whole);
            equal.extend(full);
            others.extend(rest);
        }
        let before = loads.len();
        let chunks = equal
            .chunks(side_by_side)
            .chain(others.chunks(side_by_side));
        loads.extend(chunks.map(|rows| Load {
            size: index,
            longest: rows.first().map_or(0, |r| fill(r)),
            rows: rows.to_vec(),
        }));
        let used = (loads.len() - before) as u64;
        spare.push(size.count.map_or(u64::MAX, |n| n.saturating_sub(used)));
    }
    for load in loads.iter_mut().rev() {
        let holds = |s: &Size| load.longest <= s.room && load.rows.len() as u64 <= s.rows;
        let fitting = model.sizes.iter().zip(&spare).enumerate();
        let smallest = fitting
            .filter(|&(i, (s, &n))| i == load.size || (n > 0 && holds(s)))
            .min_by_key(|&(i, (s, _))| (s.area, i != load.size, i));
        if let Some((i, _)) = smallest
            && i != load.size
        {
            if let Some(n) = spare.get_mut(i) {
                *n = n.saturating_sub(1);
            }
            if let Some(n) = spare.get_mut(load.size) {
                *n = n.saturating_add(1);
            }
            load.size = i;
        }
    }
    loads.sort_by_key(|load| load.size);
    loads
}
