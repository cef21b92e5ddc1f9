//! What the head sweeps over a sheet, slab by slab of height, and what it leaves of each piece.

use std::collections::BTreeMap;

use kurbo::{Point, Rect, Vec2};

use super::ReplayFault;
use super::copies::Family;
use super::near::Index;
use super::parting;
use super::region::{Region, disc, stadium};
use super::slab::{SweptMove, heights, largest, slabs, swept};
use super::voids::voids_of;
use crate::geom::{REPLAY, SAME_FIGURE};
use crate::lattice::FitShape;
use crate::path::{Hold, Program};
use crate::setup::{FlatLayout, FlatPiece, InsideCorner, Lies, groove_floor};
use crate::stock::FlatSheet;

/// What the replay of a sheet showed.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetProof {
    /// For each piece of the layout that is on the sheet, what is missing from it.
    pub shapes: BTreeMap<usize, FitShape>,
    /// How many placements were compared.
    pub compared: usize,
}

/// Compares what the cuts leave of every piece with the piece as intended.
///
/// Nothing of a piece may be removed beyond [`REPLAY`]; nothing may be left standing beyond it, except
/// the fillet of the head's own radius in an inside corner and the planned holds, and those must stand.
/// Between pieces that stay joined, grooves must be as deep as planned, and the rest of the wood stand.
///
/// # Errors
/// Every piece that would not come out as drawn, and every groove.
pub fn prove_pieces(
    cuts: &[SweptMove],
    layout: &FlatLayout,
    sheet: &FlatSheet,
    program: &Program,
) -> Result<SheetProof, Vec<ReplayFault>> {
    let r = program.head.radius();
    let beam = matches!(program.head, crate::path::Head::Beam { .. });
    let mut faults: Vec<ReplayFault> = Vec::new();
    for c in cuts.iter().filter(|c| !beam && c.is_sloped()) {
        faults.push(ReplayFault {
            rule: "level-cuts",
            line: Some(c.line),
            what: "a cut that changes height on its way; flat cuts are level".into(),
        });
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let index = Index::of(cuts, r);
    let mut intended: BTreeMap<usize, Intended> = BTreeMap::new();
    let mut holds: Vec<Vec<&Hold>> = vec![Vec::new(); sheet.placements.len()];
    for hold in &program.holds {
        if let Some(list) = holds.get_mut(hold.placement) {
            list.push(hold);
        }
    }
    let mut families: BTreeMap<(usize, [bool; 2]), Vec<Family>> = BTreeMap::new();
    for (i, place) in sheet.placements.iter().enumerate() {
        let Some(piece) = layout.pieces.get(place.piece) else {
            continue;
        };
        let origin = Vec2::new(place.x, place.y);
        let near = index.near(cuts, window(piece, r), origin, r, beam);
        let local: Vec<Hold> = holds[i]
            .iter()
            .map(|h| moved(h, -place.x, -place.y))
            .collect();
        let alike = families.entry((place.piece, sheet.joined(i))).or_default();
        join(alike, i, near, local);
    }
    let mut shapes = BTreeMap::new();
    let mut refused: Vec<(usize, Complaint)> = Vec::new();
    for (&(index, ends), alike) in &families {
        let Some(piece) = layout.pieces.get(index) else {
            continue;
        };
        let want = intended.entry(index).or_insert_with(|| {
            let reliefs = program.reliefs.get(index).map_or(&[][..], Vec::as_slice);
            Intended::of(piece, reliefs, r)
        });
        let joints = Joined {
            ends,
            floor: groove_floor(sheet.thickness),
        };
        for family in alike {
            let compare = |cuts: &[SweptMove], sweeps: Sweeps| {
                want.compare(piece, cuts, family.holds(), joints, sweeps, sheet.thickness)
            };
            let complaints = each(family, r, compare);
            if complaints.is_empty()
                && let Some((_, cuts)) = family.copies.first()
            {
                let shape = || want.shape(piece, cuts, r);
                shapes.entry(index).or_insert_with(shape);
            }
            refused.extend(complaints);
        }
    }
    refused.sort_by_key(|(i, _)| *i);
    for (i, c) in refused {
        let Some(place) = sheet.placements.get(i) else {
            continue;
        };
        let piece = layout.pieces.get(place.piece);
        let name = piece.map_or_else(|| place.id.clone(), |p| p.named(&place.id));
        faults.push(ReplayFault {
            rule: c.rule,
            line: None,
            what: format!(
                "piece {name} near x {:.3} y {:.3}: {}",
                c.at.x + place.x,
                c.at.y + place.y,
                c.what
            ),
        });
    }
    faults.extend(partings(cuts, layout, sheet, &index, r, beam));
    if faults.is_empty() {
        Ok(SheetProof {
            shapes,
            compared: sheet.placements.len(),
        })
    } else {
        Err(faults)
    }
}

/// Proves all parting places between joined pieces.
fn partings(
    cuts: &[SweptMove],
    layout: &FlatLayout,
    sheet: &FlatSheet,
    index: &Index,
    r: f64,
    beam: bool,
) -> Vec<ReplayFault> {
    let places = sheet.partings(&layout.pieces);
    let piece = |i: usize| sheet.placements.get(i).map_or(0, |p| p.piece);
    let mut families: BTreeMap<[usize; 2], Vec<Family>> = BTreeMap::new();
    for (i, place) in places.iter().enumerate() {
        let origin = place.groove.origin().to_vec2();
        let window = parting::window(place, r) - origin;
        let near = index.near(cuts, window, origin, r, beam);
        // The pieces on either side tell the size of what lies between them.
        let alike = families
            .entry([piece(place.left), piece(place.right)])
            .or_default();
        join(alike, i, near, Vec::new());
    }
    let mut refused: Vec<(usize, Complaint)> = Vec::new();
    for family in families.values().flatten() {
        let Some(place) = family.copies.first().and_then(|(i, _)| places.get(*i)) else {
            continue;
        };
        let prove = |cuts: &[SweptMove], sweeps: Sweeps| {
            parting::prove(place, cuts, sweeps, r, sheet.thickness)
        };
        refused.extend(each(family, r, prove));
    }
    refused.sort_by_key(|(i, _)| *i);
    let told = |(i, c): (usize, Complaint)| {
        let place = places.get(i)?;
        let origin = place.groove.origin();
        let id = |i: usize| sheet.placements.get(i).map_or("", |p| p.id.as_str());
        Some(ReplayFault {
            rule: c.rule,
            line: None,
            what: format!(
                "between {} and {}, near x {:.3} y {:.3}: {}",
                id(place.left),
                id(place.right),
                c.at.x + origin.x,
                c.at.y + origin.y,
                c.what
            ),
        })
    };
    refused.into_iter().filter_map(told).collect()
}

/// Puts a copy to those that are cut alike, or makes it the first of its kind.
fn join(alike: &mut Vec<Family>, copy: usize, near: Vec<SweptMove>, holds: Vec<Hold>) {
    match alike.iter_mut().find(|f| f.has_like(&near, &holds)) {
        Some(family) => family.copies.push((copy, near)),
        None => alike.push(Family::of(copy, near, holds)),
    }
}

/// What is wrong with the copies of a family: nothing where what stands for all of them passes with the slack that it
/// has, else what `prove` finds in each by itself.
fn each(
    family: &Family,
    r: f64,
    prove: impl Fn(&[SweptMove], Sweeps) -> Result<(), Complaint>,
) -> Vec<(usize, Complaint)> {
    let exact = Sweeps { less: r, more: r };
    if let Some(pattern) = family.pattern() {
        let sweeps = Sweeps {
            less: r - pattern.slack,
            more: r + pattern.slack,
        };
        let passes = sweeps.less > 0.0 && prove(&pattern.cuts, sweeps).is_ok();
        if passes {
            return Vec::new();
        }
    }
    let copies = family.copies.iter();
    copies
        .filter_map(|(copy, cuts)| Some((*copy, prove(cuts, exact).err()?)))
        .collect()
}

/// Radii of a head that sweeps no more than any copy's does, and no less; both are the head's own where one copy is
/// looked at by itself.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sweeps {
    pub(super) less: f64,
    pub(super) more: f64,
}

