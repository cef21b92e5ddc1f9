//! Flat cutting with a router: notches first, as open cuts that leave the edge, then round the pieces
//! in depth passes that lift over the tabs.

use kurbo::Point;

use super::PathError;
use super::holds::{back_edge_holds, parted};
use super::offset::grow;
use super::program::{CutContour, CutKind, Head, Move, Program, push_contour};
use super::relief::{CornerRelief, corner_reliefs};
use super::tour::{Visit, short_tour};
use crate::geom::{Contour, SAME_PIECE};
use crate::panel::{Milling, Relief};
use crate::setup::{Edge, FlatPiece, FlatSheet};

/// How far the tool's round stays clear of the edge before it enters a notch, mm.
pub(crate) const CLEAR: f64 = 0.5;
/// Greatest distance between strokes that clear a wide notch, in tool radii.
const STROKE: f64 = 1.6;
/// How far below the stock's underside the last pass goes, if the spoil board allows it, mm.
pub(super) const THROUGH: f64 = 0.2;

/// How a router cuts a sheet. Lengths are mm, feeds mm/min.
#[derive(Debug, Clone, PartialEq)]
pub struct RouterSettings {
    /// Effective tool diameter.
    pub diameter: f64,
    /// Cutting feed.
    pub feed: f64,
    /// Feed straight down.
    pub plunge_feed: f64,
    /// Spindle speed, rev/min.
    pub speed_rpm: f64,
    /// Wait for the spindle, s.
    pub spin_up_s: f64,
    /// Greatest depth of a pass.
    pub pass_depth: f64,
    /// How deep the tool may cut into the spoil board.
    pub spoil: f64,
    /// Safe height above the stock's top.
    pub safe_height: f64,
    /// Tabs a piece.
    pub tabs: u32,
    /// Wood left at a tab.
    pub tab_width: f64,
    /// Height of a tab.
    pub tab_height: f64,
    /// Material between the cuts of neighbouring pieces.
    pub gap: f64,
    /// How inside corners are relieved.
    pub relief: Relief,
    /// Wood that is trimmed after glue-up, at both ends.
    pub overhang: f64,
    /// Tool table number.
    pub tool_number: u32,
    /// What the maker calls the tool.
    pub tool_name: String,
    /// Which way the tool goes along the walls of a slot.
    pub milling: Milling,
}

impl RouterSettings {
    /// z of each pass above the bed, from the top down, equal steps of at most the pass depth.
    #[must_use]
    pub fn passes(&self, thickness: f64) -> Vec<f64> {
        let total = thickness + THROUGH.min(self.spoil);
        let count = (total / self.pass_depth - 1e-9).ceil().max(1.0);
        (1..=count as u32)
            .map(|k| thickness - total * f64::from(k) / count)
            .map(|z| (z * 1e3).round() / 1e3)
            .collect()
    }
}

