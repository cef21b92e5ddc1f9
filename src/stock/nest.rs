//! From pieces and stock to strips and sheets with every piece in its place.

use std::collections::BTreeMap;
use std::fmt;

use super::error::NestError;
use super::fill::best_fill;
use super::knapsack::MOST;
use super::model::{Kind, Model, Plan, Size};
use super::search::search;
use super::sheet::{NestPlace, NestSheet};
use crate::panel::{Blank, Stock};
use crate::table::{Column, Id, Table};

/// A piece to be nested. `S` tells shapes apart, `N` the copies of one shape.
#[derive(Debug, Clone, PartialEq)]
pub struct NestItem<S, N = String> {
    /// Its shape.
    pub piece: S,
    /// Member id.
    pub id: N,
    /// Along the piece and the grain, mm.
    pub length: f64,
}

/// How far the machine reaches, mm from the sheet's lower left corner: no piece lies beyond. Take off
/// what the head needs past the edge of a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StockLimit {
    /// Along the sheet.
    pub max_x: f64,
    /// Across the sheet.
    pub max_y: f64,
}

impl StockLimit {
    /// No machine: longer than anything that a maker may write.
    pub const NONE: Self = Self {
        max_x: 100_000.0,
        max_y: 100_000.0,
    };
}

/// No fewer strips or sheets will do for two nests together, by what each needs alone. Where both take from the
/// same stock, what one has need not be proven needed by the other, so that the sum is no bound.
#[must_use]
pub fn bound_of_both(one: usize, other: usize, shared: bool) -> usize {
    if shared { one.max(other) } else { one + other }
}

/// The least gap between neighbours, mm: the grid that a nest works on.
pub const LEAST_GAP: f64 = 0.001;

/// Pieces on strips and sheets.
#[derive(Debug, Clone, PartialEq)]
pub struct Nest<S, N = String> {
    /// The strips or sheets, numbered from 1. Pieces lie in rows from the lower edge up; rows are listed
    /// to and fro (left to right, then right to left), so that the way from one piece to the next stays
    /// short.
    pub sheets: Vec<NestSheet<S, N>>,
    /// How many they are, and how few would do.
    pub count: NestCount,
}

/// How many strips or sheets a nest takes, and how few would do.
#[derive(Debug, Clone, PartialEq)]
pub struct NestCount {
    /// How many strips or sheets are used.
    pub used: usize,
    /// No fewer strips or sheets will do: see [`NestCount::proof`].
    pub lower_bound: usize,
    /// Whether `used` is the least number there is.
    pub optimal: bool,
    /// What proves the lower bound.
    pub proof: NestProof,
}

/// The lower bound, for anyone to check: whatever pieces are put in one row, their prices add up to no
/// more than the row's value, so the prices of all pieces together ask for so many rows.
#[derive(Debug, Clone, PartialEq)]
pub struct NestProof {
    /// (length and gap in micrometres, how many pieces, price of one), longest first.
    pub prices: Vec<(u64, u64, u64)>,
    /// For each blank of the stock file that is wide enough: (its index, clear length and one gap in
    /// micrometres, rows side by side, greatest value of a row).
    pub rows: Vec<(usize, u64, u64, u64)>,
}

/// Nests pieces `depth` mm wide in rows on the stock, grain along the piece, with at least `gap` mm
/// between neighbours in both directions and the stock's trim left free all round. `thickness` is handed
/// on to the sheets. Positions lie on a grid of 0.001 mm. The aim is the fewest strips or sheets, then
/// the least area.
///
/// The search counts its steps and knows no clock: the same call gives the same nest.
///
/// # Errors
/// [`NestError`] says which number, piece or blank is at fault and what would do.
pub fn nest<S: Ord + Clone, N: Ord + Clone + fmt::Display>(
    items: &[NestItem<S, N>],
    depth: f64,
    stock: &Stock,
    gap: f64,
    thickness: f64,
    limit: StockLimit,
) -> Result<Nest<S, N>, NestError> {
    nested(items, [depth, thickness], stock, gap, limit, false)
}

