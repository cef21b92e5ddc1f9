//! Where a piece is held while it is cut out: bridges or tabs, each where it has room.
//!
//! A hold leaves `width` standing in the cut, measured on the path; the head stops its own radius before it and
//! goes on as far past it. So it needs a straight stretch of path as long as the width and the diameter, and wood
//! as long as the width and a margin on either side. [`Span::room`] alone says where that is: what it gives is
//! what [`super::holds::parted`] takes.

use kurbo::{Point, Vec2};

use crate::geom::{Contour, SAME_FIGURE};
use crate::setup::{FlatPiece, Lies, Side};

/// Bridges or tabs that hold a piece, or pieces that stay joined: fewer let it drop, lift or turn.
pub const LEAST_HOLDS: u32 = 2;

/// Wood on either side of a hold up to a notch or a corner, mm.
const MARGIN: f64 = 0.5;
/// Steps in which holds become narrower where they have no room, in a millimetre.
const STEPS: f64 = 10.0;

/// What is asked of the holds of a piece. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct HoldRules {
    /// How many are wanted.
    pub(super) count: u32,
    /// Width of each, as left standing on the path.
    pub(super) width: f64,
    /// None is made narrower than this to find room.
    pub(super) least: f64,
    /// Half the kerf, or the tool's radius.
    pub(super) radius: f64,
}

impl HoldRules {
    /// The widths at which room is looked for, the asked one first, then in steps down to the least.
    fn widths(&self) -> impl Iterator<Item = f64> {
        let (width, least) = (self.width, self.least);
        let most = (width * STEPS).ceil() as u32;
        let narrower = (1..most).rev().map(|k| f64::from(k) / STEPS);
        let narrower = narrower.filter(move |&w| w < width && w > least);
        let last = (least < width).then_some(least);
        std::iter::once(width).chain(narrower).chain(last)
    }

    /// Least distance between the middles of two holds on one side: the head goes down between them, and as
    /// much wood is cut as stands.
    fn apart(&self, width: f64) -> f64 {
        (2.0 * width + 2.0 * MARGIN).max(width + 2.0 * self.radius + MARGIN)
    }
}

/// A hold on the path round a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Standing {
    /// The segment of the path that it stands on.
    pub(super) segment: usize,
    /// Its middle on the path.
    pub(super) at: Point,
    /// Direction of travel there, of length 1: the piece lies to the left.
    pub(super) along: Vec2,
    /// Width left standing, mm.
    pub(super) width: f64,
}

impl Standing {
    /// Where the path is left and taken up again: `past` is how far beside what stands, mm.
    pub(super) fn ends(&self, past: f64) -> [Point; 2] {
        let half = self.along * (0.5 * self.width + past);
        [self.at - half, self.at + half]
    }

    /// Away from the piece, of length 1.
    pub(super) fn outward(&self) -> Vec2 {
        Vec2::new(self.along.y, -self.along.x)
    }
}

/// Holds of a piece on the path round it, in order of travel from its lower edge on.
///
/// They stand on the lower edge between notches, the first and the last in the waste at the ends where there
/// is some, the others evenly spread; what finds no room there stands in the middle of an end that is waste or,
/// of a piece on its back, on the upper edge. Where not even the least number finds room they are made
/// narrower, but not below the least width. Fewer come out where nothing helps; none goes for want of another's
/// room.
pub(super) fn stand(path: &Contour, piece: &FlatPiece, rules: &HoldRules) -> Vec<Standing> {
    let enough = LEAST_HOLDS.min(rules.count) as usize;
    let mut best: Vec<Standing> = Vec::new();
    for width in rules.widths() {
        let found = at_width(path, piece, rules, width);
        if found.len() > best.len() {
            best = found;
        }
        if best.len() >= enough {
            break;
        }
    }
    best
}

