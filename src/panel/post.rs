//! The post-processor file: how a controller wants its program, and how a DXF reader wants its layers.

/// A post-processor: data only.
#[derive(Debug, Clone, PartialEq)]
pub struct Post {
    /// What the maker calls it.
    pub name: String,
    /// The G-code dialect.
    pub gcode: GcodeDialect,
    /// Layers and colours.
    pub dxf: DxfStyle,
}

/// A dialect of RS274/NGC, told apart by what it does.
#[derive(Debug, Clone, PartialEq)]
pub struct GcodeDialect {
    /// `laser` or `router`: the head the dialect drives.
    pub drives_laser: bool,
    /// How numbers are written.
    pub number: NumberStyle,
    /// The text of each kind of block.
    pub templates: Templates,
}

/// How numbers are written.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberStyle {
    /// Decimals of a coordinate, mm (3 or 4).
    pub decimals: u8,
}

/// The text of each kind of block; templates of the engine that `write::gcode` documents.
#[derive(Debug, Clone, PartialEq)]
pub struct Templates {
    /// First lines of a program.
    pub begin: String,
    /// Last lines of a program.
    pub end: String,
    /// Spindle up to speed, or the laser made ready.
    pub start_head: String,
    /// Spindle stopped, or the laser made safe.
    pub stop_head: String,
    /// Beam on (laser).
    pub beam_on: String,
    /// Beam off (laser).
    pub beam_off: String,
    /// Travel in the plane, head clear of the work.
    pub travel: String,
    /// Up to the safe height (router).
    pub raise: String,
    /// Straight down at plunge feed (router).
    pub plunge: String,
    /// Straight cut.
    pub line: String,
    /// Clockwise arc.
    pub arc_cw: String,
    /// Counter-clockwise arc.
    pub arc_ccw: String,
    /// A remark for the operator.
    pub remark: String,
}

/// Layers and colours of a DXF file.
#[derive(Debug, Clone, PartialEq)]
pub struct DxfStyle {
    /// Piece outlines and notch walls that are cut through.
    pub outline: DxfLayer,
    /// Router: open notch cuts.
    pub notch: DxfLayer,
    /// Labels; never cut.
    pub label: DxfLayer,
    /// Notes on size, kerf and unit; never cut.
    pub note: DxfLayer,
    /// The strip or sheet; never cut.
    pub stock: DxfLayer,
}

/// A layer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DxfLayer {
    /// Its name, ASCII.
    pub name: String,
    /// Colour number, 1 to 255.
    pub color: u8,
}
