//! What the head sweeps over a sheet, slab by slab of height, and what it leaves of each piece.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use kurbo::{Point, Vec2};

use super::ReplayFault;
use super::copies::Family;
use super::intended::{Complaint, Intended, Joined, Sweeps, window};
use super::near::Index;
use super::parting;
use super::slab::SweptMove;
use crate::in_order::in_order;
use crate::lattice::FitShape;
use crate::path::{Head, Hold, Program};
use crate::setup::{
    FlatLayout, FlatPiece, FlatSheet, Parting, PieceId, Placement, PlacementId, groove_floor,
};
use crate::table::{Column, Id, Table};

/// What the replay of a sheet showed.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetProof {
    /// For each piece of the layout that is on the sheet, what is missing from it.
    pub shapes: BTreeMap<PieceId, FitShape>,
    /// How many placements were compared and found as intended: all of the sheet.
    pub compared: usize,
    /// How many parting places between joined pieces were: all of the sheet.
    pub parted: usize,
}

/// Compares what the cuts leave of every piece with the piece as intended.
///
/// Nothing of a piece may be removed beyond [`REPLAY`](crate::geom::REPLAY); nothing may be left standing beyond it, except
/// the fillet of the head's own radius in an inside corner and the planned holds, and those must stand.
/// Between pieces that stay joined, grooves must be as deep as planned, and the rest of the wood stand.
///
/// # Errors
/// Every piece that would not come out as drawn, and every groove; a plan that is not whole.
pub fn prove_pieces(
    cuts: &[SweptMove],
    layout: &FlatLayout,
    sheet: &FlatSheet,
    program: &Program,
) -> Result<SheetProof, Vec<ReplayFault>> {
    program.check(sheet).map_err(not_whole)?;
    let cut = Cut {
        r: program.head.radius(),
        beam: matches!(program.head, Head::Beam { .. }),
        holds: &program.holds,
        reliefs: &program.reliefs,
    };
    prove_cut(cuts, layout, sheet, &cut)
}

/// What a sheet is meant to be cut with.
pub(super) struct Cut<'a> {
    /// Half the width of the cut, mm.
    pub(super) r: f64,
    /// Whether it goes through at any height, as a beam's does.
    pub(super) beam: bool,
    /// What is left standing on purpose: of placements that the sheet has.
    pub(super) holds: &'a [Hold],
    /// Centres of the cuts that relieve inside corners, in the frames of the pieces.
    pub(super) reliefs: &'a BTreeMap<PieceId, Vec<Point>>,
}

/// A plan that is not whole.
pub(super) fn not_whole(what: String) -> Vec<ReplayFault> {
    vec![ReplayFault {
        rule: "plan",
        line: None,
        what,
    }]
}

/// [`prove_pieces`], whatever the cuts are from.
///
/// # Errors
/// Those of [`prove_pieces`].
pub(super) fn prove_cut(
    cuts: &[SweptMove],
    layout: &FlatLayout,
    sheet: &FlatSheet,
    cut: &Cut<'_>,
) -> Result<SheetProof, Vec<ReplayFault>> {
    let (r, beam) = (cut.r, cut.beam);
    let planned = Planned::of(layout, sheet, cut)?;
    let sloped = cuts.iter().filter(|c| !beam && c.is_sloped());
    let sloped: Vec<ReplayFault> = sloped
        .map(|c| ReplayFault {
            rule: "level-cuts",
            line: Some(c.line),
            what: "a cut that changes height on its way; flat cuts are level".into(),
        })
        .collect();
    if !sloped.is_empty() {
        return Err(sloped);
    }
    if sheet.placements.is_empty() {
        return Err(not_whole("the sheet has no pieces".into()));
    }
    let bench = Bench {
        index: &Index::of(cuts, r),
        r,
        beam,
        thickness: sheet.thickness,
    };
    let mut shapes = BTreeMap::new();
    let verdicts = bench.pieces(&planned, sheet, &mut shapes)?;
    let placed = |id: PlacementId, c: Complaint| {
        let place = &sheet.placements[id];
        format!(
            "piece {} near x {:.3} y {:.3}: {}",
            layout.pieces[place.piece].named(&place.id),
            c.at.x + place.x,
            c.at.y + place.y,
            c.what
        )
    };
    let (compared, mut faults) = judged(verdicts, placed);
    let partings: Table<Parting> = sheet.partings(&layout.pieces).into();
    let verdicts = bench.partings(&partings, sheet);
    let between = |id: Id<Parting>, c: Complaint| {
        let place = &partings[id];
        let origin = place.groove.origin();
        format!(
            "between {} and {}, near x {:.3} y {:.3}: {}",
            sheet.placements[place.left].id,
            sheet.placements[place.right].id,
            c.at.x + origin.x,
            c.at.y + origin.y,
            c.what
        )
    };
    let (parted, more) = judged(verdicts, between);
    faults.extend(more);
    if faults.is_empty() {
        Ok(SheetProof {
            shapes,
            compared,
            parted,
        })
    } else {
        Err(faults)
    }
}

