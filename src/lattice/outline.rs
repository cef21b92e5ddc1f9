//! The outline: a convex polygon that cuts the families, each side by its own rule.

use kurbo::{Point, Rect, Vec2};

use super::error::LatticeError;
use super::family::Family;
use crate::geom::{Convex, NODE_SNAP};
use crate::panel::{SideRule, Sides};

/// One side of an outline: the inside is where `normal · p <= offset`.
#[derive(Debug, Clone, PartialEq)]
pub struct SideOf {
    /// Name in the panel file.
    pub name: &'static str,
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

impl Outline {
    /// Moves the sides of `base` (the rectangle through the outermost joint centres) by their rules.
    ///
    /// # Errors
    /// A side along a line, one that rips a bar, or sides that leave no area.
    pub(super) fn rectangle(
        base: Rect,
        rules: &Sides,
        families: &[Family],
    ) -> Result<Self, Vec<LatticeError>> {
        let frame = [
            ("bottom", 0.0, Vec2::new(0.0, -1.0), -base.y0, rules.bottom),
            ("right", 90.0, Vec2::new(1.0, 0.0), base.x1, rules.right),
            ("top", 0.0, Vec2::new(0.0, 1.0), base.y1, rules.top),
            ("left", 90.0, Vec2::new(-1.0, 0.0), -base.x0, rules.left),
        ];
        let mut faults = Vec::new();
        let mut sides = Vec::new();
        for (name, direction_deg, normal, centres, rule) in frame {
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
        let far = 10.0 * (base.width() + base.height()) + 1e4;
        let everything = Convex::from_corners(vec![
            Point::new(base.x0 - far, base.y0 - far),
            Point::new(base.x1 + far, base.y0 - far),
            Point::new(base.x1 + far, base.y1 + far),
            Point::new(base.x0 - far, base.y1 + far),
        ]);
        let region = sides
            .iter()
            .fold(everything, |r, s| r.below(s.normal, s.offset));
        if !region.is_solid() {
            let along = |n: Vec2| {
                sides
                    .iter()
                    .filter(|s| s.normal == n || s.normal == -n)
                    .map(|s| s.offset)
                    .sum::<f64>()
            };
            let (width, height) = (along(Vec2::new(1.0, 0.0)), along(Vec2::new(0.0, 1.0)));
            return Err(vec![LatticeError::NoArea { width, height }]);
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
        let (x0, x1) = self.region.extent(Vec2::new(1.0, 0.0));
        let (y0, y1) = self.region.extent(Vec2::new(0.0, 1.0));
        Rect::new(x0, y0, x1, y1)
    }
}

impl SideOf {
    /// Whether the bars of a family run along this side, by construction.
    #[must_use]
    pub fn is_along(&self, family: &Family) -> bool {
        (family.direction_deg - self.direction_deg).rem_euclid(180.0) == 0.0
    }

    fn placed(mut self, families: &[Family]) -> Result<Self, LatticeError> {
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
            for index in near {
                let inside = self.offset - sign * family.offset(index);
                let family = family.name.clone();
                if inside.abs() <= NODE_SNAP {
                    return Err(LatticeError::SideAlongLine {
                        side: self.name,
                        family,
                    });
                }
                if inside > 0.0 && inside < half - NODE_SNAP {
                    return Err(LatticeError::SideRipsBar {
                        side: self.name,
                        family,
                        half_face: half,
                    });
                }
            }
        }
        Ok(self)
    }
}
