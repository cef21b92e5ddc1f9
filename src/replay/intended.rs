//! A piece as it is to be made, and what cuts leave of it.

use kurbo::{Point, Rect, Vec2};

use super::region::{Region, disc, stadium};
use super::slab::{SweptMove, heights, largest, slabs, swept};
use super::voids::voids_of;
use crate::geom::{AlongX, REPLAY, SAME_FIGURE};
use crate::lattice::FitShape;
use crate::path::Hold;
use crate::setup::{FlatPiece, InsideCorner, Lies};

/// How far a relief's round may miss its corner, mm: paths are laid to floors that the dialect's decimals can tell.
const RELIEF: f64 = 0.05;

/// Radii of a head that sweeps no more than any copy's does, and no less; both are the head's own where one copy is
/// looked at by itself.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sweeps {
    pub(super) less: f64,
    pub(super) more: f64,
}

impl Sweeps {
    /// What is `made` of what is swept in the slab above `bottom`: of the least, and of the most.
    pub(super) fn swept(
        self,
        near: &[SweptMove],
        bottom: f64,
        made: impl Fn(Region) -> Region,
    ) -> [Region; 2] {
        let less = made(swept(near, self.less, bottom));
        let more = if self.are_one() {
            less.clone()
        } else {
            made(swept(near, self.more, bottom))
        };
        [less, more]
    }

    /// Whether both are the head's own.
    fn are_one(self) -> bool {
        self.more == self.less
    }
}

/// At which ends a piece stays joined to the next one, and the height of the groove's floor there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Joined {
    pub(super) ends: [bool; 2],
    pub(super) floor: f64,
}

/// The piece's surroundings as far as its own cuts reach: just inside the outer edge of the cut.
pub(super) fn window(piece: &FlatPiece, r: f64) -> Rect {
    let margin = 2.0 * r - 0.01_f64.min(0.2 * r);
    Rect::new(0.0, 0.0, piece.length, piece.depth).inflate(margin, margin)
}

/// What is wrong with a piece, in its own frame.
#[derive(Debug, Clone)]
pub(super) struct Complaint {
    pub(super) rule: &'static str,
    pub(super) at: Point,
    pub(super) what: String,
}

/// What stands of a piece in the lowest slab, its surroundings as far as wood joins them.
pub(super) struct Standing(Region);

/// Height of the bed, mm.
const BED: f64 = 0.0;

/// A piece as it is to be made: drawn, less its reliefs and the dashes of its fold, with the tolerance on either side.
pub(super) struct Intended<'a> {
    pub(super) piece: &'a FlatPiece,
    least: Region,
    most: Region,
    fillets: Region,
    corners: Region,
    heart: Point,
    /// Of the head, mm.
    radius: f64,
}

