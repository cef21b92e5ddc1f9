//! From the panel as asked for to members with joints.

use super::bars::{Bar, bars};
use super::crossings::{active_lines, crossings};
use super::error::LatticeError;
use super::family::{Family, Spacing};
use super::joint::{interface_height, square_run};
use super::layout;
use super::model::{Joint, JointShape, Lattice, Member, Node, Turn};
use super::nodes::{Crossing, Lines, cluster};
use super::order::order;
use super::outline::Outline;
use crate::geom::{FACE_OFF, SAME_FIGURE, cot_deg, sin_deg, tidy};
use crate::lattice::Edge;
use crate::panel::{FreeLines, Layout, Measured, Method, Panel, off_readings};

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
            faces,
            outline,
            ..
        } = framed(panel, &measured)?;
        let depths = depths(panel, &measured);
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
        let mut bar_of_line = vec![None; lines.len()];
        for (b, bar) in bars.iter().enumerate() {
            bar_of_line[bar.line] = Some(b);
        }
        let crossings = crossings(&families, &bars, &lines, &bar_of_line);
        let rank_of = |line: usize| families[lines.line(line).0].rank;
        let (nodes, node_of) = cluster(&crossings, lines.len(), rank_of);

        let maker = JointMaker {
            panel,
            families: &families,
            lines: &lines,
            bars: &bars,
            nodes: &nodes,
        };
        let mut joints: Vec<Vec<Joint>> = vec![Vec::new(); bars.len()];
        for (c, crossing) in crossings.iter().enumerate() {
            for side in 0..2 {
                if let Some(b) = bar_of_line[crossing.lines[side]]
                    && let Some(joint) = maker.joint(crossing, side, node_of[c], b, &bar_of_line)
                {
                    joints[b].push(joint);
                }
            }
        }
        let mut members: Vec<Member> = Vec::with_capacity(bars.len());
        let mut number = 0;
        for (bar, mut joints) in bars.iter().zip(joints) {
            number = if members.last().is_some_and(|m| m.family == bar.family) {
                number + 1
            } else {
                1
            };
            joints.sort_by(|a, b| {
                (a.at.total_cmp(&b.at))
                    .then(a.edge.cmp(&b.edge))
                    .then(a.line.cmp(&b.line))
            });
            members.push(Member {
                id: format!("{}{number}", families[bar.family].letter),
                family: bar.family,
                line: bar.line,
                class: 0,
                turn: Turn::None,
                start: bar.start,
                end: bar.end,
                from: bar.from,
                to: bar.to,
                shift: 0.0,
                ends: bar.ends,
                trimmed_by_hand: bar.trimmed_by_hand,
                joints,
            });
        }
        let order = order(&members, &nodes, &bar_of_line);
        let (line_names, line_families) = names(&families, &lines);
        let mut lattice = Self {
            families,
            outline,
            depth: ground.depth,
            clearance: panel.cut.clearance,
            faces,
            depths,
            line_names,
            line_families,
            same_piece: panel.cut.same_piece,
            nodes,
            members,
            classes: Vec::new(),
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
                key: pitch_key(&ground.layout, member.family, false),
                web,
                run,
            }]);
        }
        Ok(lattice)
    }
}

/// Families and outline of a ground, from the layout's own zero.
struct Framed {
    families: Vec<Family>,
    faces: Vec<[f64; 2]>,
    outline: Outline,
    step: [f64; 2],
}

