//! The orientation mark, which tells a turned stick from a right one: in which clamping it is cut, and
//! where, so that it does not show.

use super::clamping::GangStick;
use super::gang::{Gang, HOLD_ROOM, ROOM, Slot};
use crate::geom::{SAME_FIGURE, cot_deg, sin_deg};

/// Depth of the orientation mark, mm.
pub const MARK_DEPTH: f64 = 0.5;

/// What bears the orientation mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkOn {
    /// The end of every first piece, where it is trimmed away after glue-up.
    Trimmed,
    /// Wood that is cut off before the first pieces, or trimmed away with their ends.
    CutOff,
    /// The first pieces themselves, on the edge that ends at the back of the panel.
    BackEdge,
}

/// Room for an orientation mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkRoom {
    /// Index of the clamping that cuts it.
    pub gang: usize,
    /// What bears it.
    pub on: MarkOn,
    /// Where its middle may lie, from the datum end, mm; the first is greater than the second where there
    /// is no room.
    pub between: [f64; 2],
}

impl MarkRoom {
    /// How much room there is, mm; below 0 where it does not suffice.
    #[must_use]
    pub fn room(&self) -> f64 {
        self.between[1] - self.between[0]
    }
}

/// Where the orientation mark goes: trimmed ends before wood that is cut off, and that before back edges;
/// the first clamping that has room before later ones. Without any room the one that lacks least.
#[must_use]
pub fn mark_room(stick: &GangStick, gangs: &[Gang], radius: f64) -> Option<MarkRoom> {
    let ways = [MarkOn::Trimmed, MarkOn::CutOff, MarkOn::BackEdge];
    let mut best: Option<MarkRoom> = None;
    for on in ways {
        for (k, gang) in gangs.iter().enumerate() {
            if on == MarkOn::BackEdge && stick.back != Some(gang.edge) {
                continue;
            }
            let found = MarkRoom {
                gang: k,
                on,
                between: between(stick, gang, radius, on),
            };
            if found.room() >= 0.0 {
                return Some(found);
            }
            if best.is_none_or(|b| found.room() > b.room()) {
                best = Some(found);
            }
        }
    }
    best
}

/// The stretch where a mark's middle may lie in this clamping: past the hold, before the first notch, and in
/// what bears it.
fn between(stick: &GangStick, gang: &Gang, radius: f64, on: MarkOn) -> [f64; 2] {
    let half = half_run(2.0 * radius, stick.face, gang.fence_deg);
    let lo = past_hold(gang.hold, 2.0 * radius, gang.fence_deg) - gang.offset;
    let reaches =
        |n: &crate::lattice::ClassNotch| n.at - half_run(n.width, stick.face, n.angle_deg);
    let first = stick.notches.iter().map(reaches);
    let hi = first.fold(stick.length, f64::min) - ROOM - half;
    match on {
        MarkOn::Trimmed => [lo.max(stick.begun + half), hi.min(stick.hidden_to - half)],
        MarkOn::CutOff => [lo, hi.min(stick.hidden_to - half)],
        MarkOn::BackEdge => [lo, hi],
    }
}

/// Puts the mark into the clamping that cuts it. Sticks that are the same turned over get a mark that does
/// not show in both edges, so that both run one program.
pub fn mark(stick: &GangStick, gangs: &mut [Gang], radius: f64) {
    let Some(MarkRoom { gang, on, between }) = mark_room(stick, gangs, radius) else {
        return;
    };
    let [lo, hi] = between;
    let slot = Slot {
        // Without room the checks refuse it.
        at: lo.max(0.5 * (lo + hi)),
        width: 2.0 * radius,
        floor: stick.depth - MARK_DEPTH,
    };
    let both = on != MarkOn::BackEdge && stick.alike_over();
    let fence = gangs.get(gang).map_or(0.0, |g| g.fence_deg);
    for (k, other) in gangs.iter_mut().enumerate() {
        if k == gang || (both && (other.fence_deg - fence).abs() <= SAME_FIGURE) {
            other.mark = Some(slot);
        }
    }
}

/// Where the middle of a cut of this width may lie at the nearest, along a stick from the fence's face, so
/// that it stays clear of the bar that holds the gang down beside the fence, mm.
pub(super) fn past_hold(hold: f64, width: f64, fence_deg: f64) -> f64 {
    (ROOM + hold + HOLD_ROOM + 0.5 * width) / sin_deg(fence_deg)
}

/// How far a cut of this width across, at this angle to the sticks, reaches along a stick from where it
/// crosses the centre line, over the whole face, mm.
pub(super) fn half_run(width: f64, face: f64, angle_deg: f64) -> f64 {
    0.5 * width / sin_deg(angle_deg) + 0.5 * face * cot_deg(angle_deg).abs()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lattice::{ClassNotch, Edge, JointShape};
    use crate::setup::clamping::tests::RULES;
    use crate::setup::gangs;

    /// A middle member's stick, notched in both edges, whose ends are hidden up to `hidden_to`.
    fn stick(begun: f64, hidden_to: f64, back: Option<Edge>) -> GangStick {
        let notch = |k: u32, edge| ClassNotch {
            at: 57.5 + 65.0 * f64::from(k),
            edge,
            angle_deg: 60.0,
            width: 4.05,
            depth: 4.0,
            shape: JointShape::Skew,
            run: 4.05 / sin_deg(60.0),
        };
        let of = |k| [notch(k, Edge::Front), notch(k, Edge::Back)];
        GangStick {
            id: "2".into(),
            face: 4.0,
            spread: 0.0,
            depth: 12.0,
            length: 310.0,
            point_deg: 60.0,
            notches: (0..4).flat_map(of).collect(),
            kept: 5,
            spares: 1,
            begun,
            hidden_to,
            back,
        }
    }

    fn marked(stick: &GangStick) -> (MarkOn, Vec<Edge>, f64) {
        let mut list = gangs(stick, &RULES);
        mark(stick, &mut list, RULES.radius);
        let room = mark_room(stick, &list, RULES.radius).expect("there are clampings");
        let marks = list.iter().filter_map(|g| Some((g.edge, g.mark?.at)));
        let (edges, at): (Vec<Edge>, Vec<f64>) = marks.unzip();
        assert!(at.windows(2).all(|w| w[0] == w[1]), "one place");
        (room.on, edges, at[0])
    }

    #[test]
    fn a_mark_does_not_show() {
        let both = [Edge::Front, Edge::Back];
        // 22.5 from the datum end is past the hold; a mark reaches 2.89 to either side.
        let (on, edges, at) = marked(&stick(12.0, 36.0, None));
        assert_eq!((on, &edges[..]), (MarkOn::Trimmed, &both[..]));
        assert!(14.9 < at && at < 33.1, "{at}");
        // The first piece begins too late to bear it.
        let (on, edges, at) = marked(&stick(32.0, 34.0, Some(Edge::Back)));
        assert_eq!((on, &edges[..]), (MarkOn::CutOff, &both[..]));
        assert!(at + 2.88 < 34.0, "{at}");
        // Nothing hidden lies past the hold: on the edge that goes to the back, and on that alone.
        for back in both {
            let (on, edges, at) = marked(&stick(10.0, 20.0, Some(back)));
            assert_eq!((on, &edges[..]), (MarkOn::BackEdge, &[back][..]));
            assert!(17.8 < at && at < 51.1, "{at}");
        }
        // Pieces that turn either edge to the front leave no place.
        let none = stick(10.0, 20.0, None);
        let list = gangs(&none, &RULES);
        let room = mark_room(&none, &list, RULES.radius).expect("there are clampings");
        assert!(room.room() < 0.0, "{room:?}");
    }
}
