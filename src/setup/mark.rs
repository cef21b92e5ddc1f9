//! The orientation mark, which tells a turned stick from a right one: in which clamping it is cut, and
//! where, so that it does not show.

use super::clamping::GangStick;
use super::gang::{Gang, HOLD_ROOM, ROOM, Slot};
use super::order::same_fence;
use crate::geom::{cot_deg, sin_deg};
use crate::lattice::Edge;
use crate::non_empty::NonEmpty;

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

/// Room for an orientation mark, in one of the clampings of a class: there is one for each edge and direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkRoom {
    /// Which edge of the sticks is up in the clamping that cuts it.
    pub edge: Edge,
    /// Direction of that clamping's fence, degrees.
    pub fence_deg: f64,
    /// What bears it.
    pub on: MarkOn,
    /// Where its middle may lie, from the datum end, mm; the first is greater than the second where there
    /// is no room.
    pub between: [f64; 2],
}

impl MarkRoom {
    fn of(stick: &GangStick, gang: &Gang, radius: f64, on: MarkOn) -> Self {
        Self {
            edge: gang.edge,
            fence_deg: gang.fence_deg,
            on,
            between: between(stick, gang, radius, on),
        }
    }

    /// How much room there is, mm; below 0 where it does not suffice.
    #[must_use]
    pub fn room(&self) -> f64 {
        self.between[1] - self.between[0]
    }
}

/// Where the orientation mark goes: trimmed ends before wood that is cut off, and that before back edges;
/// the first clamping that has room before later ones. Without any room the one that lacks least.
#[must_use]
pub fn mark_room(stick: &GangStick, gangs: &NonEmpty<&Gang>, radius: f64) -> MarkRoom {
    let mut best = MarkRoom::of(stick, gangs.first(), radius, MarkOn::Trimmed);
    for on in [MarkOn::Trimmed, MarkOn::CutOff, MarkOn::BackEdge] {
        for gang in gangs {
            if on == MarkOn::BackEdge && stick.back != Some(gang.edge) {
                continue;
            }
            let found = MarkRoom::of(stick, gang, radius, on);
            if found.room() >= 0.0 {
                return found;
            }
            if found.room() > best.room() {
                best = found;
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

/// The orientation mark of a class of sticks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Where there is room for it.
    pub room: MarkRoom,
    /// What is cut.
    pub slot: Slot,
    /// Whether it is cut in both edges.
    both: bool,
}

impl Mark {
    /// The mark of a class; `gangs` are its clampings in the order of work. Sticks that are the same turned over get
    /// a mark that does not show in both edges, so that both run one program.
    #[must_use]
    pub fn of(stick: &GangStick, gangs: &NonEmpty<&Gang>, radius: f64) -> Self {
        let room = mark_room(stick, gangs, radius);
        let [lo, hi] = room.between;
        Self {
            room,
            slot: Slot {
                // Without room the checks refuse it.
                at: lo.max(0.5 * (lo + hi)),
                width: 2.0 * radius,
                floor: stick.depth - MARK_DEPTH,
            },
            both: room.on != MarkOn::BackEdge && stick.alike_over(),
        }
    }

    /// Whether a clamping of the class cuts it.
    #[must_use]
    pub fn is_cut_by(&self, gang: &Gang) -> bool {
        let edge = self.both || gang.edge == self.room.edge;
        edge && same_fence(gang.fence_deg, self.room.fence_deg)
    }

    /// Puts it into a clamping of the class that cuts it.
    pub fn put(&self, gang: &mut Gang) {
        if self.is_cut_by(gang) {
            gang.mark = Some(self.slot);
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
    use crate::lattice::{ClassNotch, JointShape};
    use crate::setup::clamping::tests::RULES;
    use crate::setup::gangs;
    use crate::stock::some_sticks;

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
            notches: NonEmpty::of((0..4).flat_map(of)).expect("four"),
            kept: some_sticks(5),
            spares: some_sticks(1),
            begun,
            hidden_to,
            back,
        }
    }

    fn marked(stick: &GangStick) -> (MarkOn, Vec<Edge>, f64) {
        let mut list = gangs(stick, &RULES);
        let mark = Mark::of(stick, &list.map(|g| g), RULES.radius);
        list.iter_mut().for_each(|gang| mark.put(gang));
        let marks = list.iter().filter_map(|g| Some((g.edge, g.mark?.at)));
        let (edges, at): (Vec<Edge>, Vec<f64>) = marks.unzip();
        assert!(at.windows(2).all(|w| w[0] == w[1]), "one place");
        (mark.room.on, edges, at[0])
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
        let room = mark_room(&none, &list.map(|g| g), RULES.radius);
        assert!(room.room() < 0.0, "{room:?}");
    }
}
