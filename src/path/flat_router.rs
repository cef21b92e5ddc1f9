//! Flat cutting with a router: notches first, as open cuts that leave the edge, then round the pieces
//! in depth passes that lift over the tabs.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use kurbo::{Point, Rect, Vec2};

use super::PathError;
use super::hold_room::HoldRules;
use super::holds::{Parted, parted};
use super::note::Note;
use super::offset::grow;
use super::open::OpenPath;
use super::program::{CutContour, CutKind, Hold, Move, Program, push_contour};
use super::relief::{CornerRelief, corner_reliefs, relieved};
use super::router::{RouterSettings, STROKE};
use super::run::Run;
use super::tour::{Visit, short_tour};
use crate::geom::{Contour, SAME_FIGURE};
use crate::non_empty::NonEmpty;
use crate::panel::Relief;
use crate::setup::{Edge, FlatPiece, FlatSheet, Lies, PieceId, PlacementId};
use crate::table::Table;

/// How far the tool's round stays clear of the edge before it enters a notch, mm.
pub(crate) const CLEAR: f64 = 0.5;

/// Cuts inside a piece, in its own frame.
struct PiecePath {
    notches: Vec<OpenPath>,
    reliefs: Vec<Point>,
}

/// The cut round a run of pieces, from the first end of the first of them.
struct RunPath {
    outline: Contour,
    parted: Parted,
    /// Of a piece on its back, how far the detours into its inside corners go.
    reliefs: Vec<Point>,
}

/// An open cut before the outlines: a notch, or a groove between joined pieces.
struct OpenCut {
    placement: PlacementId,
    kind: CutKind,
    path: OpenPath,
    /// The path before its floors were brought to the program's decimals: what drawings show.
    exact: Contour,
    remark: String,
}

/// What is cut so far.
#[derive(Default)]
struct Cuts {
    moves: Vec<Move>,
    holds: Vec<Hold>,
    reliefs: BTreeMap<PieceId, Vec<Point>>,
    contours: Vec<CutContour>,
}

/// Plans one sheet.
///
/// # Errors
/// A notch that the tool does not fit into.
pub fn router_program(
    pieces: &Table<FlatPiece>,
    sheet: &FlatSheet,
    set: &RouterSettings,
    stem: String,
    notes: Vec<Note>,
) -> Result<Program, PathError> {
    let mut cuts = Cuts::default();
    // Notches and grooves of all pieces while every piece is still part of the sheet.
    cuts.inside(pieces, sheet, set)?;
    cuts.round(pieces, sheet, set)?;
    let Cuts {
        moves,
        holds,
        reliefs,
        contours,
    } = cuts;
    Ok(Program {
        stem,
        notes,
        head: set.head(sheet.thickness),
        feed: set.feed,
        moves,
        holds,
        reliefs,
        contours,
    })
}

impl Cuts {
    /// The notches of every placement, and the grooves.
    fn inside(
        &mut self,
        pieces: &Table<FlatPiece>,
        sheet: &FlatSheet,
        set: &RouterSettings,
    ) -> Result<(), PathError> {
        let cuts = open_cuts(pieces, sheet, set, &mut self.reliefs)?;
        let through = set.passes(sheet.thickness);
        let half = set.groove_passes(sheet.thickness);
        let passes = |kind| match kind {
            CutKind::Groove => half.as_slice(),
            CutKind::Notch | CutKind::Outline | CutKind::Fold => through.as_slice(),
        };
        let visit = |cut: &OpenCut| Visit {
            enter: cut.path.start(),
            leave: if passes(cut.kind).len() % 2 == 1 {
                cut.path.end()
            } else {
                cut.path.start()
            },
        };
        let visits: Vec<Visit> = cuts.iter().map(visit).collect();
        for i in short_tour(&visits, Point::ORIGIN) {
            // A visit for each cut.
            let cut = &cuts[i];
            self.moves.push(Move::Remark(cut.remark.clone()));
            self.moves.push(Move::Travel(cut.path.start()));
            let back = cut.path.reversed();
            for (k, &z) in passes(cut.kind).iter().enumerate() {
                self.moves.push(Move::Plunge(z));
                let path = if k % 2 == 0 { &cut.path } else { &back };
                push_contour(&mut self.moves, path.contour());
            }
            self.moves.push(Move::Raise);
            self.contours.push(CutContour {
                placement: cut.placement,
                kind: cut.kind,
                path: cut.exact.clone(),
            });
        }
        Ok(())
    }

