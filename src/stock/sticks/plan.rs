//! From the members of a panel to sticks.

use std::collections::BTreeMap;

use super::choose::{Choice, Task};
use super::error::{LimitOf, SticksError};
use super::needs::{Piece, ends_of};
use super::pack::{Filled, Kind, Packing, ROUND_OFF, Slot, Way};
use super::pattern::Pattern;
use super::{Stick, StickClass, StickLimit, StickPiece, StickPlan};
use crate::geom::{SAME_PIECE, cot_deg};
use crate::lattice::{ClassNotch, End, EndShape, JointShape, Lattice, Turn};
use crate::panel::Panel;

/// Pieces of one pattern.
struct Group {
    pattern: Pattern,
    regular: bool,
    /// Each with the ways it lies in the pattern.
    pieces: Vec<(Piece, Vec<Way>)>,
}

/// Plans the sticks of a panel, the whole quantity together.
///
/// Members whose notches are windows of one periodic pattern, turned over or end for end if need be,
/// share a class of sticks; a member without a pattern gets sticks of its own. Between two pieces the
/// least number of joints is lost that leaves tail, saw kerf and lead. All sticks of a class have one
/// count of joints: that with the least total milled length within the panel's limit and `limit`, then
/// with the fewest sticks.
///
/// # Errors
/// A member that needs a longer stick than there may be, and ends too short for their notches.
pub fn plan_sticks(
    lattice: &Lattice,
    panel: &Panel,
    limit: StickLimit,
) -> Result<StickPlan, Vec<SticksError>> {
    let mut faults = Vec::new();
    let mut pieces = Vec::new();
    for class in 0..lattice.classes.len() {
        match Piece::of(lattice, panel, class) {
            Ok(piece) => {
                faults.extend(short_ends(lattice, panel, &piece));
                pieces.push(piece);
            }
            Err(fault) => faults.push(fault),
        }
    }
    if !faults.is_empty() {
        return Err(told_once(faults));
    }
    let planner = Planner {
        lattice,
        panel,
        limit: Limit::of(panel, limit),
    };
    let mut plan = StickPlan::default();
    for group in groups(lattice, pieces) {
        if let Err(fault) = planner.add(&mut plan, group) {
            faults.push(fault);
        }
    }
    if faults.is_empty() {
        Ok(plan)
    } else {
        Err(told_once(faults))
    }
}

/// The first fault of each kind: one member stands for all that are like it.
fn told_once(faults: Vec<SticksError>) -> Vec<SticksError> {
    let mut out: Vec<SticksError> = Vec::new();
    for fault in faults {
        let worse = |a: &SticksError, b: &SticksError| a.how_far() > b.how_far();
        match out.iter_mut().find(|f| f.is_like(&fault)) {
            Some(told) if worse(&fault, told) => *told = fault,
            Some(_) => {}
            None => out.push(fault),
        }
    }
    out
}

