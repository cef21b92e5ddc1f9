//! Flat cutting with a router: notches first, as open cuts that leave the edge, then round the pieces
//! in depth passes that lift over the tabs.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use kurbo::{Point, Rect};

use super::PathError;
use super::hold_room::HoldRules;
use super::holds::{Part, Parted, parted};
use super::note::Note;
use super::offset::grow;
use super::program::{CutContour, CutKind, Move, Program, push_contour};
use super::relief::{CornerRelief, corner_reliefs, relieved};
use super::router::{RouterSettings, STROKE};
use super::run::Run;
use super::tour::{Visit, short_tour};
use crate::geom::{Contour, SAME_FIGURE};
use crate::panel::Relief;
use crate::setup::{Edge, FlatPiece, Lies};
use crate::stock::FlatSheet;

/// How far the tool's round stays clear of the edge before it enters a notch, mm.
pub(crate) const CLEAR: f64 = 0.5;

/// Cuts inside a piece, in its own frame.
struct PiecePath {
    notches: Vec<Contour>,
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
    placement: usize,
    kind: CutKind,
    path: Contour,
    /// The path before its floors were brought to the program's decimals: what drawings show.
    exact: Contour,
    remark: String,
}

/// Plans one sheet.
///
/// # Errors
/// A notch that the tool does not fit into.
pub fn router_program(
    pieces: &[FlatPiece],
    sheet: &FlatSheet,
    set: &RouterSettings,
    stem: String,
    notes: Vec<Note>,
) -> Result<Program, PathError> {
    let mut reliefs: Vec<Vec<Point>> = vec![Vec::new(); pieces.len()];
    let mut moves = Vec::new();
    let mut contours = Vec::new();

    // Notches and grooves of all pieces while every piece is still part of the sheet.
    let cuts = open_cuts(pieces, sheet, set, &mut reliefs)?;
    let through = set.passes(sheet.thickness);
    let half = set.groove_passes(sheet.thickness);
    let passes = |kind| match kind {
        CutKind::Groove => half.as_slice(),
        CutKind::Notch | CutKind::Outline | CutKind::Fold => through.as_slice(),
    };
    let ends = |c: &Contour| {
        let first = c.vertices.first().map_or(Point::ORIGIN, |v| v.at);
        (first, c.vertices.last().map_or(first, |v| v.at))
    };
    let visits: Vec<Visit> = cuts
        .iter()
        .map(|cut| {
            let (first, last) = ends(&cut.path);
            Visit {
                enter: first,
                leave: if passes(cut.kind).len() % 2 == 1 {
                    last
                } else {
                    first
                },
            }
        })
        .collect();
    for i in short_tour(&visits, Point::ORIGIN) {
        let cut = &cuts[i];
        moves.push(Move::Remark(cut.remark.clone()));
        moves.push(Move::Travel(ends(&cut.path).0));
        let back = reversed(&cut.path);
        for (k, &z) in passes(cut.kind).iter().enumerate() {
            moves.push(Move::Plunge(z));
            push_contour(&mut moves, if k % 2 == 0 { &cut.path } else { &back });
        }
        moves.push(Move::Raise);
        contours.push(CutContour {
            placement: cut.placement,
            kind: cut.kind,
            path: cut.exact.clone(),
        });
    }

    // Then round the pieces.
    let lead = CLEAR.min(0.5 * set.gap);
    let runs: Vec<Run<'_>> = sheet
        .runs()
        .into_iter()
        .map(|placements| Run::of(pieces, sheet, placements))
        .collect();
    let mut paths: BTreeMap<Vec<usize>, RunPath> = BTreeMap::new();
    for run in &runs {
        if let Entry::Vacant(place) = paths.entry(run.pieces()) {
            let path = place.insert(run_path(run, set)?);
            if let &[piece] = run.pieces().as_slice()
                && let Some(of_piece) = reliefs.get_mut(piece)
            {
                of_piece.extend(&path.reliefs);
            }
        }
    }
    let paths: Vec<Option<&RunPath>> = runs.iter().map(|run| paths.get(&run.pieces())).collect();
    let entry = |i: usize| {
        let first = paths
            .get(i)
            .copied()
            .flatten()
            .and_then(|p| p.parted.parts.first());
        let at = runs.get(i).map_or(Point::ORIGIN, Run::at).to_vec2();
        first.map_or(Point::ORIGIN, |part| {
            ends(&part.path).0 + at + part.outward * lead
        })
    };
    let visits: Vec<Visit> = (0..runs.len())
        .map(|i| Visit {
            enter: entry(i),
            leave: entry(i),
        })
        .collect();
    let mut holds = Vec::new();
    for i in short_tour(&visits, Point::ORIGIN) {
        let (Some(run), Some(Some(path))) = (runs.get(i), paths.get(i)) else {
            continue;
        };
        let (start, at) = (entry(i), run.at().to_vec2());
        let Parted { holds: tabs, parts } = &path.parted;
        let parts: Vec<Part> = parts.iter().map(|part| part.moved(at)).collect();
        let Some(first) = parts.first().map(|part| ends(&part.path).0) else {
            continue;
        };
        moves.push(Move::Remark(format!("outline {}", run.names())));
        moves.push(Move::Travel(start));
        for (k, &z) in through.iter().enumerate() {
            if k > 0 {
                // Down in the waste beside the path, not on it.
                moves.push(Move::Line(start));
            }
            moves.push(Move::Plunge(z));
            moves.push(Move::Line(first));
            for (i, part) in parts.iter().enumerate() {
                push_contour(&mut moves, &part.path);
                let next = ends(&parts[(i + 1) % parts.len()].path).0;
                let over = !tabs.is_empty() && z < set.tab_height;
                if over {
                    moves.push(Move::Plunge(set.tab_height));
                }
                if next.distance(ends(&part.path).1) > SAME_FIGURE {
                    moves.push(Move::Line(next));
                }
                if over && i + 1 < parts.len() {
                    moves.push(Move::Plunge(z));
                }
            }
        }
        moves.push(Move::Raise);
        holds.extend((tabs.iter()).map(|tab| tab.hold(run.part_at(tab.at.x), at, set.tab_height)));
        contours.push(CutContour {
            placement: run.first(),
            kind: CutKind::Outline,
            path: path.outline.moved(at.x, at.y),
        });
    }
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

/// The notches of every placement, then the grooves, in the sheet's frame; `reliefs` are filled in for the
/// pieces that are on the sheet.
fn open_cuts(
    pieces: &[FlatPiece],
    sheet: &FlatSheet,
    set: &RouterSettings,
    reliefs: &mut [Vec<Point>],
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
    let mut paths: BTreeMap<(usize, [bool; 2]), [PiecePath; 2]> = BTreeMap::new();
    let mut cuts = Vec::new();
    for (i, p) in sheet.placements.iter().enumerate() {
        let Some(piece) = pieces.get(p.piece) else {
            continue;
        };
        let joined = sheet.joined(i);
        let [path, exact] = match paths.entry((p.piece, joined)) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(place) => {
                let eased = piece.eased(r, set.step);
                let path = piece_path(&eased, set, joined.map(gap))?;
                let exact = piece_path(piece, set, joined.map(gap))?;
                if let Some(of_piece) = reliefs.get_mut(p.piece) {
                    of_piece.clone_from(&path.reliefs);
                }
                place.insert([path, exact])
            }
        };
        let notches = path.notches.iter().zip(&exact.notches);
        cuts.extend(notches.map(|(path, exact)| OpenCut {
            placement: i,
            kind: CutKind::Notch,
            path: path.moved(p.x, p.y),
            exact: exact.moved(p.x, p.y),
            remark: format!("notch {}", piece.named(&p.id)),
        }));
    }
    for parting in sheet.partings(pieces) {
        // Where there is no one member, the class is what the operator calls it.
        let name = |i: usize| {
            let place = sheet.placements.get(i)?;
            match place.id.as_str() {
                "" => pieces.get(place.piece).map(|p| p.class.as_str()),
                id => Some(id),
            }
        };
        let [left, right] = [parting.left, parting.right].map(|i| name(i).unwrap_or_default());
        cuts.push(OpenCut {
            placement: parting.left,
            kind: CutKind::Groove,
            path: groove_path(parting.groove, r),
            exact: groove_path(parting.groove, r),
            remark: format!("groove {left} to {right}"),
        });
    }
    Ok(cuts)
}

