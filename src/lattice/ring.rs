//! A closed ring of bars round an outline, half-lapped at its corners: a lattice of its own.

use kurbo::{Point, Vec2};

use super::family::{Family, Spacing};
use super::joint::{interface_height, square_run};
use super::model::{
    Class, ClassId, Edge, End, EndShape, Joint, JointShape, Lattice, Line, LineId, Member,
    MemberId, Node, NodeId, Turn,
};
use super::order::order;
use super::outline::SideOf;
use crate::geom::tidy;
use crate::table::{Column, Table};

/// What a ring is made of. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingBars {
    /// Least and greatest face: notches take the greatest.
    pub face: [f64; 2],
    /// Play across every notch.
    pub clearance: f64,
    /// Wood past the notch at each end.
    pub ear: f64,
}

/// Place of a side in the order in which a ring goes together, from 1 at the back. Neighbours differ, so that
/// every side can be lowered onto those before it: every other one lies at the back, and of an odd number
/// the last one on top.
fn rank(side: usize, sides: usize) -> u32 {
    match side {
        last if sides % 2 == 1 && last + 1 == sides => 3,
        even if even.is_multiple_of(2) => 1,
        _ => 2,
    }
}

impl Lattice {
    /// The ring round this ground's trimmed outline: one bar a side, as deep as the ground, its inner face on
    /// the outline. Each runs past its corners by a notch and an ear. Members are called `surround-` and the
    /// side's name, classes `s1` and on. All notches have walls square to their bar, for cutting on its side;
    /// a web of 0 or less tells of notches that meet.
    #[must_use]
    pub fn ring(&self, bars: RingBars) -> Self {
        let face = bars.face[1];
        let sides = &self.outline.sides;
        let corners = self.outline.corners_outside(0.5 * face);
        let (families, offsets) = side_families(sides, face);
        let lines: Table<Line> = (families.entries())
            .map(|(family, row)| Line {
                name: row.name.clone(),
                family,
                offset: offsets[family],
            })
            .collect();
        let all: Vec<LineId> = lines.ids().collect();
        // A corner lies between its side and the next.
        let nodes: Table<Node> = (around(&all).zip(corners))
            .map(|([_, own, next], at)| {
                let mut meet = vec![own, next];
                meet.sort_by_key(|&line| families[lines[line].family].rank);
                Node { at, lines: meet }
            })
            .collect();
        let maker = RingMaker {
            families: &families,
            lines: &lines,
            nodes: &nodes,
            depth: self.depth,
            bars,
        };
        let classes: Table<Class> = Table::new();
        let corners: Vec<NodeId> = nodes.ids().collect();
        let sides = around(&all).zip(around(&corners));
        let (mut members, ends) =
            Table::with_column(sides.map(|([before, own, next], [before_it, at_end, _])| {
                let ends = [(before_it, before), (at_end, next)];
                maker.side_bar(own, ends, classes.next_id())
            }));
        let member_of_line = Self::members_of_lines(&lines, &members);
        for m in members.ids() {
            maker.add_joints(&mut members[m], ends[m], &member_of_line);
        }
        let order = order(&members, &nodes, &member_of_line);
        let mut ring = Self {
            outline: self.outline.clone(),
            depth: self.depth,
            clearance: bars.clearance,
            faces: families.column(|_, _| bars.face),
            depths: families.column(|_, _| [self.depth; 2]),
            families,
            lines,
            same_piece: self.same_piece,
            nodes,
            members,
            classes,
            order,
            least_web: None,
            waste_web: None,
        };
        ring.settle_classes();
        for (number, class) in (1..).zip(ring.classes.iter_mut()) {
            class.id = format!("s{number}");
        }
        [ring.least_web, ring.waste_web] = ring.find_least_webs(0.0);
        ring
    }
}