/// Wood that ends within the notch it should hold.
fn short_ends(lattice: &Lattice, panel: &Panel, piece: &Piece) -> Vec<SticksError> {
    let [first, last] = piece.reach();
    let member = member_id(lattice, piece);
    let ends = piece.ends(Turn::None);
    let family = |lead: bool| {
        let least = piece.families.iter().min_by(|a, b| {
            let of = |f: usize| {
                let common = if lead {
                    panel.sticks.lead
                } else {
                    panel.sticks.tail
                };
                ends_of(lattice, panel, f).unwrap_or(common)
            };
            of(**a).total_cmp(&of(**b))
        });
        least.copied().unwrap_or(0)
    };
    let fault = |lead: bool, length: f64, reach: f64| {
        let f = family(lead);
        let name = lattice.families.get(f).map_or("", |f| f.name.as_str());
        let key = match ends_of(lattice, panel, f) {
            Some(_) => format!("sticks.ends.{name}"),
            None if lead => "sticks.lead".into(),
            None => "sticks.tail".into(),
        };
        (length < reach - ROUND_OFF).then(|| SticksError::ShortEnd {
            member: member.clone(),
            family: name.into(),
            key,
            lead,
            length,
            reach,
        })
    };
    [
        fault(true, ends.before, first),
        fault(false, ends.after, last),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn member_id(lattice: &Lattice, piece: &Piece) -> String {
    let class = lattice.classes.get(piece.class);
    let first = class.and_then(|c| lattice.members.get(*c.members.first()?));
    first.map_or(String::new(), |m| m.id.clone())
}

/// Gathers pieces by their patterns, in the order of the classes of members.
fn groups(lattice: &Lattice, pieces: Vec<Piece>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut alike: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for mut piece in pieces {
        let found = own_pattern(lattice, &mut piece);
        let Some((pattern, first)) = found else {
            groups.push(own_group(piece));
            continue;
        };
        // Numbers that a turn leaves alone differ by round-off at most.
        const STEP: f64 = 1e-3;
        let key = (pattern.signature() / STEP).round() as i64;
        let near = (key - 1..=key + 1).filter_map(|k| alike.get(&k));
        let home = near.flatten().find_map(|&g| {
            let group = groups.get(g)?;
            let close = |a: [f64; 2], b: [f64; 2]| {
                (a[0] - b[0]).abs() <= SAME_PIECE && (a[1] - b[1]).abs() <= SAME_PIECE
            };
            let face = group.pieces.first()?.0.face;
            let ways = ways(&piece, &pattern, first, &group.pattern);
            (close(face, piece.face) && !ways.is_empty()).then_some((g, ways))
        });
        match home {
            Some((g, ways)) => {
                if let Some(group) = groups.get_mut(g) {
                    group.pieces.push((piece, ways));
                }
            }
            None => {
                let ways = ways(&piece, &pattern, first, &pattern);
                alike.entry(key).or_default().push(groups.len());
                groups.push(Group {
                    pattern,
                    regular: true,
                    pieces: vec![(piece, ways)],
                });
            }
        }
    }
    groups
}

/// The pattern that a piece is a window of, and which joint of it is its first.
fn own_pattern(lattice: &Lattice, piece: &mut Piece) -> Option<(Pattern, i64)> {
    let class = lattice.classes.get(piece.class)?;
    let member = lattice.members.get(*class.members.first()?)?;
    let (pattern, zero) = Pattern::along(lattice, member)?;
    let first = piece.window(lattice, &pattern, zero)?;
    Some((pattern, first))
}

/// All ways for a piece to lie in a group's pattern: each turn that carries its own pattern there.
fn ways(piece: &Piece, own: &Pattern, first: i64, to: &Pattern) -> Vec<Way> {
    let mut ways: Vec<Way> = Vec::new();
    for turn in Turn::ALL {
        let begins = if turn.swaps_ends() {
            own.len() as i64 - (first + piece.joints.len() as i64)
        } else {
            first
        };
        for shift in own.turned(turn).shifts_to(to) {
            let way = Way {
                phase: to.phase(begins + shift as i64),
                turn,
                ends: piece.ends(turn),
            };
            let same = |w: &Way| {
                w.phase == way.phase
                    && (w.ends.before - way.ends.before).abs() <= SAME_PIECE
                    && (w.ends.after - way.ends.after).abs() <= SAME_PIECE
            };
            if !ways.iter().any(same) {
                ways.push(way);
            }
        }
    }
    ways
}

/// A piece by itself: its own notches are the pattern.
fn own_group(piece: Piece) -> Group {
    let [first, last] = piece.span();
    let pattern = Pattern {
        at: piece.joints.iter().map(|j| j.at - first).collect(),
        // Never used: sticks have as many joints as the piece.
        period: last - first + 1.0,
        joints: piece.joints.iter().map(|j| j.notches.clone()).collect(),
    };
    let way = Way {
        phase: 0,
        turn: Turn::None,
        ends: piece.ends(Turn::None),
    };
    Group {
        pattern,
        regular: false,
        pieces: vec![(piece, vec![way])],
    }
}

/// The longest stick, and what says so.
#[derive(Debug, Clone, Copy)]
struct Limit {
    length: f64,
    of: LimitOf,
}

impl Limit {
    fn of(panel: &Panel, limit: StickLimit) -> Self {
        let panel = panel.sticks.limit.unwrap_or(f64::INFINITY);
        let all = [
            (panel, LimitOf::Panel),
            (limit.stock, LimitOf::Stock),
            (limit.travel, LimitOf::Travel),
        ];
        let least = all.into_iter().min_by(|a, b| a.0.total_cmp(&b.0));
        let (length, of) = least.unwrap_or((panel, LimitOf::Panel));
        Self { length, of }
    }
}

struct Planner<'a> {
    lattice: &'a Lattice,
    panel: &'a Panel,
    limit: Limit,
}

impl Planner<'_> {
    fn add(&self, plan: &mut StickPlan, group: Group) -> Result<(), SticksError> {
        if !group.regular {
            return self.add_own(plan, group);
        }
        let Some((kinds, of_kind, lead, tail)) = self.kinds(&group) else {
            return Ok(());
        };
        let task = Task {
            pattern: &group.pattern,
            kinds: &kinds,
            saw_kerf: self.panel.sticks.saw_kerf,
            lead,
            tail,
            limit: self.limit.length,
        };
        match task.choose() {
            Some(choice) => {
                let length = task.length(choice.joints, choice.phase);
                let sizes = Sizes { lead, tail, length };
                self.put(plan, &group, &of_kind, &kinds, choice, sizes);
                Ok(())
            }
            None => {
                // Together they need longer ends than some of them alone.
                for (piece, _) in group.pieces {
                    self.fits(&piece, &group.pattern)?;
                    self.add_own(plan, own_group(piece))?;
                }
                Ok(())
            }
        }
    }

    /// A stick for each member.
    fn add_own(&self, plan: &mut StickPlan, group: Group) -> Result<(), SticksError> {
        let Some((kinds, of_kind, lead, tail)) = self.kinds(&group) else {
            return Ok(());
        };
        for (piece, _) in &group.pieces {
            self.fits(piece, &group.pattern)?;
        }
        let task = Task {
            pattern: &group.pattern,
            kinds: &kinds,
            saw_kerf: self.panel.sticks.saw_kerf,
            lead,
            tail,
            limit: self.limit.length,
        };
        let joints = kinds.iter().map(|k| k.joints).max().unwrap_or(0);
        let length = task.length(joints, 0);
        if length > self.limit.length + ROUND_OFF
            && let Some((piece, _)) = group.pieces.first()
        {
            return Err(self.too_long(piece, &group.pattern, length));
        }
        let times = kinds.iter().map(|k| k.count).sum();
        let slots = vec![Slot {
            kind: 0,
            way: 0,
            first: 0,
        }];
        let choice = Choice {
            joints,
            phase: 0,
            packing: Packing {
                sticks: vec![Filled { slots, times }],
                used: times,
                least: times,
            },
            optimal: true,
        };
        let sizes = Sizes { lead, tail, length };
        self.put(plan, &group, &of_kind, &kinds, choice, sizes);
        Ok(())
    }

    /// Whether a piece by itself is short enough.
    fn fits(&self, piece: &Piece, pattern: &Pattern) -> Result<(), SticksError> {
        let [first, last] = piece.span();
        let ends = piece.ends(Turn::None);
        let length = ends.before + (last - first) + ends.after;
        if length > self.limit.length + ROUND_OFF {
            return Err(self.too_long(piece, pattern, length));
        }
        Ok(())
    }

    fn too_long(&self, piece: &Piece, pattern: &Pattern, length: f64) -> SticksError {
        let ends = piece.ends(Turn::None);
        let room = self.limit.length - ends.before - ends.after + ROUND_OFF;
        let fits = |n: &usize| pattern.place(*n as i64 - 1) <= room;
        let longest_joints = (1..piece.joints.len()).take_while(fits).count();
        SticksError::TooLong {
            member: member_id(self.lattice, piece),
            joints: piece.joints.len(),
            length,
            longest: self.limit.length,
            longest_joints,
            of: self.limit.of,
        }
    }

    /// The pieces as kinds, the pieces of each kind, and the wood that every stick has before its first
    /// and past its last joint: the least that lets every piece lie first and last.
    fn kinds(&self, group: &Group) -> Option<(Vec<Kind>, Vec<Vec<usize>>, f64, f64)> {
        let quantity = u64::from(self.panel.quantity);
        let ways: Vec<&[Way]> = group.pieces.iter().map(|p| p.1.as_slice()).collect();
        let (lead, tail) = lead_and_tail(&ways)?;
        let (mut kinds, mut of_kind) = (Vec::<Kind>::new(), Vec::<Vec<usize>>::new());
        let mut found: BTreeMap<(usize, Vec<(usize, i64, i64)>), usize> = BTreeMap::new();
        for (p, (piece, ways)) in group.pieces.iter().enumerate() {
            let near = |v: f64, most: f64| v <= most + ROUND_OFF;
            let ways: Vec<Way> = ways
                .iter()
                .filter(|w| near(w.ends.before, lead) && near(w.ends.after, tail))
                .copied()
                .collect();
            let whole = |v: f64| (v / SAME_PIECE).round() as i64;
            let key = ways
                .iter()
                .map(|w| (w.phase, whole(w.ends.before), whole(w.ends.after)));
            let key = (piece.joints.len(), key.collect());
            let count = piece.members * quantity;
            let k = *found.entry(key).or_insert(kinds.len());
            match (kinds.get_mut(k), of_kind.get_mut(k)) {
                (Some(kind), Some(of)) => {
                    kind.count += count;
                    of.push(p);
                }
                _ => {
                    kinds.push(Kind {
                        joints: piece.joints.len(),
                        count,
                        ways,
                    });
                    of_kind.push(vec![p]);
                }
            }
        }
        let lead = lead.max(self.point_clear(group));
        Some((kinds, of_kind, lead, tail))
    }

    /// Where members are not trimmed after glue-up, the point of the datum end must lie outside them: so
    /// much wood before the first joint, saw kerf included.
    fn point_clear(&self, group: &Group) -> f64 {
        let point = group.point_length();
        if self.panel.outline.overhang > 0.0 || point == 0.0 {
            return 0.0;
        }
        let wood = group.pieces.iter().map(|(piece, ways)| {
            let turns = ways.iter().map(|w| w.turn);
            let [first, last] = piece.span();
            turns
                .map(|t| {
                    if t.swaps_ends() {
                        piece.wood[1] - last
                    } else {
                        first - piece.wood[0]
                    }
                })
                .fold(0.0, f64::max)
        });
        wood.fold(0.0, f64::max) + point + self.panel.sticks.saw_kerf
    }

    /// Writes a class and its sticks down.
    fn put(
        &self,
        plan: &mut StickPlan,
        group: &Group,
        of_kind: &[Vec<usize>],
        kinds: &[Kind],
        choice: Choice,
        sizes: Sizes,
    ) {
        let Sizes { lead, tail, length } = sizes;
        let index = plan.classes.len();
        let id = format!("stick-{}", index + 1);
        let place = |joint: usize| {
            let at = |j: usize| group.pattern.place((choice.phase + j) as i64);
            lead + at(joint) - at(0)
        };
        let (mut notches, mut node_of) = (Vec::new(), Vec::new());
        for joint in 0..choice.joints {
            for n in group.pattern.notches((choice.phase + joint) as i64) {
                node_of.push(joint);
                notches.push(ClassNotch {
                    at: place(joint) + n.off,
                    edge: n.edge,
                    angle_deg: n.angle_deg,
                    width: n.width,
                    depth: n.depth,
                    shape: JointShape::Skew,
                    run: n.run(),
                });
            }
        }
        let mut families: Vec<usize> = group
            .pieces
            .iter()
            .flat_map(|(p, _)| p.families.iter().copied())
            .collect();
        families.sort_unstable();
        families.dedup();
        let spares = self.panel.sticks.spares;
        let mut sticks: Vec<Stick> = Vec::new();
        let mut left: Vec<Vec<(usize, u64)>> = of_kind
            .iter()
            .map(|of| {
                let count = |&p: &usize| group.pieces.get(p).map_or(0, |p| p.0.members);
                let quantity = u64::from(self.panel.quantity);
                of.iter().map(|p| (*p, count(p) * quantity)).collect()
            })
            .collect();
        for filled in &choice.packing.sticks {
            let mut times = filled.times;
            while times > 0 {
                let (pieces, again) = take(&mut left, &filled.slots, times);
                times -= again;
                let slots = filled.slots.iter().zip(&pieces);
                let pieces: Vec<StickPiece> = slots
                    .filter_map(|(slot, p)| {
                        let piece = &group.pieces.get(*p)?.0;
                        let way = kinds.get(slot.kind)?.ways.get(slot.way)?;
                        let from = place(slot.first) - piece.front(way.turn);
                        Some(StickPiece {
                            class: piece.class,
                            first_joint: slot.first + 1,
                            joints: piece.joints.len(),
                            turn: way.turn,
                            cut: [from, from + (piece.cut[1] - piece.cut[0])],
                        })
                    })
                    .collect();
                let again = u32::try_from(again).unwrap_or(u32::MAX);
                match sticks.iter_mut().find(|s| s.pieces == pieces) {
                    Some(same) => same.count = same.count.saturating_add(again),
                    None => sticks.push(Stick {
                        id: format!("{id}-{}", sticks.len() + 1),
                        class: index,
                        pieces,
                        count: again,
                        spares: if sticks.is_empty() { spares } else { 0 },
                    }),
                }
            }
        }
        plan.classes.push(StickClass {
            id,
            families,
            face: group.pieces.first().map_or([0.0; 2], |p| p.0.face),
            joints: choice.joints,
            length,
            lead,
            tail,
            ends: [group.datum_end(), SQUARE],
            notches,
            node_of,
            joint_at: (0..choice.joints).map(place).collect(),
            count: u32::try_from(choice.packing.used).unwrap_or(u32::MAX),
            spares,
            regular: group.regular,
            optimal: choice.optimal,
        });
        plan.sticks.append(&mut sticks);
    }
}

