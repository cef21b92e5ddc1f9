//! Named layouts: ready-made sets of families. A new layout is one more arm here and in
//! [`crate::panel::Layout`].

use kurbo::{Rect, Vec2};

use super::family::{Family, Spacing};
use crate::geom::{cos_deg, sin_deg};
use crate::panel::{FamilySpec, Layout};

/// The families of a layout and the rectangle through its outermost joint centres, lower left corner
/// at the origin.
pub(super) fn families(
    layout: &Layout,
    specs: &[FamilySpec],
    faces: &[f64],
) -> (Vec<Family>, Rect) {
    let made = |which: usize, direction_deg: f64, first: f64, step: f64| -> Option<Family> {
        let spec = specs.get(which)?;
        Some(Family {
            name: spec.name.clone(),
            letter: spec
                .name
                .chars()
                .next()
                .map_or('B', |c| c.to_ascii_uppercase()),
            direction_deg,
            face: *faces.get(which)?,
            rank: spec.rank,
            spacing: Spacing::Even { first, step },
        })
    };
    match *layout {
        Layout::Square {
            pitch_across,
            pitch_up,
            columns,
            rows,
        } => {
            let sets = [
                made(0, 90.0, 0.0, pitch_across),
                made(1, 0.0, 0.0, pitch_up),
            ];
            let base = Rect::new(
                0.0,
                0.0,
                f64::from(columns) * pitch_across,
                f64::from(rows) * pitch_up,
            );
            (sets.into_iter().flatten().collect(), base)
        }
        Layout::ThreeWay {
            pitch,
            columns,
            rows,
            corner_joint,
        } => {
            let step = pitch * sin_deg(60.0);
            let lowest = if corner_joint { 0.0 } else { 0.5 * pitch };
            // The slanting lines through (0, lowest): distance from the origin lowest * cos 30.
            let first = lowest * cos_deg(30.0);
            let sets = [
                made(0, 30.0, first, step),
                made(1, 90.0, 0.0, step),
                made(2, -30.0, first, step),
            ];
            let base = Rect::new(0.0, 0.0, f64::from(columns) * step, f64::from(rows) * pitch);
            (sets.into_iter().flatten().collect(), base)
        }
    }
}

/// About how many crossings the families have in the area of `base`: two families with distances s1
/// and s2 at an angle φ have sin φ / (s1 s2) crossings in a unit of area.
pub(super) fn crossing_estimate(families: &[Family], base: Rect) -> f64 {
    let mut density = 0.0;
    for (i, a) in families.iter().enumerate() {
        for b in families.iter().skip(i + 1) {
            if let (Spacing::Even { step: s1, .. }, Spacing::Even { step: s2, .. }) =
                (&a.spacing, &b.spacing)
            {
                density += sin_deg(a.angle_to(b)).abs() / (s1 * s2);
            }
        }
    }
    density * base.area()
}

/// Moves all families.
pub(super) fn moved(families: Vec<Family>, shift: Vec2) -> Vec<Family> {
    families.into_iter().map(|f| f.moved(shift)).collect()
}
