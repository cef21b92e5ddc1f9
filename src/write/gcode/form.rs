//! Templates of moves, taken apart into what always stands and the places of their values.
//!
//! Most blocks of a program are moves, and but for their values they are alike. So the engine is asked once, with a mark in
//! the place of each value; what it makes of the template is kept, and filled in for every move. That gives what the
//! engine would: the language has no choice that hangs on anything of a value but that it is there (`language.rs`), and
//! a template that works something out is left to the engine.

use super::template::Key;

/// Begins a mark; no template has it, for it is no letter that may be written.
const MARK: char = '\u{1}';

/// Most values of a block, its feed among them.
const MOST: usize = 5;

/// The values of a block as they are written, in the order of [`Key::own_values`].
#[derive(Debug, Default)]
pub(super) struct Slots {
    text: String,
    ends: [usize; MOST],
    count: usize,
}

impl Slots {
    pub(super) fn clear(&mut self) {
        self.text.clear();
        self.count = 0;
    }

    /// Adds what `write` writes; what is one too many is left out, and its template then lacks it.
    pub(super) fn push(&mut self, write: impl FnOnce(&mut String)) {
        write(&mut self.text);
        if let Some(end) = self.ends.get_mut(self.count) {
            *end = self.text.len();
            self.count += 1;
        }
    }

    fn get(&self, place: usize) -> Option<&str> {
        let end = *self.ends.get(..self.count)?.get(place)?;
        let start = match place.checked_sub(1) {
            Some(before) => *self.ends.get(before)?,
            None => 0,
        };
        self.text.get(start..end)
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = &str> {
        (0..self.count).map_while(|place| self.get(place))
    }
}

/// A template of a move: what stands first, then the place of a value and what stands after it.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Form {
    first: String,
    rest: Vec<(usize, String)>,
}

impl Form {
    /// The keys of the templates that are taken apart: those of all moves and switches between them.
    pub(super) const KEYS: [Key; 8] = [
        Key::Travel,
        Key::Raise,
        Key::Plunge,
        Key::Line,
        Key::ArcCw,
        Key::ArcCcw,
        Key::BeamOn,
        Key::BeamOff,
    ];

    /// Whether a text can be taken apart: one of a template, or of a value that all templates have.
    pub(super) fn is_free(text: &str) -> bool {
        !text.contains(MARK)
    }

    /// What stands in the place of a value while the engine is asked.
    pub(super) fn mark(place: usize) -> String {
        format!("{MARK}{place}")
    }

    /// Takes apart what the engine has made of marks.
    pub(super) fn of(rendered: &str) -> Option<Self> {
        let mut parts = rendered.split(MARK);
        let first = parts.next()?.to_owned();
        let place = |part: &str| {
            // A place has one digit.
            let (place, after) = part.split_at_checked(1)?;
            Some((place.parse().ok()?, after.to_owned()))
        };
        let rest = parts.map(place).collect::<Option<_>>()?;
        Some(Self { first, rest })
    }

