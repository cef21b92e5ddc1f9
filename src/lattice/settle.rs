//! Classes that go together: a class that is the mean of its members is split where it would fail the dry fit.

use std::borrow::Cow;
use std::collections::BTreeSet;

use super::class::{KindId, Kinds, Linked};
use super::dry_fit::{dry_fit, failing_nodes, intended_shapes};
use super::family::Family;
use super::model::{ClassId, Joint, Lattice, Member, NodeId};
use super::piece::BarSize;
use crate::geom::{REPLAY, SAME_FIGURE};
use crate::table::Column;

/// How much looser than drawn a mean may leave a joint, mm: the replay's tolerance for one wall, so that the
/// other is left to the cut.
const LOOSER: f64 = REPLAY;

impl Lattice {
    /// Sorts members into classes: those within `same_piece` of each other, unless their mean would share space
    /// with a bar that it crosses or leave a joint looser than drawn. Such a class is linked anew to half as
    /// much, again and again.
    pub(super) fn settle_classes(&mut self) {
        let kinds = Kinds::of(self.members.entries(), &self.sizes());
        let mut groups = kinds.linked(&kinds.ids(), self.same_piece);
        let mut within = kinds.column(|_| self.same_piece);
        let mut looked: Option<f64> = None;
        loop {
            kinds.sort(&mut groups);
            self.classes = kinds.classes(&mut self.members, &groups);
            if self.classes.iter().all(|class| !class.mean) {
                return;
            }
            let most = *looked.get_or_insert_with(|| self.drawn_gap() + LOOSER);
            let misfits = self.misfits(most);
            if misfits.is_empty() {
                return;
            }
            let mut next: Vec<Linked> = Vec::with_capacity(groups.len() + misfits.len());
            // A class a group, in the same order.
            for (c, group) in self.classes.ids().zip(groups) {
                if !misfits.contains(&c) {
                    next.push(group);
                    continue;
                }
                let of: Vec<KindId> = group.entries().map(|g| g.0).collect();
                let half = 0.5 * of.iter().map(|&k| within[k]).fold(f64::INFINITY, f64::min);
                of.iter().for_each(|&k| within[k] = half);
                if half > SAME_FIGURE {
                    next.extend(kinds.linked(&of, half));
                } else {
                    next.extend(of.into_iter().map(Linked::of_one));
                }
            }
            groups = next;
        }
    }

    /// The same lattice with every member's own piece: only members that differ by round-off share a class.
    #[must_use]
    pub fn as_drawn(&self) -> Cow<'_, Self> {
        if self.classes.iter().all(|c| !c.mean) {
            return Cow::Borrowed(self);
        }
        let mut drawn = self.clone();
        let kinds = Kinds::of(self.members.entries(), &self.sizes());
        let mut single = kinds.apart();
        kinds.sort(&mut single);
        drawn.classes = kinds.classes(&mut drawn.members, &single);
        Cow::Owned(drawn)
    }

    fn drawn_gap(&self) -> f64 {
        let drawn = self.as_drawn();
        dry_fit(&drawn, &intended_shapes(&drawn), 0.0).largest_gap_mm
    }

    /// Classes of several kinds whose mean is off its member at a node that does not go together.
    fn misfits(&self, most_gap: f64) -> BTreeSet<ClassId> {
        let mut found = BTreeSet::new();
        for node in failing_nodes(self, &intended_shapes(self), most_gap) {
            let lines = &self.nodes[node].lines;
            let here = self.members.iter().filter(|m| lines.contains(&m.line));
            for member in here.filter(|m| self.classes[m.class].mean) {
                if self.is_off_at(member, node) {
                    found.insert(member.class);
                }
            }
        }
        found
    }

    /// Whether a member is notched otherwise at a node than it is drawn.
    fn is_off_at(&self, member: &Member, node: NodeId) -> bool {
        let cut = self.as_cut(member);
        let apart = |a: &Joint, b: &Joint| {
            [
                (a.at, b.at),
                (a.angle_deg, b.angle_deg),
                (a.width, b.width),
                (a.depth, b.depth),
            ]
            .iter()
            .any(|(a, b)| (a - b).abs() > SAME_FIGURE)
        };
        let mut joints = member.joints.iter().zip(&cut.joints);
        joints.any(|(own, cut)| own.node == node && apart(own, cut))
    }

    /// What the stock of each family has measured.
    fn sizes(&self) -> Column<Family, BarSize> {
        self.families.column(|f, _| BarSize {
            face: self.faces[f],
            depth: self.depths[f],
        })
    }
}
