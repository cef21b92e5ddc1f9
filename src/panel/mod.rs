//! Panel, machine, material, stock and post-processor files: read, checked, plain data.
//!
//! Every fault of a file is gathered into one report with line, caret and hint ([`Faults`]); what comes
//! out is data that later stages need not check again for form. Whether the values make a sound panel is
//! decided further down.

mod agree;
mod builtin;
mod called;
mod edit;
mod elsewhere;
mod fault;
mod form;
mod from_memory;
mod infill;
mod job_files;
mod keys;
mod kind;
mod kits;
mod length;
mod load;
mod machine;
mod material;
mod measured;
mod panel_file;
mod pattern;
mod plain_file;
mod post;
mod post_words;
mod read_ground;
mod read_panel;
mod reader;
mod readings;
mod resized;
mod slips;
mod starter;
mod stock;
mod surround;
mod values;

pub use builtin::{BUILTIN, Builtin, builtin, new_layouts, new_panel};
pub use elsewhere::{CutWidth, Elsewhere};
pub use fault::{Fault, FaultPlace, Faults};
pub use from_memory::{FROM_MEMORY, FromMemory, NOT_MEASURED, Unmeasured, told};
pub use infill::{Chosen, Feature, Filling, Infill, InfillCut, Perforation};
pub use job_files::{
    CutBy, FileText, JobFiles, LoadError, OwnMachine, SourceFile, SourceKind, Wood,
};
pub use kits::Kits;
pub use length::{LengthError, parse_length};
pub use machine::{HeadKind, Laser, Machine, Router, Tool};
pub use material::{
    LEAST_BRIDGE_SECTION, LEAST_BRIDGE_WIDTH, LEAST_TAB_HEIGHT, LEAST_TAB_SECTION, LEAST_TAB_WIDTH,
    LaserCut, Material, Milling, RouterCut,
};
pub use measured::{with_clearance, with_diameter, with_kerf};
pub use panel_file::{
    Cut, DatumEnd, DxfLayers, DxfScope, DxfSize, DxfVersion, FamilySpec, FreeFamily, FreeLines,
    Ground, Layout, Method, Outline, OutlineShape, Panel, Paper, PolygonSide, Relief, SideRule,
    Sides, Size, Sticks, Units, WorkshopSheet,
};
pub use pattern::{
    CellShape, Divide, EndRule, Hinge, NamedPoint, Pattern, PatternPiece, PatternPoint,
    PatternRule, RuleShape,
};
pub(crate) use plain_file::{open_plain, read_plain};
pub use post::{
    DxfLayer, DxfStyle, GcodeDialect, LengthUnit, LineNumbers, NumberStyle, Post, RemarkStyle,
    Templates,
};
pub use post_words::{Coolant, Park, PathMode, Words};
pub use readings::{Measured, Milled, off_readings, readings_in_words};
pub use resized::with_size;
pub use starter::{CutterKind, starter};
pub use stock::{Blank, Stock};
pub use surround::{Mitred, Pins, Surround, SurroundCut};
