//! The outline: a convex polygon that cuts the families, each side by its own rule.

use kurbo::{Point, Rect, Vec2};

use super::error::LatticeError;
use super::family::Family;
use crate::geom::{Convex, NODE_SNAP, SAME_FIGURE, atan2_deg, bounds};
use crate::panel::{OutlineShape, PolygonSide, SideRule, Sides, Size};
use crate::table::Table;

/// One side of an outline: the inside is where `normal · p <= offset`.
#[derive(Debug, Clone, PartialEq)]
pub struct SideOf {
    /// `left`, `right`, `bottom`, `top`; a polygon's are `side 1` and on.
    pub name: String,
    /// Direction of the side, degrees; 0 level, 90 upright.
    pub direction_deg: f64,
    /// Outward unit vector.
    pub normal: Vec2,
    /// Distance of the trimmed side from the origin along `normal`, mm.
    pub offset: f64,
    /// Distance of the outermost joint centres along `normal`, mm.
    pub centres: f64,
    /// How it meets the joints.
    pub rule: SideRule,
}

/// A convex outline.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// Its sides, counter-clockwise.
    pub sides: Vec<SideOf>,
    /// Its corners as a region.
    pub region: Convex,
}

/// The least length of a polygon's side, mm.
const SHORTEST: f64 = 1e-3;
/// A side within this angle of a family's direction runs along it, and one as near to a right angle is
/// square to it: corners carry three decimals.
const ALONG_DEG: f64 = 0.02;
/// Centres of a side along a family nearer than this to one of its lines lie on it, mm.
const ON_LINE: f64 = 0.01;

/// A side before its rule has moved it.
struct Draft {
    name: String,
    direction_deg: f64,
    normal: Vec2,
    centres: f64,
    rule: SideRule,
}

impl Outline {
    /// Moves the sides of the polygon through the outermost joint centres by their rules. `step` is the
    /// layout's own step across and up.
    ///
    /// # Errors
    /// A polygon that is none, a side along a line, one that rips a bar, or sides that leave no area.
    pub(super) fn new(
        shape: &OutlineShape,
        step: [f64; 2],
        families: &Table<Family>,
    ) -> Result<Self, Vec<LatticeError>> {
        let drafts = match shape {
            OutlineShape::Rectangle { size, sides } => rectangle(*size, sides, step),
            OutlineShape::Polygon { sides, in_steps } => {
                polygon(sides, if *in_steps { step } else { [1.0, 1.0] }, families)?
            }
        };
        let mut faults = Vec::new();
        let mut sides = Vec::new();
        for draft in drafts {
            let Draft {
                name,
                direction_deg,
                normal,
                centres,
                rule,
            } = draft;
            let side = SideOf {
                name,
                direction_deg,
                normal,
                offset: centres,
                centres,
                rule,
            };
            match side.placed(families) {
                Ok(side) => sides.push(side),
                Err(fault) => faults.push(fault),
            }
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let far = 10.0
            * sides
                .iter()
                .map(|s: &SideOf| s.offset.abs())
                .fold(1e3, f64::max);
        let everything = Convex::from_corners(
            [(-far, -far), (far, -far), (far, far), (-far, far)]
                .map(Point::from)
                .to_vec(),
        );
        let region = sides
            .iter()
            .fold(everything, |r, s| r.below(s.normal, s.offset));
        let lost = sides.iter().find(|s| {
            // A side that no longer touches what is left holds nothing.
            let (_, reach) = region.extent(s.normal);
            reach < s.offset - SAME_FIGURE
        });
        if !region.is_solid() {
            let along = |n: Vec2| {
                let (lo, hi) = region.extent(n);
                (hi - lo).max(0.0)
            };
            let (width, height) = (along(Vec2::new(1.0, 0.0)), along(Vec2::new(0.0, 1.0)));
            return Err(vec![LatticeError::NoArea { width, height }]);
        }
        if let Some(side) = lost {
            return Err(vec![LatticeError::SideLost {
                side: side.name.clone(),
            }]);
        }
        Ok(Self { sides, region })
    }

    /// The outline moved by `shift`.
    pub(super) fn moved(mut self, shift: Vec2) -> Self {
        for side in &mut self.sides {
            let by = side.normal.dot(shift);
            side.offset += by;
            side.centres += by;
        }
        self.region =
            Convex::from_corners(self.region.corners().iter().map(|&p| p + shift).collect());
        self
    }

    /// Bounding box of the trimmed ground.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        bounds(self.region.corners())
    }

    /// Corners of the outline with every side moved `by` mm outwards: the first lies between the first side
    /// and the second, and so on. Sides with the outward normals a and b, at distances p and q from the
    /// origin, meet at (a (p - q a·b) + b (q - p a·b)) / (1 - (a·b)²).
    #[must_use]
    pub fn corners_outside(&self, by: f64) -> Vec<Point> {
        let next = self.sides.iter().cycle().skip(1);
        let pairs = self.sides.iter().zip(next);
        pairs
            .map(|(a, b)| {
                let c = a.normal.dot(b.normal);
                let (p, q) = (a.offset + by, b.offset + by);
                ((a.normal * (p - q * c) + b.normal * (q - p * c)) / (1.0 - c * c)).to_point()
            })
            .collect()
    }
}

