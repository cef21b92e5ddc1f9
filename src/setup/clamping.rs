//! The clampings of a class of sticks: one for each direction of slots in each edge, how many sticks a gang
//! has, and what lies in each place.

use super::gang::{Gang, Load, RAIL_PAST, Seat, Slot};
use super::parting::{Causes, worst_parting};
use crate::geom::{SAME_FIGURE, cos_deg, cot_deg, sin_deg};
use crate::lattice::{ClassNotch, Edge};
use crate::non_empty::NonEmpty;
use crate::stock::StickId;

/// Lengths that differ by less are the same, mm.
const ROUND_OFF: f64 = 1e-6;
/// Fewest sticks of a gang: one to keep between two outermost ones.
pub const LEAST_GANG: u32 = 3;

/// What a class of sticks brings to the bench. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct GangStick {
    /// Its name.
    pub id: String,
    /// Measured face, the greatest reading.
    pub face: f64,
    /// Greatest less least reading of the face.
    pub spread: f64,
    /// From back edge to front edge.
    pub depth: f64,
    /// From the datum end to the other.
    pub length: f64,
    /// Angle of the pointed datum end, from the axis to each facet, degrees; 90 for a square end.
    pub point_deg: f64,
    /// All notches; `at` from the datum end.
    pub notches: NonEmpty<ClassNotch>,
    /// Sticks that members are cut from, in the order of the plan.
    pub kept: Vec<StickId>,
    /// Sticks beyond those.
    pub spares: Vec<StickId>,
    /// Where all first pieces have begun, from the datum end.
    pub begun: f64,
    /// From the datum end up to here all sticks of the class are cut off or trimmed away after glue-up,
    /// over the whole face.
    pub hidden_to: f64,
    /// The edge that ends at the back of the panel in every first piece, where it is the same.
    pub back: Option<Edge>,
}

impl GangStick {
    /// Whether the datum end is pointed.
    #[must_use]
    pub fn pointed(&self) -> bool {
        self.point_deg < 90.0
    }

    /// Whether the stick is the same when it is turned over about its long axis.
    #[must_use]
    pub fn alike_over(&self) -> bool {
        let close = |a: f64, b: f64| (a - b).abs() <= SAME_FIGURE;
        self.notches.iter().all(|n| {
            self.notches.iter().any(|m| {
                m.edge == n.edge.other()
                    && close(m.at, n.at)
                    && close(m.angle_deg, n.angle_deg)
                    && close(m.width, n.width)
                    && close(m.depth, n.depth)
            })
        })
    }
}

/// What the bench asks of a gang. Lengths are mm, angles degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GangRules {
    /// Most sticks of a gang.
    pub most: u32,
    /// Thickness of the sacrificial rails on both sides of the gang.
    pub rail: f64,
    /// Height of fence and rails.
    pub batten: f64,
    /// Width of the bars that hold the gang down, across themselves.
    pub hold: f64,
    /// Radius of the tool.
    pub radius: f64,
    /// What parts slots of one node.
    pub causes: Causes,
    /// Clearance of notches and crush allowance: what slots may part by, across them.
    pub close: [f64; 2],
    /// What head and bed have room for in x and y.
    pub travel: [f64; 2],
    /// Whether the job has fences of both hands, all from one zero.
    pub both_hands: bool,
    /// Widest gang that the side clamps take, rails included.
    pub clamp: f64,
}

impl GangRules {
    /// What the bench has beside sticks.
    #[must_use]
    pub fn bench(&self) -> BenchSize {
        BenchSize {
            rail: self.rail,
            hold: self.hold,
            radius: self.radius,
        }
    }
}

/// The clampings of a class of sticks: one for each direction of slots in each edge, which is the fewest
/// that one fence allows; shallow slots first, without the orientation mark, which goes into the first that has
/// room for it in the order of work.
#[must_use]
pub fn gangs(stick: &GangStick, rules: &GangRules) -> NonEmpty<Gang> {
    let ways = ways(stick);
    let loads = loads(stick, gang_limit(stick, &ways, rules));
    let mut list = ways.map(|way| {
        let mut slots = way.slots.clone();
        slots.sort_by(|a, b| b.floor.total_cmp(&a.floor).then(a.at.total_cmp(&b.at)));
        Gang {
            id: stick.id.clone(),
            edge: way.edge,
            fence_deg: way.fence_deg,
            loads: loads.clone(),
            face: stick.face,
            spread: stick.spread,
            depth: stick.depth,
            length: stick.length,
            offset: if stick.pointed() {
                0.0
            } else {
                0.5 * stick.face * cot_deg(way.fence_deg).abs()
            },
            point_cot: cot_deg(stick.point_deg),
            slots,
            mark: None,
            rail: rules.rail,
            batten: rules.batten,
            hold: rules.hold,
        }
    });
    list.sort_by(|a, b| {
        b.deepest()
            .total_cmp(&a.deepest())
            .then(a.edge.cmp(&b.edge))
            .then(a.fence_deg.total_cmp(&b.fence_deg))
    });
    list
}

