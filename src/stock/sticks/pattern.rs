//! The notches of a bar that never ends: what repeats along it.

use crate::geom::{NODE_SNAP, SAME_FIGURE, cot_deg, sin_deg};
use crate::lattice::{Edge, FamilyId, Lattice, Member, Spacing, Turn, interface_height};
use crate::non_empty::NonEmpty;

/// A notch of a pattern.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Notch {
    /// Along the bar from its joint, mm: 0 but for round-off and offsets listed by hand.
    pub(super) off: f64,
    pub(super) edge: Edge,
    pub(super) angle_deg: f64,
    pub(super) width: f64,
    pub(super) depth: f64,
}

impl Notch {
    /// Length along the bar, mm: the walls are askew as the crossing bar is.
    pub(super) fn run(&self) -> f64 {
        self.width / sin_deg(self.angle_deg)
    }

    /// How far it reaches from its joint along a bar of this face, mm: towards the first end, towards the
    /// last.
    pub(super) fn reach(&self, face: f64) -> [f64; 2] {
        let half = 0.5 * (self.run() + face * cot_deg(self.angle_deg).abs());
        [half - self.off, half + self.off]
    }

    /// Whether both are one notch; where they lie is not looked at.
    pub(super) fn same_cut(&self, other: &Self) -> bool {
        let close = |a: f64, b: f64| (a - b).abs() <= SAME_FIGURE;
        self.edge == other.edge
            && close(self.angle_deg, other.angle_deg)
            && close(self.width, other.width)
            && close(self.depth, other.depth)
    }
}

/// A joint of a pattern.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PatternJoint {
    /// From joint 0, mm.
    pub(super) at: f64,
    /// Its notches.
    pub(super) notches: Vec<Notch>,
}

/// The notches of an endless bar: joints `0..len`, and again a period on, and so forth both ways.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pattern {
    /// The joints of a period in ascending order; the first lies at 0.
    pub(super) joints: NonEmpty<PatternJoint>,
    /// Length that repeats, mm.
    pub(super) period: f64,
}

/// Most joints in a period: more than any ground has that a maker would call regular.
const MOST_JOINTS: usize = 240;
/// Most periods of one family in the common period.
const MOST_PERIODS: u32 = 24;
/// Periods that differ by less are one, mm: over the longest stick they do not drift apart by what tells
/// pieces apart.
const SAME_PERIOD: f64 = 1e-9;

/// The lines of one family along a bar: places in one period.
struct Comb {
    family: FamilyId,
    places: Vec<f64>,
    period: f64,
}

impl Pattern {
    /// What repeats along a member's line, and where joint 0 lies from the member's start; `None` where
    /// nothing does.
    pub(super) fn along(lattice: &Lattice, member: &Member) -> Option<(Self, f64)> {
        let own = &lattice.families[member.family];
        let start = member.start.to_vec2();
        let (offset, origin) = (own.normal().dot(start), own.axis().dot(start));
        let mut combs = Vec::new();
        for (g, other) in lattice.families.entries() {
            if g == member.family || own.angle_to(other) == 0.0 {
                continue;
            }
            let along = other.normal().dot(own.axis());
            let fixed = other.normal().dot(own.normal()) * offset;
            let (places, step) = repeating(&other.spacing)?;
            let mut places: Vec<f64> = places
                .into_iter()
                .map(|o| (o - fixed) / along - origin)
                .collect();
            places.sort_by(f64::total_cmp);
            combs.push(Comb {
                family: g,
                places,
                period: step / along.abs(),
            });
        }
        let period = common_period(&combs)?;
        let mut lines: Vec<Line> = Vec::new();
        for comb in &combs {
            let times = (period / comb.period).round() as usize;
            if lines.len() + times * comb.places.len() > MOST_JOINTS {
                return None;
            }
            for k in 0..times {
                let on = k as f64 * comb.period;
                lines.extend(
                    comb.places
                        .iter()
                        .map(|p| ((p + on).rem_euclid(period), comb.family)),
                );
            }
        }
        let clusters = clusters(lines, period)?;
        let first = clusters.first().0;
        let joints = clusters.map(|(at, lines)| PatternJoint {
            at: at - first,
            notches: notches(lattice, member.family, lines),
        });
        let pattern = Self { joints, period };
        Some((pattern.shortest(), first))
    }