    /// Round the pieces.
    fn round(
        &mut self,
        pieces: &Table<FlatPiece>,
        sheet: &FlatSheet,
        set: &RouterSettings,
    ) -> Result<(), PathError> {
        let lead = CLEAR.min(0.5 * set.gap);
        let runs: Vec<Run<'_>> = sheet
            .runs()
            .iter()
            .map(|placements| Run::of(pieces, sheet, placements))
            .collect();
        let mut paths: BTreeMap<NonEmpty<PieceId>, RunPath> = BTreeMap::new();
        for run in &runs {
            if let Entry::Vacant(place) = paths.entry(run.pieces()) {
                let alone = *place.key().first();
                let one = place.key().gaps() == 0;
                let path = place.insert(run_path(run, set)?);
                if one {
                    self.reliefs.entry(alone).or_default().extend(&path.reliefs);
                }
            }
        }
        // Every run has its path.
        let cuts = runs.iter().map(|run| (run, &paths[&run.pieces()]));
        let cuts: Vec<(&Run<'_>, &RunPath)> = cuts.collect();
        let entry = |(run, path): (&Run<'_>, &RunPath)| {
            let first = path.parted.parts.first();
            first.path.start() + run.at().to_vec2() + first.outward * lead
        };
        let visits: Vec<Visit> = cuts
            .iter()
            .map(|&cut| Visit {
                enter: entry(cut),
                leave: entry(cut),
            })
            .collect();
        for i in short_tour(&visits, Point::ORIGIN) {
            // A visit for each cut.
            let (run, path) = cuts[i];
            self.outline(run, path, entry(cuts[i]), sheet.thickness, set);
        }
        Ok(())
    }

    /// The cut round a run, from its entry on.
    fn outline(
        &mut self,
        run: &Run<'_>,
        path: &RunPath,
        start: Point,
        thickness: f64,
        set: &RouterSettings,
    ) {
        let moves = &mut self.moves;
        let at = run.at().to_vec2();
        let Parted { holds: tabs, parts } = &path.parted;
        let parts = parts.map(|part| part.moved(at));
        let first = parts.first().path.start();
        moves.push(Move::Remark(format!("outline {}", run.names())));
        moves.push(Move::Travel(start));
        for (k, &z) in set.passes(thickness).iter().enumerate() {
            if k > 0 {
                // Down in the waste beside the path, not on it.
                moves.push(Move::Line(start));
            }
            moves.push(Move::Plunge(z));
            moves.push(Move::Line(first));
            let nexts = parts.iter().skip(1).map(Some).chain([None]);
            for (part, next) in parts.iter().zip(nexts) {
                push_contour(moves, part.path.contour());
                // After the last part the first one is reached again.
                let to = next.map_or(first, |next| next.path.start());
                let over = !tabs.is_empty() && z < set.tab_height;
                if over {
                    moves.push(Move::Plunge(set.tab_height));
                }
                if to.distance(part.path.end()) > SAME_FIGURE {
                    moves.push(Move::Line(to));
                }
                if over && next.is_some() {
                    moves.push(Move::Plunge(z));
                }
            }
        }
        moves.push(Move::Raise);
        let tabs = tabs.iter();
        self.holds
            .extend(tabs.map(|tab| tab.hold(run.part_at(tab.at.x), at, set.tab_height)));
        self.contours.push(CutContour {
            placement: run.first(),
            kind: CutKind::Outline,
            path: path.outline.moved(at.x, at.y),
        });
    }
}

/// The notches of every placement, then the grooves, in the sheet's frame; `reliefs` are filled in for the
/// pieces that are on the sheet.
fn open_cuts(
    pieces: &Table<FlatPiece>,
    sheet: &FlatSheet,
    set: &RouterSettings,
    reliefs: &mut BTreeMap<PieceId, Vec<Point>>,
) -> Result<Vec<OpenCut>, PathError> {
    let r = 0.5 * set.diameter;
    let gap = |joined: bool| {
        if joined {
            // As far as the next piece's end.
            set.parting_gap - r
        } else {
            r + CLEAR
        }
    };
    let mut paths: BTreeMap<(PieceId, [bool; 2]), [PiecePath; 2]> = BTreeMap::new();
    let mut cuts = Vec::new();
    for (id, p) in sheet.placements.entries() {
        let piece = &pieces[p.piece];
        let joined = sheet.joined(id);
        let [path, exact] = match paths.entry((p.piece, joined)) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(place) => {
                let eased = piece.eased(r, set.step);
                let path = piece_path(&eased, set, joined.map(gap))?;
                let exact = piece_path(piece, set, joined.map(gap))?;
                reliefs.insert(p.piece, path.reliefs.clone());
                place.insert([path, exact])
            }
        };
        let at = Vec2::new(p.x, p.y);
        let notches = path.notches.iter().zip(&exact.notches);
        cuts.extend(notches.map(|(path, exact)| OpenCut {
            placement: id,
            kind: CutKind::Notch,
            path: path.moved(at),
            exact: exact.moved(at).contour().clone(),
            remark: format!("notch {}", piece.named(&p.id)),
        }));
    }
    for parting in sheet.partings(pieces) {
        // Where there is no one member, the class is what the operator calls it.
        let name = |id: PlacementId| {
            let place = &sheet.placements[id];
            match place.id.as_str() {
                "" => pieces[place.piece].class.as_str(),
                id => id,
            }
        };
        let path = groove_path(parting.groove, r);
        cuts.push(OpenCut {
            placement: parting.left,
            kind: CutKind::Groove,
            exact: path.contour().clone(),
            path,
            remark: format!("groove {} to {}", name(parting.left), name(parting.right)),
        });
    }
    Ok(cuts)
}

