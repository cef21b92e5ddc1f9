//! From the panel as asked for to members with joints.

use super::bars::{Bar, bars};
use super::crossings::{active_lines, crossings};
use super::error::LatticeError;
use super::family::{Family, FamilyId, Spacing};
use super::joint::{interface_height, square_run};
use super::layout;
use super::model::{
    ClassId, Joint, JointShape, Lattice, Line, LineId, Member, MemberId, Node, NodeId, Turn,
};
use super::nodes::{Crossing, Lines, cluster};
use super::order::order;
use super::outline::Outline;
use super::piece::BarSize;
use crate::geom::{FACE_OFF, SAME_FIGURE, cot_deg, sin_deg, tidy};
use crate::lattice::Edge;
use crate::panel::{FamilySpec, Layout, Measured, Method, Panel, off_readings};
use crate::table::{Column, Table};

/// Least angle at which bars may cross, degrees (common practice, no source): below it a notch is longer
/// than eleven times the bar's face.
const SHALLOW_DEG: f64 = 5.0;

impl Lattice {
    /// Builds the ground of a panel. `measured` is what the stock has measured: its thickness becomes the
    /// face of bars that are cut flat, its sticks the face and depth of those cut edge up.
    ///
    /// # Errors
    /// Every [`LatticeError`] that can be told before the next step would be meaningless.
    pub fn build(panel: &Panel, measured: impl Into<Measured>) -> Result<Self, Vec<LatticeError>> {
        let measured = measured.into();
        let ground = &panel.ground;
        let Framed {
            families,
            sizes,
            outline,
            ..
        } = framed(panel, &measured)?;
        let joints = layout::crossing_estimate(&families, outline.region.area());
        if joints > panel.joint_limit as f64 {
            let limit = panel.joint_limit;
            return Err(vec![LatticeError::TooManyJoints { joints, limit }]);
        }
        let corner = outline.bounds().origin();
        let outline = outline.moved(-corner.to_vec2());
        let families = layout::moved(families, -corner.to_vec2());

        let lines = active_lines(&families, &outline, panel.outline.overhang);
        side_by_side(&families, &lines)?;
        let bars = bars(panel, &families, &outline, &lines)?;
        let classes = Table::new();
        let (mut members, bars) = numbered(&families, bars, classes.next_id());
        let member_of_line = Self::members_of_lines(&lines.table, &members);
        let crossings = crossings(&families, &members, &bars, &lines, &member_of_line);
        let rank_of = |line: LineId| families[lines.table[line].family].rank;
        let (nodes, node_of) = cluster(&crossings, &lines.table, rank_of);

        let maker = JointMaker {
            panel,
            families: &families,
            lines: &lines.table,
            bars: &bars,
            nodes: &nodes,
            member_of_line: &member_of_line,
        };
        maker.add_joints(&mut members, &crossings, &node_of);
        let order = order(&members, &nodes, &member_of_line);
        let mut lattice = Self {
            faces: families.column(|f, _| sizes[f].face),
            depths: families.column(|f, _| sizes[f].depth),
            families,
            outline,
            depth: ground.depth,
            clearance: panel.cut.clearance,
            lines: lines.table,
            same_piece: panel.cut.same_piece,
            nodes,
            members,
            classes,
            order,
            least_web: None,
            waste_web: None,
        };
        lattice.settle_classes();
        [lattice.least_web, lattice.waste_web] = lattice.find_least_webs(0.0);
        let webs = [lattice.least_web, lattice.waste_web];
        if let Some((web, at)) = webs.into_iter().flatten().find(|w| w.0 <= 0.0) {
            let member = &lattice.members[at];
            let run = member.joints.iter().map(|j| j.run).fold(0.0, f64::max);
            return Err(vec![LatticeError::NotchesMeet {
                member: member.id.clone(),
                key: pitch_key(&ground.layout, &lattice.families, member.family, false),
                web,
                run,
            }]);
        }
        Ok(lattice)
    }
}

/// The members of these bars, without joints, numbered family by family, and their bars. `class` is the first
/// class that there will be.
fn numbered(
    families: &Table<Family>,
    bars: Vec<Bar>,
    class: ClassId,
) -> (Table<Member>, Column<Member, Bar>) {
    let mut count = families.column(|_, _| 0usize);
    let rows = bars.into_iter().map(|bar| {
        count[bar.family] += 1;
        let member = Member {
            id: format!("{}{}", families[bar.family].letter, count[bar.family]),
            family: bar.family,
            line: bar.line,
            class,
            turn: Turn::None,
            start: bar.start,
            end: bar.end,
            from: bar.from,
            to: bar.to,
            shift: 0.0,
            ends: bar.ends,
            trimmed_by_hand: bar.trimmed_by_hand,
            joints: Vec::new(),
        };
        (member, bar)
    });
    Table::with_column(rows)
}

/// Families and outline of a ground, from the layout's own zero.
struct Framed {
    families: Table<Family>,
    sizes: Column<Family, BarSize>,
    outline: Outline,
    step: [f64; 2],
}

