//! Checks of the stock as measured: what differing readings do to joints.

use super::check::{Check, Unit};
use super::check_id::CheckId;
use crate::geom::{DEPTH_OFF, FACE_OFF};
use crate::lattice::Lattice;
use crate::panel::Material;

/// How faces and depths of each family have measured.
///
/// `spread` warns where a thin bar is looser in a notch for a thick one than the material's play.
/// `stick-depth` fails where middle members, floored from both edges, would not close or would lose wood.
/// Sticks that are floored from one edge show it on the panel's faces alone, which are planed after glue-up:
/// `flush` warns of them, and `stick-depth` fails where they are further off than a face may be.
pub(super) fn measured_checks(lattice: &Lattice, material: &Material) -> Vec<Check> {
    let mut checks = Vec::new();
    for (family, spec) in lattice.families.entries() {
        let face = lattice.faces[family];
        let loosest = lattice.clearance + face[1] - face[0];
        let place = format!(
            "{} bars of {:.3} to {:.3} mm, walls of their notches",
            spec.name, face[0], face[1]
        );
        if face[1] > face[0] {
            let check = Check::at_most(CheckId::Spread, loosest, material.play, Unit::Mm, place);
            checks.push(check.accepted());
        }
        let [least, greatest] = lattice.depths[family];
        if least == lattice.depth && greatest == lattice.depth {
            continue;
        }
        let sides = [
            (
                lattice.too_thin(family),
                format!("{} sticks, thinnest {least:.3} mm deep", spec.name),
                "seats of middle members stay open by so much",
            ),
            (
                lattice.too_deep(family),
                format!("{} sticks, thickest {greatest:.3} mm deep", spec.name),
                "middle members lose so much wood",
            ),
        ];
        let twice = lattice.floored_twice(family);
        for (off, which, seats) in sides {
            let off = off.max(0.0);
            if twice {
                let place = format!("{which}: {seats}");
                checks.push(Check::at_most(
                    CheckId::StickDepth,
                    off,
                    DEPTH_OFF,
                    Unit::Mm,
                    place,
                ));
            } else {
                checks.push(Check::at_most(
                    CheckId::StickDepth,
                    off,
                    FACE_OFF,
                    Unit::Mm,
                    which.as_str(),
                ));
                let place = format!("{which}: plane the panel's faces");
                checks.push(
                    Check::at_most(CheckId::Flush, off, DEPTH_OFF, Unit::Mm, place).accepted(),
                );
            }
        }
    }
    checks
}
