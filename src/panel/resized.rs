//! Puts a size into a maker's panel file; comments and everything else stay as they are.

use toml_edit::Value;

use super::edit::with_number;
use super::load::Raw;
use super::read_panel::read_panel;
use super::{Faults, FileText, Layout, OutlineShape, Panel, SideRule, Size, SourceKind};

/// The panel file's text with the size of `to`: columns, rows, pitches, angle, width of the surround, and
/// how far its sides lie outside. A file without a surround gets a table for it at its end.
///
/// # Errors
/// The file is no sound panel file, differs from `to` in more than its size, or cannot take the values.
pub fn with_size(file: &str, bytes: &[u8], to: &Panel) -> Result<String, Faults> {
    let parse =
        |text: &str| Raw::from_bytes(SourceKind::Panel, file, text.as_bytes()).parse(read_panel);
    let (before, own) = Raw::from_bytes(SourceKind::Panel, file, bytes).parse(read_panel)?;
    let mut text = own.text.clone();
    for (key, value) in size_keys(to)
        .into_iter()
        .chain(side_keys(&before.panel, to))
    {
        let spans = parse(&text)?.1;
        text = with_number(&spans, key, value)?;
    }
    match (&before.panel.surround, &to.surround) {
        (Some(was), Some(to)) if was.width == to.width => {}
        (Some(_), Some(to)) => {
            text = with_number(&parse(&text)?.1, "surround.width", number(to.width))?;
        }
        (None, Some(to)) => text = with_surround(&text, to.width),
        _ => {}
    }
    let (mut after, _) = parse(&text)?;
    // What stands in where the file leaves the relief to the machine.
    after.panel.cut.relief = to.cut.relief;
    if after.panel != *to {
        return Err(refused(&own));
    }
    Ok(text)
}

fn refused(own: &FileText) -> Faults {
    let hint = "put columns, rows and pitch on lines of their own in [ground]";
    let message = "the size cannot be changed without changing more";
    own.fault("ground", message, Some(hint.into()))
}

/// A table for the surround at the end of a file, its lines ending as the first one does.
fn with_surround(text: &str, width: f64) -> String {
    let end = match text.split_once('\n') {
        Some((first, _)) if first.ends_with('\r') => "\r\n",
        _ => "\n",
    };
    let gap = if text.is_empty() || text.ends_with('\n') {
        ""
    } else {
        end
    };
    let width = number(width);
    format!("{text}{gap}{end}[surround]{end}width = {width}{end}")
}

/// A whole number is written without a point.
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1e9 {
        Value::from(value as i64)
    } else {
        Value::from(value)
    }
}

/// The keys that say how large a ground is.
fn size_keys(panel: &Panel) -> Vec<(&'static str, Value)> {
    let mut keys = match panel.ground.layout {
        Layout::Square {
            pitch_across,
            pitch_up,
        } => vec![
            ("ground.pitch_across", number(pitch_across)),
            ("ground.pitch_up", number(pitch_up)),
        ],
        Layout::Diamond {
            pitch, angle_deg, ..
        } => vec![
            ("ground.pitch", number(pitch)),
            ("ground.angle", number(angle_deg)),
        ],
        Layout::ThreeWay { pitch, .. }
        | Layout::OpenThreeWay { pitch, .. }
        | Layout::EightPoint { pitch } => vec![("ground.pitch", number(pitch))],
        Layout::Free(_) => Vec::new(),
    };
    if let OutlineShape::Rectangle {
        size: Size::Spacings { columns, rows },
        ..
    } = panel.outline.shape
    {
        keys.push(("ground.columns", Value::from(i64::from(columns))));
        keys.push(("ground.rows", Value::from(i64::from(rows))));
    }
    keys
}

