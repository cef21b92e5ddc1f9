//! The templates of a dialect: compiled once, rendered for every block.

use std::sync::Arc;

use minijinja::value::Object;
use minijinja::{AutoEscape, Environment, ErrorKind, Template, UndefinedBehavior, Value};

use crate::panel;

use super::PostError;
use super::form::{Form, Slots};
use super::language::{self, Checked, sum_of_name};
use super::number::Grid;
use super::sum::Sum;

/// The value that tells a feed, and the one that tells whether it has changed.
pub(super) const FEED: &str = "feed";
pub(super) const FEED_CHANGED: &str = "feed_changed";

/// Steps that one rendering may take: a template of a few lines takes some dozens, and the longest that the
/// language allows fewer than this.
const FUEL: u64 = 10_000;

/// One of a dialect's templates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Key {
    Begin,
    End,
    ToolChange,
    LengthOffset,
    StartHead,
    StopHead,
    Park,
    BeamOn,
    BeamOff,
    Travel,
    Raise,
    Plunge,
    Line,
    ArcCw,
    ArcCcw,
    Remark,
}

impl Key {
    pub(super) const ALL: [Self; 16] = [
        Self::Begin,
        Self::End,
        Self::ToolChange,
        Self::LengthOffset,
        Self::StartHead,
        Self::StopHead,
        Self::Park,
        Self::BeamOn,
        Self::BeamOff,
        Self::Travel,
        Self::Raise,
        Self::Plunge,
        Self::Line,
        Self::ArcCw,
        Self::ArcCcw,
        Self::Remark,
    ];

    /// As the post-processor file calls it.
    fn name(self) -> &'static str {
        let path = self.path();
        path.strip_prefix("gcode.").unwrap_or(path)
    }

    /// With its table, as an error names it.
    pub(super) fn path(self) -> &'static str {
        match self {
            Self::Begin => "gcode.begin",
            Self::End => "gcode.end",
            Self::ToolChange => "gcode.tool_change",
            Self::LengthOffset => "gcode.length_offset",
            Self::StartHead => "gcode.start_head",
            Self::StopHead => "gcode.stop_head",
            Self::Park => "gcode.park",
            Self::BeamOn => "gcode.beam_on",
            Self::BeamOff => "gcode.beam_off",
            Self::Travel => "gcode.travel",
            Self::Raise => "gcode.raise",
            Self::Plunge => "gcode.plunge",
            Self::Line => "gcode.line",
            Self::ArcCw => "gcode.arc_cw",
            Self::ArcCcw => "gcode.arc_ccw",
            Self::Remark => "gcode.remark",
        }
    }

    fn source(self, t: &panel::Templates) -> &str {
        match self {
            Self::Begin => &t.begin,
            Self::End => &t.end,
            Self::ToolChange => &t.tool_change,
            Self::LengthOffset => &t.length_offset,
            Self::StartHead => &t.start_head,
            Self::StopHead => &t.stop_head,
            Self::Park => &t.park,
            Self::BeamOn => &t.beam_on,
            Self::BeamOff => &t.beam_off,
            Self::Travel => &t.travel,
            Self::Raise => &t.raise,
            Self::Plunge => &t.plunge,
            Self::Line => &t.line,
            Self::ArcCw => &t.arc_cw,
            Self::ArcCcw => &t.arc_ccw,
            Self::Remark => &t.remark,
        }
    }

    /// What tells a head to be off before an air run.
    pub(super) fn stops(laser: bool) -> Self {
        if laser { Self::BeamOff } else { Self::StopHead }
    }

    /// The head that never uses it: `Some(true)` a laser, `Some(false)` a router.
    pub(super) fn unused_by(self) -> Option<bool> {
        match self {
            Self::Raise | Self::Plunge | Self::ToolChange | Self::LengthOffset => Some(true),
            Self::BeamOn | Self::BeamOff => Some(false),
            _ => None,
        }
    }

    /// Whether it may be empty, and is then left out: what it would write stands elsewhere, or nowhere.
    pub(super) fn may_be_empty(self, laser: bool) -> bool {
        match self {
            Self::ToolChange | Self::LengthOffset | Self::Park => true,
            // The last cut has switched the beam off.
            Self::StopHead => laser,
            _ => false,
        }
    }

    /// Values of its own that it must write.
    pub(super) fn own_values(self) -> &'static [&'static str] {
        match self {
            Self::Travel => &["x", "y"],
            Self::Raise => &["z"],
            Self::Plunge => &["z", "feed"],
            Self::Line => &["x", "y", "feed"],
            Self::ArcCw | Self::ArcCcw => &["x", "y", "i", "j", "feed"],
            Self::Remark => &["text"],
            _ => &[],
        }
    }
}

