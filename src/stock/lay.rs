//! From rows to blanks with every piece in its place.

use std::collections::VecDeque;

use super::model::{Kind, KindId, Model, Plan, Size, SizeId};
use super::nest::{Item, ItemId, Job, Laid};
use super::share::Waiting;
use crate::panel::Blank;
use crate::table::{Column, Table};

/// A blank with its copies.
pub(super) struct LaidBlank<'a> {
    pub(super) blank: &'a Blank,
    pub(super) places: Vec<Laid>,
    /// How far along it they go, a gap after the last included, micrometres.
    pub(super) end: u64,
}

impl<'a> Job<'a> {
    /// Puts the rows on blanks and every copy in its place; so that many blanks are cut alike where `alike` asks
    /// for it, else in the order given.
    pub(super) fn lay_out(&self, plan: &Plan, alike: bool) -> Vec<LaidBlank<'a>> {
        let kinds = &self.model.kinds;
        let mut waiting = kinds.column(|kind, _| Waiting::new(&self.of_kind[kind], &self.items));
        let mut laid = Vec::new();
        let loads = loads(&self.model, plan, alike);
        for equal in loads.chunk_by(Load::is_like) {
            let mut shared = match equal {
                [first, _, ..] if alike => {
                    first.shared(equal.len(), kinds, &mut waiting, &self.items)
                }
                _ => kinds.column(|_, _| Vec::new()),
            };
            for load in equal {
                let (_, blank) = self.blanks[load.size];
                // How many places of each length have been filled on this blank.
                let mut filled = kinds.column(|_, _| 0);
                let mut next = |kind: KindId| {
                    let place: usize = filled[kind];
                    filled[kind] += 1;
                    match shared[kind].get_mut(place) {
                        Some(own) => own.pop_front(),
                        None => waiting[kind].next(),
                    }
                    // Rows take no more copies of a length than there are, and a shared place has one for each
                    // of its blanks.
                    .expect("a copy that waits")
                };
                let (places, end) = self.place(load, &mut next);
                laid.push(LaidBlank { blank, places, end });
            }
        }
        laid
    }

    /// The copies of a blank where they lie, and how far along it they go, micrometres. `next` is the next copy of
    /// a length.
    fn place(&self, load: &Load<'_>, next: &mut dyn FnMut(KindId) -> ItemId) -> (Vec<Laid>, u64) {
        let mut places = Vec::new();
        let mut end = 0;
        for (k, row) in (0_u64..).zip(&load.rows) {
            let y = self.trim + k * (self.depth + self.gap);
            let mut x = self.trim;
            let first = places.len();
            for &(kind, n) in *row {
                for item in (0..n).map(|_| next(kind)) {
                    places.push(Laid { item, at: [x, y] });
                    x += self.model.kinds[kind].size;
                }
            }
            end = end.max(x);
            if k % 2 == 1 {
                places.split_at_mut(first).1.reverse();
            }
        }
        (places, end)
    }
}

/// One row: how many of each length, longest first.
type Row = [(KindId, u64)];

/// What lies on one blank.
struct Load<'a> {
    size: SizeId,
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
        kinds: &Table<Kind>,
        waiting: &mut Column<Kind, Waiting>,
        items: &Table<Item>,
    ) -> Column<Kind, Vec<VecDeque<ItemId>>> {
        let mut places = kinds.column(|_, _| 0);
        for &(kind, n) in self.rows.iter().copied().flatten() {
            places[kind] += n as usize;
        }
        kinds.column(|kind, _| waiting[kind].alike(places[kind], blanks, items))
    }
}

/// Spreads the rows over blanks, the fullest first, equal rows next to each other, so that what is left
/// over comes together on the last; then takes for each blank the smallest that still holds its rows. Where
/// `alike` asks for it, equal rows that fill several blanks by themselves come first.
fn loads<'a>(model: &Model, plan: &'a Plan, alike: bool) -> Vec<Load<'a>> {
    let fill = |row: &Row| model.fill(row);
    let mut loads = Vec::new();
    let mut spare = model.sizes.column(|id, size| {
        let mut rows: Vec<&Row> = Vec::new();
        for r in plan.rows.iter().filter(|r| r.size == id) {
            rows.extend((0..r.times).map(|_| r.take.as_slice()));
        }
        rows.sort_by(|a, b| fill(b).cmp(&fill(a)).then_with(|| a.cmp(b)));
        let side_by_side = size.rows as usize;
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
            size: id,
            // The first of a chunk is the fullest.
            longest: fill(rows[0]),
            rows: rows.to_vec(),
        }));
        let used = (loads.len() - before) as u64;
        size.count.map_or(u64::MAX, |n| n.saturating_sub(used))
    });
    for load in loads.iter_mut().rev() {
        let holds = |s: &Size| load.longest <= s.room && load.rows.len() as u64 <= s.rows;
        let fitting = model.sizes.entries();
        let smallest = fitting
            .filter(|&(id, s)| id == load.size || (spare[id] > 0 && holds(s)))
            .min_by_key(|&(id, s)| (s.area, id != load.size, id));
        if let Some((id, _)) = smallest
            && id != load.size
        {
            spare[id] = spare[id].saturating_sub(1);
            spare[load.size] = spare[load.size].saturating_add(1);
            load.size = id;
        }
    }
    loads.sort_by_key(|load| load.size);
    loads
}
