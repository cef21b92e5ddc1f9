//! The dry fit: all members put together on paper, from the shapes as they will be cut.
//!
//! For each node and each slab of heights between walls' ends, the plan regions that two members keep
//! are convex shapes cut by straight bands, so what they share is exact: no sampling, no grid.

use std::collections::BTreeMap;

use kurbo::{Point, Vec2};

use super::family::FamilyId;
use super::gap::{Filler, widest_gap};
use super::model::{Class, Edge, Joint, Lattice, Member, MemberId, Node, NodeId};
use super::void::{Void, turned_void};
use crate::geom::{Convex, SLIVER, cos_deg, cot_deg, sin_deg};
use crate::table::Column;

/// What is missing from the piece of a class.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FitShape {
    /// With the fillets that tool or beam leave in inside corners.
    pub voids: Vec<Void>,
    /// With those corners cut sharp: what tells an overlap of walls from a fillet's.
    pub sharp: Vec<Void>,
    /// How much further apart the walls of a notch stand at one face of the bar than at the other, where
    /// they stand as drawn, mm: a beam's cut flares. It counts as gap and shares no space.
    pub flare: f64,
}

/// What the dry fit found; nothing by default.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DryFit {
    /// Volume that pairs of members share, fillets apart, mm³.
    pub interference_mm3: f64,
    /// Volume of corner fillets that press into bars, mm³.
    pub crush_mm3: f64,
    /// Greatest distance along a notched bar between a wall and the bar that fills the notch, mm.
    pub largest_gap_mm: f64,
    /// Press fit: how much narrower than the bar a notch is meant to be, mm.
    pub press_mm: f64,
    /// Node with the most shared volume, if any.
    pub worst: Option<NodeId>,
    /// Member with the largest gap.
    pub loosest: Option<MemberId>,
}

impl DryFit {
    /// This fit and that of bars which meet none of these; places are those of this one.
    #[must_use]
    pub fn with(self, other: &Self) -> Self {
        Self {
            interference_mm3: self.interference_mm3 + other.interference_mm3,
            crush_mm3: self.crush_mm3 + other.crush_mm3,
            largest_gap_mm: self.largest_gap_mm.max(other.largest_gap_mm),
            ..self
        }
    }
}

/// The shapes as intended, class by class: what a cutter without radius or error would make.
#[must_use]
pub fn intended_shapes(lattice: &Lattice) -> Column<Class, FitShape> {
    let shape = |class: &Class| {
        let voids: Vec<Void> = class
            .notches
            .iter()
            .map(|n| {
                let (z0, z1) = n.edge.heights(n.depth, lattice.depth);
                let angle_deg = n.shape.wall_angle_deg(n.edge, n.angle_deg);
                Void {
                    z0,
                    z1,
                    angle_deg,
                    lo: n.at - 0.5 * n.run,
                    hi: n.at + 0.5 * n.run,
                }
            })
            .collect();
        FitShape {
            sharp: voids.clone(),
            voids,
            flare: 0.0,
        }
    };
    lattice.classes.column(|_, class| shape(class))
}

/// Puts all members together. `contact` is how deep two surfaces may
/// lie in each other and still only touch: 0 for exact shapes, the replay's tolerance for cut ones.
#[must_use]
pub fn dry_fit(lattice: &Lattice, shapes: &Column<Class, FitShape>, contact: f64) -> DryFit {
    let mut fit = DryFit {
        interference_mm3: 0.0,
        crush_mm3: 0.0,
        largest_gap_mm: 0.0,
        press_mm: (-lattice.clearance).max(0.0),
        worst: None,
        loosest: None,
    };
    let mut most = 0.0;
    for_each_node(lattice, shapes, contact, |n, bars, found| {
        fit.interference_mm3 += found.shared;
        fit.crush_mm3 += found.crush;
        if found.shared > most {
            most = found.shared;
            fit.worst = Some(n);
        }
        if found.gap > fit.largest_gap_mm {
            fit.largest_gap_mm = found.gap;
            fit.loosest = Some(bars[found.loosest]);
        }
    });
    fit
}

/// Nodes at which exact shapes share space, or leave a gap of more than `most_gap` mm.
pub(super) fn failing_nodes(
    lattice: &Lattice,
    shapes: &Column<Class, FitShape>,
    most_gap: f64,
) -> Vec<NodeId> {
    let mut failing = Vec::new();
    for_each_node(lattice, shapes, 0.0, |n, _, found| {
        if found.shared > SPECK || found.gap > most_gap {
            failing.push(n);
        }
    });
    failing
}

