//! Pictures of very many joints: what could not be seen on paper is left out, and the picture says so.

use std::collections::BTreeMap;

use crate::geom::{Contour, Point, Vertex};

/// From so many joints of the panel on, pictures leave out what cannot be seen.
const MANY: usize = 5_000;
/// Narrower notches cannot be seen, mm on paper: three of the finest lines side by side.
const MOUTH: f64 = 0.3;
/// Most corners of a notch between its two on the edge: a square one has two, relieved corners add some.
const CORNERS: usize = 12;
/// Points so near to a line lie on it, mm: pictures have three decimals.
const ON_LINE: f64 = 1e-3;

/// What a picture leaves out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    /// Width of the narrowest notch that is drawn, mm of the work; `None` where all is drawn.
    mouth: Option<f64>,
}

impl Seen {
    /// Of a panel with so many joints, drawn at a scale (millimetres of work to one of paper).
    pub(super) fn new(joints: usize, scale: f64) -> Self {
        Self {
            mouth: (joints >= MANY).then_some(MOUTH * scale),
        }
    }

    /// The contour without notches that cannot be seen; `None` where it has none of these.
    pub(super) fn simpler(self, contour: &Contour) -> Option<Contour> {
        without_notches(contour, self.mouth?)
    }

    /// Those of the dots that are drawn: none of them lies nearer to another than its own width. `radius` is mm of the
    /// work.
    pub(super) fn dots(self, dots: impl Iterator<Item = Point>, radius: f64) -> Vec<Point> {
        if self.mouth.is_none() {
            return dots.collect();
        }
        let least = 2.0 * radius;
        let key = |p: Point| ((p.x / least).floor() as i64, (p.y / least).floor() as i64);
        let mut drawn: BTreeMap<(i64, i64), Vec<Point>> = BTreeMap::new();
        let apart = |drawn: &BTreeMap<_, Vec<Point>>, dot: Point| {
            let (i, j) = key(dot);
            let mut near = (i - 1..=i + 1).flat_map(|i| (j - 1..=j + 1).map(move |j| (i, j)));
            near.all(|k| {
                let others = drawn.get(&k).into_iter().flatten();
                others
                    .into_iter()
                    .all(|&other| (other - dot).hypot() >= least)
            })
        };
        let mut kept = Vec::new();
        for dot in dots {
            if apart(&drawn, dot) {
                drawn.entry(key(dot)).or_default().push(dot);
                kept.push(dot);
            }
        }
        kept
    }
}

/// What a picture says that leaves out notches.
pub(super) fn notches_left_out() -> String {
    format!(
        "Simplified: notches that would be narrower than {MOUTH} mm here are not drawn. The cut files have all of them."
    )
}

/// What a picture says that leaves out dots of glue.
pub(super) const DOTS_LEFT_OUT: &str =
    "Simplified: a dot of glue stands for all joints that lie nearer to it than its width.";

/// A closed contour without notches whose mouth is narrower than `mouth` (mm), and without the corners that then lie on
/// a straight line; `None` where it has no such notch.
fn without_notches(contour: &Contour, mouth: f64) -> Option<Contour> {
    let all = &contour.vertices;
    let n = all.len();
    if !contour.closed || n < 4 {
        return None;
    }
    // No notch reaches the corner furthest to the left.
    let (first, _) = all.iter().enumerate().min_by(|(_, a), (_, b)| {
        let (a, b) = (a.at, b.at);
        a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y))
    })?;
    // `first` is there again at the end.
    let at = |k: usize| all[(first + k) % n];
    let side = contour.area().signum();
    // The wood lies on the left of an edge, and so does what is cut out of it.
    let within = |from: usize, to: usize| {
        let (a, along) = (at(from).at, at(to).at - at(from).at);
        let inside = |k: usize| side * along.cross(at(k).at - a) >= -ON_LINE * along.hypot();
        (from + 1..to).all(inside)
    };
    let mut left_out = false;
    let mut kept: Vec<Vertex> = Vec::new();
    let mut k = 0;
    while k < n {
        let last = (k + 1 + CORNERS).min(n);
        let end = (k + 3..=last).rev().find(|&to| {
            let wide = (at(to).at - at(k).at).hypot();
            wide > ON_LINE && wide < mouth && within(k, to)
        });
        let vertex = at(k);
        match end {
            Some(to) => {
                left_out = true;
                add(
                    &mut kept,
                    Vertex {
                        bulge: 0.0,
                        ..vertex
                    },
                );
                k = to;
            }
            None => {
                add(&mut kept, vertex);
                k += 1;
            }
        }
    }
    let simpler = Contour {
        vertices: kept,
        closed: true,
    };
    left_out.then_some(simpler)
}

