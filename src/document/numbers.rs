//! Numbers as a maker reads them. The rule for lengths stands here and nowhere else: what a hand works to is rounded so
//! that no sum of a few lengths, and no distance between two marks, is off by more than 0.05 mm.
//!
//! - Millimetres have two decimals at the most, and no needless noughts: 66.75, 60. Ten of them may be added.
//! - Inches are a fraction down to 1/64 where that is as near as thousandths are; else the thousandths stand beside it:
//!   `13 9/64 (13.141)`. Three of them may be added.
//! - Marks along a bar are all told from one end, so that nobody adds them up.
//! - A length that is stepped off many times, a pitch, has as many decimals more as all its steps together need.

use crate::geom::{micron, tidy};
use crate::panel::{JobFiles, LengthUnit, Post, Units};

/// Millimetres in an inch.
const INCH: f64 = 25.4;
/// The finest fraction of an inch that a rule shows.
const FINEST: u64 = 64;
/// So much may a sum of lengths be off, mm.
const SUM: f64 = 0.05;
/// Decimals that a length is told with: of a millimetre, and of an inch.
const DECIMALS: [i32; 2] = [2, 3];
/// More decimals than these help nobody: what is worked out has six of a millimetre.
const MOST_DECIMALS: i32 = 6;
/// A length that is bought is rounded up to so much, mm: a tenth of a metre, or half a foot.
const BOUGHT: [f64; 2] = [100.0, 6.0 * INCH];
/// The length of one strip or sheet is, mm: to a millimetre, or 1/16 of an inch.
const BLANK: [f64; 2] = [1.0, INCH / 16.0];

/// An angle, degrees, with at most two decimals.
#[must_use]
pub fn degrees(deg: f64) -> String {
    let text = format!("{deg:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A text with a capital letter at its head.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_ascii_uppercase());
    first.into_iter().chain(chars).collect()
}

/// `1 stick`, `2 sticks`.
#[must_use]
pub fn counted(n: usize, what: &str) -> String {
    if n == 1 {
        format!("1 {what}")
    } else {
        format!("{n} {what}s")
    }
}

/// Writes numbers. Lengths come in mm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Numbers {
    /// How lengths are written.
    pub units: Units,
    /// Whether inches are told as fractions too.
    fractions: bool,
}

impl Numbers {
    /// Those of the lists for other programs, whatever the sheet is written in.
    pub const MM: Self = Self {
        units: Units::Mm,
        fractions: false,
    };

    /// Those of the sheet and its pictures: for hands that hold a rule or a caliper.
    #[must_use]
    pub fn of(units: Units) -> Self {
        Self {
            units,
            fractions: true,
        }
    }

    /// As the notes of a job's programs and drawings have them.
    #[must_use]
    pub fn of_notes(files: &JobFiles) -> Self {
        files
            .own()
            .map_or(Self::MM, |own| Self::of_dialect(&own.post))
    }

    /// As the controller's display has them: in the unit of the dialect, without fractions.
    #[must_use]
    pub fn of_dialect(post: &Post) -> Self {
        let units = match post.gcode.number.unit {
            LengthUnit::Millimetre => Units::Mm,
            LengthUnit::Inch => Units::Inch,
        };
        Self {
            units,
            fractions: false,
        }
    }

    /// The same, inches as decimals alone: where a fraction finds no room.
    #[must_use]
    pub fn decimals(self) -> Self {
        Self {
            fractions: false,
            ..self
        }
    }

