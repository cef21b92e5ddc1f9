//! The stock file: strips and sheets on hand.

use super::reader::Table;
use super::readings::{off_readings, readings_in_words};
use super::values::{BAR, Limits};
use super::{Faults, FileText, Material};
use crate::geom::{FACE_OFF, SAME_FIGURE};

/// The raw stock. Lengths are mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Stock {
    /// What the maker calls it.
    pub name: String,
    /// Thicknesses that it comes in, ascending; empty where the file does not say.
    pub thickness: Vec<f64>,
    /// Left uncut at both ends and both long edges.
    pub trim: f64,
    /// The sizes on hand, in the order of the file.
    pub blanks: Vec<Blank>,
}

/// One size of strip or sheet; the grain runs along its length.
#[derive(Debug, Clone, PartialEq)]
pub struct Blank {
    /// What the maker calls it.
    pub name: String,
    /// Along the grain.
    pub length: f64,
    /// Across the grain.
    pub width: f64,
    /// How many there are; `None` where more can be bought.
    pub count: Option<u32>,
}

/// Takes a stock file's keys.
pub(super) fn read_stock(t: &mut Table<'_>) -> Stock {
    let name = t.name();
    let thickness = if t.has_list("thickness") {
        t.ascending("thickness", &BAR)
    } else {
        t.number_opt("thickness", &BAR).into_iter().collect()
    };
    let trim = t.number_or("trim", 0.0, &Limits::size_or_none(1000.0));
    let blanks = t.tables("blank", |b| {
        let mark = b.mark();
        let blank = Blank {
            name: b.name(),
            length: b.number("length", &Limits::size(100_000.0)),
            width: b.number("width", &Limits::size(100_000.0)),
            count: b.count_opt("count", 0..=1_000_000),
        };
        let sound = b.sound_since(mark);
        for (key, size) in [("length", blank.length), ("width", blank.width)] {
            if sound && size <= 2.0 * trim {
                let message = format!("`{key}` leaves nothing between the trims of {trim} mm");
                b.fault(key, message, "make the blank larger or `trim` smaller");
            }
        }
        blank
    });
    Stock {
        name,
        thickness,
        trim,
        blanks,
    }
}

/// What is wrong where none of the thicknesses of a stock is that of its material: a fault in either file.
pub(super) fn unlike(
    (material, of_material): &(Material, FileText),
    (stock, of_stock): &(Stock, FileText),
) -> Option<[Faults; 2]> {
    let off = |thick: &f64| off_readings(*thick, material.thickness);
    let nearest = stock.thickness.iter().map(off).min_by(f64::total_cmp)?;
    if nearest <= FACE_OFF + SAME_FIGURE {
        return None;
    }
    let measured = readings_in_words(material.thickness);
    let listed: Vec<String> = stock.thickness.iter().map(f64::to_string).collect();
    let listed = format!("{} mm", listed.join(" or "));
    let fault = |of: &FileText, message: String, right: String, other: &FileText| {
        let hint = format!(
            "{right}, or write what is measured: the two may be {FACE_OFF} mm apart; the other is {}",
            other.file
        );
        of.fault("thickness", message, Some(hint))
    };
    Some([
        fault(
            of_stock,
            format!(
                "this stock is {listed} thick, and its material, \"{}\", {measured}",
                material.name
            ),
            format!("name a stock file for {measured}"),
            of_material,
        ),
        fault(
            of_material,
            format!(
                "this material is {measured} thick, and its stock, \"{}\", {listed}",
                stock.name
            ),
            format!("name a material file for {listed}"),
            of_stock,
        ),
    ])
}