/// Volume of round-off, mm³.
const SPECK: f64 = 1e-6;

/// Looks at every node where members meet: the node, its members, and what is found.
fn for_each_node(
    lattice: &Lattice,
    shapes: &Column<Class, FitShape>,
    contact: f64,
    mut see: impl FnMut(NodeId, &[MemberId], &Found),
) {
    let member_of_line = Lattice::members_of_lines(&lattice.lines, &lattice.members);
    let bench = Bench::new(lattice, shapes, contact);
    let mut known: BTreeMap<Vec<i64>, Found> = BTreeMap::new();
    for (n, node) in lattice.nodes.entries() {
        let bars: Vec<MemberId> = (node.lines.iter())
            .filter_map(|&line| member_of_line[line])
            .collect();
        if bars.len() < 2 {
            continue;
        }
        let here: Vec<Here<'_>> = bars.iter().map(|&m| bench.here(m, n)).collect();
        // Bars that look alike round the node meet in the same way: look once.
        let found = known
            .entry(bench.likeness(&here))
            .or_insert_with(|| bench.look(&here));
        see(n, &bars, found);
    }
}

/// Where a node lies along a member's centre line, from its start.
fn along(member: &Member, lattice: &Lattice, node: &Node) -> f64 {
    lattice.families[member.family]
        .axis()
        .dot(node.at - member.start)
}

#[derive(Debug, Clone, Copy, Default)]
struct Found {
    shared: f64,
    crush: f64,
    gap: f64,
    loosest: usize,
}

/// Voids of a class's piece in order of their first wall.
struct Sorted {
    voids: Vec<Void>,
    /// Those longer than [`LONG`], which would blunt the search.
    long: Vec<Void>,
}

/// Longer voids along the bar are looked at for every node, mm: the rounding of an edge, a lost end.
const LONG: f64 = 100.0;

impl Sorted {
    fn new(voids: &[Void]) -> Self {
        let (long, mut voids): (Vec<Void>, Vec<Void>) =
            voids.iter().partition(|v| v.hi - v.lo > LONG);
        voids.sort_by(|a, b| a.lo.total_cmp(&b.lo));
        Self { voids, long }
    }

    /// Voids that reach into lo..hi.
    fn within(&self, lo: f64, hi: f64) -> impl Iterator<Item = &Void> {
        let first = self.voids.partition_point(|v| v.lo < lo - LONG);
        let last = self.voids.partition_point(|v| v.lo < hi);
        let near = &self.voids[first..last.max(first)];
        let reaches = move |v: &&Void| v.lo < hi && v.hi > lo;
        near.iter().chain(&self.long).filter(reaches)
    }
}

/// All pieces, as they are put together.
struct Bench<'a> {
    lattice: &'a Lattice,
    /// Voids and sharp voids of each class.
    shapes: Column<Class, [Sorted; 2]>,
    /// Flare of each class's walls.
    flares: Column<Class, f64>,
    contact: f64,
    /// How far from a node its notches and bars reach along a member.
    reach: f64,
}

/// A member at a node: its joints and voids there, in its own frame from its start.
struct Here<'a> {
    member: &'a Member,
    /// From where to where it is cut.
    span: (f64, f64),
    id: MemberId,
    axis: Vec2,
    normal: Vec2,
    at: f64,
    joints: &'a [Joint],
    voids: Vec<Void>,
    sharp: Vec<Void>,
}

impl<'a> Bench<'a> {
    fn new(lattice: &'a Lattice, shapes: &Column<Class, FitShape>, contact: f64) -> Self {
        let sorted = |s: &FitShape| [Sorted::new(&s.voids), Sorted::new(&s.sharp)];
        let face = lattice.faces.iter().map(|f| f[1]).fold(0.0, f64::max);
        let joints = lattice.members.iter().flat_map(|m| &m.joints);
        let run = joints.map(|j| j.run).fold(0.0, f64::max);
        Self {
            lattice,
            shapes: lattice.classes.column(|c, _| sorted(&shapes[c])),
            flares: lattice.classes.column(|c, _| shapes[c].flare),
            contact,
            reach: run + face,
        }
    }

