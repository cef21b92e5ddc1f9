//! Members as they are cut: their class's piece in its place.

use super::class::turned_ends;
use super::model::{EndShape, Lattice, Member};
use super::piece::{NO_SIZE, Piece};
use crate::geom::{Convex, Frame, frame};

impl Lattice {
    /// A member as it is cut: where its class is a mean, with that one's sizes, in its place.
    #[must_use]
    pub fn as_cut(&self, member: &Member) -> Member {
        let mut cut = member.clone();
        let class = &self.classes[member.class];
        if !class.mean {
            return cut;
        }
        (cut.from, cut.to) = self.cut_span(member);
        cut.ends = turned_ends(class.ends, member.turn);
        let piece = Piece::of(member, NO_SIZE).turned(member.turn);
        for (own, notch) in piece.cuts.iter().zip(&class.notches) {
            let joint = &mut cut.joints[own.joint];
            let from_first = if member.turn.swaps_ends() {
                class.length - notch.at
            } else {
                notch.at
            };
            joint.at = cut.from + from_first;
            joint.angle_deg = notch.angle_deg;
            joint.width = notch.width;
            joint.depth = notch.depth;
            joint.run = notch.run;
        }
        cut
    }

    /// From where to where a member is cut, along its centre line from its start, mm.
    #[must_use]
    pub fn cut_span(&self, member: &Member) -> (f64, f64) {
        let class = &self.classes[member.class];
        if class.mean {
            let from = member.from + member.shift;
            (from, from + class.length)
        } else {
            (member.from, member.to)
        }
    }

    /// Length to which a member is cut, mm.
    #[must_use]
    pub fn cut_length(&self, member: &Member) -> f64 {
        let (from, to) = self.cut_span(member);
        to - from
    }

    /// Carries the frame of a class's piece to where one of its members stands in the panel.
    #[must_use]
    pub fn to_panel(&self, member: &Member) -> Frame {
        let axis = self.families[member.family].axis();
        let (from, to) = self.cut_span(member);
        let first = member.start + axis * from;
        let stands = frame::frame(frame::along(axis), [first.x, first.y, 0.0]);
        stands * member.turn.frame(to - from, self.depth)
    }

    /// Plan shape of a member as cut; its ends square, or along the outline.
    #[must_use]
    pub fn body(&self, member: &Member) -> Convex {
        let family = &self.families[member.family];
        let (d, n, half) = (
            family.axis(),
            family.normal(),
            0.5 * self.faces[member.family][1],
        );
        let corner = |x: f64, y: f64| member.start + d * x + n * y;
        let (from, to) = self.cut_span(member);
        let square = Convex::from_corners(vec![
            corner(from, -half),
            corner(to, -half),
            corner(to, half),
            corner(from, half),
        ]);
        if member.ends.iter().all(|e| e.shape == EndShape::Square) {
            return square;
        }
        let offset = n.dot(member.start.to_vec2());
        let own = (self.outline.region).within(n, offset - half, offset + half);
        if (from, to) == (member.from, member.to) {
            return own;
        }
        // Each end lies where the class's piece has it.
        let middle = d.dot(member.start.to_vec2()) + 0.5 * (member.from + member.to);
        let moved = own.corners().iter().map(|&p| {
            let first = d.dot(p.to_vec2()) < middle;
            p + d * if first {
                from - member.from
            } else {
                to - member.to
            }
        });
        Convex::from_corners(moved.collect())
    }

    /// What the outline leaves of a member: from where to where it reaches along the centre line, over its
    /// whole face, mm from `start`.
    #[must_use]
    pub fn kept_span(&self, member: &Member) -> (f64, f64) {
        let family = &self.families[member.family];
        let (axis, normal) = (family.axis(), family.normal());
        let half = 0.5 * self.faces[member.family][1];
        let start = member.start.to_vec2();
        let (along, offset) = (axis.dot(start), normal.dot(start));
        let band = self
            .outline
            .region
            .within(normal, offset - half, offset + half);
        let (lo, hi) = band.extent(axis);
        (lo - along, hi - along)
    }
}
