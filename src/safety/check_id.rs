//! Which checks there are.

use std::fmt;

/// The variants of [`CheckId`] with their words, written once: a check that is not in the list cannot be named.
macro_rules! checks {
    ($($(#[$doc:meta])* $name:ident = $word:literal,)*) => {
        /// Which check; ordered by word. The guide says what each holds.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum CheckId {
            $($(#[$doc])* $name,)*
        }

        impl CheckId {
            /// All of them, in their order.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// Its word on paper and in `job.json`.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self {
                    $(Self::$name => $word,)*
                }
            }
        }
    };
}

checks! {
    /// Height of fence and rails beside the sticks.
    BattenHeight = "batten-height",
    /// How much is planed off the board under the sticks.
    Bed = "bed",
    /// Bridges on every piece.
    Bridges = "bridges",
    /// Feed of a tooth.
    ChipLoad = "chip-load",
    /// Rounded inside corners against bars.
    CornerFillet = "corner-fillet",
    /// Feed of the cut.
    CutFeed = "cut-feed",
    /// Directions of the fence.
    FenceAngle = "fence-angle",
    /// Sticks floored from one edge, by their depth.
    Flush = "flush",
    /// Reach of the flutes.
    FluteLength = "flute-length",
    /// Length of a gang for its width.
    GangSlender = "gang-slender",
    /// Width of a gang between the clamps.
    GangWidth = "gang-width",
    /// Largest gap of the dry fit.
    Gap = "gap",
    /// Wood below grooves.
    GrooveWood = "groove-wood",
    /// What holds bear.
    HoldForce = "hold-force",
    /// Length of the shortest piece that must be held.
    HoldLength = "hold-length",
    /// Room for the bars that hold a gang down.
    HoldRoom = "hold-room",
    /// Ends of infill that can be made.
    InfillEnd = "infill-end",
    /// Space that bars share in the dry fit.
    Interference = "interference",
    /// Power of a laser.
    LaserPower = "laser-power",
    /// Room for the orientation mark.
    MarkRoom = "mark-room",
    /// Joints of a bar.
    MemberHeld = "member-held",
    /// Openings beside skew bars.
    Opening = "opening",
    /// How the two slots of a node meet.
    Parting = "parting",
    /// Depth of a pass.
    PassDepth = "pass-depth",
    /// How corners are run through.
    PathMode = "path-mode",
    /// Looseness of notches.
    Play = "play",
    /// Feed straight down.
    PlungeFeed = "plunge-feed",
    /// Tightness of notches.
    Press = "press",
    /// Thickness of rails.
    Rail = "rail",
    /// Length of battens.
    RailLength = "rail-length",
    /// Travel and bed from a zero.
    Reach = "reach",
    /// Faults that the replay of a cut file found.
    Replay = "replay",
    /// Safe height over clamps.
    SafeHeight = "safe-height",
    /// Floor that reliefs leave.
    Seat = "seat",
    /// Depth that a bar keeps at a joint.
    Section = "section",
    /// Length of the shortest bar.
    ShortMember = "short-member",
    /// Width of the narrowest notch.
    SlotWidth = "slot-width",
    /// Wait for the spindle.
    SpinUp = "spin-up",
    /// Speed of the spindle.
    SpindleSpeed = "spindle-speed",
    /// Thin bars in notches for thick ones.
    Spread = "spread",
    /// Depth of sticks as measured.
    StickDepth = "stick-depth",
    /// Collet over clamps.
    StickOut = "stick-out",
    /// What is left between the cuts of neighbouring pieces.
    Strip = "strip",
    /// Tabs on every piece.
    Tabs = "tabs",
    /// Wood between notches.
    Web = "web",
    /// Slivers between skew notches.
    Wedge = "wedge",
}

impl fmt::Display for CheckId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn checks_are_ordered_by_their_words() {
        let by_word = CheckId::ALL.windows(2).all(|w| w[0].word() < w[1].word());
        assert!(by_word, "{:?}", CheckId::ALL);
        assert!(CheckId::ALL.is_sorted(), "{:?}", CheckId::ALL);
    }
}