/// As many as are wanted, or find room at this width.
fn at_width(path: &Contour, piece: &FlatPiece, rules: &HoldRules, width: f64) -> Vec<Standing> {
    let on = |side: Side, most: u32, wishes: &dyn Fn(u32) -> Vec<f64>| {
        let spans = spans(path, piece, side, rules.radius);
        let places = (1..=most)
            .rev()
            .find_map(|n| places(&spans, &wishes(n), width, rules.apart(width)));
        places.unwrap_or_default()
    };
    let mut found = on(Side::Lower, rules.count, &|n| {
        wishes(n, piece.length, piece.trimmed)
    });
    let left = |found: &[Standing]| rules.count.saturating_sub(found.len() as u32);
    match piece.lies {
        Lies::OnBack => {
            let n = left(&found);
            found.extend(on(Side::Upper, n, &|n| wishes(n, piece.length, 0.0)));
        }
        Lies::OnSide if piece.trimmed > 0.0 => {
            // The end that lies further from what is held already comes first.
            let nearest = found.iter().map(|s| s.at.x).fold(0.0, f64::max);
            let ends = if nearest > 0.5 * piece.length {
                [Side::First, Side::Last]
            } else {
                [Side::Last, Side::First]
            };
            for side in ends {
                let n = left(&found).min(1);
                found.extend(on(side, n, &|_| vec![0.5 * piece.depth]));
            }
        }
        Lies::OnSide => {}
    }
    let order = |s: &Standing| {
        // Travel turns left at every corner: the lower edge to the right, the last end up, and so on.
        let side = [s.along.x > 0.5, s.along.y > 0.5, s.along.x < -0.5];
        let side = side.iter().position(|here| *here).unwrap_or(side.len());
        (side, s.at.to_vec2().dot(s.along))
    };
    found.sort_by(|a, b| {
        let (a, b) = (order(a), order(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    found
}

/// Where `n` holds would best stand along an edge, in rising order, mm.
fn wishes(n: u32, length: f64, trimmed: f64) -> Vec<f64> {
    let even = |i: u32| (f64::from(i) + 0.5) / f64::from(n) * length;
    let mut wishes: Vec<f64> = (0..n).map(even).collect();
    if trimmed > 0.0 && n >= 2 {
        let waste = (0.5 * trimmed).min(0.5 * length / f64::from(n));
        if let [first, .., last] = wishes.as_mut_slice() {
            (*first, *last) = (waste, length - waste);
        }
    }
    wishes
}

/// A straight stretch of path along wood. Places are measured along the piece's side: x on an edge, y on an
/// end, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Span {
    side: Side,
    segment: usize,
    /// The path's own coordinate across the side.
    across: f64,
    /// Half the kerf, or the tool's radius.
    radius: f64,
    /// From where to where the path runs straight.
    path: [f64; 2],
    /// From where to where there is wood beside it.
    wood: [f64; 2],
}

impl Span {
    /// Where the middle of a hold of this width may lie; `None` where it has no room.
    fn room(&self, width: f64) -> Option<[f64; 2]> {
        let lo = (self.path[0] + self.radius).max(self.wood[0] + MARGIN) + 0.5 * width;
        let hi = (self.path[1] - self.radius).min(self.wood[1] - MARGIN) - 0.5 * width;
        // Room to the last bit of a float is room.
        (lo <= hi + SAME_FIGURE).then_some([lo.min(hi), hi])
    }

    fn standing(&self, place: f64, width: f64) -> Standing {
        let (at, along) = match self.side {
            Side::Lower => ((place, self.across), (1.0, 0.0)),
            Side::Last => ((self.across, place), (0.0, 1.0)),
            Side::Upper => ((place, self.across), (-1.0, 0.0)),
            Side::First => ((self.across, place), (0.0, -1.0)),
        };
        Standing {
            segment: self.segment,
            at: at.into(),
            along: along.into(),
            width,
        }
    }
}

/// Where the path round a piece runs straight along wood of a side, in rising order.
fn spans(path: &Contour, piece: &FlatPiece, side: Side, radius: f64) -> Vec<Span> {
    let level = matches!(side, Side::Lower | Side::Upper);
    let across = match side {
        Side::Lower | Side::First => -radius,
        Side::Last => piece.length + radius,
        Side::Upper => piece.depth + radius,
    };
    let split = |p: Point| if level { (p.x, p.y) } else { (p.y, p.x) };
    let lands = piece.lands(side);
    let mut found = Vec::new();
    for (segment, (a, bulge, b)) in path.segments().enumerate() {
        let ((a, off), (b, off_too)) = (split(a), split(b));
        let beside = |off: f64| (off - across).abs() <= SAME_FIGURE;
        if bulge != 0.0 || !beside(off) || !beside(off_too) {
            continue;
        }
        let path = [a.min(b), a.max(b)];
        for &wood in &lands {
            if wood[0] < path[1] && path[0] < wood[1] {
                found.push(Span {
                    side,
                    segment,
                    across,
                    radius,
                    path,
                    wood,
                });
            }
        }
    }
    found.sort_by(|a, b| a.wood[0].total_cmp(&b.wood[0]));
    found
}

/// A hold for each wish, in rising order and at least `apart`, each as near to its wish as that allows;
/// `None` where not all find room.
fn places(spans: &[Span], wishes: &[f64], width: f64, apart: f64) -> Option<Vec<Standing>> {
    let rooms: Vec<(&Span, [f64; 2])> = spans
        .iter()
        .filter_map(|span| Some((span, span.room(width)?)))
        .collect();
    // How far on each may lie so that those after it still find room.
    let mut latest = vec![0.0; wishes.len()];
    let mut limit = f64::INFINITY;
    for place in latest.iter_mut().rev() {
        let until = rooms.iter().filter(|(_, [lo, _])| *lo <= limit);
        *place = until
            .map(|(_, [_, hi])| hi.min(limit))
            .max_by(f64::total_cmp)?;
        limit = *place - apart;
    }
    let mut found: Vec<Standing> = Vec::with_capacity(wishes.len());
    let mut from = f64::NEG_INFINITY;
    for (&wish, &latest) in wishes.iter().zip(&latest) {
        let near = rooms.iter().filter_map(|(span, [lo, hi])| {
            let (lo, hi) = (lo.max(from), hi.min(latest));
            // Round-off of the sums on the way there and back leaves room.
            (lo <= hi + SAME_FIGURE).then(|| (span, wish.max(lo).min(hi)))
        });
        let (span, place) = near.min_by(|(_, a), (_, b)| {
            let (a, b) = ((a - wish).abs(), (b - wish).abs());
            a.total_cmp(&b)
        })?;
        found.push(span.standing(place, width));
        from = place + apart;
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::super::offset::grow;
    use super::*;
    use crate::geom::micron;
    use crate::setup::{Edge, SideNotch};

    const TABS: HoldRules = HoldRules {
        count: 3,
        width: 4.0,
        least: 2.0,
        radius: 1.5,
    };

    /// A bar of 12 with notches 6 deep in its back edge, cut round with a router: the path knows no notches.
    fn bar(length: f64, trimmed: f64, notches: &[[f64; 2]]) -> (FlatPiece, Contour) {
        let mut piece = FlatPiece::blank("A", length, 12.0, String::new()).with_trimmed(trimmed);
        piece.notches = (notches.iter())
            .map(|&[x0, x1]| SideNotch {
                x0,
                x1,
                edge: Edge::Back,
                depth: 6.0,
            })
            .collect();
        let path = grow(&piece.body(), TABS.radius).expect("wider than the tool");
        (piece, path)
    }

    /// Middles and widths along the lower edge; the ends of the piece as -1 and -2, first and last.
    fn found(length: f64, trimmed: f64, notches: &[[f64; 2]], rules: &HoldRules) -> Vec<[f64; 2]> {
        let (piece, path) = bar(length, trimmed, notches);
        let told = |s: &Standing| match s.along {
            Vec2 { x: 1.0, .. } => [micron(s.at.x), s.width],
            Vec2 { y: 1.0, .. } => [-2.0, s.width],
            _ => [-1.0, s.width],
        };
        stand(&path, &piece, rules).iter().map(told).collect()
    }

    /// Notches with lands of this length between them, the first and the last of them at the ends.
    fn comb(land: f64, count: u32) -> (f64, Vec<[f64; 2]>) {
        let at = |k: u32| land + f64::from(k) * (4.0 + land);
        let notches = (0..count).map(|k| [at(k), at(k) + 4.0]).collect();
        (at(count), notches)
    }

    /// At an end the tool's round needs 1.5, at a notch the wood 0.5: a tab of 4 takes 6 of the first land.
    #[test]
    fn a_tab_stands_where_the_path_leaves_it_room() {
        assert_eq!(
            found(120.0, 0.0, &[], &TABS),
            [[20.0, 4.0], [60.0, 4.0], [100.0, 4.0]],
            "evenly spread"
        );
        let ends = [[6.0, 114.0]];
        assert_eq!(
            found(120.0, 0.0, &ends, &TABS),
            [[3.5, 4.0], [116.5, 4.0]],
            "one on either side, and none for want of the third"
        );
        let short = [[5.99, 114.01]];
        assert_eq!(
            found(120.0, 0.0, &short, &TABS),
            [[3.54, 3.9], [116.46, 3.9]],
            "a little narrower, up to the margin before the notch"
        );
        let none = [[3.9, 116.1]];
        assert!(found(120.0, 0.0, &none, &TABS).is_empty());
    }

    /// An overhang of 3 holds no tab of 4: the nearest place is at 1.5 + 2 from the end.
    #[test]
    fn a_tab_moves_out_of_a_short_overhang() {
        for overhang in [1.5, 3.0, 6.9, 7.0] {
            let at = f64::max(0.5 * overhang, 3.5);
            assert_eq!(
                found(120.0, overhang, &[], &TABS),
                [[at, 4.0], [60.0, 4.0], [120.0 - at, 4.0]],
                "overhang {overhang}"
            );
        }
    }

    /// Lands of 3 take a tab of 2 with 0.5 on either side; a hundredth less takes none.
    #[test]
    fn tabs_become_narrower_down_to_the_least() {
        for (land, width) in [(5.0, 4.0), (4.99, 3.9), (4.4, 3.4), (3.0, 2.0)] {
            let (length, notches) = comb(land, 8);
            let tabs = found(length, 0.0, &notches, &TABS);
            assert!(tabs.len() >= 2, "lands of {land}: {tabs:?}");
            assert!(
                tabs.iter().all(|t| t[1] == width),
                "lands of {land}: {tabs:?}"
            );
        }
        let (length, notches) = comb(2.99, 8);
        assert!(found(length, 0.0, &notches, &TABS).is_empty());
        let wide = HoldRules { width: 1.9, ..TABS };
        let (length, notches) = comb(5.0, 8);
        let tabs = found(length, 0.0, &notches, &wide);
        assert!(tabs.iter().all(|t| t[1] == 1.9), "as asked: {tabs:?}");
    }

    #[test]
    fn ends_hold_where_they_are_waste() {
        let (length, notches) = comb(2.9, 8);
        assert_eq!(
            found(length, 1.5, &notches, &TABS),
            [[-2.0, 4.0], [-1.0, 4.0]],
            "in the order of travel"
        );
        let (piece, path) = bar(length, 1.5, &[[-1.0, 4.0], [length - 4.0, length + 1.0]]);
        let ends: Vec<Point> = stand(&path, &piece, &TABS).iter().map(|s| s.at).collect();
        assert_eq!(ends.len(), 3, "three on the land between them: {ends:?}");
        // One land, by the first end: the last end takes the second tab.
        assert_eq!(
            found(60.0, 2.0, &[[6.0, 60.0]], &TABS),
            [[3.5, 4.0], [-2.0, 4.0], [-1.0, 4.0]]
        );
        let two = HoldRules { count: 2, ..TABS };
        assert_eq!(
            found(60.0, 2.0, &[[6.0, 60.0]], &two),
            [[3.5, 4.0], [-2.0, 4.0]]
        );
    }

    /// With a notch that runs out of it, an end of 12 has 6 left: a tab of 4 has 0.5 to the notch and 1.5 to
    /// the corner, and stands in the middle of that.
    #[test]
    fn no_tab_stands_in_a_notch_at_an_end() {
        let (piece, path) = bar(20.0, 2.0, &[[-1.0, 21.0]]);
        let tabs = stand(&path, &piece, &TABS);
        assert_eq!(tabs.len(), 2, "{tabs:?}");
        for tab in tabs {
            assert_eq!((tab.at.y, tab.width), (8.5, 4.0), "{tab:?}");
        }
    }

    #[test]
    fn a_wide_tool_has_room_between_two_tabs() {
        let rules = HoldRules {
            count: 2,
            width: 2.0,
            least: 2.0,
            radius: 3.0,
        };
        let mut piece = FlatPiece::blank("A", 17.0, 12.0, String::new());
        let on = |piece: &FlatPiece| {
            let path = grow(&piece.body(), rules.radius).expect("wider than the tool");
            stand(&path, piece, &rules).len()
        };
        // Two rounds of 6 beside two tabs of 2, and 0.5 between them: 16.5.
        assert_eq!(on(&piece), 2);
        piece.length = 16.4;
        assert_eq!(on(&piece), 1);
    }

    /// As many as the best of all ways to place them on a grid of 0.25 mm, on which all walls lie: tried one
    /// by one, from left to right, which misses none (interval scheduling, a textbook's greedy choice).
    #[test]
    fn no_hold_is_missed() {
        let mut seed = 7_u32;
        let mut below = |n: u32| {
            // A plain generator of numbers (Numerical Recipes' constants, from memory).
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 16) % n
        };
        for case in 0..400 {
            let mut notches = Vec::new();
            let mut x = 0.25 * f64::from(below(48));
            while notches.len() < 6 {
                let run = 4.0 + 0.25 * f64::from(below(8));
                notches.push([x, x + run]);
                x += run + 0.25 * f64::from(1 + below(40));
            }
            let rules = HoldRules {
                count: 1 + below(6),
                radius: 0.5 * f64::from(1 + below(6)),
                ..TABS
            };
            let (piece, _) = bar(x, 0.0, &notches);
            let path = grow(&piece.body(), rules.radius).expect("wider than the tool");
            let tabs = at_width(&path, &piece, &rules, 4.0);
            let free = |m: f64| {
                let ends = m - 2.0 - rules.radius >= 0.0 && m + 2.0 + rules.radius <= x;
                let clear = |n: &[f64; 2]| m + 2.5 <= n[0] || m - 2.5 >= n[1];
                ends && m >= 2.5 && m <= x - 2.5 && notches.iter().all(clear)
            };
            let mut most: u32 = 0;
            let mut last = f64::NEG_INFINITY;
            for k in 0..(x * 4.0) as u32 {
                let m = 0.25 * f64::from(k);
                if free(m) && m - last >= rules.apart(4.0) {
                    (most, last) = (most + 1, m);
                }
            }
            let what = format!("case {case}: {notches:?}, {rules:?}: {tabs:?}");
            assert_eq!(tabs.len() as u32, most.min(rules.count), "{what}");
            assert!(tabs.iter().all(|t| free(t.at.x)), "{what}");
            let apart = |pair: &[Standing]| pair[1].at.x - pair[0].at.x;
            assert!(
                tabs.windows(2).all(|p| apart(p) >= rules.apart(4.0) - 1e-9),
                "{what}"
            );
        }
    }
}