    fn look(&self, here: &[Here<'_>]) -> Found {
        let mut found = Found::default();
        for i in 0..here.len() {
            for j in i + 1..here.len() {
                let sharp = self.shared(&here[i], &here[j], |h| &h.sharp);
                let all = self.shared(&here[i], &here[j], |h| &h.voids);
                found.shared += sharp;
                found.crush += (all - sharp).max(0.0);
            }
            let gap = self.gap(here, i);
            if gap > found.gap {
                found.gap = gap;
                found.loosest = i;
            }
        }
        found
    }

    fn here(&self, m: MemberId, node: NodeId) -> Here<'a> {
        let member = &self.lattice.members[m];
        let class = &self.lattice.classes[member.class];
        let family = &self.lattice.families[member.family];
        let at = along(member, self.lattice, &self.lattice.nodes[node]);
        // The joints of a node stand side by side.
        let first = member.joints.partition_point(|j| j.at < at - self.reach);
        let near = member.joints[first..].chunk_by(|a, b| a.node == b.node);
        // None where none of its notches reaches wood.
        let joints = (near.into_iter())
            .find(|here| here.iter().any(|j| j.node == node))
            .unwrap_or_default();

        let span = self.lattice.cut_span(member);
        let mid = at - span.0;
        let mid = if member.turn.swaps_ends() {
            class.length - mid
        } else {
            mid
        };
        let near = |which: usize| -> Vec<Void> {
            self.shapes[member.class][which]
                .within(mid - self.reach, mid + self.reach)
                .map(|v| turned_void(v, member.turn, class.length, self.lattice.depth))
                .map(|v| Void {
                    lo: v.lo + span.0,
                    hi: v.hi + span.0,
                    ..v
                })
                .collect()
        };
        Here {
            member,
            span,
            id: m,
            axis: family.axis(),
            normal: family.normal(),
            at,
            joints,
            voids: near(0),
            sharp: near(1),
        }
    }

    /// All that decides how the bars of a node meet, measured from the node.
    fn likeness(&self, here: &[Here<'_>]) -> Vec<i64> {
        // Steps in which shapes count as alike: exact ones to round-off, cut ones well within contact.
        let step = (0.2 * self.contact).max(1e-8);
        let fix = |v: f64| (v / step).round() as i64;
        let mut key = Vec::new();
        for h in here {
            key.push(h.member.family.index() as i64);
            key.push(fix(self.flare(h.member)));
            for (end, distance) in [h.at - h.span.0, h.span.1 - h.at].into_iter().enumerate() {
                if distance < self.reach {
                    let angle = h.member.ends[end].angle_deg;
                    key.extend([end as i64, fix(distance), fix(angle)]);
                }
            }
            for j in h.joints {
                let filled = j.filled && here.iter().any(|o| j.with == Some(o.id));
                let family = self.lattice.lines[j.line].family;
                key.extend([family.index() as i64, i64::from(filled)]);
                key.extend([
                    fix(j.at - h.at),
                    fix(j.depth),
                    i64::from(j.edge == Edge::Front),
                ]);
            }
            for v in h.voids.iter().chain(&h.sharp) {
                let far = |x: f64| fix((x - h.at).clamp(-self.reach, self.reach));
                key.extend([fix(v.z0), fix(v.z1), fix(v.angle_deg), far(v.lo), far(v.hi)]);
            }
            key.push(i64::MIN);
        }
        key
    }

    fn flare(&self, member: &Member) -> f64 {
        self.flares[member.class]
    }

    /// Half the bar's width that counts against a notch of the other bar: a press fit is told apart.
    fn half_face(&self, family: FamilyId) -> f64 {
        0.5 * (self.lattice.faces[family][1] + self.lattice.clearance.min(0.0))
    }

    /// Volume that two bars share, mm³.
    fn shared<'h>(
        &self,
        a: &'h Here<'_>,
        b: &'h Here<'_>,
        pick: fn(&'h Here<'_>) -> &'h [Void],
    ) -> f64 {
        let meet = self.meeting(a, b);
        if !meet.is_solid() {
            return 0.0;
        }
        let grown = |h: &'h Here<'_>| -> Vec<Void> {
            let by = self.contact;
            let wider = |v: &Void| {
                let along = by / sin_deg(v.angle_deg);
                Void {
                    z0: v.z0 - by,
                    z1: v.z1 + by,
                    lo: v.lo - along,
                    hi: v.hi + along,
                    ..*v
                }
            };
            pick(h).iter().map(wider).collect()
        };
        let (va, vb) = (grown(a), grown(b));
        let mut heights = vec![0.0, self.lattice.depth];
        for v in va.iter().chain(&vb) {
            heights.extend(
                [v.z0, v.z1]
                    .into_iter()
                    .filter(|z| (0.0..=self.lattice.depth).contains(z)),
            );
        }
        heights.sort_by(f64::total_cmp);
        let mut volume = 0.0;
        for slab in heights.windows(2) {
            let height = slab[1] - slab[0];
            if height <= 0.0 {
                continue;
            }
            let z = 0.5 * (slab[0] + slab[1]);
            let mut kept = vec![meet.clone()];
            for (h, voids) in [(a, &va), (b, &vb)] {
                for v in voids.iter().filter(|v| v.z0 < z && z < v.z1) {
                    let (normal, lo, hi) = band(h, v);
                    kept = kept
                        .iter()
                        .flat_map(|r| r.without(normal, lo, hi))
                        .filter(Convex::is_solid)
                        .collect();
                }
            }
            volume += height * kept.iter().map(Convex::area).sum::<f64>();
        }
        volume
    }

