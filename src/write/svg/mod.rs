//! Pictures as SVG 1.1, sized in millimetres: the panel from the front or the coupon, and each strip or
//! sheet with its cuts; story sticks to mark from.
//!
//! One unit of a picture is one millimetre of the work; the width and height of the picture itself are
//! what it takes on paper at the scale that it states. Shapes of the work are written in the work's own
//! coordinates, y up, inside a group that turns them over, so the numbers in the file are those of the
//! plan. Fonts are left to the reader's generic sans-serif.
//!
//! Pictures of very many joints leave out what cannot be seen on paper, and say so (`many.rs`).

mod badge;
mod clamping;
mod coupon;
mod datum_end;
mod labels;
mod legend;
mod many;
mod num;
mod paint;
mod panel;
mod sheet;
mod step;
mod story;
mod surround;

pub use clamping::{GangView, gang_svg};
pub use coupon::{CouponView, coupon_svg};
pub use datum_end::{DatumEndView, datum_ends_svg};
pub use labels::{BUNDLE_GRID, KIT_GRID, LabelGrid, labels_svg};
pub(super) use paint::escaped;
pub use panel::{BarView, PanelView, panel_svg};
pub use sheet::{SheetView, sheet_svg};
pub use step::{Labelled, MarkView, StepView, step_svg};
pub use story::{
    MarkShape, StoryCut, StoryMark, StoryNotch, StoryView, check_bar_svg, story_room, story_svg,
};
pub use surround::{PinView, SideView, SurroundView, surround_svg};
