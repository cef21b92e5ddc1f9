//! Flat cutting with a beam: one closed contour a piece, parted only by its bridges; before it the dashes of
//! its fold.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use kurbo::{Point, Vec2};

use super::PathError;
use super::hold_room::HoldRules;
use super::holds::{Parted, parted};
use super::note::Note;
use super::offset::grow;
use super::program::{CutContour, CutKind, Head, Move, Program, push_contour};
use super::relief::{corner_reliefs, relieved};
use super::tour::{Visit, short_tour};
use crate::geom::Contour;
use crate::panel::Relief;
use crate::setup::{Edge, FlatPiece, FlatSheet, PieceId, Placement, PlacementId};
use crate::table::Table;

/// Longest way from the pierced hole to the path, mm.
const LONGEST_LEAD: f64 = 1.0;

/// How a laser cuts a sheet. Lengths are mm, feeds mm/min.
#[derive(Debug, Clone, PartialEq)]
pub struct LaserSettings {
    /// Width of the cut.
    pub kerf: f64,
    /// Cutting feed.
    pub feed: f64,
    /// Power, percent of full.
    pub power_percent: f64,
    /// S word for that power.
    pub power_word: f64,
    /// Bridges a piece.
    pub bridges: u32,
    /// Material left at a bridge.
    pub bridge_width: f64,
    /// No bridge is made shorter than this to find room.
    pub least_bridge_width: f64,
    /// Distance between pieces.
    pub gap: f64,
    /// How inside corners are relieved.
    pub relief: Relief,
    /// One step of a coordinate's last decimal in the programs.
    pub step: f64,
}

/// A piece's path in its own frame.
struct PiecePath {
    closed: Contour,
    parted: Parted,
    reliefs: Vec<Point>,
}

/// Plans one sheet.
///
/// # Errors
/// A notch that the beam does not fit into.
pub fn laser_program(
    pieces: &Table<FlatPiece>,
    sheet: &FlatSheet,
    set: &LaserSettings,
    stem: String,
    notes: Vec<Note>,
) -> Result<Program, PathError> {
    let lead = LONGEST_LEAD.min(0.5 * (set.gap - set.kerf)).max(0.0);
    let paths = piece_paths(pieces, sheet, set)?;
    let visits = visits(pieces, sheet, &paths, lead);
    let mut moves = Vec::new();
    let mut holds = Vec::new();
    let mut contours = Vec::new();
    // A visit for each placement.
    let places: Vec<(PlacementId, &Placement)> = sheet.placements.entries().collect();
    for (placement, p) in short_tour(&visits, Point::ORIGIN)
        .into_iter()
        .map(|i| places[i])
    {
        // As above.
        let (piece, path) = (&pieces[p.piece], &paths[&p.piece]);
        let at = Vec2::new(p.x, p.y);
        moves.push(Move::Remark(format!("piece {}", piece.named(&p.id))));
        for &[from, to] in &piece.dashes {
            moves.extend([Move::Travel(from + at), Move::BeamOn]);
            let path = Contour::open([from, to]).moved(p.x, p.y);
            push_contour(&mut moves, &path);
            moves.push(Move::BeamOff);
            contours.push(CutContour {
                placement,
                kind: CutKind::Fold,
                path,
            });
        }
        for part in path.parted.parts.iter().map(|part| part.moved(at)) {
            let first = part.path.start();
            // Pierced in the waste, a lead away from the path.
            moves.push(Move::Travel(first + part.outward * lead));
            moves.push(Move::BeamOn);
            if lead > 0.0 {
                moves.push(Move::Line(first));
            }
            push_contour(&mut moves, part.path.contour());
            moves.push(Move::BeamOff);
        }
        let bridges = path.parted.holds.iter();
        holds.extend(bridges.map(|bridge| bridge.hold(placement, at, sheet.thickness)));
        let shape = path.closed.moved(p.x, p.y);
        contours.push(CutContour {
            placement,
            kind: CutKind::Outline,
            path: shape,
        });
    }
    Ok(Program {
        stem,
        notes,
        head: Head::Beam {
            kerf: set.kerf,
            power_percent: set.power_percent,
            power_word: set.power_word,
        },
        feed: set.feed,
        moves,
        holds,
        reliefs: paths
            .into_iter()
            .map(|(piece, path)| (piece, path.reliefs))
            .collect(),
        contours,
    })
}

/// Where the head comes to each piece and leaves it, in the order of the placements.
fn visits(
    pieces: &Table<FlatPiece>,
    sheet: &FlatSheet,
    paths: &BTreeMap<PieceId, PiecePath>,
    lead: f64,
) -> Vec<Visit> {
    sheet
        .placements
        .iter()
        .map(|p| {
            let at = |q: Point| Point::new(q.x + p.x, q.y + p.y);
            // Every piece that is on the sheet has its path.
            let parts = &paths[&p.piece].parted.parts;
            let first = parts.first();
            Visit {
                enter: at(match pieces[p.piece].dashes.first() {
                    Some(&[from, _]) => from,
                    None => first.path.start() + first.outward * lead,
                }),
                leave: at(parts.last().path.end()),
            }
        })
        .collect()
}

/// The path of every piece that is on the sheet.
fn piece_paths(
    pieces: &Table<FlatPiece>,
    sheet: &FlatSheet,
    set: &LaserSettings,
) -> Result<BTreeMap<PieceId, PiecePath>, PathError> {
    let mut paths: BTreeMap<PieceId, PiecePath> = BTreeMap::new();
    for place in &sheet.placements {
        if let Entry::Vacant(entry) = paths.entry(place.piece) {
            let piece = &pieces[place.piece];
            let exact = piece_path(piece, set)?;
            // Drawings keep the exact path: they carry more decimals than programs do.
            entry.insert(PiecePath {
                closed: exact.closed,
                ..piece_path(&piece.eased(0.5 * set.kerf, set.step), set)?
            });
        }
    }
    Ok(paths)
}

fn piece_path(piece: &FlatPiece, set: &LaserSettings) -> Result<PiecePath, PathError> {
    let r = 0.5 * set.kerf;
    let (closed, reliefs) = closed_path(piece, r, set.relief)?;
    let rules = HoldRules {
        count: set.bridges,
        width: set.bridge_width,
        least: set.least_bridge_width,
        radius: r,
    };
    let parted = parted(&closed, piece, &rules).ok_or_else(|| too_narrow(piece, r))?;
    Ok(PiecePath {
        closed,
        parted,
        reliefs,
    })
}

/// The closed path round a piece, in its own frame, of a cut of radius `r`, mm; and the centres of the cuts that relieve
/// its inside corners.
pub(super) fn closed_path(
    piece: &FlatPiece,
    r: f64,
    relief: Relief,
) -> Result<(Contour, Vec<Point>), PathError> {
    let narrow = || too_narrow(piece, r);
    let grown = grow(&piece.drawn, r).ok_or_else(narrow)?;
    // A notch that the cut does not fit into closes without a word: as many inside corners must be
    // left in the path as were drawn.
    let corners = corner_reliefs(piece, r, relief);
    relieved(grown, &corners, relief).ok_or_else(narrow)
}

fn too_narrow(piece: &FlatPiece, r: f64) -> PathError {
    // As far as it lies in the piece: an end may leave but a little of a notch.
    let run = [Edge::Back, Edge::Front]
        .iter()
        .flat_map(|&edge| piece.steps(edge))
        .map(|s| s.x1 - s.x0)
        .fold(f64::INFINITY, f64::min);
    PathError::narrow(piece, run, 2.0 * r)
}