impl Sweeps {
    /// What is swept in the slab above `bottom`: at least, and at most.
    pub(super) fn swept(self, near: &[SweptMove], bottom: f64) -> [Region; 2] {
        let less = swept(near, self.less, bottom);
        let more = if self.more == self.less {
            less.clone()
        } else {
            swept(near, self.more, bottom)
        };
        [less, more]
    }
}

/// At which ends a piece stays joined to the next one, and the height of the groove's floor there.
#[derive(Debug, Clone, Copy)]
struct Joined {
    ends: [bool; 2],
    floor: f64,
}

fn moved(h: &Hold, dx: f64, dy: f64) -> Hold {
    let by = |p: Point| Point::new(p.x + dx, p.y + dy);
    Hold {
        from: by(h.from),
        to: by(h.to),
        ..*h
    }
}

/// The piece's surroundings as far as its own cuts reach: just inside the outer edge of the cut.
fn window(piece: &FlatPiece, r: f64) -> Rect {
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

/// A piece as it is to be made: drawn, less its reliefs and the dashes of its fold, with the tolerance on either side.
struct Intended {
    least: Region,
    most: Region,
    fillets: Region,
    corners: Region,
    heart: Point,
    /// Of the head, mm.
    radius: f64,
}

impl Intended {
    fn of(piece: &FlatPiece, reliefs: &[Point], r: f64) -> Self {
        let drawn: Vec<Point> = piece.drawn.vertices.iter().map(|v| v.at).collect();
        let corners = piece.inside_corners();
        let detour = |&reach: &Point| match piece.lies {
            Lies::OnSide => disc(reach, r),
            // Between walls at less than a right angle the way there takes more than its end does.
            Lies::OnBack => {
                let centres = corners.iter().map(|c| c.centre(r));
                let nearest =
                    centres.min_by(|a, b| a.distance(reach).total_cmp(&b.distance(reach)));
                stadium(nearest.unwrap_or(reach), reach, r)
            }
        };
        let detours = reliefs.iter().map(detour);
        let dashes = piece.dashes.iter().map(|&[from, to]| stadium(from, to, r));
        let cut: Vec<Vec<Point>> = detours.chain(dashes).collect();
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
        Self {
            least: made.minus(&rim),
            most: made.plus(&rim),
            fillets,
            corners: region(&wide),
            heart: heart(piece),
            radius: r,
        }
    }

    fn compare(
        &self,
        piece: &FlatPiece,
        near: &[SweptMove],
        holds: &[Hold],
        joined: Joined,
        sweeps: Sweeps,
        thickness: f64,
    ) -> Result<(), Complaint> {
        let r = self.radius;
        let ground = Region::rect(window(piece, r));
        let mut cut = false;
        for (bottom, top) in slabs(heights(near), thickness) {
            // What stands of the piece, at most and at least.
            let [most, least] = sweeps
                .swept(near, bottom)
                .map(|swept| ground.minus(&swept).part_at(self.heart));
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
        }
        if cut {
            return Ok(());
        }
        Err(Complaint {
            rule: "waste-removed",
            at: self.heart,
            what: "nothing cuts this piece out".into(),
        })
    }

    /// What the cuts take from the blank of a piece that they have been proven to leave. Holds stand outside of the
    /// blank: it is told without them.
    fn shape(&self, piece: &FlatPiece, near: &[SweptMove], r: f64) -> FitShape {
        let ground = Region::rect(window(piece, r));
        let mine = ground.minus(&swept(near, r, 0.0)).part_at(self.heart);
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
    let side = kurbo::Vec2::new(-axis.y, axis.x);
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
