//! Nodes: clusters of crossings, found along the lines and never on a grid.

use kurbo::Point;

use super::family::Family;
use super::model::Node;
use crate::geom::NODE_SNAP;

/// All lines that may reach wood, numbered through the families.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    /// First index of each family's range of lines.
    first: Vec<i64>,
    /// Number of the first line of each family; one more at the end.
    base: Vec<usize>,
}

impl Lines {
    /// Numbers the lines in the ranges given, one a family.
    pub(crate) fn new(ranges: &[std::ops::Range<i64>]) -> Self {
        let mut base = vec![0];
        let mut sum = 0;
        for range in ranges {
            sum += usize::try_from(range.end - range.start).unwrap_or(0);
            base.push(sum);
        }
        Self {
            first: ranges.iter().map(|r| r.start).collect(),
            base,
        }
    }

    /// How many lines there are.
    pub(crate) fn len(&self) -> usize {
        self.base.last().copied().unwrap_or(0)
    }

    /// Number of a line, if it is among them.
    pub(crate) fn number(&self, family: usize, index: i64) -> Option<usize> {
        let at = usize::try_from(index - self.first[family]).ok()? + self.base[family];
        (at < self.base[family + 1]).then_some(at)
    }

    /// Family and index of a line.
    pub(crate) fn line(&self, number: usize) -> (usize, i64) {
        let family = self.base.partition_point(|&b| b <= number) - 1;
        (
            family,
            self.first[family] + (number - self.base[family]) as i64,
        )
    }
}

/// Two lines that cross, and where along each: distances from the foot of the origin's perpendicular.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Crossing {
    pub(crate) lines: [usize; 2],
    pub(crate) along: [f64; 2],
    pub(crate) at: Point,
}

/// Where two lines of different families cross: along the first, along the second, and the point.
pub(crate) fn cross(a: &Family, offset_a: f64, b: &Family, offset_b: f64) -> (f64, f64, Point) {
    let on = |x: &Family, ox: f64, y: &Family, oy: f64| {
        (oy - y.normal().dot(x.normal()) * ox) / y.normal().dot(x.axis())
    };
    let along_a = on(a, offset_a, b, offset_b);
    let along_b = on(b, offset_b, a, offset_a);
    (along_a, along_b, a.point(offset_a, along_a))
}

/// Gathers crossings into nodes: two on one line within [`NODE_SNAP`] of each other belong together.
/// Gives the nodes and, for every crossing, the index of its node.
pub(crate) fn cluster(
    crossings: &[Crossing],
    line_count: usize,
    rank_of: impl Fn(usize) -> u32,
) -> (Vec<Node>, Vec<usize>) {
    let mut on_line: Vec<Vec<(f64, usize)>> = vec![Vec::new(); line_count];
    for (c, crossing) in crossings.iter().enumerate() {
        for side in 0..2 {
            on_line[crossing.lines[side]].push((crossing.along[side], c));
        }
    }
    let mut parent: Vec<usize> = (0..crossings.len()).collect();
    for list in &mut on_line {
        list.sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
        for pair in list.windows(2) {
            if pair[1].0 - pair[0].0 <= NODE_SNAP {
                let (a, b) = (root(&mut parent, pair[0].1), root(&mut parent, pair[1].1));
                parent[a.max(b)] = a.min(b);
            }
        }
    }
    let mut nodes: Vec<Node> = Vec::new();
    let mut node_of = vec![usize::MAX; crossings.len()];
    for c in 0..crossings.len() {
        let r = root(&mut parent, c);
        if r == c {
            node_of[c] = nodes.len();
            nodes.push(Node {
                at: crossings[c].at,
                lines: Vec::new(),
            });
        } else {
            node_of[c] = node_of[r];
        }
        nodes[node_of[c]].lines.extend(crossings[c].lines);
    }
    for node in &mut nodes {
        node.lines.sort_by_key(|&l| (rank_of(l), l));
        node.lines.dedup();
    }
    (nodes, node_of)
}

fn root(parent: &mut [usize], mut i: usize) -> usize {
    while parent[i] != i {
        parent[i] = parent[parent[i]];
        i = parent[i];
    }
    i
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crossing(a: usize, b: usize, along: [f64; 2], x: f64) -> Crossing {
        Crossing {
            lines: [a, b],
            along,
            at: Point::new(x, 0.0),
        }
    }

    #[test]
    fn a_cluster_is_not_split_where_a_grid_would() {
        // Three lines through one point whose coordinates straddle every rounding border.
        let d = 0.5 - 1e-9;
        let e = 0.5 + 1e-9;
        let set = [
            crossing(0, 1, [d, e], d),
            crossing(0, 2, [e, d], e),
            crossing(1, 2, [d, e], d),
        ];
        let (nodes, of) = cluster(&set, 3, |l| l as u32);
        assert_eq!(nodes.len(), 1, "one node");
        assert_eq!(nodes[0].lines, vec![0, 1, 2], "all three lines");
        assert_eq!(of, vec![0, 0, 0]);
    }

    #[test]
    fn crossings_further_apart_than_the_snap_are_two_nodes() {
        let set = [
            crossing(0, 1, [0.0, 0.0], 0.0),
            crossing(0, 2, [0.01, 5.0], 0.01),
        ];
        let (nodes, _) = cluster(&set, 3, |l| l as u32);
        assert_eq!(nodes.len(), 2, "0.01 mm is five times the snap");
    }
}