/// Strokes across a bar that clear a groove from wall to wall, each from waste to waste.
fn groove_path(groove: Rect, r: f64) -> OpenPath {
    let out = r + CLEAR;
    let (low, high) = (groove.y0 - out, groove.y1 + out);
    let (from, wide) = (groove.x0 + r, groove.width() - 2.0 * r);
    let strokes = if wide <= SAME_FIGURE {
        0
    } else {
        (wide / (STROKE * r)).ceil() as u32
    };
    let mut points = NonEmpty::one(Point::new(from, low));
    points.push(Point::new(from, high));
    for k in 1..=strokes {
        let x = from + wide * f64::from(k) / f64::from(strokes);
        let ends = if k % 2 == 0 { [low, high] } else { [high, low] };
        for y in ends {
            points.push(Point::new(x, y));
        }
    }
    OpenPath::through(&points)
}

/// The notches of a piece; `beyond` is how far the tool's axis may go past its first end and its last.
fn piece_path(
    piece: &FlatPiece,
    set: &RouterSettings,
    beyond: [f64; 2],
) -> Result<PiecePath, PathError> {
    let r = 0.5 * set.diameter;
    let corners = corner_reliefs(piece, r, set.relief);
    let mut notches = Vec::new();
    let mut reliefs = Vec::new();
    for edge in [Edge::Back, Edge::Front] {
        for cut in troughs(piece, edge) {
            let narrow = || PathError::NarrowNotch {
                class: piece.class.clone(),
                run: cut.x1 - cut.x0,
                width: set.diameter,
            };
            let path = trough_path(piece, edge, &cut, r, beyond).ok_or_else(narrow)?;
            let mut points = Vec::with_capacity(path.len());
            for p in path {
                points.push(p);
                // Two corners in one place where the tool just fits into the notch.
                let here = |c: &&CornerRelief| {
                    set.relief != Relief::None && c.corner.distance(p) <= SAME_FIGURE
                };
                for c in corners.iter().filter(here) {
                    if !reliefs.iter().any(|q: &Point| q.distance(c.reach) < 1e-6) {
                        reliefs.push(c.reach);
                    }
                    points.push(c.reach);
                    points.push(p);
                }
            }
            let points = NonEmpty::of(points).ok_or_else(narrow)?;
            notches.push(OpenPath::through(&points));
        }
    }
    Ok(PiecePath { notches, reliefs })
}

