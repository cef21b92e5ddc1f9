//! Flat cutting with a beam: one closed contour a piece, parted only by its bridges; before it the dashes of
//! its fold.

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
use crate::setup::{Edge, FlatPiece};
use crate::stock::FlatSheet;

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
    pieces: &[FlatPiece],
    sheet: &FlatSheet,
    set: &LaserSettings,
    stem: String,
    notes: Vec<Note>,
) -> Result<Program, PathError> {
    let r = 0.5 * set.kerf;
    let lead = LONGEST_LEAD.min(0.5 * (set.gap - set.kerf)).max(0.0);
    let mut paths: Vec<Option<PiecePath>> = pieces.iter().map(|_| None).collect();
    for place in &sheet.placements {
        if paths[place.piece].is_none() {
            let piece = &pieces[place.piece];
            let exact = piece_path(piece, set)?;
            // Drawings keep the exact path: they carry more decimals than programs do.
            paths[place.piece] = Some(PiecePath {
                closed: exact.closed,
                ..piece_path(&piece.eased(r, set.step), set)?
            });
        }
    }
    let path_of = |piece: usize| paths[piece].as_ref();

    let visits: Vec<Visit> = sheet
        .placements
        .iter()
        .map(|p| {
            let at = |q: Point| Point::new(q.x + p.x, q.y + p.y);
            let parts = path_of(p.piece).map_or(&[][..], |path| &path.parted.parts);
            let fold = pieces.get(p.piece).and_then(|piece| piece.dashes.first());
            let enter = parts.first().and_then(|part| {
                let first = part.path.vertices.first()?;
                Some(first.at + part.outward * lead)
            });
            let leave = parts.last().and_then(|part| part.path.vertices.last());
            Visit {
                enter: match (fold, enter) {
                    (Some(&[from, _]), _) => at(from),
                    (None, Some(enter)) => at(enter),
                    (None, None) => Point::ORIGIN,
                },
                leave: leave.map_or(Point::ORIGIN, |v| at(v.at)),
            }
        })
        .collect();
    let mut moves = Vec::new();
    let mut holds = Vec::new();
    let mut contours = Vec::new();
    for placement in short_tour(&visits, Point::ORIGIN) {
        let p = &sheet.placements[placement];
        let Some(path) = path_of(p.piece) else {
            continue;
        };
        let name = pieces[p.piece].named(&p.id);
        moves.push(Move::Remark(format!("piece {name}")));
        for dash in &pieces[p.piece].dashes {
            let path = Contour::open(*dash).moved(p.x, p.y);
            if let Some(first) = path.vertices.first() {
                moves.extend([Move::Travel(first.at), Move::BeamOn]);
                push_contour(&mut moves, &path);
                moves.push(Move::BeamOff);
            }
            contours.push(CutContour {
                placement,
                kind: CutKind::Fold,
                path,
            });
        }
        let at = Vec2::new(p.x, p.y);
        for part in &path.parted.parts {
            let part = part.moved(at);
            let Some(first) = part.path.vertices.first() else {
                continue;
            };
            // Pierced in the waste, a lead away from the path.
            moves.push(Move::Travel(first.at + part.outward * lead));
            moves.push(Move::BeamOn);
            if lead > 0.0 {
                moves.push(Move::Line(first.at));
            }
            push_contour(&mut moves, &part.path);
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
            .map(|p| p.map_or_else(Vec::new, |p| p.reliefs))
            .collect(),
        contours,
    })
}

fn piece_path(piece: &FlatPiece, set: &LaserSettings) -> Result<PiecePath, PathError> {
    let r = 0.5 * set.kerf;
    let narrow = || {
        // As far as it lies in the piece: an end may leave but a little of a notch.
        let run = [Edge::Back, Edge::Front]
            .iter()
            .flat_map(|&edge| piece.steps(edge))
            .map(|s| s.x1 - s.x0)
            .fold(f64::INFINITY, f64::min);
        PathError::narrow(piece, run, set.kerf)
    };
    let grown = grow(&piece.drawn, r).ok_or_else(narrow)?;
    // A notch that the beam does not fit into closes without a word: as many inside corners must be
    // left in the path as were drawn.
    let corners = corner_reliefs(piece, r, set.relief);
    let (closed, reliefs) = relieved(grown, &corners, set.relief).ok_or_else(narrow)?;
    let rules = HoldRules {
        count: set.bridges,
        width: set.bridge_width,
        least: set.least_bridge_width,
        radius: r,
    };
    let parted = parted(&closed, piece, &rules);
    Ok(PiecePath {
        closed,
        parted,
        reliefs,
    })
}