/// Sizes of a stick, mm.
#[derive(Debug, Clone, Copy)]
struct Sizes {
    lead: f64,
    tail: f64,
    length: f64,
}

const SQUARE: End = End {
    angle_deg: 90.0,
    shape: EndShape::Square,
};

impl Group {
    /// The datum end: pointed at the least skew angle, where any notch is skew.
    fn datum_end(&self) -> End {
        let angles = self.pattern.joints.iter().flatten();
        let angles = angles.map(|n| n.angle_deg.min(180.0 - n.angle_deg));
        let least = angles.fold(90.0, f64::min);
        if least < 90.0 - SAME_PIECE {
            End {
                angle_deg: least,
                shape: EndShape::Point,
            }
        } else {
            SQUARE
        }
    }

    /// From the point of the datum end to where the stick has its full face, mm.
    fn point_length(&self) -> f64 {
        let end = self.datum_end();
        let face = self.pieces.first().map_or(0.0, |p| p.0.face[1]);
        match end.shape {
            EndShape::Point => 0.5 * face * cot_deg(end.angle_deg),
            _ => 0.0,
        }
    }
}

/// The least wood before and past, in sum, with which every piece can lie in some way.
fn lead_and_tail(pieces: &[&[Way]]) -> Option<(f64, f64)> {
    let mut leads: Vec<f64> = pieces
        .iter()
        .flat_map(|ways| ways.iter().map(|w| w.ends.before))
        .collect();
    leads.sort_by(f64::total_cmp);
    leads.dedup_by(|a, b| (*a - *b).abs() <= SAME_PIECE);
    /// Beyond so many different lengths the greatest is taken.
    const MOST: usize = 400;
    if leads.len() > MOST {
        leads.drain(..leads.len() - 1);
    }
    let tail_for = |lead: f64| {
        pieces.iter().try_fold(0.0, |tail: f64, ways| {
            let fitting = ways.iter().filter(|w| w.ends.before <= lead + SAME_PIECE);
            let least = fitting.map(|w| w.ends.after).min_by(f64::total_cmp)?;
            Some(tail.max(least))
        })
    };
    let pairs = leads
        .iter()
        .filter_map(|&lead| Some((lead, tail_for(lead)?)));
    pairs.min_by(|a, b| (a.0 + a.1).total_cmp(&(b.0 + b.1)))
}

