//! From a ground and what the panel file says to the sides of its surround.

use kurbo::{Point, Rect, Vec2};

use super::buy::SurroundStock;
use super::error::SurroundError;
use super::pins::{Pin, pin};
use crate::geom::{SAME_FIGURE, acos_deg, bounds, cot_deg, sin_deg};
use crate::lattice::{Lattice, Member, MemberId, RingBars};
use crate::panel::{self, SurroundCut};
use crate::table::{Column, Id, Table};

/// Which side.
pub type SideId = Id<Side>;
/// Which class of sides.
pub type SideClassId = Id<SideClass>;

/// The surround of a panel. Lengths are mm, angles degrees.
#[derive(Debug, Clone, PartialEq)]
pub struct Surround {
    /// Face of its sides.
    pub face: f64,
    /// From front to back.
    pub depth: f64,
    /// The sides, counter-clockwise.
    pub sides: Table<Side>,
    /// Sides that are the same piece.
    pub classes: Table<SideClass>,
    /// The sides as lapped bars; `None` where they are mitred by hand.
    pub ring: Option<Ring>,
    /// What is bought for it; `None` where its sides are cut among the bars.
    pub stock: Option<SurroundStock>,
}

/// The sides of a surround as bars that lap.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// The bars.
    pub lattice: Lattice,
    /// Which bar each side is.
    pub bars: Column<Side, MemberId>,
    /// Sides that go on together, back ones first.
    pub order: Vec<Vec<SideId>>,
}

impl Ring {
    /// The bar of a side.
    #[must_use]
    pub fn bar(&self, side: SideId) -> &Member {
        &self.lattice.members[self.bars[side]]
    }
}

/// One side of a surround. Its length runs counter-clockwise round the panel, as seen from the front.
#[derive(Debug, Clone, PartialEq)]
pub struct Side {
    /// `surround-` and the side's name.
    pub id: String,
    /// Name of the outline's side.
    pub side: String,
    /// Its class.
    pub class: SideClassId,
    /// Unit vector outwards.
    pub normal: Vec2,
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
    /// The first of its sides.
    pub first: SideId,
    /// All of them, counter-clockwise.
    pub sides: Vec<SideId>,
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
        let (classes, ring) = match asked.cut {
            SurroundCut::ByHand(by_hand) => {
                let faults: Vec<SurroundError> =
                    sides.iter().filter_map(|s| too_short(s, width)).collect();
                if !faults.is_empty() {
                    return Err(faults);
                }
                for side in sides.iter_mut() {
                    if let Some(pins) = by_hand.pins {
                        let ends =
                            [0, 1].map(|end| pin(side.mitres[end], end, width, asked.depth, pins));
                        side.pins = ends.into_iter().flatten().collect();
                    }
                }
                (classes(&mut sides, mitred_alike), None)
            }
            SurroundCut::Laps { ear } => {
                let bars = RingBars {
                    face,
                    clearance: lattice.clearance,
                    ear,
                };
                let ring = lapped(lattice.ring(bars), &mut sides)?;
                // The classes of lapped bars are those of their notches.
                let alike =
                    |_: &Table<Side>, a: SideId, b: SideId| ring.bar(a).class == ring.bar(b).class;
                (classes(&mut sides, alike), Some(ring))
            }
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

    /// The sides in the order in which they go on; counter-clockwise where they are mitred.
    #[must_use]
    pub fn order(&self) -> Vec<SideId> {
        match &self.ring {
            Some(ring) => ring.order.concat(),
            None => self.sides.ids().collect(),
        }
    }

    /// Plans of the sides seen from the front; lapped ones from the back to the front.
    #[must_use]
    pub fn plans(&self) -> Vec<Vec<Point>> {
        let sides = self.order().into_iter();
        sides.map(|s| self.sides[s].outline.clone()).collect()
    }

    /// Id of a side's class.
    #[must_use]
    pub fn class_id(&self, side: &Side) -> &str {
        &self.classes[side.class].id
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

/// The sides of a mitred frame, without classes: the short edge lies on the outline, the mitre halves the corner, and the long
/// edge is longer by face / tan(mitre) at both ends.
fn mitred(lattice: &Lattice, face: f64) -> Table<Side> {
    let class = Table::new().next_id();
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
                class,
                normal: normal(s),
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

/// The bars of the sides, which must not meet but in their laps. The sides get their plans.
fn lapped(ring: Lattice, sides: &mut Table<Side>) -> Result<Ring, Vec<SurroundError>> {
    let webs = [ring.least_web, ring.waste_web];
    if let Some((web, at)) = webs.into_iter().flatten().find(|w| w.0 <= 0.0) {
        let side = ring.lines[ring.members[at].line].name.clone();
        return Err(vec![SurroundError::NotchesMeet { side, web }]);
    }
    // A bar a side, in the same order.
    let rows = std::mem::take(sides).into_iter().zip(ring.members.ids());
    let bars;
    (*sides, bars) = Table::with_column(rows);
    let bodies = sides.column(|s, _| ring.body(&ring.members[bars[s]]));
    for side in sides.ids() {
        sides[side].outline = bodies[side].corners().to_vec();
    }
    let n = sides.len();
    let mut faults = Vec::new();
    for (i, a) in sides.entries() {
        for (j, b) in sides.entries().skip(i.index() + 2) {
            let neighbours = i.index() == 0 && j.index() + 1 == n;
            if !neighbours && bodies[i].both(&bodies[j]).is_solid() {
                faults.push(SurroundError::EarsMeet {
                    side: a.side.clone(),
                    other: b.side.clone(),
                });
            }
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let together = |group: &Vec<MemberId>| {
        let own = sides.ids().filter(|&s| group.contains(&bars[s]));
        own.collect()
    };
    let order = ring.order.iter().map(together).collect();
    Ok(Ring {
        lattice: ring,
        bars,
        order,
    })
}

/// Sides that are alike are of one class, in the order of the first sides.
fn classes(
    sides: &mut Table<Side>,
    alike: impl Fn(&Table<Side>, SideId, SideId) -> bool,
) -> Table<SideClass> {
    let mut classes: Table<SideClass> = Table::new();
    for s in sides.ids() {
        let found = classes.entries().find(|(_, c)| alike(sides, s, c.first));
        let class = match found.map(|(class, _)| class) {
            Some(class) => class,
            None => classes.push(SideClass {
                id: format!("s{}", classes.len() + 1),
                first: s,
                sides: Vec::new(),
            }),
        };
        classes[class].sides.push(s);
        sides[s].class = class;
    }
    classes
}

/// Whether mitred sides have one length and mitres; turned over, the mitres change places.
fn mitred_alike(sides: &Table<Side>, one: SideId, other: SideId) -> bool {
    let close = |a: f64, b: f64| (a - b).abs() <= SAME_FIGURE;
    let [[a, b], [c, d]] = [one, other].map(|s| sides[s].mitres);
    let as_is = close(a, c) && close(b, d);
    let over = close(a, d) && close(b, c);
    close(sides[one].short, sides[other].short) && (as_is || over)
}