/// The slots of one direction in one edge.
struct Way {
    edge: Edge,
    fence_deg: f64,
    slots: NonEmpty<Slot>,
}

/// The notches of a stick by edge and direction, in the order of their first ones.
fn ways(stick: &GangStick) -> NonEmpty<Way> {
    let slot = |n: &ClassNotch| Slot {
        at: n.at,
        width: n.width,
        floor: stick.depth - n.depth,
    };
    let way = |n: &ClassNotch| Way {
        edge: n.edge,
        fence_deg: n.angle_deg,
        slots: NonEmpty::one(slot(n)),
    };
    let mut ways = NonEmpty::one(way(stick.notches.first()));
    for n in stick.notches.iter().skip(1) {
        let same =
            |w: &&mut Way| w.edge == n.edge && (w.fence_deg - n.angle_deg).abs() <= SAME_FIGURE;
        match ways.iter_mut().find(same) {
            Some(way) => way.slots.push(slot(n)),
            None => ways.push(way(n)),
        }
    }
    ways
}

/// What a bench has beside sticks, whatever they are. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BenchSize {
    /// Thickness of fence and rails.
    pub rail: f64,
    /// Width of the bars that hold the gang down.
    pub hold: f64,
    /// Radius of the tool.
    pub radius: f64,
}

/// How much of the bed lies along x beside the length of a stick, for a gang of so many sticks of this face
/// against its fence, mm: from the far corner of the fence's batten to the zero, and past the sticks' far ends,
/// where the reference rail ends under the last hold.
#[must_use]
pub fn beside_stick(sticks: u32, face: f64, fence_deg: f64, bench: BenchSize) -> f64 {
    let (s, c, cot) = (
        sin_deg(fence_deg),
        cos_deg(fence_deg).abs(),
        cot_deg(fence_deg).abs(),
    );
    let fence = f64::from(sticks) * face * cot + 2.0 * bench.radius * c + bench.rail * s;
    fence + RAIL_PAST.max(bench.rail * cot - 0.5 * bench.hold / s)
}

/// Most sticks of a gang that all clampings of the class take; at least [`LEAST_GANG`], which the checks
/// may refuse.
fn gang_limit(stick: &GangStick, ways: &[Way], rules: &GangRules) -> u32 {
    let fits = |g: u32| {
        let width = f64::from(g) * stick.face;
        let deep = width + 2.0 * rules.rail;
        // With fences of both hands the gang lies on either side of the one zero.
        let across = if rules.both_hands {
            2.0 * (width + rules.rail)
        } else {
            deep
        };
        deep <= rules.clamp
            && across <= rules.travel[1] + ROUND_OFF
            && ways.iter().all(|way| {
                let beside = beside_stick(g, stick.face, way.fence_deg, rules.bench());
                stick.length + beside <= rules.travel[0] + ROUND_OFF
            })
            && worst_parting(stick, g as usize, &rules.causes, rules.close)
                .is_none_or(|p| p.sum() <= p.limit(rules.close[0], rules.close[1]))
    };
    (LEAST_GANG..=rules.most)
        .take_while(|&g| fits(g))
        .last()
        .unwrap_or(LEAST_GANG)
}

