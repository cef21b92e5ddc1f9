//! Which cuts sweep into a window.

use std::collections::BTreeMap;

use kurbo::{Point, Rect, Vec2};

use super::slab::SweptMove;

/// Sides of the squares that moves are sorted into, mm.
const CELL: f64 = 16.0;

/// Cuts sorted into squares.
pub(super) struct Index<'a> {
    cuts: &'a [SweptMove],
    /// What a head of this radius sweeps, mm.
    r: f64,
    /// Places of cuts.
    cells: BTreeMap<(i64, i64), Vec<usize>>,
}

fn bounds(m: &SweptMove, r: f64) -> Rect {
    let p = |v: [f64; 3]| Point::new(v[0], v[1]);
    let chord = Rect::from_points(p(m.from), p(m.to));
    match m.arc {
        None => chord.inflate(r, r),
        Some((c, _)) => {
            let radius = c.distance(p(m.from));
            Rect::from_center_size(c, (2.0 * radius, 2.0 * radius))
                .union(chord)
                .inflate(r, r)
        }
    }
}

fn cells(b: Rect) -> impl Iterator<Item = (i64, i64)> {
    let cell = |v: f64| (v / CELL).floor() as i64;
    let (x0, x1, y0, y1) = (cell(b.x0), cell(b.x1), cell(b.y0), cell(b.y1));
    (x0..=x1).flat_map(move |x| (y0..=y1).map(move |y| (x, y)))
}

impl<'a> Index<'a> {
    pub(super) fn of(cuts: &'a [SweptMove], r: f64) -> Self {
        let mut sorted: BTreeMap<_, Vec<usize>> = BTreeMap::new();
        for (i, m) in cuts.iter().enumerate() {
            for cell in cells(bounds(m, r)) {
                sorted.entry(cell).or_default().push(i);
            }
        }
        Self {
            cuts,
            r,
            cells: sorted,
        }
    }

    /// The cuts that sweep into a window, in the frame that it is given in, in order of the program;
    /// `origin` is where that frame lies on the sheet.
    pub(super) fn near(&self, window: Rect, origin: Vec2, beam: bool) -> Vec<SweptMove> {
        let window = window + origin;
        let mut found: Vec<usize> = cells(window)
            // A square that no cut meets is none of the index.
            .filter_map(|c| self.cells.get(&c))
            .flatten()
            .copied()
            .collect();
        found.sort_unstable();
        found.dedup();
        found
            .into_iter()
            // Places of these very cuts.
            .map(|i| &self.cuts[i])
            .filter(|m| bounds(m, self.r).overlaps(window))
            .map(|m| {
                let z = |v: f64| if beam { 0.0 } else { v };
                let by = |v: [f64; 3]| [v[0] - origin.x, v[1] - origin.y, z(v[2])];
                SweptMove {
                    line: m.line,
                    from: by(m.from),
                    to: by(m.to),
                    arc: m.arc.map(|(c, ccw)| (c - origin, ccw)),
                }
            })
            .collect()
    }
}
