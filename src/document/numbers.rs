//! Numbers as a maker reads them.

use crate::geom::{micron, tidy};
use crate::panel::{LengthUnit, Post, Units};

/// Millimetres in an inch.
const INCH: f64 = 25.4;
/// The finest fraction of an inch that a rule shows.
const FINEST: u64 = 64;

/// An angle, degrees, with at most two decimals.
#[must_use]
pub fn degrees(deg: f64) -> String {
    let text = format!("{deg:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Writes numbers. Lengths come in mm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Numbers {
    /// How lengths are written.
    pub units: Units,
}

impl Numbers {
    /// Those of programs, pictures and lists, whatever the sheet is written in.
    pub const MM: Self = Self { units: Units::Mm };

    /// As the controller's display has them: in the unit of the dialect.
    #[must_use]
    pub fn of_dialect(post: &Post) -> Self {
        let units = match post.gcode.number.unit {
            LengthUnit::Millimetre => Units::Mm,
            LengthUnit::Inch => Units::Inch,
        };
        Self { units }
    }

    /// The unit of [`Numbers::len`] and [`Numbers::fine`], for heads of tables.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self.units {
            Units::Mm => "mm",
            Units::Inch => "in",
        }
    }

    /// A length that is measured with a rule: one decimal, or a fraction of an inch down to 1/64.
    #[must_use]
    pub fn len(self, mm: f64) -> String {
        match self.units {
            Units::Mm => format!("{:.1}", to(mm, 10.0)),
            Units::Inch => fraction(micron(mm) / INCH),
        }
    }

    /// A length that is measured with a caliper, such as a notch, a kerf or a cutter: two decimals, or
    /// thousandths of an inch.
    #[must_use]
    pub fn fine(self, mm: f64) -> String {
        match self.units {
            Units::Mm => format!("{:.2}", to(mm, 100.0)),
            Units::Inch => format!("{:.3}", to(mm / INCH, 1000.0)),
        }
    }

    /// A length by the rule with its unit, for a text: without needless noughts.
    #[must_use]
    pub fn with_unit(self, mm: f64) -> String {
        self.told(self.len(mm))
    }

    /// A length by the caliper with its unit, for a text: millimetres without needless noughts.
    #[must_use]
    pub fn fine_with_unit(self, mm: f64) -> String {
        self.told(self.fine(mm))
    }

    fn told(self, number: String) -> String {
        let number = match self.units {
            Units::Mm => number.trim_end_matches('0').trim_end_matches('.'),
            Units::Inch => &number,
        };
        format!("{number} {}", self.unit())
    }

    /// A feed in mm/min, with its unit.
    #[must_use]
    pub fn feed(self, mm_per_min: f64) -> String {
        match self.units {
            Units::Mm => format!("{:.0} mm/min", mm_per_min),
            Units::Inch => format!("{:.1} in/min", mm_per_min / INCH),
        }
    }

    /// A length that is bought: metres, or feet.
    #[must_use]
    pub fn long(self, mm: f64) -> String {
        match self.units {
            Units::Mm => format!("{:.2} m", mm / 1000.0),
            Units::Inch => format!("{:.1} ft", mm / (12.0 * INCH)),
        }
    }

    /// An angle in degrees, with at most two decimals.
    #[must_use]
    pub fn angle(self, deg: f64) -> String {
        let text = format!("{:.2}", to(deg, 100.0));
        format!("{}°", text.trim_end_matches('0').trim_end_matches('.'))
    }

    /// An estimate of minutes of work.
    #[must_use]
    pub fn minutes(self, minutes: f64) -> String {
        let whole = minutes.max(0.0).ceil();
        if whole < 120.0 {
            format!("{whole:.0} min")
        } else {
            let hours = (whole / 60.0).floor();
            format!("{hours:.0} h {:.0} min", whole - 60.0 * hours)
        }
    }
}

/// Rounded to a part of one, half a part away from nought whatever round-off has done to it.
fn to(v: f64, parts: f64) -> f64 {
    tidy((micron(v) * parts).round() / parts)
}

/// Inches as whole ones and a reduced fraction: `13 9/64`.
fn fraction(inches: f64) -> String {
    let parts = (inches.abs() * FINEST as f64).round();
    // Nothing on a sheet is longer than some miles.
    let parts = if parts < 1e15 { parts as u64 } else { 0 };
    let sign = if inches < 0.0 && parts > 0 { "-" } else { "" };
    let (whole, mut over, mut under) = (parts / FINEST, parts % FINEST, FINEST);
    while over > 0 && over % 2 == 0 {
        (over, under) = (over / 2, under / 2);
    }
    match (whole, over) {
        (_, 0) => format!("{sign}{whole}"),
        (0, _) => format!("{sign}{over}/{under}"),
        _ => format!("{sign}{whole} {over}/{under}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inches_are_reduced_fractions() {
        let inch = Numbers { units: Units::Inch };
        assert_eq!(inch.with_unit(25.4), "1 in");
        assert_eq!(inch.fine_with_unit(12.7), "0.500 in");
        for (mm, want) in [
            (0.0, "0"),
            (25.4, "1"),
            (-25.4, "-1"),
            (12.7, "1/2"),
            (349.25, "13 3/4"),
            // 13 + 9/64 in is 333.772 mm; 333.75 lies within half of 1/64.
            (333.75, "13 9/64"),
            (0.1, "0"),
            (-0.1, "0"),
            // Rounds up to a whole inch.
            (25.3, "1"),
        ] {
            assert_eq!(inch.len(mm), want, "{mm}");
        }
        assert_eq!(inch.fine(4.05), "0.159");
        assert_eq!(inch.feed(1200.0), "47.2 in/min");
    }

    #[test]
    fn millimetres_have_one_decimal_and_no_minus_nought() {
        let mm = Numbers::MM;
        assert_eq!(
            [
                mm.len(333.75 - 1e-13),
                mm.len(-0.01),
                mm.fine(4.05),
                mm.angle(22.5)
            ],
            ["333.8", "0.0", "4.05", "22.5°"]
        );
        let told = [mm.with_unit(120.0), mm.with_unit(0.0), mm.with_unit(-22.09)];
        assert_eq!(told, ["120 mm", "0 mm", "-22.1 mm"]);
        let fine = [mm.fine_with_unit(12.0), mm.fine_with_unit(4.05)];
        assert_eq!(fine, ["12 mm", "4.05 mm"]);
        assert_eq!([mm.minutes(0.2), mm.minutes(125.0)], ["1 min", "2 h 5 min"]);
        assert_eq!(mm.long(1234.0), "1.23 m");
    }
}