/// [`nest`], but that blanks are filled alike where equal rows allow it, and have copies of the same shapes in the
/// same places, as far as there are enough. No more blanks are used for it.
///
/// # Errors
/// Those of [`nest`].
pub fn nest_alike<S: Ord + Clone, N: Ord + Clone + fmt::Display>(
    items: &[NestItem<S, N>],
    depth: f64,
    stock: &Stock,
    gap: f64,
    thickness: f64,
    limit: StockLimit,
) -> Result<Nest<S, N>, NestError> {
    nested(items, [depth, thickness], stock, gap, limit, true)
}

fn nested<S: Ord + Clone, N: Ord + Clone + fmt::Display>(
    items: &[NestItem<S, N>],
    [depth, thickness]: [f64; 2],
    stock: &Stock,
    gap: f64,
    limit: StockLimit,
    alike: bool,
) -> Result<Nest<S, N>, NestError> {
    let job = Job::new(items, depth, stock, gap, limit)?;
    // The job has an item for each of these, in their order.
    let own = job.items.column(|id, _| &items[id.index()]);
    let (plan, proof) = search(&job.model);
    let missing = plan.missing();
    if missing > 0 {
        let (more, blank) = job.wanting(&plan);
        let of = items.len() as u64;
        return Err(NestError::NotEnough {
            missing,
            of,
            more,
            blank,
            proven: proof.least.is_none(),
        });
    }
    let loads = job.lay_out(&plan, alike).into_iter();
    let sheets: Vec<NestSheet<S, N>> = (1..)
        .zip(loads)
        .map(|(number, load)| NestSheet {
            number,
            stock: load.blank.name.clone(),
            length: load.blank.length,
            width: load.blank.width,
            thickness,
            offcut: down(load.blank.length).saturating_sub(load.end) as f64 / MICRON,
            placements: load.places.iter().map(|place| place.of(&own)).collect(),
            chains: Vec::new(),
            alike: Vec::new(),
        })
        .collect();
    let used = sheets.len();
    let lower_bound = proof
        .least
        .map_or(used, |n| usize::try_from(n).unwrap_or(usize::MAX));
    let kinds = job.model.kinds.entries();
    let sizes = job.model.sizes.entries();
    let proof = NestProof {
        prices: kinds
            .map(|(id, k)| (k.size, k.count, proof.prices[id]))
            .collect(),
        rows: sizes
            .map(|(id, s)| (job.blanks[id].0, s.room, s.rows, proof.row_value[id]))
            .collect(),
    };
    Ok(Nest {
        sheets,
        count: NestCount {
            used,
            lower_bound,
            optimal: used == lower_bound,
            proof,
        },
    })
}

/// The longest run of pieces, `depth` mm deep, that a row of any blank takes, mm; 0 where none takes any.
/// The arguments are those of [`nest`].
#[must_use]
pub fn longest_row(depth: f64, stock: &Stock, gap: f64, limit: StockLimit) -> f64 {
    let none: [NestItem<()>; 0] = [];
    let longest = Job::new(&none, depth, stock, gap, limit).map(|job| {
        let room = job.model.longest_room();
        room.saturating_sub(job.gap) as f64 / MICRON
    });
    longest.unwrap_or(0.0)
}

/// Micrometres in a millimetre.
pub(super) const MICRON: f64 = 1000.0;
/// Round-off, in micrometres: a length this little above a whole micrometre is that micrometre.
const ROUND_OFF: f64 = 1e-6;
/// Longest and widest blank and piece, mm: whole-number arithmetic in micrometres holds up to here.
const MOST_LENGTH: f64 = 100_000.0;
/// Least length of anything that has one, mm: finer than any cut.
const LEAST_LENGTH: f64 = 0.001;
/// A room, which is a length and a gap, stays below what the row search can multiply.
const _: () = assert!(2.0 * MOST_LENGTH * MICRON < MOST as f64);