fn framed(panel: &Panel, measured: &Measured) -> Result<Framed, Vec<LatticeError>> {
    let ground = &panel.ground;
    let laid = layout::lay(&ground.layout, sizes(panel, measured)?).map_err(|f| vec![f])?;
    let families = laid.families;
    for family in &families {
        let width = family.face + panel.cut.clearance;
        if width <= 0.0 {
            let family = family.name.clone();
            return Err(vec![LatticeError::NoNotch { family, width }]);
        }
    }
    too_shallow(&families)?;
    too_close(&ground.layout, &families)?;
    let outline = Outline::new(&panel.outline.shape, laid.step, &families)?;
    Ok(Framed {
        families,
        sizes: laid.sizes,
        outline,
        step: laid.step,
    })
}

/// How large a ground is, before any of its joints is worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundSize {
    /// The layout's own steps across and up, mm: what columns and rows count.
    pub step: [f64; 2],
    /// Width and height of the trimmed ground's bounding box, mm.
    pub size: [f64; 2],
}

impl GroundSize {
    /// The size of a panel's ground, by the very steps by which [`Lattice::build`] comes to it.
    ///
    /// # Errors
    /// Faces, families and sides that make no ground.
    pub fn of(panel: &Panel, measured: impl Into<Measured>) -> Result<Self, Vec<LatticeError>> {
        let framed = framed(panel, &measured.into())?;
        let bounds = framed.outline.bounds();
        Ok(Self {
            step: framed.step,
            size: [bounds.width(), bounds.height()],
        })
    }
}

/// The key that says how far apart a family's bars lie; or its notches, which the other families' bars
/// set.
fn pitch_key(layout: &Layout, families: &Table<Family>, family: FamilyId, own: bool) -> String {
    let number = family.index();
    match layout {
        Layout::Square { .. } if (number == 0) == own => "ground.pitch_across".into(),
        Layout::Square { .. } => "ground.pitch_up".into(),
        Layout::Free(_) if own => match families[family].spacing {
            Spacing::Listed(_) => format!("ground.family[{number}].offsets"),
            Spacing::Even { .. } => format!("ground.family[{number}].pitch"),
        },
        Layout::Free(_) => format!("ground.family[{number}]"),
        _ => "ground.pitch".into(),
    }
}

/// Bars that lie side by side must leave a cell between them.
fn too_close(layout: &Layout, families: &Table<Family>) -> Result<(), Vec<LatticeError>> {
    let faults: Vec<LatticeError> = families
        .entries()
        .filter_map(|(i, f)| match f.spacing {
            Spacing::Even { step, .. } => Some((i, f, step)),
            Spacing::Listed(ref offsets) => {
                let apart = offsets.windows(2).map(|w| w[1] - w[0]);
                apart.min_by(f64::total_cmp).map(|step| (i, f, step))
            }
        })
        .filter(|(_, f, step)| *step <= f.face)
        .map(|(i, f, apart)| LatticeError::BarsMeet {
            family: f.name.clone(),
            key: pitch_key(layout, families, i, true),
            apart,
            face: f.face,
        })
        .collect();
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// What the bars of each family are made of. Faces: of the stock that is cut flat, of the sticks that are cut edge
/// up, or as drawn where nobody has measured the sticks. Depths: of the sticks; as drawn where the program cuts it,
/// or where nobody has measured them.
fn sizes<'p>(
    panel: &'p Panel,
    measured: &Measured,
) -> Result<Vec<(&'p FamilySpec, BarSize)>, Vec<LatticeError>> {
    let mut faults = Vec::new();
    let mut sizes = Vec::new();
    for spec in &panel.ground.families {
        let sticks = panel.cut.method == Method::EdgeUp;
        let drawn = BarSize {
            face: [spec.face; 2],
            depth: [panel.ground.depth; 2],
        };
        let found = if sticks {
            let sticks = measured.sticks(spec.face);
            sticks.map_or(drawn, |sticks| BarSize {
                face: sticks.face,
                depth: sticks.depth,
            })
        } else {
            BarSize {
                face: measured.thickness,
                ..drawn
            }
        };
        // A scale model takes what card there is.
        let free = !sticks && panel.cut.scale_model;
        if off_readings(spec.face, found.face) > FACE_OFF + SAME_FIGURE && !free {
            faults.push(LatticeError::FaceOff {
                family: spec.name.clone(),
                drawn: spec.face,
                measured: found.face,
                limit: FACE_OFF,
                sticks,
            });
        }
        sizes.push((spec, found));
    }
    if faults.is_empty() {
        Ok(sizes)
    } else {
        Err(faults)
    }
}

