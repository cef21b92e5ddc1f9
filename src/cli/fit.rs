//! The words of `fit`: sizes and ranges as a workshop writes them.

use std::path::PathBuf;

use clap::Args;
use lapwright::job::{JobError, Start, plan_sizes};
use lapwright::panel::{Layout, SurroundCut};
use lapwright::size::{Asked, Range};

use super::progress::Progress;
use super::{Said, length, report};

/// What `fit` is told. Lengths are mm or have a unit.
#[derive(Debug, Args)]
pub(super) struct FitArgs {
    /// A panel file, or a layout: its panel file to start from. Its size is what varies.
    panel: PathBuf,
    /// The clear opening, width x height, such as 600x400 or "23 5/8 x 15 3/4 in".
    #[arg(long, value_name = "WxH", required_unless_present = "outer", value_parser = size)]
    opening: Option<[f64; 2]>,
    /// In place of the opening: the size of the panel itself, surround included.
    #[arg(long, value_name = "WxH", conflicts_with_all = ["opening", "gap"], value_parser = size)]
    outer: Option<[f64; 2]>,
    /// Between the panel and the opening, on each side [default: 0].
    #[arg(long, value_name = "MM", value_parser = length)]
    gap: Option<f64>,
    /// Pitches to try, such as 40..70; square: between uprights [default: a fifth about the panel's].
    #[arg(long, value_name = "A..B", value_parser = lengths)]
    pitch: Option<Range>,
    /// Square: pitches between level bars [default: those of --pitch; else a fifth about the panel's].
    #[arg(long, value_name = "A..B", value_parser = lengths)]
    pitch_up: Option<Range>,
    /// Diamond: angles to try, degrees, such as 35..50 [default: the panel's].
    #[arg(long, value_name = "A..B", value_parser = degrees)]
    angle: Option<Range>,
    /// Widths of the surround to try, such as 6..12 [default: the panel's].
    #[arg(long, value_name = "A..B", value_parser = lengths)]
    surround: Option<Range>,
    /// How far width and height may be off for a size to count as exact.
    #[arg(long, value_name = "MM", default_value = "0.05", value_parser = length)]
    tolerance: f64,
    /// How many sizes to plan and show.
    #[arg(long, value_name = "N", default_value = "8", value_parser = clap::value_parser!(u8).range(1..=24))]
    show: u8,
    /// Which of them to write.
    #[arg(long, value_name = "N", requires = "write")]
    pick: Option<usize>,
    /// Write the picked size, or the first, as a new panel file.
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
}

impl FitArgs {
    /// Finds, plans and shows the sizes; writes the picked one.
    pub(super) fn run(&self, said: Said) -> Result<Vec<u8>, JobError> {
        let start = Start::of(&self.panel)?;
        let asked = self.asked(&start)?;
        let shown = usize::from(self.show);
        let pick = self.pick.unwrap_or(1);
        let beyond = |most: usize| {
            JobError::Call(format!(
                "--pick {pick}: the sizes shown go from 1 to {most}"
            ))
        };
        if pick == 0 || pick > shown {
            return Err(beyond(shown));
        }
        if let Some(file) = self.write.as_ref().filter(|file| file.exists()) {
            let file = file.display();
            return Err(JobError::Call(format!(
                "{file} is already there: name a new file"
            )));
        }
        let mut progress = Progress::new(said.quiet);
        let found = plan_sizes(&start, &asked, shown, &mut |what| progress.stage(what))?;
        if let Some(file) = &self.write {
            let chosen = found.best.get(pick - 1);
            chosen
                .ok_or_else(|| beyond(found.best.len()))?
                .write(file)?;
        }
        let told = report::Told {
            start: &start,
            asked: &asked,
            opening: self.opening,
            gap: self.gap.unwrap_or(0.0),
            found: &found,
            written: self.write.as_deref().map(|file| (pick, file)),
        };
        if said.json {
            return told.json();
        }
        Ok(told.text().into_bytes())
    }

    /// The size of the panel over all.
    fn outer(&self) -> Result<[f64; 2], JobError> {
        let wrong = |what: String| Err(JobError::Call(what));
        let gap = self.gap.unwrap_or(0.0);
        let whole = self.outer.or(self.opening).unwrap_or_default();
        for (size, word) in whole.into_iter().zip(["width", "height"]) {
            if !(size > 0.0 && size <= MOST) {
                return wrong(format!(
                    "the {word} must be more than 0 and at most {MOST} mm, but is {size}"
                ));
            }
            if !(gap >= 0.0 && 2.0 * gap < size) {
                return wrong(format!(
                    "--gap {gap}: a gap on both sides must be from 0 to less than half of {size} mm"
                ));
            }
        }
        Ok(whole.map(|size| size - 2.0 * gap))
    }

