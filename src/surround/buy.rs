//! What the sides of a surround take of lengths of stock as wide as they are.

use super::build::Surround;
use super::error::SurroundError;
use crate::geom::sin_deg;
use crate::panel::{self, Blank, Mitred, Stock, SurroundCut};
use crate::stock::{LEAST_GAP, NestItem, StockLimit, nest};

/// Stock to buy for a mitred surround, for all panels. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct SurroundStock {
    /// All sides end to end from one long length, saw cuts and trimmed ends included.
    pub total: f64,
    /// What one saw cut takes along the length, at the most: the kerf over the sine of the sharpest mitre.
    pub kerf: f64,
    /// Cut off at both ends of every length.
    pub trim: f64,
    /// Which side comes from which length, where their length is known.
    pub lengths: Option<Lengths>,
}

/// How sides are cut from lengths of stock.
#[derive(Debug, Clone, PartialEq)]
pub struct Lengths {
    /// Of one as it is bought, mm.
    pub length: f64,
    /// Proven: no fewer will do.
    pub lower_bound: usize,
    /// The lengths.
    pub cut: Vec<Length>,
}

/// One length of stock.
#[derive(Debug, Clone, PartialEq)]
pub struct Length {
    /// The sides in it: id, and where its long points lie from the first end, mm.
    pub sides: Vec<(String, [f64; 2])>,
    /// What is left at its other end, the trim taken off, mm.
    pub offcut: f64,
}

impl Surround {
    /// The stock for so many panels; `None` for sides that are cut among the bars. Sides lie with their long
    /// edges end to end; turned about, neighbours could share a mitre and would need a little less.
    ///
    /// # Errors
    /// A side that is longer than a length of stock.
    pub fn stock(
        &self,
        asked: &panel::Surround,
        quantity: u32,
    ) -> Result<Option<SurroundStock>, SurroundError> {
        let SurroundCut::ByHand(by_hand) = asked.cut else {
            return Ok(None);
        };
        let sharpest = self
            .sides
            .iter()
            .flat_map(|s| s.mitres)
            .fold(90.0, f64::min);
        let kerf = by_hand.saw_kerf / sin_deg(sharpest);
        let wood: f64 = self.sides.iter().map(|s| s.long).sum();
        let sides = self.sides.len() as f64 * f64::from(quantity);
        let lengths = by_hand.stock_length;
        let lengths = lengths.map(|length| self.lengths(by_hand, kerf, length, quantity));
        Ok(Some(SurroundStock {
            // A cut on either side of every piece, one between two.
            total: wood * f64::from(quantity) + kerf * (sides + 1.0) + 2.0 * by_hand.trim,
            kerf,
            trim: by_hand.trim,
            lengths: lengths.transpose()?,
        }))
    }

    fn lengths(
        &self,
        by_hand: Mitred,
        kerf: f64,
        length: f64,
        quantity: u32,
    ) -> Result<Lengths, SurroundError> {
        // The first cut of a length lies beside its trim.
        let margin = by_hand.trim + kerf;
        let free = length - 2.0 * margin;
        let longest = self.sides.iter().map(|s| s.long).fold(0.0, f64::max);
        let too_short = || SurroundError::StockTooShort {
            longest,
            length,
            least: longest + 2.0 * margin,
        };
        if longest > free {
            return Err(too_short());
        }
        let stock = Stock {
            thickness: Vec::new(),
            name: "surround".into(),
            trim: 0.0,
            blanks: vec![Blank {
                name: "surround".into(),
                length: free,
                width: self.face,
                count: None,
            }],
        };
        let all = (0..quantity).flat_map(|_| &self.sides);
        let items: Vec<NestItem<usize>> = all
            .map(|side| NestItem {
                piece: side.class.index(),
                id: side.id.clone(),
                length: side.long,
            })
            .collect();
        let gap = kerf.max(LEAST_GAP);
        let nest = nest(&items, self.face, &stock, gap, self.depth, StockLimit::NONE);
        // Every side fits a length and there is no end of them.
        let nest = nest.map_err(|_| too_short())?;
        let long = |class: usize| {
            let class = self.classes.id(class).map(|c| &self.classes[c]);
            class.map_or(0.0, |c| self.sides[c.first].long)
        };
        let cut = nest.sheets.iter().map(|sheet| {
            let sides = sheet.placements.iter().map(|p| {
                let from = p.x + margin;
                (p.id.clone(), [from, from + long(p.piece)])
            });
            Length {
                sides: sides.collect(),
                offcut: sheet.offcut,
            }
        });
        Ok(Lengths {
            length,
            lower_bound: nest.count.lower_bound,
            cut: cut.collect(),
        })
    }
}
