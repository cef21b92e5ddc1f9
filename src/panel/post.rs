//! The post-processor file: how a controller wants its program, and how a DXF reader wants its layers.

use super::reader::Table;

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

/// Takes a post-processor file's keys.
pub(super) fn read_post(t: &mut Table<'_>) -> Post {
    let name = t.line("name");
    let drives_laser = t.choice("drives", &[("laser", true), ("router", false)], "");
    let number = t.table("number", |n| {
        let decimals = n.count("decimals", 3..=4);
        NumberStyle {
            decimals: u8::try_from(decimals).unwrap_or(3),
        }
    });
    let templates = t.table("gcode", |g| read_templates(g, drives_laser));
    let dxf = t.table("dxf", read_dxf);
    let gcode = GcodeDialect {
        drives_laser: drives_laser == Some(true),
        number,
        templates,
    };
    Post { name, gcode, dxf }
}

fn read_templates(t: &mut Table<'_>, drives_laser: Option<bool>) -> Templates {
    // What the dialect's own head needs must be there; what only the other head has may be left out.
    let mut of = |key, laser: bool| {
        if drives_laser == Some(laser) {
            t.block(key)
        } else {
            t.block_or_empty(key)
        }
    };
    let (beam_on, beam_off) = (of("beam_on", true), of("beam_off", true));
    let (raise, plunge) = (of("raise", false), of("plunge", false));
    Templates {
        begin: t.block("begin"),
        end: t.block("end"),
        start_head: t.block("start_head"),
        stop_head: t.block("stop_head"),
        beam_on,
        beam_off,
        travel: t.block("travel"),
        raise,
        plunge,
        line: t.block("line"),
        arc_cw: t.block("arc_cw"),
        arc_ccw: t.block("arc_ccw"),
        remark: t.block_or_empty("remark"),
    }
}

fn read_dxf(t: &mut Table<'_>) -> DxfStyle {
    let mut taken = Vec::new();
    let mut layer = |key| t.table(key, |l| read_layer(l, &mut taken));
    DxfStyle {
        outline: layer("outline"),
        notch: layer("notch"),
        label: layer("label"),
        note: layer("note"),
        stock: layer("stock"),
    }
}

/// Letters of a layer's name (DXF reference of release 12, symbol table names, from memory).
const LONGEST: usize = 31;

fn read_layer(t: &mut Table<'_>, taken: &mut Vec<String>) -> DxfLayer {
    let name = t.line("name");
    let sound = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    // Names of layers do not depend on case (DXF reference, symbol table entries).
    let folded = name.to_ascii_lowercase();
    if !name.chars().all(sound) {
        let message = format!("a layer cannot be called \"{name}\"");
        t.fault("name", message, "use only A to Z, a to z, 0 to 9, - and _");
    } else if name.len() > LONGEST {
        let message = format!("a layer's name has at most {LONGEST} letters");
        t.fault("name", message, "shorten it: DXF release R12 takes no more");
    } else if name == "0" {
        let message = "layer \"0\" belongs to every DXF file";
        t.fault(
            "name",
            message,
            "give the layer a name of its own, such as \"lap-outline\"",
        );
    } else if !name.is_empty() && taken.contains(&folded) {
        let message = format!("two layers have the name \"{name}\"");
        t.fault("name", message, "give each layer a name of its own");
    }
    taken.push(folded);
    let color = u8::try_from(t.count("color", 1..=255)).unwrap_or(1);
    DxfLayer { name, color }
}
