//! Relief of inside corners, so that a square edge seats.

use kurbo::{Point, Vec2};

use crate::geom::{AlongX, Contour, Vertex};
use crate::panel::Relief;
use crate::setup::{Edge, FlatPiece, Lies};

/// The detours of a cut of radius `r` whose rounds pass through each inside corner of the drawn outline,
/// in the piece's frame: along the bisector, along the floor, or along the wall. Without relief each
/// reaches no further than the path's own corner. A re-entrant end has neither floor nor wall: any relief runs
/// along the bisector.
#[must_use]
pub(super) fn corner_reliefs(piece: &FlatPiece, r: f64, relief: Relief) -> Vec<CornerRelief> {
    piece
        .inside_corners()
        .into_iter()
        .map(|drawn| {
            // The path's own corner lies r from both walls; in a side view walls are upright.
            let corner = drawn.centre(r);
            let away = corner - drawn.at;
            let reach = match relief {
                Relief::None => corner,
                _ if piece.lies == Lies::OnBack => drawn.at + drawn.into * r,
                Relief::Corner => drawn.at + drawn.into * r,
                Relief::Floor => drawn.at + Vec2::new(0.0, away.y),
                Relief::Wall => drawn.at + Vec2::new(away.x, 0.0),
            };
            CornerRelief {
                drawn: drawn.at,
                corner,
                reach,
            }
        })
        .collect()
}

/// Steps in which a detour is followed past an end.
const STEPS: u32 = 32;

/// How far in from the back edge and from the front edge the detours of a cut of radius `r` take wood past the first
/// end of a piece on its side, and past its last, mm; 0 where none does.
#[must_use]
pub fn end_bites(piece: &FlatPiece, r: f64, relief: Relief) -> [[f64; 2]; 2] {
    let mut bites = [[0.0; 2]; 2];
    if piece.lies == Lies::OnBack || relief == Relief::None {
        return bites;
    }
    for detour in corner_reliefs(piece, r, relief) {
        // The path's corner lies on the side of the edge that the notch is cut in.
        let edge = if detour.corner.y < detour.drawn.y {
            Edge::Back
        } else {
            Edge::Front
        };
        for k in 0..=STEPS {
            let centre = detour
                .corner
                .lerp(detour.reach, f64::from(k) / f64::from(STEPS));
            let deep = match edge {
                Edge::Back => centre.y,
                Edge::Front => piece.depth - centre.y,
            };
            for (bites, past) in bites.iter_mut().zip([centre.x, piece.length - centre.x]) {
                // What of the round lies past the end reaches furthest in at its middle, or at the end itself.
                let reach = if past <= 0.0 {
                    r
                } else if past < r {
                    (r * r - past * past).sqrt()
                } else {
                    continue;
                };
                let [back, front] = bites;
                let bite = match edge {
                    Edge::Back => back,
                    Edge::Front => front,
                };
                *bite = bite.max(deep + reach);
            }
        }
    }
    bites
}

/// A detour of the path into an inside corner.
#[derive(Debug, Clone, Copy)]
pub(super) struct CornerRelief {
    /// The inside corner as drawn.
    pub(super) drawn: Point,
    /// The path's corner.
    pub(super) corner: Point,
    /// How far the centre goes.
    pub(super) reach: Point,
}

/// A path round a piece with its detours, if `relief` asks for them, and how far each goes. `None` where one of
/// the corners is missing from the path: beam or tool does not fit into what runs in to it.
pub(super) fn relieved(
    mut path: Contour,
    corners: &[CornerRelief],
    relief: Relief,
) -> Option<(Contour, Vec<Point>)> {
    let mut reliefs = Vec::new();
    let mut vertices = Vec::with_capacity(path.vertices.len());
    let mut found = 0;
    let sorted = AlongX::of(corners.iter().map(|c| c.corner));
    for v in &path.vertices {
        let mut near = sorted.near(v.at, 1e-6).into_iter();
        // Places of these very corners.
        let detour = near.find(|&i| corners[i].corner.distance(v.at) < 1e-6);
        let detour = detour.map(|i| &corners[i]);
        found += usize::from(detour.is_some());
        if let Some(detour) = detour.filter(|_| relief != Relief::None) {
            let at = |at: Point| Vertex { at, bulge: 0.0 };
            vertices.extend([at(v.at), at(detour.reach)]);
            reliefs.push(detour.reach);
        }
        vertices.push(*v);
    }
    path.vertices = vertices;
    (found == corners.len()).then_some((path, reliefs))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::SideNotch;

    /// A notch 6 deep whose far wall lies 1 past the first end of a bar of 12, cut with a radius of 1.5. By hand, for
    /// rounds that pass through its corner at (1, 6): along the wall about (-0.5, 6), along the floor about (1, 4.5),
    /// between the two about (1, 6) less 1.5 / √2 each way.
    #[test]
    fn reliefs_reach_past_an_end_as_far_as_their_round() {
        let notch = |x0, x1, edge| SideNotch {
            x0,
            x1,
            edge,
            depth: 6.0,
        };
        let near = |got: [[f64; 2]; 2], want: [[f64; 2]; 2]| {
            for (got, want) in got.as_flattened().iter().zip(want.as_flattened()) {
                assert!((got - want).abs() < 1e-9, "{got} for {want}");
            }
        };
        let bar = |n: SideNotch| {
            let mut piece = FlatPiece::blank("A", 60.0, 12.0, String::new());
            piece.notches = vec![n];
            // Outlined anew; floors on whole steps stay.
            piece.eased(1.5, 1e-3)
        };
        let bites = |n, relief| end_bites(&bar(n), 1.5, relief);
        let first = notch(-3.0, 1.0, Edge::Back);
        near(bites(first, Relief::Wall), [[7.5, 0.0], [0.0; 2]]);
        let low = 6.0 - 1.5 / 2f64.sqrt();
        near(bites(first, Relief::Corner), [[low + 1.5, 0.0], [0.0; 2]]);
        // Past the end the round is highest where its centre still lies past it.
        near(bites(first, Relief::Floor), [[6.0, 0.0], [0.0; 2]]);
        near(bites(first, Relief::None), [[0.0; 2]; 2]);
        let last = notch(59.0, 63.0, Edge::Front);
        near(bites(last, Relief::Wall), [[0.0; 2], [0.0, 7.5]]);
        // Both walls more than a cutter from the end.
        near(
            bites(notch(3.1, 7.1, Edge::Back), Relief::Wall),
            [[0.0; 2]; 2],
        );
    }
}