/// A piece's paths in its own frame.
struct PiecePath {
    notches: Vec<Contour>,
    outline: Contour,
    parts: Vec<Contour>,
    places: Vec<f64>,
    reliefs: Vec<Point>,
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
    notes: Vec<String>,
) -> Result<Program, PathError> {
    let mut paths: Vec<Option<PiecePath>> = pieces.iter().map(|_| None).collect();
    for place in &sheet.placements {
        if paths[place.piece].is_none() {
            paths[place.piece] = Some(piece_path(&pieces[place.piece], set)?);
        }
    }
    let passes = set.passes(sheet.thickness);
    let mut moves = Vec::new();
    let mut contours = Vec::new();

    // Notches of all pieces while every piece is still part of the sheet.
    let cuts: Vec<(usize, Contour)> = sheet
        .placements
        .iter()
        .enumerate()
        .flat_map(|(i, p)| {
            let notches = paths[p.piece]
                .as_ref()
                .map_or(&[][..], |path| &path.notches);
            notches.iter().map(move |c| (i, c.moved(p.x, p.y)))
        })
        .collect();
    let ends = |c: &Contour| {
        let first = c.vertices.first().map_or(Point::ORIGIN, |v| v.at);
        (first, c.vertices.last().map_or(first, |v| v.at))
    };
    let visits: Vec<Visit> = cuts
        .iter()
        .map(|(_, c)| {
            let (first, last) = ends(c);
            Visit {
                enter: first,
                leave: if passes.len() % 2 == 1 { last } else { first },
            }
        })
        .collect();
    for i in short_tour(&visits, Point::ORIGIN) {
        let (placement, path) = &cuts[i];
        let p = &sheet.placements[*placement];
        moves.push(Move::Remark(format!(
            "notch {} {}",
            pieces[p.piece].class, p.id
        )));
        moves.push(Move::Travel(ends(path).0));
        let back = reversed(path);
        for (k, &z) in passes.iter().enumerate() {
            moves.push(Move::Plunge(z));
            push_contour(&mut moves, if k % 2 == 0 { path } else { &back });
        }
        moves.push(Move::Raise);
        contours.push(CutContour {
            placement: *placement,
            kind: CutKind::Notch,
            path: path.clone(),
        });
    }

    // Then round the pieces.
    let lead = CLEAR.min(0.5 * set.gap);
    let entry = |p: &crate::setup::Placement| {
        let first = paths[p.piece].as_ref().and_then(|path| path.parts.first());
        first.map_or(Point::ORIGIN, |c| {
            let (at, _) = ends(c);
            Point::new(at.x + p.x, at.y + p.y - lead)
        })
    };
    let visits: Vec<Visit> = sheet
        .placements
        .iter()
        .map(|p| Visit {
            enter: entry(p),
            leave: entry(p),
        })
        .collect();
    let mut holds = Vec::new();
    for placement in short_tour(&visits, Point::ORIGIN) {
        let p = &sheet.placements[placement];
        let Some(path) = &paths[p.piece] else {
            continue;
        };
        let start = entry(p);
        let parts: Vec<Contour> = path.parts.iter().map(|c| c.moved(p.x, p.y)).collect();
        let Some(first) = parts.first().map(|c| ends(c).0) else {
            continue;
        };
        moves.push(Move::Remark(format!(
            "outline {} {}",
            pieces[p.piece].class, p.id
        )));
        moves.push(Move::Travel(start));
        for (k, &z) in passes.iter().enumerate() {
            if k > 0 {
                // Down in the waste beside the path, not on it.
                moves.push(Move::Line(start));
            }
            moves.push(Move::Plunge(z));
            moves.push(Move::Line(first));
            for (i, part) in parts.iter().enumerate() {
                push_contour(&mut moves, part);
                let next = ends(&parts[(i + 1) % parts.len()]).0;
                let over = !path.places.is_empty() && z < set.tab_height;
                if over {
                    moves.push(Move::Plunge(set.tab_height));
                }
                if next.distance(ends(part).1) > SAME_PIECE {
                    moves.push(Move::Line(next));
                }
                if over && i + 1 < parts.len() {
                    moves.push(Move::Plunge(z));
                }
            }
        }
        moves.push(Move::Raise);
        let size = [set.tab_width, set.tab_height];
        holds.extend(back_edge_holds(
            placement,
            p,
            &path.places,
            0.5 * set.diameter,
            size,
        ));
        let shape = path.outline.moved(p.x, p.y);
        contours.push(CutContour {
            placement,
            kind: CutKind::Outline,
            path: shape,
        });
    }
    Ok(Program {
        stem,
        notes,
        head: Head::Cutter {
            diameter: set.diameter,
            speed_rpm: set.speed_rpm,
            spin_up_s: set.spin_up_s,
            plunge_feed: set.plunge_feed,
            safe_z: sheet.thickness + set.safe_height,
            tool_number: set.tool_number,
            tool_name: set.tool_name.clone(),
        },
        feed: set.feed,
        moves,
        holds,
        reliefs: paths
            .into_iter()
            .map(|p| p.map_or_else(Vec::new, |p| p.reliefs))
            .collect(),
        contours,
    })
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

fn piece_path(piece: &FlatPiece, set: &RouterSettings) -> Result<PiecePath, PathError> {
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
            let path = trough_path(piece, edge, &cut, r).ok_or(narrow)?;
            let mut points = Vec::with_capacity(path.len());
            for p in path {
                points.push(p);
                // Two corners in one place where the tool just fits into the notch.
                let here = |c: &&CornerRelief| {
                    set.relief != Relief::None && c.corner.distance(p) <= SAME_PIECE
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
    let rect = Contour::polygon([
        Point::new(0.0, 0.0),
        Point::new(piece.length, 0.0),
        Point::new(piece.length, piece.depth),
        Point::new(0.0, piece.depth),
    ]);
    let too_small = || PathError::NarrowNotch {
        class: piece.class.clone(),
        run: piece.length,
        width: set.diameter,
    };
    let outline = grow(&rect, r).ok_or_else(too_small)?;
    let wood = set.tab_width + set.diameter;
    let places = piece.hold_places(set.tabs, set.tab_width, set.overhang);
    let (places, parts) = parted(&outline, -r, places, 0.5 * wood);
    Ok(PiecePath {
        notches,
        outline,
        parts,
        places,
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
        while j < steps.len() && steps[j].x0 - steps[j - 1].x1 <= SAME_PIECE {
            j += 1;
        }
        let group = &steps[i..j];
        let mut levels: Vec<f64> = group.iter().map(|s| s.depth).collect();
        levels.sort_by(f64::total_cmp);
        levels.dedup_by(|b, a| (*b - *a).abs() <= SAME_PIECE);
        for depth in levels {
            let mut open: Option<Trough> = None;
            for s in group {
                if s.depth >= depth - SAME_PIECE {
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
/// piece are passed outside it. `None` where the tool does not fit.
fn trough_path(piece: &FlatPiece, edge: Edge, t: &Trough, r: f64) -> Option<Vec<Point>> {
    let (mut left, mut right) = (t.x0 + r, t.x1 - r);
    if t.x0 <= 0.0 {
        left = -(r + CLEAR);
    }
    if t.x1 >= piece.length {
        right = piece.length + r + CLEAR;
    }
    if right < left - SAME_PIECE {
        return None;
    }
    let at = |x: f64, depth: f64| match edge {
        Edge::Back => Point::new(x, depth),
        Edge::Front => Point::new(x, piece.depth - depth),
    };
    let (out, floor) = (-(r + CLEAR), t.depth - r);
    if right - left <= SAME_PIECE {
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