fn up(mm: f64) -> u64 {
    (mm * MICRON - ROUND_OFF).ceil().max(0.0) as u64
}

pub(super) fn down(mm: f64) -> u64 {
    (mm * MICRON + ROUND_OFF).floor().max(0.0) as u64
}

/// A copy as the search sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Item {
    /// What it takes of a row: its length and one gap, micrometres.
    pub(super) size: u64,
    /// Copies of one shape have one number, in the order of the shapes.
    pub(super) shape: usize,
    /// Copies of one member have one number.
    pub(super) member: usize,
}

pub(super) type ItemId = Id<Item>;

/// A copy where it lies, micrometres.
pub(super) struct Laid {
    pub(super) item: ItemId,
    pub(super) at: [u64; 2],
}

impl Laid {
    fn of<S: Clone, N: Clone>(&self, own: &Column<Item, &NestItem<S, N>>) -> NestPlace<S, N> {
        let item = own[self.item];
        let [x, y] = self.at.map(|v| v as f64 / MICRON);
        NestPlace {
            piece: item.piece.clone(),
            id: item.id.clone(),
            x,
            y,
        }
    }
}

/// A call in whole micrometres.
pub(super) struct Job<'a> {
    pub(super) model: Model,
    /// All copies, in the order given.
    pub(super) items: Table<Item>,
    /// For each length of the model the copies that have it, those of one shape together.
    pub(super) of_kind: Column<Kind, Vec<ItemId>>,
    /// For each size of the model its place in the stock file, and its blank.
    pub(super) blanks: Column<Size, (usize, &'a Blank)>,
    pub(super) trim: u64,
    pub(super) depth: u64,
    pub(super) gap: u64,
}

impl<'a> Job<'a> {
    fn new<S: Ord, N: Ord + fmt::Display>(
        items: &[NestItem<S, N>],
        depth: f64,
        stock: &'a Stock,
        gap: f64,
        limit: StockLimit,
    ) -> Result<Self, NestError> {
        check(items, depth, stock, gap, limit)?;
        let (trim, depth_um, gap) = (up(stock.trim), up(depth), up(gap));
        let mut sizes = Table::new();
        let mut blanks = Vec::new();
        let mut widest = 0;
        for (i, blank) in stock.blanks.iter().enumerate() {
            let clear = |size: f64, reach: f64| {
                down((size - stock.trim).min(reach).max(0.0)).saturating_sub(trim)
            };
            let (length, width) = (
                clear(blank.length, limit.max_x),
                clear(blank.width, limit.max_y),
            );
            widest = widest.max(width);
            let rows = (width + gap) / (depth_um + gap);
            if rows > 0 && length > 0 {
                let area = up(blank.length) * up(blank.width);
                let count = blank.count.map(u64::from);
                sizes.push(Size {
                    room: length + gap,
                    rows,
                    count,
                    area,
                });
                blanks.push((i, blank));
            }
        }
        // One was put down with each size.
        let blanks = sizes.column(|id, _| blanks[id.index()]);
        if sizes.is_empty() {
            return Err(NestError::TooDeep {
                depth,
                widest: widest as f64 / MICRON,
            });
        }
        let own = numbered(items, gap);
        let (kinds, of_kind) = sort_out(&own);
        let model = Model { kinds, sizes };
        let room = model.longest_room();
        // The longest come first.
        let first = of_kind.iter().flatten().next();
        if let Some(&first) = first
            && own[first].size > room
        {
            let item = &items[first.index()];
            return Err(NestError::TooLong {
                id: item.id.to_string(),
                length: item.length,
                longest: (room - gap) as f64 / MICRON,
            });
        }
        Ok(Self {
            model,
            items: own,
            of_kind,
            blanks,
            trim,
            depth: depth_um,
            gap,
        })
    }

