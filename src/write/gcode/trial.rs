//! The templates of a dialect, tried before any planning.

use minijinja::Value;

use crate::panel::{GcodeDialect, Post};

use super::PostError;
use super::lines::Lines;
use super::number::Grid;
use super::template::{FEED, FEED_CHANGED, Key, Sources, Templates};

/// Tries all templates with sample values. See [`super::check_templates`].
pub(super) fn check(post: &Post) -> Result<(), PostError> {
    let dialect = &post.gcode;
    let laser = dialect.drives_laser;
    let arcs = dialect.number.chord_mm.is_none();
    let grid = Grid::new(&dialect.number)?;
    let mut globals = vec![
        ("name", Value::from("sample")),
        ("cut_feed", Value::from("900")),
    ];
    if laser {
        globals.push(("power_word", Value::from("600")));
    } else {
        globals.extend([
            ("speed", Value::from("16000")),
            ("dwell", Value::from("2.5")),
            ("plunge_feed", Value::from("300")),
            ("safe_z", grid.text(15_000)),
            ("tool_number", Value::from(1)),
            ("tool_name", Value::from("straight cutter")),
            ("tool_diameter", grid.text(3_000)),
        ]);
    }
    let sources = Sources::of(&dialect.templates)?;
    let env = sources.environment(&globals)?;
    let templates = Templates::new(&env, &sources, globals, grid)?;
    let try_out = Trial {
        dialect,
        templates: &templates,
        grid,
    };
    for key in Key::ALL {
        let empty = templates.is_empty(key);
        let unused = if key.unused_by() == Some(laser) {
            Some(if laser { "a laser" } else { "a router" })
        } else if matches!(key, Key::ArcCw | Key::ArcCcw) && !arcs {
            Some("a dialect without arcs")
        } else {
            None
        };
        if let Some(who) = unused {
            if !empty {
                return Err(PostError::new(
                    key,
                    format!("{who} never uses this template; leave it empty"),
                ));
            }
            continue;
        }
        if !(empty && key.may_be_empty(laser)) {
            try_out.template(key)?;
        }
    }
    Ok(())
}

/// Templates with what they are tried in.
struct Trial<'t> {
    dialect: &'t GcodeDialect,
    templates: &'t Templates<'t>,
    grid: Grid,
}

impl Trial<'_> {
    fn template(&self, key: Key) -> Result<(), PostError> {
        let lines = self.sample(key, None)?;
        if lines.is_empty() {
            return Err(PostError::new(key, "writes nothing"));
        }
        for &name in key.own_values() {
            if self.sample(key, Some(name))? == lines {
                return Err(PostError::new(
                    key,
                    format!("does not write {{{{ {name} }}}}"),
                ));
            }
        }
        // A feed that has not changed may be left out, and the block must still stand.
        if key.own_values().contains(&FEED) {
            let mut values = sample_values(key, self.grid, None);
            values.push((FEED_CHANGED, Value::from(false)));
            if self.lines(key, values)?.is_empty() {
                return Err(PostError::new(
                    key,
                    "writes nothing where the feed stays the same",
                ));
            }
        }
        Ok(())
    }

    /// Renders a template with sample values, one of them altered if it is named.
    fn sample(&self, key: Key, altered: Option<&str>) -> Result<Vec<u8>, PostError> {
        let mut values = sample_values(key, self.grid, altered);
        if key.own_values().contains(&FEED) {
            values.push((FEED_CHANGED, Value::from(true)));
        }
        self.lines(key, values)
    }

    fn lines(&self, key: Key, values: Vec<(&'static str, Value)>) -> Result<Vec<u8>, PostError> {
        let mut lines = Lines::new(self.dialect);
        lines.push(key, &self.templates.render(key, values)?)?;
        Ok(lines.done().0)
    }
}

fn sample_values(key: Key, grid: Grid, altered: Option<&str>) -> Vec<(&'static str, Value)> {
    let pick = |name: &'static str| {
        let altered = altered == Some(name);
        let value = match name {
            "text" => Value::from(if altered {
                "another remark"
            } else {
                "a remark"
            }),
            "feed" => Value::from(if altered { "450" } else { "900" }),
            _ => grid.text(if altered { 77_777 } else { 12_345 }),
        };
        (name, value)
    };
    key.own_values().iter().map(|&name| pick(name)).collect()
}
