//! What the summary tells of the infill: a row for each class of pieces, and one for each cell.

use serde::Serialize;

use crate::geom::micron;
use crate::infill::{FoldAt, Infill, Piece};
use crate::panel::JobFiles;

#[derive(Debug, Clone, Serialize)]
pub(super) struct InfillOut {
    id: String,
    pattern: String,
    material: String,
    cut: &'static str,
    count: u64,
    spares: u64,
    face: f64,
    depth: f64,
    length: f64,
    cut_length: f64,
    blank: f64,
    ends: [[f64; 2]; 2],
    /// Which ends have a notch that runs in between two long points.
    reentrant: [bool; 2],
    /// How far along the faces plain ends leave the seam open.
    open: f64,
    fold: Option<FoldOut>,
    trimmed: bool,
    outline: Vec<[f64; 2]>,
}

/// Where a hinged piece is sawn nearly through and folded.
#[derive(Debug, Clone, Serialize)]
pub(super) struct FoldOut {
    at: f64,
    angle: f64,
    kerf: &'static str,
    walls: [f64; 2],
    /// Of one that the machine perforates, from the blank's first end.
    #[serde(skip_serializing_if = "Option::is_none")]
    perforated_at: Option<f64>,
}

fn fold(fold: FoldAt, perforated: Option<f64>) -> FoldOut {
    FoldOut {
        perforated_at: perforated.map(micron),
        at: micron(fold.at),
        angle: micron(fold.deg),
        kerf: fold.side(),
        walls: fold.walls.map(micron),
    }
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct CellOut {
    id: String,
    shape: String,
    cut: bool,
    pattern: Option<String>,
    corners: Vec<[f64; 2]>,
    opening: Vec<[f64; 2]>,
    area: f64,
    pieces: Vec<InCellOut>,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct InCellOut {
    id: String,
    turn: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    half: Option<u8>,
    start: [f64; 2],
    end: [f64; 2],
    outline: Vec<[f64; 2]>,
}

fn points(points: &[kurbo::Point]) -> Vec<[f64; 2]> {
    points.iter().map(|p| [micron(p.x), micron(p.y)]).collect()
}

fn pattern(files: &JobFiles, index: usize) -> String {
    files.patterns[index].name.clone()
}

pub(super) fn infill_rows(infill: &Infill, files: &JobFiles) -> Vec<InfillOut> {
    let asked = &infill.asked;
    let rows = infill.classes.iter().map(|c| {
        let cut_length = c.cut_length(asked.allowance);
        let in_blank = c.fold_in_blank(asked.allowance, asked.shooting);
        let perforated = in_blank.filter(|_| asked.perforation.is_some());
        InfillOut {
            id: c.id.clone(),
            pattern: pattern(files, c.filling.pattern),
            material: files.wood(c.filling.wood).0.name.clone(),
            cut: asked.cut.word(),
            count: c.count() as u64 * u64::from(files.panel.quantity),
            spares: files.panel.spares_of_each(),
            face: micron(c.face),
            depth: micron(c.filling.depth),
            length: micron(c.length),
            cut_length: micron(cut_length),
            blank: micron(cut_length + asked.shooting),
            ends: c.ends.map(|end| end.map(micron)),
            reentrant: c.reentrant(),
            open: if asked.plain_ends {
                micron(c.plain_opening)
            } else {
                0.0
            },
            fold: c.fold.map(|at| fold(at, perforated)),
            trimmed: c.trimmed,
            outline: points(&c.outline),
        }
    });
    rows.collect()
}

pub(super) fn cells(infill: &Infill, files: &JobFiles) -> Vec<CellOut> {
    let mut inside = infill.cells.column(|_, _| Vec::new());
    for piece in &infill.pieces {
        inside[piece.cell].push(piece);
    }
    let one = |piece: &Piece| InCellOut {
        id: infill.classes[piece.class].id.clone(),
        turn: piece.turn.word(),
        half: piece.half.map(|second| 1 + u8::from(second)),
        start: points(&[piece.start])[0],
        end: points(&[piece.end])[0],
        outline: points(&piece.outline),
    };
    let cells = infill.cells.entries();
    cells
        .map(|(c, cell)| CellOut {
            id: cell.id.clone(),
            shape: cell.shape.word(),
            cut: cell.cut,
            pattern: infill.patterns[c].map(|p| pattern(files, p)),
            corners: points(&cell.corners()),
            opening: points(cell.opening.corners()),
            area: micron(cell.opening.area()),
            pieces: inside[c].iter().map(|p| one(p)).collect(),
        })
        .collect()
}