    /// The unit of all lengths, for heads of tables.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self.units {
            Units::Mm => "mm",
            Units::Inch => "in",
        }
    }

    /// The same in full.
    #[must_use]
    pub fn unit_word(self) -> &'static str {
        match self.units {
            Units::Mm => "mm",
            Units::Inch => "inches",
        }
    }

    /// A length that a hand works to, by the rule at the head of this file.
    #[must_use]
    pub fn len(self, mm: f64) -> String {
        self.step(mm, 1.0)
    }

    /// A length that is stepped off so many times, such as a pitch: all its steps together keep to the rule.
    #[must_use]
    pub fn step(self, mm: f64, times: f64) -> String {
        let keeps = |shown: f64| times * (shown - mm).abs() <= SUM;
        let (unit, least) = match self.units {
            Units::Mm => (1.0, DECIMALS[0]),
            Units::Inch => (INCH, DECIMALS[1]),
        };
        let shown = |decimals: i32| to(mm / unit, 10f64.powi(decimals));
        let enough = (least..MOST_DECIMALS).find(|&d| keeps(shown(d) * unit));
        let decimals = enough.unwrap_or(MOST_DECIMALS);
        let number = format!("{:.*}", decimals as usize, shown(decimals));
        match self.units {
            Units::Mm => trimmed(&number).to_owned(),
            Units::Inch if !self.fractions => number,
            Units::Inch => {
                let (fraction, inches) = fraction(micron(mm) / INCH);
                let off = (inches * INCH - mm).abs();
                // As near as the thousandths that would stand beside it.
                if off <= 0.5 * INCH / 1000.0 && keeps(inches * INCH) {
                    fraction
                } else {
                    format!("{fraction} ({number})")
                }
            }
        }
    }

    /// A length that need not be kept to, such as that of an offcut or of a board: one decimal, or the nearest fraction
    /// of an inch.
    #[must_use]
    pub fn rough(self, mm: f64) -> String {
        match self.units {
            Units::Mm => trimmed(&format!("{:.1}", to(mm, 10.0))).to_owned(),
            Units::Inch if self.fractions => fraction(micron(mm) / INCH).0,
            Units::Inch => self.fine(mm),
        }
    }

    /// The same with its unit, for a text.
    #[must_use]
    pub fn rough_with_unit(self, mm: f64) -> String {
        format!("{} {}", self.rough(mm), self.unit())
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

    /// A length of which differences of a hundredth count, such as the notches of a coupon: a decimal more than
    /// [`Numbers::fine`].
    #[must_use]
    pub fn finest(self, mm: f64) -> String {
        match self.units {
            Units::Mm => format!("{:.3}", to(mm, 1000.0)),
            Units::Inch => format!("{:.4}", to(mm / INCH, 10_000.0)),
        }
    }

    /// A length that a hand works to with its unit, for a text.
    #[must_use]
    pub fn with_unit(self, mm: f64) -> String {
        format!("{} {}", self.len(mm), self.unit())
    }

    /// A length by the caliper with its unit, for a text: millimetres without needless noughts.
    #[must_use]
    pub fn fine_with_unit(self, mm: f64) -> String {
        let number = self.fine(mm);
        let number = match self.units {
            Units::Mm => trimmed(&number),
            Units::Inch => &number,
        };
        format!("{number} {}", self.unit())
    }

    /// The finest length with its unit, for a text: millimetres without needless noughts.
    #[must_use]
    pub fn finest_with_unit(self, mm: f64) -> String {
        let number = self.finest(mm);
        let number = match self.units {
            Units::Mm => trimmed(&number),
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

    /// A length that is bought, rounded up: to a tenth of a metre, or to half a foot.
    #[must_use]
    pub fn bought(self, mm: f64) -> String {
        match self.units {
            Units::Mm => format!("{:.1} m", up(mm, BOUGHT[0]) / 10.0),
            Units::Inch => format!("{:.1} ft", up(mm, BOUGHT[1]) / 2.0),
        }
    }

    /// The length of a strip or sheet that is bought, rounded up: to a millimetre, or to 1/16 of an inch.
    #[must_use]
    pub fn blank(self, mm: f64) -> String {
        match self.units {
            Units::Mm => format!("{:.0}", up(mm, BLANK[0])),
            Units::Inch => fraction(up(mm, BLANK[1]) / 16.0).0,
        }
    }

    /// What [`Numbers::blank`] rounds up to.
    #[must_use]
    pub fn blank_step(self) -> &'static str {
        match self.units {
            Units::Mm => "1 mm",
            Units::Inch => "1/16 in",
        }
    }

    /// What [`Numbers::bought`] rounds up to.
    #[must_use]
    pub fn bought_step(self) -> &'static str {
        match self.units {
            Units::Mm => "0.1 m",
            Units::Inch => "half a foot",
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

/// How many whole steps hold a length, round-off apart.
fn up(mm: f64, step: f64) -> f64 {
    micron(micron(mm) / step).ceil()
}

/// Without needless noughts behind the point.
fn trimmed(number: &str) -> &str {
    if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.')
    } else {
        number
    }
}

/// Inches as whole ones and a reduced fraction, `13 9/64`, and what that is.
fn fraction(inches: f64) -> (String, f64) {
    let parts = (inches.abs() * FINEST as f64).round();
    // Nothing on a sheet is longer than some miles.
    let parts = if parts < 1e15 { parts as u64 } else { 0 };
    let (sign, shown) = if inches < 0.0 && parts > 0 {
        ("-", -(parts as f64) / FINEST as f64)
    } else {
        ("", parts as f64 / FINEST as f64)
    };
    let (whole, mut over, mut under) = (parts / FINEST, parts % FINEST, FINEST);
    while over > 0 && over % 2 == 0 {
        (over, under) = (over / 2, under / 2);
    }
    let text = match (whole, over) {
        (_, 0) => format!("{sign}{whole}"),
        (0, _) => format!("{sign}{over}/{under}"),
        _ => format!("{sign}{whole} {over}/{under}"),
    };
    (text, shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 in = 25.4 mm (ISO 31-1).
    #[test]
    fn inches_are_fractions_with_thousandths_beside_those_that_are_off() {
        let inch = Numbers::of(Units::Inch);
        assert_eq!(inch.with_unit(25.4), "1 in");
        assert_eq!(inch.fine_with_unit(12.7), "0.500 in");
        for (mm, want, rough) in [
            (0.0, "0", "0"),
            (25.4, "1", "1"),
            (-25.4, "-1", "-1"),
            (12.7, "1/2", "1/2"),
            (349.25, "13 3/4", "13 3/4"),
            // 13 + 9/64 in is 333.772 mm, 0.022 off; thousandths are at most 0.0127 off.
            (333.75, "13 9/64 (13.140)", "13 9/64"),
            (333.76, "13 9/64", "13 9/64"),
            (0.1, "0 (0.004)", "0"),
            (-0.1, "0 (-0.004)", "0"),
            // The fraction rounds up to a whole inch.
            (25.3, "1 (0.996)", "1"),
        ] {
            assert_eq!(inch.len(mm), want, "{mm}");
            assert_eq!(inch.rough(mm), rough, "{mm}");
        }
        assert_eq!(inch.fine(4.05), "0.159");
        assert_eq!(inch.finest(4.05), "0.1594");
        assert_eq!(inch.feed(1200.0), "47.2 in/min");
        // A controller's display has no fractions.
        let display = inch.decimals();
        assert_eq!([display.len(349.25), display.rough(349.25)], ["13.750"; 2]);
    }

    #[test]
    fn millimetres_have_two_decimals_at_most_and_no_minus_nought() {
        let mm = Numbers::MM;
        for (length, want) in [
            (66.75, "66.75"),
            (60.0, "60"),
            (333.75 - 1e-13, "333.75"),
            (22.5 - 1e-9, "22.5"),
            (-0.001, "0"),
            (-22.09, "-22.09"),
            (600.0 / 9.0, "66.67"),
        ] {
            assert_eq!(mm.len(length), want, "{length}");
        }
        assert_eq!([mm.rough(333.75), mm.rough(-0.01)], ["333.8", "0"]);
        assert_eq!([mm.fine(4.05), mm.angle(22.5)], ["4.05", "22.5°"]);
        let fine = [mm.fine_with_unit(12.0), mm.fine_with_unit(4.05)];
        assert_eq!(fine, ["12 mm", "4.05 mm"]);
        assert_eq!([mm.minutes(0.2), mm.minutes(125.0)], ["1 min", "2 h 5 min"]);
    }

    /// What the number as it is written is off, mm, a fraction alone or the figure in brackets beside it.
    fn off(n: Numbers, text: &str, mm: f64) -> f64 {
        let number = |text: &str| text.parse::<f64>().expect("a number");
        let shown = match (n.units, text.split_once('(')) {
            (Units::Mm, _) => number(text),
            (Units::Inch, Some((_, beside))) => number(beside.trim_end_matches(')')) * INCH,
            (Units::Inch, None) => {
                let part = |word: &str| match word.split_once('/') {
                    Some((over, under)) => number(over) / number(under),
                    None => number(word),
                };
                text.split(' ').map(part).sum::<f64>() * INCH
            }
        };
        (shown - mm).abs()
    }

    #[test]
    fn sums_of_lengths_and_steps_of_a_pitch_stay_true() {
        for (n, together) in [(Numbers::MM, 10.0), (Numbers::of(Units::Inch), 3.0)] {
            for k in 1..4000 {
                // Steps that share no factor with either unit's.
                let mm = 0.377_77 * f64::from(k);
                let text = n.len(mm);
                assert!(together * off(n, &text, mm) <= SUM + 1e-9, "{mm}: {text}");
                for times in [7.0, 60.0, 900.0] {
                    let text = n.step(mm, times);
                    assert!(
                        times * off(n, &text, mm) <= SUM + 1e-9,
                        "{times} × {mm}: {text}"
                    );
                }
            }
        }
        assert_eq!(Numbers::MM.step(600.0 / 9.0, 9.0), "66.67");
        assert_eq!(Numbers::MM.step(600.0 / 9.0, 20.0), "66.667");
        assert_eq!(Numbers::MM.step(66.75, 1e4), "66.75");
    }

    #[test]
    fn what_is_bought_is_rounded_up() {
        let inch = Numbers::of(Units::Inch);
        for (mm, metres, feet) in [
            (1200.0, "1.2 m", "4.0 ft"),
            (1200.1, "1.3 m", "4.0 ft"),
            (1219.2, "1.3 m", "4.0 ft"),
            (1219.3, "1.3 m", "4.5 ft"),
            (0.4, "0.1 m", "0.5 ft"),
        ] {
            assert_eq!([Numbers::MM.bought(mm), inch.bought(mm)], [metres, feet]);
        }
        for (mm, whole, sixteenths) in [
            (560.0, "560", "22 1/16"),
            (558.8, "559", "22"),
            (560.1, "561", "22 1/16"),
        ] {
            assert_eq!([Numbers::MM.blank(mm), inch.blank(mm)], [whole, sixteenths]);
        }
    }
}
