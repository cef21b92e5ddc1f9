//! What stands round the entities of a file: header, tables, blocks and objects, group by group.
//!
//! Nothing of it is free but how handles are numbered: a reader outside refuses or mends a row without a
//! name, an owner that is not there or a coordinate without its y, and each reader mends in its own way.

use std::collections::{BTreeMap, BTreeSet};
use std::slice;

use super::pairs::{Pair, decimal, handle, is_whole};
use super::{fault, missing};
use crate::panel::{DxfLayer, DxfVersion};
use crate::replay::ReplayFault;

/// What stands in a file, a group a line; the file itself tells how.
const R2000: &str = include_str!("r2000.groups");
/// The same of release R12.
const R12: &str = include_str!("r12.groups");

/// The groups before the entities and after them.
pub(super) struct Frame {
    pub(super) head: Vec<Wanted>,
    pub(super) tail: Vec<Wanted>,
}

/// A group that must stand, and the rule that it breaks if it does not.
pub(super) struct Wanted {
    code: u16,
    value: Value,
    rule: &'static str,
}

enum Value {
    Text(String),
    /// The handle of this name.
    Handle(String),
    /// A number that follows from the plan.
    Figure(&'static str),
}

/// A number of the frame, to be held against the plan.
#[derive(Debug)]
pub(super) struct Figure {
    pub(super) name: &'static str,
    pub(super) value: f64,
    pub(super) line: usize,
}

impl Frame {
    /// The frame of a file with these layers beside layer "0", in their order.
    ///
    /// # Errors
    /// A line of what must stand that is none: a file could not be held against it.
    pub(super) fn new(
        version: DxfVersion,
        layers: &[ListedLayer<'_>],
    ) -> Result<Self, ReplayFault> {
        let text = match version {
            DxfVersion::R2000 => R2000,
            DxfVersion::R12 => R12,
        };
        let mut groups = Vec::new();
        let mut head = None;
        let mut rule = "dxf-structure";
        for line in text.lines().filter(|line| !line.starts_with(';')) {
            match line {
                "" => {}
                "layers" => {
                    for layer in layers {
                        groups.extend(row(version, layer));
                    }
                }
                "entities" => head = Some(std::mem::take(&mut groups)),
                _ => {
                    let (code, value) = line.split_once(' ').unwrap_or((line, ""));
                    rule = match value {
                        "HEADER" => "dxf-header",
                        "LAYER" => "dxf-layer",
                        "ENDSEC" | "ENDTAB" => "dxf-structure",
                        _ => rule,
                    };
                    let value = match (value.split_at_checked(1), value) {
                        (_, "#rows") => Value::Text((layers.len() + 1).to_string()),
                        (Some(("@", name)), _) => Value::Handle(name.to_owned()),
                        (Some(("#", name)), _) => Value::Figure(name),
                        _ => Value::Text(value.to_owned()),
                    };
                    let code = code.parse().map_err(|_| unread(line))?;
                    groups.push(Wanted { code, value, rule });
                }
            }
        }
        Ok(Self {
            head: head.ok_or_else(|| unread("entities"))?,
            tail: groups,
        })
    }
}

fn unread(line: &str) -> ReplayFault {
    missing("dxf-plan", format!("no frame can be read from \"{line}\""))
}

/// A layer that a file lists.
#[derive(Debug, Clone, Copy)]
pub(super) struct ListedLayer<'a> {
    pub(super) layer: &'a DxfLayer,
    /// Whether what lies on it is cut.
    pub(super) cut: bool,
}

/// A row of the layer table (DXF reference, LAYER: 2 name, 70 flags, 62 colour, 6 line type, 290 whether
/// it is plotted): on, thawed, not locked; plotted only if it is cut.
fn row(version: DxfVersion, ListedLayer { layer, cut }: &ListedLayer<'_>) -> Vec<Wanted> {
    let text = |code, value: &str| (code, Value::Text(value.to_owned()));
    let mut row = vec![text(0, "LAYER")];
    if version == DxfVersion::R2000 {
        row.extend([
            (5, Value::Handle(format!("layer {}", layer.name))),
            (330, Value::Handle("table-layer".to_owned())),
            text(100, "AcDbSymbolTableRecord"),
            text(100, "AcDbLayerTableRecord"),
        ]);
    }
    row.extend([
        text(2, &layer.name),
        text(70, "0"),
        text(62, &layer.color.to_string()),
        text(6, "CONTINUOUS"),
    ]);
    let plotted = if *cut { "1" } else { "0" };
    row.extend((version == DxfVersion::R2000).then(|| text(290, plotted)));
    let rule = "dxf-layer";
    row.into_iter()
        .map(|(code, value)| Wanted { code, value, rule })
        .collect()
}

/// What was read of a frame.
#[derive(Debug, Default)]
pub(super) struct Reading {
    pub(super) handles: Handles,
    pub(super) figures: Vec<Figure>,
}

impl Reading {
    /// Takes the groups that must stand next.
    pub(super) fn follow(
        &mut self,
        wanted: &[Wanted],
        pairs: &mut slice::Iter<'_, Pair<'_>>,
    ) -> Result<(), ReplayFault> {
        for Wanted { code, value, rule } in wanted {
            let told = match value {
                Value::Text(text) => format!("\"{text}\""),
                Value::Handle(name) => format!("the handle of {name}"),
                Value::Figure(name) => format!("the figure {name}"),
            };
            let Some(pair) = pairs.next() else {
                let what = format!("the file is cut short before {told} under group {code}");
                return Err(missing("dxf-structure", what));
            };
            let fits = pair.code == *code
                && match value {
                    Value::Text(text) if is_whole(*code) => pair.value.trim_start() == text,
                    Value::Text(text) => pair.value == text,
                    Value::Handle(name) => {
                        self.handles.named(name, pair)?;
                        true
                    }
                    Value::Figure(name) => match decimal(pair.value) {
                        Some(value) => {
                            let line = pair.line;
                            self.figures.push(Figure { name, value, line });
                            true
                        }
                        None => false,
                    },
                };
            if !fits {
                let found = format!("\"{}\" under group {}", pair.value, pair.code);
                let what = format!("{found} where {told} under group {code} must stand");
                return Err(fault(rule, pair.line, what));
            }
        }
        Ok(())
    }
}

/// Handles (DXF reference, groups 5 and 105): none is 0, none stands for two things, and all lie below
/// $HANDSEED.
#[derive(Debug, Default)]
pub(super) struct Handles {
    named: BTreeMap<String, u64>,
    taken: BTreeSet<u64>,
}

/// The name of $HANDSEED, which is the next free handle and belongs to nothing.
const SEED: &str = "seed";
/// The name of the block record that owns what is drawn.
const MODEL: &str = "model";

impl Handles {
    /// Takes a handle of the frame, or a pointer to it.
    fn named(&mut self, name: &str, pair: &Pair<'_>) -> Result<(), ReplayFault> {
        match (handle(pair.value), self.named.get(name)) {
            (Some(found), Some(known)) if found == *known => Ok(()),
            (_, Some(known)) => {
                let what = format!("\"{}\" where the handle {known:X} must stand", pair.value);
                Err(fault("dxf-structure", pair.line, what))
            }
            (_, None) => {
                let found = self.own(pair)?;
                self.named.insert(name.to_owned(), found);
                Ok(())
            }
        }
    }