/// A family for each side, along it, and where its one line lies: half a face outside.
fn side_families(sides: &[SideOf], face: f64) -> (Table<Family>, Column<Family, f64>) {
    Table::with_column((0..).zip(sides).map(|(s, side)| {
        let direction = side.direction_deg.rem_euclid(180.0);
        let mut family = Family {
            name: side.name.clone(),
            letter: 'F',
            direction_deg: if direction > 90.0 {
                direction - 180.0
            } else {
                direction
            },
            face,
            rank: rank(s, sides.len()),
            spacing: Spacing::Listed(Vec::new()),
        };
        // The family's normal may point either way.
        let sign = family.normal().dot(side.normal).signum();
        let offset = sign * (side.offset + 0.5 * face);
        family.spacing = Spacing::Listed(vec![offset]);
        (family, offset)
    }))
}

/// Each of these with the one before it and the one after it, round and round.
fn around<T: Copy>(of: &[T]) -> impl Iterator<Item = [T; 3]> {
    let n = of.len();
    (0..n).map(move |i| [of[(i + n - 1) % n], of[i], of[(i + 1) % n]])
}

/// An end of a side: its corner, and the line of the side beyond.
type SideEnd = (NodeId, LineId);

struct RingMaker<'a> {
    families: &'a Table<Family>,
    lines: &'a Table<Line>,
    nodes: &'a Table<Node>,
    depth: f64,
    bars: RingBars,
}

impl RingMaker<'_> {
    /// The bar of a side, without joints, and its first and last end. `ends` are those counter-clockwise.
    fn side_bar(&self, line: LineId, ends: [SideEnd; 2], class: ClassId) -> (Member, [SideEnd; 2]) {
        let family = self.lines[line].family;
        let own = &self.families[family];
        let axis: Vec2 = own.axis();
        let along = |corner: NodeId| axis.dot(self.nodes[corner].at.to_vec2());
        // A bar starts at its lesser x, an upright one at its lesser y.
        let ends = if along(ends[0].0) <= along(ends[1].0) {
            ends
        } else {
            [ends[1], ends[0]]
        };
        let [start, end]: [Point; 2] = ends.map(|(corner, _)| self.nodes[corner].at);
        let square = End {
            angle_deg: 90.0,
            shape: EndShape::Square,
        };
        let member = Member {
            id: format!("surround-{}", own.name.replace(' ', "-")),
            family,
            line,
            class,
            turn: Turn::None,
            start,
            end,
            from: 0.0,
            to: (end - start).hypot(),
            shift: 0.0,
            ends: [square; 2],
            trimmed_by_hand: [false; 2],
            joints: Vec::new(),
        };
        (member, ends)
    }

    /// Laps a bar with its neighbours at its corners, and lets it run past them.
    fn add_joints(
        &self,
        member: &mut Member,
        ends: [SideEnd; 2],
        member_of_line: &Column<Line, Option<MemberId>>,
    ) {
        let own = &self.families[member.family];
        let joint = |(node, line): SideEnd, at: f64| {
            let theirs = &self.families[self.lines[line].family];
            let t = own.angle_to(theirs);
            let z = interface_height(self.depth, 2, 1, 2);
            let (edge, notch) = if own.rank < theirs.rank {
                (Edge::Front, self.depth - z)
            } else {
                (Edge::Back, z)
            };
            let width = theirs.face + self.bars.clearance;
            Joint {
                at: tidy(at),
                node,
                with: member_of_line[line],
                filled: true,
                line,
                edge,
                angle_deg: if edge == Edge::Front { t } else { 180.0 - t },
                width,
                depth: notch,
                shape: JointShape::Square,
                run: square_run(width, own.face, t),
            }
        };
        let length = member.to;
        let [first, last] = [joint(ends[0], 0.0), joint(ends[1], length)];
        member.from = -(0.5 * first.run + self.bars.ear);
        member.to = length + 0.5 * last.run + self.bars.ear;
        member.joints = vec![first, last];
    }
}
