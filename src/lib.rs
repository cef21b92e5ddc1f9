//! From one lattice panel file to proven cut files.
//!
//! A lattice panel is made of thin bars (*members*) that cross in half-laps and three-way laps. This
//! library reads a panel file, works out every joint and member, nests the pieces on stock, plans the
//! cuts of a laser or a small router, checks that they are safe, writes DXF and G-code, and proves each
//! file by replaying the very bytes before they are put in place.
//!
//! Data flows one way, down this list of modules:
//!
//! | module | what it holds |
//! |---|---|
//! | [`limits`] | how much of everything is taken |
//! | [`table`] | rows known by typed ids |
//! | [`in_order`] | work on all cores, its results in order |
//! | [`geom`] | points, contours, convex regions, frames, trigonometry, tolerances |
//! | [`non_empty`] | lists of one thing at the least |
//! | [`panel`] | panel, machine, material, stock and post-processor files: read, checked, plain data |
//! | [`document`] | the workshop sheet as a document: sections of texts, lists, tables and figures; numbers as a maker reads them |
//! | [`lattice`] | families of lines → nodes → members, joints, classes, order; the dry fit |
//! | [`size`] | columns, rows and pitch for an opening |
//! | [`infill`] | cells of the ground, patterns laid in them, pieces with bevelled ends |
//! | [`stock`] | pieces in rows on strips and sheets, with a lower bound |
//! | [`surround`] | the frame round the ground: sides, mitres, pins, laps, stock for it |
//! | [`kits`] | pieces shared out, and spares |
//! | [`assembly`] | numbered steps from loose pieces to the panel |
//! | [`setup`] | what is cut where, in which clamping |
//! | [`path`] | offsets, relief, tabs, passes, order of cuts: moves, machine-neutral |
//! | [`safety`] | the checks; a failed one writes nothing |
//! | [`plan`] | all of the above in order: what is made and how it is cut, checked; no bytes |
//! | [`mod@write`] | plain data → bytes: DXF, G-code, pictures, lists, pages |
//! | [`replay`] | reads what was written and proves it |
//! | [`report`] | the plan told to people and programs: workshop sheet, pictures, labels, summary |
//! | [`job`] | runs the stages in this order, from a panel file to a folder |
//!
//! # Conventions
//!
//! Lengths are millimetres, angles degrees, counter-clockwise; a field's name carries any other unit.
//! The panel is seen from the front: x right, y up, z from the back face (0) to the front face (depth).
//! The origin is the lower left corner of the trimmed ground's bounding box. A piece's own frame is: x
//! along from its first end, y across the face from the centre line to the left as seen from the front,
//! z from the back edge. Closed outlines run counter-clockwise; the waste lies to the right of travel.

pub mod assembly;
pub mod document;
pub mod geom;
pub mod in_order;
pub mod infill;
pub mod job;
pub mod kits;
pub mod lattice;
pub mod letters;
pub mod limits;
pub mod non_empty;
pub mod panel;
pub mod path;
pub mod plan;
pub mod replay;
pub mod report;
pub mod safety;
pub mod setup;
pub mod size;
pub mod stock;
pub mod surround;
pub mod table;
pub mod write;