/// Families that cross must do so at an angle that leaves bars in their notches.
fn too_shallow(families: &Table<Family>) -> Result<(), Vec<LatticeError>> {
    let mut faults = Vec::new();
    for (i, a) in families.iter().enumerate() {
        for b in families.iter().skip(i + 1) {
            let t = a.angle_to(b);
            let angle = t.min(180.0 - t);
            if angle != 0.0 && angle < SHALLOW_DEG {
                let (family, other) = (a.name.clone(), b.name.clone());
                let least = SHALLOW_DEG;
                faults.push(LatticeError::Shallow {
                    family,
                    other,
                    angle,
                    least,
                });
            }
        }
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// Two families in one direction must keep their bars apart.
fn side_by_side(families: &Table<Family>, lines: &Lines) -> Result<(), Vec<LatticeError>> {
    let mut faults = Vec::new();
    for (i, a) in families.entries() {
        for (j, b) in families.entries().filter(|&(j, _)| j > i) {
            if a.angle_to(b) != 0.0 {
                continue;
            }
            let room = 0.5 * (a.face + b.face);
            let nearest = (lines.of(i))
                .flat_map(|line| {
                    let o = lines.table[line].offset;
                    let near = b.lines_between(o - room, o + room).into_iter();
                    near.map(move |(_, offset)| (offset - o).abs())
                })
                .min_by(f64::total_cmp);
            if let Some(apart) = nearest.filter(|&apart| apart < room)
                && lines.of(j).next().is_some()
            {
                let (family, other) = (a.name.clone(), b.name.clone());
                faults.push(LatticeError::FamiliesMeet {
                    family,
                    other,
                    apart,
                });
            }
        }
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

struct JointMaker<'a> {
    panel: &'a Panel,
    families: &'a Table<Family>,
    lines: &'a Table<Line>,
    bars: &'a Column<Member, Bar>,
    nodes: &'a Table<Node>,
    member_of_line: &'a Column<Line, Option<MemberId>>,
}

impl JointMaker<'_> {
    /// Notches members where lines cross them, in order along each.
    fn add_joints(
        &self,
        members: &mut Table<Member>,
        crossings: &Table<Crossing>,
        node_of: &Column<Crossing, NodeId>,
    ) {
        for (c, crossing) in crossings.entries() {
            for side in 0..2 {
                if let Some(m) = self.member_of_line[crossing.lines[side]] {
                    let joint = self.joint(crossing, side, node_of[c], m);
                    members[m].joints.extend(joint);
                }
            }
        }
        for member in members.iter_mut() {
            member.joints.sort_by(|a, b| {
                (a.at.total_cmp(&b.at))
                    .then(a.edge.cmp(&b.edge))
                    .then(a.line.cmp(&b.line))
            });
        }
    }

    /// The notch of a member, which lies on line `side` of the crossing; `None` where it reaches no wood.
    fn joint(
        &self,
        crossing: &Crossing,
        side: usize,
        node: NodeId,
        member: MemberId,
    ) -> Option<Joint> {
        let (bar, other_line) = (&self.bars[member], crossing.lines[1 - side]);
        let own = &self.families[bar.family];
        let &Line { family, offset, .. } = &self.lines[other_line];
        let other = &self.families[family];
        let t = own.angle_to(other);
        let at = tidy(crossing.along[side] - bar.origin);

        let width = other.face + self.panel.cut.clearance;
        // Edge up a slot takes all that it reaches. Cut flat, what clearance alone would take of an end stays:
        // no bar needs it, and half a clearance is a finer step than beam or cutter make.
        let half = match self.panel.cut.method {
            Method::EdgeUp => 0.5 * width,
            Method::Flat => 0.5 * other.face,
        };
        let band = (offset - half, offset + half);
        let with = self.member_of_line[other_line];
        let filled = with.is_some_and(|p| {
            let partner = &self.bars[p];
            let there = crossing.along[1 - side] - partner.origin;
            let inside = |bar: &Bar, s: f64| bar.full.0 < s && s < bar.full.1;
            (inside(bar, at) && inside(partner, there)) || bar.body.both(&partner.body).is_solid()
        });
        let reach = 0.5 * (other.face / sin_deg(t) + own.face * cot_deg(t).abs());
        let deep = bar.full.0 < at - reach && at + reach < bar.full.1;
        let cut = deep || filled || bar.wood.within(other.normal(), band.0, band.1).is_solid();
        if !cut {
            return None;
        }

        let at_node = &self.nodes[node].lines;
        let k = at_node.len();
        let height = |line: LineId| (self.families[self.lines[line].family].rank, line);
        let place = |line: LineId| {
            let behind = at_node.iter().filter(|&&l| height(l) < height(line));
            behind.count() + 1
        };
        let (mine, theirs) = (place(bar.line), place(other_line));
        let depth = self.panel.ground.depth;
        let z = interface_height(depth, k, mine.min(theirs), mine.max(theirs));
        let (edge, notch) = if mine < theirs {
            (Edge::Front, depth - z)
        } else {
            (Edge::Back, z)
        };
        let angle_deg = if edge == Edge::Front { t } else { 180.0 - t };
        let (shape, run) = match self.panel.cut.method {
            Method::Flat => (JointShape::Square, square_run(width, own.face, t)),
            Method::EdgeUp => (JointShape::Skew, width / sin_deg(t)),
        };
        Some(Joint {
            at,
            node,
            with,
            filled,
            line: other_line,
            edge,
            angle_deg,
            width,
            depth: notch,
            shape,
            run,
        })
    }
}
