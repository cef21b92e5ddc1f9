//! From a ground and what the panel file says to all pieces of infill.

use kurbo::Point;

use super::cells::{Cell, CellId, cells};
use super::error::InfillError;
use super::lay::{Half, Laid, lay};
use super::pieces::{InfillClassId, Piece, PieceClass, Shape, class_id, same_ring};
use crate::geom::SAME_FIGURE;
use crate::lattice::{Lattice, Turn};
use crate::limits::PIECES;
use crate::panel::{self, Chosen, Filling, Pattern};
use crate::table::{Column, Table};

/// The narrowest strip that the outline may leave of a piece, mm (common practice, no source).
const LEAST_WIDTH: f64 = 0.5;
/// A piece that is shorter is none, whatever the panel file holds to be long enough, mm.
const LEAST_LENGTH: f64 = 0.01;

/// All infill of a panel.
#[derive(Debug, Clone, PartialEq)]
pub struct Infill {
    /// What was asked for, each filling with the size that it really gets.
    pub asked: panel::Infill,
    /// The cells, row by row from the lower left.
    pub cells: Table<Cell>,
    /// Index of the pattern of each cell; `None` where it stays empty.
    pub patterns: Column<Cell, Option<usize>>,
    /// The pieces, cell by cell.
    pub pieces: Table<Piece>,
    /// Same pieces.
    pub classes: Table<PieceClass>,
}

/// What a cell is given, and the key that says so.
#[derive(Debug, Clone)]
struct Given {
    filling: Filling,
    key: String,
    feature: Option<usize>,
}

