//! Where the label of a piece goes: inside its outline, between the notches.

use super::{LETTER_WIDTH, TextLine};
use crate::non_empty::NonEmpty;
use crate::setup::{Edge, FlatPiece};

/// Greatest height of a label, mm.
const TALLEST: f64 = 3.0;
/// Least height of a label that can be read, where the piece has room for it, mm: the nominal sizes of lettering of
/// ISO 3098 begin at 1.8 (from memory).
pub(crate) const READABLE: f64 = 2.0;
/// Wood left round a label, mm, where there is enough of it.
const MARGIN: f64 = 0.5;
/// Free space between two lines, in heights of the upper one.
const LEADING: f64 = 0.5;

/// A free rectangle in a piece's side view: x0, x1 along the piece, z0, z1 from the back edge, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Field {
    x0: f64,
    x1: f64,
    z0: f64,
    z1: f64,
}

/// The label of a piece, and the remark below it if the piece has one, in the piece's frame; `carried` gives the
/// letters that the file has for them.
pub(super) fn lines(
    piece: &FlatPiece,
    label: &str,
    carried: impl Fn(&str) -> String,
) -> NonEmpty<TextLine> {
    let mut texts = NonEmpty::one(carried(label));
    let remark = carried(&piece.remark);
    if !remark.is_empty() {
        texts.push(remark);
    }
    let fields = fields(piece);
    let mut best = set_in(*fields.first(), piece.depth, &texts);
    for field in fields.iter().skip(1) {
        let set = set_in(*field, piece.depth, &texts);
        // The first of equals stays: the widest web before the band between the notches.
        if set.first().height > best.first().height * 1.001 {
            best = set;
        }
    }
    best
}

/// Places to try: the widest stretch without notches, full depth; the band between front and back
/// notches, full length; and the whole piece where neither exists.
fn fields(piece: &FlatPiece) -> NonEmpty<Field> {
    let mut notches: Vec<(f64, f64)> = piece.notches.iter().map(|n| (n.x0, n.x1)).collect();
    notches.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut widest = (0.0, 0.0);
    let [mut free_from, to] = piece.full_span();
    for (x0, x1) in notches.into_iter().chain([(to, to)]) {
        if x0 - free_from > widest.1 - widest.0 {
            widest = (free_from, x0);
        }
        free_from = x1.max(free_from);
    }
    let deepest = |edge| {
        let depths = piece
            .notches
            .iter()
            .filter(|n| n.edge == edge)
            .map(|n| n.depth);
        depths.fold(0.0, f64::max)
    };
    let (z0, z1) = (deepest(Edge::Back), piece.depth - deepest(Edge::Front));
    let mut fields = Vec::with_capacity(2);
    if widest.1 > widest.0 {
        fields.push(Field {
            x0: widest.0,
            x1: widest.1,
            z0: 0.0,
            z1: piece.depth,
        });
    }
    if z1 > z0 {
        let [x0, x1] = piece.full_span();
        fields.push(Field { x0, x1, z0, z1 });
    }
    NonEmpty::of(fields).unwrap_or_else(|| {
        NonEmpty::one(Field {
            x0: 0.0,
            x1: piece.length,
            z0: 0.0,
            z1: piece.depth,
        })
    })
}

