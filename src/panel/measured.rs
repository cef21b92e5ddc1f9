//! Puts a measured value into a maker's file and leaves every other byte as it is.

use super::edit::{with_number, without_entry, without_remark};
use super::load::Raw;
use super::machine::{HeadKind, read_machine};
use super::material::read_material;
use super::read_panel::read_panel;
use super::{Faults, FileText, Machine, Material, Panel, SourceKind};

const KERF: &str = "laser.kerf";
const FLARE: &str = "laser.flare";
const DIAMETER: &str = "router.tool.diameter";
const CLEARANCE: &str = "cut.clearance";

/// The material file's text with `laser.kerf` replaced, mm, and `laser.flare` where both faces were
/// read; and what the file said before. Here and below, the file says no more that the value is from memory.
///
/// # Errors
/// The file is no sound material file, has no `[laser]`, or cannot take the values.
pub fn with_kerf(
    file: &str,
    bytes: &[u8],
    kerf: f64,
    flare: Option<f64>,
) -> Result<(Material, String), Faults> {
    let parse =
        |bytes: &[u8]| Raw::from_bytes(SourceKind::Material, file, bytes).parse(read_material);
    let (before, text) = parse(bytes)?;
    let mut changed = with_number(&text, KERF, kerf)?;
    let mut meant = before.clone();
    if let Some(laser) = &mut meant.laser {
        laser.kerf = kerf;
        meant.from_memory = meant.from_memory.without(KERF);
        changed = measured(changed, KERF, |bytes| Ok(parse(bytes)?.1))?;
        // A cut without flare needs no line that says so.
        if let Some(flare) = flare.filter(|flare| *flare != laser.flare) {
            laser.flare = flare;
            let (_, text) = parse(changed.as_bytes())?;
            changed = with_number(&text, FLARE, flare)?;
        }
        if flare.is_some() {
            meant.from_memory = meant.from_memory.without(FLARE);
            changed = measured(changed, FLARE, |bytes| Ok(parse(bytes)?.1))?;
        }
    }
    let (after, _) = parse(changed.as_bytes())?;
    same(&text, KERF, after == meant)?;
    Ok((before, changed))
}

/// The machine file's text with `router.tool.diameter` replaced, mm, and what the file said before.
///
/// # Errors
/// The file is no sound machine file, has no router, or cannot take the value.
pub fn with_diameter(file: &str, bytes: &[u8], diameter: f64) -> Result<(Machine, String), Faults> {
    let parse =
        |bytes: &[u8]| Raw::from_bytes(SourceKind::Machine, file, bytes).parse(read_machine);
    let (before, text) = parse(bytes)?;
    let changed = with_number(&text, DIAMETER, diameter)?;
    let changed = measured(changed, DIAMETER, |bytes| Ok(parse(bytes)?.1))?;
    let (after, _) = parse(changed.as_bytes())?;
    let mut meant = before.clone();
    if let HeadKind::Router(router) = &mut meant.head {
        router.tool.diameter = diameter;
    }
    meant.from_memory = meant.from_memory.without(DIAMETER);
    same(&text, DIAMETER, after == meant)?;
    Ok((before, changed))
}

/// The panel file's text with `cut.clearance` replaced, mm, and what the file said before; its relief is
/// a stand-in where the file leaves that to the machine.
///
/// # Errors
/// The file is no sound panel file, or cannot take the value.
pub fn with_clearance(file: &str, bytes: &[u8], clearance: f64) -> Result<(Panel, String), Faults> {
    let parse = |bytes: &[u8]| Raw::from_bytes(SourceKind::Panel, file, bytes).parse(read_panel);
    let (before, text) = parse(bytes)?;
    let changed = with_number(&text, CLEARANCE, clearance)?;
    let changed = measured(changed, CLEARANCE, |bytes| Ok(parse(bytes)?.1))?;
    let (after, _) = parse(changed.as_bytes())?;
    let mut meant = before.panel.clone();
    meant.cut.clearance = clearance;
    same(&text, CLEARANCE, after.panel == meant)?;
    Ok((before.panel, changed))
}