impl<'a> Intended<'a> {
    /// What is intended of a piece with these reliefs, by a head of radius `r`, mm.
    ///
    /// # Errors
    /// A piece without an outline, and a relief that is none of an inside corner.
    pub(super) fn of(piece: &'a FlatPiece, reliefs: &[Point], r: f64) -> Result<Self, String> {
        if !piece.drawn.closed || piece.drawn.area() <= 0.0 {
            return Err(format!("piece {} has no outline", piece.class));
        }
        let drawn: Vec<Point> = piece.drawn.vertices.iter().map(|v| v.at).collect();
        let corners = piece.inside_corners();
        let sorted = AlongX::of(corners.iter().map(|c| c.at));
        let detour = |&reach: &Point| {
            // The round of a relief passes through its corner.
            let near = sorted.near(reach, r + RELIEF).into_iter();
            // Places of these very corners.
            let own = near.map(|i| (corners[i].at.distance(reach), &corners[i]));
            let own = own.filter(|(off, _)| (off - r).abs() <= RELIEF);
            let nearest = own
                .map(|(_, c)| c.centre(r))
                .min_by(|a, b| a.distance(reach).total_cmp(&b.distance(reach)));
            let Some(nearest) = nearest else {
                return Err(format!(
                    "a relief of piece {} near x {:.3} y {:.3} belongs to no inside corner",
                    piece.class, reach.x, reach.y
                ));
            };
            Ok(match piece.lies {
                Lies::OnSide => disc(reach, r),
                // Between walls at less than a right angle the way there takes more than its end does.
                Lies::OnBack => stadium(nearest, reach, r),
            })
        };
        let detours: Vec<Vec<Point>> = reliefs.iter().map(detour).collect::<Result<_, _>>()?;
        let dashes = piece.dashes.iter().map(|&[from, to]| stadium(from, to, r));
        let cut: Vec<Vec<Point>> = detours.into_iter().chain(dashes).collect();
        let made =
            Region::union_of([&drawn[..]]).minus(&Region::union_of(cut.iter().map(Vec::as_slice)));
        let rim = made.rim(REPLAY);
        // What lies between each inside corner and a round that touches both walls; the fillet is what the
        // head's round leaves of it.
        let kites = |r: f64| -> Vec<Vec<Point>> {
            let kite = |c: &InsideCorner| {
                let [left, right] = c.touches(r);
                vec![c.at, right, c.centre(r), left]
            };
            corners.iter().map(kite).collect()
        };
        let narrow = kites(r);
        let wide = kites(r + REPLAY);
        let reached: Vec<Vec<Point>> = corners
            .iter()
            .map(|c| disc(c.centre(r), (r - REPLAY).max(0.0)))
            .collect();
        let region = |set: &[Vec<Point>]| Region::union_of(set.iter().map(Vec::as_slice));
        let fillets = if reliefs.is_empty() {
            region(&narrow).minus(&region(&reached))
        } else {
            Region::default()
        };
        Ok(Self {
            piece,
            least: made.minus(&rim),
            most: made.plus(&rim),
            fillets,
            corners: region(&wide),
            heart: heart(piece),
            radius: r,
        })
    }

    /// Compares what the cuts leave of the piece with what is intended. Gives what stands of it on the bed, where the
    /// sweeps are the head's own: what [`Self::shape`] would find of these cuts.
    ///
    /// # Errors
    /// The first difference, from the top down.
    pub(super) fn compare(
        &self,
        near: &[SweptMove],
        holds: &[Hold],
        joined: Joined,
        sweeps: Sweeps,
        thickness: f64,
    ) -> Result<Option<Standing>, Complaint> {
        let (piece, r) = (self.piece, self.radius);
        let ground = Region::rect(window(piece, r));
        let (mut cut, mut on_bed) = (false, None);
        for (bottom, top) in slabs(heights(near), thickness) {
            // What stands of the piece, at most and at least.
            let left = |swept: Region| ground.minus(&swept).part_at(self.heart);
            let [most, least] = sweeps.swept(near, bottom, left);
            let lost = self.least.minus(&least);
            if let Some((at, area)) = largest(&lost) {
                return Err(Complaint {
                    rule: "piece-whole",
                    at,
                    what: format!(
                        "{area:.4} mm2 of the piece would be cut away between z {bottom:.3} and {top:.3}"
                    ),
                });
            }
            let standing: Vec<&Hold> = holds
                .iter()
                // The decimals of a dialect may lower a hold by less than the tolerance.
                .filter(|h| bottom + REPLAY < h.height)
                .collect();
            let mut allowed: Vec<Vec<Point>> = standing
                .iter()
                .map(|h| hold_rect(h, 0.5 * h.width + r, r + 0.01))
                .collect();
            // Below a groove the wood goes on into the next piece.
            if top <= joined.floor + REPLAY {
                allowed.extend(bridges(piece, joined.ends, r));
            }
            let allowed = Region::union_of(allowed.iter().map(Vec::as_slice));
            let extra = most.minus(&self.most).minus(&self.fillets).minus(&allowed);
            if let Some((at, area)) = largest(&extra) {
                return Err(Complaint {
                    rule: "waste-removed",
                    at,
                    what: format!(
                        "{area:.4} mm2 would be left standing between z {bottom:.3} and {top:.3}"
                    ),
                });
            }
            for h in standing {
                let core = hold_rect(h, 0.5 * h.width - REPLAY, r - 0.01_f64.min(0.2 * r));
                let core = Region::union_of([&core[..]]);
                if let Some((at, _)) = largest(&core.minus(&least)) {
                    return Err(Complaint {
                        rule: "hold-stands",
                        at,
                        what: format!(
                            "the hold there would be cut through between z {bottom:.3} and {top:.3}"
                        ),
                    });
                }
            }
            cut = true;
            if sweeps.are_one() && bottom == BED {
                on_bed = Some(Standing(least));
            }
        }
        if cut {
            return Ok(on_bed);
        }
        Err(Complaint {
            rule: "waste-removed",
            at: self.heart,
            what: "nothing cuts this piece out".into(),
        })
    }

