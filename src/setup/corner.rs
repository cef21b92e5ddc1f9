//! The datum corner of a fence: where the machine mills the reference rail's face and the fence's own, in one
//! path round a corner that both battens leave open.

use kurbo::Rect;

use super::gang::Gang;
use crate::geom::{Point, Vec2, bounds, cos_deg, cot_deg, sin_deg};
use crate::non_empty::NonEmpty;

/// How far a batten stands over the face that is milled on it, mm.
pub const PROUD: f64 = 1.0;
/// What rough passes leave on both faces for the last one, mm.
pub const ROUGH: f64 = 0.15;
/// How far the fence's batten runs past the reference rail's face, mm: at least and at most.
pub const FENCE_PAST: [f64; 2] = [2.0, 4.0];
/// Where the reference rail begins along x, mm, where cutter and fence do not ask for more.
const RAIL_FROM: f64 = 5.0;
/// Kept between the rail's end and the fence's corner before it is milled, mm.
const CORNER_ROOM: f64 = 1.0;
/// Kept between the rail's end and the cutter where it mills the fence past the rail's face, mm.
const TOOL_ROOM: f64 = 0.2;

/// On which side of the reference rail a gang lies: 1 along +y, -1 along -y, so that rail and fence meet
/// obtusely.
#[must_use]
pub fn side_of(fence_deg: f64) -> f64 {
    if fence_deg > 90.0 + 1e-9 { 1.0 } else { -1.0 }
}

/// Where the reference rail begins along x, mm: clear of the round that a cutter of this radius leaves between
/// two faces, of its way along the fence, and of the fence's corner as it is clamped.
#[must_use]
pub fn rail_start(fence_deg: f64, radius: f64) -> f64 {
    let (s, cot) = (sin_deg(fence_deg), cot_deg(fence_deg).abs());
    let round = radius * (1.0 - cos_deg(fence_deg).abs()) / s;
    let way = 2.0 * radius / s;
    let corner = PROUD / s + FENCE_PAST[1] * cot + CORNER_ROOM;
    let tool = FENCE_PAST[1] * cot + (radius + ROUGH) * s + radius + TOOL_ROOM;
    [round, way, corner, tool]
        .into_iter()
        .fold(RAIL_FROM, f64::max)
}

/// Both faces of a datum corner, long enough for every gang that is clamped against them. Lengths are mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// Direction of the fence, degrees from +x.
    pub fence_deg: f64,
    /// Radius of the cutter.
    pub radius: f64,
    /// Where the face of the reference rail begins and ends, along x.
    pub rail: [f64; 2],
    /// Where the batten of the reference rail may end at the nearest, along x: under the last hold.
    pub rail_to: f64,
    /// Where the fence's face ends, along itself from x = y = 0, away from the rail.
    pub fence_to: f64,
    /// Height of both battens.
    pub height: f64,
    /// Thickness of a batten, behind its face.
    pub thick: f64,
}

impl Corner {
    /// The corner that all these gangs, clamped against a fence of one direction, need.
    #[must_use]
    pub fn of(gangs: &NonEmpty<&Gang>, radius: f64) -> Self {
        let one = |gang: &Gang| {
            let s = sin_deg(gang.fence_deg);
            Self {
                fence_deg: gang.fence_deg,
                radius,
                rail: gang.rail_face(radius),
                rail_to: gang.rails(radius)[0].x1,
                // Past the gang by the cutter's diameter.
                fence_to: gang.width() / s + 2.0 * radius,
                height: gang.batten,
                thick: gang.rail,
            }
        };
        let others = gangs.iter().skip(1).map(|gang| one(gang));
        others.fold(one(gangs.first()), |a, b| Self {
            rail: [a.rail[0].min(b.rail[0]), a.rail[1].max(b.rail[1])],
            rail_to: a.rail_to.max(b.rail_to),
            fence_to: a.fence_to.max(b.fence_to),
            height: a.height.max(b.height),
            thick: a.thick.max(b.thick),
            ..a
        })
    }

    /// 1 where the gang lies along +y, -1 where it lies along -y.
    #[must_use]
    pub fn side(&self) -> f64 {
        side_of(self.fence_deg)
    }

    /// Along the fence, away from the reference rail.
    #[must_use]
    pub fn along(&self) -> Vec2 {
        Vec2::new(cos_deg(self.fence_deg), sin_deg(self.fence_deg)) * self.side()
    }

    /// Away from the fence's face, square to it.
    #[must_use]
    pub fn away(&self) -> Vec2 {
        Vec2::new(sin_deg(self.fence_deg), -cos_deg(self.fence_deg))
    }

    /// Where the milled face of the fence begins, past the rail's face, and where it ends, along the fence.
    #[must_use]
    pub fn fence(&self) -> [f64; 2] {
        [-FENCE_PAST[1] / sin_deg(self.fence_deg), self.fence_to]
    }

    /// A point at this distance along the fence from x = y = 0, and away from its face.
    #[must_use]
    pub fn by_fence(&self, along: f64, away: f64) -> Point {
        (self.along() * along + self.away() * away).to_point()
    }

    /// A point at this x, and this far from the rail's face on the gang's side.
    #[must_use]
    pub fn by_rail(&self, x: f64, away: f64) -> Point {
        Point::new(x, self.side() * away)
    }