fn framed(panel: &Panel, measured: &Measured) -> Result<Framed, Vec<LatticeError>> {
    let ground = &panel.ground;
    let faces = faces(panel, measured)?;
    let greatest: Vec<f64> = faces.iter().map(|f| f[1]).collect();
    let laid = layout::lay(&ground.layout, &ground.families, &greatest);
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
        faces,
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
fn pitch_key(layout: &Layout, family: usize, own: bool) -> String {
    match layout {
        Layout::Square { .. } if (family == 0) == own => "ground.pitch_across".into(),
        Layout::Square { .. } => "ground.pitch_up".into(),
        Layout::Free(families) if own => match families.get(family).map(|f| &f.lines) {
            Some(FreeLines::Listed(_)) => format!("ground.family[{family}].offsets"),
            _ => format!("ground.family[{family}].pitch"),
        },
        Layout::Free(_) => format!("ground.family[{family}]"),
        _ => "ground.pitch".into(),
    }
}

/// Bars that lie side by side must leave a cell between them.
fn too_close(layout: &Layout, families: &[Family]) -> Result<(), Vec<LatticeError>> {
    let faults: Vec<LatticeError> = families
        .iter()
        .enumerate()
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
            key: pitch_key(layout, i, true),
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

/// Least and greatest face of each family: of the stock that is cut flat, of the sticks that are cut edge
/// up, or as drawn where nobody has measured the sticks.
fn faces(panel: &Panel, measured: &Measured) -> Result<Vec<[f64; 2]>, Vec<LatticeError>> {
    let mut faults = Vec::new();
    let mut faces = Vec::new();
    for spec in &panel.ground.families {
        let sticks = panel.cut.method == Method::EdgeUp;
        let found = if sticks {
            let sticks = measured.sticks(spec.face);
            sticks.map_or([spec.face; 2], |sticks| sticks.face)
        } else {
            measured.thickness
        };
        // A scale model takes what card there is.
        let free = !sticks && panel.cut.scale_model;
        if off_readings(spec.face, found) > FACE_OFF + SAME_FIGURE && !free {
            faults.push(LatticeError::FaceOff {
                family: spec.name.clone(),
                drawn: spec.face,
                measured: found,
                limit: FACE_OFF,
                sticks,
            });
        }
        faces.push(found);
    }
    if faults.is_empty() {
        Ok(faces)
    } else {
        Err(faults)
    }
}

/// Least and greatest depth of each family's sticks; as drawn where the program cuts it, or where nobody
/// has measured them.
fn depths(panel: &Panel, measured: &Measured) -> Vec<[f64; 2]> {
    let drawn = [panel.ground.depth; 2];
    let of = |face: f64| match panel.cut.method {
        Method::EdgeUp => measured.sticks(face).map_or(drawn, |sticks| sticks.depth),
        Method::Flat => drawn,
    };
    panel.ground.families.iter().map(|f| of(f.face)).collect()
}

/// Families that cross must do so at an angle that leaves bars in their notches.
fn too_shallow(families: &[Family]) -> Result<(), Vec<LatticeError>> {
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
fn side_by_side(families: &[Family], lines: &Lines) -> Result<(), Vec<LatticeError>> {
    let mut faults = Vec::new();
    for (i, a) in families.iter().enumerate() {
        for (j, b) in families.iter().enumerate().skip(i + 1) {
            if a.angle_to(b) != 0.0 {
                continue;
            }
            let room = 0.5 * (a.face + b.face);
            let of = |which: usize| {
                (0..lines.len())
                    .map(|n| lines.line(n))
                    .filter(move |l| l.0 == which)
                    .map(|l| l.1)
            };
            let nearest = of(i)
                .flat_map(|k| {
                    let o = a.offset(k);
                    b.lines_between(o - room, o + room)
                        .map(move |m| (b.offset(m) - o).abs())
                })
                .min_by(f64::total_cmp);
            if let Some(apart) = nearest.filter(|&apart| apart < room)
                && of(j).next().is_some()
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

fn names(families: &[Family], lines: &Lines) -> (Vec<String>, Vec<usize>) {
    let mut names = Vec::with_capacity(lines.len());
    let mut of = Vec::with_capacity(lines.len());
    let mut count = vec![0usize; families.len()];
    for number in 0..lines.len() {
        let (family, _) = lines.line(number);
        count[family] += 1;
        names.push(format!("{}/{}", families[family].letter, count[family]));
        of.push(family);
    }
    (names, of)
}

struct JointMaker<'a> {
    panel: &'a Panel,
    families: &'a [Family],
    lines: &'a Lines,
    bars: &'a [Bar],
    nodes: &'a [Node],
}

impl JointMaker<'_> {
    /// The notch of bar `b`, which is line `side` of the crossing; `None` where it reaches no wood.
    fn joint(
        &self,
        crossing: &Crossing,
        side: usize,
        node: usize,
        b: usize,
        bar_of_line: &[Option<usize>],
    ) -> Option<Joint> {
        let (bar, other_line) = (&self.bars[b], crossing.lines[1 - side]);
        let own = &self.families[bar.family];
        let (other_family, other_index) = self.lines.line(other_line);
        let other = &self.families[other_family];
        let t = own.angle_to(other);
        let at = tidy(crossing.along[side] - bar.origin);

        let width = other.face + self.panel.cut.clearance;
        // Edge up a slot takes all that it reaches. Cut flat, what clearance alone would take of an end stays:
        // no bar needs it, and half a clearance is a finer step than beam or cutter make.
        let half = match self.panel.cut.method {
            Method::EdgeUp => 0.5 * width,
            Method::Flat => 0.5 * other.face,
        };
        let band = (
            other.offset(other_index) - half,
            other.offset(other_index) + half,
        );
        let with = bar_of_line[other_line];
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
        let place = |line: usize| at_node.iter().position(|&l| l == line).map_or(1, |p| p + 1);
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
