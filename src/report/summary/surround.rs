//! What the summary tells of the surround, and of the stock for it.

use serde::Serialize;

use super::ground::{MemberOut, members};
use crate::geom::micron;
use crate::surround::{Pin, Side, SideId, Surround, SurroundStock};

#[derive(Debug, Clone, Serialize)]
pub(super) struct SurroundOut {
    id: String,
    class: String,
    side: String,
    long: f64,
    short: f64,
    face: f64,
    depth: f64,
    mitres: [f64; 2],
    saw: [f64; 2],
    pins: Vec<PinOut>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bar: Option<MemberOut>,
}

/// `end`: start or end of the side; `at`: from its long point there; `height`: above the back.
#[derive(Debug, Clone, Serialize)]
struct PinOut {
    end: &'static str,
    at: f64,
    height: f64,
    length: f64,
    diameter: f64,
    hole: f64,
}

#[derive(Debug, Clone, Serialize)]
pub(super) struct SurroundStockOut {
    face: f64,
    depth: f64,
    total: f64,
    kerf: f64,
    trim: f64,
    length: Option<f64>,
    used: Option<usize>,
    lower_bound: Option<usize>,
    lengths: Vec<LengthOut>,
}

#[derive(Debug, Clone, Serialize)]
struct LengthOut {
    offcut: f64,
    sides: Vec<PieceOut>,
}

#[derive(Debug, Clone, Serialize)]
struct PieceOut {
    id: String,
    from: f64,
    to: f64,
}

/// The sides, counter-clockwise; one that is lapped has its bar, told like a member of the ground.
pub(super) fn surround_rows(surround: &Surround) -> Vec<SurroundOut> {
    let bars = (surround.ring.as_ref()).map(|ring| (ring, members(&ring.lattice, None)));
    let row = |(s, side): (SideId, &Side)| SurroundOut {
        id: side.id.clone(),
        class: surround.class_id(side).to_owned(),
        side: side.side.clone(),
        long: micron(side.long),
        short: micron(side.short),
        face: micron(surround.face),
        depth: micron(surround.depth),
        mitres: side.mitres.map(micron),
        saw: side.saw_deg().map(micron),
        pins: side.pins.iter().map(pin).collect(),
        bar: (bars.as_ref()).map(|(ring, told)| told[ring.bars[s]].clone()),
    };
    surround.sides.entries().map(row).collect()
}

fn pin(p: &Pin) -> PinOut {
    PinOut {
        end: p.end_word(),
        at: micron(p.at),
        height: micron(p.height),
        length: micron(p.length),
        diameter: micron(p.diameter),
        hole: micron(p.hole),
    }
}

pub(super) fn surround_stock(surround: &Surround) -> Option<SurroundStockOut> {
    let stock: &SurroundStock = surround.stock.as_ref()?;
    let lengths = stock.lengths.as_ref();
    let cut = lengths.map_or(&[][..], |l| &l.cut);
    Some(SurroundStockOut {
        face: micron(surround.face),
        depth: micron(surround.depth),
        total: micron(stock.total),
        kerf: micron(stock.kerf),
        trim: micron(stock.trim),
        length: lengths.map(|l| micron(l.length)),
        used: lengths.map(|l| l.cut.len()),
        lower_bound: lengths.map(|l| l.lower_bound),
        lengths: cut
            .iter()
            .map(|length| LengthOut {
                offcut: micron(length.offcut),
                sides: length
                    .sides
                    .iter()
                    .map(|(id, [from, to])| PieceOut {
                        id: id.clone(),
                        from: micron(*from),
                        to: micron(*to),
                    })
                    .collect(),
            })
            .collect(),
    })
}
