//! Named layouts: ready-made sets of families. A new layout is one more arm here and in
//! [`crate::panel::Layout`].

use kurbo::Vec2;

use super::error::LatticeError;
use super::family::{Family, Spacing};
use super::piece::BarSize;
use crate::geom::{cos_deg, sin_deg};
use crate::panel::{FamilySpec, FreeFamily, FreeLines, Layout};
use crate::table::{Column, Table};

/// A layout as families of lines, from its own zero.
pub(super) struct Laid {
    /// The families, in the order of the panel file.
    pub(super) families: Table<Family>,
    /// What the stock of each has measured.
    pub(super) sizes: Column<Family, BarSize>,
    /// The layout's own steps across and up, mm: what columns, rows and corners in steps count. 1 mm for
    /// free families.
    pub(super) step: [f64; 2],
}

/// The families of a layout, each with what its stock has measured. Its zero is the lower left corner of the joint
/// centres.
///
/// # Errors
/// More families than there are letters for their members.
pub(super) fn lay(
    layout: &Layout,
    specs: Vec<(&FamilySpec, BarSize)>,
) -> Result<Laid, LatticeError> {
    let (lines, step) = lines(layout);
    let mut letters: Vec<char> = Vec::new();
    let mut rows = Vec::with_capacity(lines.len());
    let families = lines.len();
    for ((direction_deg, spacing), (spec, size)) in lines.into_iter().zip(specs) {
        let letter = letter(&spec.name, &letters).ok_or(LatticeError::ManyFamilies { families })?;
        letters.push(letter);
        let family = Family {
            name: spec.name.clone(),
            letter,
            direction_deg,
            face: size.face[1],
            rank: spec.rank,
            spacing,
        };
        rows.push((family, size));
    }
    let (families, sizes) = Table::with_column(rows);
    Ok(Laid {
        families,
        sizes,
        step,
    })
}

/// Direction and lines of each family, and the layout's own steps.
fn lines(layout: &Layout) -> (Vec<(f64, Spacing)>, [f64; 2]) {
    match layout {
        Layout::Square {
            pitch_across,
            pitch_up,
        } => {
            let lines = vec![
                (90.0, even(0.0, *pitch_across)),
                (0.0, even(0.0, *pitch_up)),
            ];
            (lines, [*pitch_across, *pitch_up])
        }
        Layout::Diamond {
            pitch,
            angle_deg,
            corner_joint,
        } => {
            // Nodes lie in every second corner of a grid of half diagonals.
            let step = [pitch * cos_deg(*angle_deg), pitch * sin_deg(*angle_deg)];
            let apart = pitch * sin_deg(2.0 * angle_deg);
            let lowest = if *corner_joint { 0.0 } else { step[1] };
            let first = lowest * cos_deg(*angle_deg);
            let lines = vec![
                (*angle_deg, even(first, apart)),
                (-angle_deg, even(first, apart)),
            ];
            (lines, step)
        }
        Layout::ThreeWay {
            pitch,
            corner_joint,
        } => {
            let apart = pitch * sin_deg(60.0);
            let lowest = if *corner_joint { 0.0 } else { 0.5 * pitch };
            // The slanting lines through (0, lowest): distance from the zero lowest * cos 30.
            let first = lowest * cos_deg(30.0);
            let slant = even(first, apart);
            let lines = vec![
                (30.0, slant.clone()),
                (90.0, even(0.0, apart)),
                (-30.0, slant),
            ];
            (lines, [apart, *pitch])
        }
        Layout::OpenThreeWay {
            pitch,
            corner_joint,
        } => {
            // The lines of a three-way ground of twice the pitch; the falling ones moved up by a pitch, so
            // that slanting bars cross half-way between the uprights.
            let apart = 2.0 * pitch * sin_deg(60.0);
            let lowest = if *corner_joint { 0.0 } else { 0.5 * pitch };
            let lines = vec![
                (30.0, even(lowest * cos_deg(30.0), apart)),
                (90.0, even(0.0, apart)),
                (-30.0, even((lowest + pitch) * cos_deg(30.0), apart)),
            ];
            (lines, [apart, *pitch])
        }
        Layout::EightPoint { pitch } => {
            let slant = even(0.0, pitch * sin_deg(45.0));
            let lines = vec![
                (90.0, even(0.0, *pitch)),
                (0.0, even(0.0, *pitch)),
                (45.0, slant.clone()),
                (-45.0, slant),
            ];
            (lines, [*pitch, *pitch])
        }
        Layout::Free(families) => (families.iter().map(free).collect(), [1.0, 1.0]),
    }
}

fn even(first: f64, step: f64) -> Spacing {
    Spacing::Even { first, step }
}

/// A family written out: its direction brought to -90 < d <= 90, its distances with it. For upright bars
/// distances count along x, to the right; for all others to the left of the direction.
fn free(family: &FreeFamily) -> (f64, Spacing) {
    let mut direction = family.direction_deg.rem_euclid(180.0);
    let turned = family.direction_deg.rem_euclid(360.0) >= 180.0;
    let mut flip = turned;
    if direction > 90.0 {
        // Turned round by half a turn: left becomes right.
        direction -= 180.0;
        flip = !flip;
    }
    if direction == 90.0 {
        flip = true;
    }
    let spacing = match &family.lines {
        FreeLines::Even { first, pitch } => even(if flip { -first } else { *first }, *pitch),
        FreeLines::Listed(offsets) if flip => {
            Spacing::Listed(offsets.iter().rev().map(|o| -o).collect())
        }
        FreeLines::Listed(offsets) => Spacing::Listed(offsets.clone()),
    };
    (direction, spacing)
}

/// First letter of the members' ids: the name's own, else the first that no other family has; `None` where all are
/// taken.
fn letter(name: &str, taken: &[char]) -> Option<char> {
    let own = name
        .chars()
        .map(|c| c.to_ascii_uppercase())
        .filter(char::is_ascii_uppercase);
    let free = |c: &char| !taken.contains(c);
    own.chain('A'..='Z').find(free)
}

/// About how many crossings the families have in the area of `base`: two families with distances s1
/// and s2 at an angle φ have sin φ / (s1 s2) crossings in a unit of area.
pub(super) fn crossing_estimate(families: &Table<Family>, area: f64) -> f64 {
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
    density * area
}

/// Moves all families.
pub(super) fn moved(families: Table<Family>, shift: Vec2) -> Table<Family> {
    families.into_iter().map(|f| f.moved(shift)).collect()
}