    /// The template with these values, into `out`; `None` where it has a place for more.
    pub(super) fn fill(&self, values: &Slots, out: &mut String) -> Option<()> {
        out.clear();
        out.push_str(&self.first);
        for (place, after) in &self.rest {
            out.push_str(values.get(*place)?);
            out.push_str(after);
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use minijinja::Value;

    use super::super::number::Grid;
    use super::super::template::{Sources, Templates, with_names};
    use super::*;
    use crate::panel::{BUILTIN, JobFiles, Post, SourceKind};

    #[test]
    fn a_form_is_filled_in_place_by_place() {
        let text = format!("G1 X{} Y{}\nF", Form::mark(0), Form::mark(1));
        let form = Form::of(&text).expect("two marks");
        let mut slots = Slots::default();
        let mut out = String::from("old");
        slots.push(|text| text.push_str("1.5"));
        assert_eq!(form.fill(&slots, &mut out), None, "y is not there");
        slots.push(|text| text.push_str("-2"));
        slots.push(|text| text.push_str("900"));
        assert_eq!(form.fill(&slots, &mut out), Some(()));
        assert_eq!(out, "G1 X1.5 Y-2\nF");
        assert_eq!(slots.iter().collect::<Vec<_>>(), ["1.5", "-2", "900"]);
        slots.clear();
        assert_eq!(slots.iter().count(), 0);
    }

    #[test]
    fn what_is_no_mark_is_no_form() {
        for text in ["X\u{1}", "X\u{1}y", "X\u{1}\u{e9}"] {
            assert_eq!(Form::of(text), None, "{text:?}");
        }
        let plain = Form::of("M3").expect("no mark at all");
        let mut out = String::new();
        assert_eq!(plain.fill(&Slots::default(), &mut out), Some(()));
        assert_eq!(out, "M3");
        assert!(!Form::is_free("G1 \u{1}"));
    }

    /// A panel's own dialect and all others for its kind of head.
    fn dialects() -> Vec<Post> {
        let mut all = Vec::new();
        for (panel, kind) in [("demo", "laser-"), ("router-square", "router-")] {
            let files = JobFiles::builtin_panel(panel).expect("built in");
            let posts = BUILTIN.iter().filter(|b| b.kind == SourceKind::Post);
            for post in posts.filter(|b| b.name.starts_with(kind)) {
                let mut sources = files.sources.clone();
                let own = sources.iter_mut().find(|s| s.kind == SourceKind::Post);
                own.expect("a dialect").bytes = post.text.into();
                let files = JobFiles::from_sources(sources).expect("sound");
                all.push(files.own().expect("a machine").post.clone());
            }
        }
        assert!(all.len() > 5, "all dialects");
        all
    }

    /// Holds what is filled in against what the engine makes of the same values; tells whether there is a form.
    fn held(post: &Post, key: Key) -> bool {
        let grid = Grid::new(&post.gcode.number).expect("sound");
        let globals = vec![
            ("name", Value::from("sample")),
            ("cut_feed", Value::from("900")),
            ("power_word", Value::from("600")),
        ];
        let sources = Sources::of(&post.gcode.templates).expect("sound");
        let env = sources.environment(&globals).expect("sound");
        let templates = Templates::new(&env, &sources, globals, grid).expect("sound");
        let mut has_form = true;
        for changed in [false, true] {
            has_form &= templates.form(key, changed).is_some();
            for cells in [[0, -1, 12_345, 7, 99_999_999], [5, 120_000, -33, 1_000, 0]] {
                let mut slots = Slots::default();
                for cell in cells.into_iter().take(key.own_values().len()) {
                    slots.push(|text| grid.push_digits(cell, text));
                }
                let mut filled = "left over".to_owned();
                let told = templates.render_move(key, &slots, changed, &mut filled);
                let values = cells.map(|cell| grid.text(cell).to_string());
                let engine = templates.render(key, with_names(key, values.into_iter(), changed));
                assert_eq!(told.map(|()| filled), engine, "{key:?}");
            }
        }
        has_form
    }

    /// A form that is filled in gives what the engine does, in every dialect and every template of a move.
    #[test]
    fn forms_give_what_the_engine_gives() {
        for post in dialects() {
            for key in Form::KEYS {
                assert!(held(&post, key), "{}: {key:?}", post.gcode.templates.line);
            }
        }
    }

    /// Blanks that a template drops, choices and remarks are the same for every value; a sum is left to the engine, and
    /// so is what it refuses.
    #[test]
    fn odd_templates_are_written_as_by_the_engine() {
        let mut post = dialects().remove(0);
        for (line, form) in [
            (
                "G1{% if feed_changed -%}  F{{ feed }}\n{%- endif %} X{{x}}Y{{ y }}",
                true,
            ),
            (
                "{# a remark -#}\n\n G1 X{{ x -}}  Y{{- y }}  \n{% if not feed_changed %}G4{% else %}F{{feed}}{% endif %}",
                true,
            ),
            (
                "{% if x and y or feed %}G1 X{{ x }}{% elif name %}no{% endif %} Y{{ y }} {{ name }} {{ feed_changed }}",
                true,
            ),
            ("{{ y }}{{ x }}{{ x }}", true),
            ("no values", true),
            ("G1 X{{ x * 2 }} Y{{ y }} F{{ feed }}", false),
            ("G1 X{{ x }} Z{{ z }}", false),
            ("G1 X{{ x }} \u{1}0", false),
        ] {
            post.gcode.templates.line = line.into();
            assert_eq!(held(&post, Key::Line), form, "{line}");
        }
    }
}