/// The values of one block, and the sums of its template. A block has at most seven values, so that a search along
/// the list is quickest.
#[derive(Debug)]
struct Values {
    own: Vec<(&'static str, Value)>,
    globals: Arc<Globals>,
    sums: Arc<[Sum]>,
    grid: Grid,
}

/// Values that every template may use.
pub(super) type Globals = Vec<(&'static str, Value)>;

impl Values {
    fn names(&self) -> impl Iterator<Item = &'static str> {
        self.own
            .iter()
            .chain(self.globals.iter())
            .map(|(name, _)| *name)
    }

    /// The number behind a name.
    fn number(&self, name: &str) -> Result<f64, String> {
        let found = self
            .own
            .iter()
            .chain(self.globals.iter())
            .find(|(n, _)| *n == name);
        let Some((_, value)) = found else {
            let names: Vec<&str> = self.names().collect();
            return Err(format!(
                "there is no value `{name}`; this template has {}",
                names.join(", ")
            ));
        };
        let number = value
            .to_string()
            .parse::<f64>()
            .ok()
            .filter(|v| v.is_finite());
        number.ok_or_else(|| {
            format!("`{name}` is no number, so that nothing can be worked out with it")
        })
    }

    /// What a sum comes to, as text.
    fn sum(&self, sum: &Sum) -> Result<String, String> {
        self.grid
            .worked_out(sum.work_out(|name| self.number(name))?)
    }
}

impl Object for Values {
    fn get_value(self: &Arc<Self>, key: &Value) -> Option<Value> {
        key.as_str().and_then(|key| self.get_value_by_str(key))
    }

    fn get_value_by_str(self: &Arc<Self>, key: &str) -> Option<Value> {
        if let Some(sum) = sum_of_name(key).and_then(|n| self.sums.get(n)) {
            // The engine tells the line at which it meets an error in place of a value.
            return Some(match self.sum(sum) {
                Ok(text) => Value::from(text),
                Err(reason) => {
                    Value::from(minijinja::Error::new(ErrorKind::BadSerialization, reason))
                }
            });
        }
        let found = self.own.iter().find(|(name, _)| *name == key);
        found.map(|(_, value)| value.clone())
    }
}

/// The templates of a dialect, each checked to say nothing but what the language has.
pub(super) struct Sources(Vec<(Key, Checked)>);

impl Sources {
    pub(super) fn of(templates: &panel::Templates) -> Result<Self, PostError> {
        let checked = |key: Key| {
            let checked = language::check(key.source(templates)).map_err(|slip| PostError {
                key: key.path().into(),
                line: Some(slip.line),
                reason: slip.reason,
            })?;
            Ok((key, checked))
        };
        Key::ALL
            .into_iter()
            .map(checked)
            .collect::<Result<_, _>>()
            .map(Self)
    }

    /// Compiles them; `globals` are the values that all of them may use.
    pub(super) fn environment(&self, globals: &Globals) -> Result<Environment<'_>, PostError> {
        // No filters, no tests, no functions: the language has none.
        let mut env = Environment::empty();
        env.set_undefined_behavior(UndefinedBehavior::Strict);
        env.set_auto_escape_callback(|_| AutoEscape::None);
        env.set_fuel(Some(FUEL));
        for (key, checked) in &self.0 {
            env.add_template(key.name(), &checked.text)
                .map_err(|e| refused(*key, &e))?;
        }
        for (name, value) in globals {
            env.add_global(*name, value.clone());
        }
        Ok(env)
    }
}

fn refused(key: Key, e: &minijinja::Error) -> PostError {
    let reason = match e.detail() {
        // A sum that cannot be worked out says all there is to say.
        Some(detail) if e.kind() == ErrorKind::BadSerialization => detail.to_owned(),
        Some(detail) => format!("{}: {detail}", e.kind()),
        None if e.kind() == minijinja::ErrorKind::UndefinedError => {
            "uses a value that this template does not have".into()
        }
        None => e.kind().to_string(),
    };
    PostError {
        key: key.path().into(),
        line: e.line(),
        reason,
    }
}

/// The compiled templates, each looked up once.
pub(super) struct Templates<'e> {
    all: Vec<(Key, Template<'e, 'e>, Arc<[Sum]>)>,
    globals: Arc<Globals>,
    grid: Grid,
    /// Templates of moves that can be taken apart: for a feed that is in force, or none, and for one that has changed.
    forms: Vec<(Key, [Option<Form>; 2])>,
}