/// Adds a corner; one before it that lies on the straight line to it goes.
fn add(kept: &mut Vec<Vertex>, vertex: Vertex) {
    while let [.., before, last] = kept[..] {
        let along = vertex.at - before.at;
        let off = along.cross(last.at - before.at).abs();
        let between = along.dot(last.at - before.at) > 0.0 && along.dot(vertex.at - last.at) > 0.0;
        let straight = before.bulge == 0.0 && last.bulge == 0.0;
        if !(straight && between && off <= ON_LINE * along.hypot()) {
            break;
        }
        kept.pop();
    }
    kept.push(vertex);
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn contour(points: &[(f64, f64)]) -> Contour {
        Contour::polygon(points.iter().map(|&(x, y)| Point::new(x, y)))
    }

    /// A bar of 40 by 9 with a notch from the front edge at each place, counter-clockwise, its first corner in a notch.
    fn bar(notches: &[f64], width: f64) -> Contour {
        let mut points = vec![(0.0, 9.0), (0.0, 0.0), (40.0, 0.0), (40.0, 9.0)];
        for &x in notches.iter().rev() {
            let right = x + width;
            points.extend([(right, 9.0), (right, 4.5), (x, 4.5), (x, 9.0)]);
        }
        points.rotate_right(2);
        contour(&points)
    }

    fn corners(contour: &Contour) -> Vec<(f64, f64)> {
        contour.vertices.iter().map(|v| (v.at.x, v.at.y)).collect()
    }

    const PLAIN: [(f64, f64); 4] = [(0.0, 0.0), (40.0, 0.0), (40.0, 9.0), (0.0, 9.0)];

    #[test]
    fn a_bar_loses_its_notches_and_nothing_else() {
        let bar = bar(&[5.0, 17.0, 29.0], 1.5);
        let whole = Seen::new(MANY, 5.1).simpler(&bar).unwrap();
        assert_eq!(corners(&whole), PLAIN);
        // The same the other way round, as a path may run.
        let mut back = bar.clone();
        back.vertices.reverse();
        let whole = Seen::new(MANY, 5.1).simpler(&back).unwrap();
        assert!((whole.area() + 360.0).abs() < 1e-9, "{whole:?}");
        assert_eq!(whole.vertices.len(), 4);
    }

    #[test]
    fn what_can_be_seen_stays() {
        let bar = bar(&[5.0, 17.0], 1.5);
        assert!(
            Seen::new(MANY, 4.9).simpler(&bar).is_none(),
            "0.306 mm on paper"
        );
        assert!(
            Seen::new(MANY - 1, 50.0).simpler(&bar).is_none(),
            "few joints"
        );
        let open = Contour {
            closed: false,
            ..bar
        };
        assert!(Seen::new(MANY, 50.0).simpler(&open).is_none());
    }

    /// An end that is thinner than a notch may be is no notch: it lies on the other side of the line across it.
    #[test]
    fn a_thin_bar_keeps_its_ends() {
        let bar = bar(&[5.0, 17.0, 29.0], 1.5);
        let whole = Seen::new(MANY, 100.0).simpler(&bar).unwrap();
        assert_eq!(whole.bounds(), bar.bounds());
        assert!((whole.area() - 360.0).abs() < 1e-9, "{whole:?}");
    }

    /// A notch with relieved corners, each a round hole beyond the corner.
    #[test]
    fn a_relieved_notch_goes_as_a_whole() {
        let at = |x, y, bulge| Vertex {
            at: Point::new(x, y),
            bulge,
        };
        let relieved = Contour {
            vertices: vec![
                at(0.0, 0.0, 0.0),
                at(40.0, 0.0, 0.0),
                at(40.0, 9.0, 0.0),
                at(12.0, 9.0, 0.0),
                at(12.0, 5.0, -1.5),
                at(11.5, 4.5, 0.0),
                at(10.5, 4.5, -1.5),
                at(10.0, 5.0, 0.0),
                at(10.0, 9.0, 0.0),
                at(0.0, 9.0, 0.0),
            ],
            closed: true,
        };
        let whole = Seen::new(MANY, 10.0).simpler(&relieved).unwrap();
        assert_eq!(corners(&whole), PLAIN);
        assert!(whole.vertices.iter().all(|v| v.bulge == 0.0));
    }

    /// Every dot that is left out lies within a dot's width of one that is drawn, and no two drawn ones do.
    #[test]
    fn dots_stand_for_their_neighbours() {
        let all: Vec<Point> = (0..2_000)
            .map(|k| Point::new(f64::from(k % 50) * 0.7, f64::from(k / 50) * 0.9))
            .collect();
        let radius = 1.3;
        let drawn = Seen::new(MANY, 1.0).dots(all.iter().copied(), radius);
        let near = |p: &Point| {
            drawn
                .iter()
                .filter(|q| (**q - *p).hypot() < 2.0 * radius)
                .count()
        };
        assert!(drawn.len() < 400 && all.iter().all(|p| near(p) >= 1));
        assert!(drawn.iter().all(|p| near(p) == 1), "only itself");
        let few = Seen::new(MANY - 1, 1.0).dots(all.iter().copied(), radius);
        assert_eq!(few, all);
    }
}