    /// How many joints there are in a period.
    pub(super) fn len(&self) -> usize {
        self.joints.len()
    }

    /// Index of a joint within the period, for any joint of the endless bar.
    pub(super) fn phase(&self, joint: i64) -> usize {
        self.joints.place_round(joint)
    }

    /// Place of any joint of the endless bar, mm from joint 0.
    pub(super) fn place(&self, joint: i64) -> f64 {
        let times = joint.div_euclid(self.len() as i64);
        times as f64 * self.period + self.joints.round(joint).at
    }

    /// Notches of any joint of the endless bar.
    pub(super) fn notches(&self, joint: i64) -> &[Notch] {
        &self.joints.round(joint).notches
    }

    /// The joint nearest to a place.
    pub(super) fn nearest(&self, place: f64) -> i64 {
        let times = (place / self.period).floor();
        let first = times as i64 * self.len() as i64;
        let off = |j: i64| (self.place(j) - place).abs();
        let near = first..=(first + self.len() as i64);
        near.fold(
            first - 1,
            |best, j| {
                if off(j) < off(best) { j } else { best }
            },
        )
    }

    /// The pattern of the turned bar. End for end, joint `i` becomes joint `len - 1 - i`.
    pub(super) fn turned(&self, turn: Turn) -> Self {
        let mut pattern = self.clone();
        if turn.swaps_edges() {
            for notch in pattern.joints.iter_mut().flat_map(|j| &mut j.notches) {
                notch.edge = notch.edge.other();
            }
        }
        if turn.swaps_ends() {
            let last = self.joints.last().at;
            pattern.joints.reverse();
            for joint in pattern.joints.iter_mut() {
                joint.at = last - joint.at;
                joint.notches.iter_mut().for_each(|n| n.off = -n.off);
            }
        }
        pattern
    }

    /// All shifts `q` that carry this pattern to the other: joint `i` here is joint `i + q` there.
    pub(super) fn shifts_to(&self, other: &Self) -> Vec<usize> {
        let n = self.len();
        if n != other.len() || (self.period - other.period).abs() > SAME_FIGURE {
            return Vec::new();
        }
        (0..n).filter(|&q| self.is_shifted(other, q)).collect()
    }

    fn is_shifted(&self, other: &Self, q: usize) -> bool {
        let from = other.place(q as i64);
        (0..self.len()).all(|i| {
            let (here, there) = (i as i64, (i + q) as i64);
            (other.place(there) - from - self.place(here)).abs() <= SAME_FIGURE
                && same_joint(self.notches(here), other.notches(there))
        })
    }

    /// The same endless bar with the shortest period.
    fn shortest(self) -> Self {
        let n = self.len();
        for part in (1..n).filter(|p| n.is_multiple_of(*p)) {
            let period = self.place(part as i64);
            let parts = (n / part) as f64;
            if (period * parts - self.period).abs() <= SAME_PERIOD
                && self.is_shifted(&self, part)
                && let Some(joints) = NonEmpty::of(self.joints.iter().take(part).cloned())
            {
                return Self {
                    joints,
                    period: self.period / parts,
                };
            }
        }
        self
    }

    /// A number that no turn or shift changes, to find patterns that may be the same.
    pub(super) fn signature(&self) -> f64 {
        let gaps = (0..self.len() as i64).map(|i| self.place(i + 1) - self.place(i));
        let lengths: f64 = gaps.map(|g| g * g).sum();
        let notches = self.joints.iter().flat_map(|j| &j.notches);
        let cuts: f64 = notches.map(|n| n.depth * n.width + 0.1 * n.angle_deg).sum();
        lengths.sqrt() + 0.01 * cuts
    }
}

/// Whether two joints have the same notches, in whatever order.
pub(super) fn same_joint(a: &[Notch], b: &[Notch]) -> bool {
    let mut left: Vec<&Notch> = b.iter().collect();
    let found = a.iter().all(|n| {
        let same = |m: &&Notch| n.same_cut(m) && (n.off - m.off).abs() <= SAME_FIGURE;
        let at = left.iter().position(same);
        at.map(|i| left.swap_remove(i)).is_some()
    });
    found && left.is_empty()
}

