//! What `fit` prints.

use std::fmt::Write;
use std::path::Path;

use lapwright::geom::micron;
use lapwright::job::{Figures, JobError, PlannedSize, PlannedSizes, Start};
use lapwright::panel::Layout;
use lapwright::size::{Asked, Closes, FoundSize, Gives, Range};
use serde_json::{Value, json};

/// All that is told of a search for sizes.
pub(in crate::cli) struct Told<'a> {
    pub(in crate::cli) start: &'a Start,
    pub(in crate::cli) asked: &'a Asked,
    pub(in crate::cli) opening: Option<[f64; 2]>,
    pub(in crate::cli) gap: f64,
    pub(in crate::cli) found: &'a PlannedSizes,
    pub(in crate::cli) written: Option<(usize, &'a Path)>,
}

/// A number with as many decimals as it needs, three at the most.
fn short(v: f64) -> String {
    let text = format!("{:.3}", super::tidy3(v));
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn pair(v: [f64; 2]) -> String {
    format!("{} x {}", short(v[0]), short(v[1]))
}

/// The pitches, and the angle of a diamond.
fn pitch(layout: &Layout) -> String {
    let Some(pitches) = layout.pitches() else {
        return String::new();
    };
    match *layout {
        Layout::Square { .. } => pair(pitches),
        Layout::Diamond { angle_deg, .. } => {
            format!("{} at {}\u{b0}", short(pitches[0]), short(angle_deg))
        }
        _ => short(pitches[0]),
    }
}

fn range(range: Range) -> String {
    if range.least == range.greatest {
        short(range.least)
    } else {
        format!("{} to {}", short(range.least), short(range.greatest))
    }
}

impl Told<'_> {
    /// A screenful of text.
    pub(in crate::cli) fn text(&self) -> String {
        let (asked, panel) = (self.asked, &self.start.files.panel);
        let square = matches!(panel.ground.layout, Layout::Square { .. });
        let mut out = String::new();
        let place = match self.opening {
            Some(opening) => format!(
                "an opening of {} mm, a gap of {} on each side: {} mm",
                pair(opening),
                short(self.gap),
                pair(asked.outer)
            ),
            None => format!("{} mm outside", pair(asked.outer)),
        };
        let _ = writeln!(out, "fit        {}, {place}", panel.ground.layout.name());
        let up = if square {
            format!(" across, {} up", range(asked.pitch_up))
        } else {
            String::new()
        };
        let angle = asked
            .angle
            .map_or_else(String::new, |a| format!(", angle {}\u{b0}", range(a)));
        let _ = writeln!(
            out,
            "within     pitch {}{up}{angle}, surround {}",
            range(asked.pitch),
            range(asked.surround)
        );
        let [exact, by_surround, misses] = self.found.found;
        let _ = writeln!(
            out,
            "found      {exact} exact to {} mm, {by_surround} where the surround takes up the rest, {misses} \
             that miss",
            short(asked.tolerance)
        );
        let _ = writeln!(
            out,
            "\n no  closes       columns x rows  {:<19} {:<15} {:>6} {:>6} {:>7}  stock",
            "pitch", "surround", "joints", "sticks", "minutes"
        );
        for (number, one) in (1..).zip(&self.found.best) {
            out += &row(number, one);
        }
        let _ = writeln!(
            out,
            "\nMinutes are machine time, estimated without acceleration; joints, sticks and stock are for \
             {} to make.",
            panel.quantity
        );
        match self.written {
            Some((number, file)) => {
                let file = file.display();
                let _ = writeln!(
                    out,
                    "written    no {number} to {file}; next `lapwright check {file}`"
                );
            }
            None => out += "next       --pick NO --write FILE makes one of them a panel file\n",
        }
        out
    }

    /// All of it for other programs.
    pub(in crate::cli) fn json(&self) -> Result<Vec<u8>, JobError> {
        let asked = self.asked;
        let range = |r: Range| json!([micron(r.least), micron(r.greatest)]);
        let [exact, by_surround, misses] = self.found.found;
        let sizes: Vec<Value> = (1_usize..)
            .zip(&self.found.best)
            .map(|(number, one)| size_json(number, one))
            .collect();
        let written = self
            .written
            .map(|(number, file)| json!({ "number": number, "file": file.display().to_string() }));
        let out = json!({
            "layout": self.start.files.panel.ground.layout.name(),
            "opening": self.opening.map(|o| o.map(micron)),
            "gap": micron(self.gap),
            "outer": asked.outer.map(micron),
            "pitch": range(asked.pitch),
            "pitch_up": range(asked.pitch_up),
            "angle": asked.angle.map(range),
            "surround": range(asked.surround),
            "tolerance": micron(asked.tolerance),
            "found": { "exact": exact, "by_surround": by_surround, "misses": misses },
            "quantity": self.start.files.panel.quantity,
            "sizes": sizes,
            "written": written,
        });
        let mut text = serde_json::to_vec_pretty(&out)
            .map_err(|e| JobError::Internal(format!("the sizes: {e}")))?;
        text.push(b'\n');
        Ok(text)
    }
}