/// The text of a file, whose value of a key has been measured by now, without what says that it has not: the key in the
/// list, and the words in the comment behind the value.
fn measured(
    changed: String,
    key: &str,
    parse: impl Fn(&[u8]) -> Result<FileText, Faults>,
) -> Result<String, Faults> {
    let unlisted = without_entry(&parse(changed.as_bytes())?, key);
    Ok(without_remark(&parse(unlisted.as_bytes())?, key))
}

/// The file reads as it did but for the value.
fn same(text: &FileText, key: &str, same: bool) -> Result<(), Faults> {
    if same {
        return Ok(());
    }
    let message = "this value cannot be replaced without changing another";
    Err(text.fault(key, message, Some("put it on a line of its own".into())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::builtin;

    #[test]
    fn every_other_byte_stays() {
        let text = builtin(SourceKind::Material, "ply-3")
            .expect("built in")
            .text;
        // Windows line ends, a comment with another kerf in it, and a value with a unit.
        let text = text
            .replace('\n', "\r\n")
            .replace("kerf = 0.2  ", "kerf = \"0.2 mm\" # kerf = 9");
        let (before, after) = with_kerf("m.toml", text.as_bytes(), 0.17, None).expect("replaced");
        assert_eq!(before.laser.map(|l| l.kerf), Some(0.2));
        let unlisted = text.replace(" \"laser.kerf\",", "");
        let unmarked = unlisted.replace("test cut (from memory)", "test cut");
        assert_eq!(after, unmarked.replace("\"0.2 mm\"", "0.17"));
        // Both faces read: the flare has been measured too, whatever it is.
        let (_, after) = with_kerf("m.toml", after.as_bytes(), 0.17, Some(0.0)).expect("replaced");
        let remark = " (from memory: read it from a coupon)";
        let both = unmarked
            .replace(" \"laser.flare\",", "")
            .replace(remark, "");
        assert_eq!(after, both.replace("\"0.2 mm\"", "0.17"));
        let text = builtin(SourceKind::Machine, "small-router")
            .expect("built in")
            .text;
        let (_, after) = with_diameter("m.toml", text.as_bytes(), 3.07).expect("replaced");
        let unlisted = text.replace("\"router.tool.diameter\", ", "");
        let line = |end: &str| format!("from a slot cut and measured, not from the shank{end}");
        let unmarked = unlisted.replace(&line(" (from memory)"), &line(""));
        assert_eq!(
            after,
            unmarked.replace("diameter = 3.0 ", "diameter = 3.07 ")
        );
    }

    #[test]
    fn a_file_that_cannot_take_it_is_refused() {
        let ply = builtin(SourceKind::Material, "ply-3")
            .expect("built in")
            .text;
        let hard = builtin(SourceKind::Material, "hardwood-4")
            .expect("built in")
            .text;
        let laser = builtin(SourceKind::Machine, "desk-laser")
            .expect("built in")
            .text;
        for wrong in [0.0, -0.1, 6.0, f64::NAN] {
            assert!(
                with_kerf("m.toml", ply.as_bytes(), wrong, None).is_err(),
                "{wrong}"
            );
        }
        assert!(
            with_kerf("m.toml", laser.as_bytes(), 0.2, None).is_err(),
            "no material"
        );
        assert!(with_kerf("m.toml", b"\xff", 0.2, None).is_err(), "no text");
        assert!(
            with_diameter("m.toml", laser.as_bytes(), 3.0).is_err(),
            "no tool"
        );
        let told = with_kerf("m.toml", hard.as_bytes(), 0.2, None).expect_err("no [laser]");
        assert!(told.to_string().contains("laser.kerf"), "{told}");
    }
}