impl<'e> Templates<'e> {
    /// The templates of `env`, which `sources` has made with these `globals`.
    pub(super) fn new(
        env: &'e Environment<'_>,
        sources: &Sources,
        globals: Globals,
        grid: Grid,
    ) -> Result<Self, PostError> {
        let mut all = Vec::with_capacity(Key::ALL.len());
        for (key, checked) in &sources.0 {
            let template = env
                .get_template(key.name())
                .map_err(|e| refused(*key, &e))?;
            all.push((*key, template, checked.sums.as_slice().into()));
        }
        let globals = Arc::new(globals);
        let mut templates = Self {
            all,
            globals,
            grid,
            forms: Vec::new(),
        };
        let forms = Form::KEYS.map(|key| (key, [false, true].map(|c| templates.form(key, c))));
        templates.forms = forms.into();
        Ok(templates)
    }

    /// What the engine makes of a template, taken apart; `None` of one that must be left to it.
    pub(super) fn form(&self, key: Key, feed_changed: bool) -> Option<Form> {
        let (_, template, sums) = self.all.iter().find(|(k, ..)| *k == key)?;
        let mut globals = self.globals.iter();
        let free = Form::is_free(template.source())
            && globals.all(|(_, value)| Form::is_free(&value.to_string()));
        if !free || !sums.is_empty() {
            return None;
        }
        let marks = (0..key.own_values().len()).map(Form::mark);
        let values = with_names(key, marks, feed_changed);
        Form::of(&self.render(key, values).ok()?)
    }

    /// Renders a template of a move into `out`: `slots` are its own values.
    pub(super) fn render_move(
        &self,
        key: Key,
        slots: &Slots,
        feed_changed: bool,
        out: &mut String,
    ) -> Result<(), PostError> {
        let form = self.forms.iter().find(|(k, _)| *k == key);
        let form = form.and_then(|(_, forms)| forms[usize::from(feed_changed)].as_ref());
        if form.and_then(|form| form.fill(slots, out)).is_none() {
            let values = slots.iter().map(str::to_owned);
            *out = self.render(key, with_names(key, values, feed_changed))?;
        }
        Ok(())
    }

    /// Characters on the longest line of a remark beside its text.
    pub(super) fn remark_frame(&self) -> Result<usize, PostError> {
        let lines = self.render(Key::Remark, vec![("text", Value::from("x"))])?;
        let longest = lines.lines().map(str::len).max().unwrap_or_default();
        Ok(longest.saturating_sub(1))
    }

    /// Whether a template has nothing to write.
    pub(super) fn is_empty(&self, key: Key) -> bool {
        let found = self.all.iter().find(|(k, ..)| *k == key);
        found.is_none_or(|(_, template, _)| template.source().trim().is_empty())
    }

    pub(super) fn render(
        &self,
        key: Key,
        values: Vec<(&'static str, Value)>,
    ) -> Result<String, PostError> {
        let Some((_, template, sums)) = self.all.iter().find(|(k, ..)| *k == key) else {
            return Err(PostError::new(key, "is missing"));
        };
        let values = Arc::new(Values {
            own: values,
            globals: self.globals.clone(),
            sums: sums.clone(),
            grid: self.grid,
        });
        template
            .render(Value::from_dyn_object(values.clone()))
            .map_err(|e| told(key, template, &values, &e))
    }
}

/// A block's own values with their names, and whether its feed has changed where it has one.
pub(super) fn with_names(
    key: Key,
    values: impl Iterator<Item = String>,
    feed_changed: bool,
) -> Vec<(&'static str, Value)> {
    let names = key.own_values();
    let own = names.iter().zip(values);
    let mut own: Vec<_> = own.map(|(name, v)| (*name, Value::from(v))).collect();
    if names.contains(&FEED) {
        own.push((FEED_CHANGED, Value::from(feed_changed)));
    }
    own
}

/// The error, with the name of a value that is not there.
fn told(key: Key, template: &Template, values: &Values, e: &minijinja::Error) -> PostError {
    let mut error = refused(key, e);
    if e.kind() == ErrorKind::UndefinedError {
        let known: Vec<&str> = values.names().collect();
        let mut unknown: Vec<String> = template.undeclared_variables(false).into_iter().collect();
        unknown.retain(|name| !known.contains(&name.as_str()) && sum_of_name(name).is_none());
        unknown.sort();
        if !unknown.is_empty() {
            error.reason = format!(
                "there is no value `{}`; this template has {}",
                unknown.join("`, `"),
                known.join(", ")
            );
        }
    }
    error
}
