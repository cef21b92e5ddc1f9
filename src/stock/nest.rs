//! From pieces and stock to strips and sheets with every piece in its place.

use super::sheet::FlatSheet;
use crate::panel::Stock;

use super::error::NestError;
use super::fill::best_fill;
use super::knapsack::MOST;
use super::model::{Kind, Model, Plan, Size};
use super::search::search;

/// A piece to be nested.
#[derive(Debug, Clone, PartialEq)]
pub struct NestItem {
    /// Index of its shape, as a placement takes it.
    pub piece: usize,
    /// Member id.
    pub id: String,
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
pub struct Nest {
    /// The strips or sheets, numbered from 1. Pieces lie in rows from the lower edge up; rows are listed
    /// to and fro (left to right, then right to left), so that the way from one piece to the next stays
    /// short.
    pub sheets: Vec<FlatSheet>,
    /// For each sheet what can be sawn off it square across at the right end, over the full width: its
    /// length past the last piece and one gap, end trim included, at least 0. It can go back into the
    /// stock file as it is.
    pub offcuts: Vec<f64>,
    /// How many strips or sheets are used.
    pub used: usize,
    /// No fewer strips or sheets will do: see [`Nest::proof`].
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
pub fn nest(
    items: &[NestItem],
    depth: f64,
    stock: &Stock,
    gap: f64,
    thickness: f64,
    limit: StockLimit,
) -> Result<Nest, NestError> {
    nested(items, [depth, thickness], stock, gap, limit, false)
}

/// [`nest`], but that blanks are filled alike where equal rows allow it, and have copies of the same shapes in the
/// same places, as far as there are enough. No more blanks are used for it.
///
/// # Errors
/// Those of [`nest`].
pub fn nest_alike(
    items: &[NestItem],
    depth: f64,
    stock: &Stock,
    gap: f64,
    thickness: f64,
    limit: StockLimit,
) -> Result<Nest, NestError> {
    nested(items, [depth, thickness], stock, gap, limit, true)
}

fn nested(
    items: &[NestItem],
    [depth, thickness]: [f64; 2],
    stock: &Stock,
    gap: f64,
    limit: StockLimit,
    alike: bool,
) -> Result<Nest, NestError> {
    let job = Job::new(items, depth, stock, gap, limit)?;
    let (plan, proof) = search(&job.model);
    let missing = plan.missing();
    if missing > 0 {
        let (more, blank) = job.wanting(&plan, stock);
        let of = items.len() as u64;
        return Err(NestError::NotEnough {
            missing,
            of,
            more,
            blank,
            proven: proof.least.is_none(),
        });
    }
    let (sheets, offcuts) = job.lay_out(&plan, items, stock, thickness, alike);
    let used = sheets.len();
    let lower_bound = proof
        .least
        .map_or(used, |n| usize::try_from(n).unwrap_or(usize::MAX));
    let kinds = job.model.kinds.iter().zip(&proof.prices);
    let prices = kinds.map(|(k, &price)| (k.size, k.count, price)).collect();
    let rows = job
        .blanks
        .iter()
        .zip(&job.model.sizes)
        .zip(&proof.row_value);
    let rows = rows
        .map(|((&blank, s), &value)| (blank, s.room, s.rows, value))
        .collect();
    let proof = NestProof { prices, rows };
    Ok(Nest {
        sheets,
        offcuts,
        used,
        lower_bound,
        optimal: used == lower_bound,
        proof,
    })
}

/// The longest run of pieces, `depth` mm deep, that a row of any blank takes, mm; 0 where none takes any.
/// The arguments are those of [`nest`].
#[must_use]
pub fn longest_row(depth: f64, stock: &Stock, gap: f64, limit: StockLimit) -> f64 {
    let longest = Job::new(&[], depth, stock, gap, limit).map(|job| {
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

/// A call in whole micrometres.
pub(super) struct Job {
    pub(super) model: Model,
    /// For each length of the model the items that have it, pieces of one shape together.
    pub(super) items: Vec<Vec<usize>>,
    /// For each size of the model the index of its blank.
    pub(super) blanks: Vec<usize>,
    pub(super) trim: u64,
    pub(super) depth: u64,
    pub(super) gap: u64,
}

impl Job {
    fn new(
        items: &[NestItem],
        depth: f64,
        stock: &Stock,
        gap: f64,
        limit: StockLimit,
    ) -> Result<Self, NestError> {
        check(items, depth, stock, gap, limit)?;
        let (trim, depth_um, gap) = (up(stock.trim), up(depth), up(gap));
        let mut sizes = Vec::new();
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
                blanks.push(i);
            }
        }
        if sizes.is_empty() {
            return Err(NestError::TooDeep {
                depth,
                widest: widest as f64 / MICRON,
            });
        }
        let (kinds, items_of_kind) = sort_out(items, gap);
        let model = Model { kinds, sizes };
        let room = model.longest_room();
        let first = items_of_kind
            .first()
            .and_then(|o| o.first())
            .and_then(|&i| items.get(i));
        if let (Some(item), Some(kind)) = (first, model.kinds.first())
            && kind.size > room
        {
            return Err(NestError::TooLong {
                piece: item.piece,
                id: item.id.clone(),
                length: item.length,
                longest: (room - gap) as f64 / MICRON,
            });
        }
        Ok(Self {
            model,
            items: items_of_kind,
            blanks,
            trim,
            depth: depth_um,
            gap,
        })
    }

    /// How many blanks more would hold what found no place, and their name.
    fn wanting(&self, plan: &Plan, stock: &Stock) -> (u64, String) {
        // The longest rows take every piece; of equals the blank with the most rows.
        let by_room = self
            .model
            .sizes
            .iter()
            .zip(&self.blanks)
            .max_by_key(|(s, _)| (s.room, s.rows));
        let Some((size, &blank)) = by_room else {
            return (0, String::new());
        };
        let kinds = self.model.kinds.iter().zip(&plan.left);
        let kinds = kinds.map(|(k, &count)| Kind { count, ..*k }).collect();
        let more = Model {
            kinds,
            sizes: vec![Size {
                count: None,
                ..*size
            }],
        };
        let filled = best_fill(&more, &Plan::new(&more), &mut 1_000_000);
        let name = stock
            .blanks
            .get(blank)
            .map_or(String::new(), |b| b.name.clone());
        (filled.used(&more), name)
    }
}

/// Lengths, counts and limits that can be worked with.
fn check(
    items: &[NestItem],
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

/// The lengths, longest first, and for each the items that have it: one shape after another, each in
/// the order given.
fn sort_out(items: &[NestItem], gap: u64) -> (Vec<Kind>, Vec<Vec<usize>>) {
    let mut order: Vec<(u64, usize, usize)> = items
        .iter()
        .enumerate()
        .map(|(i, item)| (up(item.length) + gap, item.piece, i))
        .collect();
    order.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    let mut kinds = Vec::new();
    let mut items_of_kind = Vec::new();
    for alike in order.chunk_by(|a, b| a.0 == b.0) {
        if let Some(&(size, ..)) = alike.first() {
            kinds.push(Kind {
                size,
                count: alike.len() as u64,
            });
            items_of_kind.push(alike.iter().map(|a| a.2).collect());
        }
    }
    (kinds, items_of_kind)
}
