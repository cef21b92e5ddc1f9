//! How far the slots of one node part that are cut in two clampings, cause by cause (design of edge-up cutting).

use super::clamping::GangStick;
use crate::geom::{SAME_FIGURE, cot_deg, sin_deg, tan_deg};
use crate::lattice::{ClassNotch, Edge};

/// What parts slots, as machine and material files state it. Lengths are mm, angles degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Causes {
    /// Most that the face of a stick differs from one end to the other.
    pub taper: f64,
    /// How far the milled face of the reference rail is from straight.
    pub rail_bow: f64,
    /// Error of the fence's direction.
    pub fence_error_deg: f64,
    /// Error of a square datum end.
    pub square_error_deg: f64,
    /// How far the point of a datum end lies off the centre line.
    pub apex_error: f64,
    /// Widest gap at a datum end that seating leaves unseen, square to the fence.
    pub seating: f64,
}

/// How far the slots of a node part, and what each cause adds, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NodeParting {
    /// Place of the node, from the datum end.
    pub at: f64,
    /// Directions of the two slots, seen from the edges that they are cut in, degrees.
    pub between: [f64; 2],
    /// Taper of the sticks and bow of the rail: d * | |cot t1| - |cot t2| |, d added up over the gang.
    pub drift: f64,
    /// Both fences: gang * face * error / sin² t, each.
    pub fence: f64,
    /// Datum ends: face * tan(error) of square ones, error * (|cot t1| + |cot t2|) of pointed ones.
    pub ends: f64,
    /// Seating, along the stick.
    pub seating: f64,
}

impl NodeParting {
    /// All causes together, mm.
    #[must_use]
    pub fn sum(&self) -> f64 {
        self.drift + self.fence + self.ends + self.seating
    }

    /// How far the slots may part, mm: (clearance + crush) / sin t, for the squarer of the two.
    #[must_use]
    pub fn limit(&self, clearance: f64, crush: f64) -> f64 {
        let s = self.between.map(sin_deg);
        (clearance + crush).max(0.0) / s[0].max(s[1])
    }

    /// The shares in words: each cause with its figure.
    #[must_use]
    pub fn shares(&self) -> String {
        format!(
            "taper and rail {:.3}, fences {:.3}, datum ends {:.3}, seating {:.3}",
            self.drift, self.fence, self.ends, self.seating
        )
    }
}

/// How far the slots of the worst node part in a gang of so many sticks: the node that is nearest to its limit.
/// `None` where no node has slots of two clampings, so that nothing can part.
#[must_use]
pub fn worst_parting(
    stick: &GangStick,
    sticks: usize,
    causes: &Causes,
    [clearance, crush]: [f64; 2],
) -> Option<NodeParting> {
    let all = pairs(stick).map(|(at, between)| parting(stick, sticks, causes, at, between));
    let share = |p: &NodeParting| p.sum() / p.limit(clearance, crush).max(f64::MIN_POSITIVE);
    all.fold(None, |worst: Option<NodeParting>, p| match worst {
        Some(w) if share(&w) >= share(&p) => Some(w),
        _ => Some(p),
    })
}

/// Each kind of pair of slots that one node has in two clampings, at the first node that has it.
fn pairs(stick: &GangStick) -> impl Iterator<Item = (f64, [f64; 2])> {
    let same = |a: f64, b: f64| (a - b).abs() <= SAME_FIGURE;
    let way = |n: &ClassNotch| (n.edge, n.angle_deg);
    let one = |a: (Edge, f64), b: (Edge, f64)| a.0 == b.0 && same(a.1, b.1);
    let mut found: Vec<(f64, [(Edge, f64); 2])> = Vec::new();
    for (k, a) in stick.notches.iter().enumerate() {
        for b in stick.notches.iter().skip(k + 1) {
            let (v, w) = (way(a), way(b));
            let told = found
                .iter()
                .any(|(_, [p, q])| (one(*p, v) && one(*q, w)) || (one(*p, w) && one(*q, v)));
            if (a.at - b.at).abs() <= NODE && !one(v, w) && !told {
                found.push((a.at, [v, w]));
            }
        }
    }
    found.into_iter().map(|(at, [v, w])| (at, [v.1, w.1]))
}

/// Notches of one node lie no farther apart along a bar, mm.
const NODE: f64 = 0.01;

fn parting(
    stick: &GangStick,
    sticks: usize,
    causes: &Causes,
    at: f64,
    between: [f64; 2],
) -> NodeParting {
    let n = sticks as f64;
    let cot = between.map(|t| cot_deg(t).abs());
    let sin = between.map(sin_deg);
    let drift = n * causes.taper + causes.rail_bow;
    let fence = n * stick.face * causes.fence_error_deg.to_radians();
    NodeParting {
        at,
        between,
        drift: drift * (cot[0] - cot[1]).abs(),
        fence: fence * (1.0 / (sin[0] * sin[0]) + 1.0 / (sin[1] * sin[1])),
        ends: if stick.pointed() {
            causes.apex_error * (cot[0] + cot[1])
        } else {
            stick.face * tan_deg(causes.square_error_deg)
        },
        // One of the two sticks may sit tight.
        seating: causes.seating / sin[0].min(sin[1]),
    }
}
