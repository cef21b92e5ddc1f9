//! From a ground and what the panel file says to the sides of its surround.

use kurbo::{Point, Rect, Vec2};

use super::buy::SurroundStock;
use super::error::SurroundError;
use super::pins::{Pin, pin};
use crate::geom::{SAME_FIGURE, acos_deg, bounds, cot_deg, sin_deg};
use crate::lattice::{Lattice, RingBars};
use crate::panel::{self, SurroundCut};

/// The surround of a panel. Lengths are mm, angles degrees.
#[derive(Debug, Clone, PartialEq)]
pub struct Surround {
    /// Face of its sides.
    pub face: f64,
    /// From front to back.
    pub depth: f64,
    /// The sides, counter-clockwise.
    pub sides: Vec<Side>,
    /// Sides that are the same piece.
    pub classes: Vec<SideClass>,
    /// The sides as lapped bars, in the same order; `None` where they are mitred by hand.
    pub ring: Option<Lattice>,
    /// What is bought for it; `None` where its sides are cut among the bars.
    pub stock: Option<SurroundStock>,
}

/// One side of a surround. Its length runs counter-clockwise round the panel, as seen from the front.
#[derive(Debug, Clone, PartialEq)]
pub struct Side {
    /// `surround-` and the side's name.
    pub id: String,
    /// Name of the outline's side.
    pub side: String,
    /// Index of its class.
    pub class: usize,
    /// From long point to long point: the outer edge as mitred.
    pub long: f64,
    /// From short point to short point: the inner edge.
    pub short: f64,
    /// Angle between its length and the mitre at its start and its end: half the corner.
    pub mitres: [f64; 2],
    /// Its pins; of those at either end, start first, the height tells which.
    pub pins: Vec<Pin>,
    /// Plan seen from the front, counter-clockwise: the mitred piece, or the whole lapped bar.
    pub outline: Vec<Point>,
}

impl Side {
    /// What a saw's mitre scale shows where 0 is a square cut, at start and end.
    #[must_use]
    pub fn saw_deg(&self) -> [f64; 2] {
        self.mitres.map(|m| 90.0 - m)
    }
}

/// Sides that are the same piece, turned over if need be: their section is a plain rectangle.
#[derive(Debug, Clone, PartialEq)]
pub struct SideClass {
    /// `s` and a number.
    pub id: String,
    /// Indices of its sides.
    pub sides: Vec<usize>,
}

impl Surround {
    /// Puts a surround round the trimmed ground. `face`: least and greatest reading of what it is cut from;
    /// the drawn width twice where nobody has measured it.
    ///
    /// # Errors
    /// Every [`SurroundError`] that can be told.
    pub fn build(
        lattice: &Lattice,
        asked: &panel::Surround,
        face: [f64; 2],
    ) -> Result<Self, Vec<SurroundError>> {
        let width = face[1];
        let ground = &lattice.outline.region;
        let narrowest = lattice
            .outline
            .sides
            .iter()
            .map(|side| {
                let (low, high) = ground.extent(side.normal);
                high - low
            })
            .fold(f64::INFINITY, f64::min);
        if width > narrowest + SAME_FIGURE {
            return Err(vec![SurroundError::WiderThanOpening { width, narrowest }]);
        }
        let mut sides = mitred(lattice, width);
        let mut ring = None;
        match asked.cut {
            SurroundCut::ByHand(by_hand) => {
                let faults: Vec<SurroundError> =
                    sides.iter().filter_map(|s| too_short(s, width)).collect();
                if !faults.is_empty() {
                    return Err(faults);
                }
                for side in &mut sides {
                    if let Some(pins) = by_hand.pins {
                        let ends =
                            [0, 1].map(|end| pin(side.mitres[end], end, width, asked.depth, pins));
                        side.pins = ends.into_iter().flatten().collect();
                    }
                }
            }
            SurroundCut::Laps { ear } => {
                let bars = RingBars {
                    face,
                    clearance: lattice.clearance,
                    ear,
                };
                let built = lattice.ring(bars);
                lapped(&built, &mut sides)?;
                ring = Some(built);
            }
        }
        let classes = match &ring {
            Some(ring) => ring_classes(ring, &mut sides),
            None => mitred_classes(&mut sides),
        };
        Ok(Self {
            face: width,
            depth: asked.depth,
            sides,
            classes,
            ring,
            stock: None,
        })
    }

    /// Plans of the sides seen from the front; lapped ones from the back to the front.
    #[must_use]
    pub fn plans(&self) -> Vec<Vec<Point>> {
        let mut order: Vec<usize> = (0..self.sides.len()).collect();
        if let Some(ring) = &self.ring {
            order = ring.order.concat();
        }
        let sides = order.into_iter().filter_map(|s| self.sides.get(s));
        sides.map(|s| s.outline.clone()).collect()
    }

    /// Id of a side's class.
    #[must_use]
    pub fn class_id(&self, side: &Side) -> &str {
        self.classes.get(side.class).map_or("", |c| c.id.as_str())
    }