    /// What the cuts take from the blank of a piece that they have been proven to leave. Holds stand outside of the
    /// blank: it is told without them. `standing` is what [`Self::compare`] has found of these very cuts, if anything.
    pub(super) fn shape(&self, near: &[SweptMove], standing: Option<Standing>) -> FitShape {
        let (piece, r) = (self.piece, self.radius);
        let Standing(mine) = standing.unwrap_or_else(|| {
            let ground = Region::rect(window(piece, r));
            Standing(ground.minus(&swept(near, r, BED)).part_at(self.heart))
        });
        let blank = Region::rect(Rect::new(0.0, 0.0, piece.length, piece.depth));
        let missing = blank.minus(&mine);
        let sharp = missing.plus(&self.corners.both(&blank));
        FitShape {
            voids: voids_of(&missing),
            sharp: voids_of(&sharp),
            flare: 0.0,
        }
    }
}

/// Where wood may join a piece to its neighbours, as far as its window reaches.
fn bridges(piece: &FlatPiece, ends: [bool; 2], r: f64) -> Vec<Vec<Point>> {
    let window = window(piece, r);
    let sides = [(window.x0, 0.0), (piece.length, window.x1)];
    sides
        .into_iter()
        .zip(ends)
        .filter(|(_, joined)| *joined)
        .map(|((x0, x1), _)| {
            let (y0, y1) = (-REPLAY, piece.depth + REPLAY);
            [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
                .map(Point::from)
                .to_vec()
        })
        .collect()
}

/// A point well inside the piece: halfway up, in the middle of its widest stretch without notches or fold. Of a
/// piece on its back the mean of its corners; where an end is re-entrant, of those on the wider side of its notch,
/// which are a convex shape's.
fn heart(piece: &FlatPiece) -> Point {
    if piece.lies == Lies::OnBack {
        let notch = piece.inside_corners().first().map(|c| c.at.y);
        let beside = |p: &Point| match notch {
            None => true,
            Some(y) if y < 0.5 * piece.depth => p.y > y - SAME_FIGURE,
            Some(y) => p.y < y + SAME_FIGURE,
        };
        let corners = piece.drawn.vertices.iter().map(|v| v.at).filter(beside);
        let (sum, count) = corners.fold((Vec2::ZERO, 0.0), |(sum, n), p| {
            (sum + p.to_vec2(), n + 1.0)
        });
        return (sum / f64::max(count, 1.0)).to_point();
    }
    let mut cuts: Vec<(f64, f64)> = piece.notches.iter().map(|n| (n.x0, n.x1)).collect();
    cuts.extend(piece.fold().map(|x| (x, x)));
    cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut best = (0.0, 0.5 * piece.length);
    let mut from = 0.0;
    for (x0, x1) in cuts.into_iter().chain([(piece.length, piece.length)]) {
        if x0 - from > best.0 {
            best = (x0 - from, 0.5 * (x0 + from));
        }
        from = from.max(x1);
    }
    Point::new(best.1, 0.5 * piece.depth)
}

/// The hold as a rectangle: `half` along the path to either side, `across` to either side of it.
fn hold_rect(h: &Hold, half: f64, across: f64) -> Vec<Point> {
    let axis = (h.to - h.from).normalize();
    let side = Vec2::new(-axis.y, axis.x);
    let middle = h.from.midpoint(h.to);
    [
        (-half, -across),
        (half, -across),
        (half, across),
        (-half, across),
    ]
    .map(|(x, y)| middle + axis * x + side * y)
    .to_vec()
}