/// The sides of a rectangle that lie further outside than before.
fn side_keys(before: &Panel, to: &Panel) -> Vec<(&'static str, Value)> {
    let rules = |panel: &Panel| match panel.outline.shape {
        OutlineShape::Rectangle { sides, .. } => {
            Some([sides.left, sides.right, sides.bottom, sides.top])
        }
        OutlineShape::Polygon { .. } => None,
    };
    let names = [
        "outline.left",
        "outline.right",
        "outline.bottom",
        "outline.top",
    ];
    let (Some(before), Some(to)) = (rules(before), rules(to)) else {
        return Vec::new();
    };
    let changed = names.into_iter().zip(before.into_iter().zip(to));
    let clear = changed.filter_map(|(key, (before, to))| match to {
        SideRule::Clear(d) if before != to => {
            let table = toml_edit::InlineTable::from_iter([("clear", number(d))]);
            Some((key, Value::InlineTable(table)))
        }
        _ => None,
    });
    clear.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::{JobFiles, Surround, new_layouts, new_panel};

    fn sized(panel: &Panel) -> Panel {
        let mut panel = panel.clone();
        match &mut panel.ground.layout {
            Layout::Square {
                pitch_across,
                pitch_up,
            } => [*pitch_across, *pitch_up] = [31.25, 28.0],
            Layout::Diamond {
                pitch, angle_deg, ..
            } => [*pitch, *angle_deg] = [33.4, 41.0],
            Layout::ThreeWay { pitch, .. }
            | Layout::OpenThreeWay { pitch, .. }
            | Layout::EightPoint { pitch } => *pitch = 43.21,
            Layout::Free(_) => {}
        }
        if let OutlineShape::Rectangle { size, .. } = &mut panel.outline.shape {
            *size = Size::Spacings {
                columns: 5,
                rows: 7,
            };
        }
        if let OutlineShape::Rectangle { sides, .. } = &mut panel.outline.shape
            && sides.top != SideRule::InnerEdge
        {
            [sides.bottom, sides.top] = [SideRule::Clear(11.5), SideRule::Clear(12.0)];
        }
        let surround = panel.surround.take();
        let surround = surround.unwrap_or_else(|| Surround::mitred(9.5, panel.ground.depth));
        panel.surround = Some(Surround {
            width: 9.5,
            ..surround
        });
        panel
    }

    #[test]
    fn only_the_size_changes_in_every_starter() {
        for layout in new_layouts().into_iter().filter(|l| *l != "free") {
            let text = new_panel(layout).expect("a starter");
            for text in [text.to_owned(), text.replace('\n', "\r\n")] {
                let files = JobFiles::from_text("p.toml", text.as_bytes(), None).expect("sound");
                let to = sized(&files.panel);
                let after = with_size("p.toml", text.as_bytes(), &to).expect("changed");
                let again = JobFiles::from_text("p.toml", after.as_bytes(), None).expect("sound");
                assert_eq!(again.panel, to, "{layout}");
                let comments = |text: &str| -> Vec<String> {
                    let tail = |l: &str| l.split_once('#').map(|(_, c)| c.to_owned());
                    text.split_inclusive('\n').filter_map(tail).collect()
                };
                assert_eq!(comments(&after), comments(&text), "{layout}");
            }
        }
    }

    #[test]
    fn a_panel_without_a_surround_gets_one() {
        let text = new_panel("eight-point").expect("a starter");
        let (head, rest) = text.split_once("[surround]").expect("a surround");
        let rest = rest.split_once("[cut]").expect("a table after it").1;
        for text in [
            format!("{head}[cut]{rest}"),
            format!("{head}[cut]{rest}").trim_end().to_owned(),
            format!("{head}[cut]{rest}").replace('\n', "\r\n"),
        ] {
            let files = JobFiles::from_text("p.toml", text.as_bytes(), None).expect("sound");
            let to = sized(&files.panel);
            let after = with_size("p.toml", text.as_bytes(), &to).expect("changed");
            let again = JobFiles::from_text("p.toml", after.as_bytes(), None).expect("sound");
            assert_eq!(again.panel, to);
            assert_eq!(after.contains("\r\n[surround]"), text.contains('\r'));
        }
    }

    #[test]
    fn a_file_that_differs_in_more_is_refused() {
        let text = new_panel("square").expect("a starter");
        let files = JobFiles::from_text("p.toml", text.as_bytes(), None).expect("sound");
        let mut to = sized(&files.panel);
        to.ground.depth += 1.0;
        assert!(with_size("p.toml", text.as_bytes(), &to).is_err());
    }
}