    /// Bounding box of the panel with its surround on, ears included.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let corners: Vec<Point> = self.sides.iter().flat_map(|s| s.outline.clone()).collect();
        bounds(&corners)
    }

    /// Corners between a side and the next that found no room for a pin, by the names of their sides. Empty
    /// where no pins are asked for.
    #[must_use]
    pub fn without_pins(&self, asked: &panel::Surround) -> Vec<[&str; 2]> {
        let SurroundCut::ByHand(panel::Mitred { pins: Some(_), .. }) = asked.cut else {
            return Vec::new();
        };
        let next = self.sides.iter().cycle().skip(1);
        let corners = self.sides.iter().zip(next);
        corners
            .filter(|(a, _)| a.pins.iter().all(|p| p.end != 1))
            .map(|(a, b)| [a.side.as_str(), b.side.as_str()])
            .collect()
    }
}

/// The sides of a mitred frame: the short edge lies on the outline, the mitre halves the corner, and the long
/// edge is longer by face / tan(mitre) at both ends.
fn mitred(lattice: &Lattice, face: f64) -> Vec<Side> {
    let outline = &lattice.outline;
    let (inner, outer) = (outline.corners_outside(0.0), outline.corners_outside(face));
    let n = outline.sides.len();
    let normal = |s: usize| -> Vec2 { outline.sides[s % n].normal };
    // The corner between two sides is 180 degrees less the turn between their outward normals.
    let mitre = |s: usize| 0.5 * (180.0 - acos_deg(normal(s).dot(normal(s + 1))));
    (0..n)
        .map(|s| {
            let before = (s + n - 1) % n;
            let mitres = [mitre(before), mitre(s)];
            let short = (inner[s] - inner[before]).hypot();
            let share: f64 = mitres.iter().map(|&m| face * cot_deg(m)).sum();
            let name = &outline.sides[s].name;
            Side {
                id: format!("surround-{}", name.replace(' ', "-")),
                side: name.clone(),
                class: 0,
                long: short + share,
                short,
                mitres,
                pins: Vec::new(),
                outline: vec![outer[before], outer[s], inner[s], inner[before]],
            }
        })
        .collect()
}

/// A side that is shorter than one of its mitres: nothing is left to hold, and the mitre cannot be shot.
fn too_short(side: &Side, width: f64) -> Option<SurroundError> {
    let run: f64 = side.mitres.iter().map(|&m| cot_deg(m)).sum();
    let steepest = side
        .mitres
        .iter()
        .map(|&m| 1.0 / sin_deg(m))
        .fold(0.0, f64::max);
    let mitre = width * steepest;
    (mitre > side.long + SAME_FIGURE).then(|| SurroundError::MitreLonger {
        side: side.side.clone(),
        long: side.long,
        mitre,
        most: side.short / (steepest - run),
    })
}

/// Takes the sides' plans from the lapped bars, which must not meet but in their laps.
fn lapped(ring: &Lattice, sides: &mut [Side]) -> Result<(), Vec<SurroundError>> {
    let webs = [ring.least_web, ring.waste_web];
    if let Some((web, at)) = webs.into_iter().flatten().find(|w| w.0 <= 0.0) {
        let side = ring
            .members
            .get(at)
            .map_or_else(String::new, |m| ring.line_names[m.line].clone());
        return Err(vec![SurroundError::NotchesMeet { side, web }]);
    }
    let bodies: Vec<_> = ring.members.iter().map(|m| ring.body(m)).collect();
    let n = bodies.len();
    let mut faults = Vec::new();
    for i in 0..n {
        for j in i + 2..n {
            let neighbours = i == 0 && j + 1 == n;
            if !neighbours && bodies[i].both(&bodies[j]).is_solid() {
                faults.push(SurroundError::EarsMeet {
                    side: sides[i].side.clone(),
                    other: sides[j].side.clone(),
                });
            }
        }
    }
    for (side, body) in sides.iter_mut().zip(bodies) {
        side.outline = body.corners().to_vec();
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// The classes of lapped bars are those of their notches.
fn ring_classes(ring: &Lattice, sides: &mut [Side]) -> Vec<SideClass> {
    for (side, member) in sides.iter_mut().zip(&ring.members) {
        side.class = member.class;
    }
    let class = |c: &crate::lattice::Class| SideClass {
        id: c.id.clone(),
        sides: c.members.clone(),
    };
    ring.classes.iter().map(class).collect()
}

/// Mitred sides of one length and mitres; turned over, the mitres change places.
fn mitred_classes(sides: &mut [Side]) -> Vec<SideClass> {
    let mut classes: Vec<SideClass> = Vec::new();
    let close = |a: f64, b: f64| (a - b).abs() <= SAME_FIGURE;
    for s in 0..sides.len() {
        let [a, b] = sides[s].mitres;
        let same = |class: &SideClass| {
            class.sides.first().is_some_and(|&first| {
                let [c, d] = sides[first].mitres;
                let as_is = close(a, c) && close(b, d);
                let over = close(a, d) && close(b, c);
                close(sides[s].short, sides[first].short) && (as_is || over)
            })
        };
        let found = classes.iter().position(same);
        let class = found.unwrap_or_else(|| {
            classes.push(SideClass {
                id: format!("s{}", classes.len() + 1),
                sides: Vec::new(),
            });
            classes.len() - 1
        });
        classes[class].sides.push(s);
        sides[s].class = class;
    }
    classes
}