/// What a comparison found; `None` where there has been none.
type Verdict = Option<Result<(), Complaint>>;

/// How many of all passed, and what is wrong with the others: what has not been compared is a fault like any other.
fn judged<T>(
    verdicts: Column<T, Verdict>,
    told: impl Fn(Id<T>, Complaint) -> String,
) -> (usize, Vec<ReplayFault>) {
    let mut passed = 0;
    let mut faults = Vec::new();
    for (id, verdict) in verdicts.entries() {
        let complaint = match verdict {
            Some(Ok(())) => {
                passed += 1;
                continue;
            }
            Some(Err(complaint)) => complaint.clone(),
            None => Complaint {
                rule: "compared",
                at: Point::ORIGIN,
                what: "it has not been compared with the plan".into(),
            },
        };
        faults.push(ReplayFault {
            rule: complaint.rule,
            line: None,
            what: told(id, complaint),
        });
    }
    (passed, faults)
}

/// What a sheet is proven with.
struct Bench<'a> {
    /// The cuts of its program.
    index: &'a Index<'a>,
    /// Radius of the head, mm.
    r: f64,
    beam: bool,
    /// Of the stock, mm.
    thickness: f64,
}

impl Bench<'_> {
    /// Proves every placement; `shapes` are told of the pieces that pass.
    ///
    /// # Errors
    /// A plan that is not whole.
    fn pieces(
        &self,
        planned: &Planned<'_>,
        sheet: &FlatSheet,
        shapes: &mut BTreeMap<PieceId, FitShape>,
    ) -> Result<Column<Placement, Verdict>, Vec<ReplayFault>> {
        let mut verdicts = sheet.placements.column(|_, _| None);
        let found = in_order(
            &planned.wanted,
            |wanted| self.piece(wanted, planned, sheet),
            || (),
        );
        for (wanted, found) in planned.wanted.iter().zip(found) {
            let (told, shape) = found.map_err(not_whole)?;
            for (copy, verdict) in told {
                verdicts[copy] = Some(verdict);
            }
            shapes.extend(shape.map(|shape| (wanted.id, shape)));
        }
        Ok(verdicts)
    }

    /// Proves all copies of a piece. Its shape is that of the first kind of copies of which all pass.
    ///
    /// # Errors
    /// A plan that is not whole.
    fn piece(
        &self,
        wanted: &Wanted<'_>,
        planned: &Planned<'_>,
        sheet: &FlatSheet,
    ) -> Result<(Told<PlacementId>, Option<FitShape>), String> {
        let r = self.r;
        let intended = Intended::of(wanted.piece, wanted.reliefs, r)?;
        let mut families: BTreeMap<[bool; 2], Vec<Family<PlacementId>>> = BTreeMap::new();
        for &id in &wanted.copies {
            let place = &sheet.placements[id];
            let origin = Vec2::new(place.x, place.y);
            let near = (self.index).near(window(wanted.piece, r), origin, self.beam);
            let holds = planned.holds[id].iter();
            let local: Vec<Hold> = holds.map(|h| moved(h, -place.x, -place.y)).collect();
            join(
                families.entry(sheet.joined(id)).or_default(),
                id,
                near,
                local,
            );
        }
        let floor = groove_floor(self.thickness);
        let (mut told, mut shape) = (Vec::new(), None);
        for (ends, family) in families
            .iter()
            .flat_map(|(ends, alike)| alike.iter().map(move |family| (*ends, family)))
        {
            let joints = Joined { ends, floor };
            let (found, standing) = each(family, r, |cuts, sweeps| {
                intended.compare(cuts, family.holds(), joints, sweeps, self.thickness)
            });
            if shape.is_none() && found.iter().all(|(_, verdict)| verdict.is_ok()) {
                let (_, cuts) = family.copies.first();
                shape = Some(intended.shape(cuts, standing.flatten()));
            }
            told.extend(found);
        }
        Ok((told, shape))
    }

    /// Proves all parting places between joined pieces.
    fn partings(&self, places: &Table<Parting>, sheet: &FlatSheet) -> Column<Parting, Verdict> {
        let r = self.r;
        let mut families: BTreeMap<_, Vec<Family<Id<Parting>>>> = BTreeMap::new();
        for (id, place) in places.entries() {
            let origin = place.groove.origin().to_vec2();
            let window = parting::window(place, r) - origin;
            let near = self.index.near(window, origin, self.beam);
            // The pieces on either side, and what lies between them: pieces alone do not tell how far apart they lie.
            let [left, right] = [place.left, place.right].map(|p| sheet.placements[p].piece);
            let alike = families.entry((left, right, figures(place))).or_default();
            join(alike, id, near, Vec::new());
        }
        let mut verdicts = places.column(|_, _| None);
        for family in families.values().flatten() {
            let (first, _) = family.copies.first();
            let place = &places[*first];
            let prove = |cuts: &[SweptMove], sweeps: Sweeps| {
                parting::prove(place, cuts, sweeps, r, self.thickness)
            };
            for (copy, verdict) in each(family, r, prove).0 {
                verdicts[copy] = Some(verdict);
            }
        }
        verdicts
    }
}