/// Takes a piece for each slot, of the first class of its kind that has any left; and as many times as
/// the same can be taken again.
fn take(left: &mut [Vec<(usize, u64)>], slots: &[Slot], times: u64) -> (Vec<usize>, u64) {
    let mut pieces = Vec::with_capacity(slots.len());
    let mut taken: BTreeMap<(usize, usize), u64> = BTreeMap::new();
    for slot in slots {
        let of = left.get(slot.kind).map_or(&[][..], Vec::as_slice);
        let open = of
            .iter()
            .position(|&(p, n)| n > taken.get(&(slot.kind, p)).copied().unwrap_or(0));
        let p = open.and_then(|i| of.get(i)).map_or(usize::MAX, |o| o.0);
        *taken.entry((slot.kind, p)).or_default() += 1;
        pieces.push(p);
    }
    let mut again = times;
    for (&(kind, p), &n) in &taken {
        let of = left.get(kind).map_or(&[][..], Vec::as_slice);
        let there = of.iter().find(|o| o.0 == p).map_or(0, |o| o.1);
        again = again.min((there / n).max(1));
    }
    for (&(kind, p), &n) in &taken {
        if let Some(entry) = left
            .get_mut(kind)
            .and_then(|of| of.iter_mut().find(|o| o.0 == p))
        {
            entry.1 = entry.1.saturating_sub(n * again);
        }
    }
    (pieces, again)
}
