//! The coupon of a panel that is cut edge up: a few sticks in a gang, with the panel's machine, tool, fence,
//! rails and holds.

use super::comb::{comb, land, spec};
use crate::geom::SAME_FIGURE;
use crate::lattice::{End, EndShape, FamilyId, Joint, Lattice, Member};
use crate::panel::{DatumEnd, JobFiles, Router};
use crate::plan::edge_plan::EdgePlan;
use crate::plan::edge_up::Notched;
use crate::plan::error::PlanError;
use crate::plan::head::RouterHead;
use crate::plan::stick_stock::{items, nest_of};
use crate::safety::{Check, CheckId, Unit};
use crate::setup::{COMB_STICKS, Comb, CombStick, CouponKind, StickSize, bar_length};
use crate::stock::{NestItem, Stick, StickClass, StickPlan};

/// The joint of the panel that a coupon is cut like. Lengths are mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Crossing {
    /// Family of the notched bar.
    family: FamilyId,
    /// Angle from it to the bar that crosses, degrees.
    angle_deg: f64,
    /// Depth of the notch.
    depth: f64,
    /// Measured face of the notched bar, least and greatest reading.
    own: [f64; 2],
    /// Measured face of the bar that crosses, likewise.
    other: [f64; 2],
}

impl Crossing {
    /// The joint that most of the panel's notches are like; a skew one where there is any. For a kerf coupon
    /// its angle is as near to 90 degrees as the fence can stand.
    ///
    /// # Errors
    /// A panel without any joint.
    pub(super) fn of(
        files: &JobFiles,
        lattice: &Lattice,
        router: &Router,
        kind: CouponKind,
    ) -> Result<Self, PlanError> {
        let mut kinds: Vec<(Self, usize)> = Vec::new();
        for member in &lattice.members {
            for joint in &member.joints {
                let found = Self::at(lattice, member, joint);
                match kinds.iter_mut().find(|k| k.0.is_like(&found)) {
                    Some(kind) => kind.1 += 1,
                    None => kinds.push((found, 1)),
                }
            }
        }
        let mut best: Option<(Self, usize)> = None;
        for found in kinds {
            let rank = |k: &(Self, usize)| (k.0.is_skew(), k.1);
            if best.as_ref().is_none_or(|b| rank(&found) > rank(b)) {
                best = Some(found);
            }
        }
        let Some((mut crossing, _)) = best else {
            let hint = "an outline in which bars cross each other";
            let what = "no bar of this panel crosses another: there is no joint to measure";
            let fault = files.panel_text.fault("outline", what, Some(hint.into()));
            return Err(fault.into());
        };
        if kind == CouponKind::Kerf {
            let [least, most] = router.fence_deg;
            crossing.angle_deg = 90f64.max(least).min(most);
        }
        Ok(crossing)
    }

    fn at(lattice: &Lattice, member: &Member, joint: &Joint) -> Self {
        Self {
            family: member.family,
            angle_deg: joint.angle_deg,
            depth: joint.depth,
            own: lattice.faces[member.family],
            other: lattice.faces[lattice.lines[joint.line].family],
        }
    }

    fn is_skew(&self) -> bool {
        (self.angle_deg - 90.0).abs() > SAME_FIGURE
    }

    fn is_like(&self, other: &Self) -> bool {
        let close = |a: f64, b: f64| (a - b).abs() <= SAME_FIGURE;
        close(self.angle_deg, other.angle_deg)
            && close(self.depth, other.depth)
            && close(self.own[1], other.own[1])
            && close(self.other[1], other.other[1])
    }

    /// Plans the comb's sticks, the strips that they and the bars come from, and the cutting.
    ///
    /// # Errors
    /// A cutter that goes into too few notches, stock that does not do, checks that fail.
    pub(super) fn plan(
        self,
        files: &JobFiles,
        kind: CouponKind,
        head: &RouterHead,
        depth: f64,
        checks: &mut Vec<Check>,
        progress: &mut dyn FnMut(&str),
    ) -> Result<(Comb, EdgePlan), PlanError> {
        let mut spec = spec(files, kind, self.other, 2.0 * head.radius(), false);
        spec.crossing_deg = Some(self.angle_deg);
        let comb = comb(spec)?;
        let stick = comb.stick(StickSize {
            crossing_deg: self.angle_deg,
            face: self.own[1],
            notch_depth: self.depth,
            land: land(self.other, files.material.least_web),
            hold: head.router.hold_width,
            mark: 2.0 * head.radius(),
        });
        let place = "sticks comb";
        let least = (files.material.least_web, files.material.least_section);
        let kept = depth - self.depth;
        checks.push(Check::at_least(
            CheckId::Web,
            stick.land,
            least.0,
            Unit::Mm,
            place,
        ));
        checks.push(Check::at_least(
            CheckId::Section,
            kept,
            least.1,
            Unit::Mm,
            place,
        ));
        progress("sticks");
        let plan = self.sticks(&stick, files.panel.sticks.datum);
        let mut milled = items(&plan);
        milled.extend((1..=comb.bars()).map(|i| {
            let bar = NestItem {
                piece: 1,
                id: format!("bar-{i}"),
                length: bar_length(self.own[1], self.angle_deg),
            };
            (self.other[1], bar)
        }));
        let nest = nest_of(files, depth, &milled)?;
        let sticks = (plan, nest);
        let notched = Notched::Comb { comb: &comb, depth };
        let edge = EdgePlan::of(files, head, notched, sticks, checks, progress)?;
        Ok((comb, edge))
    }

    /// The sticks of the comb as a class of their own, from which nothing is cross-cut.
    fn sticks(&self, stick: &CombStick, datum: DatumEnd) -> StickPlan {
        let joint_at = stick.notches.map(|n| n.at);
        let end = |angle_deg: f64, shape: EndShape| End { angle_deg, shape };
        let square = end(90.0, EndShape::Square);
        let datum = if self.is_skew() && datum == DatumEnd::Point {
            end(self.angle_deg.min(180.0 - self.angle_deg), EndShape::Point)
        } else {
            square
        };
        let mut plan = StickPlan::default();
        let class = plan.classes.push(StickClass {
            id: "comb".into(),
            families: vec![self.family],
            face: self.own,
            joints: joint_at.len(),
            length: stick.length,
            lead: *joint_at.first(),
            tail: stick.length - joint_at.last(),
            ends: [datum, square],
            notches: stick.notches.to_vec(),
            node_of: (0..joint_at.len()).collect(),
            joint_at: joint_at.to_vec(),
            count: COMB_STICKS,
            spares: 0,
            regular: false,
            optimal: true,
        });
        plan.sticks.push(Stick {
            id: "comb-1".into(),
            class,
            pieces: Vec::new(),
            count: COMB_STICKS,
            spares: 0,
        });
        plan
    }
}