/// Strokes across a bar that clear a groove from wall to wall, each from waste to waste.
fn groove_path(groove: Rect, r: f64) -> Contour {
    let out = r + CLEAR;
    let (low, high) = (groove.y0 - out, groove.y1 + out);
    let (from, wide) = (groove.x0 + r, groove.width() - 2.0 * r);
    let strokes = if wide <= SAME_FIGURE {
        0
    } else {
        (wide / (STROKE * r)).ceil() as u32
    };
    let mut points = Vec::new();
    for k in 0..=strokes {
        let x = from + wide * f64::from(k) / f64::from(strokes.max(1));
        let ends = if k % 2 == 0 { [low, high] } else { [high, low] };
        points.extend(ends.map(|y| Point::new(x, y)));
    }
    Contour::open(points)
}

fn reversed(path: &Contour) -> Contour {
    // Notch paths are straight throughout: no bulge to turn round.
    let mut vertices = path.vertices.clone();
    vertices.reverse();
    Contour {
        vertices,
        closed: false,
    }
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
            let narrow = PathError::NarrowNotch {
                class: piece.class.clone(),
                run: cut.x1 - cut.x0,
                width: set.diameter,
            };
            let path = trough_path(piece, edge, &cut, r, beyond).ok_or(narrow)?;
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
            notches.push(Contour::open(points));
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
    let parted = parted(&outline, &body, &rules);
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