    /// Plan region where two bars cross.
    fn meeting(&self, a: &Here<'_>, b: &Here<'_>) -> Convex {
        let half = self.half_face(a.member.family);
        let centre = a.normal.dot(a.member.start.to_vec2());
        let body = self
            .lattice
            .body(a.member)
            .within(a.normal, centre - half, centre + half);
        let half = self.half_face(b.member.family);
        let centre = b.normal.dot(b.member.start.to_vec2());
        body.within(b.normal, centre - half, centre + half)
            .both(&self.lattice.body(b.member))
    }

    /// Greatest gap in the notches of bar `i`, over all slabs in which another bar fills them.
    fn gap(&self, here: &[Here<'_>], i: usize) -> f64 {
        let me = &here[i];
        let half = 0.5 * self.lattice.faces[me.member.family][0];
        let depth = self.lattice.depth;
        let notches = self.notches(me, here);
        let mut heights = vec![0.0, depth];
        heights.extend(me.voids.iter().flat_map(|v| [v.z0, v.z1]));
        heights.extend(notches.iter().flat_map(|n| [n.z0, n.z1]));
        heights.retain(|z| (0.0..=depth).contains(z));
        heights.sort_by(f64::total_cmp);
        // At the face where the walls stand further apart, each does by half of that.
        let by = 0.5 * self.flare(me.member);
        let flared = |v: &Void| Void {
            lo: v.lo - by,
            hi: v.hi + by,
            ..*v
        };
        let mut greatest: f64 = 0.0;
        for slab in heights.windows(2) {
            // A slab thinner than twice the contact is the error of a floor, not a place to fill; one of
            // a hair is round-off between a floor and the same floor by another sum.
            if slab[1] - slab[0] <= (2.0 * self.contact).max(SLIVER) {
                continue;
            }
            let z = 0.5 * (slab[0] + slab[1]);
            let notches: Vec<&Filler> = notches.iter().filter(|n| n.z0 < z && z < n.z1).collect();
            let voids = me.voids.iter().filter(|v| v.z0 < z && z < v.z1);
            let voids: Vec<Void> = voids.map(flared).collect();
            greatest = greatest.max(widest_gap(&voids, &notches, half, me.span));
        }
        greatest
    }

    /// The notches of `me` at its node, as the joint rule has them, each with the bar that fills it.
    fn notches(&self, me: &Here<'_>, here: &[Here<'_>]) -> Vec<Filler> {
        let own = &self.lattice.families[me.member.family];
        let filled = |m: MemberId| here.iter().any(|h| h.id == m);
        let filler = |j: &Joint| {
            let family = self.lattice.lines[j.line].family;
            let t = own.angle_to(&self.lattice.families[family]);
            let (z0, z1) = j.edge.heights(j.depth, self.lattice.depth);
            Filler {
                at: j.at,
                half_run: 0.5 * self.lattice.faces[family][0] / sin_deg(t),
                lean: cot_deg(t),
                half_notch: 0.5 * j.run,
                notch_lean: cot_deg(j.wall_angle_deg()),
                z0,
                z1,
                filled: j.filled && j.with.is_some_and(filled),
            }
        };
        me.joints.iter().map(filler).collect()
    }
}

/// A void as a band of the plan: unit normal and the offsets of its walls.
fn band(h: &Here<'_>, v: &Void) -> (Vec2, f64, f64) {
    // In the bar's frame x - y cot t lies between lo and hi.
    let (s, c) = (sin_deg(v.angle_deg), cos_deg(v.angle_deg));
    let normal = h.axis * s - h.normal * c;
    let origin: Point = h.member.start;
    let base = normal.dot(origin.to_vec2());
    (normal, base + v.lo * s, base + v.hi * s)
}
