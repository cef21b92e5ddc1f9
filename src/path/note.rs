//! What people read at the head of a program and below a drawing.

/// A line for whoever runs a program or cuts a drawing; each format writes it in the letters that it has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// What it is about.
    pub kind: NoteKind,
    /// What it says.
    pub text: String,
}

/// What a note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoteKind {
    /// The panel, and which part of its cutting this is.
    Title,
    /// How often it is run.
    Runs,
    /// Where sheets that are cut alike hold different members.
    Labels,
    /// How a coupon is made and read.
    Coupon,
    /// Material and stock.
    Stock,
    /// How wide the cut is, where nobody has measured it.
    Size,
    /// Another value that the program is made with, where nobody has measured it.
    FromMemory,
    /// What the program is made by and with.
    Setting,
    /// The machine.
    Machine,
    /// Where zero stands.
    Zero,
    /// Where a beam is focused.
    Focus,
    /// What the program does: a clamping, a datum, the bed, an air run.
    Work,
    /// What is done by hand.
    Step,
    /// What keeps people whole.
    Caution,
    /// Of a drawing, which may come under any head: that no beam may cut the material.
    NoBeam,
}

impl NoteKind {
    /// Whether the drawing of what a program cuts tells it too: a drawing has no zero, and tells by itself how often
    /// it is cut.
    #[must_use]
    pub fn is_for_drawings(self) -> bool {
        match self {
            Self::Zero | Self::Runs | Self::FromMemory | Self::Setting => false,
            Self::Title
            | Self::Labels
            | Self::Coupon
            | Self::Stock
            | Self::Size
            | Self::Machine
            | Self::Focus
            | Self::Work
            | Self::Step
            | Self::Caution
            | Self::NoBeam => true,
        }
    }
}

impl Note {
    /// A note of this kind.
    #[must_use]
    pub fn new(kind: NoteKind, text: impl Into<String>) -> Self {
        Self {
            kind,
            text: text.into(),
        }
    }
}
