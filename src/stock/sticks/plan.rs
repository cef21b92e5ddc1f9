//! From the members of a panel to sticks.

use super::batch::Batch;
use super::choose::{Choice, Task};
use super::error::{LimitOf, SticksError};
use super::group::{Group, GroupPiece, groups};
use super::lay_out::{Sizes, lay_out};
use super::needs::{Piece, ends_of};
use super::pack::{Filled, Packing, ROUND_OFF, Slot, used};
use super::{StickLimit, StickPlan};
use crate::lattice::{FamilyId, Lattice, Turn};
use crate::non_empty::NonEmpty;
use crate::panel::Panel;

/// Plans the sticks of a panel, the whole quantity together.
///
/// Members whose notches are windows of one periodic pattern, turned over or end for end if need be,
/// share a class of sticks; a member without a pattern gets a stick of its own. Between two pieces the
/// least number of joints is lost that leaves tail, saw kerf and lead. All sticks of a class have one
/// count of joints: that with the least total milled length within the panel's limit and `limit`, then
/// with the fewest sticks.
///
/// The search counts its steps and knows no clock: the same call gives the same plan.
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
    for class in lattice.classes.ids() {
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

/// The worst fault of each kind: one member stands for all that are like it.
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

fn member_id(lattice: &Lattice, piece: &Piece) -> String {
    lattice.members[lattice.classes[piece.class].first]
        .id
        .clone()
}

/// Wood that ends within the notch that it should hold.
fn short_ends(lattice: &Lattice, panel: &Panel, piece: &Piece) -> Vec<SticksError> {
    let [first, last] = piece.reach();
    let ends = piece.ends(Turn::None);
    let fault = |lead: bool, length: f64, reach: f64| {
        if length >= reach - ROUND_OFF {
            return None;
        }
        // The piece has the greatest lead of its families.
        let common = if lead {
            panel.sticks.lead
        } else {
            panel.sticks.tail
        };
        let of = |f: FamilyId| ends_of(lattice, panel, f).unwrap_or(common);
        let first = lattice.members[lattice.classes[piece.class].first].family;
        let greater = |a, &b: &FamilyId| if of(b) >= of(a) { b } else { a };
        let family = piece.families.iter().fold(first, greater);
        let name = &lattice.families[family].name;
        let key = match ends_of(lattice, panel, family) {
            Some(_) => format!("sticks.ends.{name}"),
            None if lead => "sticks.lead".into(),
            None => "sticks.tail".into(),
        };
        Some(SticksError::ShortEnd {
            member: member_id(lattice, piece),
            family: name.clone(),
            key,
            lead,
            length,
            reach,
        })
    };
    let sides = [
        fault(true, ends.before, first),
        fault(false, ends.after, last),
    ];
    sides.into_iter().flatten().collect()
}

/// The longest stick, and what says so.
#[derive(Debug, Clone, Copy)]
struct Limit {
    length: f64,
    of: LimitOf,
    /// What the machine must reach beside the stick.
    beside: f64,
}

impl Limit {
    fn of(panel: &Panel, limit: StickLimit) -> Self {
        let panel = panel.sticks.limit.unwrap_or(f64::INFINITY);
        let all = [
            (panel, LimitOf::Panel),
            (limit.stock, LimitOf::Stock),
            (limit.travel - limit.beside, LimitOf::Travel),
        ];
        let [first, others @ ..] = all;
        let (length, of) =
            others.into_iter().fold(
                first,
                |least, other| {
                    if other.0 < least.0 { other } else { least }
                },
            );
        let beside = limit.beside;
        Self { length, of, beside }
    }
}

struct Planner<'a> {
    lattice: &'a Lattice,
    panel: &'a Panel,
    limit: Limit,
}

impl Planner<'_> {
    fn add(&self, plan: &mut StickPlan, group: Group) -> Result<(), SticksError> {
        let batch = Batch::of(&group, self.panel.quantity);
        let lead = batch.lead.max(self.point_clear(&group, batch.lead));
        let task = Task {
            pattern: &group.pattern,
            kinds: &batch.kinds,
            saw_kerf: self.panel.sticks.saw_kerf,
            lead,
            tail: batch.tail,
            limit: self.limit.length,
        };
        let choice = if group.regular {
            task.choose()
        } else {
            Some(self.one_each(&group, &task)?)
        };
        let Some(choice) = choice else {
            return self.add_apart(plan, group.pieces);
        };
        let sizes = Sizes {
            lead,
            tail: batch.tail,
            length: task.length(choice.joints, choice.phase),
            spares: self.panel.sticks.spares,
            datum: self.panel.sticks.datum,
        };
        lay_out(plan, &group, batch.pieces, &choice, sizes);
        Ok(())
    }

    /// Pieces of a group that no stick within the limit can be for: one is too long by itself, or they
    /// need longer ends together than each for itself, and get sticks of their own.
    fn add_apart(
        &self,
        plan: &mut StickPlan,
        pieces: NonEmpty<GroupPiece>,
    ) -> Result<(), SticksError> {
        let lengths = pieces.iter().map(|of| (&of.piece, self.need(&of.piece)));
        if let Some((piece, length)) = lengths.max_by(|a, b| a.1.total_cmp(&b.1))
            && length > self.limit.length + ROUND_OFF
        {
            return Err(self.too_long(piece, length));
        }
        for GroupPiece { piece, .. } in pieces {
            self.add(plan, Group::of_one(piece))?;
        }
        Ok(())
    }

    /// A stick for each piece.
    fn one_each(&self, group: &Group, task: &Task<'_>) -> Result<Choice, SticksError> {
        let GroupPiece { piece, .. } = group.pieces.first();
        let joints = piece.joints.len();
        let length = task.length(joints, 0);
        if length > self.limit.length + ROUND_OFF {
            return Err(self.too_long(piece, length));
        }
        let each = task.kinds.entries().map(|(id, kind)| Filled {
            slots: vec![Slot {
                kind: id,
                way: *kind.ways.first(),
                first: 0,
            }],
            times: kind.count,
        });
        let sticks: Vec<Filled> = each.collect();
        let times = used(&sticks);
        Ok(Choice {
            joints,
            phase: 0,
            packing: Packing {
                sticks,
                used: times,
                least: times,
            },
            optimal: true,
        })
    }

    /// The stick that a piece by itself needs, mm.
    fn need(&self, piece: &Piece) -> f64 {
        let [first, last] = piece.span();
        let ends = piece.ends(Turn::None);
        ends.before + (last - first) + ends.after
    }

    fn too_long(&self, piece: &Piece, length: f64) -> SticksError {
        let [first, last] = piece.span();
        let room = self.limit.length - (length - (last - first)) + ROUND_OFF;
        let fit = piece.joints.iter().filter(|j| j.at - first <= room);
        SticksError::TooLong {
            member: member_id(self.lattice, piece),
            joints: piece.joints.len(),
            length,
            longest: self.limit.length,
            longest_joints: fit.count(),
            of: self.limit.of,
            beside: self.limit.beside,
        }
    }

    /// The point of the datum end must lie outside of what members keep after trimming: so much wood before
    /// the first joint, mm. Members that are not trimmed are sawn off behind it. `lead` is what their pieces
    /// ask for.
    fn point_clear(&self, group: &Group, lead: f64) -> f64 {
        let point = group.point_length(self.panel.sticks.datum);
        if point == 0.0 {
            return 0.0;
        }
        let sawn = match self.panel.outline.overhang {
            o if o > 0.0 => 0.0,
            _ => self.panel.sticks.saw_kerf,
        };
        group.farthest_front(lead) + point + sawn
    }
}