/// The sides of a rectangle from the ground's zero.
fn rectangle(size: Size, rules: &Sides, step: [f64; 2]) -> Vec<Draft> {
    let (width, height) = match size {
        Size::Spacings { columns, rows } => {
            (f64::from(columns) * step[0], f64::from(rows) * step[1])
        }
        Size::Millimetres { width, height } => (width, height),
    };
    [
        ("bottom", 0.0, Vec2::new(0.0, -1.0), 0.0, rules.bottom),
        ("right", 90.0, Vec2::new(1.0, 0.0), width, rules.right),
        ("top", 0.0, Vec2::new(0.0, 1.0), height, rules.top),
        ("left", 90.0, Vec2::new(-1.0, 0.0), 0.0, rules.left),
    ]
    .map(|(name, direction_deg, normal, centres, rule)| Draft {
        name: name.to_owned(),
        direction_deg,
        normal,
        centres,
        rule,
    })
    .into()
}

/// The sides of a polygon given by its corners.
fn polygon(
    sides: &[PolygonSide],
    step: [f64; 2],
    families: &Table<Family>,
) -> Result<Vec<Draft>, Vec<LatticeError>> {
    let corners: Vec<Point> = sides
        .iter()
        .map(|s| Point::new(s.from[0] * step[0], s.from[1] * step[1]))
        .collect();
    let n = corners.len();
    if n < 3 {
        return Err(vec![LatticeError::FewSides { sides: n }]);
    }
    let along = |i: usize| corners[(i + 1) % n] - corners[i % n];
    let mut faults = Vec::new();
    let mut turned = 0.0;
    for i in 0..n {
        let name = format!("side {}", i + 1);
        if along(i).hypot() < SHORTEST {
            faults.push(LatticeError::ZeroSide { side: name });
            continue;
        }
        let (before, here) = (along(i + n - 1), along(i));
        if before.hypot() < SHORTEST {
            // Told at the side that has no length.
            continue;
        }
        let turn = atan2_deg(before.cross(here), before.dot(here));
        turned += turn;
        if turn <= 0.0 {
            faults.push(LatticeError::NotConvex { side: name, turn });
        }
    }
    // A convex outline that runs counter-clockwise turns left by one full turn.
    if faults.len() == n || turned < 0.0 {
        return Err(vec![LatticeError::WrongWay]);
    }
    if faults.is_empty() && turned > 361.0 {
        faults.push(LatticeError::Winds);
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    Ok((0..n)
        .map(|i| {
            let d = along(i);
            let mut direction_deg = atan2_deg(d.y, d.x);
            let mut normal = Vec2::new(d.y, -d.x) / d.hypot();
            let mut centres = normal.dot(corners[i].to_vec2());
            // Corners are written with a few decimals: a side along or square to a family is so exactly.
            let off = |f: &Family, turn: f64| {
                let o = (f.direction_deg + turn - direction_deg).rem_euclid(180.0);
                o.min(180.0 - o)
            };
            let middle = corners[i].midpoint(corners[(i + 1) % n]).to_vec2();
            if let Some(family) = families.iter().find(|f| off(f, 0.0) <= ALONG_DEG) {
                direction_deg = family.direction_deg;
                let sign = family.normal().dot(normal).signum();
                normal = family.normal() * sign;
                centres = normal.dot(middle);
                let near = family.lines_between(sign * centres - ON_LINE, sign * centres + ON_LINE);
                if let Some(&(_, offset)) = near.first() {
                    centres = sign * offset;
                }
            } else if let Some(family) = families.iter().find(|f| off(f, 90.0) <= ALONG_DEG) {
                direction_deg = family.direction_deg + 90.0;
                normal = family.axis() * family.axis().dot(normal).signum();
                centres = normal.dot(middle);
            }
            let name = format!("side {}", i + 1);
            Draft {
                name,
                direction_deg,
                normal,
                centres,
                rule: sides[i].rule,
            }
        })
        .collect())
}

impl SideOf {
    /// Whether the bars of a family run along this side, by construction.
    #[must_use]
    pub fn is_along(&self, family: &Family) -> bool {
        self.angle_to(family) == 0.0
    }

    /// Angle from the bars of a family to this side, counter-clockwise, degrees from 0 up to 180.
    #[must_use]
    pub fn angle_to(&self, family: &Family) -> f64 {
        (self.direction_deg - family.direction_deg).rem_euclid(180.0)
    }

    fn placed(mut self, families: &Table<Family>) -> Result<Self, LatticeError> {
        let along: Vec<&Family> = families.iter().filter(|f| self.is_along(f)).collect();
        let widest =
            |set: &mut dyn Iterator<Item = &Family>| set.map(|f| f.face).fold(0.0, f64::max);
        match self.rule {
            SideRule::Centres => {}
            SideRule::InnerEdge => {
                // Half a face inside the centres: the face of the bars along the side, if there are any.
                let face = if along.is_empty() {
                    widest(&mut families.iter())
                } else {
                    widest(&mut along.iter().copied())
                };
                self.offset = self.centres - 0.5 * face;
            }
            SideRule::Clear(d) => self.offset = self.centres + d,
        }
        for family in along {
            // A line of the family at this offset of the side: its normal may point either way.
            let sign = family.normal().dot(self.normal).signum();
            let half = 0.5 * family.face;
            let near = family.lines_between(sign * self.offset - half, sign * self.offset + half);
            for (_, offset) in near {
                let inside = self.offset - sign * offset;
                let family = family.name.clone();
                if inside.abs() <= NODE_SNAP {
                    return Err(LatticeError::SideAlongLine {
                        side: self.name.clone(),
                        family,
                    });
                }
                if inside > 0.0 && inside < half - NODE_SNAP {
                    return Err(LatticeError::SideRipsBar {
                        side: self.name.clone(),
                        family,
                        half_face: half,
                    });
                }
            }
        }
        Ok(self)
    }
}