/// Loads of equal gangs: the outermost places go to spares, then to dummies.
fn loads(stick: &GangStick, most: u32) -> NonEmpty<Load> {
    let inner = (most.max(LEAST_GANG) - 2) as usize;
    let (kept, spares) = (stick.kept.len(), stick.spares.len());
    // Spares beyond the outermost places of all loads lie between them.
    let mut count = kept.div_ceil(inner).max(1);
    while kept + spares.saturating_sub(2 * count) > inner * count {
        count += 1;
    }
    let (outer, between) = stick.spares.split_at(spares.min(2 * count));
    let mut middle: Vec<Seat> = stick.kept.iter().copied().map(Seat::Kept).collect();
    middle.extend(between.iter().copied().map(Seat::Spare));
    let gang = middle.len().div_ceil(count);
    middle.resize(gang * count, Seat::Dummy);
    let mut ends: Vec<Seat> = outer.iter().copied().map(Seat::Spare).collect();
    ends.resize(2 * count, Seat::Dummy);
    let load = |k: usize| {
        let mut load = NonEmpty::one(ends[k]);
        middle[k * gang..(k + 1) * gang]
            .iter()
            .for_each(|&seat| load.push(seat));
        load.push(ends[count + k]);
        load
    };
    let mut loads = NonEmpty::one(load(0));
    (1..count).for_each(|k| loads.push(load(k)));
    loads
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::geom::Vec2;
    use crate::lattice::JointShape;
    use crate::stock::some_sticks;

    fn notch(at: f64, edge: Edge, angle_deg: f64, depth: f64) -> ClassNotch {
        ClassNotch {
            at,
            edge,
            angle_deg,
            width: 4.05,
            depth,
            shape: JointShape::Skew,
            run: 4.05 / sin_deg(angle_deg),
        }
    }

    pub(in crate::setup) fn slanting() -> GangStick {
        let at = |k: u32| 40.0 + 65.0 * f64::from(k);
        let notches = (0..7).flat_map(|k| {
            [
                notch(at(k), Edge::Front, 60.0, 8.0),
                notch(at(k), Edge::Front, 120.0, 6.0),
            ]
        });
        GangStick {
            id: "1".into(),
            face: 4.0,
            spread: 0.0,
            depth: 12.0,
            length: 455.0,
            point_deg: 60.0,
            notches: NonEmpty::of(notches).expect("seven"),
            kept: some_sticks(8),
            spares: some_sticks(1),
            begun: 12.0,
            hidden_to: 36.0,
            back: None,
        }
    }

    pub(in crate::setup) const RULES: GangRules = GangRules {
        most: 100,
        rail: 30.0,
        batten: 11.7,
        hold: 12.0,
        radius: 1.5,
        causes: Causes {
            taper: 0.01,
            rail_bow: 0.01,
            fence_error_deg: 0.02,
            square_error_deg: 0.2,
            apex_error: 0.02,
            seating: 0.03,
        },
        close: [0.05, 0.05],
        travel: [600.0, 400.0],
        both_hands: true,
        clamp: 150.0,
    };

    #[test]
    fn one_clamping_a_direction_shallow_slots_first() {
        let list = gangs(&slanting(), &RULES);
        let ways: Vec<_> = list.iter().map(|g| (g.edge, g.fence_deg)).collect();
        assert_eq!(ways, [(Edge::Front, 120.0), (Edge::Front, 60.0)]);
        assert_eq!(list[0].loads.len(), 1);
        assert_eq!(list[0].sticks(), 10, "8, a spare and a dummy outermost");
    }

    #[test]
    fn slots_of_neighbours_line_up() {
        for gang in gangs(&slanting(), &RULES) {
            for slot in &gang.slots {
                let on = |i: usize| gang.datum(i) + Vec2::new(slot.at, 0.0);
                let way = on(3) - on(2);
                assert!(way.cross(gang.along()).abs() < 1e-12, "along the slot");
                let d = (on(5).to_vec2()).dot(gang.away());
                assert!((d - gang.from_fence(slot.at)).abs() < 1e-12, "{d}");
            }
        }
    }

    #[test]
    fn parting_limits_the_gang() {
        // Pointed ends part by 0.02 * 2 cot 60 = 0.0231, seating by 0.03 / sin 60 = 0.0346; fences by
        // 2 * 4 * 0.02 degrees / sin^2 60 = 0.003723 a stick. (0.1 / sin 60 - 0.0577) / 0.003723 = 15.5.
        let mut many = slanting();
        many.kept = some_sticks(40);
        let list = gangs(&many, &RULES);
        assert_eq!(list[0].loads.len(), 4, "13 between two outermost ones");
        assert_eq!(list[0].sticks(), 12);
        let seats = || list[0].loads.iter().flatten();
        assert_eq!(seats().filter(|s| s.is_kept()).count(), 40);
        assert_eq!(seats().filter(|s| s.is_spare()).count(), 1);
        let mut first = list[0].loads.iter().flat_map(|l| [l[0], l[11]]);
        assert!(first.all(|s| !s.is_kept()), "outermost");
    }

    #[test]
    fn loads_hold_every_stick_once() {
        for kept in 1..30 {
            for spares in 0..7 {
                for most in 3..9 {
                    let stick = GangStick {
                        kept: some_sticks(kept),
                        spares: some_sticks(spares),
                        ..slanting()
                    };
                    let loads = loads(&stick, most);
                    let seats = || loads.iter().flatten();
                    let lying = |of: fn(&Seat) -> bool| -> Vec<StickId> {
                        seats()
                            .filter(|s| of(s))
                            .filter_map(|s| s.stick())
                            .collect()
                    };
                    assert_eq!(lying(|s| s.is_kept()), stick.kept);
                    let mut lying = lying(|s| s.is_spare());
                    lying.sort();
                    assert_eq!(lying, stick.spares);
                    for load in &loads {
                        assert!(load.len() <= most as usize && load.len() == loads.first().len());
                        assert!(!load.first().is_kept() && !load.last().is_kept());
                    }
                }
            }
        }
    }
}
