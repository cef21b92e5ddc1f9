//! Nodes: clusters of crossings, found along the lines and never on a grid.

use std::collections::BTreeMap;

use kurbo::Point;

use super::family::{Family, FamilyId};
use super::model::{Line, LineId, Node, NodeId};
use crate::geom::NODE_SNAP;
use crate::table::{Column, Id, Table};

/// All lines that may reach wood, family by family.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    /// The lines.
    pub(crate) table: Table<Line>,
    /// Each family's, ascending, with their numbers in its spacing.
    of: Column<Family, Vec<(i64, LineId)>>,
}

impl Lines {
    /// Lays out the lines of each family; `of` gives their numbers and offsets, ascending.
    pub(crate) fn new(
        families: &Table<Family>,
        mut of: impl FnMut(FamilyId, &Family) -> Vec<(i64, f64)>,
    ) -> Self {
        let mut table = Table::new();
        let of = families.column(|f, family| {
            let mut line = |(number, (index, offset)): (usize, (i64, f64))| {
                let name = format!("{}/{number}", family.letter);
                let family = f;
                (
                    index,
                    table.push(Line {
                        name,
                        family,
                        offset,
                    }),
                )
            };
            (1..).zip(of(f, family)).map(&mut line).collect()
        });
        Self { table, of }
    }

    /// The line of a family with this number in its spacing, if it is among them.
    pub(crate) fn line(&self, family: FamilyId, index: i64) -> Option<LineId> {
        let own = &self.of[family];
        let at = own.binary_search_by_key(&index, |line| line.0).ok()?;
        Some(own[at].1)
    }

    /// The lines of a family, ascending.
    pub(crate) fn of(&self, family: FamilyId) -> impl DoubleEndedIterator<Item = LineId> {
        self.of[family].iter().map(|line| line.1)
    }
}

/// Two lines that cross, and where along each: distances from the foot of the origin's perpendicular.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Crossing {
    pub(crate) lines: [LineId; 2],
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
/// Gives the nodes and, for every crossing, its node.
pub(crate) fn cluster(
    crossings: &Table<Crossing>,
    lines: &Table<Line>,
    rank_of: impl Fn(LineId) -> u32,
) -> (Table<Node>, Column<Crossing, NodeId>) {
    let mut on_line = lines.column(|_, _| Vec::new());
    for (c, crossing) in crossings.entries() {
        for side in 0..2 {
            on_line[crossing.lines[side]].push((crossing.along[side], c));
        }
    }
    let mut parent: Parents = crossings.column(|c, _| c);
    for list in on_line.iter_mut() {
        list.sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
        for pair in list.windows(2) {
            if pair[1].0 - pair[0].0 <= NODE_SNAP {
                let (a, b) = (root(&mut parent, pair[0].1), root(&mut parent, pair[1].1));
                parent[a.max(b)] = a.min(b);
            }
        }
    }
    let mut nodes: Table<Node> = Table::new();
    let mut of_root = BTreeMap::new();
    let node_of = crossings.column(|c, crossing| {
        let first = root(&mut parent, c);
        let node = *of_root.entry(first).or_insert_with(|| {
            nodes.push(Node {
                at: crossings[first].at,
                lines: Vec::new(),
            })
        });
        nodes[node].lines.extend(crossing.lines);
        node
    });
    for node in nodes.iter_mut() {
        node.lines.sort_by_key(|&l| (rank_of(l), l));
        node.lines.dedup();
    }
    (nodes, node_of)
}

/// For every crossing another of its node, or itself where it is the node's first.
type Parents = Column<Crossing, Id<Crossing>>;

fn root(parent: &mut Parents, mut c: Id<Crossing>) -> Id<Crossing> {
    while parent[c] != c {
        parent[c] = parent[parent[c]];
        c = parent[c];
    }
    c
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lattice::Spacing;

    /// Three lines, one a family.
    fn lines() -> Lines {
        let family = |letter| Family {
            name: String::new(),
            letter,
            direction_deg: 0.0,
            face: 4.0,
            rank: 1,
            spacing: Spacing::Listed(vec![0.0]),
        };
        let families: Table<Family> = ['A', 'B', 'C'].map(family).into_iter().collect();
        Lines::new(&families, |_, family| family.lines_between(-1.0, 1.0))
    }

    fn clustered(
        lines: &Lines,
        set: &[([usize; 2], [f64; 2], f64)],
    ) -> (Table<Node>, Column<Crossing, NodeId>) {
        let ids: Vec<LineId> = lines.table.ids().collect();
        let crossing = |&(pair, along, x): &([usize; 2], [f64; 2], f64)| Crossing {
            lines: pair.map(|l| ids[l]),
            along,
            at: Point::new(x, 0.0),
        };
        let crossings = set.iter().map(crossing).collect();
        cluster(&crossings, &lines.table, |l| l.index() as u32)
    }

    #[test]
    fn a_cluster_is_not_split_where_a_grid_would() {
        // Three lines through one point whose coordinates straddle every rounding border.
        let d = 0.5 - 1e-9;
        let e = 0.5 + 1e-9;
        let lines = lines();
        let set = [
            ([0, 1], [d, e], d),
            ([0, 2], [e, d], e),
            ([1, 2], [d, e], d),
        ];
        let (nodes, of) = clustered(&lines, &set);
        assert_eq!(nodes.len(), 1, "one node");
        let all: Vec<LineId> = lines.table.ids().collect();
        assert_eq!(nodes.rows()[0].lines, all, "all three lines");
        assert!(of.iter().all(|&n| Some(n) == nodes.id(0)));
    }

    #[test]
    fn crossings_further_apart_than_the_snap_are_two_nodes() {
        let set = [([0, 1], [0.0, 0.0], 0.0), ([0, 2], [0.01, 5.0], 0.01)];
        let (nodes, _) = clustered(&lines(), &set);
        assert_eq!(nodes.len(), 2, "0.01 mm is five times the snap");
    }
}
