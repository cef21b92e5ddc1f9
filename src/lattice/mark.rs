//! The orientation mark of a bar, which tells a turned bar from a right one: at which end and in which edge it
//! lies.

use super::family::Family;
use super::model::{Edge, Turn};

/// An end of a bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum BarEnd {
    /// Where it starts; of a piece of a stick, the end towards the datum end.
    First,
    /// The other.
    Last,
}

impl BarEnd {
    /// The opposite end.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::First => Self::Last,
            Self::Last => Self::First,
        }
    }
}

/// The edges that bear a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum MarkEdges {
    /// One edge alone.
    One(Edge),
    /// Both: the bar is the same turned over.
    Both,
}

impl MarkEdges {
    /// Word in `job.json` and in lists.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::One(edge) => edge.word(),
            Self::Both => "both",
        }
    }

    /// Where they lie as seen from the front of the panel: `in front`, `at the back`, `in both edges`.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::One(Edge::Front) => "in front",
            Self::One(Edge::Back) => "at the back",
            Self::Both => "in both edges",
        }
    }

    /// Whether this edge bears the mark.
    #[must_use]
    pub fn has(self, edge: Edge) -> bool {
        match self {
            Self::One(own) => own == edge,
            Self::Both => true,
        }
    }
}

/// Where a bar bears its mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct BarMark {
    /// Near which end.
    pub end: BarEnd,
    /// In which edge.
    pub edges: MarkEdges,
}

impl BarMark {
    /// Where it lies after its bar is turned. Turned the same way again it lies where it was.
    #[must_use]
    pub fn turned(self, turn: Turn) -> Self {
        Self {
            end: match turn.swaps_ends() {
                true => self.end.other(),
                false => self.end,
            },
            edges: match self.edges {
                MarkEdges::One(edge) if turn.swaps_edges() => MarkEdges::One(edge.other()),
                edges => edges,
            },
        }
    }

    /// Where it lies on a bar of this family in the panel: `at the lower end, in front`.
    #[must_use]
    pub fn in_words(self, family: &Family) -> String {
        let (end, edges) = (family.end_word(self.end), self.edges.in_words());
        format!("at the {end} end, {edges}")
    }
}

/// Bars steeper than this have a lower and an upper end, others a left and a right one, degrees.
const STEEP_DEG: f64 = 45.01;

impl Family {
    /// Which end of its bars this is, as the panel is seen from the front: `left`, `right`, `lower` or
    /// `upper`.
    #[must_use]
    pub fn end_word(&self, end: BarEnd) -> &'static str {
        let first = end == BarEnd::First;
        // A bar starts at its lesser x: one that falls steeply, at its upper end.
        match self.direction_deg {
            d if d > STEEP_DEG && first => "lower",
            d if d > STEEP_DEG => "upper",
            d if d < -STEEP_DEG && first => "upper",
            d if d < -STEEP_DEG => "lower",
            _ if first => "left",
            _ => "right",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lattice::Spacing;

    fn family(direction_deg: f64) -> Family {
        Family {
            name: "bars".into(),
            letter: 'B',
            direction_deg,
            face: 4.0,
            rank: 1,
            spacing: Spacing::Listed(vec![0.0]),
        }
    }

    /// The axis points from start to end: what it says of x and y is what the words say.
    #[test]
    fn ends_are_named_by_where_they_lie() {
        for deg in [-89.0, -60.0, -45.0, -30.0, 0.0, 30.0, 45.0, 57.0, 90.0] {
            let family = family(deg);
            let axis = family.axis();
            let (first, last) = match family.end_word(BarEnd::First) {
                "left" => (axis.x > 0.5, "right"),
                "lower" => (axis.y > 0.5, "upper"),
                "upper" => (axis.y < -0.5, "lower"),
                _ => (false, ""),
            };
            assert!(first, "{deg}");
            assert_eq!(family.end_word(BarEnd::Last), last, "{deg}");
        }
    }

    #[test]
    fn a_turn_made_twice_is_none() {
        for turn in Turn::ALL {
            for end in [BarEnd::First, BarEnd::Last] {
                for edges in [MarkEdges::One(Edge::Front), MarkEdges::Both] {
                    let mark = BarMark { end, edges };
                    assert_eq!(mark.turned(turn).turned(turn), mark);
                    let moved =
                        turn.swaps_ends() || (turn.swaps_edges() && edges != MarkEdges::Both);
                    assert_eq!(mark.turned(turn) != mark, moved);
                }
            }
        }
    }
}