    /// Takes the handle of something new.
    pub(super) fn own(&mut self, pair: &Pair<'_>) -> Result<u64, ReplayFault> {
        let what = match handle(pair.value) {
            None | Some(0) => "is no handle",
            Some(found) if self.taken.insert(found) => return Ok(found),
            Some(_) => "is taken",
        };
        let what = format!("the handle \"{}\" {what}", pair.value);
        Err(fault("dxf-structure", pair.line, what))
    }

    /// Takes the owner of something drawn: model space.
    pub(super) fn model(&self, pair: &Pair<'_>) -> Result<(), ReplayFault> {
        if handle(pair.value).is_some_and(|found| self.named.get(MODEL) == Some(&found)) {
            return Ok(());
        }
        let what = format!("its owner \"{}\" is not model space", pair.value);
        Err(fault("dxf-structure", pair.line, what))
    }

    /// All handles lie below the seed, where there is one.
    pub(super) fn check(&self) -> Result<(), ReplayFault> {
        let Some(seed) = self.named.get(SEED) else {
            return Ok(());
        };
        match self.taken.last() {
            Some(last) if last == seed => Ok(()),
            _ => Err(missing(
                "dxf-header",
                format!("$HANDSEED {seed:X} does not lie above all handles"),
            )),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_is_a_group() {
        for (version, text) in [(DxfVersion::R2000, R2000), (DxfVersion::R12, R12)] {
            let frame = Frame::new(version, &[]).expect("every line");
            let told = |line: &&str| {
                !line.is_empty()
                    && !line.starts_with(';')
                    && !matches!(*line, "layers" | "entities")
            };
            let lines = text.lines().filter(told).count();
            assert_eq!(frame.head.len() + frame.tail.len(), lines, "{version:?}");
            let ends = |group: Option<&Wanted>, wanted: &str| {
                group.is_some_and(|g| matches!(&g.value, Value::Text(text) if text == wanted))
            };
            assert!(ends(frame.head.first(), "SECTION"), "{version:?}");
            assert!(ends(frame.head.last(), "ENTITIES"), "{version:?}");
            assert!(ends(frame.tail.last(), "EOF"), "{version:?}");
        }
    }

    #[test]
    fn a_handle_stands_for_one_thing() {
        let pair = |value| Pair {
            code: 5,
            value,
            line: 7,
        };
        let mut handles = Handles::default();
        assert!(handles.named(SEED, &pair("1F")).is_ok(), "the first");
        assert!(handles.named(MODEL, &pair("A")).is_ok(), "another");
        assert!(handles.named(MODEL, &pair("A")).is_ok(), "a pointer to it");
        for (name, value) in [
            (MODEL, "B"),
            ("other", "A"),
            ("other", "0"),
            ("other", "0B"),
        ] {
            let taken = handles.named(name, &pair(value));
            assert!(taken.is_err(), "{value} for {name}");
        }
        assert!(handles.model(&pair("A")).is_ok(), "drawn there");
        assert!(handles.model(&pair("1F")).is_err(), "drawn elsewhere");
        assert_eq!(handles.check(), Ok(()), "below the seed");
        assert_eq!(handles.own(&pair("20")), Ok(0x20), "a new one");
        assert!(handles.check().is_err(), "above the seed");
    }
}