/// Sets the lines one above the other in the middle of a field, as tall as fits.
fn set_in(field: Field, depth: f64, texts: &NonEmpty<String>) -> NonEmpty<TextLine> {
    let Field { x0, x1, z0, z1 } = field;
    let room = |size: f64| size - 2.0 * MARGIN.min(0.1 * size);
    let (wide, high) = (room(x1 - x0), room(z1 - z0));
    let fit = |text: &String| {
        TALLEST
            .min((0.25 * depth).max(READABLE))
            .min(wide / (text.chars().count().max(1) as f64 * LETTER_WIDTH))
    };
    let mut sized = texts.map(|text| (text, fit(text)));
    let stack = |sized: &NonEmpty<(&String, f64)>| {
        let last = sized.gaps();
        let sizes = sized.iter().enumerate();
        let heights = sizes.map(|(i, (_, h))| if i < last { h * (1.0 + LEADING) } else { *h });
        heights.sum()
    };
    let total: f64 = stack(&sized);
    if total > high {
        sized = sized.map(|&(text, h)| (text, h * (high / total)));
    }
    let total: f64 = stack(&sized);
    let mut top = 0.5 * (z0 + z1) + 0.5 * total;
    sized.map(|&(text, height)| {
        let width = text.chars().count() as f64 * LETTER_WIDTH * height;
        let (x, y) = (0.5 * (x0 + x1) - 0.5 * width, top - height);
        top = y - LEADING * height;
        TextLine {
            text: text.clone(),
            x,
            y,
            height,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Contour;
    use crate::setup::{Lies, SideNotch};

    fn piece(length: f64, depth: f64, notches: Vec<SideNotch>, remark: &str) -> FlatPiece {
        let drawn = Contour::polygon([]);
        FlatPiece {
            dashes: Vec::new(),
            lies: Lies::OnSide,
            class: "A".into(),
            length,
            depth,
            notches,
            drawn,
            remark: remark.into(),
            trimmed: 0.0,
            bitten: [[0.0; 2]; 2],
        }
    }

    /// The text's box lies in the piece and out of every notch.
    fn lies_free(piece: &FlatPiece, line: &TextLine) -> bool {
        let (x0, x1) = (line.x, line.x + line.text.len() as f64 * line.height);
        let (z0, z1) = (line.y, line.y + line.height);
        let inside = x0 >= 0.0 && x1 <= piece.length && z0 >= 0.0 && z1 <= piece.depth;
        inside
            && piece.notches.iter().all(|n| {
                let (n0, n1) = match n.edge {
                    Edge::Front => (piece.depth - n.depth, piece.depth),
                    Edge::Back => (0.0, n.depth),
                };
                x1 <= n.x0 || x0 >= n.x1 || z1 <= n0 || z0 >= n1
            })
    }

    #[test]
    fn labels_keep_clear_of_notches() {
        let notch = |x0: f64, run, edge, depth| SideNotch {
            x0,
            x1: x0 + run,
            edge,
            depth,
        };
        let cases = [
            piece(300.0, 12.0, vec![], ""),
            piece(
                300.0,
                12.0,
                (0..7)
                    .map(|i| notch(10.0 + 40.0 * f64::from(i), 4.0, Edge::Front, 6.0))
                    .collect(),
                "",
            ),
            // Notches from both edges so close that only the band between them is wide enough.
            piece(
                90.0,
                12.0,
                (0..10)
                    .flat_map(|i| {
                        let x = 2.0 + 9.0 * f64::from(i);
                        [
                            notch(x, 7.0, Edge::Front, 4.0),
                            notch(x, 7.0, Edge::Back, 4.0),
                        ]
                    })
                    .collect(),
                "",
            ),
            piece(
                120.0,
                13.1,
                vec![
                    notch(-2.0, 6.0, Edge::Back, 8.0),
                    notch(60.0, 5.0, Edge::Front, 4.0),
                    notch(117.0, 9.0, Edge::Back, 4.0),
                ],
                "square end: trim to 60 deg by hand",
            ),
            piece(3.0, 2.0, vec![], "tiny"),
        ];
        for piece in &cases {
            let set = lines(piece, "A rising-12", str::to_owned);
            assert_eq!(
                set.len(),
                1 + usize::from(!piece.remark.is_empty()),
                "a line each"
            );
            assert_eq!(set.first().text, "A rising-12", "the label comes first");
            for line in set.iter() {
                assert!(
                    line.height > 0.0 && line.height <= 3.0_f64.min((piece.depth / 4.0).max(2.0)),
                    "{line:?}"
                );
                assert!(lies_free(piece, line), "{line:?} in {piece:?}");
            }
        }
    }

    #[test]
    fn small_pieces_have_labels_that_can_be_read_where_there_is_room() {
        // Depth, and whether a line of 2 mm with its margins goes in: 0.1 of the depth on either side, at most 0.5.
        for (depth, readable) in [
            (6.0, true),
            (3.0, true),
            (2.5, true),
            (2.45, false),
            (1.5, false),
        ] {
            let piece = piece(20.0, depth, vec![], "");
            let set = lines(&piece, "12", str::to_owned);
            let line = set.first();
            let (low, high) = (line.y, line.y + line.height);
            assert_eq!(line.height >= 2.0 - 1e-12, readable, "{depth}: {line:?}");
            assert!(low >= 0.0 && high <= depth, "{depth}: {line:?}");
        }
        // Too short for letters of that height.
        let short = lines(&piece(3.0, 3.0, vec![], ""), "123", str::to_owned);
        assert!(short.first().height < 2.0, "{short:?}");
    }

    #[test]
    fn room_is_used() {
        let set = lines(&piece(300.0, 12.0, vec![], ""), "A u1", str::to_owned);
        assert!(
            (set.first().height - 3.0).abs() < 1e-12,
            "a clear bar takes the full height: {set:?}"
        );
    }
}
