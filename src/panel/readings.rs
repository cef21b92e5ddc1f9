//! Stock as measured: least and greatest of the readings.

use crate::geom::micron;

/// Sticks as milled, for edge-up cutting: least and greatest reading, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Milled {
    /// Width as seen from the front of the panel.
    pub face: [f64; 2],
    /// From back to front.
    pub depth: [f64; 2],
}

/// What a material has measured: least and greatest readings, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Thickness of flat stock.
    pub thickness: [f64; 2],
    /// Sticks, one entry for each size that is milled.
    pub milled: Vec<Milled>,
}

impl Measured {
    /// The sticks for bars of a drawn face: those whose readings lie nearest to it. `None` where no sticks
    /// have been measured.
    #[must_use]
    pub fn sticks(&self, face: f64) -> Option<&Milled> {
        let off = |m: &Milled| off_readings(face, m.face);
        let nearest = |a: &&Milled, b: &&Milled| off(a).total_cmp(&off(b));
        self.milled.iter().min_by(nearest)
    }
}

impl From<[f64; 2]> for Measured {
    /// Flat stock of this thickness; no sticks.
    fn from(thickness: [f64; 2]) -> Self {
        Self {
            thickness,
            milled: Vec::new(),
        }
    }
}

/// How far a drawn size is off the readings of what it is cut from, least and greatest, mm.
#[must_use]
pub fn off_readings(drawn: f64, readings: [f64; 2]) -> f64 {
    (drawn - readings[0]).max(readings[1] - drawn)
}

/// Least and greatest reading in words, mm: one number where they are the same.
#[must_use]
pub fn readings_in_words(readings: [f64; 2]) -> String {
    let [least, most] = readings.map(micron);
    if least < most {
        format!("{least} to {most} mm")
    } else {
        format!("{most} mm")
    }
}

/// Least and greatest of some readings; `None` where there are none.
pub(super) fn extremes(readings: &[f64]) -> Option<[f64; 2]> {
    let least = readings.iter().copied().min_by(f64::total_cmp)?;
    let greatest = readings.iter().copied().max_by(f64::total_cmp)?;
    Some([least, greatest])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_take_the_sticks_that_are_nearest() {
        let milled = |least: f64, greatest: f64| Milled {
            face: [least, greatest],
            depth: [12.0; 2],
        };
        let measured = Measured {
            thickness: [4.0; 2],
            milled: vec![milled(5.9, 6.1), milled(3.95, 4.02), milled(2.5, 2.5)],
        };
        for (face, want) in [
            (4.0, Some(4.02)),
            (6.3, Some(6.1)),
            (1.0, Some(2.5)),
            (3.3, Some(4.02)),
        ] {
            let found = measured.sticks(face).map(|m| m.face[1]);
            assert_eq!(found, want, "bars drawn {face}");
        }
        assert!(
            Measured::from([4.0, 4.1]).sticks(4.0).is_none(),
            "no sticks"
        );
    }

    #[test]
    fn readings_come_in_any_order() {
        assert_eq!(extremes(&[4.02, 3.97, 4.0]), Some([3.97, 4.02]));
        assert_eq!(extremes(&[]), None);
    }
}