/// What is planned for a sheet: all of it is there.
struct Planned<'a> {
    /// Every piece that is on the sheet, in the order in which they first stand there.
    wanted: Vec<Wanted<'a>>,
    /// What holds each placement, in the sheet's frame.
    holds: Column<Placement, Vec<&'a Hold>>,
}

/// A piece that is on a sheet.
struct Wanted<'a> {
    id: PieceId,
    piece: &'a FlatPiece,
    /// Centres of the cuts that relieve its inside corners.
    reliefs: &'a [Point],
    /// Where it lies.
    copies: Vec<PlacementId>,
}

impl<'a> Planned<'a> {
    fn of(
        layout: &'a FlatLayout,
        sheet: &'a FlatSheet,
        cut: &Cut<'a>,
    ) -> Result<Self, Vec<ReplayFault>> {
        layout.check(sheet).map_err(not_whole)?;
        let mut wanted: Vec<Wanted<'_>> = Vec::new();
        let mut places = BTreeMap::new();
        for (id, place) in sheet.placements.entries() {
            match places.entry(place.piece) {
                Entry::Occupied(at) => {
                    let at: &usize = at.get();
                    // A place that was entered when the piece was put there.
                    wanted[*at].copies.push(id);
                }
                Entry::Vacant(entry) => {
                    let piece = &layout.pieces[place.piece];
                    let reliefs = cut.reliefs.get(&place.piece);
                    let reliefs = reliefs
                        .ok_or_else(|| format!("nothing tells the reliefs of {}", piece.class));
                    entry.insert(wanted.len());
                    wanted.push(Wanted {
                        id: place.piece,
                        piece,
                        reliefs: reliefs.map_err(not_whole)?,
                        copies: vec![id],
                    });
                }
            }
        }
        let mut holds = sheet.placements.column(|_, _| Vec::new());
        for hold in cut.holds {
            holds[hold.placement].push(hold);
        }
        Ok(Self { wanted, holds })
    }
}

/// What tells one parting place from another, in its own frame, nm.
fn figures(place: &Parting) -> [i64; 5] {
    let (groove, bridge) = (place.groove, place.bridge);
    let origin = groove.origin();
    [
        groove.width(),
        groove.height(),
        bridge.y0 - origin.y,
        bridge.y1 - origin.y,
        place.floor,
    ]
    .map(|v| (v * 1e6).round() as i64)
}

/// Puts a copy to those that are cut alike, or makes it the first of its kind.
fn join<K>(alike: &mut Vec<Family<K>>, copy: K, near: Vec<SweptMove>, holds: Vec<Hold>) {
    match alike.iter_mut().find(|f| f.has_like(&near, &holds)) {
        Some(family) => family.copies.push((copy, near)),
        None => alike.push(Family::of(copy, near, holds)),
    }
}

/// So many copies are proven one by one, unless all are the same: a pattern with slack is swept twice, and the shape
/// of one copy is asked for besides.
const FEW: usize = 2;

/// What is told of copies.
type Told<K> = Vec<(K, Result<(), Complaint>)>;

/// What is found of every copy of a family: that it passes, where what stands for all of them does with the slack that
/// it has, else what `prove` finds in each by itself; and what it gives for the first copy's own cuts, where it has
/// looked at these.
fn each<K: Copy, T>(
    family: &Family<K>,
    r: f64,
    prove: impl Fn(&[SweptMove], Sweeps) -> Result<T, Complaint>,
) -> (Told<K>, Option<T>) {
    let exact = Sweeps { less: r, more: r };
    let copies = family.copies.iter();
    if let Some(pattern) = family.pattern()
        && (pattern.slack == 0.0 || copies.len() > FEW)
    {
        let sweeps = Sweeps {
            less: r - pattern.slack,
            more: r + pattern.slack,
        };
        let passes = match sweeps.less > 0.0 {
            true => prove(&pattern.cuts, sweeps).ok(),
            false => None,
        };
        if let Some(found) = passes {
            let own = pattern.slack == 0.0;
            let told = copies.map(|(copy, _)| (*copy, Ok(()))).collect();
            return (told, own.then_some(found));
        }
    }
    let mut own = None;
    let told = copies.enumerate().map(|(place, (copy, cuts))| {
        let verdict = prove(cuts, exact).map(|found| {
            if place == 0 {
                own = Some(found);
            }
        });
        (*copy, verdict)
    });
    let told = told.collect();
    (told, own)
}

fn moved(h: &Hold, dx: f64, dy: f64) -> Hold {
    let by = |p: Point| Point::new(p.x + dx, p.y + dy);
    Hold {
        from: by(h.from),
        to: by(h.to),
        ..*h
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests")]
mod tests;