    /// How many blanks more would hold what found no place, and their name.
    fn wanting(&self, plan: &Plan) -> (u64, String) {
        // The longest rows take every piece; of equals the blank with the most rows.
        let by_room = self.model.sizes.entries();
        let (id, size) = by_room
            .max_by_key(|(_, s)| (s.room, s.rows))
            // A job has a size at least: else it is refused as too deep.
            .expect("a size of blank");
        let kinds = self.model.kinds.entries().map(|(id, k)| Kind {
            count: plan.left[id],
            ..*k
        });
        let more = Model {
            kinds: kinds.collect(),
            sizes: std::iter::once(Size {
                count: None,
                ..*size
            })
            .collect(),
        };
        let filled = best_fill(&more, &Plan::new(&more), &mut 1_000_000);
        let (_, blank) = self.blanks[id];
        (filled.used(&more), blank.name.clone())
    }
}

/// Lengths, counts and limits that can be worked with.
fn check<S, N: fmt::Display>(
    items: &[NestItem<S, N>],
    depth: f64,
    stock: &Stock,
    gap: f64,
    limit: StockLimit,
) -> Result<(), NestError> {
    let within = |what: &str, value: f64, least: f64| {
        let ok = value.is_finite() && (least..=MOST_LENGTH).contains(&value);
        let range = [least, MOST_LENGTH];
        if ok {
            Ok(())
        } else {
            Err(NestError::BadLength {
                what: what.into(),
                value,
                range,
            })
        }
    };
    within("gap between pieces", gap, LEAST_LENGTH)?;
    within("depth of the bars", depth, LEAST_LENGTH)?;
    within("travel along the sheet", limit.max_x, LEAST_LENGTH)?;
    within("travel across the sheet", limit.max_y, LEAST_LENGTH)?;
    within("trim", stock.trim, 0.0)?;
    for item in items {
        within(
            &format!("length of piece {}", item.id),
            item.length,
            LEAST_LENGTH,
        )?;
    }
    for blank in &stock.blanks {
        within(
            &format!("length of {}", blank.name),
            blank.length,
            LEAST_LENGTH,
        )?;
        within(
            &format!("width of {}", blank.name),
            blank.width,
            LEAST_LENGTH,
        )?;
    }
    if stock.blanks.is_empty() {
        Err(NestError::NoBlanks)
    } else {
        Ok(())
    }
}

/// The copies in whole numbers, in the order given.
fn numbered<S: Ord, N: Ord>(items: &[NestItem<S, N>], gap: u64) -> Table<Item> {
    let shapes = ranks(items.iter().map(|item| &item.piece));
    let members = ranks(items.iter().map(|item| &item.id));
    let item = |item: &NestItem<S, N>| Item {
        size: up(item.length) + gap,
        // Both lists were made from all of these.
        shape: shapes[&item.piece],
        member: members[&item.id],
    };
    items.iter().map(item).collect()
}

/// The number of each in the order of all of them, from 0.
fn ranks<T: Ord>(all: impl Iterator<Item = T>) -> BTreeMap<T, usize> {
    let distinct: std::collections::BTreeSet<T> = all.collect();
    distinct.into_iter().zip(0..).collect()
}

/// The lengths, longest first, and for each the copies that have it: one shape after another, each in
/// the order given.
fn sort_out(items: &Table<Item>) -> (Table<Kind>, Column<Kind, Vec<ItemId>>) {
    let mut order: Vec<ItemId> = items.ids().collect();
    order.sort_by(|&i, &j| {
        let (a, b) = (items[i], items[j]);
        b.size
            .cmp(&a.size)
            .then(a.shape.cmp(&b.shape))
            .then(i.cmp(&j))
    });
    let alike: Vec<&[ItemId]> = order
        .chunk_by(|&i, &j| items[i].size == items[j].size)
        .collect();
    let kinds: Table<Kind> = alike
        .iter()
        .map(|own| Kind {
            // A chunk is not empty.
            size: items[own[0]].size,
            count: own.len() as u64,
        })
        .collect();
    let of_kind = kinds.column(|id, _| alike[id.index()].to_vec());
    (kinds, of_kind)
}