impl Infill {
    /// Fills the cells of a ground.
    ///
    /// # Errors
    /// Every [`InfillError`] that can be told before the next step would be meaningless.
    pub fn build(
        lattice: &Lattice,
        asked: &panel::Infill,
        patterns: &[Pattern],
    ) -> Result<Self, Vec<InfillError>> {
        let cells = cells(lattice);
        let last = match cells.iter().last() {
            Some(last) if cells.iter().any(|c| !c.cut) => last,
            _ => return Err(vec![InfillError::NoWholeCell]),
        };
        let given = choose(&cells, last, asked)?;
        let mut all: Vec<Whole> = Vec::new();
        let mut faults: Vec<InfillError> = Vec::new();
        for (c, cell) in cells.entries() {
            let Some(given) = &given[c] else { continue };
            let pattern = &patterns[given.filling.pattern];
            match fill(lattice, cell, given, pattern, asked) {
                Ok(laid) => all.extend(wholes(c, given.filling, laid)),
                Err(fault) => {
                    // One of a kind is enough.
                    if !faults.iter().any(|f| f.key() == fault.key()) {
                        faults.push(fault);
                    }
                }
            }
            if all.len() as u64 > PIECES {
                return Err(vec![InfillError::TooMany { limit: PIECES }]);
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let mut sorted = Sorted::default();
        for whole in all {
            sorted.add(whole);
        }
        let infill = Self {
            asked: asked.clone(),
            patterns: given.map(|given| Some(given?.filling.pattern)),
            cells,
            pieces: sorted.pieces,
            classes: sorted.classes,
        };
        infill.can_be_made(asked)?;
        Ok(infill)
    }

    /// Whether every piece is long and wide enough to be held.
    fn can_be_made(&self, asked: &panel::Infill) -> Result<(), Vec<InfillError>> {
        let cell = |class: &PieceClass| self.cells[self.pieces[class.first].cell].id.clone();
        // Between notches as well.
        let length = |c: &&PieceClass| {
            let waist = c.waist(asked.allowance);
            waist.map_or(c.cut_length(asked.allowance), |waist| waist.max(0.0))
        };
        let least = asked.least_length.max(LEAST_LENGTH);
        let shortest = self
            .classes
            .iter()
            .min_by(|a, b| length(a).total_cmp(&length(b)));
        let mut faults = Vec::new();
        if let Some(c) = shortest.filter(|c| length(c) < least - SAME_FIGURE) {
            faults.push(InfillError::TooShort {
                class: c.id.clone(),
                cell: cell(c),
                length: length(&c),
                least,
                notched: c.reentrant().contains(&true),
                trimmed: c.trimmed,
            });
        }
        let narrow = |c: &&PieceClass| c.face < LEAST_WIDTH.min(c.filling.face) - SAME_FIGURE;
        let narrow = self.classes.iter().filter(narrow);
        if let Some(c) = narrow.min_by(|a, b| a.face.total_cmp(&b.face)) {
            faults.push(InfillError::TooNarrow {
                class: c.id.clone(),
                cell: cell(c),
                width: c.face,
                least: LEAST_WIDTH,
            });
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(faults)
        }
    }
}

/// What is made in one go: a piece, or both halves of a hinged one.
struct Whole {
    cell: CellId,
    filling: Filling,
    first: Laid,
    /// The second half of a hinged one, and how both are folded.
    second: Option<(Laid, [Half; 2])>,
    trimmed: bool,
}

impl Whole {
    /// The other half of this piece's hinge, where it is one half by itself and the piece the other.
    fn other_half(&self, of: &Laid) -> Option<(Half, Half)> {
        let (own, half) = (self.first.half?, of.half?);
        let fits = own.hinge == half.hinge && own.second != half.second;
        (fits && self.second.is_none()).then_some((own, half))
    }

    fn shape(&self) -> Shape {
        let first = &self.first;
        match &self.second {
            None => Shape::of(&first.region, first.from, first.to),
            Some((second, halves)) => Shape::hinged([first, second], *halves),
        }
    }
}

/// Pieces sorted into classes.
#[derive(Default)]
struct Sorted {
    pieces: Table<Piece>,
    classes: Table<PieceClass>,
    /// The outline of each class's piece in all turns, in the order of [`Turn::ALL`].
    turns: Vec<[Vec<Point>; 4]>,
}

impl Sorted {
    /// Adds a piece, or both halves of a hinged one, to its class.
    fn add(&mut self, whole: Whole) {
        let shape = whole.shape();
        let (class, turn) = match self.alike(&whole, &shape) {
            Some(found) => found,
            None => (self.new_class(&whole, shape), Turn::None),
        };
        let second = whole.second.as_ref().map(|(second, _)| second);
        for part in std::iter::once(&whole.first).chain(second) {
            let open = &mut self.classes[class].plain_opening;
            *open = open.max(part.open);
            let own = Shape::of(&part.region, part.from, part.to);
            let piece = self.pieces.push(Piece {
                cell: whole.cell,
                class,
                turn,
                half: part.half.map(|half| half.second),
                start: own.start,
                end: own.end,
                outline: part.region.ring(),
            });
            self.classes[class].pieces.push(piece);
        }
    }

    /// The class of the same piece, and how that is turned to become this one.
    fn alike(&self, whole: &Whole, shape: &Shape) -> Option<(InfillClassId, Turn)> {
        let mut classes = self.classes.entries().zip(&self.turns);
        classes.find_map(|((k, class), turns)| {
            let alike = class.filling == whole.filling
                && class.trimmed == whole.trimmed
                && class.fold.is_some() == shape.fold.is_some()
                && (class.length - shape.length).abs() <= 2.0 * SAME_FIGURE;
            let same = |t: &usize| same_ring(&turns[*t], &shape.outline);
            let turn = alike.then(|| (0..4).find(same)).flatten()?;
            Some((k, Turn::ALL[turn]))
        })
    }

    /// A class whose first piece is the next one.
    fn new_class(&mut self, whole: &Whole, shape: Shape) -> InfillClassId {
        self.turns.push(Turn::ALL.map(|t| shape.turned(t)));
        self.classes.push(PieceClass {
            id: class_id(self.classes.len()),
            filling: whole.filling,
            first: self.pieces.next_id(),
            pieces: Vec::new(),
            face: shape.face,
            length: shape.length,
            ends: shape.ends(),
            outline: shape.outline,
            fold: shape.fold,
            trimmed: whole.trimmed,
            plain_opening: 0.0,
        })
    }
}

/// The pieces of a cell, halves of one hinge together in the place of the first.
fn wholes(cell: CellId, filling: Filling, laid: Vec<(Laid, bool)>) -> Vec<Whole> {
    let mut out: Vec<Whole> = Vec::new();
    for (piece, trimmed) in laid {
        let pair = out.iter_mut().find_map(|whole| {
            let (own, half) = whole.other_half(&piece)?;
            Some((whole, own, half))
        });
        match pair {
            Some((whole, own, half)) if half.second => whole.second = Some((piece, [own, half])),
            Some((whole, own, half)) => {
                let second = std::mem::replace(&mut whole.first, piece);
                whole.second = Some((second, [half, own]));
            }
            None => out.push(Whole {
                cell,
                filling,
                first: piece,
                second: None,
                trimmed,
            }),
        }
    }
    out
}

/// The pattern of each cell; `last` is the last of them.
fn choose(
    cells: &Table<Cell>,
    last: &Cell,
    asked: &panel::Infill,
) -> Result<Column<Cell, Option<Given>>, Vec<InfillError>> {
    let mut given = cells.column(|_, cell| {
        (!(asked.leave_cut_cells && cell.cut)).then(|| Given {
            filling: asked.filling,
            key: "infill.pattern".into(),
            feature: None,
        })
    });
    let mut faults = Vec::new();
    for (number, feature) in asked.features.iter().enumerate() {
        let table = format!("infill.feature[{number}]");
        let mut chosen: Vec<CellId> = Vec::new();
        let key = format!("{table}.cells");
        match &feature.cells {
            Chosen::Listed(ids) => {
                for (at, id) in ids.iter().enumerate() {
                    match cells.entries().find(|(_, cell)| cell.id == *id) {
                        Some((c, _)) => chosen.push(c),
                        None => faults.push(InfillError::UnknownCell {
                            key: format!("{table}.cells[{at}]"),
                            cell: id.clone(),
                            last: last.id.clone(),
                        }),
                    }
                }
            }
            Chosen::Region(corners) => {
                chosen.extend(cells.ids().filter(|&c| within(corners, cells[c].middle())));
            }
            Chosen::Shape(shape) => {
                chosen.extend(cells.ids().filter(|&c| shape.takes(cells[c].shape)));
            }
        }
        if chosen.is_empty() && faults.is_empty() {
            faults.push(InfillError::NoCell { key: key.clone() });
        }
        let listed = matches!(feature.cells, Chosen::Listed(_));
        for c in chosen {
            let place = &mut given[c];
            if let Some(earlier) = place.as_ref().and_then(|g| g.feature) {
                faults.push(InfillError::TwoPatterns {
                    key: key.clone(),
                    cell: cells[c].id.clone(),
                    earlier: earlier + 1,
                });
                break;
            }
            if listed || !(asked.leave_cut_cells && cells[c].cut) {
                *place = Some(Given {
                    filling: feature.filling,
                    key: format!("{table}.pattern"),
                    feature: Some(number),
                });
            }
        }
    }
    if faults.is_empty() {
        Ok(given)
    } else {
        Err(faults)
    }
}

/// Whether a point lies in a polygon or on its border.
fn within(corners: &[[f64; 2]], p: Point) -> bool {
    let n = corners.len();
    let mut inside = false;
    for i in 0..n {
        let corner = |i: usize| Point::new(corners[i % n][0], corners[i % n][1]);
        let (a, b) = (corner(i), corner(i + 1));
        let d = b - a;
        let along = (d.dot(p - a) / d.hypot2()).clamp(0.0, 1.0);
        if (a + d * along - p).hypot() <= SAME_FIGURE {
            return true;
        }
        if (a.y > p.y) != (b.y > p.y) && p.x < a.x + d.x * (p.y - a.y) / d.y {
            inside = !inside;
        }
    }
    inside
}

/// The pieces of a cell, each with whether the outline has cut it.
fn fill(
    lattice: &Lattice,
    cell: &Cell,
    given: &Given,
    pattern: &Pattern,
    asked: &panel::Infill,
) -> Result<Vec<(Laid, bool)>, InfillError> {
    let key = || given.key.clone();
    let Some(rule) = pattern.rules.iter().find(|r| r.shape.takes(cell.shape)) else {
        let fits: Vec<String> = pattern.rules.iter().map(|r| r.shape.word()).collect();
        return Err(InfillError::WrongShape {
            key: key(),
            pattern: pattern.name.clone(),
            cell: cell.id.clone(),
            shape: cell.shape.word(),
            fits: fits.join(", "),
        });
    };
    if rule.divide.is_none() && rule.pieces.is_empty() {
        return Ok(Vec::new());
    }
    if cell.room.is_empty() {
        return Err(InfillError::NoRoom {
            key: key(),
            cell: cell.id.clone(),
        });
    }
    let unsound = |why: String| InfillError::Unsound {
        key: key(),
        pattern: pattern.name.clone(),
        cell: cell.id.clone(),
        why,
    };
    // What the outline cuts is made piece by piece.
    let hinged = asked.hinged && !cell.cut;
    let laid = lay(cell, rule, given.filling.face, hinged).map_err(unsound)?;
    let sides = &lattice.outline.sides;
    let mut kept: Vec<(Laid, bool)> = Vec::with_capacity(laid.len());
    for piece in laid {
        let reaches_out = sides
            .iter()
            .any(|s| piece.region.extent(s.normal).1 > s.offset + SAME_FIGURE);
        let left = piece.region.both(&cell.opening).solid();
        if left.is_empty() && !reaches_out {
            return Err(unsound("nothing is left of a piece".into()));
        }
        kept.extend(left.into_iter().map(|region| {
            let piece = Laid {
                region,
                ..piece.clone()
            };
            (piece.with_plain_ends(asked.plain_ends), reaches_out)
        }));
    }
    for (i, (a, _)) in kept.iter().enumerate() {
        if kept
            .iter()
            .skip(i + 1)
            .any(|(b, _)| a.region.meets(&b.region))
        {
            return Err(unsound("two of its pieces lie in each other".into()));
        }
    }
    Ok(kept)
}