    fn asked(&self, start: &Start) -> Result<Asked, JobError> {
        let outer = self.outer()?;
        let panel = &start.files.panel;
        let wrong = |what: String| Err(JobError::Call(what));
        if !(self.tolerance > 0.0 && self.tolerance <= 1.0) {
            return wrong(format!(
                "--tolerance {}: it must be more than 0 and at most 1 mm",
                self.tolerance
            ));
        }
        let layout = &panel.ground.layout;
        if self.pitch_up.is_some() && !matches!(layout, Layout::Square { .. }) {
            let layout = layout.name();
            return wrong(format!(
                "--pitch-up is for the square layout: {layout} has one pitch"
            ));
        }
        let about = |pitch: f64| Range {
            least: 0.8 * pitch,
            greatest: 1.2 * pitch,
        };
        // Free families are refused by the search.
        let own = layout.pitches().unwrap_or([1.0; 2]);
        let pitch = self.pitch.unwrap_or(about(own[0]));
        let pitch_up = self.pitch_up.or(self.pitch).unwrap_or(about(own[1]));
        let own = panel.surround.as_ref();
        let lapped = own.filter(|s| matches!(s.cut, SurroundCut::Laps { .. }));
        if lapped.is_some() && self.surround.is_some() {
            return wrong(
                "--surround: a lapped surround is as wide as its stock is thick; leave --surround out, or \
                 mitre it (cut = \"by-hand\")"
                    .into(),
            );
        }
        let own = match lapped {
            Some(_) => start.files.material.thickness[1],
            None => own.map_or(0.0, |s| s.width),
        };
        let surround = self.surround.unwrap_or(Range::only(own));
        within("--pitch", pitch, MOST)?;
        within("--pitch-up", pitch_up, MOST)?;
        let none = Range::only(0.0);
        if surround != none || panel.surround.is_some() {
            // A surround of no width is none, which the panel file says by leaving it out.
            within("--surround", surround, 500.0)?;
        }
        if let Some(angle) = self.angle
            && !(angle.least >= 5.0 && angle.greatest <= 85.0)
        {
            return wrong("--angle: the angles of a diamond go from 5 to 85 degrees".into());
        }
        Ok(Asked {
            outer,
            pitch,
            pitch_up,
            angle: self.angle,
            surround,
            tolerance: self.tolerance,
        })
    }
}

/// The longest that a panel file takes, mm.
const MOST: f64 = 10_000.0;

fn within(key: &str, range: Range, most: f64) -> Result<(), JobError> {
    if range.least > 0.0 && range.greatest <= most {
        return Ok(());
    }
    Err(JobError::Call(format!(
        "{key} {}..{}: it must be more than 0 and at most {most} mm",
        range.least, range.greatest
    )))
}

/// Two lengths; a unit behind the second alone counts for both.
fn both(first: &str, second: &str) -> Result<[f64; 2], String> {
    let unit_at = second.find(|c: char| c.is_alphabetic() || c == '"' || c == '\u{2033}');
    let unit = unit_at.and_then(|at| second.get(at..)).unwrap_or_default();
    let bare = !first.contains(|c: char| c.is_alphabetic() || c == '"' || c == '\u{2033}');
    let first = if bare && !first.trim().is_empty() {
        format!("{first} {unit}")
    } else {
        first.to_owned()
    };
    Ok([length(&first)?, length(second)?])
}

/// Width x height.
fn size(text: &str) -> Result<[f64; 2], String> {
    let Some((width, height)) = text.split_once(['x', 'X', '\u{d7}']) else {
        return Err("write width x height, such as 600x400 or \"23 5/8 x 15 3/4 in\"".into());
    };
    both(width, height)
}

/// From least to greatest, or one value.
fn lengths(text: &str) -> Result<Range, String> {
    match text.split_once("..") {
        Some((least, greatest)) => ordered(both(least, greatest)?, text),
        None => length(text)
            .map(Range::only)
            .map_err(|e| dashed(text).unwrap_or(e)),
    }
}

/// A range that is written with a dash, as it would be right.
fn dashed(text: &str) -> Option<String> {
    let (least, greatest) = text.split_once(['-', '–'])?;
    both(least, greatest).ok()?;
    Some(format!(
        "a range has two points: write {}..{}",
        least.trim(),
        greatest.trim()
    ))
}

fn degrees(text: &str) -> Result<Range, String> {
    let one = |text: &str| match text.trim().parse::<f64>() {
        Ok(degrees) if degrees.is_finite() => Ok(degrees),
        _ => Err(format!(
            "`{text}` is not a number: write degrees, such as 40 or 35..50"
        )),
    };
    match text.split_once("..") {
        Some((least, greatest)) => ordered([one(least)?, one(greatest)?], text),
        None => one(text).map(Range::only),
    }
}

fn ordered([least, greatest]: [f64; 2], text: &str) -> Result<Range, String> {
    if least > greatest {
        let (from, to) = text.split_once("..").unwrap_or_default();
        return Err(format!(
            "the range runs backwards: write {}..{}",
            to.trim(),
            from.trim()
        ));
    }
    Ok(Range { least, greatest })
}

#[cfg(test)]
mod tests {
    use super::*;

    // 1 in = 25.4 mm exactly (international yard, 1959).
    #[test]
    fn sizes_and_ranges_take_units() {
        assert_eq!(size("600x400"), Ok([600.0, 400.0]));
        assert_eq!(size("600 mm X 40 cm"), Ok([600.0, 400.0]));
        assert_eq!(size("23 5/8 x 15 3/4 in"), Ok([600.075, 400.05]));
        assert_eq!(size("24\" \u{d7} 16\""), Ok([609.6, 406.4]));
        assert_eq!(size("24 in x 400 mm"), Ok([609.6, 400.0]));
        let range = |least, greatest| Ok(Range { least, greatest });
        assert_eq!(lengths("40..70"), range(40.0, 70.0));
        assert_eq!(lengths("1 1/2..2 in"), range(38.1, 50.8));
        assert_eq!(lengths("8"), range(8.0, 8.0));
        assert_eq!(degrees("35..50"), range(35.0, 50.0));
        for wrong in ["", "600", "600x", "x400", "600x400x3", "600,5x400", "axb"] {
            assert!(size(wrong).is_err(), "{wrong}");
        }
        for wrong in ["", "70..40", "40..", "..70", "40...70", "a..b", "nan"] {
            assert!(lengths(wrong).is_err(), "{wrong}");
        }
        assert!(lengths("70..40").is_err_and(|e| e.contains("write 40..70")));
        assert!(degrees("nan").is_err());
    }
}