/// Offsets of one period and the period; `None` where a list does not repeat. Two lines repeat by their
/// distance; more must show their period twice.
fn repeating(spacing: &Spacing) -> Option<(Vec<f64>, f64)> {
    match spacing {
        Spacing::Even { first, step } => Some((vec![*first], *step)),
        Spacing::Listed(offsets) => {
            let n = offsets.len();
            let most = if n == 2 { 1 } else { n.saturating_sub(2) };
            (1..=most).find_map(|q| {
                let spans = offsets.iter().zip(offsets.iter().skip(q));
                let mut spans = spans.map(|(a, b)| b - a);
                let first = spans.next()?;
                spans
                    .all(|s| (s - first).abs() <= SAME_PERIOD)
                    .then(|| (offsets.iter().take(q).copied().collect(), first))
            })
        }
    }
}

/// The least length that is a whole number of periods of every comb.
fn common_period(combs: &[Comb]) -> Option<f64> {
    let mut common = combs.first()?.period;
    for comb in combs {
        common = (1..=MOST_PERIODS).find_map(|k| {
            let length = f64::from(k) * common;
            let times = (length / comb.period).round();
            let drift = (length - times * comb.period).abs();
            (times >= 1.0 && drift <= SAME_PERIOD * f64::from(k)).then_some(length)
        })?;
    }
    Some(common)
}

/// A line that crosses the bar: its place along it, mm, and its family.
type Line = (f64, FamilyId);

/// Lines that cross the bar in one joint, measured from the joint, with the joint's place; round one
/// period. `None` where nothing crosses it, or no gap lies between the lines.
fn clusters(mut lines: Vec<Line>, period: f64) -> Option<NonEmpty<(f64, NonEmpty<Line>)>> {
    lines.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let lines = NonEmpty::of(lines)?;
    let n = lines.len() as i64;
    let line = |i: i64| {
        let (at, family) = *lines.round(i);
        (at + i.div_euclid(n) as f64 * period, family)
    };
    // Start after a gap, so that no joint lies across the ends of the list.
    let first = (0..n).find(|&i| line(i + n).0 - line(i + n - 1).0 > NODE_SNAP)?;
    let mut together: Vec<NonEmpty<Line>> = Vec::new();
    for line in (first..first + n).map(line) {
        match together.last_mut() {
            Some(joint) if line.0 - joint.last().0 <= NODE_SNAP => joint.push(line),
            _ => together.push(NonEmpty::one(line)),
        }
    }
    NonEmpty::of(together.into_iter().map(|lines| {
        let centre = 0.5 * (lines.first().0 + lines.last().0);
        (centre, lines.map(|&(at, family)| (at - centre, family)))
    }))
}

/// Notches of a bar where these lines cross it in one joint, by the joint rule.
fn notches(lattice: &Lattice, own_family: FamilyId, lines: &[Line]) -> Vec<Notch> {
    let depth = lattice.depth;
    let k = lines.len() + 1;
    let rank = |f: FamilyId| lattice.families[f].rank;
    let place = |f: FamilyId| {
        let below = lines.iter().filter(|l| rank(l.1) < rank(f)).count();
        below + usize::from(rank(own_family) < rank(f)) + 1
    };
    let mut notches: Vec<Notch> = lines
        .iter()
        .map(|&(off, g)| {
            let (own, other) = (&lattice.families[own_family], &lattice.families[g]);
            let t = own.angle_to(other);
            let (mine, theirs) = (place(own_family), place(g));
            let z = interface_height(depth, k, mine.min(theirs), mine.max(theirs));
            let (edge, notch, angle_deg) = if mine < theirs {
                (Edge::Front, depth - z, t)
            } else {
                (Edge::Back, z, 180.0 - t)
            };
            Notch {
                off,
                edge,
                angle_deg,
                width: other.face + lattice.clearance,
                depth: notch,
            }
        })
        .collect();
    notches.sort_by(|a, b| {
        (a.edge.cmp(&b.edge))
            .then(a.depth.total_cmp(&b.depth))
            .then(a.angle_deg.total_cmp(&b.angle_deg))
    });
    notches
}