fn row(number: usize, one: &PlannedSize) -> String {
    let fit = &one.fit;
    let widths = if fit.surround == [0.0; 2] {
        "none".to_owned()
    } else if fit.closes == Closes::BySurround {
        pair(fit.surround)
    } else {
        short(fit.surround[0])
    };
    let mut out = format!(
        " {number:>2}  {:<12} {:>7} x {:<6} {:<19} {widths:<15}",
        fit.closes.word(),
        fit.columns,
        fit.rows,
        pitch(&fit.layout),
    );
    match &one.figures {
        Ok(f) => {
            let stock: Vec<String> = f.stock.iter().map(|(n, k)| format!("{k} x {n}")).collect();
            let sticks = if f.sticks > 0 {
                f.sticks.to_string()
            } else {
                "-".to_owned()
            };
            let minutes = f
                .minutes
                .map_or_else(|| "-".to_owned(), |m| format!("{m:.1}"));
            let _ = writeln!(
                out,
                " {:>6} {sticks:>6} {minutes:>7}  {}",
                f.joints,
                stock.join(", ")
            );
        }
        Err(e) => {
            let _ = writeln!(out, " cannot be made: {}", gist(e));
        }
    }
    out + &how_it_closes(fit)
}

/// What is left over or lacks, and what takes it up; nothing of a size that is exact.
fn how_it_closes(fit: &FoundSize) -> String {
    let mut out = String::new();
    if fit.closes == Closes::Exact {
        return out;
    }
    let room = |off: f64, way: &str| match off {
        off if off > 0.005 => format!("{} left over in {way}", short(off)),
        off if off < -0.005 => format!("{} too much in {way}", short(-off)),
        _ => format!("{way} closes"),
    };
    if fit.closes == Closes::Misses {
        let _ = writeln!(
            out,
            "       {}, {}",
            room(fit.off[0], "width"),
            room(fit.off[1], "height")
        );
    }
    if fit.closes == Closes::BySurround {
        let way = match fit.past {
            Some(past) => format!(
                "written with {} all round: the bars run on {} past the joints at {}",
                short(fit.width()),
                short(past[0].max(past[1])),
                if past[0] > 0.0 {
                    "left and right"
                } else {
                    "bottom and top"
                }
            ),
            None => "not to be written: a panel file has a surround of one width, and bars cannot run on \
                     past a side along the inner edge"
                .to_owned(),
        };
        let _ = writeln!(out, "       {way}");
    }
    if let Some([width, height]) = fit.gives {
        let left = |g: Gives, sides: &str| {
            let words = if g.left < 0.0 { "lacking" } else { "left" };
            format!(
                "at {} ({} {words} on each side, {sides})",
                short(g.pitch),
                short(g.left.abs())
            )
        };
        let _ = writeln!(
            out,
            "       with {} all round, the width closes {}, the height {}",
            short(width.surround),
            left(width, "bottom and top"),
            left(height, "left and right"),
        );
    }
    out
}

/// The first thing that is wrong, in a line.
fn gist(e: &JobError) -> String {
    match e {
        JobError::Checks(checks) => {
            let failed = checks
                .iter()
                .find(|c| c.status == lapwright::safety::Status::Fail);
            failed.map_or_else(
                || e.to_string(),
                |c| {
                    format!(
                        "{} {} {unit}, must be {} {} {unit}",
                        c.id,
                        short(c.value),
                        c.bound.word(),
                        short(c.limit),
                        unit = c.unit
                    )
                },
            )
        }
        JobError::Panel(list) => {
            let first = list.first().and_then(|f| f.list().first());
            first.map_or_else(|| e.to_string(), |f| f.message.clone())
        }
        other => other
            .to_string()
            .lines()
            .next()
            .unwrap_or_default()
            .to_owned(),
    }
}

fn size_json(number: usize, one: &PlannedSize) -> Value {
    let FoundSize {
        columns,
        rows,
        layout,
        surround,
        closes,
        ground,
        left,
        off,
        past,
        gives,
    } = &one.fit;
    let angle = match *layout {
        Layout::Diamond { angle_deg, .. } => Some(angle_deg),
        _ => None,
    };
    let gives = gives.map(|g| {
        g.map(|g| {
            json!({
                "surround": micron(g.surround), "pitch": micron(g.pitch), "left": micron(g.left),
            })
        })
    });
    let planned = one.figures.as_ref().ok().map(figures_json);
    json!({
        "number": number,
        "closes": closes.word(),
        "columns": columns,
        "rows": rows,
        "pitch": layout.pitches().map(|p| p.map(micron)),
        "angle": angle.map(micron),
        "ground": ground.map(micron),
        "left": left.map(micron),
        "surround": surround.map(micron),
        "off": off.map(micron),
        "past": past.map(|p| p.map(micron)),
        "gives": gives,
        "planned": planned,
        "refused": one.figures.as_ref().err().map(ToString::to_string),
    })
}

fn figures_json(f: &Figures) -> Value {
    json!({
        "members": f.members,
        "classes": f.classes,
        "notches": f.notches,
        "joints": f.joints,
        "sticks": f.sticks,
        "stock": f.stock,
        "minutes": f.minutes.map(micron),
    })
}