    /// The way of the cutter's centre where it leaves `more` mm on both faces: from the rail's far end along
    /// it to where it meets the fence, along the fence past the rail's face, and back to the fence's far end.
    #[must_use]
    pub fn path(&self, more: f64) -> [Point; 4] {
        let r = self.radius + more;
        let [past, far] = self.fence();
        let corner = r * (1.0 + self.side() * cos_deg(self.fence_deg)) / sin_deg(self.fence_deg);
        [
            self.by_rail(self.rail[1], r),
            self.by_rail(corner, r),
            self.by_fence(past, r),
            self.by_fence(far, r),
        ]
    }

    /// For the rail and for the fence, two places of the cutter's centre at which it touches the batten as it is
    /// to be clamped, [`PROUD`] over its face: the batten is pushed to the cutter there.
    #[must_use]
    pub fn touches(&self) -> [[Point; 2]; 2] {
        let off = PROUD + self.radius;
        let inset = |lo: f64, hi: f64| {
            let by = (0.1 * (hi - lo)).min(20.0);
            [lo + by, hi - by]
        };
        let [near, far] = inset(self.rail[0], self.rail[1]);
        let [low, high] = inset(0.0, self.fence_to);
        [
            [self.by_rail(near, off), self.by_rail(far, off)],
            [self.by_fence(low, off), self.by_fence(high, off)],
        ]
    }

    /// The batten of the reference rail behind its face, from above.
    #[must_use]
    pub fn rail_rect(&self) -> Rect {
        Rect::new(self.rail[0], 0.0, self.rail_to, -self.side() * self.thick).abs()
    }

    /// The batten of the fence behind its face, from above: its corners, counter-clockwise.
    #[must_use]
    pub fn fence_band(&self) -> [Point; 4] {
        let [past, far] = self.fence();
        let mut band = [
            self.by_fence(past, -self.thick),
            self.by_fence(past, 0.0),
            self.by_fence(far, 0.0),
            self.by_fence(far, -self.thick),
        ];
        if self.side() < 0.0 {
            band.reverse();
        }
        band
    }

    /// Both battens, from above.
    #[must_use]
    pub fn extent(&self) -> Rect {
        self.rail_rect().union(bounds(&self.fence_band()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn corner(fence_deg: f64, radius: f64) -> Corner {
        Corner {
            fence_deg,
            radius,
            rail: [rail_start(fence_deg, radius), 460.0],
            rail_to: 470.0,
            fence_to: 50.0,
            height: 11.7,
            thick: 30.0,
        }
    }

    #[test]
    fn the_path_touches_both_faces_and_nothing_behind_them() {
        for deg in [30.0, 45.0, 57.0, 60.0, 90.0, 120.0, 135.0, 150.0] {
            for r in [0.5, 1.5, 3.175, 6.0] {
                let c = corner(deg, r);
                let [a, b, p, f] = c.path(0.0);
                let rail = |q: Point| c.side() * q.y;
                let fence = |q: Point| q.to_vec2().dot(c.away());
                assert!((rail(a) - r).abs() < 1e-9 && (rail(b) - r).abs() < 1e-9);
                for q in [b, p, f] {
                    assert!((fence(q) - r).abs() < 1e-9, "{deg} {r}: {}", fence(q));
                }
                assert!(fence(a) > r, "the rail lies on the fence's free side");
                assert!(rail(f) > r, "the fence goes on away from the rail");
                // The corner of the rail's end stays whole: farther than r from every part of the path.
                let end = Point::new(c.rail[0], 0.0);
                assert!(b.x <= end.x, "the round lies before the rail begins");
                for (m, n) in [(b, p), (p, f)] {
                    let way = kurbo::Line::new(m, n);
                    let near = kurbo::ParamCurveNearest::nearest(&way, end, 1e-9);
                    assert!(near.distance_sq.sqrt() >= r - 1e-9, "{deg} {r}");
                }
                // The face of the fence reaches past the rail's by as much as its batten may.
                let contact = p - c.away() * r;
                assert!((rail(contact) + FENCE_PAST[1]).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn a_rail_begins_where_the_design_says() {
        // 5 mm at 120 degrees and a cutter of 3 mm but for the cutter's way past the rail's face:
        // 4 cot 60 + 1.65 sin 60 + 1.5 + 0.2 = 5.438.
        assert!((rail_start(120.0, 1.5) - 5.438).abs() < 1e-3);
        assert_eq!(rail_start(90.0, 0.5), RAIL_FROM);
        // The fence's corner at 135 degrees: 1 / sin 45 + 4 + 1 = 6.414; the cutter's way is longer:
        // 4 + 1.65 sin 45 + 1.5 + 0.2 = 6.867.
        assert!((rail_start(45.0, 1.5) - 6.867).abs() < 1e-3);
    }

    #[test]
    fn battens_are_pushed_to_the_cutter_one_mm_over_their_faces() {
        let c = corner(60.0, 1.5);
        let [rail, fence] = c.touches();
        for p in rail {
            assert!((c.side() * p.y - 2.5).abs() < 1e-9);
        }
        for p in fence {
            assert!((p.to_vec2().dot(c.away()) - 2.5).abs() < 1e-9);
        }
    }
}
