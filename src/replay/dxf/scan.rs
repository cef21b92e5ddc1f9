//! What a file of ours may hold, group by group, and what this one holds.
//!
//! For the header, layers and entities the grammar is closed: a group that is not named here is a fault,
//! because it might turn, hide, widen or recolour what is cut (DXF reference: 60 hides, 62 recolours, 67
//! moves to paper space, 210 turns the plane over, 40 to 43 widen). Elsewhere no records but the usual
//! ones may stand. `r2000` and `r12` know what differs between the releases.

use kurbo::Point;

use super::groups::Groups;
use super::pairs::Pair;
use super::{fault, r12, r2000};
use crate::geom::Contour;
use crate::panel::DxfVersion;
use crate::replay::ReplayFault;

/// What was found in a file.
#[derive(Debug, Default)]
pub(super) struct Scan {
    /// Header variables: name, group code, value.
    header: Vec<(String, u16, String)>,
    /// The layer table.
    pub(super) layers: Vec<LayerRow>,
    /// All entities, in the order of the file.
    pub(super) entities: Vec<Line>,
}

/// A row of the layer table.
#[derive(Debug)]
pub(super) struct LayerRow {
    pub(super) name: String,
    pub(super) color: i64,
    pub(super) flags: i64,
    pub(super) line: usize,
}

/// An entity, its layer, and the line of the file that it begins on.
#[derive(Debug)]
pub(super) struct Line {
    pub(super) layer: String,
    pub(super) shape: Shape,
    pub(super) line: usize,
}

/// A polyline or a TEXT.
#[derive(Debug)]
pub(super) enum Shape {
    Contour(Contour),
    Text {
        text: String,
        at: Point,
        height: f64,
    },
}

impl Scan {
    /// Value of a header variable under a group code.
    pub(super) fn variable(&self, name: &str, code: u16) -> Option<&str> {
        let found = self.header.iter().find(|(n, c, _)| n == name && *c == code);
        found.map(|(_, _, value)| value.as_str())
    }

    /// Texts on a layer: line, text, lower left corner, height.
    pub(super) fn texts<'a>(
        &'a self,
        layer: &'a str,
    ) -> impl Iterator<Item = (usize, &'a str, Point, f64)> {
        self.entities
            .iter()
            .filter(move |e| e.layer == layer)
            .filter_map(|e| match &e.shape {
                Shape::Text { text, at, height } => Some((e.line, text.as_str(), *at, *height)),
                Shape::Contour(_) => None,
            })
    }
}

/// Scans a whole file of a release.
pub(super) fn scan(pairs: &[Pair<'_>], version: DxfVersion) -> Result<Scan, ReplayFault> {
    match version {
        DxfVersion::R2000 => r2000::scan(pairs),
        DxfVersion::R12 => r12::scan(pairs),
    }
}

/// What a record is to the sections of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// It begins or ends a section, or the file: all said.
    Taken,
    /// It lies within a section.
    Within,
}

/// The sections of a file, which follow one another in a fixed order and hold what they may.
pub(super) struct Sections<'a> {
    left: std::slice::Iter<'a, &'static str>,
    header: &'a [&'static str],
    section: &'static str,
    ended: bool,
}

impl<'a> Sections<'a> {
    /// `order` of the sections, `header` variables that may stand.
    pub(super) fn new(order: &'a [&'static str], header: &'a [&'static str]) -> Self {
        Self {
            left: order.iter(),
            header,
            section: "",
            ended: false,
        }
    }

    /// The section that is open; empty between two.
    pub(super) fn open(&self) -> &'static str {
        self.section
    }

    /// Takes a record that begins or ends a section. `inside`: something in the section is not ended.
    pub(super) fn step(
        &mut self,
        scan: &mut Scan,
        head: &Pair<'_>,
        groups: &mut Groups<'_>,
        inside: bool,
    ) -> Result<Step, ReplayFault> {
        let refuse = |what: String| Err(fault("dxf-structure", head.line, what));
        if self.ended {
            return refuse("the file goes on after EOF".to_owned());
        }
        match (self.section, head.value) {
            ("", "SECTION") => {
                let name = groups.take(2, "a section's name")?.value;
                match self.left.next() {
                    Some(expected) if *expected == name => self.section = expected,
                    _ => return refuse(format!("section {name} is not expected here")),
                }
                if name == "HEADER" {
                    header(scan, groups, self.header)?;
                }
                groups.end()?;
            }
            ("", "EOF") => {
                groups.end()?;
                if let Some(lost) = self.left.next() {
                    return refuse(format!("section {lost} is missing"));
                }
                self.ended = true;
            }
            ("", other) => return refuse(format!("{other} stands outside of the sections")),
            (_, "ENDSEC") if !inside => {
                groups.end()?;
                self.section = "";
            }
            _ => return Ok(Step::Within),
        }
        Ok(Step::Taken)
    }

    /// Whether the file came to its end.
    pub(super) fn finish(&self, pairs: &[Pair<'_>]) -> Result<(), ReplayFault> {
        if self.ended {
            return Ok(());
        }
        let line = pairs.last().map_or(1, |pair| pair.line);
        let what = "the file is cut short: no EOF".to_owned();
        Err(fault("dxf-structure", line, what))
    }
}

fn header(scan: &mut Scan, groups: &mut Groups<'_>, known: &[&str]) -> Result<(), ReplayFault> {
    while groups.peek().is_some() {
        let name = groups.take(9, "a header variable")?;
        let refuse = |line, what: &str| {
            let what = format!("{} {what}", name.value);
            Err(fault("dxf-structure", line, what))
        };
        if !known.contains(&name.value) {
            return refuse(name.line, "is not expected in the header");
        }
        let first = groups.next;
        while let Some(pair) = groups.peek().filter(|pair| pair.code != 9) {
            if scan.variable(name.value, pair.code).is_some() {
                return refuse(pair.line, "is said twice");
            }
            scan.header
                .push((name.value.to_owned(), pair.code, pair.value.to_owned()));
            groups.next += 1;
        }
        if groups.next == first {
            return refuse(name.line, "has no value");
        }
    }
    Ok(())
}

/// DXF reference, TEXT: 10, 20, 30 lower left corner, 40 height, 1 the text.
pub(super) fn text(groups: &mut Groups<'_>) -> Result<Shape, ReplayFault> {
    let x = groups.decimal(10, "x of a text")?;
    let y = groups.decimal(20, "y of a text")?;
    groups.value(30, "0.0")?;
    let line = groups.here();
    let height = groups.decimal(40, "the height of a text")?;
    let text = groups.take(1, "a text")?.value.to_owned();
    if height <= 0.0 || text.trim().is_empty() {
        return Err(fault(
            "dxf-structure",
            line,
            "a text without height or letters".to_owned(),
        ));
    }
    Ok(Shape::Text {
        text,
        at: Point::new(x, y),
        height,
    })
}

/// A record of the file in turn, its first pair and its groups.
pub(super) fn records<'a>(
    pairs: &'a [Pair<'a>],
) -> impl Iterator<Item = Result<(&'a Pair<'a>, Groups<'a>), ReplayFault>> {
    pairs.chunk_by(|_, next| next.code != 0).map(|record| {
        let mut groups = Groups { record, next: 0 };
        let head = groups.take(0, "a record")?;
        Ok((head, groups))
    })
}