/// The cut round a run, parted at its tabs.
fn run_path(run: &Run<'_>, set: &RouterSettings) -> Result<RunPath, PathError> {
    let r = 0.5 * set.diameter;
    let body = run.body(r);
    let too_small = || PathError::narrow(&body, body.length, set.diameter);
    let grown = grow(&body.body(), r).ok_or_else(too_small)?;
    // On its side the notches are cut by themselves; on its back the cut runs in to the corners of its ends.
    let corners = match body.lies {
        Lies::OnSide => Vec::new(),
        Lies::OnBack => corner_reliefs(&body, r, set.relief),
    };
    let (outline, reliefs) = relieved(grown, &corners, set.relief).ok_or_else(too_small)?;
    let rules = HoldRules {
        count: set.tabs,
        width: set.tab_width,
        least: set.least_tab_width,
        radius: r,
    };
    let parted = parted(&outline, &body, &rules).ok_or_else(too_small)?;
    Ok(RunPath {
        outline,
        parted,
        reliefs,
    })
}

/// A stretch of an edge that is cut at least this deep.
struct Trough {
    x0: f64,
    x1: f64,
    depth: f64,
}

/// The steps of an edge as troughs, each as wide as the edge is at least that deep; shallow first.
fn troughs(piece: &FlatPiece, edge: Edge) -> Vec<Trough> {
    let steps = piece.steps(edge);
    let mut out: Vec<Trough> = Vec::new();
    let mut i = 0;
    while i < steps.len() {
        let mut j = i + 1;
        while j < steps.len() && steps[j].x0 - steps[j - 1].x1 <= SAME_FIGURE {
            j += 1;
        }
        let group = &steps[i..j];
        let mut levels: Vec<f64> = group.iter().map(|s| s.depth).collect();
        levels.sort_by(f64::total_cmp);
        levels.dedup_by(|b, a| (*b - *a).abs() <= SAME_FIGURE);
        for depth in levels {
            let mut open: Option<Trough> = None;
            for s in group {
                if s.depth >= depth - SAME_FIGURE {
                    match &mut open {
                        Some(t) => t.x1 = s.x1,
                        None => {
                            open = Some(Trough {
                                x0: s.x0,
                                x1: s.x1,
                                depth,
                            })
                        }
                    }
                } else {
                    out.extend(open.take());
                }
            }
            out.extend(open);
        }
        i = j;
    }
    out
}

/// Corners of the path that clears a trough: in along one wall, along the floor, out along the other;
/// strokes between them where the trough is wider than two tools. Walls that lie beyond an end of the
/// piece are passed outside it, as far as `beyond`. `None` where the tool does not fit.
fn trough_path(
    piece: &FlatPiece,
    edge: Edge,
    t: &Trough,
    r: f64,
    beyond: [f64; 2],
) -> Option<Vec<Point>> {
    let (mut left, mut right) = (t.x0 + r, t.x1 - r);
    if t.x0 <= 0.0 {
        left = -beyond[0];
    }
    if t.x1 >= piece.length {
        right = piece.length + beyond[1];
    }
    if right < left - SAME_FIGURE {
        return None;
    }
    let at = |x: f64, depth: f64| match edge {
        Edge::Back => Point::new(x, depth),
        Edge::Front => Point::new(x, piece.depth - depth),
    };
    let (out, floor) = (-(r + CLEAR), t.depth - r);
    if right - left <= SAME_FIGURE {
        return Some(vec![at(left, out), at(left, floor), at(left, out)]);
    }
    let mut path = Vec::new();
    let strokes = ((right - left) / (STROKE * r)).ceil() as usize;
    if right - left > 2.0 * r {
        for k in 1..strokes {
            let x = left + (right - left) * k as f64 / strokes as f64;
            path.extend([at(x, out), at(x, floor), at(x, out)]);
        }
        path.reverse();
    }
    path.extend([
        at(left, out),
        at(left, floor),
        at(right, floor),
        at(right, out),
    ]);
    Some(path)
}
